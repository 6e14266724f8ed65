package plots

import (
	"cmp"
	"fmt"
	"image/color"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

func (g Growth) plot(c draw.Canvas, t Theme) {
	key := g.key(t)
	used := t.drawKey(&c, c.Max.X-c.Min.X, key)
	head := t.style(t.Tick, t.Muted)
	c.FillText(head, vg.Point{X: c.Min.X, Y: c.Max.Y - used - keyRow/2}, g.yTitle())
	p := g.axes(t, g.extent().padded(), 7, 6)
	p.X.Label.Text = g.xTitle()
	p.Draw(draw.Crop(c, 0, 0, 0, -used-keyRow-2))
}

func (g Growth) yTitle() string {
	if g.Units == analysis.PoundsOz {
		return "weight"
	}
	return "weight, g"
}

func (g Growth) xTitle() string {
	if g.ByDate {
		return ""
	}
	if g.Zero == "" {
		return "age in weeks, as recorded"
	}
	return "age in weeks"
}

// axes makes the gonum plot of the panel: ranges, ticks of about nx by ny, and the drawing itself.
func (g Growth) axes(t Theme, e extent, nx, ny int) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = e.day0, e.day1, e.low, e.high
	t.axes(p)
	if g.ByDate {
		p.X.Tick.Marker = dateTicks{day(g.Zero), nx}
	} else {
		p.X.Tick.Marker = weekTicks(e.day0, e.day1, 2*nx)
	}
	p.Y.Tick.Marker = weightTicks(e.low, e.high, g.Units, ny)
	p.Add(growthPlotter{g, t})
	return p
}

// growthPlotter draws a Growth into gonum's data area, from the ground up: grid, band, standard, curve,
// show day, weighings.
type growthPlotter struct {
	Growth
	Theme
}

// Plot implements plot.Plotter.
func (g growthPlotter) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	at := func(d, grams float64) vg.Point { return vg.Point{X: tx(d), Y: ty(grams)} }

	for _, tick := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		c.StrokeLine2(g.line(0.5, g.Grid), c.Min.X, ty(tick.Value), c.Max.X, ty(tick.Value))
	}

	g.drawBand(c, g.Band, CurvePoint.banded, func(k CurvePoint) (vg.Point, vg.Point) { return at(k.Day, k.Low), at(k.Day, k.High) })
	g.drawBand(c, g.Edge, CurvePoint.fanned, func(k CurvePoint) (vg.Point, vg.Point) { return at(k.Day, k.LowHalf), at(k.Day, k.HighHalf) })

	for _, s := range g.Standards {
		x0, x1 := max(tx(s.From), c.Min.X), min(tx(s.To), c.Max.X)
		if x0 >= x1 {
			continue
		}
		c.StrokeLines(g.line(0.9, g.Ink, 3, 2), c.ClipLinesXY(s.outline(x0, x1, ty)...)...)
	}

	if len(g.Curve) > 1 {
		solid, dashed := g.split(at)
		c.StrokeLines(g.line(1.6, g.Bird), c.ClipLinesXY(solid)...)
		c.StrokeLines(g.line(1.6, g.Bird, 4, 3), c.ClipLinesXY(dashed)...)
	}

	if g.Show != nil {
		c.StrokeLines(g.line(1, g.Ink, 1, 2), []vg.Point{{X: tx(g.Show.Day), Y: c.Min.Y}, {X: tx(g.Show.Day), Y: c.Max.Y}})
	}

	for _, w := range g.Weighings {
		g.drawWeighing(c, at(w.Day, w.Grams), w.HeldOut)
	}
}

// drawBand fills a band between two edges, over the points that have one.
func (g growthPlotter) drawBand(c draw.Canvas, ground color.Color, has func(CurvePoint) bool, edges func(CurvePoint) (low, high vg.Point)) {
	var upper, lower []vg.Point
	for _, k := range g.Curve {
		if has(k) {
			low, high := edges(k)
			upper, lower = append(upper, high), append(lower, low)
		}
	}
	if len(upper) < 2 {
		return
	}
	ring := append(slices.Clone(upper), reversed(lower)...)
	c.FillPolygon(ground, c.ClipPolygonXY(ring))
	c.StrokeLines(g.line(0.5, g.Edge), c.ClipLinesXY(upper, lower)...)
}

// split cuts the curve at the last weighing, with a point of its own there so that no gap shows.
func (g growthPlotter) split(at func(d, grams float64) vg.Point) (solid, dashed []vg.Point) {
	for i, k := range g.Curve {
		if i > 0 && g.Curve[i-1].Day < g.Reliable && k.Day > g.Reliable {
			before := g.Curve[i-1]
			share := (g.Reliable - before.Day) / (k.Day - before.Day)
			cut := at(g.Reliable, before.Grams+share*(k.Grams-before.Grams))
			solid, dashed = append(solid, cut), append(dashed, cut)
		}
		if k.Day <= g.Reliable {
			solid = append(solid, at(k.Day, k.Grams))
		}
		if k.Day >= g.Reliable {
			dashed = append(dashed, at(k.Day, k.Grams))
		}
	}
	return solid, dashed
}

// outline is the standard as lines: a box, or one line where only one bound or a target is published.
func (s StandardSpan) outline(x0, x1 vg.Length, ty func(float64) vg.Length) [][]vg.Point {
	level := func(grams float64) []vg.Point { return []vg.Point{{X: x0, Y: ty(grams)}, {X: x1, Y: ty(grams)}} }
	switch {
	case s.Low == 0:
		return [][]vg.Point{level(s.High)}
	case s.High == 0 || s.Low == s.High:
		return [][]vg.Point{level(s.Low)}
	}
	y0, y1 := ty(s.Low), ty(s.High)
	return [][]vg.Point{{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}, {X: x0, Y: y0}}}
}

func (t Theme) drawWeighing(c draw.Canvas, pt vg.Point, heldOut bool) {
	if !heldOut {
		c.DrawGlyphNoClip(draw.GlyphStyle{Color: t.Ink, Radius: 2, Shape: draw.CircleGlyph{}}, pt)
		return
	}
	const r = 2.6
	c.StrokeLines(t.line(1, t.Ink),
		[]vg.Point{{X: pt.X - r, Y: pt.Y - r}, {X: pt.X + r, Y: pt.Y + r}},
		[]vg.Point{{X: pt.X - r, Y: pt.Y + r}, {X: pt.X + r, Y: pt.Y - r}})
}

func reversed(pts []vg.Point) []vg.Point {
	out := slices.Clone(pts)
	slices.Reverse(out)
	return out
}

// key lists what the figure shows, in its own signs.
func (g Growth) key(t Theme) []keyEntry {
	middle := func(c draw.Canvas) vg.Length { return (c.Min.Y + c.Max.Y) / 2 }
	stroke := func(style draw.LineStyle) func(draw.Canvas, Theme) {
		return func(c draw.Canvas, _ Theme) {
			c.StrokeLine2(style, c.Min.X, middle(c), c.Max.X, middle(c))
		}
	}
	var used, held, banded, fanned bool
	for _, w := range g.Weighings {
		used, held = used || !w.HeldOut, held || w.HeldOut
	}
	for _, k := range g.Curve {
		banded, fanned = banded || k.banded(), fanned || k.fanned()
	}
	var key []keyEntry
	if used {
		key = append(key, keyEntry{"weighing", func(c draw.Canvas, t Theme) { t.drawWeighing(c, c.Center(), false) }})
	}
	if held {
		key = append(key, keyEntry{"held out", func(c draw.Canvas, t Theme) { t.drawWeighing(c, c.Center(), true) }})
	}
	if n := len(g.Curve); n > 1 {
		name := cmp.Or(g.CurveName, "curve")
		if g.Curve[0].Day < g.Reliable {
			key = append(key, keyEntry{name, stroke(t.line(1.6, t.Bird))})
			name = "extrapolated"
		}
		if g.Curve[n-1].Day > g.Reliable {
			key = append(key, keyEntry{name, stroke(t.line(1.6, t.Bird, 4, 3))})
		}
	}
	if banded {
		label := "range for one weighing"
		if g.Level > 0 {
			label = fmt.Sprintf("holds one weighing in %.0f of 100 cases", g.Level*100)
		}
		key = append(key, keyEntry{label, func(c draw.Canvas, t Theme) { fill(c, c.Rectangle, t.Band, t.line(0.5, t.Edge)) }})
	}
	if fanned {
		key = append(key, keyEntry{"in 50 of 100", func(c draw.Canvas, t Theme) { fill(c, c.Rectangle, t.Edge, draw.LineStyle{}) }})
	}
	for _, s := range g.Standards {
		key = append(key, keyEntry{s.Label, func(c draw.Canvas, t Theme) {
			c.StrokeLines(t.line(0.9, t.Ink, 3, 2), s.outline(c.Min.X, c.Max.X, func(grams float64) vg.Length {
				switch {
				case s.Low == s.High || s.Low == 0 || s.High == 0:
					return middle(c)
				case grams == s.Low:
					return c.Min.Y
				}
				return c.Max.Y
			})...)
		}})
	}
	if g.Show != nil {
		key = append(key, keyEntry{g.Show.Label, func(c draw.Canvas, t Theme) {
			x := c.Center().X
			c.StrokeLines(t.line(1, t.Ink, 1, 2), []vg.Point{{X: x, Y: c.Min.Y - 1}, {X: x, Y: c.Max.Y + 1}})
		}})
	}
	return key
}

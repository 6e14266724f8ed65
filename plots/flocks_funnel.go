package plots

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Funnel sets each flock's difference from the others over its size, with the band within which flocks of that size lie when
// they differ as these do: the fewer birds, the wider. A flock within the band cannot be told from the others.
type Funnel struct {
	Measure string        `json:"measure"` // the vertical axis: "lice: points from the others"
	Size    string        `json:"size"`    // the horizontal one: "looks"
	Level   float64       `json:"level"`   // stated chance of the band
	Points  []FunnelPoint `json:"points"`
	Limits  []FunnelLimit `json:"limits"` // in rising order of size
}

// FunnelPoint is one flock.
type FunnelPoint struct {
	Label string  `json:"label"`
	Size  float64 `json:"size"`
	Value float64 `json:"value"`
	Told  bool    `json:"told,omitempty"` // clearly above or below
}

// FunnelLimit is the band at one size.
type FunnelLimit struct {
	Size float64 `json:"size"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Kind implements Panel.
func (Funnel) Kind() string { return "funnel" }

// Validate implements Panel.
func (f Funnel) Validate() error {
	if len(f.Points) == 0 || len(f.Limits) < 2 {
		return errors.New("funnel: no flock or no band")
	}
	var errs []error
	for _, p := range f.Points {
		errs = append(errs, finite("funnel: "+p.Label, p.Size, p.Value))
		if p.Size <= 0 {
			errs = append(errs, fmt.Errorf("funnel: %s has the size %g", p.Label, p.Size))
		}
	}
	for i, l := range f.Limits {
		errs = append(errs, finite("funnel: the band", l.Size, l.Low, l.High))
		if l.Low > l.High || i > 0 && l.Size <= f.Limits[i-1].Size {
			errs = append(errs, fmt.Errorf("funnel: the band at %g is upside down or out of order", l.Size))
		}
	}
	return errors.Join(errs...)
}

// Table implements Panel.
func (f Funnel) Table() analysis.Table {
	t := analysis.Table{Caption: f.Measure, Columns: []analysis.Column{{Name: "flock", Head: "flock"}, {Name: "size", Head: f.Size}, {Name: "value", Head: f.Measure, Decimals: 1}, {Name: "low", Head: "band from", Decimals: 1}, {Name: "high", Head: "band to", Decimals: 1}}}
	for _, p := range f.Points {
		low, high := f.at(p.Size)
		t.Rows = append(t.Rows, []any{p.Label, p.Size, p.Value, low, high})
	}
	return t
}

// at is the band at a size, between the limits by straight lines.
func (f Funnel) at(size float64) (low, high float64) {
	for i, l := range f.Limits {
		if l.Size >= size {
			if i == 0 {
				return l.Low, l.High
			}
			b := f.Limits[i-1]
			s := (size - b.Size) / (l.Size - b.Size)
			return b.Low + s*(l.Low-b.Low), b.High + s*(l.High-b.High)
		}
	}
	last := f.Limits[len(f.Limits)-1]
	return last.Low, last.High
}

func (f Funnel) plot(c draw.Canvas, t Theme) {
	key := []keyEntry{{fmt.Sprintf("where %.0f of 100 flocks of that size lie", f.Level*100), func(c draw.Canvas, t Theme) {
		fill(c, c.Rectangle, t.Band, t.line(0.5, t.Edge))
	}}, {"a flock", func(c draw.Canvas, t Theme) { dot(c, t, c.Center(), false) }}}
	for _, p := range f.Points {
		if p.Told {
			key = append(key, keyEntry{"clearly above or below", func(c draw.Canvas, t Theme) { dot(c, t, c.Center(), true) }})
			break
		}
	}
	used := t.drawKey(&c, c.Max.X-c.Min.X, key)
	p := plot.New()
	t.axes(p)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, q := range f.Points {
		lo, hi = min(lo, q.Value), max(hi, q.Value)
	}
	for _, l := range f.Limits {
		if l.Size >= f.smallest() {
			lo, hi = min(lo, l.Low), max(hi, l.High)
		}
	}
	pad := 0.06*(hi-lo) + 0.1
	p.Y.Min, p.Y.Max, p.Y.Label.Text = lo-pad, hi+pad, f.Measure
	p.X.Min, p.X.Max, p.X.Label.Text = 0, f.Limits[len(f.Limits)-1].Size, f.Size
	p.Y.Tick.Marker = percentTicks(p.Y.Min, p.Y.Max, 7)
	p.X.Tick.Marker = sizeTicks(p.X.Max)
	var band plotter.XYs
	for _, l := range f.Limits {
		band = append(band, plotter.XY{X: l.Size, Y: min(max(l.High, p.Y.Min), p.Y.Max)})
	}
	for i := len(f.Limits) - 1; i >= 0; i-- {
		band = append(band, plotter.XY{X: f.Limits[i].Size, Y: min(max(f.Limits[i].Low, p.Y.Min), p.Y.Max)})
	}
	p.Add(funnelDraw{f, band, t})
	p.Draw(draw.Crop(c, 0, 0, 0, -used-2))
}

func (f Funnel) smallest() float64 {
	least := math.Inf(1)
	for _, p := range f.Points {
		least = min(least, p.Size)
	}
	return least
}

// sizeTicks labels an axis of counts from 0.
func sizeTicks(most float64) plot.Ticker {
	return ticker{stepFor(most, 8, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000), func(x float64) string { return strconv.FormatFloat(math.Round(x), 'f', 0, 64) }}
}

// dot draws one flock: a ring, filled and larger where it is told apart.
func dot(c draw.Canvas, t Theme, at vg.Point, told bool) {
	if told {
		c.DrawGlyph(draw.GlyphStyle{Color: t.Bird, Radius: 3.4, Shape: draw.CircleGlyph{}}, at)
		return
	}
	c.DrawGlyph(draw.GlyphStyle{Color: t.Paper, Radius: 2.6, Shape: draw.CircleGlyph{}}, at)
	c.DrawGlyph(draw.GlyphStyle{Color: t.Bird, Radius: 2.6, Shape: draw.RingGlyph{}}, at)
}

// funnelDraw draws band, middle, flocks and their codes. A code that would lie on another is left out: the table has all.
type funnelDraw struct {
	Funnel
	band plotter.XYs
	t    Theme
}

// Plot implements plot.Plotter.
func (f funnelDraw) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var outline []vg.Point
	for _, q := range f.band {
		outline = append(outline, vg.Point{X: x(q.X), Y: y(q.Y)})
	}
	c.FillPolygon(f.t.Band, outline)
	edge := f.t.line(0.6, f.t.Edge)
	c.StrokeLines(edge, outline[:len(f.Limits)])
	c.StrokeLines(edge, outline[len(f.Limits):])
	if p.Y.Min < 0 && p.Y.Max > 0 {
		c.StrokeLine2(f.t.line(0.6, f.t.Muted, 3, 2), c.Min.X, y(0), c.Max.X, y(0))
	}
	style := f.t.style(f.t.Tick, f.t.Ink)
	var taken []vg.Rectangle
	for _, q := range f.Points {
		at := vg.Point{X: x(q.Size), Y: y(q.Value)}
		taken = append(taken, rect(at.X-3, at.Y-3, at.X+3, at.Y+3))
	}
	for _, told := range []bool{false, true} { // told ones lie on top and get their codes first
		for _, q := range f.Points {
			if q.Told == told {
				dot(c, f.t, vg.Point{X: x(q.Size), Y: y(q.Value)}, told)
			}
		}
	}
	for _, told := range []bool{true, false} {
		for _, q := range f.Points {
			if q.Told != told || !told && len(f.Points) > 60 {
				continue
			}
			label := style
			if told {
				label = bold(style)
			}
			text := fit(q.Label, label, 120)
			w, at := label.Width(text), vg.Point{X: x(q.Size), Y: y(q.Value)}
			for _, left := range []vg.Length{at.X + 5, at.X - 5 - w} {
				box := rect(left, at.Y-4, left+w, at.Y+4)
				if box.Min.X < c.Min.X || box.Max.X > c.Max.X || overlapsAny(box, taken) {
					continue
				}
				c.FillText(label, vg.Point{X: left, Y: at.Y}, text)
				taken = append(taken, box)
				break
			}
		}
	}
}

func overlapsAny(a vg.Rectangle, list []vg.Rectangle) bool {
	for _, b := range list {
		if a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y {
			return true
		}
	}
	return false
}

package plots

import (
	"errors"
	"fmt"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Residuals shows how far weighings lie from their curves, in percent of the curve, over age. A middle that leaves the
// zero line for several weeks together says that the curve has another shape than growth.
type Residuals struct {
	Points []Residual `json:"points"`
	Middle []Residual `json:"middle,omitempty"` // median of the points of about one age, by rising Day
}

// Residual is one weighing, or the middle of several, against its curve.
type Residual struct {
	Day     float64 `json:"day"`             // of age
	Percent float64 `json:"percent"`         // of the curve's weight, 0 on the curve
	Label   string  `json:"label,omitempty"` // the bird
}

// Kind implements Panel.
func (Residuals) Kind() string { return "residuals" }

// Validate implements Panel.
func (r Residuals) Validate() error {
	if len(r.Points) == 0 {
		return errors.New("residuals: no weighing")
	}
	if len(r.Points) > 20000 {
		return fmt.Errorf("residuals: %d weighings do not fit one figure; use at most 20000", len(r.Points))
	}
	for _, list := range [][]Residual{r.Points, r.Middle} {
		for _, p := range list {
			if err := finite("residuals: "+p.Label, p.Day, p.Percent); err != nil {
				return err
			}
			if p.Percent <= -100 || p.Percent > 1e4 || p.Day < 0 || p.Day > 1e5 {
				return fmt.Errorf("residuals: %s: %g %% at %g days cannot be drawn", p.Label, p.Percent, p.Day)
			}
		}
	}
	return nil
}

// Table implements Panel.
func (r Residuals) Table() analysis.Table {
	t := analysis.Table{
		Caption: "Distances of weighings from their curves",
		Columns: []analysis.Column{
			{Name: "bird", Head: "bird"},
			{Name: "age_days", Head: "age", Unit: "d"},
			{Name: "percent", Head: "from the curve", Unit: "%", Decimals: 1},
		},
	}
	for _, p := range r.Points {
		t.Rows = append(t.Rows, []any{p.Label, p.Day, p.Percent})
	}
	return t
}

func (r Residuals) plot(c draw.Canvas, t Theme) {
	used := t.drawKey(&c, c.Max.X-c.Min.X, r.key())
	head := t.style(t.Tick, t.Muted)
	c.FillText(head, vg.Point{X: c.Min.X, Y: c.Max.Y - used - keyRow/2}, "from the curve, % of weight")
	p := plot.New()
	p.BackgroundColor = nil
	first, last, reach := r.Points[0].Day, r.Points[0].Day, 5.0
	for _, q := range r.Points {
		first, last, reach = min(first, q.Day), max(last, q.Day), max(reach, q.Percent, -q.Percent)
	}
	margin := max(3, (last-first)*0.02)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = max(0, first-margin), last+margin, -1.08*reach, 1.08*reach
	t.axes(p)
	p.X.Label.Text = "age in weeks"
	p.X.Tick.Marker, p.Y.Tick.Marker = weekTicks(p.X.Min, p.X.Max, 14), percentTicks(p.Y.Min, p.Y.Max, 6)
	p.Add(residualPlotter{r, t})
	p.Draw(draw.Crop(c, 0, 0, 0, -used-keyRow-2))
}

type residualPlotter struct {
	Residuals
	Theme
}

// Plot implements plot.Plotter.
func (r residualPlotter) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	for _, tick := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		c.StrokeLine2(r.line(0.5, r.Grid), c.Min.X, ty(tick.Value), c.Max.X, ty(tick.Value))
	}
	c.StrokeLine2(r.line(0.9, r.Ink, 3, 2), c.Min.X, ty(0), c.Max.X, ty(0))
	for _, q := range r.Points {
		c.DrawGlyphNoClip(draw.GlyphStyle{Color: r.Muted, Radius: 1.6, Shape: draw.RingGlyph{}}, vg.Point{X: tx(q.Day), Y: ty(q.Percent)})
	}
	var middle []vg.Point
	for _, q := range r.Middle {
		middle = append(middle, vg.Point{X: tx(q.Day), Y: ty(q.Percent)})
	}
	if len(middle) > 1 {
		c.StrokeLines(r.line(1.6, r.Bird), c.ClipLinesXY(middle)...)
	}
}

func (r Residuals) key() []keyEntry {
	key := []keyEntry{
		{"weighing", func(c draw.Canvas, t Theme) {
			c.DrawGlyphNoClip(draw.GlyphStyle{Color: t.Muted, Radius: 1.6, Shape: draw.RingGlyph{}}, c.Center())
		}},
		{"on the curve", func(c draw.Canvas, t Theme) {
			c.StrokeLine2(t.line(0.9, t.Ink, 3, 2), c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
		}},
	}
	if len(r.Middle) > 1 {
		key = append(key, keyEntry{"middle of the weighings of about one age", func(c draw.Canvas, t Theme) {
			c.StrokeLine2(t.line(1.6, t.Bird), c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
		}})
	}
	return key
}

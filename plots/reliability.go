package plots

import (
	"errors"
	"fmt"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Reliability sets chances as they were stated beside how often the thing came true: on the diagonal they agree.
type Reliability struct {
	Level float64          `json:"level,omitempty"` // stated chance of the intervals
	Bins  []ReliabilityBin `json:"bins"`            // by rising Stated
}

// ReliabilityBin is the cases in which about the same chance was stated. Chances and shares are 0 to 1.
type ReliabilityBin struct {
	Stated float64 `json:"stated"` // mean stated chance
	Share  float64 `json:"share"`  // of the cases, that came true
	Low    float64 `json:"low"`    // interval of Share
	High   float64 `json:"high"`
	Cases  int     `json:"cases"`
}

// Kind implements Panel.
func (Reliability) Kind() string { return "reliability" }

// Validate implements Panel.
func (r Reliability) Validate() error {
	if len(r.Bins) == 0 {
		return errors.New("reliability: no case")
	}
	for i, b := range r.Bins {
		if err := finite("reliability", b.Stated, b.Share, b.Low, b.High); err != nil {
			return err
		}
		switch {
		case min(b.Stated, b.Share, b.Low, b.High) < 0 || max(b.Stated, b.Share, b.Low, b.High) > 1:
			return fmt.Errorf("reliability: %v is not within 0 and 1", b)
		case b.Low > b.Share || b.High < b.Share:
			return fmt.Errorf("reliability: the interval %g–%g does not hold %g", b.Low, b.High, b.Share)
		case b.Cases < 1:
			return errors.New("reliability: a bin without a case")
		case i > 0 && b.Stated < r.Bins[i-1].Stated:
			return errors.New("reliability: stated chances must rise")
		}
	}
	return nil
}

// Table implements Panel.
func (r Reliability) Table() analysis.Table {
	t := analysis.Table{
		Caption: "Stated chances and what came of them",
		Columns: []analysis.Column{
			{Name: "stated_percent", Head: "stated", Unit: "%", Decimals: 1},
			{Name: "came_true_percent", Head: "came true", Unit: "%", Decimals: 1},
			{Name: "low_percent", Head: "from", Unit: "%", Decimals: 1},
			{Name: "high_percent", Head: "to", Unit: "%", Decimals: 1},
			{Name: "cases", Head: "cases"},
		},
	}
	for _, b := range r.Bins {
		t.Rows = append(t.Rows, []any{100 * b.Stated, 100 * b.Share, 100 * b.Low, 100 * b.High, b.Cases})
	}
	return t
}

func (r Reliability) plot(c draw.Canvas, t Theme) {
	used := t.drawKey(&c, c.Max.X-c.Min.X, r.key())
	head := t.style(t.Tick, t.Muted)
	c.FillText(head, vg.Point{X: c.Min.X, Y: c.Max.Y - used - keyRow/2}, "came true, %")
	p := plot.New()
	p.BackgroundColor = nil
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 100, 0, 100
	t.axes(p)
	p.X.Label.Text = "stated chance, %"
	p.X.Tick.Marker, p.Y.Tick.Marker = percentTicks(0, 100, 5), percentTicks(0, 100, 5)
	p.Add(reliabilityPlotter{r, t})
	p.Draw(draw.Crop(c, 0, -6, 0, -used-keyRow-2))
}

type reliabilityPlotter struct {
	Reliability
	Theme
}

// Plot implements plot.Plotter.
func (r reliabilityPlotter) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	for _, tick := range p.Y.Tick.Marker.Ticks(0, 100) {
		c.StrokeLine2(r.line(0.5, r.Grid), c.Min.X, ty(tick.Value), c.Max.X, ty(tick.Value))
	}
	c.StrokeLine2(r.line(0.9, r.Ink, 3, 2), tx(0), ty(0), tx(100), ty(100))
	for _, b := range r.Bins {
		x := tx(100 * b.Stated)
		c.StrokeLine2(r.line(1.2, r.Bird), x, ty(100*b.Low), x, ty(100*b.High))
		c.DrawGlyphNoClip(draw.GlyphStyle{Color: r.Bird, Radius: 2.4, Shape: draw.CircleGlyph{}}, vg.Point{X: x, Y: ty(100 * b.Share)})
	}
}

func (r Reliability) key() []keyEntry {
	label := "share that came true"
	if r.Level > 0 {
		label += fmt.Sprintf(", range of %.0f %%", 100*r.Level)
	}
	return []keyEntry{
		{label, func(c draw.Canvas, t Theme) {
			m := c.Center()
			c.StrokeLine2(t.line(1.2, t.Bird), m.X, c.Min.Y, m.X, c.Max.Y)
			c.DrawGlyphNoClip(draw.GlyphStyle{Color: t.Bird, Radius: 2.4, Shape: draw.CircleGlyph{}}, m)
		}},
		{"as often as stated", func(c draw.Canvas, t Theme) {
			c.StrokeLine2(t.line(0.9, t.Ink, 3, 2), c.Min.X, c.Min.Y, c.Max.X, c.Max.Y)
		}},
	}
}

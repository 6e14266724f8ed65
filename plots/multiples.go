package plots

import (
	"errors"
	"fmt"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Multiples shows growth curves of several birds side by side on the same axes, each under its label.
type Multiples struct {
	Columns int      `json:"columns"`
	Birds   []Growth `json:"birds"`
}

// Kind implements Panel.
func (Multiples) Kind() string { return "growth-multiples" }

// Validate implements Panel. All birds must share the units and the kind of axis, or they could not be
// compared.
func (m Multiples) Validate() error {
	if len(m.Birds) == 0 {
		return errors.New("small multiples: no bird")
	}
	if m.Columns < 1 || m.Columns > 12 || len(m.Birds) > 240 {
		return fmt.Errorf("small multiples: %d birds in %d columns; use 1 to 12 columns and at most 240 birds", len(m.Birds), m.Columns)
	}
	var errs []error
	for _, b := range m.Birds {
		if err := b.Validate(); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", b.Label, err))
		}
		if b.Units != m.Birds[0].Units || b.ByDate != m.Birds[0].ByDate {
			errs = append(errs, fmt.Errorf("%s: units or axis differ from the first bird's", b.Label))
		}
		if b.ByDate && b.Zero != m.Birds[0].Zero {
			errs = append(errs, fmt.Errorf("%s: on an axis of dates all birds share one day 0", b.Label))
		}
	}
	return errors.Join(errs...)
}

// Table implements Panel.
func (m Multiples) Table() analysis.Table {
	out := Growth{}.Table()
	out.Columns = append([]analysis.Column{{Name: "bird", Head: "bird"}}, out.Columns...)
	for _, b := range m.Birds {
		for _, row := range b.Table().Rows {
			out.Rows = append(out.Rows, append([]any{b.Label}, row...))
		}
	}
	return out
}

func (m Multiples) plot(c draw.Canvas, t Theme) {
	width := c.Max.X - c.Min.X
	key := m.key(t)
	used := t.drawKey(&c, width, key)
	head := t.style(t.Tick, t.Muted)
	c.FillText(head, vg.Point{X: c.Min.X, Y: c.Max.Y - used - keyRow/2}, m.Birds[0].yTitle())
	below := vg.Length(0)
	if title := m.Birds[0].xTitle(); title != "" {
		below = keyRow
		c.FillText(aligned(head, draw.XCenter), vg.Point{X: c.Center().X, Y: c.Min.Y + keyRow/2}, title)
	}

	columns := min(m.Columns, len(m.Birds))
	rows := (len(m.Birds) + columns - 1) / columns
	inner := draw.Crop(c, 0, 0, below, -used-keyRow-2)
	tiles := draw.Tiles{Cols: columns, Rows: rows, PadX: 6, PadY: 16, PadTop: 12}

	shared := m.Birds[0].extent()
	for _, b := range m.Birds {
		shared = shared.join(b.extent())
	}
	shared = shared.padded()
	plots := make([][]*plot.Plot, rows)
	for i := range plots {
		plots[i] = make([]*plot.Plot, columns)
	}
	for i, b := range m.Birds {
		p := b.axes(t, shared, 3, 4)
		if i%columns != 0 {
			p.Y.Tick.Marker = bare{p.Y.Tick.Marker}
		}
		if i+columns < len(m.Birds) {
			p.X.Tick.Marker = bare{p.X.Tick.Marker}
		}
		plots[i/columns][i%columns] = p
	}
	canvases := plot.Align(plots, tiles, inner)
	for i, b := range m.Birds {
		at := canvases[i/columns][i%columns]
		plots[i/columns][i%columns].Draw(at)
		title := bold(t.style(t.Tick, t.Ink))
		c.FillText(title, vg.Point{X: at.Min.X + 2, Y: at.Max.Y + 6}, fit(b.Label, title, at.Max.X-at.Min.X-2))
	}
}

// key is the union of the birds' keys, each entry once.
func (m Multiples) key(t Theme) []keyEntry {
	seen := map[string]bool{}
	var key []keyEntry
	for _, b := range m.Birds {
		for _, e := range b.key(t) {
			if !seen[e.text] {
				seen[e.text] = true
				key = append(key, e)
			}
		}
	}
	return key
}

// bare keeps the ticks of an inner axis and drops their labels.
type bare struct{ plot.Ticker }

// Ticks implements plot.Ticker.
func (b bare) Ticks(lo, hi float64) []plot.Tick {
	ticks := b.Ticker.Ticks(lo, hi)
	for i := range ticks {
		if ticks[i].Label != "" {
			ticks[i].Label = " "
		}
	}
	return ticks
}

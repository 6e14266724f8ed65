package plots

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Ranges sets values with their ranges under each other on one scale, around 0. The order is the caller's and means nothing.
// With several Columns each row holds one value a column, drawn side by side on scales of their own.
type Ranges struct {
	Axis    string      `json:"axis"`            // "points from the others"
	Level   float64     `json:"level,omitempty"` // stated chance of the ranges
	Value   string      `json:"value"`           // what the dot is: "drawn towards the others"
	Plain   string      `json:"plain,omitempty"` // what the ring is: "as counted"; "" where none is drawn
	Band    string      `json:"band,omitempty"`  // what the box is
	Columns []string    `json:"columns,omitempty"`
	Rows    []RangesRow `json:"rows"`
}

// RangesRow is one row, with one cell a column.
type RangesRow struct {
	Label string       `json:"label"`
	Cells []RangesCell `json:"cells"`
}

// RangesCell is one value. Missing says why there is none.
type RangesCell struct {
	Value    float64  `json:"value"`
	Low      float64  `json:"low"`
	High     float64  `json:"high"`
	Plain    *float64 `json:"plain,omitempty"`
	BandLow  float64  `json:"band_low,omitempty"`
	BandHigh float64  `json:"band_high,omitempty"`
	Told     bool     `json:"told,omitempty"`
	Missing  string   `json:"missing,omitempty"`
}

// Kind implements Panel.
func (Ranges) Kind() string { return "ranges" }

func (r Ranges) columns() int { return max(1, len(r.Columns)) }

// Validate implements Panel.
func (r Ranges) Validate() error {
	if len(r.Rows) == 0 {
		return errors.New("ranges: no row")
	}
	if len(r.Rows) > 100 || len(r.Columns) > 8 {
		return fmt.Errorf("ranges: %d rows of %d columns do not fit one figure; use at most 100 rows and 8 columns", len(r.Rows), len(r.Columns))
	}
	var errs []error
	for _, row := range r.Rows {
		if len(row.Cells) != r.columns() {
			errs = append(errs, fmt.Errorf("ranges: %s has %d values for %d columns", row.Label, len(row.Cells), r.columns()))
		}
		for _, c := range row.Cells {
			errs = append(errs, finite("ranges: "+row.Label, c.Value, c.Low, c.High, c.BandLow, c.BandHigh))
			if c.Missing == "" && (c.Low > c.Value || c.Value > c.High || c.BandLow > c.BandHigh) {
				errs = append(errs, fmt.Errorf("ranges: %s: %g does not lie in %g to %g, or its band is upside down", row.Label, c.Value, c.Low, c.High))
			}
		}
	}
	return errors.Join(errs...)
}

// Table implements Panel.
func (r Ranges) Table() analysis.Table {
	t := analysis.Table{Caption: r.Axis, Columns: []analysis.Column{{Name: "row", Head: ""}, {Name: "column", Head: ""}, {Name: "value", Head: r.Value, Decimals: 1}, {Name: "low", Head: "from", Decimals: 1}, {Name: "high", Head: "to", Decimals: 1},
		{Name: "plain", Head: r.Plain, Decimals: 1}, {Name: "band_low", Head: "band from", Decimals: 1}, {Name: "band_high", Head: "band to", Decimals: 1}, {Name: "note", Head: "note"}}}
	for _, row := range r.Rows {
		for i, c := range row.Cells {
			column := ""
			if len(r.Columns) > 0 {
				column = r.Columns[i]
			}
			line := []any{row.Label, column, c.Value, c.Low, c.High, nil, nil, nil, c.Missing}
			if c.Missing != "" {
				line[2], line[3], line[4] = nil, nil, nil
			}
			if c.Plain != nil {
				line[5] = *c.Plain
			}
			if c.banded() {
				line[6], line[7] = c.BandLow, c.BandHigh
			}
			t.Rows = append(t.Rows, line)
		}
	}
	return t
}

func (c RangesCell) banded() bool { return c.BandLow != c.BandHigh }

// HeightFor returns the height in mm that a figure of n rows needs: 60 rows fit a page.
func (Ranges) HeightFor(n int) float64 { return 20 + float64(n)*min(7, max(3.6, 9-0.18*float64(n))) }

func (r Ranges) key() []keyEntry {
	value := r.Value
	if r.Level > 0 {
		value += fmt.Sprintf(", with the range of %.0f %%", r.Level*100)
	}
	key := []keyEntry{{value, func(c draw.Canvas, t Theme) {
		c.StrokeLine2(t.line(1.2, t.Bird), c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
		c.DrawGlyph(draw.GlyphStyle{Color: t.Bird, Radius: 2.4, Shape: draw.CircleGlyph{}}, c.Center())
	}}}
	if r.Plain != "" {
		key = append(key, keyEntry{r.Plain, func(c draw.Canvas, t Theme) { dot(c, t, c.Center(), false) }})
	}
	if r.Band != "" {
		key = append(key, keyEntry{r.Band, func(c draw.Canvas, t Theme) { fill(c, c.Rectangle, t.Band, t.line(0.4, t.Edge)) }})
	}
	for _, row := range r.Rows {
		for _, c := range row.Cells {
			if c.Told {
				return append(key, keyEntry{"heavy line: clearly above or below", func(c draw.Canvas, t Theme) {
					c.StrokeLine2(t.line(2.6, t.Bird), c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
				}})
			}
		}
	}
	return key
}

// extent is the scale of a column, always with 0 in it.
func (r Ranges) extent(column int) (lo, hi float64) {
	for _, row := range r.Rows {
		c := row.Cells[column]
		if c.Missing != "" {
			continue
		}
		lo, hi = min(lo, c.Low, c.BandLow), max(hi, c.High, c.BandHigh)
		if c.Plain != nil {
			lo, hi = min(lo, *c.Plain), max(hi, *c.Plain)
		}
	}
	pad := max(0.04*(hi-lo), 0.5)
	return lo - pad, hi + pad
}

func (r Ranges) plot(c draw.Canvas, t Theme) {
	width := c.Max.X - c.Min.X
	used := t.drawKey(&c, width, r.key()) + 2
	label, small := t.style(t.Tick, t.Ink), t.style(t.Tick, t.Muted)
	c.FillText(aligned(small, draw.XRight), vg.Point{X: c.Max.X, Y: c.Min.Y + 4}, fit(r.Axis, small, width))
	var names vg.Length
	for _, row := range r.Rows {
		names = max(names, label.Width(oneLine(row.Label)))
	}
	names = min(names, width*0.28)
	left, top, bottom := c.Min.X+names+6, c.Max.Y-used, c.Min.Y+22
	if len(r.Columns) > 0 {
		top -= keyRow
	}
	step := (top - bottom) / vg.Length(len(r.Rows))
	for i, row := range r.Rows {
		c.FillText(label, vg.Point{X: c.Min.X, Y: top - step*(vg.Length(i)+0.5)}, fit(row.Label, label, names))
	}
	gap := vg.Length(8)
	each := (c.Max.X - left - gap*vg.Length(r.columns()-1)) / vg.Length(r.columns())
	for k := range r.columns() {
		x0 := left + (each+gap)*vg.Length(k)
		if len(r.Columns) > 0 {
			head := bold(label)
			c.FillText(head, vg.Point{X: x0, Y: top + keyRow/2}, fit(r.Columns[k], head, each))
		}
		r.column(draw.Canvas{Canvas: c.Canvas, Rectangle: rect(x0, bottom, x0+each, top)}, t, k)
	}
}

func (r Ranges) column(c draw.Canvas, t Theme, k int) {
	lo, hi := r.extent(k)
	x := func(v float64) vg.Length { return c.Min.X + (c.Max.X-c.Min.X)*vg.Length((v-lo)/(hi-lo)) }
	small := t.style(t.Tick, t.Muted)
	step := (c.Max.Y - c.Min.Y) / vg.Length(len(r.Rows))
	half := min(step*0.36, 6)
	mid := func(i int) vg.Length { return c.Max.Y - step*(vg.Length(i)+0.5) }
	for i, row := range r.Rows {
		if cell := row.Cells[k]; cell.Missing == "" && cell.banded() {
			fill(c, rect(x(cell.BandLow), mid(i)-half, x(cell.BandHigh), mid(i)+half), t.Band, t.line(0.4, t.Edge))
		}
	}
	for _, tick := range percentTicks(lo, hi, max(2, int((c.Max.X-c.Min.X)/36))).Ticks(lo, hi) {
		at := x(tick.Value)
		line := t.line(0.4, t.Grid)
		if math.Abs(tick.Value) < 1e-9 {
			line = t.line(0.8, t.Muted)
		}
		c.StrokeLine2(line, at, c.Min.Y, at, c.Max.Y)
		c.FillText(aligned(small, draw.XCenter), vg.Point{X: at, Y: c.Min.Y - 6}, tick.Label)
	}
	for i, row := range r.Rows {
		cell, y := row.Cells[k], mid(i)
		if cell.Missing != "" {
			c.FillText(small, vg.Point{X: c.Min.X + 2, Y: y}, fit(cell.Missing, small, c.Max.X-c.Min.X-2))
			continue
		}
		width := vg.Length(1.2)
		if cell.Told {
			width = 2.6
		}
		c.StrokeLine2(t.line(width, t.Bird), x(cell.Low), y, x(cell.High), y)
		if cell.Plain != nil {
			dot(c, t, vg.Point{X: x(*cell.Plain), Y: y}, false)
		}
		c.DrawGlyph(draw.GlyphStyle{Color: t.Bird, Radius: 2.4, Shape: draw.CircleGlyph{}}, vg.Point{X: x(cell.Value), Y: y})
	}
}

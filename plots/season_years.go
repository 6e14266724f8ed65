package plots

import (
	"errors"
	"fmt"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Years is a calendar of years by months with a strip below that shows how often somebody looked.
type Years struct {
	Measure string        `json:"measure"`
	Grades  [4]string     `json:"grades,omitempty"`
	Rows    []CalendarRow `json:"rows"`   // years, oldest first; twelve cells each
	Effort  [12]int       `json:"effort"` // days with a look, by month, all years together
}

// Kind implements Panel.
func (Years) Kind() string { return "years" }

// Validate implements Panel.
func (y Years) Validate() error {
	var errs []error
	for m, n := range y.Effort {
		if n < 0 {
			errs = append(errs, fmt.Errorf("years: %d days with a look in %s", n, monthNames()[m]))
		}
	}
	return errors.Join(append(errs, y.calendar().Validate())...)
}

func (y Years) calendar() Calendar {
	return Calendar{Measure: y.Measure, RowHead: "year", Columns: monthNames(), Grades: y.Grades, Rows: y.Rows}
}

// Table implements Panel.
func (y Years) Table() analysis.Table { return effortTable(y.calendar(), y.Effort) }

// effortHeight is the height of the strip of effort.
const effortHeight = vg.Length(30)

// HeightFor returns the height in mm that a figure of n years needs.
func (Years) HeightFor(n int) float64 { return Calendar{}.HeightFor(n) + 12 }

func (y Years) plot(c draw.Canvas, t Theme) {
	k := y.calendar()
	small := t.style(t.Tick, t.Muted)
	label := t.style(t.Label, t.Ink)
	width := c.Max.X - c.Min.X
	c.FillText(small, vg.Point{X: c.Min.X, Y: c.Max.Y - keyRow/2}, fit(y.Measure, small, width))
	keyHeight := t.drawKey(nil, width, k.key(t))
	t.drawKey(&draw.Canvas{Canvas: c.Canvas, Rectangle: rect(c.Min.X, c.Min.Y, c.Max.X, c.Min.Y+keyHeight)}, width, k.key(t))

	names := small.Width(effortLabel) + 6
	column := (width - names) / 12
	top, bottom := c.Max.Y-2*keyRow-1, c.Min.Y+keyHeight+effortHeight+7
	row := max((top-bottom)/vg.Length(len(y.Rows)), 1)
	for m, name := range monthNames() {
		x := c.Min.X + names + (vg.Length(m)+0.5)*column
		c.FillText(aligned(small, draw.XCenter), vg.Point{X: x, Y: top + keyRow/2}, name)
	}
	for j, r := range y.Rows {
		y1 := top - vg.Length(j)*row
		c.FillText(label, vg.Point{X: c.Min.X, Y: y1 - row/2}, fit(r.Label, label, names-6))
		for m, cell := range r.Cells {
			x0 := c.Min.X + names + vg.Length(m)*column
			cell.draw(c, t, rect(x0+0.75, y1-row+0.75, x0+column-0.75, y1-0.75))
		}
	}
	y.drawEffort(c, t, c.Min.X, names, column, c.Min.Y+keyHeight+4)
}

// drawEffort draws a bar for each month from a base line, with its number above.
func (y Years) drawEffort(c draw.Canvas, t Theme, left, names, column, base vg.Length) {
	small := t.style(t.Tick, t.Muted)
	c.FillText(small, vg.Point{X: left, Y: base + 6}, effortLabel)
	most := max(1, maxOf(y.Effort))
	for m, n := range y.Effort {
		x0 := left + names + vg.Length(m)*column
		high := (effortHeight - 11) * vg.Length(n) / vg.Length(most)
		if n > 0 {
			fill(c, rect(x0+column*0.2, base, x0+column*0.8, base+max(high, 1)), t.Muted, draw.LineStyle{})
		}
		c.FillText(aligned(t.style(7, t.Ink), draw.XCenter), vg.Point{X: x0 + column/2, Y: base + high + 5}, fmt.Sprint(n))
	}
	c.StrokeLine2(t.line(0.6, t.Muted), left+names, base, left+names+12*column, base)
}

package plots

import (
	"errors"
	"fmt"
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Calendar shows what checks found and, as plainly, when nobody looked: years by months, or birds by dates.
type Calendar struct {
	Measure string           `json:"measure"`          // what a cell counts: "birds with lice / birds checked"
	RowHead string           `json:"row_head"`         // "year" or "bird"
	Columns []string         `json:"columns"`          // "Jan" or "2025-03-01"
	Grades  [4]string        `json:"grades,omitempty"` // what the shades stand for: "none", "1–5", "6–20", "over 20"; "" where unused
	Rows    []CalendarRow    `json:"rows"`
	Marks   []CalendarLegend `json:"marks,omitempty"` // what Mark letters in cells stand for
}

// CalendarRow is one year or bird; it has one cell a column.
type CalendarRow struct {
	Label string         `json:"label"`
	Cells []CalendarCell `json:"cells"`
}

// CalendarCell is one month of a year, or one date of a bird.
type CalendarCell struct {
	Looked  bool   `json:"looked,omitempty"`
	Grade   int    `json:"grade,omitempty"`   // 0 nothing found to 3; only where Looked
	Text    string `json:"text,omitempty"`    // as printed in the cell: "3/8", "0", ">20"
	Unclear bool   `json:"unclear,omitempty"` // looked, but the note does not say what was found
	Treated bool   `json:"treated,omitempty"`
	Mark    string `json:"mark,omitempty"` // one letter, explained in Marks: "m" moved
}

// CalendarLegend explains a Mark.
type CalendarLegend struct {
	Mark string `json:"mark"`
	Text string `json:"text"`
}

// Kind implements Panel.
func (Calendar) Kind() string { return "calendar" }

// Validate implements Panel.
func (k Calendar) Validate() error {
	if len(k.Rows) == 0 || len(k.Columns) == 0 {
		return errors.New("calendar: no row or no column")
	}
	if len(k.Rows) > 400 || len(k.Columns) > 60 {
		return fmt.Errorf("calendar: %d rows of %d cells; use at most 400 rows and 60 columns", len(k.Rows), len(k.Columns))
	}
	var errs []error
	for _, r := range k.Rows {
		if len(r.Cells) != len(k.Columns) {
			errs = append(errs, fmt.Errorf("calendar: row %s has %d cells for %d columns", r.Label, len(r.Cells), len(k.Columns)))
			continue
		}
		for i, c := range r.Cells {
			switch {
			case c.Grade < 0 || c.Grade > 3:
				errs = append(errs, fmt.Errorf("calendar: %s, %s: grade %d; use 0 to 3", r.Label, k.Columns[i], c.Grade))
			case c.Looked && c.Text == "":
				errs = append(errs, fmt.Errorf("calendar: %s, %s: a cell that was looked at needs its figure", r.Label, k.Columns[i]))
			case c.Unclear && (!c.Looked || c.Grade != 0):
				errs = append(errs, fmt.Errorf("calendar: %s, %s: what is unclear has no grade", r.Label, k.Columns[i]))
			case !c.Looked && (c.Grade != 0 || c.Text != ""):
				errs = append(errs, fmt.Errorf("calendar: %s, %s: nobody looked, so there is no finding", r.Label, k.Columns[i]))
			}
		}
	}
	return errors.Join(errs...)
}

// unclearText is what a cell prints where a look does not say what it found.
const unclearText = "?"

// notLooked is what a table says where there is no check.
const notLooked = "not looked"

// Table implements Panel.
func (k Calendar) Table() analysis.Table {
	t := analysis.Table{Caption: k.Measure, Columns: []analysis.Column{{Name: "row", Head: k.RowHead}}}
	for i, head := range k.Columns {
		t.Columns = append(t.Columns, analysis.Column{Name: fmt.Sprintf("c%d", i+1), Head: head})
	}
	for _, r := range k.Rows {
		row := []any{r.Label}
		for _, c := range r.Cells {
			said := c.Text
			if !c.Looked {
				said = notLooked
			}
			if c.Unclear {
				said += ", unclear"
			}
			if c.Treated {
				said += ", treated"
			}
			for _, m := range k.Marks {
				if m.Mark == c.Mark && c.Mark != "" {
					said += ", " + m.Text
				}
			}
			row = append(row, said)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// HeightFor returns the height in mm that a figure of n rows needs.
func (Calendar) HeightFor(n int) float64 { return 16 + 7*float64(n) }

func (k Calendar) plot(c draw.Canvas, t Theme) {
	small := t.style(t.Tick, t.Muted)
	label := t.style(t.Label, t.Ink)
	width := c.Max.X - c.Min.X

	c.FillText(small, vg.Point{X: c.Min.X, Y: c.Max.Y - keyRow/2}, fit(k.Measure, small, width))
	keyHeight := t.drawKey(nil, width, k.key(t))
	t.drawKey(&draw.Canvas{Canvas: c.Canvas, Rectangle: rect(c.Min.X, c.Min.Y, c.Max.X, c.Min.Y+keyHeight)}, width, k.key(t))

	nameWidth := label.Width(oneLine(k.RowHead))
	for _, r := range k.Rows {
		nameWidth = max(nameWidth, label.Width(oneLine(r.Label)))
	}
	nameWidth = min(nameWidth, width*0.28) + 6
	head := keyRow
	upright := k.headWidth(small) + 4
	columnWidth := (width - nameWidth) / vg.Length(len(k.Columns))
	turned := upright > columnWidth
	if turned {
		head = upright
	}
	top, bottom := c.Max.Y-keyRow-head-1, c.Min.Y+keyHeight+5
	rowHeight := max((top-bottom)/vg.Length(len(k.Rows)), 1)

	for i, name := range k.Columns {
		x := c.Min.X + nameWidth + (vg.Length(i)+0.5)*columnWidth
		style := aligned(small, draw.XCenter)
		if turned {
			style = t.turned(small)
			c.FillText(style, vg.Point{X: x, Y: top + 2}, oneLine(name))
			continue
		}
		c.FillText(style, vg.Point{X: x, Y: top + head/2}, oneLine(name))
	}
	for j, r := range k.Rows {
		y1 := top - vg.Length(j)*rowHeight
		y0 := y1 - rowHeight
		c.FillText(label, vg.Point{X: c.Min.X, Y: (y0 + y1) / 2}, fit(r.Label, label, nameWidth-6))
		for i, cell := range r.Cells {
			x0 := c.Min.X + nameWidth + vg.Length(i)*columnWidth
			cell.draw(c, t, rect(x0+0.75, y0+0.75, x0+columnWidth-0.75, y1-0.75))
		}
	}
}

func (k Calendar) headWidth(style draw.TextStyle) vg.Length {
	w := vg.Length(0)
	for _, name := range k.Columns {
		w = max(w, style.Width(oneLine(name)))
	}
	return w
}

// turned sets type upwards, from a point.
func (t Theme) turned(s draw.TextStyle) draw.TextStyle {
	s.Rotation = 1.5707963267948966 // a quarter turn
	s.XAlign, s.YAlign = draw.XLeft, draw.YCenter
	return s
}

func (cell CalendarCell) draw(c draw.Canvas, t Theme, r vg.Rectangle) {
	style := aligned(t.style(t.Tick, t.Ink), draw.XCenter)
	mid := vg.Point{X: (r.Min.X + r.Max.X) / 2, Y: (r.Min.Y + r.Max.Y) / 2}
	if cell.Looked {
		shade := t.Ramp[cell.Grade]
		if cell.Unclear { // neither the shade of "none" nor the dots of "not looked"
			shade = t.Paper
		}
		fill(c, r, shade, t.line(0.4, t.Muted))
		style.Color = t.inkOn(cell.Grade)
		style = bold(style)
		for style.Width(cell.Text) > r.Max.X-r.Min.X-2 && style.Font.Size > 5 {
			style.Font.Size -= 0.5
		}
		c.FillText(style, mid, fit(cell.Text, style, r.Max.X-r.Min.X))
	} else {
		fill(c, r, t.Paper, t.line(0.5, t.Muted, 1, 2))
		style.Color = t.Muted
		c.FillText(style, mid, "–")
	}
	if cell.Treated {
		t.drawTreated(c, r)
	}
	if cell.Mark != "" {
		style := t.style(6, style.Color)
		c.FillText(style, vg.Point{X: r.Min.X + 1.5, Y: r.Min.Y + 4}, fit(cell.Mark, style, 8))
	}
}

// inkOn is the type colour that can be read on a grade.
func (t Theme) inkOn(grade int) color.Color {
	if grade == 3 {
		return t.Paper
	}
	return t.Ink
}

// drawTreated marks a treatment: a black corner with a white edge, so that it shows on every shade.
func (t Theme) drawTreated(c draw.Canvas, r vg.Rectangle) {
	s := min((r.Max.Y-r.Min.Y)*0.45, (r.Max.X-r.Min.X)*0.45, 8)
	corner := []vg.Point{{X: r.Max.X, Y: r.Max.Y}, {X: r.Max.X - s, Y: r.Max.Y}, {X: r.Max.X, Y: r.Max.Y - s}}
	c.FillPolygon(t.Ink, corner)
	c.StrokeLine2(t.line(0.8, t.Paper), corner[1].X, corner[1].Y, corner[2].X, corner[2].Y)
}

func (k Calendar) key(t Theme) []keyEntry {
	cell := func(cc CalendarCell) func(draw.Canvas, Theme) {
		return func(c draw.Canvas, t Theme) {
			r := c.Rectangle
			r.Min.Y, r.Max.Y = r.Min.Y-1, r.Max.Y+1
			cc.draw(c, t, r)
		}
	}
	var key []keyEntry
	for grade, text := range k.Grades {
		if text != "" {
			key = append(key, keyEntry{text, func(c draw.Canvas, t Theme) {
				fill(c, c.Rectangle, t.Ramp[grade], t.line(0.4, t.Muted))
			}})
		}
	}
	var open, treated, unclear bool
	for _, r := range k.Rows {
		for _, c := range r.Cells {
			open, treated, unclear = open || !c.Looked, treated || c.Treated, unclear || c.Unclear
		}
	}
	if unclear {
		key = append(key, keyEntry{"looked, unclear", cell(CalendarCell{Looked: true, Unclear: true, Text: unclearText})})
	}
	if open {
		key = append(key, keyEntry{notLooked, cell(CalendarCell{})})
	}
	if treated {
		key = append(key, keyEntry{"treated", func(c draw.Canvas, t Theme) {
			r := c.Rectangle
			r.Min.Y, r.Max.Y = r.Min.Y-1, r.Max.Y+1
			fill(c, r, t.Ramp[0], t.line(0.4, t.Muted))
			t.drawTreated(c, r)
		}})
	}
	for _, m := range k.Marks {
		key = append(key, keyEntry{m.Mark + " " + m.Text, nil})
	}
	return key
}

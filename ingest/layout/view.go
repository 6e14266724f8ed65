package layout

import (
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// View looks at a sheet as lines of fields: rows of cells as it lies, or columns of cells where it is turned
// on its side. Every layout is written once, for lines; a transposed sheet is the same layout over the turned
// view. Lines and fields count from 0.
type View struct {
	grid   *sheet.Grid
	rows   [][]sheet.Cell // by row, from 0; nil where the file has none
	hidden []bool         // by row
	width  int            // columns
	turned bool
	merged map[[2]int]sheet.Span // by row and column, from 0, of every cell of a merged block
}

// maxMerged is the largest merged block whose first cell stands for all of it.
const maxMerged = 50_000

var blank sheet.Cell // what lies outside the sheet; never written to

// Of returns the view of a grid as it lies.
func Of(g *sheet.Grid) *View {
	v := &View{grid: g}
	last := int32(0)
	for _, r := range g.Rows {
		last = max(last, r.N)
	}
	v.rows, v.hidden = make([][]sheet.Cell, last), make([]bool, last)
	for _, r := range g.Rows {
		v.rows[r.N-1], v.hidden[r.N-1] = r.Cells, r.Hidden
		for c := len(r.Cells); c > v.width; c-- {
			if r.Cells[c-1].Kind != sheet.Blank {
				v.width = c
				break
			}
		}
	}
	if len(g.Merged) > 0 {
		v.merged = make(map[[2]int]sheet.Span)
		for _, m := range g.Merged {
			if m.Row2 > int32(len(v.rows)) {
				m.Row2 = int32(len(v.rows))
			}
			if m.Col2 > int32(v.width) {
				m.Col2 = int32(v.width)
			}
			if int64(m.Row2-m.Row1+1)*int64(m.Col2-m.Col1+1) > maxMerged {
				continue // no keeper merges so much; the first cell still stands
			}
			for r := m.Row1; r <= m.Row2; r++ {
				for c := m.Col1; c <= m.Col2; c++ {
					v.merged[[2]int{int(r) - 1, int(c) - 1}] = m
				}
			}
		}
	}
	return v
}

// Turn returns the same sheet seen from its side: columns become lines.
func (v *View) Turn() *View {
	t := *v
	t.turned = !v.turned
	return &t
}

// Turned reports whether the columns are the lines.
func (v *View) Turned() bool { return v.turned }

// Grid returns the sheet.
func (v *View) Grid() *sheet.Grid { return v.grid }

// Lines is the number of lines.
func (v *View) Lines() int {
	if v.turned {
		return v.width
	}
	return len(v.rows)
}

// Fields is the largest number of fields of a line.
func (v *View) Fields() int {
	if v.turned {
		return len(v.rows)
	}
	return v.width
}

// Cell returns a cell, a blank one outside the sheet. It must not be written to.
func (v *View) Cell(line, field int) *sheet.Cell {
	if v.turned {
		line, field = field, line
	}
	if line < 0 || field < 0 || line >= len(v.rows) || field >= len(v.rows[line]) {
		return &blank
	}
	return &v.rows[line][field]
}

// Ref is the place of a cell.
func (v *View) Ref(line, field int) record.Ref {
	if v.turned {
		line, field = field, line
	}
	return record.Ref{File: v.grid.File, Sheet: v.grid.Sheet, Row: int32(line) + 1, Col: int32(field) + 1}
}

// Origin returns the first cell of the merged block that a cell belongs to, or the cell itself.
func (v *View) Origin(line, field int) (int, int) {
	if v.merged == nil {
		return line, field
	}
	r, c := line, field
	if v.turned {
		r, c = c, r
	}
	m, ok := v.merged[[2]int{r, c}]
	if !ok {
		return line, field
	}
	r, c = int(m.Row1)-1, int(m.Col1)-1
	if v.turned {
		r, c = c, r
	}
	return r, c
}

// HiddenLine reports whether the keeper has hidden a line, or the whole sheet.
func (v *View) HiddenLine(line int) bool { return v.grid.Hidden || v.isHidden(line, v.turned) }

// HiddenField reports whether the keeper has hidden a field of all lines.
func (v *View) HiddenField(field int) bool { return v.isHidden(field, !v.turned) }

func (v *View) isHidden(n int, column bool) bool {
	if column {
		return slices.Contains(v.grid.HiddenCols, int32(n)+1)
	}
	return n < len(v.hidden) && v.hidden[n]
}

// Stored returns a cell as package parse reads it.
func (v *View) Stored(line, field int) parse.Cell {
	c := v.Cell(line, field)
	return parse.Cell{Text: c.Raw, Stored: parse.Stored(c.Kind), Formula: c.Formula, Format: c.Format}
}

// Blank reports whether a cell holds nothing: no text, no number, no formula.
func (v *View) Blank(line, field int) bool {
	c := v.Cell(line, field)
	switch c.Kind {
	case sheet.Blank:
		return !c.Formula
	case sheet.Text:
		return c.Raw == "" || (c.Raw[0] <= ' ' || c.Raw[0] >= 0x80) && strings.TrimSpace(c.Raw) == ""
	}
	return false
}

// filled lists the fields of a line that hold anything, from lo to hi.
func (v *View) filled(line, lo, hi int) []int { return v.filledInto(nil, line, lo, hi) }

func (v *View) filledInto(out []int, line, lo, hi int) []int {
	for f := lo; f <= hi; f++ {
		if !v.Blank(line, f) {
			out = append(out, f)
		}
	}
	return out
}

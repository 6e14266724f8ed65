package render

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"keelmark/ingest/record"
)

// grid lays one sheet out.
func (s *sheetWriter) grid(l *record.Ledger) *grid {
	g := &grid{ID: s.ids[sheetKey{l.File, l.Sheet}], Name: l.File}
	if l.Sheet != "" {
		g.Name += ", sheet " + l.Sheet
	}
	rows := max(len(l.Fates), len(l.Texts))
	g.Wide = 1
	for i := range min(rows, sheetRows) {
		if i < len(l.Fates) {
			g.Wide = max(g.Wide, len(l.Fates[i]))
		}
		if i < len(l.Texts) {
			g.Wide = max(g.Wide, len(l.Texts[i]))
		}
	}
	width := g.Wide
	g.Wide = min(g.Wide, sheetColumns)
	for c := range g.Wide {
		g.Columns = append(g.Columns, record.ColumnName(c+1))
	}
	var tally [record.AsAside + 1]int
	empty := 0
	gap := func(before int) {
		if empty > 3 {
			g.Rows = append(g.Rows, gridRow{Gap: fmt.Sprintf("rows %d to %d are empty", before-empty, before-1)})
		} else {
			for n := before - empty; n < before; n++ {
				g.Rows = append(g.Rows, gridRow{N: n, Cells: make([]gridCell, g.Wide)})
			}
		}
		empty = 0
	}
	for n := 1; n <= rows; n++ {
		row := gridRow{N: n}
		filled := false
		for c := 1; c <= width; c++ {
			cell := s.cell(l, record.Ref{File: l.File, Sheet: l.Sheet, Row: int32(n), Col: int32(c)}, &tally)
			filled = filled || cell.Class != ""
			if n <= sheetRows && c <= sheetColumns {
				row.Cells = append(row.Cells, cell)
			}
		}
		if n > sheetRows {
			continue
		}
		if !filled {
			empty++
			continue
		}
		gap(n)
		g.Rows = append(g.Rows, row)
	}
	g.Tally = fmt.Sprintf("%d read as records, %d as context, %d asked, %d refused, %d set aside.",
		tally[record.AsRecord], tally[record.AsContext], tally[record.AsQuestion], tally[record.AsReject], tally[record.AsAside])
	if rows > sheetRows {
		g.Cut = fmt.Sprintf("Rows %d to %d are not shown, to keep the page light. What is asked or refused in them is listed above. ", sheetRows+1, rows)
	}
	if width > sheetColumns {
		g.Cut += fmt.Sprintf("Columns beyond %s are not shown; what is asked or refused in them is listed above.", record.ColumnName(sheetColumns))
	}
	for i, n := range tally {
		s.tally[i] += n
	}
	return g
}

// cell is one cell of a grid, without class where it is empty.
func (s *sheetWriter) cell(l *record.Ledger, at record.Ref, tally *[record.AsAside + 1]int) gridCell {
	fate, text := l.At(at.Row, at.Col), textAt(l, int(at.Row), int(at.Col))
	if fate == record.Blank && text == "" {
		return gridCell{}
	}
	if fate == record.Blank {
		s.lost++
	} else {
		tally[fate]++
	}
	c := gridCell{mark: markOf(fate), Text: text, Said: s.said[at]}
	switch {
	case s.flagged[at] && fate == record.AsRecord:
		c.mark = flaggedMark()
		s.marked++
	case fate == record.AsQuestion && len(c.Said) == 0:
		row := at
		row.Col = 0
		if q, ok := s.waits[row]; ok {
			c.Said = []sentence{q}
		} else {
			c.Title = "waits for an answer"
		}
	case fate == record.AsAside:
		c.Title = "set aside"
		for _, a := range s.asides[keyOf(at)] {
			if a.Rows[0] <= at.Row && at.Row <= a.Rows[1] && (a.Cols[0] == 0 || a.Cols[0] <= at.Col && at.Col <= a.Cols[1]) {
				c.Title += ": " + a.Why
				break
			}
		}
	}
	var said []string
	for _, t := range c.Said {
		said = append(said, t.Text)
	}
	if utf8.RuneCountInString(text) <= shortText {
		c.Class += " s"
	}
	if len(said) > 0 {
		c.Title = strings.Join(said, "\n")
	}
	if s.linked[at] {
		c.ID = s.cellID(at)
	}
	return c
}

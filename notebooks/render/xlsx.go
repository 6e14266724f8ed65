package render

import (
	"cmp"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
	"keelmark/ingest/workbook"
	"keelmark/plots"
)

// XLSX writes the document's tables, sentences, cautions and the numbers of its figures as a workbook, for whoever goes on
// in a spreadsheet: each table a sheet, the curves of all birds one sheet with their charts beside them. What is a number or
// a date on the page is one in its cell; rings and names stay text.
func (d Document) XLSX(w io.Writer) error {
	var all gathered
	all.add(d.Blocks)
	sheets := []workbook.Sheet{d.front(all)}
	sheets = append(sheets, all.sentences())
	for _, t := range all.tables {
		sheets = append(sheets, t.sheet())
	}
	for _, f := range all.figures {
		if weights, ok := f.Panel.(plots.Weights); ok {
			sheets = append(sheets, weightsSheet(f, weights))
		}
	}
	if s, ok := all.curves(); ok {
		sheets = append(sheets, s)
	}
	return workbook.Write(w, sheets)
}

// gathered are the parts of a document, wherever they lie in it.
type gathered struct {
	tables   []Table
	claims   []Claim
	cautions []Caution
	figures  []plots.Figure
	page     string // heading last seen
}

func (g *gathered) add(blocks Blocks) {
	for _, b := range blocks {
		switch b := b.(type) {
		case Group:
			g.add(b.Blocks)
		case Columns:
			for _, c := range b.Columns {
				g.add(c)
			}
		case Heading:
			g.page = b.Text
		case Table:
			g.table(b)
		case Claims:
			g.claims = append(g.claims, b.Claims...)
		case Caution:
			g.cautions = append(g.cautions, b)
		case Figure:
			g.figures = append(g.figures, b.Plot)
		}
	}
}

// table keeps a table with rows. Tables without a caption that have the same columns, one a page, become one, with the heading
// of the page before each row.
func (g *gathered) table(t Table) {
	if len(t.Rows) == 0 {
		return
	}
	if t.Caption != "" {
		g.tables = append(g.tables, t)
		return
	}
	t.Columns = append([]Column{{Head: "page"}}, t.Columns...)
	rows := t.Rows
	t.Rows = nil
	for _, row := range rows {
		t.Rows = append(t.Rows, append([]Cell{{Text: g.page}}, row...))
	}
	t.Caption = t.Columns[len(t.Columns)-1].Head
	i := slices.IndexFunc(g.tables, func(o Table) bool {
		return slices.EqualFunc(o.Columns, t.Columns, func(a, b Column) bool { return a.Head == b.Head })
	})
	if i < 0 {
		g.tables = append(g.tables, t)
		return
	}
	g.tables[i].Rows = append(g.tables[i].Rows, t.Rows...)
}

// front says what the workbook is, and carries the cautions: they go where the numbers go.
func (d Document) front(g gathered) workbook.Sheet {
	s := workbook.Sheet{Name: "Read first", Widths: []float64{28, 110}}
	row := func(name, text string) {
		s.Rows = append(s.Rows, []workbook.Cell{workbook.Text(name).Bold(), workbook.Text(text)})
	}
	s.Rows = append(s.Rows, []workbook.Cell{workbook.Title(d.Title, 2)}, nil)
	row("made", d.Made.String())
	row("from", d.Running)
	row("what this is", "The tables and sentences of the report, and the numbers of its figures. Nothing here decides: the decision is yours.")
	for _, c := range g.cautions {
		for _, line := range c.Lines {
			row(c.Title, line)
		}
	}
	return s
}

// sentences lists what speaks for, against and what is open, each once.
func (g gathered) sentences() workbook.Sheet {
	var rows [][]workbook.Cell
	seen := map[string]bool{}
	for _, c := range g.claims {
		if seen[c.ID] {
			continue
		}
		seen[c.ID] = true
		next := ""
		if c.Refusal != nil {
			next = c.Refusal.Next
		}
		count := func(n int) workbook.Cell {
			if n == 0 {
				return workbook.Cell{}
			}
			return workbook.Number(float64(n), 0)
		}
		rows = append(rows, []workbook.Cell{workbook.Text(Word(c.Stands)), workbook.Text(c.Topic), workbook.Text(c.Text), workbook.Text(next),
			workbook.Text(strings.Join(c.Caveats, "; ")), count(c.N.Records), count(c.N.Birds), count(c.N.Dates), workbook.Text(cellsInWords(c.Cells)),
			workbook.Text(c.Method), workbook.Text(c.Source)})
	}
	return workbook.Table("Sentences", "", []string{"side", "about", "sentence", "next look", "what holds it back", "records", "birds", "dates", "cells", "method", "source"}, rows)
}

// sheet is a table as a sheet.
func (t Table) sheet() workbook.Sheet {
	var heads []string
	for _, c := range t.Columns {
		heads = append(heads, c.head())
	}
	var rows [][]workbook.Cell
	for _, row := range t.Rows {
		cells := make([]workbook.Cell, len(row))
		for i, c := range row {
			text := c.Text
			if text == "" && c.Figure != nil {
				text = c.Figure.Alt
			}
			cells[i] = cellOf(text, i < len(t.Columns) && t.Columns[i].Align == Right)
		}
		rows = append(rows, cells)
	}
	return workbook.Table(cmp.Or(t.Caption, t.Name, "Table"), t.Caption, heads, rows)
}

var isoDay = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)

// cellOf is a text of the page as a cell: a date as a date, a number in a column of numbers as a number, and no mark for
// what is missing.
func cellOf(text string, numbers bool) workbook.Cell {
	switch {
	case text == "" || text == nothingToShow:
		return workbook.Cell{}
	case isoDay.MatchString(text):
		if day, err := record.ParseDay(text); err == nil {
			return workbook.Date(day)
		}
	case numbers:
		plain := strings.ReplaceAll(text, "−", "-")
		if v, err := strconv.ParseFloat(plain, 64); err == nil && !strings.ContainsAny(plain, "eExXnN") {
			_, decimals, _ := strings.Cut(plain, ".")
			return workbook.Number(v, len(decimals))
		}
	}
	return workbook.Text(text)
}

// valueOf is a value of a figure's numbers as a cell.
func valueOf(v any) workbook.Cell {
	switch v := v.(type) {
	case float64:
		return workbook.Number(v, 1)
	case int:
		return workbook.Number(float64(v), 0)
	case string:
		return cellOf(v, false)
	}
	return workbook.Cell{}
}

func headings(t analysis.Table) []string {
	var out []string
	for _, c := range t.Columns {
		out = append(out, Column{Head: c.Head, Unit: c.Unit}.head())
	}
	return out
}

// weightsSheet sets the weights of all birds out with a chart of them beside the published ones.
func weightsSheet(f plots.Figure, w plots.Weights) workbook.Sheet {
	t := w.Table()
	var rows [][]workbook.Cell
	for _, row := range t.Rows {
		cells := make([]workbook.Cell, len(row))
		for i, v := range row {
			cells[i] = valueOf(v)
		}
		rows = append(rows, cells)
	}
	s := workbook.Table(f.Title, f.Title, headings(t), rows)
	first, last := s.Frozen+1, s.Frozen+len(rows)
	chart := workbook.Chart{Title: f.Title, YTitle: "g", Row: s.Frozen, Col: len(t.Columns) + 2, Bars: true}
	for _, name := range []string{"weight_g", "standard_low_g", "standard_high_g"} {
		if i := slices.IndexFunc(t.Columns, func(c analysis.Column) bool { return c.Name == name }); i >= 0 && len(rows) > 0 {
			chart.Series = append(chart.Series, workbook.Series{X: 1, Y: i + 1, First: first, Last: last, NameRow: s.Frozen, NameCol: i + 1})
		}
	}
	s.Charts = []workbook.Chart{chart}
	return s
}

// curves sets the weighings and curves of all birds out below each other, each with its chart; false where there are none.
func (g gathered) curves() (workbook.Sheet, bool) {
	s := workbook.Sheet{Name: "Weighings and curves"}
	for _, f := range g.figures {
		growth, ok := f.Panel.(plots.Growth)
		if !ok {
			continue
		}
		t := growth.Table()
		top := len(s.Rows) + 1
		s.Rows = append(s.Rows, []workbook.Cell{workbook.Text(f.Title).Bold()})
		var head []workbook.Cell
		for _, h := range headings(t) {
			head = append(head, workbook.Heading(h))
		}
		s.Rows = append(s.Rows, head)
		x, format, title := 2, "yyyy-mm-dd", ""
		if growth.Zero == "" {
			x, format, title = 3, "0", "age in days"
		}
		chart := workbook.Chart{Title: f.Title, XTitle: title, YTitle: "g", XFormat: format, Row: top, Col: len(t.Columns) + 2}
		for from := 0; from < len(t.Rows); {
			to := from
			for to < len(t.Rows) && t.Rows[to][0] == t.Rows[from][0] {
				to++
			}
			if t.Rows[from][3] != nil { // a run with weights
				first := len(s.Rows) + 1 + from
				chart.Series = append(chart.Series, workbook.Series{X: x, Y: 4, First: first, Last: first + to - from - 1, NameRow: first, NameCol: 1, Line: t.Rows[from][0] != "weighing"})
			}
			from = to
		}
		for _, row := range t.Rows {
			cells := make([]workbook.Cell, len(row))
			for i, v := range row {
				cells[i] = valueOf(v)
			}
			s.Rows = append(s.Rows, cells)
		}
		if len(chart.Series) > 0 {
			s.Charts = append(s.Charts, chart)
		}
		for len(s.Rows) < top+workbook.ChartRows { // the next bird begins below the chart
			s.Rows = append(s.Rows, nil)
		}
	}
	return s, len(s.Charts) > 0
}

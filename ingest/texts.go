package ingest

import (
	"strconv"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// keepTexts adds to the ledgers of a book what its cells show, for pages that put a sheet before its keeper.
func keepTexts(book *sheet.Book, ledgers []*record.Ledger) {
	for _, l := range ledgers {
		for i := range book.Grids {
			if g := &book.Grids[i]; g.Sheet == l.Sheet {
				l.Texts = texts(g)
			}
		}
	}
}

// sheetsOf is what the cells of a book show, sheet by sheet.
func sheetsOf(book *sheet.Book) []ask.Sheet {
	out := make([]ask.Sheet, len(book.Grids))
	for i := range book.Grids {
		out[i] = ask.Sheet{Name: book.Grids[i].Sheet, Rows: texts(&book.Grids[i])}
	}
	return out
}

func texts(g *sheet.Grid) [][]string {
	var out [][]string
	for _, r := range g.Rows {
		for i := range r.Cells {
			c := &r.Cells[i]
			if c.Kind == sheet.Blank && !c.Formula || c.Kind == sheet.Text && strings.TrimSpace(c.Raw) == "" {
				continue
			}
			for len(out) < int(r.N) {
				out = append(out, nil)
			}
			row := &out[r.N-1]
			for len(*row) <= i {
				*row = append(*row, "")
			}
			(*row)[i] = shown(c, g.Date1904)
		}
	}
	return out
}

// shown is what a cell shows: its text, with dates, percentages and yes/no values as a person reads them.
func shown(c *sheet.Cell, from1904 bool) string {
	switch c.Kind {
	case sheet.Blank:
		return "(formula)"
	case sheet.Bool:
		if c.Raw == "1" {
			return "TRUE"
		}
		return "FALSE"
	case sheet.Percent:
		if f, err := strconv.ParseFloat(c.Raw, 64); err == nil {
			return strconv.FormatFloat(f*100, 'g', 6, 64) + " %"
		}
	case sheet.Date:
		sys := parse.From1900
		if from1904 {
			sys = parse.From1904
		}
		serial, err := strconv.ParseFloat(c.Raw, 64)
		if err != nil {
			return strings.TrimSuffix(c.Raw, "T00:00:00")
		}
		if day, clock, ok := parse.Serial(serial, sys); ok {
			return strings.TrimSpace(day.String() + " " + clock)
		}
	}
	return c.Raw
}

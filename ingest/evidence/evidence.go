// Package evidence decides, from all cells of a file together, how its cells are to be read: what the values
// under dates are, which unit bare numbers are in, whether dates put the day or the month first, what "-" and
// "x" mean, on which scale a column is scored.
//
// Each decision says on which cell it rests, and goes into the file's notes. What the file does not prove is
// taken from flock.toml or an earlier answer, else left open to be asked.
//
// It refuses to read values, and to prefer the likelier of two readings.
package evidence

import (
	"fmt"
	"path/filepath"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// File is one file with its layouts and what was decided for it.
type File struct {
	Name  string // base name
	Pages []*Page
	Notes []string // what was decided, with its evidence

	set     record.Settings
	replies *ask.Replies
	today   record.Day
	mark    string      // decimal mark
	order   parse.Order // of dates, where the file's columns agree
	dates   map[*layout.Table]parse.Order
	pools   map[poolKey]*Pool
	kin     map[kinKey][]*Pool
}

// Page is one sheet of the file.
type Page struct {
	Grid   *sheet.Grid
	Layout *layout.Sheet
	Year   int // that its name, titles or the file's name carry; 0 none
}

// Weigh finds the layouts of a book and weighs the evidence of all its sheets. Later days than today count as
// slips; 0 for no check.
func Weigh(b *sheet.Book, set record.Settings, replies *ask.Replies, today record.Day) *File {
	w := &File{Name: b.File, set: set, replies: replies, today: today}
	for i := range b.Grids {
		w.Pages = append(w.Pages, &Page{Grid: &b.Grids[i], Layout: layout.Read(&b.Grids[i])})
	}
	w.gather()
	return w
}

// evidenceLimit is how many distinct texts of a column are weighed as evidence.
const evidenceLimit = 20_000

// gather weighs the evidence of the whole file: meaning of columns, decimal mark, order of dates, units.
func (w *File) gather() {
	w.pools, w.kin, w.dates = map[poolKey]*Pool{}, map[kinKey][]*Pool{}, map[*layout.Table]parse.Order{}
	for _, p := range w.Pages {
		p.Year = w.yearOf(p)
		for _, n := range p.Layout.Notes {
			w.Note(p, n)
		}
		if p.Layout.Doubt != "" {
			w.Note(p, "another layout is possible: "+p.Layout.Doubt)
		}
		for _, t := range p.Layout.Tables {
			w.renamed(t)
			w.topic(p, t)
			w.collect(p, t)
		}
	}
	var texts []parse.Cell
	for _, k := range w.Pools() {
		texts = append(texts, k.cells...)
	}
	if mark, at := parse.DecimalMark(texts); mark != "" {
		w.mark = mark
		if mark == "," {
			w.Notes = append(w.Notes, fmt.Sprintf("a comma is read as the decimal mark: %q", parse.Shown(texts[at].Text)))
		}
	}
	w.dateOrder()
	for _, k := range w.Pools() {
		w.decide(k)
	}
}

// Note adds a sentence about a sheet.
func (w *File) Note(p *Page, text string) {
	if p.Grid.Sheet != "" {
		text = "sheet " + p.Grid.Sheet + ": " + text
	}
	w.Notes = append(w.Notes, text)
}

func (w *File) yearOf(p *Page) int {
	texts := append([]string{p.Grid.Sheet}, p.Layout.Titles...)
	for _, text := range append(texts, stem(w.Name)) {
		if len(text) > 100 {
			continue
		}
		if y, ok := parse.YearIn(text); ok {
			return y
		}
	}
	return 0
}

// renamed applies the headings that flock.toml explains.
func (w *File) renamed(t *layout.Table) {
	for i := range t.Columns {
		c := &t.Columns[i]
		if f, ok := w.set.Columns[c.Text]; ok && c.Text != "" {
			c.Rename(parse.Field(f))
		}
	}
}

// topic decides what the values under dates are: what the heading's corner, the titles and the sheet's name
// speak of, else weights where all numbers could only be weights.
func (w *File) topic(p *Page, t *layout.Table) {
	open := false
	for i := range t.Columns {
		open = open || t.Columns[i].When != nil && t.Columns[i].Means.Field == ""
	}
	if !open {
		return
	}
	texts := []string{}
	for i := range t.Columns {
		if c := &t.Columns[i]; c.When == nil && c.Fate == layout.Key {
			texts = append(texts, c.Text)
		}
	}
	texts = append(texts, t.Title, p.Grid.Sheet)
	texts = append(texts, p.Layout.Titles...)
	texts = append(texts, stem(w.Name))
	means, from := layout.Topic(texts...)
	if means.Field == "" {
		var cells []parse.Cell
		for i := range t.Columns {
			if c := &t.Columns[i]; c.When != nil && c.Means.Field == "" {
				for _, l := range t.Lines[:min(len(t.Lines), 200)] {
					cells = append(cells, t.View.Stored(l, c.Field))
				}
			}
		}
		unit := unitIn(texts...)
		if e := parse.ColumnUnit(cells); unit != "" || e.Unit != "" || len(e.Fits) > 0 {
			means = parse.Meaning{Field: parse.FieldWeight, Unit: unit, Confidence: 0.7}
			w.Note(p, "the values under dates are read as weights: "+reason(e, unit))
		}
	} else {
		w.Note(p, fmt.Sprintf("the values under dates are read as %s: %q", means.Field, parse.Shown(from)))
	}
	if means.Field == parse.FieldWeight && means.Unit == "" {
		means.Unit = unitIn(texts...)
	}
	for i := range t.Columns {
		if c := &t.Columns[i]; c.When != nil && c.Means.Field == "" {
			c.Means = means
			if means.Field == "" {
				c.Fate = layout.Other
			}
		}
	}
}

func reason(e parse.UnitEvidence, unit string) string {
	if unit != "" {
		return "their unit is stated as " + unit
	}
	if e.Reason != "" {
		return e.Reason
	}
	return "all are possible weights"
}

// unitIn is the first unit of weight that one of the texts states.
func unitIn(texts ...string) string {
	for _, t := range texts {
		if u := parse.UnitIn(t); u != "" {
			return u
		}
	}
	return ""
}

// answer looks for an answer given to an earlier run.
func (w *File) answer(key string) (string, bool) { return w.replies.Column(key) }

func stem(name string) string { return strings.TrimSuffix(name, filepath.Ext(name)) }

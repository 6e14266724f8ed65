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
	"strconv"
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
	Notes []string          // what was decided, with its evidence
	Asked []record.Question // decisions that the keeper is to confirm

	set     record.Settings
	replies *ask.Replies
	today   record.Day
	mark    string // decimal mark
	orders  orders
	serials map[*layout.Table]bool // whose dates are plain numbers
	pools   map[poolKey]*Pool
	kin     map[kinKey][]*Pool
}

// Page is one sheet of the file.
type Page struct {
	Grid   *sheet.Grid
	Layout *layout.Sheet
	Year   int              // that its name, titles or the file's name carry; 0 none
	Month  record.Date      // that its name, title or the file's name is; unknown otherwise
	Values *record.Question // where nothing says what stands below the dates
	Doubt  *record.Question // where another layout fits about as well; until it is answered its records are marked
}

// Weigh finds the layouts of a book and weighs the evidence of all its sheets. Later days than today count as
// slips; 0 for no check.
func Weigh(b *sheet.Book, set record.Settings, replies *ask.Replies, today record.Day) *File {
	w := &File{Name: b.File, set: set, replies: replies, today: today}
	for i := range b.Grids {
		g := &b.Grids[i]
		way, answered := w.answer(w.layoutKey(g.Sheet))
		p := &Page{Grid: g, Layout: layout.Read(g, layout.Way(way))}
		if p.Layout.Doubt != "" && !answered {
			p.Doubt = w.layoutQuestion(g)
		}
		w.Pages = append(w.Pages, p)
	}
	w.gather()
	return w
}

func (w *File) layoutKey(sheet string) string {
	return ask.ColumnKey("layout_doubtful", w.Name, sheet)
}

func (w *File) layoutQuestion(g *sheet.Grid) *record.Question {
	at := record.Ref{File: g.File, Sheet: g.Sheet}
	return &record.Question{Class: "layout_doubtful", At: at, Key: w.layoutKey(g.Sheet),
		Message:  fmt.Sprintf("%s: read with one record a column, but it reads nearly as well with one a row; which is it?", at),
		Readings: []record.Reading{{Label: "one record a row", Value: string(layout.ByRows)}, {Label: "one record a column", Value: string(layout.ByColumns)}}}
}

// evidenceLimit is how many distinct texts of a column are weighed as evidence.
const evidenceLimit = 20_000

// gather weighs the evidence of the whole file: meaning of columns, decimal mark, order of dates, units.
func (w *File) gather() {
	w.pools, w.kin, w.serials = map[poolKey]*Pool{}, map[kinKey][]*Pool{}, map[*layout.Table]bool{}
	for _, p := range w.Pages {
		p.Year = w.yearOf(p)
		p.Month = w.monthOf(p)
		for _, n := range p.Layout.Notes {
			w.Note(p, n)
		}
		for _, t := range p.Layout.Tables {
			w.renamed(t)
			if p.Month.Known() {
				daysOfMonth(t)
			}
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

// place is a cell as the notes of its own file name it: "sheet Log, G2".
func place(r record.Ref) string {
	r.File = ""
	return strings.TrimPrefix(r.String(), ", ")
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

// monthOf is the month that a sheet's name, a title or the file's name is: "April 2025".
func (w *File) monthOf(p *Page) record.Date {
	texts := append([]string{p.Grid.Sheet}, p.Layout.Titles...)
	for _, text := range append(texts, stem(w.Name)) {
		if len(text) > 40 {
			continue
		}
		when, problem := parse.Date(parse.T(text), parse.DateIn{Year: p.Year})
		if problem != nil && problem.Class == parse.DateDayMissing && len(problem.Readings) == 1 { // "March" in "weights 2025"
			when, _ = parse.Date(parse.T(problem.Readings[0].Value), parse.DateIn{Year: p.Year})
		}
		if when.On.Precision == record.ToMonth {
			return when.On
		}
	}
	return record.Date{}
}

// daysOfMonth takes the numbers 1 to 31 for days where a sheet is about one month: down a column headed "Day", or
// over the values.
func daysOfMonth(t *layout.Table) {
	day := func(text string) bool {
		n, err := strconv.Atoi(strings.TrimSpace(text))
		return err == nil && n >= 1 && n <= 31
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.When != nil && c.When.Means.Field == parse.FieldAge && c.When.Means.Unit == "" && day(c.When.Cell.Text) {
			c.When.Means.Field = parse.FieldDate
		}
		if c.Means.Field != parse.FieldAge || t.Column(parse.FieldDate) != nil || !parse.DayHeading(c.Text) {
			continue
		}
		all := true
		for _, l := range t.Lines {
			all = all && (t.View.Blank(l, c.Field) || day(t.View.Cell(l, c.Field).Raw))
		}
		if all {
			c.Means, c.Fate = parse.Meaning{Field: parse.FieldDate, Confidence: 0.7}, layout.Key
		}
	}
}

// renamed applies the headings that flock.toml explains.
func (w *File) renamed(t *layout.Table) {
	for i := range t.Columns {
		c := &t.Columns[i]
		if f, ok := w.set.Columns[c.Text]; ok && c.Text != "" {
			c.Rename(parse.Field(f))
		} else if a, ok := w.answer(ask.ColumnKey("column_unknown", w.Name, c.Text)); ok && c.Text != "" && (c.Fate == layout.Other || c.Fate == layout.Derived) {
			c.Rename(parse.Field(a))
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
		if c := &t.Columns[i]; c.When == nil && (c.Fate == layout.Key || c.Fate == layout.Value && empty(t, c)) {
			texts = append(texts, c.Text)
		}
	}
	texts = append(texts, t.Title, p.Grid.Sheet)
	texts = append(texts, p.Layout.Titles...)
	texts = append(texts, stem(w.Name))
	means, from := layout.Topic(texts...)
	key := ask.ColumnKey("values_unknown", w.Name, p.Grid.Sheet)
	if a, ok := w.answer(key); ok {
		means, from = parse.Meaning{Field: parse.Field(a), Confidence: 1}, ""
	}
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
		if e := parse.ColumnUnit(cells); unit != "" || e.Unit != "" || len(e.Fits) > 0 && !scores(cells) {
			means = parse.Meaning{Field: parse.FieldWeight, Unit: unit, Confidence: 0.7}
			if !e.Stated && unit == "" {
				w.Note(p, "the values under dates are read as weights: "+reason(e))
			}
		}
	} else if from == stem(w.Name) {
		w.Note(p, fmt.Sprintf("the values under dates are read as %s, as the file's name says", means.Field))
	}
	if means.Field == parse.FieldWeight && means.Unit == "" {
		means.Unit = unitIn(texts...)
	}
	for i := range t.Columns {
		if c := &t.Columns[i]; c.When != nil && c.Means.Field == "" {
			if c.Means = means; means.Field != "" {
				continue
			}
			c.Fate = layout.Other
			if p.Values == nil {
				p.Values = &record.Question{Class: "values_unknown", At: c.When.At, Raw: c.When.Cell.Text, Key: key,
					Message: fmt.Sprintf("%s: nothing says what stands below this date; what is it?", c.When.At)}
				for _, f := range ask.UnderDates() {
					p.Values.Readings = append(p.Values.Readings, record.Reading{Label: strings.ReplaceAll(string(f), "_", " "), Value: string(f)})
				}
			} else {
				p.Values.More = append(p.Values.More, c.When.At)
			}
		}
	}
}

// scores reports whether all numbers are whole and ten at most, as scores are and weights are not in any unit.
func scores(cells []parse.Cell) bool {
	n := 0
	for _, c := range cells {
		if text := strings.TrimSpace(c.Text); text != "" && !parse.Missing(text) {
			v, err := strconv.Atoi(text)
			if err != nil || v > 10 {
				return false
			}
			n++
		}
	}
	return n > 0
}

// empty reports whether a column holds nothing but its heading: the title of a sheet that lies on its side.
func empty(t *layout.Table, c *layout.Column) bool {
	for _, l := range t.Lines {
		if !t.View.Blank(l, c.Field) {
			return false
		}
	}
	return true
}

func reason(e parse.UnitEvidence) string {
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

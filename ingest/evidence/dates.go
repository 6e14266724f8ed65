package evidence

import (
	"fmt"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// dateColumn is a run of dates that were written in one habit: a column, or the headings over values.
type dateColumn struct {
	table    *layout.Table
	cells    []parse.Cell
	refs     []record.Ref
	weekdays []string
}

// dateOrder decides day or month first for the file from all its dates: parts above 12, weekdays, and the
// order of rows. Where its columns prove different orders, each table keeps its own.
func (w *File) dateOrder() {
	var proofs []string
	found := map[parse.Order]bool{}
	ambiguous := 0
	for _, c := range w.dateColumns() {
		w.lostFormat(c)
		e := parse.ColumnOrder(c.cells, c.weekdays)
		ambiguous += e.Ambiguous
		if e.Order == "" {
			continue
		}
		if _, ok := w.dates[c.table]; !ok {
			w.dates[c.table] = e.Order
		}
		found[e.Order] = true
		if e.Reason != "" && len(proofs) < 3 {
			at := ""
			if e.At >= 0 && e.At < len(c.refs) {
				at = place(c.refs[e.At]) + ": "
			}
			proofs = append(proofs, at+e.Reason)
		}
	}
	switch {
	case len(found) == 1:
		for o := range found {
			w.order = o
		}
		if ambiguous > 0 {
			w.Notes = append(w.Notes, fmt.Sprintf("dates are read %s: %s", orderWords(w.order), strings.Replace(proofs[0], orderWords(w.order)+": ", "", 1)))
		}
		return
	case len(found) > 1:
		for _, p := range proofs {
			w.Notes = append(w.Notes, "the sheets write dates in different orders: "+p)
		}
		return
	case ambiguous == 0:
		return
	}
	if o := parse.Order(w.set.Dates.Order); o != "" {
		w.order = o
		w.Notes = append(w.Notes, fmt.Sprintf("dates are read %s, as set; the file itself does not prove it", orderWords(o)))
		return
	}
	if a, ok := w.answer(w.OrderKey()); ok {
		w.order = parse.Order(a)
		w.Notes = append(w.Notes, fmt.Sprintf("dates are read %s, as answered", orderWords(w.order)))
	}
}

// lostFormat finds columns of dates that are plain numbers, as an export without formats leaves them. They are
// read, and asked about once.
func (w *File) lostFormat(c dateColumn) {
	at, ok := parse.SerialColumn(c.cells)
	if !ok {
		return
	}
	key := ask.ColumnKey("date_serial_unformatted", w.Name, c.refs[at].Sheet)
	a, answered := w.answer(key)
	if answered && a == "no" {
		return
	}
	if w.serials[c.table] = true; answered {
		return
	}
	in := parse.DateIn{Serials: true}
	for _, p := range w.Pages {
		if p.Grid.Date1904 && p.Grid.Sheet == c.refs[at].Sheet {
			in.Sys = parse.From1904
		}
	}
	when, _ := parse.Date(c.cells[at], in)
	w.Asked = append(w.Asked, record.Question{Class: "date_serial_unformatted", At: c.refs[at], Raw: c.cells[at].Text, Key: key,
		Message:  fmt.Sprintf("%s: the dates of this column have lost their format; %s is read as %s, and the others alike; is that right?", c.refs[at], c.cells[at].Text, when.On),
		Readings: []record.Reading{{Label: "yes, " + when.On.String(), Value: "yes"}, {Label: "no, they are no dates", Value: "no"}}})
}

// HemisphereKey is the key of the question in which half of the world the flock lives: one for all files.
const HemisphereKey = "hemisphere"

// OrderKey is the key of the question whether the file's dates put the day or the month first.
func (w *File) OrderKey() string { return ask.ColumnKey("date_order", w.Name, "dates") }

func orderWords(o parse.Order) string {
	switch o {
	case parse.DMY:
		return "day first"
	case parse.MDY:
		return "month first"
	}
	return "year first"
}

// dateColumns lists the runs of dates of the file. Runs of the same text count once, so that a day's many
// birds are one entry.
func (w *File) dateColumns() []dateColumn {
	var out []dateColumn
	for _, p := range w.Pages {
		for _, t := range p.Layout.Tables {
			var heads dateColumn
			heads.table = t
			weekday := t.Column(parse.FieldWeekday)
			for i := range t.Columns {
				c := &t.Columns[i]
				if c.When != nil && c.When.Means.Field == parse.FieldDate {
					heads.cells, heads.refs = append(heads.cells, c.When.Cell), append(heads.refs, c.When.At)
				}
				if c.Means.Field != parse.FieldDate && c.Means.Field != parse.FieldHatched || c.Fate == layout.Other {
					continue
				}
				col := dateColumn{table: t}
				var last parse.Cell
				for _, l := range t.Lines {
					if t.View.Blank(l, c.Field) || len(col.cells) >= evidenceLimit {
						continue
					}
					cell := t.View.Stored(l, c.Field)
					day := ""
					if weekday != nil && c.Means.Field == parse.FieldDate {
						day = t.View.Cell(l, weekday.Field).Raw
					}
					if cell == last && (len(col.weekdays) == 0 || col.weekdays[len(col.weekdays)-1] == day) {
						continue
					}
					last = cell
					col.cells, col.refs = append(col.cells, cell), append(col.refs, t.View.Ref(l, c.Field))
					col.weekdays = append(col.weekdays, day)
				}
				if weekday == nil || c.Means.Field != parse.FieldDate {
					col.weekdays = nil
				}
				out = append(out, col)
			}
			if len(heads.cells) > 0 {
				out = append(out, heads)
			}
			var facts dateColumn
			facts.table = t
			for i := range t.Fixed {
				if f := t.Fixed[i].Means.Field; f == parse.FieldDate || f == parse.FieldHatched {
					facts.cells, facts.refs = append(facts.cells, t.Fixed[i].Cell), append(facts.refs, t.Fixed[i].At)
				}
			}
			if len(facts.cells) > 0 {
				out = append(out, facts)
			}
		}
	}
	return out
}

// DateIn is how the dates of a table are read.
func (w *File) DateIn(p *Page, t *layout.Table) parse.DateIn {
	in := parse.DateIn{Order: w.order, Year: p.Year, Month: p.Month, Hemisphere: w.set.Flock.Hemisphere, Latest: w.today}
	if a, ok := w.answer(HemisphereKey); ok && in.Hemisphere == "" {
		in.Hemisphere = a
	}
	if o, ok := w.dates[t]; ok {
		in.Order = o
	}
	in.Serials = w.serials[t]
	if p.Grid.Date1904 {
		in.Sys = parse.From1904
	}
	return in
}

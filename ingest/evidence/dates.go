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

// orders is what is decided of the order of a file's dates.
type orders struct {
	file     parse.Order // where the proofs of the file agree, or as set or answered
	proof    string      // where that is proven: the step of dates that it settles elsewhere
	split    bool        // its tables prove different orders: the others are asked about one by one
	of       map[*layout.Table]parse.Order
	contrary map[*layout.Table]string // why a table has no order although some of its cells prove one
}

// dateOrder decides day or month first for the file from all its dates: parts above 12, weekdays, and the
// order of rows. Where its tables prove different orders, each keeps its own, and those that prove none are asked
// about; so is a table whose own dates contradict each other.
func (w *File) dateOrder() {
	w.orders = orders{of: map[*layout.Table]parse.Order{}, contrary: map[*layout.Table]string{}}
	o := &w.orders
	var proofs []string
	firstProof := map[*layout.Table]string{}
	found := map[parse.Order]bool{}
	ambiguous := 0
	for _, c := range w.dateColumns() {
		w.lostFormat(c)
		e := parse.ColumnOrder(c.cells, c.weekdays)
		ambiguous += e.Ambiguous
		if e.Order == "" {
			if len(e.Rivals) > 0 {
				var at []string
				for _, i := range e.Rivals {
					at = append(at, place(c.refs[i]))
				}
				o.contrary[c.table] = e.Reason + " (" + strings.Join(at, ", ") + ")"
			}
			continue
		}
		at := ""
		if e.At >= 0 && e.At < len(c.refs) {
			at = place(c.refs[e.At]) + ": "
		}
		switch before, ok := o.of[c.table]; {
		case !ok:
			o.of[c.table], firstProof[c.table] = e.Order, at+e.Reason
		case before != e.Order:
			o.contrary[c.table] = "the dates contradict each other: " + firstProof[c.table] + "; but " + at + e.Reason
		}
		if found[e.Order] = true; e.Reason != "" && len(proofs) < 3 {
			proofs = append(proofs, at+e.Reason)
		}
	}
	for t := range o.contrary {
		delete(o.of, t)
	}
	set := parse.Order(w.set.Dates.Order)
	for _, p := range w.Pages {
		for _, t := range p.Layout.Tables {
			if o.contrary[t] == "" && len(found) < 2 || o.of[t] != "" {
				continue
			}
			a, answered := w.answer(w.sheetOrderKey(p))
			if !answered {
				a = string(set)
			}
			if a != "" {
				o.of[t] = parse.Order(a)
				delete(o.contrary, t)
			}
		}
	}
	switch {
	case len(found) == 1:
		for one := range found {
			o.file = one
		}
		if ambiguous > 0 && len(proofs) > 0 {
			w.Notes = append(w.Notes, fmt.Sprintf("dates are read %s: %s", orderWords(o.file), strings.Replace(proofs[0], orderWords(o.file)+": ", "", 1)))
			o.proof = "read " + orderWords(o.file) + " as elsewhere in the file: " + strings.Replace(proofs[0], orderWords(o.file)+": ", "", 1)
		}
		return
	case len(found) > 1:
		o.split = true
		for _, p := range proofs {
			w.Notes = append(w.Notes, "the sheets write dates in different orders: "+p)
		}
		for _, p := range w.Pages {
			for _, t := range p.Layout.Tables {
				if o.of[t] == "" && o.contrary[t] == "" {
					o.contrary[t] = "other sheets prove different orders: " + strings.Join(proofs, "; but ")
				}
			}
		}
		return
	}
	if set != "" {
		if o.file = set; ambiguous == 0 { // dates without a year may still need it
			return
		}
		w.Notes = append(w.Notes, fmt.Sprintf("dates are read %s, as set; the file itself does not prove it", orderWords(set)))
		return
	}
	if a, ok := w.answer(w.fileOrderKey()); ok {
		o.file = parse.Order(a)
		w.Notes = append(w.Notes, fmt.Sprintf("dates are read %s, as answered", orderWords(o.file)))
	}
}

// Contrary says why a table has no order of dates although some cells of the file prove one; else "".
func (w *File) Contrary(t *layout.Table) string { return w.orders.contrary[t] }

// OrderProof is the step of a date that could be read in two ways and was settled by a proof elsewhere in the file; ""
// where the table itself proves its order, or nothing does.
func (w *File) OrderProof(t *layout.Table) string {
	if w.orders.of[t] != "" || w.orders.contrary[t] != "" {
		return ""
	}
	return w.orders.proof
}

// OrderKey is the key of the question whether a table's dates put the day or the month first: one for the file, or one
// for the sheet where proofs in the file contradict each other.
func (w *File) OrderKey(p *Page, t *layout.Table) string {
	if w.orders.split || w.orders.contrary[t] != "" {
		return w.sheetOrderKey(p)
	}
	return w.fileOrderKey()
}

func (w *File) fileOrderKey() string { return ask.ColumnKey("date_order", w.Name, "dates") }

func (w *File) sheetOrderKey(p *Page) string {
	if p.Grid.Sheet == "" {
		return w.fileOrderKey()
	}
	return ask.ColumnKey("date_order", w.Name, "dates of "+p.Grid.Sheet)
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
	in := parse.DateIn{Order: w.orders.file, Year: p.Year, Month: p.Month, Hemisphere: w.set.Flock.Hemisphere, Latest: w.today}
	if a, ok := w.answer(HemisphereKey); ok && in.Hemisphere == "" {
		in.Hemisphere = a
	}
	if o, ok := w.orders.of[t]; ok {
		in.Order = o
	} else if w.orders.contrary[t] != "" {
		in.Order = ""
	}
	in.Serials = w.serials[t]
	if p.Grid.Date1904 {
		in.Sys = parse.From1904
	}
	return in
}

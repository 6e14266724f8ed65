package reading

import (
	"fmt"
	"slices"
	"time"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// habit is how often a date without a day must be written to be the keeper's way and no omission (common
// practice, no source).
const habit = 3

// withoutDays reports whether nine in ten dates of the table's column name no day: that is the keeper's way, and
// is not told of each.
func (l *lines) withoutDays() bool {
	if l.date == nil || l.t.Shape == layout.Wide {
		return false
	}
	n, coarse := 0, 0
	for _, line := range l.t.Lines {
		if l.v.Blank(line, l.date.Field) {
			continue
		}
		n++
		if d := l.dated(l.v.Stored(line, l.date.Field), ""); d.p != nil && d.p.Class == parse.DateDayMissing {
			coarse++
		}
		if (n-coarse)*10 > len(l.t.Lines) {
			return false
		}
	}
	return coarse >= habit && coarse*10 >= 9*n
}

// monthRun reads a run of months over the values, "Jan | Feb | Mar", in the year that the sheet or its title
// carries, or of weeks. Three in a row are a habit and not an omission: they are read without a question, known
// to the month or week.
func (l *lines) monthRun() {
	type head struct {
		field int
		on    record.Date
	}
	var run []head
	whens := 0
	for i := range l.t.Columns {
		c := &l.t.Columns[i]
		if c.When == nil || c.When.Means.Field != parse.FieldDate {
			continue
		}
		whens++
		if d, ok := l.toMonth(c.When.Cell); ok {
			run = append(run, head{c.Field, d})
		}
	}
	if len(run) < habit || len(run) != whens || slices.ContainsFunc(run, func(h head) bool { return h.on.Precision != run[0].on.Precision }) {
		return
	}
	l.months = map[int]record.Date{}
	for i, h := range run {
		if i > 0 && h.on.Precision == record.ToMonth && h.on.First <= run[i-1].on.First { // a run beyond December
			y, m, _ := h.on.First.Date()
			for ; h.on.First <= run[i-1].on.First && h.on != run[i-1].on; y++ {
				h.on = record.InMonth(y+1, m)
			}
			run[i] = h
		}
		l.months[h.field] = h.on
	}
}

// toMonth reads a heading that names a month, with the sheet's year where it names none.
func (l *lines) toMonth(c parse.Cell) (record.Date, bool) {
	when, p := parse.Date(c, l.in)
	if p != nil && p.Holds() {
		if p.Class != parse.DateDayMissing && p.Class != parse.DateAmbiguous {
			return record.Date{}, false
		}
		for _, r := range p.Readings { // "Apr 24" is a month of 2024 where the sheet has no other year
			w, q := parse.Date(parse.T(r.Value), l.in)
			if y, _, _ := w.On.First.Date(); (q == nil || !q.Holds()) && w.On.Precision == record.ToMonth && (l.in.Year == 0 || l.in.Year == y) {
				return w.On, true
			}
		}
		return record.Date{}, false
	}
	return when.On, when.On.Precision == record.ToMonth || when.On.Precision == record.ToWeek || when.On.Precision == record.ToYear
}

// The order of rows is evidence for a date. A sheet is in order where nine in ten steps from one date to the
// next are; a date out of order is doubted where one slip of the pen explains it.
const (
	orderShare = 0.9
	orderRuns  = 5              // different dates that are needed
	orderSlack = record.Day(45) // days by which a repaired date may still miss its neighbours
)

// outOfOrder looks for dates that break the order of a long table's rows and would not with the year before or
// after, or with day and month exchanged.
func (l *lines) outOfOrder() {
	if l.t.Shape == layout.Wide || l.date == nil || len(l.t.Lines) < orderRuns {
		return
	}
	type run struct {
		on    record.Day
		lines []int
	}
	var runs []run
	for _, n := range l.t.Lines {
		if l.v.Blank(n, l.date.Field) {
			continue
		}
		d := l.dated(l.v.Stored(n, l.date.Field), l.text(l.weekday, n))
		if d.p != nil && d.p.Holds() || !d.when.On.Exact() {
			continue
		}
		if len(runs) > 0 && runs[len(runs)-1].on == d.when.On.First {
			runs[len(runs)-1].lines = append(runs[len(runs)-1].lines, n)
			continue
		}
		runs = append(runs, run{d.when.On.First, []int{n}})
	}
	if len(runs) < orderRuns {
		return
	}
	up := 0
	for i := 1; i < len(runs); i++ {
		if runs[i].on > runs[i-1].on {
			up++
		}
	}
	sign := record.Day(1)
	if down := len(runs) - 1 - up; down > up {
		sign, up = -1, down
	}
	if wrong := len(runs) - 1 - up; wrong > max(1, int((1-orderShare)*float64(len(runs)-1))) {
		return
	}
	for i := 1; i < len(runs); i++ {
		before, d := sign*runs[i-1].on, sign*runs[i].on
		after := max(before, d) + orderSlack
		if i+1 < len(runs) {
			after = sign * runs[i+1].on
		}
		if before > after || before <= d && d <= after {
			continue
		}
		for _, r := range repairs(runs[i].on) {
			if s := sign * r.on; s < before-orderSlack || s > after+orderSlack || l.in.Latest != 0 && r.on > l.in.Latest {
				continue
			}
			at := l.v.Ref(runs[i].lines[0], l.date.Field)
			if l.suspect == nil {
				l.suspect = map[int]record.Question{}
			}
			q := record.Question{Class: "date_out_of_order", At: at, Raw: l.v.Cell(runs[i].lines[0], l.date.Field).Raw,
				Key:      ask.CellKey("date_out_of_order", at),
				Message:  fmt.Sprintf("%s: %s stands between %s and later rows, out of order; is it %s (%s)?", at, runs[i].on, runs[i-1].on, r.on, r.why),
				Readings: []record.Reading{{Label: r.on.String(), Value: r.on.String()}, {Label: "as written", Value: runs[i].on.String()}}}
			for _, n := range runs[i].lines {
				l.suspect[n] = q
			}
			break
		}
	}
}

type repair struct {
	on  record.Day
	why string
}

// repairs lists the dates that one slip turns into a day.
func repairs(d record.Day) []repair {
	y, m, day := d.Date()
	out := []repair{{d.AddMonths(12), "the year before was written"}, {d.AddMonths(-12), "the year after was written"}}
	if day <= 12 && day != int(m) {
		if s, ok := record.DayOf(y, time.Month(day), int(m)); ok {
			out = append(out, repair{s, "day and month exchanged"})
		}
	}
	return slices.Clip(out)
}

// doubtDay asks about a date out of order.
func (l *lines) doubtDay(b *line, q record.Question) {
	if a, ok := l.replies.Cell(q.Key, q.Raw); ok {
		if when, p := parse.Date(parse.T(a), l.in); p == nil {
			b.on = when.On
			return
		}
	}
	at := l.v.Ref(b.n, l.date.Field)
	if at != q.At {
		q.At = at
	}
	b.flock.Ask.Add(q)
	b.held = true
}

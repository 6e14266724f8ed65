package reading

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/identity"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

type dated struct {
	when parse.When
	p    *parse.Problem
}

// line is what one line, or one cell under a date, says beside its value.
type line struct {
	n       int
	flock   *Flock
	on      record.Date
	age     record.Age
	clock   string
	who     *identity.Sighting
	scope   record.Scope
	pen     string
	unit    string
	note    string
	scorer  string
	steps   []string
	held    bool // date or bird is missing or in doubt: no record
	undated bool // only cells with a date of their own: "died 3/4/24"
	flagged bool
	detail  *record.Detail
}

// line reads the values of one line.
func (l *lines) line(n int, groups []layout.Fixed, lastDate, lastBird *int) {
	base := line{n: n, flock: l.flockOf(n)}
	for _, c := range l.besideColumns {
		if !l.v.Blank(n, c.Field) {
			l.mark(l.v.Ref(n, c.Field), record.AsContext)
		}
	}
	l.birdOf(&base, groups, lastBird)
	base.unit, base.scorer = l.text(l.unit, n), l.text(l.scorer, n)
	for _, c := range l.notes {
		base.note = joined(base.note, l.text(c, n))
	}
	for _, g := range groups {
		if g.Means.Field == parse.FieldPen {
			_, base.pen = parse.Scope(g.Cell.Text)
		}
	}
	if pen, step := l.penOf(n); pen != "" {
		if base.pen = pen; step != "" {
			base.steps = append(base.steps, step)
		}
	} else if f := l.t.Fact(parse.FieldPen); f != nil && base.pen == "" {
		base.pen = strings.TrimSpace(f.Cell.Text)
	} else if base.pen == "" && l.pen == nil {
		base.pen = l.sheetPen
	}
	if base.pen != "" && base.who == nil && base.scope == "" {
		if scope, _ := parse.Scope(base.pen); scope == record.WholeFlock {
			base.scope, base.pen = scope, ""
		}
	}
	any := l.anyValue(n) || l.anyNote(n)
	if l.t.Shape != layout.Wide && any {
		if l.dateless(n) {
			base.undated = true
		} else {
			l.dateOf(&base, groups, lastDate)
		}
		if clock := l.text(l.session, n); clock != "" {
			base.clock = clock
		}
		if base.who != nil && !base.undated {
			base.who.See(base.on)
		}
	}
	if (!any || base.undated) && base.who != nil {
		base.who.Register = base.who.Register || l.factsOn(n)
	}
	base.flagged = base.flagged || l.page.Doubt != nil
	if any && l.v.HiddenLine(n) {
		base.flagged = true
		l.hidden(&base)
	}
	if any {
		l.struck(&base)
	}
	l.acquired(&base)
	l.values(&base)
	l.remarks(&base)
	if base.who == nil || len(l.notes) == 0 || l.t.Column(parse.FieldWeight, parse.FieldPoundPart) != nil {
		return
	}
	for _, c := range l.notes {
		m := parse.Heading(c.Text) // a column that only the keeper's answer makes one of notes is not asked about again
		if len(m) > 0 && m[0].Field == parse.FieldNote {
			l.inWords(&base, l.text(c, n), l.v.Ref(n, c.Field))
		}
	}
}

// anyValue reports whether a line holds anything in a column of values.
func (l *lines) anyValue(n int) bool {
	return slices.ContainsFunc(l.valueColumns, func(c *layout.Column) bool { return !l.v.Blank(n, c.Field) })
}

// dateless reports whether a line's values all bring their own date, as the dates of leaving in a register do.
func (l *lines) dateless(n int) bool {
	if l.date != nil && !l.v.Blank(n, l.date.Field) {
		return false
	}
	for _, c := range l.valueColumns {
		if c.When != nil || l.v.Blank(n, c.Field) || c.Means.Field == parse.FieldOut {
			continue
		}
		if c.Means.Field != parse.FieldTreatment && c.Means.Field != parse.FieldMoult {
			return false
		}
		if _, ok := l.dayIn(l.stored(n, c.Field)); !ok {
			return false
		}
	}
	return true
}

// anyNote reports whether a line of a table of looks says anything beside its values.
func (l *lines) anyNote(n int) bool {
	if l.date == nil {
		return false
	}
	for _, c := range l.notes {
		if !l.v.Blank(n, c.Field) && (l.valued() || tellsEvent(l.text(c, n))) {
			return true
		}
	}
	return false
}

// tellsEvent reports whether a remark may tell of something done to a bird or of its leaving, on the day of its line.
func tellsEvent(text string) bool {
	if _, gone := parse.Gone(text); gone {
		return true
	}
	if _, maybe := parse.MayBeGone(text); maybe {
		return true
	}
	_, treated := parse.TreatmentInRemark(text)
	return treated != nil
}

// dayIn reads a cell that holds a date and nothing else.
func (l *lines) dayIn(cell parse.Cell) (record.Date, bool) {
	if cell.Stored == parse.Number || cell.Stored == parse.Text && !strings.ContainsAny(cell.Text, "0123456789") {
		return record.Date{}, false
	}
	d := l.dated(cell, "")
	return d.when.On, d.p == nil && d.when.On.Exact()
}

func (l *lines) factsOn(n int) bool {
	for _, c := range l.facts {
		if c != nil && !l.v.Blank(n, c.Field) {
			return true
		}
	}
	return l.ring != nil && l.name != nil
}

func (l *lines) text(c *layout.Column, n int) string {
	if c == nil {
		return ""
	}
	cell := l.v.Cell(l.from(n, c.Field), c.Field)
	if cell.Kind == sheet.Error {
		return ""
	}
	return strings.TrimSpace(cell.Raw)
}

func (l *lines) flockOf(n int) *Flock {
	if l.flockCol == nil {
		if l.only == nil {
			l.only = l.Flock("")
		}
		return l.only
	}
	return l.Flock(l.text(l.flockCol, n))
}

// dateOf reads the line's date and age.
func (l *lines) dateOf(b *line, groups []layout.Fixed, last *int) {
	var cell parse.Cell
	var at record.Ref
	has := false
	if l.date != nil {
		src := b.n
		if ol, of := l.v.Origin(b.n, l.date.Field); of == l.date.Field {
			src = ol
		}
		if above, ok := l.t.Above[b.n]; l.v.Blank(src, l.date.Field) && ok {
			src = above
		} else if *last >= 0 && parse.Ditto(l.v.Cell(src, l.date.Field).Raw) {
			src = *last
		} else if l.v.Blank(src, l.date.Field) && l.fillDate && *last >= 0 {
			src = *last
		}
		has = !l.v.Blank(src, l.date.Field)
		cell, at = l.v.Stored(src, l.date.Field), l.v.Ref(b.n, l.date.Field)
		if y, ok := l.years[l.v.Ref(src, l.date.Field)]; ok {
			l.years[at] = y
		}
		if has {
			*last = src
			if src != b.n {
				b.steps = append(b.steps, "date filled down from "+l.v.Ref(src, l.date.Field).Cell())
			}
		}
	}
	if !has {
		for _, g := range groups {
			if g.Means.Field == parse.FieldDate {
				cell, at, has = g.Cell, g.At, true
			}
		}
	}
	if f := l.t.Fact(parse.FieldDate); !has && l.date == nil && f != nil {
		cell, at, has = f.Cell, f.At, true
	}
	if l.age != nil && !l.v.Blank(b.n, l.age.Field) {
		l.ageOf(b, l.v.Stored(b.n, l.age.Field), l.v.Ref(b.n, l.age.Field), l.poolOf(l.age))
		if !has && l.date == nil {
			return
		}
	} else if f := l.t.Fact(parse.FieldAge); f != nil && !has && l.date == nil {
		l.ageOf(b, f.Cell, f.At, nil)
		return
	}
	if has {
		l.day(b, cell, at, l.text(l.weekday, b.n))
		if l.weekly && b.on.Exact() {
			b.on = record.WeekFrom(b.on.First)
		}
		if q, ok := l.suspect[b.n]; ok && !b.held {
			l.doubtDay(b, q)
		}
		return
	}
	if b.age.Known() {
		return
	}
	if l.date == nil && l.over.cell.Text != "" {
		b.steps = append(b.steps, "from "+l.over.from)
		if l.over.age {
			l.ageOf(b, l.over.cell, l.over.at, nil)
		} else {
			l.day(b, l.over.cell, l.over.at, "")
		}
		return
	}
	b.held = true
	q := record.Question{Class: string(parse.DateMissing), At: at}
	if l.date == nil {
		q.At = l.v.Ref(b.n, l.t.Fields[0])
		q.Key = ask.ColumnKey(q.Class, l.Name, l.page.Grid.Sheet)
		q.Message = fmt.Sprintf("%s: no column says when this was written down; add a column of dates, or say the day", q.At)
		if a, ok := l.answer(q.Key); ok {
			b.held = false
			l.day(b, parse.T(a), q.At, "")
			return
		}
	} else {
		q.Message = fmt.Sprintf("%s: the date is missing; when was it?", q.At)
		if a, ok := l.replies.Cell(ask.CellKey(q.Class, q.At), ""); ok {
			b.held = a == ""
			if a != "" {
				l.day(b, parse.T(a), q.At, "")
			}
			return
		}
	}
	b.flock.Ask.Add(q)
}

// day reads a date into a line.
func (l *lines) day(b *line, cell parse.Cell, at record.Ref, weekday string) {
	d := l.dated(cell, weekday)
	if d.p != nil {
		if y, ok := l.years[at]; ok && d.p.Class == parse.DateYearMissing {
			in := l.in
			in.Year, in.Weekday = y.year, weekday
			d.when, d.p = parse.Date(cell, in)
			d.when.Steps = []string{y.why}
		}
	}
	if d.p != nil {
		d = l.dateProblem(b, d, cell, at)
	}
	b.on, b.clock = d.when.On, d.when.Clock
	b.steps = append(b.steps, d.when.Steps...)
}

// dated reads a date, once for each text.
func (l *lines) dated(cell parse.Cell, weekday string) dated {
	key := dateKey{cell, weekday}
	if l.last.ok && l.last.key == key { // a day's birds stand below each other
		return l.last.dated
	}
	d, ok := l.dates[key]
	if !ok {
		in := l.in
		in.Weekday = weekday
		d.when, d.p = parse.Date(cell, in)
		if proof := l.OrderProof(l.t); proof != "" && d.p == nil {
			in.Order = ""
			if _, p := parse.Date(cell, in); p != nil && p.Class == parse.DateAmbiguous {
				d.when.Steps = append(slices.Clone(d.when.Steps), proof)
			}
		}
		l.dates[key] = d
	}
	l.last.key, l.last.dated, l.last.ok = key, d, true
	return d
}

// dateProblem asks about a date, or reads the keeper's answer.
func (l *lines) dateProblem(b *line, d dated, cell parse.Cell, at record.Ref) dated {
	if l.coarse && d.p.Class == parse.DateDayMissing {
		d.p = nil
		return d
	}
	q := ask.Problem(d.p, at, cell.Text)
	if a, ok := l.answer(ask.ColumnKey("date_serial_unformatted", l.Name, at.Sheet)); ok && a == "no" && d.p.Class == "date_serial_unformatted" {
		q.Class, q.Readings = string(parse.DateMissing), nil
		q.Message = fmt.Sprintf("%s: %q is no date, as you have said; when was it?", at, parse.Shown(cell.Text))
	}
	if d.p.Class == parse.DateAmbiguous {
		q.Key = l.dateKeyOf(d.p, cell.Text)
		if a, ok := l.answer(q.Key); ok {
			if when, p := parse.Date(parse.T(a), l.in); p == nil || !p.Holds() {
				when.Steps = append(when.Steps, fmt.Sprintf("%q answered as %s", parse.Shown(cell.Text), a))
				return dated{when: when}
			}
		}
		if why := l.Contrary(l.t); why != "" {
			q.Message = strings.Replace(q.Message, ", and nothing in the sheet proves which", ", and "+why, 1)
		}
	} else if d.p.Class == parse.SeasonAmbiguous {
		q.Key = evidence.HemisphereKey
	} else if d.p.Class == parse.DateYearMissing {
		l.yearQuestion(&q, cell, "")
	} else if a, ok := l.replies.Cell(ask.CellKey(q.Class, at), cell.Text); ok {
		if a == "" { // the keeper knows no day: what the line holds stays out
			b.held = true
			return dated{}
		}
		if when, p := parse.Date(parse.T(a), l.in); p == nil || !p.Holds() {
			when.Steps = append(when.Steps, fmt.Sprintf("%q answered as %s", parse.Shown(cell.Text), a))
			return dated{when: when}
		}
	}
	b.flock.Ask.Add(q)
	if d.p.Holds() {
		b.held = true
		return dated{}
	}
	b.flagged = true
	return d
}

// ageOf reads an age into a line.
func (l *lines) ageOf(b *line, cell parse.Cell, at record.Ref, k *evidence.Pool) {
	a, ok := l.ages[cell]
	unit := l.set.Units.Age
	if k != nil {
		unit = k.AgeUnit
	}
	if !ok {
		a.age, a.p = parse.Age(cell, unit)
		l.ages[cell] = a
	}
	if a.p != nil {
		q := ask.Problem(a.p, at, cell.Text)
		if unit == "" && k != nil && a.p.Holds() {
			q.Class, q.Key = "age_unit_unknown", k.Key
			q.Message = fmt.Sprintf("%s: %q is an age without a unit; are the ages under %q in days or in weeks?", at, cell.Text, k.Heading)
			q.Readings = []record.Reading{{Label: "days", Value: "d"}, {Label: "weeks", Value: "w"}}
		}
		if a.p.Action != parse.Skip {
			if a.p.Holds() {
				b.flock.Ask.Add(q)
				b.held = true
				return
			}
			b.steps = append(b.steps, a.p.Message)
		}
	}
	b.age = a.age
}

// struck tells that a line is struck through: withdrawn, or the bird is gone.
func (l *lines) struck(b *line) {
	for f := l.t.Fields[0]; f <= l.t.Fields[1]; f++ {
		c := l.v.Cell(b.n, f)
		if !c.Struck {
			continue
		}
		q := record.Question{Class: "struck_out", At: l.v.Ref(b.n, f), Raw: c.Raw,
			Readings: []record.Reading{{Label: "it counts", Value: "yes"}, {Label: "leave it out", Value: "no"}}}
		q.Message = fmt.Sprintf("%s: %q is struck through; does its row count?", q.At, parse.Shown(c.Raw))
		a, ok := l.replies.Cell(ask.CellKey(q.Class, q.At), q.Raw)
		if !ok {
			b.flagged = true
			b.flock.Ask.Add(q)
		}
		b.held = b.held || ok && a == "no"
		return
	}
}

// hiddenColumn tells that a column of values is hidden, once for the column. It returns whether its values are
// to be marked, and whether they are to be left out.
func (l *lines) hiddenColumn(b *line, c *layout.Column) (flagged, held bool) {
	if !l.v.HiddenField(c.Field) {
		return false, false
	}
	at := l.v.Ref(b.n, c.Field)
	if len(c.Head) > 0 {
		at = c.Head[0]
	}
	q := record.Question{Class: "hidden_column", At: at, Raw: c.Heading(), Key: ask.ColumnKey("hidden_column", l.Name, c.Heading()),
		Message:  fmt.Sprintf("%s: you have hidden the column %q; does it count?", at, c.Heading()),
		Readings: []record.Reading{{Label: "it counts", Value: "yes"}, {Label: "leave it out", Value: "no"}}}
	if a, ok := l.answer(q.Key); ok {
		return false, a == "no"
	}
	b.flock.Ask.Add(q)
	return true, false
}

// hidden tells that a line is hidden by the keeper.
func (l *lines) hidden(b *line) {
	q := record.Question{Class: "hidden_row", At: l.v.Ref(b.n, l.firstValue(b.n)), Raw: "hidden"}
	q.Message = fmt.Sprintf("%s: you have hidden this row; does it count?", q.At)
	if l.page.Grid.Hidden {
		q.Class, q.Key = "hidden_sheet", ask.ColumnKey("hidden_sheet", l.Name, l.page.Grid.Sheet)
		q.Message = fmt.Sprintf("%s, sheet %s: you have hidden this sheet; does it count?", l.Name, l.page.Grid.Sheet)
	}
	q.Readings = []record.Reading{{Label: "it counts", Value: "yes"}, {Label: "leave it out", Value: "no"}}
	a, ok := "", false
	if q.Key != "" {
		a, ok = l.answer(q.Key)
	} else {
		a, ok = l.replies.Cell(ask.CellKey(q.Class, q.At), q.Raw)
	}
	if ok {
		b.flagged, b.held = false, b.held || a == "no"
		return
	}
	b.flock.Ask.Add(q)
}

func (l *lines) firstValue(n int) int {
	for _, c := range l.valueColumns {
		if !l.v.Blank(n, c.Field) {
			return c.Field
		}
	}
	return l.t.Fields[0]
}

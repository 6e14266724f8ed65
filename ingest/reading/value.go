package reading

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// values reads the cells of values of a line.
func (l *lines) values(b *line) {
	var eggs *record.Event
	for _, c := range l.valueColumns {
		if l.v.Blank(b.n, c.Field) {
			continue
		}
		at := l.v.Ref(b.n, c.Field)
		if c.When == nil && l.t.Shape != layout.Wide && c.Weekday == "" && c.Who == nil && measured(c.Means.Field) && !l.v.HiddenField(c.Field) {
			l.look(b, c, at)
			continue
		}
		here := *b
		if c.When != nil {
			here = l.under(b, c)
		}
		if c.Weekday != "" {
			l.onWeekday(&here, c)
		}
		if c.Who != nil {
			l.of(&here, c)
		}
		if l.t.Shape == layout.Wide && c.When == nil && measured(c.Means.Field) && !here.on.Known() && !here.age.Known() && !here.held {
			l.dayOfColumn(&here, c, at)
		}
		if flagged, held := l.hiddenColumn(b, c); flagged || held {
			here.flagged, here.held = true, here.held || held
		}
		switch c.Means.Field {
		case parse.FieldTreatment:
			l.treatment(&here, c, at)
		case parse.FieldResult:
			l.shown(&here, c, at)
		case parse.FieldOut:
			l.out(&here, c, at)
		case parse.FieldMoved:
			l.moved(&here, c, at)
		case parse.FieldMoult:
			l.moult(&here, c, at)
			if note := l.moulting(c, b.n); note != "" {
				b.note, b.detail = joined(b.note, note), nil
			}
		case parse.FieldEggsSet, parse.FieldClear, parse.FieldFertile, parse.FieldDeadEarly, parse.FieldDeadShell, parse.FieldHatchedNo:
			eggs = l.eggs(&here, c, at, eggs)
		case parse.FieldPoundPart:
			l.pounds(&here, c, at)
		case parse.FieldOuncePart:
			if l.ledger.At(at.Row, at.Col) == record.Blank { // not yet read with its pounds
				l.look(&here, c, at)
			}
		default:
			l.look(&here, c, at)
		}
	}
	if eggs != nil && !b.held {
		b.flock.Happenings = append(b.flock.Happenings, Happening{Event: *eggs, Who: b.who})
	}
}

// dayOfColumn finds the day of a column that has none over it among others that do, "Start wt" beside "Wt 18/10/25": a
// column of dates says it, else it is asked once.
func (l *lines) dayOfColumn(here *line, c *layout.Column, at record.Ref) {
	if l.date != nil && !l.v.Blank(here.n, l.date.Field) || l.age != nil && !l.v.Blank(here.n, l.age.Field) || l.t.Fact(parse.FieldDate) != nil {
		last := -1
		l.dateOf(here, nil, &last)
		return
	}
	q := record.Question{Class: string(parse.DateMissing), At: at, Raw: c.Text, Key: ask.ColumnKey(string(parse.DateMissing), l.Name, l.page.Grid.Sheet+" "+c.Heading())}
	q.Message = fmt.Sprintf("%s: nothing says when what stands under %q was seen; when was it?", at, parse.Shown(c.Heading()))
	if a, ok := l.answer(q.Key); ok {
		if a != "" {
			l.day(here, parse.T(a), at, "")
		}
		here.held = here.held || a == ""
		return
	}
	here.held = true
	here.flock.Ask.Add(q)
}

// measured reports whether a column's cells are looks that stand for themselves.
func measured(f parse.Field) bool {
	switch f {
	case parse.FieldWeight, parse.FieldCondition, parse.FieldFeather, parse.FieldLeg, parse.FieldComb, parse.FieldParasite, parse.FieldWormEggs, parse.FieldEggCount:
		return true
	}
	return false
}

// under is the line as it stands under a date or age of the heading.
func (l *lines) under(b *line, c *layout.Column) line {
	here := *b
	here.steps = slices.Clone(b.steps)
	held := here.held
	if c.When.Means.Field == parse.FieldAge {
		l.ageOf(&here, c.When.Cell, c.When.At, l.HeadAges(l.page, c))
	} else if m, ok := l.months[c.Field]; ok {
		here.on = m
	} else {
		l.day(&here, c.When.Cell, c.When.At, "")
		if l.weekly && here.on.Exact() {
			here.on = record.WeekFrom(here.on.First)
		}
	}
	if here.who != nil && !parse.Missing(l.text(c, b.n)) {
		here.who.See(here.on)
	}
	if here.held && !held { // what is asked of the heading holds this cell
		b.flock.Ask.Also(c.When.At, l.v.Ref(b.n, c.Field))
	}
	return here
}

// onWeekday is the line as it stands under a day of its week.
func (l *lines) onWeekday(here *line, c *layout.Column) {
	day, ok := parse.Weekday(c.Weekday)
	if !ok || !here.on.Exact() && here.on.Precision != record.ToWeek {
		return
	}
	first := here.on.First
	here.on = record.On(first + record.Day((int(day)-int(first.Weekday())+7)%7))
}

// of is the line as it stands under a bird of the heading.
func (l *lines) of(here *line, c *layout.Column) {
	who, at := named{name: parse.Name(c.Who.Cell.Text)}, [2]record.Ref{c.Who.At, c.Who.At}
	if strings.ContainsAny(who.name, "0123456789") {
		who = named{ring: who.name}
	}
	here.who = l.sighting(here.flock, who, at)
	here.detail = nil
	if !parse.Missing(l.text(c, here.n)) {
		here.who.See(here.on)
	}
}

// look reads a cell that measures or judges.
func (l *lines) look(b *line, c *layout.Column, at record.Ref) {
	if l.same == nil && l.pairs == nil && len(l.v.Cell(b.n, c.Field).Raw) < 8 { // the common cell
		l.lookIn(b, c, l.poolOf(c), at, l.v.Stored(b.n, c.Field))
		return
	}
	cell := l.stored(b.n, c.Field)
	if c.Means.Field == parse.FieldParasite {
		if parts := parse.Findings(cell, l.poolOf(c).Finding); parts != nil {
			if l.splits(b, c, at, cell) {
				for _, part := range parts {
					l.lookAt(b, c, at, part)
				}
			}
			return
		}
	}
	if with := l.pairs[c.Field]; with != nil {
		l.pair(b, c, with, at, cell)
		return
	}
	l.lookAt(b, c, at, cell)
}

// splits decides whether a cell that tells of two parasites is two looks: its heading names them too, or the keeper says
// so. Else it is asked.
func (l *lines) splits(b *line, c *layout.Column, at record.Ref, cell parse.Cell) bool {
	kinds := map[string]bool{}
	for part := range strings.FieldsFuncSeq(c.Text, func(r rune) bool { return strings.ContainsRune("/,&+ ", r) }) {
		if kind := parse.Parasite(part); kind != "" {
			kinds[kind] = true
		}
	}
	if len(kinds) > 1 {
		return true
	}
	q := record.Question{Class: string(parse.NoteInNumber), At: at, Raw: cell.Text,
		Message:  fmt.Sprintf("%s: %q tells of more than one parasite; is each a finding of its own?", at, parse.Shown(cell.Text)),
		Readings: []record.Reading{{Label: "yes, each its own finding", Value: "split"}, {Label: "leave it empty", Value: ""}}}
	a, ok := l.replies.Cell(ask.CellKey(q.Class, at), cell.Text)
	switch {
	case !ok:
		b.flock.Ask.Add(q)
		l.mark(at, record.AsQuestion)
	case a == "":
		l.mark(at, record.AsContext)
	}
	return ok && a != ""
}

// pair reads a cell that holds two values, as its heading says: "850/2" under "Wt/BCS". A cell without a mark between
// holds the first only.
func (l *lines) pair(b *line, c *layout.Column, with *pairedWith, at record.Ref, cell parse.Cell) {
	first, second, two := strings.Cut(cell.Text, with.mark)
	if !two || cell.Stored != parse.Text || strings.Contains(second, with.mark) {
		l.lookAt(b, c, at, cell)
		return
	}
	if text := strings.TrimSpace(first); !parse.Missing(text) {
		l.lookAt(b, c, at, parse.T(text))
	}
	if text := strings.TrimSpace(second); !parse.Missing(text) {
		l.lookIn(b, &with.column, with.pool, at, parse.T(text))
	}
}

// pairedWith is the second of two values that stand in the cells of one column.
type pairedWith struct {
	mark   string
	column layout.Column
	pool   *evidence.Pool
}

// paired finds the columns whose headings name two values, a weight and a score: "Wt/BCS", "Weight / condition".
func (l *lines) paired() {
	for i := range l.t.Columns {
		c := &l.t.Columns[i]
		if c.Means.Field != parse.FieldWeight || c.When != nil || c.Who != nil {
			continue
		}
		for _, mark := range []string{"/", "+", "&", ","} {
			first, second, ok := strings.Cut(c.Text, mark)
			a, z := parse.Heading(first), parse.Heading(second)
			if !ok || len(a) == 0 || len(z) == 0 || a[0].Field != parse.FieldWeight || z[0].Confidence < 0.8 || z[0].Field != parse.FieldCondition && z[0].Field != parse.FieldFeather {
				continue
			}
			column := *c
			column.Means, column.Text = z[0], strings.TrimSpace(second)
			pool := &evidence.Pool{Means: z[0], Heading: column.Text, At: l.poolOf(c).At, Score: parse.ScoreIn{Scale: z[0].Scale, Sys: l.in.Sys}}
			if mark != "/" { // "Wt & BCS" over "850/2"
				mark = "/"
			}
			if l.pairs == nil {
				l.pairs = map[int]*pairedWith{}
			}
			l.pairs[c.Field] = &pairedWith{mark, column, pool}
			l.unitOfPairs(c, mark)
			break
		}
	}
}

// unitOfPairs weighs the evidence for the unit of weights that share their cells with a score.
func (l *lines) unitOfPairs(c *layout.Column, mark string) {
	k := l.poolOf(c)
	if k.Weight.Unit != "" {
		return
	}
	var cells []parse.Cell
	for _, n := range l.t.Lines[:min(len(l.t.Lines), 2000)] {
		if first, _, _ := strings.Cut(l.v.Cell(n, c.Field).Raw, mark); strings.TrimSpace(first) != "" {
			cells = append(cells, parse.T(strings.TrimSpace(first)))
		}
	}
	if e := parse.ColumnUnit(cells); e.Unit != "" {
		k.Weight.Unit = e.Unit
		l.Note(l.page, fmt.Sprintf("%q is read in %s: %s", parse.Shown(c.Text), e.Unit, e.Reason))
	}
}

// lookAt reads the text of a cell as its column is read.
func (l *lines) lookAt(b *line, c *layout.Column, at record.Ref, cell parse.Cell) {
	l.lookIn(b, c, l.poolOf(c), at, cell)
}

// lookIn reads a text as one of a pool.
func (l *lines) lookIn(b *line, c *layout.Column, k *evidence.Pool, at record.Ref, cell parse.Cell) {
	if step := l.repeated(b.n, c.Field); step != "" {
		here := *b
		here.steps, here.detail = append(slices.Clone(b.steps), step), nil
		b = &here
	}
	unit := ""
	if c.Means.Field == parse.FieldWeight && c.Means.Unit == "" {
		unit = b.unit
	}
	r := l.result(k, cell, unit)
	if r.p != nil {
		here := *b // what this cell changes holds for it alone
		b = &here
		r = l.settleCell(b, k, r, cell, unit, at)
		if r == nil {
			return
		}
	}
	if b.held {
		l.mark(at, record.AsQuestion)
		return
	}
	scope := b.scope
	house := c.Means.Field == parse.FieldParasite && layout.OffBird(c.Site)
	if house && scope == "" {
		scope = record.WholeFlock
		if b.pen != "" {
			scope = record.WholePen
		}
	}
	if scope == "" && b.who == nil && b.pen != "" && l.ring == nil && l.name == nil && l.bird == nil {
		scope = record.WholePen // a list of pens
	}
	if scope == "" && b.who == nil {
		if l.whole(c) {
			scope = record.WholeFlock
		} else {
			l.birdMissing(b, at)
			return
		}
	}
	if c.Means.Field == parse.FieldWeight && b.who == nil && scope != "" {
		here := *b
		if b = &here; l.ofMany(b, c, at, cell) {
			return
		}
	}
	l.keep(b, c, r, at, cell, scope)
}

// ofMany asks whether a weight beside a pen or the flock is the mean of its birds or all of them on the scale at
// once. It returns true where it is no weight of a bird.
func (l *lines) ofMany(b *line, c *layout.Column, at record.Ref, cell parse.Cell) bool {
	q := record.Question{Class: "weight_of_many", At: at, Raw: cell.Text, Key: ask.ColumnKey("weight_of_many", l.Name, c.Heading()),
		Message:  fmt.Sprintf("%s: %q stands beside a pen or the flock; is it the mean weight of a bird, or all of them together?", at, parse.Shown(cell.Text)),
		Readings: []record.Reading{{Label: "the mean of a bird", Value: "mean"}, {Label: "all together", Value: "together"}}}
	switch a, ok := l.answer(q.Key); {
	case ok && a == "together":
		l.mark(at, record.AsContext)
		return true
	case ok:
		return false
	}
	b.flock.Ask.Add(q)
	b.flagged = true
	return false
}

// whole reports whether a value without a bird is about the house or flock: eggs, findings on perches.
func (l *lines) whole(c *layout.Column) bool {
	return c.Means.Field == parse.FieldEggCount || c.Means.Field == parse.FieldParasite && (l.houseLevel() || l.ring == nil && l.name == nil && l.bird == nil) ||
		c.Means.Field == parse.FieldWormEggs
}

func (l *lines) birdMissing(b *line, at record.Ref) {
	q := l.missingBird(b)
	if _, ok := l.saidBird(q); ok { // leave it out
		l.mark(at, record.AsContext)
		return
	}
	l.mark(at, record.AsQuestion)
	q.Message = fmt.Sprintf("%s: no ring or name stands beside %q; which bird is it?", q.At, l.text(&layout.Column{Field: l.firstValue(b.n)}, b.n))
	if l.ring == nil && l.name == nil && l.bird == nil {
		q.Message = fmt.Sprintf("%s: no ring or name stands on this sheet; if all of it is about one bird, which is it?", q.At)
	}
	b.flock.Ask.Add(q)
}

// keep makes an observation of a reading.
func (l *lines) keep(b *line, c *layout.Column, r *result, at record.Ref, cell parse.Cell, scope record.Scope) {
	// a finding in the house keeps the bird in whose row it stands; its scope says that it is not hers alone
	if b.who != nil {
		b.who.Measured = true
	}
	o := b.flock.look(&r.obs, b.who, l.table)
	o.On, o.Age, o.At, o.Text, o.Flagged = b.on, b.age, at, cell.Text, b.flagged || r.p != nil
	l.mark(at, record.AsRecord)
	site := c.Site
	if o.Trait != record.Parasite {
		site = ""
	}
	detail := b.detail
	if c.Session != "" {
		b.clock = c.Session
	}
	if detail == nil && (b.pen != "" || b.scorer != "" || b.note != "" || b.clock != "" || len(b.steps) > 0 || scope != "") {
		detail = &record.Detail{Pen: b.pen, Scorer: b.scorer, Note: b.note, Session: b.clock, Steps: b.steps, Scope: scope}
	}
	if scope == b.scope {
		b.detail = detail // shared by the cells of the line
	}
	o.More = detail
	switch own := site != "" || r.word != "" || r.note != "" || len(r.steps) > 0; {
	case !own:
	case detail == nil && r.more != nil:
		o.More = r.more
	default:
		d := record.Detail{}
		if detail != nil {
			d = *detail
		}
		d.Scope = scope
		d.Site, d.Word, d.Note = site, r.word, joined(r.note, d.Note)
		d.Steps = append(slices.Clone(d.Steps), r.steps...)
		o.More = l.share(d)
		if detail == nil {
			r.more = o.More // a pool has one site, so this text always carries the same
		}
	}
}

// share returns one detail for all cells that carry the same.
func (l *lines) share(d record.Detail) *record.Detail {
	if len(d.Steps) > 1 || len(d.Also) > 0 {
		return &d
	}
	key := detailKey{d.Pen, d.Session, d.Scorer, d.Note, d.Site, d.Word, strings.Join(d.Steps, "\x00"), d.Scope}
	if s := l.shared[key]; s != nil {
		return s
	}
	l.shared[key] = &d
	return &d
}

type detailKey struct {
	pen, session, scorer, note, site, word, steps string
	scope                                         record.Scope
}

// ouncesOf is the column of ounces that belongs to one of pounds: the next one, under the same bird and day.
func (l *lines) ouncesOf(c *layout.Column) *layout.Column {
	for i := range l.t.Columns {
		o := &l.t.Columns[i]
		if o.Means.Field == parse.FieldOuncePart && o.Fate != layout.Other && o.Field > c.Field {
			if over(o.Who) == over(c.Who) && over(o.When) == over(c.When) {
				return o
			}
			return nil
		}
	}
	for i := range l.t.Columns { // ounces before pounds
		if o := &l.t.Columns[i]; o.Means.Field == parse.FieldOuncePart && o.Fate != layout.Other && over(o.Who) == over(c.Who) && over(o.When) == over(c.When) {
			return o
		}
	}
	return nil
}

// over is the place of what stands over a column.
func over(f *layout.Fixed) record.Ref {
	if f == nil {
		return record.Ref{}
	}
	return f.At
}

// pounds reads a weight that is kept in two columns.
func (l *lines) pounds(b *line, c *layout.Column, at record.Ref) {
	cell := l.stored(b.n, c.Field)
	oz := l.ouncesOf(c)
	if oz != nil && !l.v.Blank(b.n, oz.Field) {
		o := l.v.Cell(b.n, oz.Field)
		cell = parse.T(strings.TrimSpace(cell.Text) + " lb " + strings.TrimSpace(o.Raw) + " oz")
		l.mark(l.v.Ref(b.n, oz.Field), record.AsRecord)
	} else if cell.Stored == parse.Number || cell.Stored == parse.Text && strings.Trim(cell.Text, "0123456789. ") == "" {
		cell = parse.T(strings.TrimSpace(cell.Text) + " lb")
	}
	k := l.poolOf(c)
	r := l.result(k, cell, "")
	if r.p != nil {
		if r = l.settleCell(b, k, r, cell, "", at); r == nil {
			return
		}
	}
	if b.held {
		l.mark(at, record.AsQuestion)
		return
	}
	if b.who == nil {
		l.birdMissing(b, at)
		return
	}
	l.keep(b, c, r, at, cell, b.scope)
}

// joined joins two notes.
func joined(a, b string) string {
	switch {
	case a == "":
		return b
	case b == "" || a == b:
		return a
	}
	return a + "; " + b
}

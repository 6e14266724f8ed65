package reading

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// resultKey is what a cell's reading depends on within its pool.
type resultKey struct {
	cell parse.Cell
	unit string
}

// result is the reading of one text in one pool.
type result struct {
	obs   record.Observation
	note  string
	word  string
	steps []string
	p     *parse.Problem
	more  *record.Detail // what its looks carry where nothing stands beside them
}

// result reads a cell, once for each text of its pool.
func (l *lines) result(k *evidence.Pool, cell parse.Cell, unit string) *result {
	all := l.results[k]
	if all == nil {
		all = &results{plain: parse.NewMemo[*result](), other: map[resultKey]*result{}}
		l.results[k] = all
	}
	if cell == parse.T(cell.Text) && unit == "" {
		r, ok := all.plain.Get(cell.Text)
		if !ok {
			r = l.reading(k, cell, unit)
			all.plain.Put(cell.Text, r)
		}
		return r
	}
	key := resultKey{cell, unit}
	r := all.other[key]
	if r == nil {
		r = l.reading(k, cell, unit)
		all.other[key] = r
	}
	return r
}

// results are the readings of a pool: of plain texts, and of all other cells.
type results struct {
	plain *parse.Memo[*result]
	other map[resultKey]*result
}

func (l *lines) reading(k *evidence.Pool, cell parse.Cell, unit string) *result {
	r := &result{}
	switch k.Means.Field {
	case parse.FieldWeight, parse.FieldOuncePart, parse.FieldPoundPart:
		in := k.Weight
		if u := parse.UnitIn(unit); u != "" {
			in.Unit = u
		}
		m, p := parse.Weight(cell, in)
		r.obs = record.Observation{Trait: record.Weight, Form: m.Form, Value: m.Grams, Lo: m.Lo, Hi: m.Hi}
		r.note, r.steps, r.p = m.Note, m.Steps, p
	case parse.FieldParasite, parse.FieldEggCount, parse.FieldWormEggs:
		var f parse.Found
		if k.Means.Field == parse.FieldParasite {
			f, r.p = parse.Finding(cell, k.Finding)
			r.obs.Trait, r.obs.Parasite = record.Parasite, f.Parasite
		} else {
			f, r.p = parse.Count(cell)
			r.obs.Trait = record.EggCount
			if k.Means.Field == parse.FieldWormEggs {
				r.obs.Trait = record.WormEggs
			}
		}
		r.obs.Form, r.obs.Value, r.obs.Lo, r.obs.Hi, r.obs.Scale = f.Form, f.Value, f.Lo, f.Hi, f.Scale
		r.word, r.note, r.steps = f.Word, f.Note, f.Steps
	default:
		g, p := parse.Score(cell, k.Score)
		r.obs = record.Observation{Trait: record.Trait(k.Means.Field), Value: g.Value, Scale: g.Scale}
		r.word, r.note, r.steps, r.p = g.Word, g.Note, g.Steps, p
		if (p == nil || !p.Holds()) && g.Scale == "" && g.Word == "" {
			l.unscaled[k] = true
		}
	}
	return r
}

// settleCell deals with a cell that does not read plainly: skips it, refuses it, reads the keeper's answer, or
// asks. It returns the reading to keep, or nil.
func (l *lines) settleCell(b *line, k *evidence.Pool, r *result, cell parse.Cell, unit string, at record.Ref) *result {
	p := r.p
	switch p.Action {
	case parse.Skip:
		l.mark(at, record.AsContext)
		return nil
	case parse.Refuse:
		l.mark(at, record.AsReject)
		raw := cell.Text
		b.flock.Rejects = append(b.flock.Rejects, record.Reject{Class: string(p.Class), At: at, Raw: raw, Message: at.String() + ": " + p.Message})
		return nil
	}
	q := ask.Problem(p, at, cell.Text)
	switch p.Class {
	case parse.UnitUnknown:
		q.Key = k.Key
		q.Message = fmt.Sprintf("%s: %q has no unit; in what unit are the weights under %q?", at, parse.Shown(cell.Text), k.Heading)
		group := k.Group(cell)
		if group != "" {
			q.Key += " " + group
			q.Message = fmt.Sprintf("%s: %q has no unit; in what unit are the weights under %q that are %s?", at, parse.Shown(cell.Text), k.Heading, group)
			if a, ok := l.answer(q.Key); ok {
				r := *l.reading(k, cell, a)
				if r.steps = append(slices.Clone(r.steps), "unit "+a+" as answered"); r.p == nil {
					return &r
				}
				if r.p.Class != parse.UnitUnknown {
					return l.settleCell(b, k, &r, cell, a, at)
				}
			}
		}
		q.Readings = k.UnitReadings(group)
	case parse.PoundsAmbiguous:
		if !slices.ContainsFunc(q.Readings, func(r record.Reading) bool { return r.Value == parse.PoundOz }) {
			break // what it offers is of this cell alone
		}
		q.Key = ask.ColumnKey(q.Class, l.Name, k.Heading)
		if a, ok := l.answer(q.Key); ok {
			for _, r := range q.Readings { // as it is offered: "1 lb 7 oz (652 g)"
				if weight, _, _ := strings.Cut(r.Label, " ("); r.Value == a {
					return l.answered(k, weight, cell, unit, at)
				}
			}
		}
	case parse.DashAmbiguous:
		q.Key = ask.ColumnKey(q.Class, l.Name, k.Heading)
	case parse.NoCache: // a whole column of them: one question
		q.Key = ask.ColumnKey(q.Class, l.Name, k.Heading)
		q.Readings = []record.Reading{{Label: "leave them empty", Value: ""}}
		if a, ok := l.answer(q.Key); ok && a == "" {
			l.mark(at, record.AsContext)
			return nil
		}
	case parse.CrossAmbiguous, parse.EggsOnly, parse.AllRight:
		q.Key = ask.ColumnKey(q.Class, l.Name, k.Heading)
		if p.Class == parse.AllRight { // the keeper's word, whatever was looked for
			q.Key = ask.ColumnKey(q.Class, l.Name, l.page.Grid.Sheet)
		}
		if a, ok := l.answer(q.Key); ok {
			return l.answered(k, a, cell, unit, at)
		}
	case parse.DeathMarker, parse.EventMarker:
		l.mark(at, record.AsRecord)
		kind, _ := parse.Gone(cell.Text)
		if kind == "" {
			kind = record.Died
		}
		a, answered := l.replies.Cell(ask.CellKey(q.Class, at), cell.Text)
		if answered && a == "" {
			l.mark(at, record.AsContext)
			return nil
		}
		if !answered {
			p := l.ownDay(b, cell.Text)
			if q.Message = fmt.Sprintf("%s: %q seems to say that the bird %s%s; confirm the day, or leave the cell empty", at, parse.Shown(cell.Text), verb(kind), onDay(b.on)); p != nil {
				q.Message = at.String() + ": " + r.p.Message
			}
			b.flock.Ask.Add(q)
			if p != nil {
				l.askOrder(b, p, at, cell.Text)
				return nil
			}
		} else if when, p := parse.Date(parse.T(a), l.in); p == nil {
			b.on = when.On
		}
		if b.who != nil && !b.held {
			l.event(b, at, record.Event{Kind: kind, Flagged: !answered, Result: reasonFor(kind, cell.Text)})
		}
		return nil
	}
	if a, ok := l.replies.Cell(ask.CellKey(q.Class, at), cell.Text); ok && q.Key == "" {
		if r := l.answered(k, a, cell, unit, at); r != nil || strings.TrimSpace(a) == "" {
			return r
		}
	}
	b.flock.Ask.Add(q)
	if p.Holds() {
		l.mark(at, record.AsQuestion)
		return nil
	}
	return r
}

// answered reads the text that the keeper has given for a cell; nil where that is to be left empty, or does not read.
func (l *lines) answered(k *evidence.Pool, a string, cell parse.Cell, unit string, at record.Ref) *result {
	if strings.TrimSpace(a) == "" {
		l.mark(at, record.AsContext)
		return nil
	}
	r := *l.reading(k, parse.T(a), unit)
	if r.p != nil && r.p.Holds() {
		return nil
	}
	r.p = nil
	r.steps = append(slices.Clone(r.steps), fmt.Sprintf("%q answered as %s", parse.Shown(cell.Text), a))
	return &r
}

// ownDay takes the day that a mark of leaving brings with it: "died 25/4" under a date of that year, "RIP 5/11/25". A
// day that reads in two ways is settled where the bird was seen after one of them; else the problem is returned.
func (l *lines) ownDay(b *line, text string) *parse.Problem {
	fields := strings.Fields(strings.NewReplacer(",", " ", ";", " ", "(", " ", ")", " ").Replace(text))
	in := l.in
	if b.on.Known() && in.Year == 0 {
		in.Year, _, _ = b.on.Last.Date()
	}
	for n := min(4, len(fields)); n > 0; n-- {
		for i := 1; i+n <= len(fields); i++ {
			if !strings.ContainsAny(strings.Join(fields[i:i+n], ""), "0123456789") {
				continue
			}
			span := strings.Trim(strings.Join(fields[i:i+n], " "), ".:-!")
			when, p := parse.Date(parse.T(span), in)
			if p != nil && strings.HasSuffix(fields[i+n-1], ".") && p.Class != parse.DateAmbiguous { // "15.5."
				when, p = parse.Date(parse.T(span+"."), in)
			}
			switch {
			case p == nil && when.On.Exact():
				b.on = when.On
				return nil
			case p != nil && p.Class == parse.DateDayMissing && n > 1: // "Aug 2025"
				b.on = when.On
				return nil
			case p != nil && p.Class == parse.DateAmbiguous:
				if a, ok := l.answer(l.dateKeyOf(p, text)); ok {
					if when, p := parse.Date(parse.T(a), in); p == nil || !p.Holds() {
						b.on = when.On
						return nil
					}
				}
				var fits []record.Day
				for _, r := range p.Readings {
					order := in
					order.Order = parse.Order(r.Value)
					if w, q := parse.Date(parse.T(span), order); q == nil && w.On.Exact() && (!b.on.Exact() || w.On.First >= b.on.First) {
						fits = append(fits, w.On.First)
					}
				}
				if len(fits) == 1 && b.on.Exact() {
					b.on = record.On(fits[0])
					return nil
				}
				return p
			}
		}
	}
	for i := 1; i < len(fields); i++ { // "killed by fox Aug": a month and no more; "may" is one after "in" only
		if word := strings.Trim(fields[i], ".:-!"); len(word) < 3 || i+1 < len(fields) && !strings.EqualFold(fields[i-1], "in") || strings.EqualFold(word, "may") && !strings.EqualFold(fields[i-1], "in") {
			continue
		} else if when, p := parse.Date(parse.T(fmt.Sprintf("%s %d", word, in.Year)), in); in.Year != 0 && p != nil && p.Class == parse.DateDayMissing && when.On.Precision == record.ToMonth {
			b.on = when.On
			return nil
		}
	}
	return nil
}

// onDay words the day of an event for a question: " on 15 May 2025".
func onDay(on record.Date) string {
	switch {
	case !on.Known():
		return ", on a day that is not known"
	case on.Exact():
		y, m, d := on.First.Date()
		return fmt.Sprintf(" on %d %s %d", d, m, y)
	case on.Precision == record.ToMonth:
		y, m, _ := on.First.Date()
		return fmt.Sprintf(" in %s %d", m, y)
	}
	return " in " + on.String()
}

// dateKeyOf is the key of the question how a date is meant that reads in two ways: one for the file where the order of
// day and month decides, else one for the text, "Mar 17".
func (l *lines) dateKeyOf(p *parse.Problem, text string) string {
	if slices.ContainsFunc(p.Readings, func(r record.Reading) bool { _, ok := l.in.Answered(r.Value); return ok }) {
		return l.OrderKey(l.page, l.t)
	}
	return ask.ColumnKey(string(p.Class), l.Name, "dates "+text)
}

// askOrder asks how a date within a remark is meant.
func (l *lines) askOrder(b *line, p *parse.Problem, at record.Ref, text string) {
	q := ask.Problem(p, at, text)
	q.Key = l.dateKeyOf(p, text)
	b.flock.Ask.Add(q)
	l.mark(at, record.AsQuestion)
}

// verb says of a bird what an event of leaving says.
func verb(kind record.EventKind) string {
	if kind == record.Died {
		return "died"
	}
	return "left"
}

func reasonFor(kind record.EventKind, text string) string {
	if kind == record.Departed {
		return strings.TrimSpace(text)
	}
	return ""
}

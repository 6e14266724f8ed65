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
		all = &results{plain: map[string]*result{}, other: map[resultKey]*result{}}
		l.results[k] = all
	}
	if cell == parse.T(cell.Text) && unit == "" {
		r := all.plain[cell.Text]
		if r == nil {
			r = l.reading(k, cell, unit)
			all.plain[cell.Text] = r
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

// results are the readings of a pool: of plain texts, which hash fast, and of all other cells.
type results struct {
	plain map[string]*result
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
	case parse.PoundsAmbiguous:
		q.Key = ask.ColumnKey(q.Class, l.Name, k.Heading)
	case parse.DashAmbiguous, parse.CrossAmbiguous:
		q.Key = ask.ColumnKey(q.Class, l.Name, k.Heading)
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
			b.flock.Ask.Add(q)
			l.ownDay(b, cell.Text)
		} else if when, p := parse.Date(parse.T(a), l.in); p == nil {
			b.on = when.On
		}
		if b.who != nil && !b.held {
			l.event(b, at, record.Event{Kind: kind, Flagged: !answered, Result: reasonFor(kind, cell.Text)})
		}
		return nil
	}
	if a, ok := l.replies.Cell(ask.CellKey(q.Class, at), cell.Text); ok && q.Key == "" {
		if strings.TrimSpace(a) == "" {
			l.mark(at, record.AsContext)
			return nil
		}
		answered := *l.reading(k, parse.T(a), unit)
		if answered.p == nil || !answered.p.Holds() {
			answered.p = nil
			answered.steps = append(slices.Clone(answered.steps), fmt.Sprintf("%q answered as %s", parse.Shown(cell.Text), a))
			return &answered
		}
	}
	b.flock.Ask.Add(q)
	if p.Holds() {
		l.mark(at, record.AsQuestion)
		return nil
	}
	return r
}

// ownDay takes the day that a mark of leaving brings with it: "died 25/4" under a date of that year.
func (l *lines) ownDay(b *line, text string) {
	fields := strings.Fields(text)
	in := l.in
	if b.on.Known() {
		in.Year, _, _ = b.on.Last.Date()
	}
	for n := 1; n < min(4, len(fields)); n++ {
		if when, p := parse.Date(parse.T(strings.Join(fields[n:], " ")), in); p == nil && when.On.Exact() {
			b.on = when.On
			return
		}
	}
}

func reasonFor(kind record.EventKind, text string) string {
	if kind == record.Departed {
		return strings.TrimSpace(text)
	}
	return ""
}

package reading

import (
	"fmt"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/identity"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// event enters an event of a line's bird, pen or flock.
func (l *lines) event(b *line, at record.Ref, e record.Event) {
	if b.held {
		l.mark(at, record.AsQuestion)
		return
	}
	e.At, e.On, e.Flagged = at, b.on, e.Flagged || b.flagged
	e.Scope = record.OneBird
	who := b.who
	if b.scope != "" && b.scope != record.OneBird {
		e.Scope, who = b.scope, nil
	}
	e.Pen = b.pen
	if e.Text == "" {
		line, field := int(at.Row)-1, int(at.Col)-1
		if l.v.Turned() {
			line, field = field, line
		}
		e.Text = l.v.Cell(line, field).Raw
	}
	e.Note = joined(e.Note, b.note)
	l.mark(at, record.AsRecord)
	b.flock.Happenings = append(b.flock.Happenings, Happening{Event: e, Who: who})
}

// shown enters a showing: one for each line, with the placing of its first column; what further columns say of it, the
// judge and the entries are noted. A bird that is only ever shown is a bird.
func (l *lines) shown(b *line, c *layout.Column, at record.Ref) {
	text := strings.TrimSpace(l.text(c, b.n))
	if text == "" || parse.Missing(text) && strings.Trim(text, "-._/ ") == "" {
		l.mark(at, record.AsContext)
		return
	}
	if b.who == nil && b.scope == "" {
		l.birdMissing(b, at)
		return
	}
	if was := l.showing; was.flock == b.flock && was.line == b.n && was.from != nil && over(was.from.When) == over(c.When) && over(was.from.Who) == over(c.Who) {
		e := &b.flock.Happenings[was.event].Event
		e.Note = joined(e.Note, c.Text+": "+text)
		l.mark(at, record.AsRecord)
		return
	}
	note := l.text(l.t.Column(parse.FieldShow), b.n)
	for i := range l.t.Columns {
		if of := &l.t.Columns[i]; of.Means.Field == parse.FieldShowNote && of.Fate != layout.Other {
			if v := l.text(of, b.n); v != "" && !parse.Missing(v) {
				note = joined(note, of.Text+": "+v)
			}
		}
	}
	if b.who != nil && !b.held {
		b.who.Register = true
	}
	before := len(b.flock.Happenings)
	l.event(b, at, record.Event{Kind: record.Shown, Result: text, Note: note})
	if len(b.flock.Happenings) > before {
		l.showing = entered{b.flock, b.n, before, c}
	}
}

// moulting is what a cell of a column of moult says, "" where it says that the bird was in feather.
func (l *lines) moulting(c *layout.Column, n int) string {
	cell := l.stored(n, c.Field)
	text := strings.TrimSpace(cell.Text)
	if yes, p := parse.YesNo(cell, "yes"); parse.Missing(text) || p == nil && !yes || p != nil && p.Action == parse.Skip || strings.Trim(text, "0.") == "" || cell.Stored == parse.Error {
		return ""
	}
	return c.Text + ": " + text
}

// moult enters that a bird was in moult.
func (l *lines) moult(b *line, c *layout.Column, at record.Ref) {
	note := l.moulting(c, b.n)
	if note == "" {
		l.mark(at, record.AsContext)
		return
	}
	here := *b
	if on, ok := l.dayIn(l.stored(b.n, c.Field)); ok {
		here.on, here.held = on, false
	}
	if here.who == nil && here.scope == "" {
		l.birdMissing(b, at)
		return
	}
	l.event(&here, at, record.Event{Kind: record.Moulted, Note: note})
}

// moved enters that a bird was put into another pen.
func (l *lines) moved(b *line, c *layout.Column, at record.Ref) {
	text := l.text(c, b.n)
	if parse.Missing(text) {
		l.mark(at, record.AsContext)
		return
	}
	if b.who == nil {
		l.birdMissing(b, at)
		return
	}
	here := *b
	here.pen = text
	l.event(&here, at, record.Event{Kind: record.Moved})
}

// acquired enters from whom or where a bird came, once for each bird. The day is not known unless the row is of it.
func (l *lines) acquired(b *line) {
	text := l.text(l.cameFrom, b.n)
	if text == "" || parse.Missing(text) || b.who == nil || b.held {
		return
	}
	switch parse.Fold(text) {
	case "own", "home", "home bred", "homebred", "own bred", "bred here", "here", "self", "us", "mine", "hatched here":
		return
	}
	key := acquiredKey{b.who, text}
	if l.came[key] {
		return
	}
	if l.came == nil {
		l.came = map[acquiredKey]bool{}
	}
	l.came[key] = true
	here := *b
	here.on, here.scope, here.pen, here.note = record.Date{}, "", "", ""
	l.event(&here, l.v.Ref(b.n, l.cameFrom.Field), record.Event{Kind: record.Acquired, Note: "from " + text})
}

type acquiredKey struct {
	who  *identity.Sighting
	from string
}

// out enters that a bird died or left, with the date that the cell holds, else that of its line.
func (l *lines) out(b *line, c *layout.Column, at record.Ref) {
	cell := l.stored(b.n, c.Field)
	text := strings.TrimSpace(cell.Text)
	if parse.Missing(text) {
		l.mark(at, record.AsContext)
		return
	}
	here := *b
	here.held = false
	kind, gone := parse.Gone(text)
	why := l.text(l.t.Column(parse.FieldReason), b.n)
	if !gone {
		if k, ok := parse.Gone(why); ok {
			kind = k
		} else if k, ok := parse.Gone(c.Text); ok {
			kind = k
		} else if heading := parse.Fold(c.Text); strings.Contains(heading, "death") || strings.Contains(heading, "died") {
			kind = record.Died
		} else {
			kind = record.Departed
		}
	}
	if !gone && (present(text) || strings.Contains(parse.Fold(c.Text), "status") && !strings.ContainsAny(text, "0123456789")) {
		l.mark(at, record.AsContext)
		if kind, ok := parse.MayBeGone(text); ok && here.who != nil {
			l.maybeGone(&here, kind, text, at)
		}
		return
	}
	if when, p := parse.Date(cell, l.in); p == nil || !p.Holds() {
		here.on = when.On
	} else if gone {
		if p := l.ownDay(&here, text); p != nil {
			l.askOrder(b, p, at, text)
			return
		}
	} else {
		l.mark(at, record.AsQuestion)
		q := ask.Problem(p, at, text)
		if p.Class == parse.DateAmbiguous {
			q.Key = l.dateKeyOf(p, text)
			if a, ok := l.answer(q.Key); ok {
				if when, p := parse.Date(parse.T(a), l.in); p == nil || !p.Holds() {
					here.on = when.On
					l.leave(&here, kind, at, why, text)
					return
				}
			}
		}
		b.flock.Ask.Add(q)
		return
	}
	l.leave(&here, kind, at, why, text)
}

// leave enters that a bird died or left.
func (l *lines) leave(here *line, kind record.EventKind, at record.Ref, why, text string) {
	if here.who == nil && here.scope == "" {
		l.birdMissing(here, at)
		return
	}
	here.who.Register = true
	l.event(here, at, record.Event{Kind: kind, Result: first(why, reasonFor(kind, text))})
}

// present reports whether a column of departures says that the bird is still there.
func present(text string) bool {
	switch strings.Trim(parse.Fold(text), " .!") {
	case "alive", "here", "still here", "present", "active", "in flock", "current", "ok", "keep", "kept", "keeping", "laying", "breeding", "no", "n", "retained", "da", "noch da", "vorhanden":
		return true
	}
	return false
}

// eggs adds a cell of counts to the setting of its line.
func (l *lines) eggs(b *line, c *layout.Column, at record.Ref, e *record.Event) *record.Event {
	cell := l.stored(b.n, c.Field)
	n, p := parse.Count(cell)
	if p != nil && p.Class == parse.PercentCell { // a rate that the keeper worked out from the counts
		l.mark(at, record.AsAside)
		l.asideBlock(layout.Block{View: l.v, Line1: b.n, Field1: c.Field, Line2: b.n, Field2: c.Field, Why: "derived"})
		return e
	}
	if p != nil {
		switch p.Action {
		case parse.Skip:
			l.mark(at, record.AsContext)
			return e
		case parse.Refuse:
			l.mark(at, record.AsReject)
			b.flock.Rejects = append(b.flock.Rejects, record.Reject{Class: string(p.Class), At: at, Raw: cell.Text, Message: at.String() + ": " + p.Message})
			return e
		}
		b.flock.Ask.Add(ask.Problem(p, at, cell.Text))
		if p.Holds() {
			l.mark(at, record.AsQuestion)
			return e
		}
	}
	if b.held {
		l.mark(at, record.AsQuestion)
		return e
	}
	if e == nil {
		e = &record.Event{Kind: record.Set, Scope: record.WholeFlock, On: b.on, At: at, Text: cell.Text, Pen: b.pen, Note: b.note, Flagged: b.flagged,
			Setting: &record.EggSetting{Set: -1, Clear: -1, DeadEarly: -1, DeadInShell: -1, HatchedNo: -1, StoredDays: -1}}
		if b.pen != "" {
			e.Scope = record.WholePen
		}
		if b.who != nil {
			e.Scope = record.OneBird
		}
		e.Setting.Label, e.Setting.Male, e.Setting.Hen = l.text(l.t.Column(parse.FieldSetting), b.n), l.text(l.t.Column(parse.FieldMale), b.n), l.text(l.t.Column(parse.FieldHen), b.n)
		if scope, pen := parse.Scope(e.Setting.Hen); scope == record.WholePen && e.Pen == "" && b.who == nil {
			e.Scope, e.Pen = scope, pen // "Hens: pen 3"
		}
		if s := l.t.Column(parse.FieldStored); s != nil {
			if f, p := parse.Count(l.v.Stored(b.n, s.Field)); p == nil {
				e.Setting.StoredDays = int(f.Value)
			}
		}
	}
	switch c.Means.Field {
	case parse.FieldEggsSet:
		e.Setting.Set = int(n.Value)
	case parse.FieldClear:
		e.Setting.Clear = int(n.Value)
	case parse.FieldFertile:
		e.Note = joined(e.Note, fmt.Sprintf("fertile: %g", n.Value))
		if e.Setting.Set >= 0 && e.Setting.Clear < 0 {
			e.Setting.Clear = e.Setting.Set - int(n.Value)
		}
	case parse.FieldDeadEarly:
		e.Setting.DeadEarly = int(n.Value)
	case parse.FieldDeadShell:
		e.Setting.DeadInShell = int(n.Value)
	case parse.FieldHatchedNo:
		e.Setting.HatchedNo = int(n.Value)
		if e.Setting.Set < 0 {
			e.Kind = record.Hatch
		}
	}
	l.mark(at, record.AsRecord)
	return e
}

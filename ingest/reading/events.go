package reading

import (
	"fmt"
	"strings"
	"unicode"

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

// treatment enters a treatment with what stands beside it.
func (l *lines) treatment(b *line, c *layout.Column, at record.Ref) {
	text := l.text(c, b.n)
	cell := l.stored(b.n, c.Field)
	if cell.Stored == parse.Error {
		l.mark(at, record.AsReject)
		b.flock.Rejects = append(b.flock.Rejects, record.Reject{Class: string(parse.FormulaError), At: at, Raw: text,
			Message: fmt.Sprintf("%s: the formula failed (%s); write the treatment as text", at, text)})
		return
	}
	given := *b
	text = l.dayOfTreatment(&given, text)
	b = &given
	d, ok := parse.Treatment(text)
	if !ok {
		l.mark(at, record.AsContext)
		return
	}
	t := d.Treatment
	here := *b
	if on, ok := l.dayIn(cell); ok { // "Wormed" over the day
		here.on, here.held, t.Product = on, false, ""
	}
	if t.Product == "" && !plainTreatment(c.Text) {
		t.Product = strings.TrimSpace(c.Text)
	}
	b = &here
	for _, of := range []struct {
		field parse.Field
		into  *string
	}{{parse.FieldDose, &t.Dose}, {parse.FieldAgainst, &t.Against}, {parse.FieldReason, &t.Against}, {parse.FieldWithdrawal, &t.Withdrawal}, {parse.FieldBy, &t.By}} {
		if v := l.text(l.t.Column(of.field), b.n); v != "" && (!parse.Missing(v) || of.field == parse.FieldWithdrawal && spoken(v)) && (*of.into == "" || of.field != parse.FieldReason) {
			*of.into = v
		}
	}
	t.Withdrawal = l.withdrawal(b.n, t.Withdrawal)
	if b.scope == "" && b.who == nil {
		b.scope = d.Scope
		if d.Pen != "" && b.pen == "" {
			b.pen = d.Pen
		}
		for _, note := range l.notes {
			if scope, pen := parse.Scope(l.text(note, b.n)); b.scope == "" && scope != record.OneBird {
				b.scope, b.pen = scope, first(pen, b.pen)
			}
		}
		if b.scope == "" && l.ring == nil && l.name == nil && l.bird == nil {
			b.scope = record.WholeFlock
			if b.pen != "" {
				b.scope = record.WholePen
			}
		}
		if b.scope == "" {
			l.birdMissing(b, at)
			return
		}
	}
	l.event(b, at, record.Event{Kind: record.Treated, Treatment: &t})
}

// spoken reports whether a text says something in words or figures: a withdrawal of "nil" is not an empty one.
func spoken(text string) bool {
	return strings.ContainsFunc(text, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) })
}

// dayOfTreatment takes the date that stands within a treatment, "ivermectin 0.5 ml 30/3/25", as its day and returns the
// text without it.
func (l *lines) dayOfTreatment(b *line, text string) string {
	words := strings.Fields(text)
	for n := min(3, len(words)-1); n > 0; n-- {
		for i := 1; i+n <= len(words); i++ {
			span := strings.Trim(strings.Join(words[i:i+n], " "), ".,;()")
			if !strings.ContainsAny(span, "0123456789") || n == 1 && strings.Count(span, "/")+strings.Count(span, ".")+strings.Count(span, "-") < 2 && !strings.Contains(span, "/") {
				continue
			}
			in := l.in
			if in.Year == 0 && b.on.Known() {
				in.Year, _, _ = b.on.Last.Date()
			}
			if when, p := parse.Date(parse.T(span), in); p == nil && when.On.Exact() {
				b.on, b.held = when.On, false
				rest := append(append([]string(nil), words[:i]...), words[i+n:]...)
				if before := len(rest); before > 1 && strings.EqualFold(rest[i-1], "on") {
					rest = append(rest[:i-1], rest[i:]...)
				}
				return strings.Join(rest, " ")
			}
		}
	}
	return text
}

// plainTreatment reports whether a heading of treatments says nothing of what was given.
func plainTreatment(heading string) bool {
	for _, m := range parse.Heading(heading) {
		if m.Field == parse.FieldTreatment && m.Rest == "" {
			switch strings.Trim(parse.Fold(heading), " .:?") {
			case "dust", "dusted", "wormed", "wormer", "drench", "spray", "entwurmt", "wurmkur", "ontwormd":
				return false
			}
			return true
		}
	}
	return false
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
			q.Key = l.OrderKey(l.page, l.t)
		}
		b.flock.Ask.Add(q)
		return
	}
	if here.who == nil && here.scope == "" {
		l.birdMissing(b, at)
		return
	}
	here.who.Register = true
	l.event(&here, at, record.Event{Kind: kind, Result: first(why, reasonFor(kind, text))})
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

// remarks finds treatments and departures that only a remark or a note on a cell tells of.
func (l *lines) remarks(b *line) {
	for _, c := range l.notes {
		if text := l.text(c, b.n); text != "" && l.t.Column(parse.FieldTreatment) == nil {
			l.remark(b, text, l.v.Ref(b.n, c.Field))
		}
	}
	for f := l.t.Fields[0]; f <= l.t.Fields[1]; f++ {
		if c := l.v.Cell(b.n, f); c.Comment != "" {
			l.remark(b, c.Comment, l.v.Ref(b.n, f))
		}
	}
}

func (l *lines) remark(b *line, text string, at record.Ref) {
	if b.held {
		return
	}
	here := *b
	if d, p := parse.TreatmentInRemark(text); p != nil {
		a, answered := l.replies.Cell(ask.CellKey(string(p.Class), at), text)
		if answered && a == "" {
			return
		}
		if !answered {
			b.flock.Ask.Add(ask.Problem(p, at, text))
		}
		if d.Scope != "" {
			here.scope, here.pen = d.Scope, d.Pen
		}
		if here.who != nil || here.scope != "" {
			l.event(&here, at, record.Event{Kind: record.Treated, Treatment: &d.Treatment, Flagged: !answered, Text: text})
		}
		return
	}
	if kind, ok := parse.Gone(text); ok && here.who != nil && len(strings.Fields(text)) <= 6 {
		q := record.Question{Class: string(parse.EventMarker), At: at, Raw: text,
			Message:  fmt.Sprintf("%s: %q is read as %s; is that right?", at, parse.Shown(text), kind),
			Readings: []record.Reading{{Label: string(kind), Value: string(kind)}, {Label: "only a remark", Value: ""}}}
		if kind == record.Died {
			q.Class = string(parse.DeathMarker)
		}
		a, answered := l.replies.Cell(ask.CellKey(q.Class, at), text)
		if answered && a == "" {
			return
		}
		if !answered {
			b.flock.Ask.Add(q)
		}
		if p := l.ownDay(&here, text); p != nil {
			l.askOrder(b, p, at, text)
			return
		}
		l.event(&here, at, record.Event{Kind: kind, Flagged: !answered, Text: text, Result: reasonFor(kind, text)})
		return
	}
	if kind, ok := parse.MayBeGone(text); ok && here.who != nil {
		l.maybeGone(&here, kind, text, at)
	}
}

// maybeGone asks whether a remark such as "gone broody" or "fox got close" tells that the bird is gone. Until the keeper
// says so it is a remark and nothing else.
func (l *lines) maybeGone(b *line, kind record.EventKind, text string, at record.Ref) {
	q := record.Question{Class: "departure_doubtful", At: at, Raw: text,
		Message:  fmt.Sprintf("%s: does %q mean that the bird has %s? Until you say so, it counts as a remark", at, parse.Shown(text), map[record.EventKind]string{record.Died: "died", record.Departed: "left"}[kind]),
		Readings: []record.Reading{{Label: string(kind), Value: string(kind)}, {Label: "only a remark", Value: ""}}}
	a, answered := l.replies.Cell(ask.CellKey(q.Class, at), text)
	if !answered {
		b.flock.Ask.Add(q)
		l.mark(at, record.AsQuestion)
		return
	}
	if a == string(kind) {
		l.ownDay(b, text)
		l.event(b, at, record.Event{Kind: kind, Text: text, Result: reasonFor(kind, text)})
	}
}

// withdrawal joins what stands in several columns of withdrawal times, each under its heading: eggs and meat differ. With
// one such column it is its text.
func (l *lines) withdrawal(n int, single string) string {
	var parts []string
	for i := range l.t.Columns {
		c := &l.t.Columns[i]
		if c.Means.Field != parse.FieldWithdrawal || c.Fate == layout.Other {
			continue
		}
		if v := l.text(c, n); v != "" && (!parse.Missing(v) || spoken(v)) {
			parts = append(parts, c.Text+": "+v)
		}
	}
	if len(parts) < 2 {
		return single
	}
	return strings.Join(parts, "; ")
}

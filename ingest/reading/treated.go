package reading

import (
	"fmt"
	"strings"
	"unicode"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

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
	here := *b
	day, dated := l.dayIn(cell) // "Wormed" over the day
	if !dated {
		done, plan := parse.TreatmentText(text)
		here.note = joined(here.note, plan)
		if here.note != b.note {
			here.detail = nil
		}
		if !l.wasGiven(b, c, at, done) {
			return
		}
		text = l.dayOfTreatment(&here, done)
	}
	d, ok := parse.Treatment(text)
	if !ok {
		l.mark(at, record.AsContext)
		return
	}
	t := d.Treatment
	if dated {
		here.on, here.held, t.Product = day, false, ""
	}
	if t.Product == "" && !plainTreatment(c.Text) {
		t.Product = strings.TrimSpace(c.Text)
	}
	b = &here
	if l.sameTreatment(b, c, at, t.Product) {
		return
	}
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
	before := len(b.flock.Happenings)
	l.event(b, at, record.Event{Kind: record.Treated, Treatment: &t})
	if len(b.flock.Happenings) > before {
		l.dosed = entered{b.flock, b.n, before, c}
	}
}

// entered is the event of its kind that was entered last.
type entered struct {
	flock *Flock
	line  int
	event int // index in Happenings
	from  *layout.Column
}

// sameTreatment adds to the treatment of the same line what a further column says of it: the product beside its active
// ingredient. Columns that each tell of a treatment of their own, "Dusted" and "Wormed", stay apart.
func (l *lines) sameTreatment(b *line, c *layout.Column, at record.Ref, product string) bool {
	was := l.dosed
	if was.flock != b.flock || was.line != b.n || was.from == nil || over(was.from.When) != over(c.When) || over(was.from.Who) != over(c.Who) || !namesProduct(c.Text) && !namesProduct(was.from.Text) {
		return false
	}
	t := b.flock.Happenings[was.event].Event.Treatment
	switch {
	case t.Product == "":
		t.Product = product
	case product != "" && !strings.Contains(parse.Fold(t.Product), parse.Fold(product)):
		t.Product += ", " + product
	}
	l.mark(at, record.AsRecord)
	return true
}

// namesProduct reports whether a heading says that its cells name what was given, so that a name that nobody knows
// counts as one.
func namesProduct(heading string) bool {
	for word := range strings.FieldsFuncSeq(parse.Fold(heading), func(r rune) bool { return !unicode.IsLetter(r) }) {
		switch word {
		case "product", "products", "active", "ingredient", "drug", "drugs", "medicine", "medicines", "remedy", "wormer", "mittel", "praparat", "wirkstoff", "medikament", "produit", "medicament", "middel", "medicijn", "producto", "medicamento":
			return true
		}
	}
	return false
}

// wasGiven judges whether a cell of a column of treatments tells of one that was given. Where that is in doubt it is
// asked, once for all cells of the column that say the same, and nothing counts as given until then.
func (l *lines) wasGiven(b *line, c *layout.Column, at record.Ref, text string) bool {
	standing := parse.TreatmentStanding(text)
	switch {
	case standing == parse.Given:
		return true
	case standing == parse.NotGiven:
		l.mark(at, record.AsContext)
		return false
	case standing == parse.Unnamed && (namesProduct(c.Text) || l.hasDose(b.n)):
		return true
	}
	q := record.Question{Class: string(parse.TreatmentInDoubt), At: at, Raw: text, Readings: parse.TreatmentReadings(),
		Key:     ask.ColumnKey(string(parse.TreatmentInDoubt), l.Name, c.Heading()+" "+text),
		Message: fmt.Sprintf("%s: does %q under %q say that a treatment was given? Until you say so, none is recorded", at, parse.Shown(text), parse.Shown(c.Heading()))}
	if standing == parse.Crossed {
		q.Message = fmt.Sprintf("%s: does %q under %q tick that the treatment was given, or strike it out? Until you say so, none is recorded", at, parse.Shown(text), parse.Shown(c.Heading()))
		q.Readings = q.Readings[:2]
	}
	a, answered := l.answer(q.Key)
	if !answered {
		b.flock.Ask.Add(q)
		l.mark(at, record.AsQuestion)
		return false
	}
	if a != parse.WasGiven {
		l.mark(at, record.AsContext)
	}
	return a == parse.WasGiven
}

// hasDose reports whether a line tells how much was given.
func (l *lines) hasDose(n int) bool {
	dose := l.text(l.t.Column(parse.FieldDose), n)
	return dose != "" && !parse.Missing(dose) && strings.ContainsAny(dose, "0123456789½¼¾")
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

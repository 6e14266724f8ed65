package reading

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// remarks finds treatments and departures that only a remark or a note on a cell tells of.
func (l *lines) remarks(b *line) {
	for _, c := range l.notes {
		if text := l.text(c, b.n); text != "" {
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
		if l.t.Column(parse.FieldTreatment) != nil {
			return // it has a column of its own
		}
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
	kind, gone := parse.Gone(text)
	if gone && here.who != nil && parse.CameBack(text) {
		l.maybeGone(&here, kind, text, at)
		return
	}
	if gone && here.who != nil && len(strings.Fields(text)) <= 6 {
		p := l.ownDay(&here, text)
		day := onDay(here.on)
		if p != nil {
			day = ""
		}
		q := record.Question{Class: string(parse.EventMarker), At: at, Raw: text,
			Message:  fmt.Sprintf("%s: %q is read as: the bird %s%s; is that right?", at, parse.Shown(text), verb(kind), day),
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
		if p != nil {
			l.askOrder(b, p, at, text)
			return
		}
		l.event(&here, at, record.Event{Kind: kind, Flagged: !answered, Text: text, Result: reasonFor(kind, text)})
		return
	}
	if kind, ok := parse.MayBeGone(text); ok && here.who != nil {
		l.maybeGone(&here, kind, text, at)
		return
	}
	l.maybeFinding(&here, text, at)
}

// maybeFinding tells of a remark that counts parasites, which no column has: "fleas on comb - 5".
func (l *lines) maybeFinding(b *line, text string, at record.Ref) {
	if b.who == nil && b.scope == "" || !parse.FindingInRemark(text) || l.t.Column(parse.FieldParasite) != nil || l.t.Shape == layout.Diary {
		return
	}
	q := record.Question{Class: "finding_in_remarks", At: at, Raw: text,
		Message:  fmt.Sprintf("%s: %q in the remarks tells of parasites; write it in a column of its own, headed with what was found, so that it counts. Until then it is a remark", at, parse.Shown(text)),
		Readings: []record.Reading{{Label: "leave it a remark", Value: ""}}}
	if a, answered := l.replies.Cell(ask.CellKey(q.Class, at), text); !answered || a != "" {
		b.flock.Ask.Add(q)
		l.mark(at, record.AsQuestion)
	}
}

// maybeGone asks whether a remark such as "gone broody" or "fox got close" tells that the bird is gone. Until the keeper
// says so it is a remark and nothing else.
func (l *lines) maybeGone(b *line, kind record.EventKind, text string, at record.Ref) {
	q := record.Question{Class: "departure_doubtful", At: at, Raw: text,
		Message:  fmt.Sprintf("%s: does %q mean that the bird has %s? Until you say so, it counts as a remark", at, parse.Shown(text), map[record.EventKind]string{record.Died: "died", record.Departed: "left"}[kind]),
		Readings: []record.Reading{{Label: string(kind), Value: string(kind)}, {Label: "only a remark", Value: ""}}}
	if parse.CameBack(text) {
		q.Message = fmt.Sprintf("%s: does %q mean that the bird left, or that it left and came back? Until you say so, it counts as a remark", at, parse.Shown(text))
		q.Readings = slices.Insert(q.Readings, 1, record.Reading{Label: "left and came back", Value: "returned"})
	}
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

// noneSeen enters that a bird, pen or flock was looked at and a parasite not there: "Hetty no lice seen".
func (l *lines) noneSeen(b *line, e entry, c clause) bool {
	text := c.text
	if first, rest, ok := strings.Cut(text, " "); ok && b.who != nil && l.named(strings.Trim(first, ",.:;()")) {
		text = rest
	}
	parasite, ok := parse.NoneSeen(text)
	if !ok || b.who == nil && b.scope == "" {
		return false
	}
	f, _ := parse.Finding(parse.T("none"), parse.FindingIn{Parasite: parasite})
	o := record.Observation{Trait: record.Parasite, Parasite: parasite, Form: f.Form, Value: f.Value, Scale: f.Scale,
		On: b.on, At: e.at, Text: c.text, Flagged: b.flagged, More: l.share(record.Detail{Word: f.Word, Pen: b.pen, Scope: b.scope, Steps: b.steps})}
	if b.held {
		l.mark(e.at, record.AsQuestion)
		return true
	}
	l.mark(e.at, record.AsRecord)
	b.flock.look(&o, b.who, l.table)
	return true
}

package reading

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/identity"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// fixBird finds the bird that a whole table is about: from its card, the title above it, or the sheet's name.
func (l *lines) fixBird() {
	if l.ring != nil || l.name != nil || l.bird != nil {
		return
	}
	for i := range l.t.Fixed {
		f := &l.t.Fixed[i]
		text := strings.TrimSpace(f.Cell.Text)
		switch f.Means.Field {
		case parse.FieldRing:
			l.fixedName.ring, l.fixedAt[0] = text, f.At
		case parse.FieldName:
			l.fixedName.name, l.fixedAt[1] = text, f.At
		case parse.FieldBird:
			if slices.ContainsFunc(l.t.Fixed, func(o layout.Fixed) bool { return o.Means.Field == parse.FieldRing }) {
				l.fixedName.name, l.fixedAt[1] = text, f.At
			} else if l.fixedName.name == "" {
				l.fixedName.name, l.fixedAt[1] = text, f.At
			}
		case parse.FieldRingColour:
			l.fixedName.colour = text
		}
	}
	if l.fixedName != (named{}) || slices.ContainsFunc(l.t.Groups, func(g layout.Group) bool { return g.Fixed.Means.Field == parse.FieldBird }) {
		return
	}
	if !l.valued() || l.houseLevel() {
		return
	}
	name := l.page.Grid.Sheet
	if t := l.t.Title; t != "" && len(t) <= 40 && (l.sisters() > 1 || name == "" || layout.PlainTitle(name)) && !layout.PlainTitle(t) {
		name = t
	}
	if name != "" && !layout.PlainTitle(name) {
		l.fixedName.name, l.fixedFrom = name, "bird from the name of the sheet or the title above"
		l.fixedAt[1] = l.v.Ref(l.t.Head[0], l.t.Fields[0])
	}
}

// sisters counts the tables of the sheet that name no bird of their own.
func (l *lines) sisters() int {
	n := 0
	for _, t := range l.page.Layout.Tables {
		if t.Column(parse.FieldRing, parse.FieldName, parse.FieldBird) == nil {
			n++
		}
	}
	return n
}

// valued reports whether the table weighs or scores birds, rather than listing treatments or eggs.
func (l *lines) valued() bool {
	return l.t.Column(parse.FieldWeight, parse.FieldCondition, parse.FieldFeather, parse.FieldLeg, parse.FieldPoundPart) != nil
}

// houseLevel reports whether the table looks at a house or pen and not at birds.
func (l *lines) houseLevel() bool {
	return l.pen != nil || l.t.Fact(parse.FieldPen) != nil
}

// birdOf finds which bird a line names, and what it says of it.
func (l *lines) birdOf(b *line, groups []layout.Fixed, last *int) {
	n := b.n
	if l.byRing != nil { // the common table: one column tells the bird, and most lines name one that is known
		if s, ok := l.byRing.Get(l.v.Cell(n, l.ring.Field).Raw); ok {
			b.who, *last = s, n
			l.factsOf(b)
			return
		}
	}
	src := func(c *layout.Column) int {
		if c == nil {
			return n
		}
		if ol, of := l.v.Origin(n, c.Field); of == c.Field {
			return ol
		}
		return n
	}
	blank := true
	for _, c := range []*layout.Column{l.ring, l.name, l.bird} {
		blank = blank && (c == nil || l.v.Blank(src(c), c.Field) || *last >= 0 && parse.Ditto(l.v.Cell(src(c), c.Field).Raw))
	}
	from := n
	if above, ok := l.t.Above[n]; blank && ok {
		from = above
	} else if blank && *last >= 0 && (l.fillBird || l.ditto(n)) {
		from = *last
	}
	var who named
	var at [2]record.Ref
	read := func(c *layout.Column, into *string, k int) {
		if c == nil {
			return
		}
		line := from
		if line == n {
			line = src(c)
		}
		if l.v.Blank(line, c.Field) {
			return
		}
		cell := l.v.Stored(line, c.Field)
		text := cell.Text
		if k == 0 {
			band, p := l.band(cell)
			if p != nil {
				if p.Action != parse.Skip {
					b.flock.Ask.Add(ask.Problem(p, l.v.Ref(line, c.Field), cell.Text))
					b.held = b.held || p.Holds()
				}
				return
			}
			text = band.Text
		}
		if name, kind, ok := parse.Departed(text); ok {
			l.departed(b, kind, l.v.Ref(line, c.Field), cell.Text)
			text = name
		}
		*into, at[k] = parse.Name(text), l.v.Ref(n, c.Field)
		if line != n {
			b.steps = append(b.steps, fmt.Sprintf("bird filled down from %s", l.v.Ref(line, c.Field).Cell()))
		}
	}
	read(l.ring, &who.ring, 0)
	read(l.name, &who.name, 1)
	if l.bird != nil {
		switch {
		case l.ring != nil:
			if who.name == "" {
				read(l.bird, &who.name, 1)
			}
		case l.name != nil:
			if who.ring == "" {
				read(l.bird, &who.ring, 0)
			}
		case l.ringed():
			read(l.bird, &who.ring, 0)
		default:
			read(l.bird, &who.name, 1)
		}
		if l.ring == nil && l.name == nil {
			l.part(&who, &at)
		}
	}
	if !blank {
		*last = n
	}
	if l.colour != nil {
		who.colour = l.text(l.colour, from)
	}
	if who.ring == "" && who.name == "" {
		for _, g := range groups {
			if g.Means.Field == parse.FieldBird {
				who.name, at[1] = parse.Name(g.Cell.Text), g.At
				l.part(&who, &at)
			}
		}
	}
	if who.ring == "" && who.name == "" && l.fixedName != (named{}) {
		who, at = l.fixedName, l.fixedAt
		if l.fixedFrom != "" {
			b.steps = append(b.steps, l.fixedFrom)
		}
	}
	if (who.ring == "" || who.name == "") && b.flock.byName[who] == nil {
		if scope, pen := parse.Scope(first(who.name, who.ring)); scope != record.OneBird {
			b.scope, b.pen = scope, pen
			return
		}
	}
	if who.ring == "" && who.name == "" {
		q := l.missingBird(b)
		a, ok := l.saidBird(q)
		if !ok || strings.TrimSpace(a) == "" {
			return
		}
		if who.name = parse.Name(a); strings.ContainsAny(a, "0123456789") {
			who = named{ring: a}
		}
		at = [2]record.Ref{q.At, q.At}
		b.steps = append(b.steps, fmt.Sprintf("bird answered as %s", a))
	}
	b.who = l.sighting(b.flock, who, at)
	if l.byRing != nil && from == n && !b.held && !b.flagged && len(b.steps) == 0 && who.name == "" && !l.v.Blank(n, l.ring.Field) {
		l.byRing.Put(l.v.Cell(n, l.ring.Field).Raw, b.who)
	}
	if l.lone && who.name == "" {
		b.who.Lone = true
	}
	l.factsOf(b)
}

// missingBird is the question which bird a line is about that names none: one for a sheet that names no bird anywhere.
func (l *lines) missingBird(b *line) record.Question {
	q := record.Question{Class: "bird_missing", At: l.v.Ref(b.n, l.firstValue(b.n))}
	for _, c := range []*layout.Column{l.ring, l.name, l.bird} {
		if c != nil {
			q.At = l.v.Ref(b.n, c.Field)
			q.Key = ask.CellKey(q.Class, q.At)
			return q
		}
	}
	q.Key = ask.ColumnKey(q.Class, l.Name, l.page.Grid.Sheet)
	return q
}

// saidBird is what the keeper has answered to that: the ring or name of a bird, known or new, or nothing for leaving the
// line out.
func (l *lines) saidBird(q record.Question) (string, bool) {
	if q.Key == ask.CellKey(q.Class, q.At) {
		return l.replies.Cell(q.Key, "")
	}
	return l.answer(q.Key)
}

// ditto reports whether a line repeats the bird above by a mark.
func (l *lines) ditto(n int) bool {
	for _, c := range []*layout.Column{l.ring, l.name, l.bird} {
		if c != nil && parse.Ditto(l.v.Cell(n, c.Field).Raw) {
			return true
		}
	}
	return false
}

// departed tells that a bird's name carries a mark of its death or leaving, of which no day is known.
func (l *lines) departed(b *line, kind record.EventKind, at record.Ref, raw string) {
	q := record.Question{Class: string(parse.EventMarker), At: at, Raw: raw, Readings: []record.Reading{{Label: "leave it", Value: ""}},
		Message: fmt.Sprintf("%s: %q says beside its name that the bird has left; when was that? Write the day in a column of its own", at, parse.Shown(raw))}
	if kind == record.Died {
		q.Class = string(parse.DeathMarker)
		q.Message = fmt.Sprintf("%s: %q says beside its name that the bird has died; when was that? Write the day in a column of its own", at, parse.Shown(raw))
	}
	if _, ok := l.replies.Cell(ask.CellKey(q.Class, at), raw); !ok {
		b.flock.Ask.Add(q)
		b.flagged = true
	}
}

// part takes a ring and a name apart that stand in one cell: "R12 Bess", "Bess (R12)".
func (l *lines) part(who *named, at *[2]record.Ref) {
	text := first(who.ring, who.name)
	words := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '(' || r == ')' || r == ',' || r == '/' })
	if len(words) < 2 || len(words) > 4 {
		return
	}
	figure := func(s string) bool { return strings.ContainsAny(s, "0123456789") }
	var ring string
	var rest []string
	switch {
	case figure(words[0]) && !figure(strings.Join(words[1:], "")):
		ring, rest = words[0], words[1:]
	case figure(words[len(words)-1]) && !figure(strings.Join(words[:len(words)-1], "")):
		ring, rest = words[len(words)-1], words[:len(words)-1]
	default:
		return
	}
	name := strings.Join(rest, " ")
	if _, _, p := parse.Sex(parse.T(name)); p == nil || parse.Colour(name) != "" || len([]rune(name)) < 3 {
		return // "hen 12", "red 12": one mark, not two
	}
	if m := parse.Heading(name); len(m) > 0 && m[0].Confidence >= 0.5 {
		return // "chick 7", "ring 12"
	}
	at[0], at[1] = first2(at[0], at[1]), first2(at[1], at[0])
	who.ring, who.name = ring, name
}

func first2(a, b record.Ref) record.Ref {
	if a.Row != 0 {
		return a
	}
	return b
}

// band reads a ring, once for each text.
func (l *lines) band(cell parse.Cell) (parse.Band, *parse.Problem) {
	if cell == parse.T(cell.Text) {
		b, ok := l.rings[cell.Text]
		if !ok {
			b.band, b.p = parse.Ring(cell)
			l.rings[cell.Text] = b
		}
		return b.band, b.p
	}
	b, ok := l.bands[cell]
	if !ok {
		b.band, b.p = parse.Ring(cell)
		l.bands[cell] = b
	}
	return b.band, b.p
}

// ringed reports whether a column of birds holds rings rather than names: most of its cells have a figure.
func (l *lines) ringed() bool {
	if l.column != unknownColumn {
		return l.column == ringColumn
	}
	figures, n := 0, 0
	for _, line := range l.t.Lines[:min(len(l.t.Lines), 300)] {
		if text := l.text(l.bird, line); text != "" {
			n++
			if strings.ContainsAny(text, "0123456789") {
				figures++
			}
		}
	}
	if l.column = nameColumn; figures*2 > n {
		l.column = ringColumn
	}
	return l.column == ringColumn
}

// sighting returns the sighting of a ring and name in a flock, made at first mention.
func (l *lines) sighting(f *Flock, who named, at [2]record.Ref) *identity.Sighting {
	if s := f.byName[who]; s != nil {
		return s
	}
	key := named{parse.RingKey(who.ring), parse.NameKey(who.name), parse.Fold(who.colour)}
	s := f.byName[named{"\x00" + key.ring, key.name, key.colour}]
	if s == nil {
		s = &identity.Sighting{Ring: who.ring, Name: who.name, RingKey: key.ring, NameKey: key.name, RingAt: at[0], NameAt: at[1]}
		if key.colour != "" && key.ring != "" {
			s.RingKey = key.colour + " " + key.ring
			s.Facts.Colour = who.colour
		}
		compact := named{"\x00coloured " + key.colour + key.ring, key.name, ""}
		if same := f.byName[compact]; same != nil && key.ring != "" && (same.Facts.Colour == "") != (key.colour == "") {
			f.byName[who] = same // "red 12" in one cell is 12 beside red in another
			return same
		} else if key.ring != "" && same == nil {
			f.byName[compact] = s
		}
		f.Sightings = append(f.Sightings, s)
		f.byName[named{"\x00" + key.ring, key.name, key.colour}] = s
	}
	s.Spelt(who.ring, who.name)
	f.byName[who] = s
	return s
}

// named is what a line says of its bird.
type named struct{ ring, name, colour string }

func first(texts ...string) string {
	for _, t := range texts {
		if t != "" {
			return t
		}
	}
	return ""
}

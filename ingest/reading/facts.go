package reading

import (
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/identity"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// factFields are the columns that tell what a bird is, in the order of factKey.
func factFields() []parse.Field {
	return []parse.Field{parse.FieldSex, parse.FieldClass, parse.FieldBreed, parse.FieldVariety, parse.FieldSize, parse.FieldLine, parse.FieldHatched, parse.FieldRingColour, parse.FieldPen}
}

// factsOf reads what a line, or the card above it, says of its bird.
func (l *lines) factsOf(b *line) {
	if !l.tells {
		return
	}
	var key factKey
	for i, c := range l.facts {
		key[i] = l.text(c, b.n)
		if key[i] == "" && c == nil {
			if f := l.t.Fact(factFields()[i]); f != nil {
				key[i] = strings.TrimSpace(f.Cell.Text)
			}
		}
	}
	if key == (factKey{}) || l.given[given{b.who, key}] {
		return
	}
	l.given[given{b.who, key}] = true
	f, ok := l.known[key]
	if !ok {
		f = l.readFacts(b, key)
		l.known[key] = f
	}
	f.At = []record.Ref{l.v.Ref(b.n, l.t.Fields[0])}
	b.who.Facts.Fill(f)
}

func (l *lines) readFacts(b *line, key factKey) identity.Facts {
	f := identity.Facts{Breed: l.breed(key[2]), Variety: key[3], Line: key[5], Colour: key[7], Pen: key[8]}
	for _, text := range []string{key[1], key[0]} {
		if text == "" || parse.Missing(text) {
			continue
		}
		sex, _, p := parse.Sex(parse.T(text))
		if p == nil {
			f.Sex = sex
		} else if c := l.facts[0]; c != nil && text == key[0] && p.Action != parse.Skip {
			q := ask.Problem(p, l.v.Ref(b.n, c.Field), text)
			q.Key = ask.ColumnKey(q.Class, l.Name, text)
			if a, ok := l.answer(q.Key); ok {
				if said, _, p := parse.Sex(parse.T(a)); p == nil {
					f.Sex = said
					continue
				} else if strings.TrimSpace(a) == "" {
					continue
				}
				l.replies.Refuse(q.Key)
			}
			b.flock.Ask.Add(q)
		}
	}
	f.Size = parse.Size(first(key[4], l.breed(key[2])))
	if key[6] != "" {
		at, cell := record.Ref{}, parse.T(key[6])
		if c := l.facts[6]; c != nil {
			at, cell = l.v.Ref(b.n, c.Field), l.stored(b.n, c.Field)
		} else if x := l.t.Fact(parse.FieldHatched); x != nil {
			at, cell = x.At, x.Cell
		}
		when, p := parse.Date(cell, l.in)
		switch {
		case p == nil || !p.Holds() || p.Class == parse.DateDayMissing:
			f.Hatched = when.On
		case p.Action == parse.Skip:
		case p.Class == parse.DateAmbiguous:
			q := ask.Problem(p, at, cell.Text)
			if q.Key = l.dateKeyOf(p, cell.Text); !strings.HasPrefix(q.Key, "date_order ") {
				f.Hatched = l.hatchedAnswer(b, p, at, cell)
				break
			}
			b.flock.Ask.Add(q)
		case p.Class == parse.SeasonAmbiguous:
			q := ask.Problem(p, at, cell.Text)
			q.Key = evidence.HemisphereKey
			b.flock.Ask.Add(q)
		default:
			f.Hatched = l.hatchedAnswer(b, p, at, cell)
		}
	}
	return f
}

// card enters the bird of a card that has no table below it.
func (l *lines) card() {
	if l.fixedName == (named{}) {
		return
	}
	b := line{flock: l.Flock(""), n: l.t.Head[0]}
	b.who = l.sighting(b.flock, l.fixedName, l.fixedAt)
	b.who.Register = true
	l.factsOf(&b)
}

// hatchedAnswer is the keeper's answer to a hatch date that does not read: one for all rows that say the same.
func (l *lines) hatchedAnswer(b *line, p *parse.Problem, at record.Ref, cell parse.Cell) record.Date {
	q := ask.Problem(p, at, cell.Text)
	q.Key = ask.ColumnKey(q.Class, l.Name, "hatched "+cell.Text)
	if a, ok := l.answer(q.Key); ok {
		if strings.TrimSpace(a) == "" {
			return record.Date{}
		}
		if when, p := parse.Date(parse.T(a), l.in); p == nil || !p.Holds() || p.Class == parse.DateDayMissing {
			return when.On
		}
		l.replies.Refuse(q.Key)
	}
	b.flock.Ask.Add(q)
	return record.Date{}
}

package identity

import (
	"fmt"
	"slices"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// name finds the bird of a Sighting without a ring. A name that only lists of treatments know, and not often,
// may be a slip, where known says that there are other birds to compare it with.
func (id *Birds) name(s *Sighting, known bool) {
	found := id.byName[s.NameKey]
	if len(found) == 0 {
		found = id.byRing[s.NameKey] // a column of birds may hold rings
	}
	switch {
	case s.NameKey == "":
	case len(found) == 1:
		s.bird = found[0]
		id.seen[found[0]] = append(id.seen[found[0]], s)
	case len(found) > 1:
		if i, ok := id.wornOn(found, s); ok {
			s.bird = i
			id.seen[i] = append(id.seen[i], s)
			return
		}
		d := &Doubt{Class: "bird_ambiguous", At: s.at(), Raw: s.Name, Hold: true,
			Message: fmt.Sprintf("%q is the name of more than one bird; which is meant?", s.Name)}
		for _, i := range found {
			d.Readings = append(d.Readings, record.Reading{Label: id.All[i].Label(), Value: id.All[i].ID})
		}
		s.Doubt = d
	case s.Measured || s.Register || s.n() > few || !known:
		id.give(id.add(record.Bird{ID: s.Name, Name: s.Name}, "", s.NameKey), s)
	}
}

// wornOn picks the bird that is known to have been there on every day of the Sighting.
func (id *Birds) wornOn(found []int, s *Sighting) (int, bool) {
	hit := -1
	for _, i := range found {
		w, ok := id.worn[i]
		if !ok {
			continue
		}
		all := len(s.Days) > 0
		for _, d := range s.Days {
			all = all && w.from <= d && d <= w.to
		}
		if all {
			if hit >= 0 {
				return 0, false
			}
			hit = i
		}
	}
	return hit, hit >= 0
}

// few is how many rows a spelling has at most to be taken for a slip of another: what stands three times was
// meant (common practice, no source).
const few = 2

// rare looks again at the sightings that stand alone: a name or ring that is nearly that of a well known
// bird, one that only a treatment list knows, a ring without a name where all others have one.
func (id *Birds) rare(all []*Sighting) {
	for _, s := range all {
		if s.Doubt != nil && s.Doubt.like != nil {
			if o := s.Doubt.like; o.bird >= 0 {
				s.bird, s.Doubt.Hold = o.bird, false
				id.seen[o.bird] = append(id.seen[o.bird], s)
			} else {
				s.Doubt.Hold = true
			}
		}
	}
	many := 0
	for i := range id.All {
		if id.count(i) > few {
			many++
		}
	}
	for _, s := range all {
		if s.Doubt != nil || s.Register || s.n() > few || s.bird >= 0 && (len(id.seen[s.bird]) > 1 || id.isSettled(s.bird)) {
			continue
		}
		like := id.nearest(s)
		switch {
		case like >= 0:
			b := id.All[like]
			if s.bird >= 0 {
				id.drop(s.bird)
			}
			s.bird = like
			id.seen[like] = append(id.seen[like], s)
			s.Doubt = &Doubt{Class: "bird_unknown", At: s.at(), Raw: s.label(),
				Message:  fmt.Sprintf("no other row knows %q; read as %s, is that right?", s.label(), b.Label()),
				Readings: []record.Reading{{Label: b.Label(), Value: b.ID}, {Label: "another bird", Value: s.label()}}}
		case s.bird < 0:
			s.Doubt = &Doubt{Class: "bird_unknown", At: s.at(), Raw: s.label(), Hold: true,
				Message: fmt.Sprintf("no bird is known as %q; which bird is meant?", s.label())}
		case s.Lone && many > 0:
			s.Doubt = &Doubt{Class: "bird_unknown", At: s.at(), Raw: s.label(),
				Message: fmt.Sprintf("ring %s stands only here and without a name; a new bird?", s.Ring)}
		}
	}
}

func (id *Birds) isSettled(i int) bool { return id.set[i] }

// Known reports whether any row, or flock.toml, knows a bird.
func (id *Birds) Known(i int) bool { return len(id.seen[i]) > 0 || id.set[i] }

func (id *Birds) count(i int) int {
	n := 0
	for _, s := range id.seen[i] {
		n += s.n()
	}
	return n
}

// nearest returns the one bird with more than a few rows, or in the register, whose name or ring is spelt
// almost like the Sighting's and that has no row on the same day; else -1.
func (id *Birds) nearest(s *Sighting) int {
	hit := -1
	for i, b := range id.All {
		if i == s.bird || len(id.seen[i]) == 0 {
			continue
		}
		known := id.count(i) > few || slices.ContainsFunc(id.seen[i], func(o *Sighting) bool { return o.Register })
		registered := slices.ContainsFunc(id.seen[i], func(o *Sighting) bool { return o.Register })
		if !known || !(s.NameKey != "" && s.RingKey == "" && (registered && slip(s.NameKey, parse.NameKey(b.Name)) || alike(s.NameKey, parse.NameKey(b.Name)) || misread(s.NameKey) == misread(parse.RingKey(b.Ring))) ||
			s.RingKey != "" && misread(s.RingKey) == misread(parse.RingKey(b.Ring)) && (s.NameKey == "" || parse.NameKey(b.Name) == s.NameKey)) {
			continue
		}
		if slices.ContainsFunc(id.seen[i], func(o *Sighting) bool {
			return slices.ContainsFunc(o.Days, func(d record.Day) bool { return s.Measured && slices.Contains(s.Days, d) })
		}) {
			continue
		}
		if hit >= 0 {
			return -1
		}
		hit = i
	}
	return hit
}

// drop empties a bird that turned out to be another. Its place stays, so that indices hold.
func (id *Birds) drop(i int) {
	b := id.All[i]
	id.seen[i] = nil
	without := func(m map[string][]int, k string) {
		m[k] = slices.DeleteFunc(slices.Clone(m[k]), func(j int) bool { return j == i })
	}
	without(id.byRing, parse.RingKey(b.Ring))
	without(id.byName, parse.NameKey(b.Name))
}

// Of returns the bird of a Sighting on a day: where a ring was used again and no name is written, the day
// decides.
func (id *Birds) Of(s *Sighting, on record.Date) int {
	if s.bird < 0 || len(id.worn) == 0 || s.NameKey != "" || s.RingKey == "" || len(id.byRing[s.RingKey]) < 2 || !on.Known() {
		return s.bird
	}
	for _, i := range id.byRing[s.RingKey] {
		if w := id.worn[i]; w.from <= on.First && on.Last <= w.to {
			return i
		}
	}
	return s.bird
}

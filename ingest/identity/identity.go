// Package identity decides which cells name the same bird: by ring first, then by name.
//
// The same ring under two spellings of a name is one bird, and said so; under other names in separate times it
// is a ring that was used again; a row that contradicts better founded ones is held and asked about. Which
// ring stands beside which name, in how many rows and when, is the evidence.
//
// It refuses to merge or split birds without a word, and to read cells.
package identity

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// Sighting is one way in which a bird is named: every row with the same ring and name as typed, or with
// spellings that differ only in case, spaces, hyphens and width.
type Sighting struct {
	Ring, Name       string // as first written
	RingKey, NameKey string // equal for the same ring or name; a ring's colour goes before where rings have one
	RingAt, NameAt   record.Ref
	Facts            Facts
	Days             []record.Day // of its dated rows, in reading order
	Undated          int          // rows without a date
	Register         bool         // stands in a register or on a card
	Measured         bool         // stands beside a weight, a score or a finding
	Lone             bool         // has no name although its table has a column of them
	Doubt            *Doubt       // set by Identify
	Members          []*Sighting  // where it names several birds at once

	spellings []string // of the ring or name, as typed, beside the first
	bird      int      // index into Birds.All, or -1
}

// Spelt notes a ring and a name as typed, so that the keeper is told which spellings were taken as one.
func (s *Sighting) Spelt(ring, name string) {
	for _, text := range []struct{ typed, first string }{{ring, s.Ring}, {name, s.Name}} {
		if t := strings.TrimSpace(text.typed); t != "" && t != text.first && !slices.Contains(s.spellings, t) {
			s.spellings = append(s.spellings, t)
		}
	}
}

// spelt adds to the other spellings of a bird those of a sighting.
func (s *Sighting) spelt(aliases []string, b record.Bird) []string {
	for _, text := range append([]string{s.Ring, s.Name}, s.spellings...) {
		if text != "" && text != b.Ring && text != b.Name && text != b.ID && !slices.Contains(aliases, text) {
			aliases = append(aliases, text)
		}
	}
	return aliases
}

// Facts are a bird's own properties, as far as a row tells them.
type Facts struct {
	Colour, Breed, Variety, Line, Pen string
	Sex                               record.Sex
	Size                              record.Size
	Hatched                           record.Date
	At                                []record.Ref

	told []record.Told
}

// Fill takes over what f does not know yet and reports whether o contradicts f.
func (f *Facts) Fill(o Facts) (clash string) {
	text := func(what string, a *string, b string) {
		if *a == "" {
			*a = b
		} else if b != "" && parse.Fold(*a) != parse.Fold(b) && what != "" {
			clash = what
		}
	}
	text("", &f.Colour, o.Colour)
	text("breed", &f.Breed, o.Breed)
	text("", &f.Variety, o.Variety)
	text("", &f.Line, o.Line)
	if o.Pen != "" {
		f.Pen = o.Pen
	}
	if f.Sex == "" {
		f.Sex = o.Sex
	} else if o.Sex != "" && o.Sex != f.Sex {
		clash = "sex"
	}
	if f.Size == "" {
		f.Size = o.Size
	}
	if !f.Hatched.Known() || o.Hatched.Known() && o.Hatched.Precision > f.Hatched.Precision {
		if f.Hatched.Known() && (o.Hatched.Last < f.Hatched.First || o.Hatched.First > f.Hatched.Last) {
			clash = "hatch date"
		} else {
			f.Hatched = o.Hatched
		}
	} else if o.Hatched.Known() && (o.Hatched.Last < f.Hatched.First || o.Hatched.First > f.Hatched.Last) {
		clash = "hatch date"
	}
	f.At = append(f.At, o.At...)
	if len(o.told) == 0 && len(o.At) > 0 {
		f.told = append(f.told, record.Told{At: o.At[0], Sex: o.Sex, Breed: o.Breed, Variety: o.Variety, Line: o.Line, Size: o.Size, Hatched: o.Hatched})
	}
	f.told = append(f.told, o.told...)
	return clash
}

// within names what the sayings of one sighting contradict each other in: sex or hatch date. Breeds are written in too
// many ways to ask about each.
func (f Facts) within() (clash string) {
	var all Facts
	for _, t := range f.told {
		if c := all.Fill(Facts{Sex: t.Sex, Hatched: t.Hatched}); c != "" {
			clash = c
		}
	}
	return clash
}

// Doubt is what the keeper must be told about a sighting.
type Doubt struct {
	Class    string
	At       record.Ref
	Raw      string
	Message  string // without the place
	Readings []record.Reading
	Hold     bool // no record until it is settled; otherwise the records are marked
	Once     bool // tell it of the first row only, and mark none

	like *Sighting // a sighting that turns out to be the same bird
}

// See notes that a sighting was seen on a day, or without a date.
func (s *Sighting) See(on record.Date) {
	if on.Known() {
		s.Days = append(s.Days, on.First)
	} else {
		s.Undated++
	}
}

func (s *Sighting) n() int { return len(s.Days) + s.Undated }

func (s *Sighting) span() (first, last record.Day, ok bool) {
	if len(s.Days) == 0 {
		return 0, 0, false
	}
	return slices.Min(s.Days), slices.Max(s.Days), true
}

func (s *Sighting) at() record.Ref {
	if s.RingAt.Col != 0 {
		return s.RingAt
	}
	return s.NameAt
}

// id is the ring as the bird's key, with its colour where rings are told apart by colour.
func (s *Sighting) id() string {
	if s.Facts.Colour != "" && strings.Contains(s.RingKey, " ") {
		return s.Facts.Colour + " " + s.Ring
	}
	return s.Ring
}

func (s *Sighting) label() string {
	switch {
	case s.Ring == "":
		return s.Name
	case s.Name == "":
		return s.Ring
	}
	return s.Ring + " " + s.Name
}

// Birds says which bird each sighting is.
type Birds struct {
	All    []record.Bird // dropped ones keep their place; see Known
	facts  []Facts
	seen   [][]*Sighting    // of each bird
	byRing map[string][]int // ring key -> birds, in order of wearing
	byName map[string][]int // name key -> birds
	worn   map[int]wornBy   // bird -> interval in which it wears a re-used ring
	set    map[int]bool     // birds that flock.toml describes
}

type wornBy struct{ from, to record.Day }

// Identify decides which sightings are one bird. The evidence: the ring first, then the name; the same ring
// under names that are spelt alike is one bird and said so; under other names in separate times it is a ring
// that was used again. A Sighting that contradicts better founded ones is held and asked about.
func Identify(all []*Sighting, settings map[string]record.BirdSettings) *Birds {
	id := &Birds{byRing: map[string][]int{}, byName: map[string][]int{}, worn: map[int]wornBy{}, set: map[int]bool{}}
	for _, key := range slices.Sorted(maps.Keys(settings)) {
		id.settle(key, settings[key])
	}
	together(all)
	zeros(all)
	names := map[string][]*Sighting{} // name key -> sightings with a ring
	rings := map[string][]*Sighting{}
	var ringOrder []string
	for _, s := range all {
		s.bird = -1
		if s.RingKey == "" || s.Doubt != nil && s.Doubt.Hold {
			continue
		}
		if rings[s.RingKey] == nil {
			ringOrder = append(ringOrder, s.RingKey)
		}
		rings[s.RingKey] = append(rings[s.RingKey], s)
		if s.NameKey != "" {
			names[s.NameKey] = append(names[s.NameKey], s)
		}
	}
	for _, key := range ringOrder {
		id.ring(rings[key], names)
	}
	known := slices.ContainsFunc(all, func(s *Sighting) bool { return s.Measured || s.Register || s.RingKey != "" })
	for _, s := range all {
		if s.RingKey == "" && s.bird < 0 && s.Doubt == nil {
			id.name(s, known)
		}
	}
	id.rare(all)
	for i := range id.All {
		b, f := &id.All[i], &id.facts[i]
		for _, s := range id.seen[i] {
			b.Aliases = s.spelt(b.Aliases, *b)
			clash := s.Facts.within()
			if c := f.Fill(s.Facts); c != "" {
				clash = c
			}
			if clash == "sex" && id.set[i] && settings[b.ID].Sex != "" || clash == "hatch date" && id.set[i] && settings[b.ID].Hatched.Known() {
				continue // flock.toml says which is right
			}
			if clash != "" && s.Doubt == nil {
				s.Doubt = &Doubt{Class: "bird_facts_conflict", At: s.at(), Raw: s.label(), Once: true,
					Message: fmt.Sprintf("%s is written with two different entries for its %s; correct the wrong one, or write what is right in flock.toml under [birds.%q]", b.Label(), clash, b.ID)}
			}
		}
		b.Colour, b.Breed, b.Variety, b.Line, b.Pen = f.Colour, f.Breed, f.Variety, f.Line, f.Pen
		b.Sex, b.Size, b.At, b.Told = f.Sex, f.Size, f.At, f.told
		if !b.Hatched.Known() {
			b.Hatched = f.Hatched
		}
		if w, ok := id.worn[i]; ok {
			b.Ringed = record.Between(w.from, w.to)
		}
	}
	return id
}

// settle enters a bird that flock.toml describes.
func (id *Birds) settle(key string, s record.BirdSettings) {
	b := record.Bird{ID: key, Ring: s.Ring, Name: s.Name, Aliases: s.Aliases, Hatched: s.Hatched}
	i := id.add(b, parse.RingKey(b.Ring), parse.NameKey(b.Name))
	id.set[i] = true
	id.facts[i] = Facts{Sex: s.Sex, Breed: s.Breed, Size: s.Size, Line: s.Line, Hatched: s.Hatched}
	for _, a := range append([]string{key}, s.Aliases...) {
		if k := parse.NameKey(a); !slices.Contains(id.byName[k], i) {
			id.byName[k] = append(id.byName[k], i)
		}
		if k := parse.RingKey(a); !slices.Contains(id.byRing[k], i) {
			id.byRing[k] = append(id.byRing[k], i)
		}
	}
}

func (id *Birds) add(b record.Bird, ringKey, nameKey string) int {
	i := len(id.All)
	id.All = append(id.All, b)
	id.facts = append(id.facts, Facts{})
	id.seen = append(id.seen, nil)
	if k := parse.RingKey(b.Ring); k != "" {
		id.byRing[k] = append(id.byRing[k], i)
	}
	if k := parse.NameKey(b.Name); k != "" {
		id.byName[k] = append(id.byName[k], i)
	}
	return i
}

func (id *Birds) give(i int, s *Sighting) {
	s.bird = i
	id.seen[i] = append(id.seen[i], s)
	b := &id.All[i]
	if b.Ring == "" && s.Ring != "" {
		b.Ring = s.Ring
		id.byRing[s.RingKey] = append(id.byRing[s.RingKey], i)
	}
	if b.Name == "" && s.Name != "" {
		b.Name = s.Name
		id.byName[s.NameKey] = append(id.byName[s.NameKey], i)
	}
}

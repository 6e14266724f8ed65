package identity

import (
	"cmp"
	"fmt"
	"slices"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// claim is one name under one ring.
type claim struct {
	nameKey  string
	of       []*Sighting
	n        int
	register bool
	first    record.Day
	last     record.Day
	dated    bool
}

// claims groups the sightings under one ring by name, the best founded first.
func claims(under []*Sighting) []*claim {
	var out []*claim
	for _, s := range under {
		i := slices.IndexFunc(out, func(c *claim) bool { return c.nameKey == s.NameKey })
		if i < 0 {
			out = append(out, &claim{nameKey: s.NameKey})
			i = len(out) - 1
		}
		c := out[i]
		c.of, c.n, c.register = append(c.of, s), c.n+s.n(), c.register || s.Register
		if first, last, ok := s.span(); ok {
			if !c.dated || first < c.first {
				c.first = first
			}
			if !c.dated || last > c.last {
				c.last = last
			}
			c.dated = true
		}
	}
	// in the register, then the most rows, then as read
	slices.SortStableFunc(out, func(a, b *claim) int {
		if a.register != b.register {
			if a.register {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.n, a.n)
	})
	return out
}

// ring decides which birds wore one ring, from all sightings under it.
func (id *Birds) ring(under []*Sighting, names map[string][]*Sighting) {
	ringKey := under[0].RingKey
	var nameless []*Sighting
	var made []int
	made = append(made, id.byRing[ringKey]...) // settled by flock.toml
	all := claims(under)
	for _, c := range all {
		s := c.of[0]
		if c.nameKey == "" {
			nameless = append(nameless, c.of...)
			continue
		}
		if i := slices.IndexFunc(made, func(i int) bool {
			return slices.Contains(id.byName[c.nameKey], i) || id.All[i].Name == ""
		}); i >= 0 {
			id.giveAll(made[i], c.of)
			continue
		}
		if len(made) == 0 {
			if d := elsewhere(c, names); d != nil && c.n < d.n() && len(all) == 1 && alike(d.RingKey, ringKey) {
				// the same name under a ring that is spelt alike: "P1O3" for "P103"
				id.doubtAll(c.of, Doubt{Class: "ring_misspelt", At: s.RingAt, Raw: s.Ring, Hold: d.bird < 0 && len(names[c.nameKey]) == 0,
					Message:  fmt.Sprintf("ring %q stands beside %s, who wears ring %s elsewhere; is it the same bird?", s.Ring, s.Name, d.Ring),
					Readings: []record.Reading{{Label: d.label(), Value: d.Ring}}})
				for _, o := range c.of {
					o.Doubt.like = d // becomes the bird that the other sighting becomes
				}
				continue
			}
			id.giveAll(id.add(record.Bird{ID: s.id(), Ring: s.Ring, Name: s.Name}, ringKey, s.NameKey), c.of)
			made = append(made, len(id.All)-1)
			continue
		}
		main := made[0]
		other := elsewhere(c, names)
		switch {
		case other != nil && c.n <= other.n():
			id.doubtAll(c.of, Doubt{Class: "ring_name_mismatch", At: s.RingAt, Raw: s.label(), Hold: true,
				Message:  fmt.Sprintf("ring %s is worn by %s, but the name here is %s, who wears ring %s; which bird is it?", s.Ring, id.All[main].Name, s.Name, other.Ring),
				Readings: []record.Reading{{Label: id.All[main].Label(), Value: id.All[main].ID}, {Label: other.label(), Value: other.Ring}}})
		case (alike(c.nameKey, parse.NameKey(id.All[main].Name)) || c.n <= few && slip(c.nameKey, parse.NameKey(id.All[main].Name))) && !id.clashes(main, c):
			id.giveAll(main, c.of)
			id.All[main].Aliases = append(id.All[main].Aliases, s.Name)
			id.doubtAll(c.of, Doubt{Class: "bird_alias_suspect", At: s.NameAt, Raw: s.Name,
				Message:  fmt.Sprintf("ring %s stands beside %q and beside %q; read as one bird, is that right?", s.Ring, id.All[main].Name, s.Name),
				Readings: []record.Reading{{Label: "the same bird as " + id.All[main].Label(), Value: id.All[main].ID}, {Label: "another bird", Value: s.Name}}})
		case c.apart(id.seen, made):
			i := id.add(record.Bird{ID: s.id() + "/" + s.Name, Ring: s.Ring, Name: s.Name}, ringKey, s.NameKey)
			id.giveAll(i, c.of)
			made = append(made, i)
		default:
			id.doubtAll(c.of, Doubt{Class: "ring_name_mismatch", At: s.NameAt, Raw: s.label(), Hold: true,
				Message:  fmt.Sprintf("ring %s is worn by %s in the same time, but the name here is %s; which bird is it?", s.Ring, id.All[main].Name, s.Name),
				Readings: []record.Reading{{Label: id.All[main].Label(), Value: id.All[main].ID}, {Label: "a bird named " + s.Name, Value: s.Name}}})
		}
	}
	if len(made) > 1 {
		id.reused(ringKey, made)
	}
	if len(nameless) == 0 {
		return
	}
	for _, i := range made[min(1, len(made)):] { // told with the rows, where the names stand in a register only
		if s := id.seen[i]; len(s) > 0 && s[0].n() == 0 && s[0].Doubt != nil && s[0].Doubt.Class == "ring_reuse" && nameless[0].Doubt == nil {
			nameless[0].Doubt = s[0].Doubt
		}
	}
	if len(made) == 0 {
		made = append(made, id.add(record.Bird{ID: nameless[0].id(), Ring: nameless[0].Ring}, ringKey, ""))
	}
	for _, s := range nameless {
		s.bird = made[0] // where several wore the ring, the date decides: see Of
		id.seen[made[0]] = append(id.seen[made[0]], s)
	}
}

func (id *Birds) giveAll(i int, of []*Sighting) {
	for _, s := range of {
		id.give(i, s)
	}
}

func (id *Birds) doubtAll(of []*Sighting, d Doubt) {
	for _, s := range of {
		e := d
		e.At = s.at()
		if d.Raw == s.Name && s.NameAt.Col != 0 {
			e.At = s.NameAt
		}
		s.Doubt = &e
	}
}

// elsewhere returns the best founded other ring of the same name, or nil.
func elsewhere(c *claim, names map[string][]*Sighting) *Sighting {
	var best *Sighting
	for _, s := range names[c.nameKey] {
		if s.RingKey != c.of[0].RingKey && (best == nil || s.n() > best.n()) {
			best = s
		}
	}
	return best
}

// clashes reports whether a claim's facts contradict those of a bird.
func (id *Birds) clashes(i int, c *claim) bool {
	var f Facts
	for _, s := range id.seen[i] {
		f.Fill(s.Facts)
	}
	for _, s := range c.of {
		g := f
		if g.Fill(s.Facts) != "" {
			return true
		}
	}
	return false
}

// apart reports whether the claim's rows lie wholly before or after those of every bird in made.
func (c *claim) apart(seen [][]*Sighting, made []int) bool {
	if !c.dated {
		return c.register
	}
	for _, i := range made {
		for _, s := range seen[i] {
			if first, last, ok := s.span(); ok && c.first <= last && first <= c.last {
				return false
			}
		}
	}
	return true
}

// fromWords is the day from which a bird wears a ring, "" where that is not known.
func fromWords(d record.Day) string {
	if d == never || d == -1<<31 {
		return ""
	}
	return d.String()
}

// never is later than any day.
const never = record.Day(1<<31 - 1)

// reused orders the birds that wore one ring and says so at the first row of each later one.
func (id *Birds) reused(ringKey string, made []int) {
	hatched := func(i int) record.Day {
		d := never
		if h := id.facts[i].Hatched; h.Known() {
			d = h.First
		}
		for _, s := range id.seen[i] {
			if h := s.Facts.Hatched; h.Known() {
				d = min(d, h.First)
			}
		}
		return d
	}
	anyHatched := slices.ContainsFunc(made, func(i int) bool { return hatched(i) < never })
	first := func(i int) record.Day {
		d := never
		for _, s := range id.seen[i] {
			if f, _, ok := s.span(); ok {
				d = min(d, f)
			}
		}
		if d == never { // only registers name it: it wore the ring from when it hatched, or before one that did
			if d = hatched(i); d == never && anyHatched {
				d = -1 << 31
			}
		}
		return d
	}
	slices.SortStableFunc(made, func(a, b int) int { return cmp.Compare(first(a), first(b)) })
	id.byRing[ringKey] = made
	for k, i := range made {
		w := wornBy{first(i), never}
		if k == 0 {
			w.from = -1 << 31
		}
		if k+1 < len(made) {
			w.to = first(made[k+1]) - 1
		}
		id.worn[i] = w
		if k == 0 || len(id.seen[i]) == 0 {
			continue
		}
		s, before := id.seen[i][0], id.All[made[k-1]]
		if s.Doubt == nil {
			s.Doubt = &Doubt{Class: "ring_reuse", At: s.RingAt, Raw: s.Ring, Once: true,
				Message:  fmt.Sprintf("ring %s was worn by %s before %s; kept as two birds, is that right?", s.Ring, before.Name, cmp.Or(fromWords(w.from), id.All[i].Name)),
				Readings: []record.Reading{{Label: "two birds", Value: "two"}, {Label: "one bird", Value: before.ID}}}
		}
	}
}

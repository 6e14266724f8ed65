package slip

import (
	"cmp"
	"fmt"
	"slices"

	"keelmark/ingest/record"
)

// row is the line of a sheet in which a cell stands.
func row(at record.Ref) record.Ref { return record.Ref{File: at.File, Sheet: at.Sheet, Row: at.Row} }

// otherBird says in what the row of weighing i contradicts what earlier rows say of the bird: its sex, or a hatch date
// after they were written; "" where in nothing.
func (h *history) otherBird(i int) string {
	k := slices.IndexFunc(h.bird.Told, func(t record.Told) bool { return row(t.At) == row(h.w[i].obs.At) })
	if k < 0 {
		return ""
	}
	now := h.bird.Told[k]
	for _, t := range h.bird.Told[:k] {
		if t.Sex != "" && now.Sex != "" && t.Sex != now.Sex {
			return fmt.Sprintf("the rows say %s before and %s then", sexWord(t.Sex), sexWord(now.Sex))
		}
	}
	if before := h.w[i-1].obs.On; now.Hatched.Known() && before.Known() && now.Hatched.First > before.Last {
		return fmt.Sprintf("the row says that it hatched %s", now.Hatched)
	}
	return ""
}

func sexWord(s record.Sex) string {
	if s == record.Male {
		return "male"
	}
	return "female"
}

// withoutConflict drops the question about two entries for a bird's sex or hatch date, which a finding that the ring
// changed its wearer asks more plainly.
func withoutConflict(d *record.Dataset, f Finding) {
	mine := map[record.Ref]bool{}
	for _, b := range d.Birds {
		if b.ID == f.Bird {
			for _, t := range b.Told {
				mine[row(t.At)] = true
			}
		}
	}
	d.Questions = slices.DeleteFunc(d.Questions, func(q record.Question) bool {
		return q.Class == "bird_facts_conflict" && mine[row(q.At)]
	})
}

// split makes a second bird of the one that wore the ring before: it has all records from the day of the finding on.
// What each of them is, its own rows say.
func (f Finding) split(d *record.Dataset) bool {
	i := slices.IndexFunc(d.Observations, func(o record.Observation) bool { return o.Trait == record.Weight && o.At == f.At })
	if i < 0 || !d.Observations[i].On.Known() {
		return false
	}
	first, from := d.Observations[i].Bird, d.Observations[i].On.First
	k := slices.IndexFunc(d.Birds, func(b record.Bird) bool { return b.ID == first })
	if k < 0 {
		return false
	}
	before := d.Birds[k]
	second := record.Bird{ID: first + " (2)", Ring: before.Ring, Colour: before.Colour}
	for n := 3; slices.ContainsFunc(d.Birds, func(b record.Bird) bool { return b.ID == second.ID }); n++ {
		second.ID = fmt.Sprintf("%s (%d)", first, n)
	}
	days := map[record.Ref]record.Date{} // of the rows that are about the bird
	for _, o := range d.Observations {
		if o.Bird == first && o.On.Known() {
			days[row(o.At)] = o.On
		}
	}
	for _, e := range d.Events {
		if e.Bird == first && e.On.Known() {
			days[row(e.At)] = e.On
		}
	}
	var kept []record.Told
	for _, t := range before.Told {
		on, dated := days[row(t.At)]
		if dated && on.First >= from || !dated && t.Hatched.Known() && t.Hatched.First >= from {
			second.Told = append(second.Told, t)
		} else {
			kept = append(kept, t)
		}
	}
	if len(before.Told) == 0 { // nobody said anything of either
		second.Breed, second.Size = before.Breed, before.Size
	}
	second.At = []record.Ref{f.At}
	for _, t := range second.Told {
		second.At = append(second.At, t.At)
		tell(&second, t)
	}
	slices.SortFunc(second.At, record.Ref.Compare)
	second.At = slices.Compact(second.At)
	disown(&d.Birds[k], second.Told, kept)
	for i := range d.Observations {
		o := &d.Observations[i]
		switch {
		case o.Bird != first || !o.On.Known():
		case o.On.First >= from:
			o.Bird, o.Age = second.ID, ageAt(second, o.On)
		case d.Birds[k].Hatched != before.Hatched:
			o.Age = ageAt(d.Birds[k], o.On)
		}
	}
	for i := range d.Events {
		if e := &d.Events[i]; e.Bird == first && e.On.Known() && e.On.First >= from {
			e.Bird = second.ID
		}
	}
	d.Birds = append(d.Birds, second)
	return true
}

func ageAt(b record.Bird, on record.Date) record.Age {
	if !b.Hatched.Exact() || !on.Exact() || on.First < b.Hatched.First {
		return record.Age{}
	}
	return record.AgeDays(int(on.First - b.Hatched.First))
}

// tell fills what a bird does not know yet of itself.
func tell(b *record.Bird, t record.Told) {
	b.Sex, b.Breed, b.Variety = cmp.Or(b.Sex, t.Sex), cmp.Or(b.Breed, t.Breed), cmp.Or(b.Variety, t.Variety)
	b.Line, b.Size = cmp.Or(b.Line, t.Line), cmp.Or(b.Size, t.Size)
	if t.Hatched.Precision > b.Hatched.Precision {
		b.Hatched = t.Hatched
	}
}

// disown takes from a bird what only the rows of another say of it. What no row says, flock.toml does, and stays.
func disown(b *record.Bird, others, own []record.Told) {
	var mine record.Bird
	for _, t := range own {
		tell(&mine, t)
	}
	for _, t := range others {
		if b.Sex == t.Sex {
			b.Sex = mine.Sex
		}
		if b.Breed == t.Breed {
			b.Breed = mine.Breed
		}
		if b.Variety == t.Variety {
			b.Variety = mine.Variety
		}
		if b.Line == t.Line {
			b.Line = mine.Line
		}
		if b.Size == t.Size {
			b.Size = mine.Size
		}
		if b.Hatched == t.Hatched {
			b.Hatched = mine.Hatched
		}
	}
	b.Told = own
	b.At = slices.DeleteFunc(slices.Clone(b.At), func(at record.Ref) bool {
		return slices.ContainsFunc(others, func(t record.Told) bool { return t.At == at })
	})
}

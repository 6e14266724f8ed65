package record

import "sort"

// Dataset is all that is known of one flock: what was read and what became of the rest.
//
// Where a column of flocks splits a source, Files stand with each of its flocks, and the Ledgers, which account
// for whole sheets, with the first flock only: sums over flocks count every cell once.
type Dataset struct {
	Name         string // folder or file it came from, or the flock's name in its settings
	Settings     Settings
	Birds        []Bird
	Observations []Observation
	Events       []Event
	Questions    []Question
	Rejects      []Reject
	Asides       []Aside
	Files        []File
	Ledgers      []Ledger
	Standards    []PublishedWeight // the keeper's own table of weights; they come before published ones
	Answers      map[string]string // what the keeper has answered, by the question's key; may be nil
}

// Bird finds a bird by ID, ring, name or alias. An ID wins over a ring, a ring over a name. It returns false
// where none or more than one bird of the best kind fits.
func (d *Dataset) Bird(key string) (Bird, bool) {
	for _, same := range []func(Bird) bool{
		func(b Bird) bool { return b.ID == key },
		func(b Bird) bool { return b.Ring == key },
		func(b Bird) bool { return b.Name == key },
		func(b Bird) bool {
			for _, a := range b.Aliases {
				if a == key {
					return true
				}
			}
			return false
		},
	} {
		found, n := Bird{}, 0
		for _, b := range d.Birds {
			if same(b) {
				found, n = b, n+1
			}
		}
		if n > 0 {
			return found, n == 1
		}
	}
	return Bird{}, false
}

// Of returns the observations of one trait and bird, oldest first: by date, else by age, else by place.
func (d *Dataset) Of(bird string, t Trait) []Observation {
	var out []Observation
	for _, o := range d.Observations {
		if o.Bird == bird && o.Trait == t {
			out = append(out, o)
		}
	}
	SortObservations(out)
	return out
}

// ByBird groups the observations of one trait by bird, each group oldest first.
func (d *Dataset) ByBird(t Trait) map[string][]Observation {
	groups := make(map[string][]Observation)
	for _, o := range d.Observations {
		if o.Trait == t {
			groups[o.Bird] = append(groups[o.Bird], o)
		}
	}
	for _, g := range groups {
		SortObservations(g)
	}
	return groups
}

// SortObservations orders observations by date, then age, then place.
func SortObservations(obs []Observation) {
	sort.SliceStable(obs, func(i, j int) bool {
		a, b := obs[i], obs[j]
		switch {
		case a.On.First != b.On.First:
			return a.On.First < b.On.First
		case a.Age.days != b.Age.days:
			return a.Age.days < b.Age.days
		}
		return a.At.Compare(b.At) < 0
	})
}

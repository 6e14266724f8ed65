package season

import (
	"math"

	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// grownDays is the age from which a bird counts as grown. Source: common practice, no source (classes of shows change
// at a year).
const grownDays = 365

// untold is the smallest part of the yearly wave that age must leave unexplained. Source: Keelmark's choice: below a
// fifth the two cannot be told apart (a variance inflation above 5, a common rule).
const untold = 0.2

// Ages says how far the birds' ages and the time of year are the same thing in the looks.
type Ages struct {
	Known  int     // looks with a known age
	Young  int     // of those, at birds under a year
	Untold float64 // part of the yearly wave that age does not explain, 0 to 1; 1 where no age is known
}

// Aliased reports whether age and time of year cannot be told apart.
func (a Ages) Aliased() bool { return a.Known > 0 && a.Untold < untold }

// ages compares the time of year of looks with the age of the birds in steps of eight weeks; grown birds are one step.
//
// Source: Keelmark's domain notes 4.3; share of variance between groups, one-way analysis of variance.
func ages(looks []parasite.Look, hatched map[string]record.Date) Ages {
	const step = 56
	type group struct{ n, c, s float64 }
	var groups [grownDays/step + 2]group
	var all group
	a := Ages{Untold: 1}
	for _, l := range looks {
		age, ok := ageAt(l, hatched)
		if !ok {
			continue
		}
		a.Known++
		k := len(groups) - 1
		if age < grownDays {
			a.Young++
			k = age / step
		}
		sin, cos := math.Sincos(phase(l.On.Middle()))
		g := &groups[k]
		g.n, g.c, g.s = g.n+1, g.c+cos, g.s+sin
		all.n, all.c, all.s = all.n+1, all.c+cos, all.s+sin
	}
	if a.Known < 2 {
		return a
	}
	// Cosine and sine together have squares that sum to the number of looks.
	total := all.n - (all.c*all.c+all.s*all.s)/all.n
	within := all.n
	for _, g := range groups {
		if g.n > 0 {
			within -= (g.c*g.c + g.s*g.s) / g.n
		}
	}
	if total > 1e-9 {
		a.Untold = max(0, within/total)
	}
	return a
}

func ageAt(l parasite.Look, hatched map[string]record.Date) (days int, ok bool) {
	h := hatched[l.Bird]
	if l.Bird == "" || !h.Known() {
		return 0, false
	}
	days = int(l.On.Middle() - h.Middle())
	return days, days >= 0
}

// grown are the looks at birds of a year or more.
func grown(looks []parasite.Look, hatched map[string]record.Date) []parasite.Look {
	var out []parasite.Look
	for _, l := range looks {
		if age, ok := ageAt(l, hatched); ok && age >= grownDays {
			out = append(out, l)
		}
	}
	return out
}

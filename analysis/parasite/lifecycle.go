package parasite

import (
	"strconv"

	"keelmark/ingest/record"
)

// Days is a range of days; sources disagree, so no single number is kept. Both 0 means not known.
type Days struct{ Low, High float64 }

// LifeCycle is what is published about one parasite.
type LifeCycle struct {
	Parasite string
	Egg      Days // laying to hatching
	ToAdult  Days // hatching to laying adult
	Whole    Days // egg to egg
	OffHost  Days // survival away from a bird
	OnBird   bool // false: lives in the house and visits birds at night
	Where    string
	// Again is the window, in days after a first treatment, in which a second reaches what has hatched since and
	// has not laid yet. It comes from the cycle above, not from any product.
	Again       Days
	AgainReason string
	Source      string
}

// LifeCycles lists the published ranges, in the order in which reports print them.
//
// Source: each row names its own; the window of Again for lice follows from the cycle as derived beside it.
func LifeCycles() []LifeCycle {
	const lice = "Merck Veterinary Manual, Lice of poultry (2013): about 3 weeks; University of Georgia Extension 2010: 18-21 d; " +
		"Murillo et al. 2024 Parasites & Vectors: 2-3 weeks; Chen & Mullens 2008 J Econ Entomol 101:637 (off the bird)"
	const liceAgain = "eggs laid until the first treatment hatch within 7 days, and the first of them lays again from about day 10"
	return []LifeCycle{
		{record.Lice, Days{4, 7}, Days{10, 14}, Days{14, 21}, Days{0.5, 7}, true, "vent, breast, thighs; eggs at the feather base",
			Days{7, 10}, liceAgain, lice},
		{record.BodyLouse, Days{4, 7}, Days{10, 14}, Days{14, 21}, Days{0.5, 5.8}, true, "vent, breast, thighs; egg clusters at the feather base",
			Days{7, 10}, liceAgain, lice + "; North Carolina State University AG-369"},
		{record.ShaftLouse, Days{4, 7}, Days{14, 21}, Days{18, 25}, Days{0, 7}, true, "feather shafts",
			Days{7, 10}, liceAgain, "extension texts on lice in general"},
		{record.HeadLouse, Days{4, 7}, Days{14, 21}, Days{18, 25}, Days{0, 7}, true, "head and neck",
			Days{7, 10}, liceAgain, "extension texts on lice in general"},
		{record.NorthernFowlMite, Days{1, 2}, Days{4, 7}, Days{5, 7}, Days{7, 35}, true, "vent; scattered on males",
			Days{5, 7}, "one generation takes 5 to 7 days", "University of Florida IG141; Chen & Mullens 2008 J Econ Entomol 101:637"},
		{record.RedMite, Days{1, 3}, Days{5, 6}, Days{7, 14}, Days{120, 270}, false, "cracks of the house; on birds at night",
			Days{7, 7}, "in one field trial the house was treated twice, 7 days apart", "Meyer-Kühling et al. 2007 Vet Parasitol 147:289; secondary pages on the cycle"},
		{record.ScalyLegMite, Days{}, Days{}, Days{10, 21}, Days{}, true, "under the leg scales",
			Days{}, "in 36 backyard farms one application did as well as two 11 days apart", "Christodoulopoulos et al. 2025 Br Poult Sci"},
	}
}

// LifeCycleOf returns the published ranges of a parasite, and false where none are kept.
func LifeCycleOf(parasite string) (LifeCycle, bool) {
	for _, l := range LifeCycles() {
		if l.Parasite == parasite {
			return l, true
		}
	}
	return LifeCycle{}, false
}

// text prints a range of days, "" where it is not known.
func (d Days) text() string {
	switch {
	case d == Days{}:
		return ""
	case d.Low == d.High:
		return strconv.FormatFloat(d.Low, 'g', 3, 64)
	}
	return strconv.FormatFloat(d.Low, 'g', 3, 64) + "-" + strconv.FormatFloat(d.High, 'g', 3, 64)
}

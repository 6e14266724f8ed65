package record

// Trait names what an observation measures. Its properties stand in one row of the trait table.
type Trait string

// The traits. A numeric trait is added by one constant and one row of the table below.
const (
	Weight    Trait = "weight"
	Condition Trait = "condition"
	Feather   Trait = "feather"
	Leg       Trait = "leg"
	Comb      Trait = "comb"
	Parasite  Trait = "parasite"
	EggCount  Trait = "egg_count"
	WormEggs  Trait = "worm_eggs"
)

// TraitSpec describes a trait: its base unit, whether it needs a declared scale, and the values that any
// bird could have. A value outside Low..High is held out and asked about, never dropped.
type TraitSpec struct {
	Trait  Trait
	Label  string // for headings
	Unit   string // base unit; "" for a score
	Scored bool   // values lie on a scale that must be declared
	Low    float64
	High   float64
}

// Traits is the trait table.
//
// Source: weight limits 15 g and 8 kg are common practice, no source (below any day-old bantam chick, above
// any fowl); the others only exclude what cannot be meant.
func Traits() []TraitSpec {
	return []TraitSpec{
		{Weight, "weight", "g", false, 15, 8000},
		{Condition, "condition", "", true, 0, 10},
		{Feather, "feather", "", true, 0, 20},
		{Leg, "legs", "", true, 0, 10},
		{Comb, "comb", "", true, 0, 10},
		{Parasite, "parasites", "", false, 0, 1e6},
		{EggCount, "eggs", "eggs", false, 0, 1000},
		{WormEggs, "worm eggs", "epg", false, 0, 1e6},
	}
}

// Lookup returns the row of a trait.
func (t Trait) Lookup() (TraitSpec, bool) {
	for _, s := range Traits() {
		if s.Trait == t {
			return s, true
		}
	}
	return TraitSpec{}, false
}

// The parasites that are told apart. Mites and Lice stand for "kind not said".
const (
	Lice             = "lice"
	BodyLouse        = "body louse"
	ShaftLouse       = "shaft louse"
	HeadLouse        = "head louse"
	Mites            = "mites"
	NorthernFowlMite = "northern fowl mite"
	RedMite          = "red mite"
	ScalyLegMite     = "scaly leg mite"
)

// Form says what kind of number an observation holds.
type Form string

// The forms. Measured is an amount in the trait's base unit; the others are as the keeper wrote them.
const (
	Measured Form = ""          // Value, in the base unit
	Count    Form = "count"     // Value
	Ordinal  Form = "ordinal"   // Value on Scale
	Range    Form = "range"     // Lo to Hi, both included
	MoreThan Form = "more_than" // more than Lo
	LessThan Form = "less_than" // less than Hi
	AtLeast  Form = "at_least"  // Lo or more
	Present  Form = "present"   // Value 1 found, 0 looked and not found
)

package story

import "math"

// eye is how well looks see.
type eye struct{ grown, young float64 } // sensitivity where there are full-grown ones; where all are pale and small

// eyes are the sensitivities over which stories are averaged. Source: Keelmark's statistics C; an assumption.
func eyes() []eye {
	var out []eye
	for _, s := range []float64{0.5, 0.6, 0.7, 0.8, 0.9} {
		for _, part := range []float64{0.45, 0.65, 0.85} {
			out = append(out, eye{s, s * part})
		}
	}
	return out
}

// What is taken for granted of notes and slips of the eye. Source: an assumption.
const (
	mistaken   = 0.01 // chance that a look finds what is not there
	saysYoung  = 0.85 // chance that a note of the stage says "young" where all are
	wrongYoung = 0.12 // and where grown ones are among them
)

// load is what a bird carries.
type load uint8

const (
	empty load = iota
	pale       // only nymphs
	grown
)

// sees is the chance of one look's outcome at a bird with a load.
func (e eye) sees(l After, at load) float64 {
	p, young := mistaken, 0.5
	switch at {
	case pale:
		p, young = e.young, saysYoung
	case grown:
		p, young = e.grown, wrongYoung
	}
	if !l.Found {
		return 1 - p
	}
	switch l.Stage {
	case Young:
		return p * young
	case Grown:
		return p * (1 - young)
	}
	return p
}

// chance is that of all looks, for a load that depends on the day.
func (e eye) chance(looks []After, at func(day float64) load) float64 {
	p := 1.0
	for _, l := range looks {
		p *= e.sees(l, at(l.Day))
	}
	return p
}

// times are what a story depends on, in days after the first treatment; second 0 for none.
type times struct{ second, egg, grown float64 }

// laying is how long after becoming adult a louse lays. Source: 2-3 days, extension texts (Keelmark's domain notes 3.1).
const laying = 2.5

// brood is the load of a bird on which eggs hatch after the treatment and nothing else lives: nymphs at once, for the
// oldest eggs are due, and grown ones once those have grown up. after is what the second treatment leaves.
func (t times) brood(after bool) func(float64) load {
	return func(day float64) load {
		switch {
		case t.second > 0 && day > t.second && !after:
			return empty
		case t.second > 0 && day > t.second: // hatched since the second treatment
			if day < max(t.second, t.egg)+t.grown {
				return pale
			}
			return grown
		case day < t.grown+1:
			return pale
		}
		return grown
	}
}

// again is the chance that eggs outlast the second treatment: it came before the last old ones had hatched, or after the
// first new ones had been laid.
func (t times) again() float64 {
	switch {
	case t.second == 0:
		return 0
	case t.second > t.grown+laying:
		return 1
	case t.second < t.egg:
		return (t.egg - t.second) / t.egg
	}
	return 0
}

func (t times) hatch(b Bird, h float64, e eye) float64 {
	none := e.chance(b.Looks, func(float64) load { return empty })
	p := t.again()
	brood := (1-p)*e.chance(b.Looks, t.brood(false)) + p*e.chance(b.Looks, t.brood(true))
	return b.Carried*h*brood + (1-b.Carried*h)*none
}

// survive is the likelihood where a share q of carriers keeps live ones through the first treatment, and a share again of
// those through the second; on a share h of the others eggs hatch as in the story of the hatch.
func (t times) survive(b Bird, q, again, h float64, e eye) float64 {
	through := e.chance(b.Looks, func(float64) load { return grown })
	if t.second > 0 {
		until := e.chance(b.Looks, func(day float64) load {
			if day > t.second {
				return empty
			}
			return grown
		})
		through = again*through + (1-again)*until
	}
	rest := e.chance(b.Looks, func(float64) load { return empty })
	if h > 0 {
		rest = t.hatch(Bird{1, b.Looks}, h, e)
	}
	none := e.chance(b.Looks, func(float64) load { return empty })
	return b.Carried*(q*through+(1-q)*rest) + (1-b.Carried)*none
}

// arrive is the likelihood where new ones come in on a day and in the end reach a share of the birds, at a pace in days.
// A second treatment ends what came before it; carriers before are all cleared.
func arrive(b Bird, day, reach, pace, second float64, e eye) float64 {
	// The bird is reached between two looks; the outcome depends only on between which.
	by := func(d float64) float64 {
		if d <= day {
			return 0
		}
		return reach * (1 - math.Exp(-(d-day)/pace))
	}
	var p, last float64
	for i := range b.Looks {
		from := b.Looks[i].Day
		at := by(from)
		p += (at - last) * e.chance(b.Looks, func(d float64) load {
			if d < from || second > 0 && from <= second && d > second {
				return empty
			}
			return grown
		})
		last = at
	}
	return p + (1-last)*e.chance(b.Looks, func(float64) load { return empty })
}

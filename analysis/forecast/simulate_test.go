package forecast

import (
	"math"
	"math/rand/v2"
)

// flockDesign is an invented flock of one line and sex, weighed at regular ages.
type flockDesign struct {
	birds      int
	last, step float64 // weeks; the first weighing is at week 2
	noise      float64 // relative SD of a good weighing
	bad        float64 // share of weighings off by 10 to 30 %
	shape      float64
	relatives  int     // of the same line, followed to 30 weeks
	setback    float64 // log weight lost by the whole flock at 9 to 11 weeks, regained slowly
}

// simulated is a flock with its truths.
type simulated struct {
	tracks []track
	later  []float64 // log of a good weighing 4 weeks after the last
	adult  []float64 // log of the weight at 60 weeks
}

// simulate draws the flock: the line differs from the breed table (800 g) by SD 12 % in mature weight, 15 % in
// rate and 12 % in age at inflection, birds within it by 12, 12 and 10 %.
func simulate(r *rand.Rand, d flockDesign) simulated {
	lineA, lineK, lineT := math.Log(800)+0.12*r.NormFloat64(), math.Log(0.167)+0.15*r.NormFloat64(), math.Log(8.5)+0.12*r.NormFloat64()
	var out simulated
	for i := range d.birds + d.relatives {
		c := newCurve(lineA+0.12*r.NormFloat64(), lineK+0.12*r.NormFloat64(), lineT+0.10*r.NormFloat64(), d.shape)
		last, born := d.last, 0.0
		if i >= d.birds {
			last, born = 30, -730
		}
		weight := func(age float64) float64 {
			f, _, _, ok := c.at(age)
			if !ok {
				return math.Log(5)
			}
			if d.setback > 0 && i < d.birds && age > 9 {
				f -= d.setback * min(1, (age-9)/2) * math.Exp(-max(0, age-11)/10)
			}
			return f
		}
		var ages, logs, days []float64
		for age := 2.0; age <= last+1e-9; age += d.step {
			e := d.noise * r.NormFloat64()
			if r.Float64() < d.bad {
				off := math.Log1p(0.1 + 0.2*r.Float64())
				if r.IntN(2) == 0 {
					off = -off
				}
				e += off
			}
			ages, logs, days = append(ages, age), append(logs, weight(age)+e), append(days, 7*age+born)
		}
		out.tracks = append(out.tracks, newTrack(ages, logs, days))
		if i < d.birds {
			out.later = append(out.later, weight(last+4)+d.noise*r.NormFloat64())
			out.adult = append(out.adult, weight(60))
		}
	}
	return out
}

package forecast

import (
	"math"
	"math/rand/v2"

	"keelmark/analysis/forecast/invent"
	"keelmark/analysis/forecast/pooled"
)

// simulated is an invented flock as the sampler takes it, with the logarithms of its truths.
type simulated struct {
	tracks []pooled.Track
	later  []float64 // a good weighing 4 weeks after the last
	adult  []float64 // the weight at 60 weeks
}

func simulate(r *rand.Rand, d invent.Design) simulated {
	f := d.Flock(r)
	var out simulated
	by := f.Data.ByBird("weight")
	for _, b := range f.Data.Birds {
		ws, _, _ := weighings(by[b.ID], b.Hatched, f.Today, false)
		out.tracks = append(out.tracks, trackOf(ws))
	}
	for _, t := range f.Truth {
		out.later, out.adult = append(out.later, math.Log(t.Later)), append(out.adult, math.Log(t.Adult))
	}
	return out
}

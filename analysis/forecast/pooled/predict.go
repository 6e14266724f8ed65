package pooled

import (
	"math"

	"keelmark/analysis/forecast/dense"
	"keelmark/analysis/standard"
)

// leastWeight of a reading within a draw, below which it is left out.
const leastWeight = 0.01

// Weighing is the prediction of one good weighing of a bird, in g, at an age in weeks; with the scale's error left out it
// is the bird's own weight. every is 1, or more to use only each so many-th draw where a figure needs speed.
func (p Posterior) Weighing(bird int, age float64, withError bool, every int) standard.Predictive {
	t := &p.birds[bird]
	out := standard.Predictive{Parts: make([]standard.Part, 0, len(p.draws))}
	for i := 0; i < len(p.draws); i += every {
		d := &p.draws[i]
		for r, m := range d.birds[bird] {
			if m.weight < leastWeight {
				continue
			}
			mean, variance, ok := d.pool.at(t, p.readings[bird][r].bad, m, age)
			if !ok {
				continue
			}
			if withError {
				variance += d.pool.noise * d.pool.noise
			}
			out.Parts = append(out.Parts, standard.Part{Weight: d.weight * m.weight, Mean: mean, SD: math.Sqrt(variance)})
		}
	}
	return out
}

// at is mean and variance of a bird's log weight at an age before, between or after its weighings. ok is false
// where its curve has no weight at the age.
func (p *pool) at(t *Track, bad []bool, m mode, age float64) (mean, variance float64, ok bool) {
	own := p.own(m.x)
	f, slopeK, slopeT, ok := own.at(age)
	if !ok {
		return 0, 0, false
	}
	slope := [effects]float64{p.spread[0], p.spread[1] * slopeK, p.spread[2] * slopeT}
	var along [effects + 1]drift
	var s spread
	before, passed := 0.0, false
	pass := func() {
		to := p.path(before, age)
		s.along(&to)
		for i := range along {
			along[i].deviation += to.run * along[i].rate
			along[i].rate *= to.keep
			along[i].point = along[i].deviation
		}
		s.point, s.pointDeviation, s.pointRate = s.deviation, s.deviation, s.both
		before, passed = age, true
	}
	for j, weighed := range t.Ages {
		if !passed && age <= weighed {
			pass()
		}
		to := p.path(before, weighed)
		before = weighed
		s.along(&to)
		g := s.see(p.variance(bad[j]))
		f, slopeK, slopeT, ok := own.at(weighed)
		if !ok {
			return 0, 0, false
		}
		for i, seen := range [effects + 1]float64{t.Logs[j] - f, p.spread[0], p.spread[1] * slopeK, p.spread[2] * slopeT} {
			along[i].news(&to, &g, seen)
		}
	}
	if !passed {
		pass()
	}
	for i := range slope {
		slope[i] -= along[i+1].point
	}
	m.root.Forward(slope[:])
	return f + along[0].point, dense.Dot(slope[:], slope[:]) + max(0, s.point), true
}

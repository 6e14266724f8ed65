package forecast

import (
	"math"

	"keelmark/analysis/standard"
)

// leastWeight of a reading within a draw, below which it is left out.
const leastWeight = 0.01

// weighing is the prediction of one good weighing of a bird at an age in weeks; with the scale's error left out it
// is the bird's own weight. every is 1, or more to use only each so many-th draw where a figure needs speed.
func (p posterior) weighing(birds []track, bird int, age float64, withError bool, every int) standard.Predictive {
	t := &birds[bird]
	out := standard.Predictive{Parts: make([]standard.Part, 0, len(p.draws))}
	slope := make([]float64, t.dims())
	for i := 0; i < len(p.draws); i += every {
		d := &p.draws[i]
		extra := d.pool.ahead(t, age)
		if withError {
			extra += d.pool.noise * d.pool.noise
		}
		bend := d.pool.bend(t.spaced)
		for _, m := range d.birds[bird] {
			own := d.pool.own(m.x)
			f, slopeK, slopeT, ok := own.at(age)
			if !ok || m.weight < leastWeight {
				continue
			}
			slope[0], slope[1], slope[2] = d.pool.spread[0], d.pool.spread[1]*slopeK, d.pool.spread[2]*slopeT
			for k, knot := range t.knots {
				b := bend * d.pool.bendGain(knot, age)
				f += b * m.x[3+k]
				slope[3+k] = b
			}
			m.root.forward(slope)
			out.Parts = append(out.Parts, standard.Part{Weight: d.weight * m.weight, Mean: f, SD: math.Sqrt(dot(slope, slope) + extra)})
		}
	}
	return out
}

// ahead is the variance that bends after the last weighing add by an age.
func (p *pool) ahead(t *track, age float64) float64 {
	last := t.ages[len(t.ages)-1]
	sd := p.bend(t.spaced)
	sum := 0.0
	for knot := last + t.spaced/2; knot < age; knot += t.spaced {
		b := sd * p.bendGain(knot, age)
		if sum += b * b; b < 1e-4 {
			break
		}
	}
	return sum
}

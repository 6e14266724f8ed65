package pooled

import (
	"math"
	"slices"

	"keelmark/analysis"
)

// Summary is the median and 90 % interval of what the birds of a line have in common.
type Summary struct {
	Mature     analysis.Estimate // weight in g
	Inflection analysis.Estimate // age in weeks
	Rate       analysis.Estimate // per week
	Shape      analysis.Estimate // 0 Gompertz, 1 logistic
	Scatter    analysis.Estimate // SD of a good weighing, as a share
	Spread     analysis.Estimate // SD of birds in mature weight, as a share
}

// Summary sums up the line.
func (p *Posterior) Summary() Summary {
	return Summary{
		Mature:     p.estimate("g", func(p *pool) float64 { return math.Exp(p.mean.logA) }),
		Inflection: p.estimate("weeks", func(p *pool) float64 { return p.mean.ti }),
		Rate:       p.estimate("per week", func(p *pool) float64 { return p.mean.k }),
		Shape:      p.estimate("", func(p *pool) float64 { return p.mean.nu }),
		Scatter:    p.estimate("", func(p *pool) float64 { return p.noise }),
		Spread:     p.estimate("", func(p *pool) float64 { return p.spread[0] }),
	}
}

// estimate is the median and 90 % interval of a quantity of the pool.
func (p *Posterior) estimate(unit string, of func(*pool) float64) analysis.Estimate {
	var values []float64
	for i := range p.draws {
		values = append(values, of(&p.draws[i].pool))
	}
	slices.Sort(values)
	at := func(share float64) float64 { return values[int(share*float64(len(values)-1)+0.5)] }
	return analysis.Estimate{Value: at(0.5), Low: at(0.05), High: at(0.95), Level: 0.9, Unit: unit}
}

// Bad is the chance that each weighing of a bird is a bad one.
func (p *Posterior) Bad(bird int) []float64 {
	out := make([]float64, len(p.birds[bird].Ages))
	total := 0.0
	for i := range p.draws {
		d := &p.draws[i]
		total += d.weight
		for r, m := range d.birds[bird] {
			for j, is := range p.readings[bird][r].bad {
				if is {
					out[j] += d.weight * m.weight
				}
			}
		}
	}
	for j := range out {
		out[j] /= total
	}
	return out
}

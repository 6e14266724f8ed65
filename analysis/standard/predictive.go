package standard

import (
	"math"
	"slices"

	"keelmark/analysis"
)

// Predictive is what is believed about one weight: a mixture of normal distributions of the natural logarithm
// of grams. One part is a log-normal weight, many equal parts of SD 0 are a sample, and parts of different SD
// are a distribution with heavy tails. Parts with weight 0 or less are ignored; the others need not sum to 1.
type Predictive struct {
	Parts []Part
}

// Part is one normal of a Predictive.
type Part struct {
	Weight float64
	Mean   float64 // of log grams
	SD     float64 // of log grams, 0 or more
}

// LogNormal is a weight in grams known with a coefficient of variation.
func LogNormal(grams, cv float64) Predictive {
	return Predictive{[]Part{{1, math.Log(grams), cv}}}
}

// Known reports whether there is anything to predict from.
func (p Predictive) Known() bool {
	return slices.ContainsFunc(p.Parts, func(q Part) bool { return q.Weight > 0 })
}

// CDF returns the chance of a weight of at most so many grams, NaN where nothing is known. 0 and +Inf give 0
// and 1.
func (p Predictive) CDF(grams float64) float64 { return p.cdf(math.Log(grams)) }

func (p Predictive) cdf(x float64) float64 {
	var sum, total float64
	for _, q := range p.Parts {
		if q.Weight <= 0 {
			continue
		}
		total += q.Weight
		switch {
		case q.SD > 0:
			sum += q.Weight * math.Erfc((q.Mean-x)/(q.SD*math.Sqrt2)) / 2
		case x >= q.Mean:
			sum += q.Weight
		}
	}
	if total == 0 {
		return math.NaN()
	}
	return sum / total
}

// Quantile returns the weight in grams below which the chance is share, strictly between 0 and 1; NaN where
// nothing is known.
func (p Predictive) Quantile(share float64) float64 {
	if !p.Known() || !(share > 0 && share < 1) {
		return math.NaN()
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, q := range p.Parts {
		if q.Weight > 0 {
			low, high = min(low, q.Mean-8*q.SD), max(high, q.Mean+8*q.SD)
		}
	}
	// Bisection guarded regula falsi (the Illinois rule): the distribution function is monotone but may have
	// flat stretches and steps.
	fl, fh := p.cdf(low)-share, p.cdf(high)-share
	if fl >= 0 {
		return math.Exp(low)
	}
	for i := 0; i < 200 && high-low > 1e-7; i++ {
		x := low + (high-low)/2
		if i%3 != 2 && fh > fl {
			x = min(max(low-fl*(high-low)/(fh-fl), low+1e-3*(high-low)), high-1e-3*(high-low))
		}
		if f := p.cdf(x) - share; f < 0 {
			low, fl = x, f
		} else {
			high, fh = x, f
		}
	}
	return math.Exp(high)
}

// Median is the middle weight in grams.
func (p Predictive) Median() float64 { return p.Quantile(0.5) }

// Estimate is the median with the equal-tailed interval of the given chance, in grams.
func (p Predictive) Estimate(level float64) analysis.Estimate {
	return analysis.Estimate{
		Value: p.Median(), Low: p.Quantile((1 - level) / 2), High: p.Quantile((1 + level) / 2),
		Level: level, Unit: "g",
	}
}

// Widened returns the distribution of the same weight read with a further independent error of the given
// coefficient of variation.
func (p Predictive) Widened(cv float64) Predictive {
	out := Predictive{slices.Clone(p.Parts)}
	for i, q := range out.Parts {
		out.Parts[i].SD = math.Hypot(q.SD, cv)
	}
	return out
}

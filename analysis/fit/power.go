package fit

import (
	"math"
	"slices"
)

// powerOfMean alternates between the parameters under weights |f|^(-2 power) and, unless it is given, the power
// that makes the residuals likeliest, until both stand still.
//
// Source: Carroll & Ruppert 1988, Transformation and Weighting in Regression, sections 2.2 and 3.2
// (generalised least squares with pseudo-likelihood for the variance); the form of R's nlme::gnls with varPower.
func powerOfMean(p Problem) (*Result, error) {
	base := fill(p.Weights, len(p.Y), 1)
	plain := p
	plain.Errors = Additive
	w, status := minimise(plain)
	steps, evals := w.steps, w.evals
	power := math.NaN()
	fitted := make([]float64, len(p.Y))
	for range mostRounds {
		next := 0.0
		if p.Power != nil {
			next = *p.Power
		}
		for i := range fitted {
			fitted[i] = math.Abs(p.Model(w.point, p.X[i]))
			if !(fitted[i] > 0) {
				return nil, badInput("the fitted mean of observation %d is %v: its scatter cannot be a power of it", i+1, fitted[i])
			}
		}
		if p.Power == nil {
			next = likeliestPower(p.Y, fitted, base, w)
		}
		weighted := plain
		weighted.Start = slices.Clone(w.point)
		weighted.Weights = make([]float64, len(base))
		for i := range base {
			weighted.Weights[i] = base[i] * math.Pow(fitted[i], -2*next)
		}
		before := w.point
		w, status = refine(weighted)
		steps, evals = steps+w.steps, evals+w.evals
		settled := math.Abs(next-power) <= 1e-10
		power = next
		for i, b := range w.point {
			settled = settled && math.Abs(b-before[i]) <= 1e-11*(math.Abs(b)+math.Abs(before[i]))
		}
		if settled {
			break
		}
	}
	w.steps, w.evals = steps, evals
	r := w.result(status)
	r.Power = power
	r.problem.Errors = PowerOfMean
	k := len(w.free) + 1
	if p.Power == nil {
		k++
	}
	r.criteria(k) // the weights' logarithms, which result counted, are those of the fitted means
	return r, nil
}

// likeliestPower maximises the likelihood of the residuals at fixed means over the power, by golden section.
func likeliestPower(y, fitted, base []float64, w *walk) float64 {
	n := float64(len(y))
	var logs float64
	for _, f := range fitted {
		logs += math.Log(f)
	}
	misfit := func(power float64) float64 {
		var ss float64
		for i, f := range fitted {
			e := (y[i] - w.Model(w.point, w.X[i])) * math.Pow(f, -power)
			ss += base[i] * e * e
		}
		return n/2*math.Log(ss) + power*logs
	}
	low, high := -4.0, 4.0
	ratio := (math.Sqrt(5) - 1) / 2
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	fa, fb := misfit(a), misfit(b)
	for high-low > 1e-9 {
		if fa < fb {
			high, b, fb = b, a, fa
			a = high - ratio*(high-low)
			fa = misfit(a)
		} else {
			low, a, fa = a, b, fb
			b = low + ratio*(high-low)
			fb = misfit(b)
		}
	}
	return (low + high) / 2
}

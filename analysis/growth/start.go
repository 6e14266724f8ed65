package growth

import (
	"math"
	"slices"
)

// trialMature are the multiples of the heaviest weighing that a start tries as mature weight.
var trialMature = [...]float64{1.01, 1.1, 1.3, 1.7, 2.5, 4}

// richardsStart tries some mature weights, straightens the curve at each and takes the best line:
// log(((W/A)^-nu - 1)/nu) = -k (t - ti).
func richardsStart(nu float64, ages, weights []float64) []float64 {
	top := slices.Max(weights)
	best, least := []float64{top * 1.1, 0.05, ages[len(ages)/2]}, math.Inf(1)
	z := make([]float64, len(ages))
	for _, times := range trialMature {
		a := top * times
		for i, w := range weights {
			u := -math.Log(w / a)
			if nu != 0 {
				u = math.Expm1(nu*u) / nu
			}
			z[i] = math.Log(u)
		}
		intercept, slope := line(ages, z)
		if !(slope < 0) || math.IsInf(slope, 0) {
			continue
		}
		p := []float64{a, -slope, -intercept / slope}
		misfit := logMisfit(ages, weights, func(t float64) float64 { return richardsWeight(p[0], p[1], p[2], nu, t) })
		if misfit < least {
			best, least = p, misfit
		}
	}
	return best
}

// powerStart does the same for curves of log age from a weight at hatch; straighten turns the share of the way
// from hatch to mature weight into a straight line in log age.
func powerStart(ages, weights []float64, straighten func(share float64) float64,
	toInflection func(m, logScale float64) float64, weight func(p []float64, t float64) float64) []float64 {
	top, least := slices.Max(weights), math.Inf(1)
	w0 := slices.Min(weights) * 0.95
	best := []float64{top * 1.3, w0, max(1, ages[len(ages)/2]), 2}
	var x, z []float64
	for _, times := range trialMature {
		a := top * times
		x, z = x[:0], z[:0]
		for i, w := range weights {
			if ages[i] > 0 {
				x = append(x, math.Log(ages[i]))
				z = append(z, straighten((w-w0)/(a-w0)))
			}
		}
		if len(x) < 2 {
			break
		}
		intercept, m := line(x, z)
		m = min(max(m, 1.1), 8)
		p := []float64{a, w0, toInflection(m, -intercept/m), m}
		misfit := logMisfit(ages, weights, func(t float64) float64 { return weight(p, t) })
		if p[2] > 1e-3 && misfit < least {
			best, least = p, misfit
		}
	}
	return best
}

// line is the least-squares line of z on x.
func line(x, z []float64) (intercept, slope float64) {
	var mx, mz, sxx, sxz float64
	for i := range x {
		mx += x[i] / float64(len(x))
		mz += z[i] / float64(len(x))
	}
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxz += (x[i] - mx) * (z[i] - mz)
	}
	slope = sxz / sxx
	return mz - slope*mx, slope
}

// logMisfit is the sum of squared log ratios of weights to the curve; infinite where the curve has no logarithm.
func logMisfit(ages, weights []float64, curve func(float64) float64) float64 {
	var ss float64
	for i, t := range ages {
		d := math.Log(weights[i] / curve(t))
		ss += d * d
	}
	if math.IsNaN(ss) {
		return math.Inf(1)
	}
	return ss
}

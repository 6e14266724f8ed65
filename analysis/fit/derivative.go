package fit

import "math"

// derivative returns the derivative of the model by parameter k at params, which it restores. Quick is a
// central difference, good to about 1e-9; careful extrapolates central differences of shrinking step and
// stops where they agree best, good to about 1e-12 whatever the scale of the parameter. At a bound the
// difference is one-sided.
func derivative(f Model, params, x []float64, k int, low, high float64, careful bool) (d float64, evals int) {
	at := params[k]
	defer func() { params[k] = at }()
	g := func(b float64) float64 {
		evals++
		params[k] = b
		return f(params, x)
	}
	size := math.Abs(at)
	if size == 0 {
		size = 1e-3
	}
	h := size * math.Cbrt(0x1p-52)
	if careful {
		h = size * 0.02
	}
	room := min(at-low, high-at)
	if room <= size*1e-6 { // at a bound, or next to it
		h = size * math.Cbrt(0x1p-52)
		if high-at < at-low {
			h = -h
		}
		h = (at + h) - at
		return (4*g(at+h) - g(at+2*h) - 3*g(at)) / (2 * h), evals
	}
	h = min(h, room)
	if careful {
		return ridders(g, at, h), evals
	}
	up, down := at+h, at-h
	return (g(up) - g(down)) / (up - down), evals
}

// ridders extrapolates central differences of shrinking step to step 0.
//
// Source: Ridders 1982, Adv. Eng. Softw. 4:75.
func ridders(g func(float64) float64, at, h float64) float64 {
	const (
		rows    = 10
		settled = 3
		shrink  = 2.0
	)
	var t [rows][rows]float64
	best, smallest := math.NaN(), math.Inf(1)
	for i := range rows {
		up, down := at+h, at-h
		t[i][0] = (g(up) - g(down)) / (up - down)
		factor := shrink * shrink
		for j := 1; j <= i; j++ {
			t[i][j] = (t[i][j-1]*factor - t[i-1][j-1]) / (factor - 1)
			factor *= shrink * shrink
			err := max(math.Abs(t[i][j]-t[i][j-1]), math.Abs(t[i][j]-t[i-1][j-1]))
			// Wide steps may agree by chance, on the two flanks of a peak. NaN, where a step left the domain,
			// compares false and is passed over.
			if i >= settled && err <= smallest {
				smallest, best = err, t[i][j]
			}
		}
		if i > settled && math.Abs(t[i][i]-t[i-1][i-1]) > 4*smallest && finite(best) {
			break // rounding has taken over
		}
		h /= shrink
	}
	return best
}

// NumericalGradient returns the derivatives of a model by central differences, good to about 9 digits, for models
// whose derivatives are not worth writing down. Each gradient costs two evaluations a parameter. Like the model it
// is safe for use by several goroutines if the model is.
func NumericalGradient(model Model) Gradient {
	return func(params, x, out []float64) {
		at := append([]float64(nil), params...)
		for k := range at {
			out[k], _ = derivative(model, at, x, k, math.Inf(-1), math.Inf(1), false)
		}
	}
}

package stat

import "math"

// RangeTail is the chance that the range of k independent standard normal values, divided by an independent standard
// deviation on df degrees of freedom, exceeds q: the p-value of Tukey's honest significant difference with q = |difference| /
// standard error of a mean. k must be at least 2, df at least 2; +Inf gives the known deviation.
//
// Source: Tukey 1953; Copenhaver & Holland 1988, J. Stat. Comput. Simul. 30:1 (the double integral).
func RangeTail(q float64, k int, df float64) (float64, error) {
	if k < 2 || !(df >= 2) || math.IsNaN(q) {
		return 0, domain("a range of %d values on %v degrees of freedom at %v", k, df, q)
	}
	if q <= 0 {
		return 1, nil
	}
	inside := func(width float64) float64 {
		// k times the integral of phi(x) (normalCDF(x) - normalCDF(x - width))^(k-1), which lies where x is in about -8..8.
		return float64(k) * simpson(func(x float64) float64 {
			return phi(x) * math.Pow(normalCDF(x)-normalCDF(x-width), float64(k-1))
		}, -8, 8, 400)
	}
	if math.IsInf(df, 1) {
		return clamp(1 - inside(q)), nil
	}
	return clamp(1 - overDeviation(df, func(s float64) float64 { return inside(q * s) })), nil
}

// DunnettTail is the chance that the largest of k comparisons with one control, in absolute value, exceeds t, with equal
// numbers in each arm, on df degrees of freedom: the single-step p-value of Dunnett's test. k must be at least 1, df at
// least 2.
//
// Source: Dunnett 1955, J. Am. Stat. Assoc. 50:1096 (correlation 1/2).
func DunnettTail(t float64, k int, df float64) (float64, error) {
	if k < 1 || !(df >= 2) || math.IsNaN(t) {
		return 0, domain("%d comparisons on %v degrees of freedom at %v", k, df, t)
	}
	t = math.Abs(t)
	root := math.Sqrt2
	inside := func(t float64) float64 {
		// Given the control's own deviation x, the comparisons are independent.
		return simpson(func(x float64) float64 {
			return phi(x) * math.Pow(normalCDF(root*t+x)-normalCDF(-root*t+x), float64(k))
		}, -8, 8, 400)
	}
	if math.IsInf(df, 1) {
		return clamp(1 - inside(t)), nil
	}
	return clamp(1 - overDeviation(df, func(s float64) float64 { return inside(t * s) })), nil
}

// overDeviation averages f over s, the square root of a chi-squared value over its df.
func overDeviation(df float64, f func(float64) float64) float64 {
	lg, _ := math.Lgamma(df / 2)
	logConstant := df/2*math.Log(df) - lg - (df/2-1)*math.Ln2
	density := func(s float64) float64 {
		return math.Exp(logConstant + (df-1)*math.Log(s) - df*s*s/2)
	}
	sd := 1 / math.Sqrt(2*df)
	low, high := max(1e-6, 1-10*sd), 1+12*sd
	return simpson(func(s float64) float64 { return density(s) * f(s) }, low, high, 200)
}

// simpson integrates f with an even number of steps.
func simpson(f func(float64) float64, low, high float64, steps int) float64 {
	h := (high - low) / float64(steps)
	sum := f(low) + f(high)
	for i := 1; i < steps; i++ {
		w := 2.0
		if i%2 == 1 {
			w = 4
		}
		sum += w * f(low+h*float64(i))
	}
	return sum * h / 3
}

func phi(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }

// normalCDF is the standard normal distribution function.
func normalCDF(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

func clamp(p float64) float64 { return min(1, max(0, p)) }

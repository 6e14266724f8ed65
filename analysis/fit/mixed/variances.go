package mixed

import (
	"math"

	"keelmark/analysis/stat"
)

// SDInterval returns an interval of the standard deviation of one random effect, by its place, by the normal on its
// logarithm. It asks that the SD be estimated away from zero, and is rough with few groups: a dozen birds say little of
// how much birds differ, and the interval shows it.
//
// Source: Pinheiro & Bates 2000, section 2.4.3 (approximate normality of logarithms of standard deviations).
func (r *Result) SDInterval(i int, level float64) (stat.Interval, error) {
	if i < 0 || i >= len(r.SD) {
		return stat.Interval{}, badInput("no random effect %d of %d", i, len(r.SD))
	}
	return r.logInterval("the SD of "+r.Random[i], r.SD[i], r.logSDErr[i], level, len(r.Groups))
}

// SigmaInterval returns an interval of the residual standard deviation, otherwise as SDInterval.
func (r *Result) SigmaInterval(level float64) (stat.Interval, error) {
	return r.logInterval("sigma", r.Sigma, r.logSigmaErr, level, r.N)
}

func (r *Result) logInterval(what string, value, err, level float64, n int) (stat.Interval, error) {
	z, e := stat.Multiplier(level, math.Inf(1))
	if e != nil {
		return stat.Interval{}, e
	}
	if !(value > 0) || !finite(err) {
		return stat.Interval{}, badInput("no interval of %s: %s", what, r)
	}
	factor := math.Exp(z * err)
	return stat.Interval{Value: value, Low: value / factor, High: value * factor, Level: level, N: n}, nil
}

// spread fills the standard errors of the logarithms of SDs and of sigma from second derivatives of the likelihood.
//
// Derivation: with s = log sigma and nu degrees of freedom, -2 log likelihood is 2 nu s + rss(theta) exp(-2s) + G(theta).
// Profiled over s its second derivative lacks g g'/nu, g the slope of rss over sigma^2.
func (e *engine) spread(r *Result) {
	k, q := len(e.theta), e.q
	r.logSDErr, r.logSigmaErr = make([]float64, q), math.NaN()
	for i := range r.logSDErr {
		r.logSDErr[i] = math.NaN()
	}
	s := search{of: e.deviance, point: append([]float64(nil), e.theta...), hessian: make([]float64, k*k)}
	s.second()
	at, g := append([]float64(nil), e.theta...), make([]float64, k)
	sigma2 := e.profile.sigma2()
	for i := range k {
		h := 1e-4 * max(1, math.Abs(at[i]))
		at[i] = e.theta[i] + h
		e.deviance(at, nil)
		up := e.profile.rss
		at[i] = e.theta[i] - h
		e.deviance(at, nil)
		g[i] = (up - e.profile.rss) / (2 * h * sigma2)
		at[i] = e.theta[i]
	}
	e.deviance(e.theta, nil)
	nu := float64(len(e.order))
	if e.profile.reml {
		nu -= float64(e.p)
	}
	m := k + 1
	joint := make([]float64, m*m)
	for i := range k {
		for j := range i + 1 {
			joint[i*m+j] = s.hessian[i*k+j] + g[i]*g[j]/nu
		}
		joint[k*m+i] = -2 * g[i]
	}
	joint[k*m+k] = 4 * nu
	if !cholesky(joint, m, 1e-12) {
		return
	}
	// The variance of c'(theta, s) is 2 |C^-1 c|^2.
	deviation := func(c []float64) float64 {
		var sum float64
		for i := range m {
			for j := range i {
				c[i] -= joint[i*m+j] * c[j]
			}
			c[i] /= joint[i*m+i]
			sum += c[i] * c[i]
		}
		return math.Sqrt(2 * sum)
	}
	for i := range q {
		var size float64
		for _, v := range e.l[i*q : i*q+i+1] {
			size += v * v
		}
		if size == 0 {
			continue
		}
		c := make([]float64, m)
		c[k] = 1
		for n, place := range e.places {
			if place/q == i {
				c[n] = e.theta[n] / size
			}
		}
		r.logSDErr[i] = deviation(c)
	}
	c := make([]float64, m)
	c[k] = 1
	if (e.errors.kind == PowerOfMean || e.errors.kind == PowerOfCovariate) && e.errors.fixed == nil {
		c[len(e.places)] = -e.errors.usual // sigma is reported at size 1
	}
	r.logSigmaErr = deviation(c)
}

package fit

import (
	"fmt"
	"math"
	"slices"

	"keelmark/analysis/stat"
)

// Delta returns a quantity computed from the parameters with its standard error by the delta method. h must
// be smooth near the estimates; it must not keep or change its argument. It returns an error where the fit has
// no finite covariance or h no finite value.
//
// Source: Bates & Watts 1988, Nonlinear Regression Analysis and Its Applications, ch. 2 (linear approximation).
func (r *Result) Delta(h func(params []float64) float64) (value, se float64, err error) {
	return r.deltaWith(h, r.Cov)
}

func (r *Result) deltaWith(h func([]float64) float64, cov [][]float64) (value, se float64, err error) {
	value = h(r.Params)
	if !finite(value) || r.Status == Flat {
		return 0, 0, fmt.Errorf("no standard error: %s, value %v", r.Status, value)
	}
	params := slices.Clone(r.Params)
	g := make([]float64, len(params))
	f := func(params, _ []float64) float64 { return h(params) }
	for _, k := range r.active {
		g[k], _ = derivative(f, params, nil, k, r.problem.Lower[k], r.problem.Upper[k], true)
	}
	v := r.quadratic(g, cov)
	if !finite(v) {
		return 0, 0, fmt.Errorf("no standard error: the quantity has no derivative at the estimates")
	}
	return value, math.Sqrt(v), nil
}

// quadratic is g' C g over the parameters that were estimated.
func (r *Result) quadratic(g []float64, cov [][]float64) float64 {
	var v float64
	for _, a := range r.active {
		for _, b := range r.active {
			v += g[a] * cov[a][b] * g[b]
		}
	}
	return max(v, 0)
}

// Clustered is a covariance that holds where observations of one group (one bird) go together.
type Clustered struct {
	Cov    [][]float64
	StdErr []float64
	DF     int // groups less one
	of     *Result
}

// Delta is Result.Delta with this covariance.
func (c *Clustered) Delta(h func(params []float64) float64) (value, se float64, err error) {
	return c.of.deltaWith(h, c.Cov)
}

// Cluster computes the covariance of the estimates from sums over groups, one label an observation; sigma and the
// likelihood of the fit still take observations as independent. It needs more groups than parameters.
//
// Source: Liang & Zeger 1986, Biometrika 73:13; small-sample factor G/(G-1) (n-1)/(n-p) as in Cameron & Miller
// 2015, J. Hum. Resour. 50:317, eq. 12.
func (r *Result) Cluster(groups []string) (*Clustered, error) {
	if len(groups) != r.N {
		return nil, badInput("%d group labels for %d observations", len(groups), r.N)
	}
	if r.Status == Flat {
		return nil, badInput("no covariance: %s", r.Status)
	}
	m := len(r.active)
	at := make(map[string]int)
	var sums [][]float64
	for i, g := range groups {
		k, seen := at[g]
		if !seen {
			k = len(sums)
			at[g] = k
			sums = append(sums, make([]float64, m))
		}
		for a := range m {
			sums[k][a] += r.jac[a][i] * r.score[i]
		}
	}
	if len(sums) <= m {
		return nil, fmt.Errorf("%w: %d groups for %d parameters", ErrTooFew, len(sums), m)
	}
	// Each group moves the estimates by (J'J)^-1 times its sum; root times root' is (J'J)^-1.
	n, p, groupsN := float64(r.N), float64(m), float64(len(sums))
	factor := groupsN / (groupsN - 1) * (n - 1) / (n - p)
	c := &Clustered{StdErr: fill(nil, len(r.Params), math.NaN()), DF: len(sums) - 1, of: r}
	for range r.Params {
		c.Cov = append(c.Cov, fill(nil, len(r.Params), math.NaN()))
	}
	for _, a := range r.active {
		for _, b := range r.active {
			c.Cov[a][b] = 0
		}
	}
	for _, s := range sums {
		move := make([]float64, m)
		for k := range m {
			var t float64 // component k of root' s
			for a := 0; a <= k; a++ {
				t += r.root[k][a] * s[a]
			}
			for a := 0; a <= k; a++ {
				move[a] += r.root[k][a] * t
			}
		}
		for i, a := range r.active {
			for j, b := range r.active {
				c.Cov[a][b] += factor * move[i] * move[j]
			}
		}
	}
	for _, a := range r.active {
		c.StdErr[a] = math.Sqrt(c.Cov[a][a])
	}
	return c, nil
}

// Profile returns the interval of one parameter, by its place, in which the residual sum of squares, minimised
// over the others, stays within what the level allows. A side on which it never rises that far is infinite (or
// the bound). It asks much more work than a standard error and is right where the fit bends.
//
// Source: Bates & Watts 1988, Nonlinear Regression Analysis and Its Applications, section 6.1.2.
func (r *Result) Profile(parameter int, level float64) (stat.Interval, error) {
	if parameter < 0 || parameter >= len(r.Params) {
		return stat.Interval{}, badInput("no parameter %d of %d", parameter, len(r.Params))
	}
	t, err := stat.Multiplier(level, float64(r.DF))
	if err != nil {
		return stat.Interval{}, err
	}
	if r.Status != Converged || !slices.Contains(r.active, parameter) || !(r.Sigma > 0) {
		return stat.Interval{}, badInput("no profile of %s: %s", r.Names[parameter], r.Status)
	}
	if r.problem.Robust != NotRobust || r.problem.Errors == PowerOfMean {
		return stat.Interval{}, badInput("profiles go with plain and log-normal least squares")
	}
	out := stat.Interval{Value: r.Params[parameter], Level: level, N: r.N}
	out.Low = r.profileSide(parameter, t, -1)
	out.High = r.profileSide(parameter, t, 1)
	return out, nil
}

// profileSide walks away from the estimate until the profile passes t standard deviations, then closes in.
func (r *Result) profileSide(k int, t float64, sign float64) float64 {
	limit := r.problem.Upper[k]
	if sign < 0 {
		limit = r.problem.Lower[k]
	}
	start := slices.Clone(r.Params)
	tau := func(b float64) float64 {
		p := r.problem
		p.Start, p.Lower, p.Upper = slices.Clone(start), slices.Clone(p.Lower), slices.Clone(p.Upper)
		p.Start[k], p.Lower[k], p.Upper[k] = b, b, b
		s := newSystem(p)
		w := s.walk()
		if len(s.free) == 0 {
			w.toPoint(p.Start, w.point)
			rss, ok := w.residuals(w.point, w.r)
			if !ok {
				return math.Inf(1)
			}
			return math.Sqrt(max(0, rss-r.RSS)) / r.Sigma
		}
		w.descend(rung{damping: 1e-3, accelerate: true})
		if !finite(w.rss) {
			return math.Inf(1)
		}
		copy(start, w.point)
		return math.Sqrt(max(0, w.rss-r.RSS)) / r.Sigma
	}
	inside, outside := r.Params[k], math.NaN()
	tauIn, tauOut := 0.0, 0.0
	step := sign * t * r.StdErr[k]
	for range 40 {
		b := inside + step
		if sign*(b-limit) >= 0 {
			b = limit
		}
		here := slices.Clone(start)
		if v := tau(b); v > t {
			outside, tauOut = b, v
			start = here
			break
		} else if b == limit {
			return limit
		} else {
			inside, tauIn = b, v
		}
		step *= 1.5
	}
	if math.IsNaN(outside) {
		return math.Inf(int(sign))
	}
	for range 60 {
		b := inside + (outside-inside)*(t-tauIn)/(tauOut-tauIn) // tau is nearly straight
		if !finite(b) || sign*(b-inside) <= 0 || sign*(outside-b) <= 0 {
			b = (inside + outside) / 2
		}
		v := tau(b)
		if math.Abs(v-t) < 1e-9*t || math.Abs(outside-inside) < 1e-12*math.Abs(b) {
			return b
		}
		// Illinois: halve the far end's excess so that neither end stays put.
		if v > t {
			outside, tauOut = b, v
			tauIn = t - (t-tauIn)/2
		} else {
			inside, tauIn = b, v
			tauOut = t + (tauOut-t)/2
		}
	}
	return (inside + outside) / 2
}

// Prediction is the model at one x: the curve itself and one new observation there, with weight 1.
type Prediction struct {
	Value     float64       // in the unit of y; with LogNormal the median
	Curve     stat.Interval // of the curve
	Next      stat.Interval // of one new observation: curve and scatter
	CurveSE   float64       // on the scale of the errors: log y with LogNormal
	DF        int
	Clustered bool
}

// Predict returns the model at x with intervals of the given level. With clustered not nil, its covariance
// stands for that of the fit. An error says why there are none.
//
// Source: Bates & Watts 1988, section 2.3.2 (linear approximation); on the log scale and back for LogNormal.
func (r *Result) Predict(x []float64, level float64, clustered *Clustered) (Prediction, error) {
	cov, df := r.Cov, r.DF
	if clustered != nil {
		cov, df = clustered.Cov, min(df, clustered.DF)
	}
	t, err := stat.Multiplier(level, float64(df))
	if err != nil {
		return Prediction{}, err
	}
	logged := r.problem.Errors == LogNormal
	value, se, err := r.deltaWith(func(p []float64) float64 {
		f := r.problem.Model(p, x)
		if logged {
			return math.Log(f)
		}
		return f
	}, cov)
	if err != nil {
		return Prediction{}, err
	}
	scatter := r.Sigma
	if r.problem.Errors == PowerOfMean {
		scatter *= math.Pow(math.Abs(value), r.Power)
	}
	around := func(half float64) stat.Interval {
		i := stat.Interval{Value: value, Low: value - half, High: value + half, Level: level, N: r.N}
		if logged {
			i.Value, i.Low, i.High = math.Exp(i.Value), math.Exp(i.Low), math.Exp(i.High)
		}
		return i
	}
	p := Prediction{Curve: around(t * se), Next: around(t * math.Hypot(se, scatter)), CurveSE: se, DF: df, Clustered: clustered != nil}
	p.Value = p.Curve.Value
	return p, nil
}

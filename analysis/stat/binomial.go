package stat

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Two is the comparison of two shares, the second minus the first.
type Two struct {
	Interval         // difference of the shares
	P        float64 // two-sided mid-p value of Fisher's exact test
	Exact    float64 // two-sided p-value of Fisher's exact test, which is never too small
}

// TwoShares compares x1 of n1 with x2 of n2. Each n must be at least 1.
//
// Source: interval Newcombe 1998, Stat. Med. 17:873, method 10 (Wilson's score intervals combined); mid-p Lancaster 1961,
// J. Am. Stat. Assoc. 56:223, of Fisher's exact test.
func TwoShares(x1, n1, x2, n2 int, level float64) (Two, error) {
	a, err := Wilson(x1, n1, level)
	if err != nil {
		return Two{}, err
	}
	b, err := Wilson(x2, n2, level)
	if err != nil {
		return Two{}, err
	}
	d := b.Value - a.Value
	out := Two{Interval: Interval{d, d - math.Hypot(b.Value-b.Low, a.High-a.Value), d + math.Hypot(b.High-b.Value, a.Value-a.Low), level, n1 + n2}}
	all := x1 + x2
	logp := func(k int) float64 { return logChoose(n1, k) + logChoose(n2, all-k) - logChoose(n1+n2, all) }
	seen := logp(x1)
	for k := max(0, all-n2); k <= min(n1, all); k++ {
		switch l := logp(k); {
		case math.Abs(l-seen) < 1e-9: // as likely as what was seen: half of it counts
			out.P += math.Exp(l) / 2
			out.Exact += math.Exp(l)
		case l < seen:
			out.P += math.Exp(l)
			out.Exact += math.Exp(l)
		}
	}
	out.P, out.Exact = min(1, out.P), min(1, out.Exact)
	return out, nil
}

// MixedLogistic is a fitted logistic model with random intercepts: logit of the chance = x·Effects + one intercept of
// each factor.
type MixedLogistic struct {
	Effects []Coefficient
	SDs     []float64       // of the intercepts of each factor
	Levels  [][]Coefficient // of each factor: the intercept of each level, shrunk to 0, with its conditional standard deviation
	LogLik  float64
	N       int // rows
}

// FitMixedLogistic fits successes[i] of trials[i] to the columns of x (one row each; put a column of ones first) with
// one random intercept for each level of each factor, by maximum likelihood with Laplace's approximation. A factor
// gives the level 0, 1, ... of each row; each needs 2 levels. It needs more rows than columns and factors together, and
// refuses data in which a column separates successes from failures.
//
// Source: Breslow & Clayton 1993, J. Am. Stat. Assoc. 88:9; Bates et al. 2015, J. Stat. Softw. 67(1).
func FitMixedLogistic(successes, trials []int, x [][]float64, factors ...[]int) (MixedLogistic, error) {
	m, err := newMixedLogistic(successes, trials, x, factors)
	if err != nil {
		return MixedLogistic{}, err
	}
	start := make([]float64, m.columns+len(factors))
	var all, hits float64
	for i := range trials {
		all, hits = all+float64(trials[i]), hits+float64(successes[i])
	}
	start[0] = math.Log((hits + 0.5) / (all - hits + 0.5))
	for i := range factors {
		start[m.columns+i] = math.Log(0.5)
	}
	minus := func(p []float64) float64 { return -m.logLik(p) }
	found, err := optimize.Minimize(optimize.Problem{Func: minus, Grad: func(grad, p []float64) { gradient(grad, p, minus) }},
		start, &optimize.Settings{GradientThreshold: 1e-5, MajorIterations: 300}, &optimize.BFGS{})
	if found == nil || math.IsNaN(found.F) {
		return MixedLogistic{}, domain("no maximum of the likelihood was found: %v", err)
	}
	out := MixedLogistic{LogLik: -found.F, N: len(trials)}
	for i, e := range found.X[:m.columns] {
		if math.Abs(e) > separated {
			return MixedLogistic{}, domain("column %d separates successes from failures", i+1)
		}
	}
	// A factor whose deviation went to 0 is held there: its likelihood is flat in the logarithm.
	var free []int
	for i := range found.X {
		if i < m.columns || found.X[i] > math.Log(smallestSD) {
			free = append(free, i)
		} else {
			found.X[i] = math.Inf(-1)
		}
	}
	reduced := make([]float64, len(free))
	for i, at := range free {
		reduced[i] = found.X[at]
	}
	se, err := standardErrors(reduced, func(q []float64) float64 {
		full := append([]float64(nil), found.X...)
		for i, at := range free {
			full[at] = q[i]
		}
		return m.logLik(full)
	})
	if err != nil {
		return MixedLogistic{}, err
	}
	for i := range m.columns {
		out.Effects = append(out.Effects, Coefficient{found.X[i], se[i]})
	}
	for _, l := range found.X[m.columns:] {
		out.SDs = append(out.SDs, math.Exp(l))
	}
	_, b, spread := m.modes(found.X)
	at := 0
	for f, n := range m.levels {
		list := make([]Coefficient, n)
		for l := range list {
			list[l] = Coefficient{out.SDs[f] * b[at+l], out.SDs[f] * spread[at+l]}
		}
		out.Levels = append(out.Levels, list)
		at += n
	}
	return out, nil
}

// smallestSD is the deviation below which the levels of a factor are taken not to differ.
const smallestSD = 1e-2

type mixedLogistic struct {
	successes, trials []int
	x                 [][]float64
	factors           [][]int
	levels            []int // of each factor
	columns, all      int   // columns of x, levels in all
	constant          float64
	warm              []float64 // the last modes, where the next search begins
}

func newMixedLogistic(successes, trials []int, x [][]float64, factors [][]int) (*mixedLogistic, error) {
	m := &mixedLogistic{successes: successes, trials: trials, x: x, factors: factors}
	if len(successes) != len(trials) || len(x) != len(trials) {
		return nil, domain("%d successes, %d trials and %d rows of columns", len(successes), len(trials), len(x))
	}
	if len(x) == 0 || len(x[0]) == 0 {
		return nil, tooFew("columns", 0, 1)
	}
	m.columns = len(x[0])
	for i, row := range x {
		if len(row) != m.columns {
			return nil, domain("row %d has %d columns, not %d", i+1, len(row), m.columns)
		}
		if err := checkSample("a row", row, 1); err != nil {
			return nil, err
		}
		if trials[i] < 1 || successes[i] < 0 || successes[i] > trials[i] {
			return nil, domain("%d of %d in row %d is not a share", successes[i], trials[i], i+1)
		}
		m.constant += logChoose(trials[i], successes[i])
	}
	for f, list := range factors {
		if len(list) != len(x) {
			return nil, domain("factor %d has %d rows, not %d", f+1, len(list), len(x))
		}
		seen := map[int]bool{}
		top := 0
		for _, l := range list {
			if l < 0 {
				return nil, domain("level %d of factor %d", l, f+1)
			}
			seen[l], top = true, max(top, l)
		}
		if len(seen) < 2 || len(seen) != top+1 {
			return nil, domain("factor %d uses %d of its levels 0 to %d; number 2 or more levels from 0", f+1, len(seen), top)
		}
		m.levels, m.all = append(m.levels, top+1), m.all+top+1
	}
	if need := m.columns + len(factors) + 1; len(x) < need {
		return nil, tooFew("rows", len(x), need)
	}
	m.warm = make([]float64, m.all)
	return m, nil
}

func (m *mixedLogistic) logLik(p []float64) float64 {
	l, _, _ := m.modes(p)
	return l
}

// modes finds the most likely standardised intercepts given effects and log deviations, and returns Laplace's
// log likelihood, the intercepts and their conditional standard deviations.
func (m *mixedLogistic) modes(p []float64) (logLik float64, b, spread []float64) {
	fixed := make([]float64, len(m.x))
	for i, row := range m.x {
		for j, v := range row {
			fixed[i] += v * p[j]
		}
	}
	sd := make([]float64, len(m.factors))
	for f := range sd {
		sd[f] = math.Exp(p[m.columns+f])
	}
	value := func(b []float64) float64 {
		sum := m.constant
		for i, eta := range m.etas(fixed, sd, b) {
			sum += float64(m.successes[i])*eta - float64(m.trials[i])*softplus(eta)
		}
		for _, v := range b {
			sum -= v * v / 2
		}
		return sum
	}
	b = append([]float64(nil), m.warm...)
	f := value(b)
	spread = make([]float64, m.all)
	if m.all == 0 {
		return f, b, spread
	}
	var factor mat.Cholesky
	for range 50 {
		slope, bend := m.derivatives(fixed, sd, b)
		if !factor.Factorize(bend) {
			return math.NaN(), b, spread
		}
		var step mat.VecDense
		if err := factor.SolveVecTo(&step, mat.NewVecDense(m.all, slope)); err != nil {
			return math.NaN(), b, spread
		}
		size, next := 1.0, make([]float64, m.all)
		for range 30 {
			for i := range next {
				next[i] = b[i] + size*step.AtVec(i)
			}
			if g := value(next); g >= f-1e-12 {
				f = g
				break
			}
			size /= 2
		}
		b = next
		if size*mat.Norm(&step, math.Inf(1)) < 1e-11 {
			break
		}
	}
	_, bend := m.derivatives(fixed, sd, b)
	if !factor.Factorize(bend) {
		return math.NaN(), b, spread
	}
	var inverse mat.SymDense
	if err := factor.InverseTo(&inverse); err == nil {
		for i := range spread {
			spread[i] = math.Sqrt(inverse.At(i, i))
		}
	}
	copy(m.warm, b)
	return f - factor.LogDet()/2, b, spread
}

func (m *mixedLogistic) etas(fixed, sd, b []float64) []float64 {
	out := append([]float64(nil), fixed...)
	at := 0
	for f, list := range m.factors {
		for i, l := range list {
			out[i] += sd[f] * b[at+l]
		}
		at += m.levels[f]
	}
	return out
}

// derivatives returns the slope of the joint log density in b and its negative second derivatives.
func (m *mixedLogistic) derivatives(fixed, sd, b []float64) ([]float64, *mat.SymDense) {
	slope := make([]float64, m.all)
	bend := mat.NewSymDense(m.all, nil)
	for i, v := range b {
		slope[i] = -v
		bend.SetSym(i, i, 1)
	}
	at := make([]int, len(m.factors))
	for i, eta := range m.etas(fixed, sd, b) {
		chance, d, _ := logistic(eta)
		off := float64(m.successes[i]) - float64(m.trials[i])*chance
		weight := float64(m.trials[i]) * d
		first := 0
		for f, list := range m.factors {
			at[f] = first + list[i]
			first += m.levels[f]
			slope[at[f]] += sd[f] * off
			for g := range f + 1 {
				bend.SetSym(at[f], at[g], bend.At(at[f], at[g])+sd[f]*sd[g]*weight)
			}
		}
	}
	return slope, bend
}

// softplus is log(1+exp(x)) without overflow.
func softplus(x float64) float64 {
	if x > 0 {
		return x + math.Log1p(math.Exp(-x))
	}
	return math.Log1p(math.Exp(x))
}

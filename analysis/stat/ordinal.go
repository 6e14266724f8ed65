package stat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// separated is the log odds beyond which an effect is taken to grow without end.
const separated = 15

// Coefficient is an estimate with its standard error.
type Coefficient struct{ Value, SE float64 }

// Ordinal is a fitted proportional-odds model: logit P(Y <= step j) = Thresholds[j] - x·Effects - u, where u is the
// random intercept of the group with the variance Variance, or 0 without groups. A positive effect goes with
// higher steps.
type Ordinal struct {
	Thresholds []Coefficient // one fewer than there are steps, rising
	Effects    []Coefficient // one a column of x
	Variance   float64       // between groups; 0 where no groups were given
	LogLik     float64
	N, Groups  int
}

// ProportionalOdds fits scores y on steps 0..K-1, each of which must occur, to the columns of x (one row a score, all
// of one length, no constant column) by maximum likelihood. group names the group of each score for a random
// intercept, integrated by Laplace's approximation; nil leaves it out. It needs more scores than parameters, and at
// least 2 groups where groups are given. A model without a finite maximum (a column that separates the steps) is an error.
//
// Source: McCullagh 1980, J. R. Stat. Soc. B 42:109; with random intercepts Hedeker & Gibbons 1994, Biometrics 50:933;
// Laplace's approximation Tierney & Kadane 1986, J. Am. Stat. Assoc. 81:82.
func ProportionalOdds(y []int, x [][]float64, group []int) (Ordinal, error) {
	m, err := newOrdinalModel(y, x, group)
	if err != nil {
		return Ordinal{}, err
	}
	start := m.start()
	problem := optimize.Problem{
		Func: func(p []float64) float64 { return -m.logLik(p) },
		Grad: func(grad, p []float64) { gradient(grad, p, func(p []float64) float64 { return -m.logLik(p) }) },
	}
	found, err := optimize.Minimize(problem, start, &optimize.Settings{GradientThreshold: 1e-6, MajorIterations: 400}, &optimize.BFGS{})
	if found == nil || math.IsNaN(found.F) {
		return Ordinal{}, domain("no maximum of the likelihood was found: %v", err)
	}
	theta := m.natural(found.X)
	if m.groups > 0 && theta[len(theta)-1] < math.Log(1e-3) { // the groups do not differ: the model without them
		out, err := ProportionalOdds(y, x, nil)
		out.Groups = m.groups
		return out, err
	}
	for i, effect := range theta[m.steps-1 : m.steps-1+m.columns] {
		if math.Abs(effect) > separated {
			return Ordinal{}, domain("column %d separates the steps: the likelihood has no finite maximum", i+1)
		}
	}
	out := Ordinal{LogLik: -found.F, N: len(y), Groups: m.groups}
	se, err := standardErrors(theta, m.natLogLik)
	if err != nil {
		return Ordinal{}, err
	}
	for i := range m.steps - 1 {
		out.Thresholds = append(out.Thresholds, Coefficient{theta[i], se[i]})
	}
	for i := m.steps - 1; i < m.steps-1+m.columns; i++ {
		out.Effects = append(out.Effects, Coefficient{theta[i], se[i]})
	}
	if m.groups > 0 {
		sd := math.Exp(theta[len(theta)-1])
		out.Variance = sd * sd
	}
	return out, nil
}

// ordinalModel holds the data. Its parameters are the first threshold, the logarithms of the steps between
// thresholds, the effects, and with groups the logarithm of the standard deviation of the intercepts.
type ordinalModel struct {
	y              []int
	x              [][]float64
	members        [][]int // rows of each group; one group of all rows, without an intercept, where none are given
	steps, columns int
	groups         int
}

func newOrdinalModel(y []int, x [][]float64, group []int) (*ordinalModel, error) {
	m := &ordinalModel{y: y, x: x}
	if len(x) != len(y) || group != nil && len(group) != len(y) {
		return nil, domain("%d scores with %d rows of columns and %d groups", len(y), len(x), len(group))
	}
	if len(y) == 0 {
		return nil, tooFew("scores", 0, 2)
	}
	m.columns = len(x[0])
	for i, row := range x {
		if len(row) != m.columns {
			return nil, domain("row %d has %d columns, not %d", i+1, len(row), m.columns)
		}
		if err := checkSample("a row", append([]float64{0}, row...), 1); err != nil {
			return nil, err
		}
	}
	counts := map[int]int{}
	for _, s := range y {
		counts[s]++
		m.steps = max(m.steps, s+1)
	}
	for s := range m.steps {
		if counts[s] == 0 {
			return nil, domain("step %d of 0 to %d does not occur: number the steps that occur", s, m.steps-1)
		}
	}
	if len(counts) != m.steps || m.steps < 2 {
		return nil, domain("scores on %d steps from 0", len(counts))
	}
	if need := m.steps + m.columns + 1; len(y) < need {
		return nil, tooFew("scores", len(y), need)
	}
	if group == nil {
		all := make([]int, len(y))
		for i := range all {
			all[i] = i
		}
		m.members = [][]int{all}
		return m, nil
	}
	index := map[int]int{}
	for i, g := range group {
		at, ok := index[g]
		if !ok {
			at = len(m.members)
			index[g] = at
			m.members = append(m.members, nil)
		}
		m.members[at] = append(m.members[at], i)
	}
	m.groups = len(m.members)
	if m.groups < 2 {
		return nil, tooFew("groups", m.groups, 2)
	}
	return m, nil
}

// start puts the thresholds at the logits of the cumulative shares, the effects at 0 and the deviation at 1.
func (m *ordinalModel) start() []float64 {
	p := make([]float64, m.steps-1+m.columns)
	below, last := 0.0, 0.0
	for s := range m.steps - 1 {
		for _, y := range m.y {
			if y == s {
				below++
			}
		}
		logit := math.Log(below / (float64(len(m.y)) - below))
		if s == 0 {
			p[0] = logit
		} else {
			p[s] = math.Log(logit - last)
		}
		last = logit
	}
	if m.groups > 0 {
		p = append(p, 0)
	}
	return p
}

// natural turns the logarithms of the steps between thresholds into the thresholds.
func (m *ordinalModel) natural(p []float64) []float64 {
	out := slices.Clone(p)
	for s := 1; s < m.steps-1; s++ {
		out[s] = out[s-1] + math.Exp(p[s])
	}
	return out
}

func (m *ordinalModel) logLik(p []float64) float64 { return m.natLogLik(m.natural(p)) }

func (m *ordinalModel) natLogLik(theta []float64) float64 {
	effects := theta[m.steps-1 : m.steps-1+m.columns]
	at := make([]float64, len(m.y))
	for i, row := range m.x {
		for j, v := range row {
			at[i] += v * effects[j]
		}
	}
	if m.groups == 0 {
		sum, _, _ := m.group(m.members[0], theta, at, 0)
		return sum
	}
	sd := math.Exp(theta[len(theta)-1])
	var total float64
	for _, rows := range m.members {
		// b is the intercept in standard deviations: its own log density is -b²/2, and Newton finds the mode.
		b := 0.0
		value := func(b float64) (f, slope, bend float64) {
			f, slope, bend = m.group(rows, theta, at, sd*b)
			return f - b*b/2, slope*sd - b, bend*sd*sd - 1
		}
		f, slope, bend := value(b)
		for range 60 {
			step := -slope / bend
			next, s, c := value(b + step)
			for range 30 {
				if next >= f-1e-12 {
					break
				}
				step /= 2
				next, s, c = value(b + step)
			}
			b, f, slope, bend = b+step, next, s, c
			if math.Abs(step) < 1e-10 {
				break
			}
		}
		total += f - math.Log(-bend)/2
	}
	return total
}

// group returns the log likelihood of some rows with the intercept u, and its first two derivatives in u.
func (m *ordinalModel) group(rows []int, theta, at []float64, u float64) (sum, slope, bend float64) {
	for _, i := range rows {
		low, dLow, ddLow := 0.0, 0.0, 0.0
		high, dHigh, ddHigh := 1.0, 0.0, 0.0
		if s := m.y[i]; s > 0 {
			low, dLow, ddLow = logistic(theta[s-1] - at[i] - u)
		}
		if s := m.y[i]; s < m.steps-1 {
			high, dHigh, ddHigh = logistic(theta[s] - at[i] - u)
		}
		p := math.Max(high-low, 1e-300)
		d, dd := -(dHigh-dLow)/p, (ddHigh-ddLow)/p
		sum += math.Log(p)
		slope += d
		bend += dd - d*d
	}
	return sum, slope, bend
}

// logistic returns the logistic distribution function with its first two derivatives.
func logistic(x float64) (f, d, dd float64) {
	f = 1 / (1 + math.Exp(-x))
	d = f * (1 - f)
	return f, d, d * (1 - 2*f)
}

// gradient fills grad with central differences of f at p.
func gradient(grad, p []float64, f func([]float64) float64) {
	q := slices.Clone(p)
	for i := range q {
		h := 1e-5 * max(1, math.Abs(p[i]))
		q[i] = p[i] + h
		up := f(q)
		q[i] = p[i] - h
		grad[i] = (up - f(q)) / (2 * h)
		q[i] = p[i]
	}
}

// standardErrors inverts the negative second derivatives of a log likelihood at its maximum.
func standardErrors(p []float64, logLik func([]float64) float64) ([]float64, error) {
	n := len(p)
	information := mat.NewSymDense(n, nil)
	q := slices.Clone(p)
	at := func(i, j int, hi, hj float64) float64 {
		q[i] += hi
		q[j] += hj
		f := logLik(q)
		q[i], q[j] = p[i], p[j]
		return f
	}
	centre := logLik(p)
	for i := range n {
		hi := 3e-4 * max(1, math.Abs(p[i]))
		for j := 0; j <= i; j++ {
			hj := 3e-4 * max(1, math.Abs(p[j]))
			var second float64
			if i == j {
				// Five points: the error of the fourth power of the step.
				second = (-at(i, i, hi, hi) + 16*at(i, i, hi/2, hi/2) - 30*centre + 16*at(i, i, -hi/2, -hi/2) - at(i, i, -hi, -hi)) / (12 * hi * hi)
			} else {
				second = (at(i, j, hi, hj) - at(i, j, hi, -hj) - at(i, j, -hi, hj) + at(i, j, -hi, -hj)) / (4 * hi * hj)
			}
			information.SetSym(i, j, -second)
		}
	}
	inverse, ok := inverted(information)
	if !ok {
		return nil, domain("the likelihood is flat at its maximum")
	}
	se := make([]float64, n)
	for i := range se {
		se[i] = math.Sqrt(inverse.At(i, i))
	}
	return se, nil
}

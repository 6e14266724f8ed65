package mixed

import (
	"math"
	"slices"
)

// Variance says how the scatter of observations differs.
type Variance uint8

// The variance functions. g multiplies sigma to give the standard deviation of an observation.
const (
	Constant         Variance = iota // g = 1
	PowerOfMean                      // g = |fitted|^power, fitted with the group's own effects
	PowerOfCovariate                 // g = |Scatter.Covariate|^power
	PerStratum                       // g = a ratio for each of Scatter.Strata; 1 for the first that appears
)

// Correlation says how the errors of one group go together in time.
type Correlation uint8

// The correlations within a group; errors of different groups are independent.
const (
	Independent   Correlation = iota
	AR1                       // phi^|steps apart|, Scatter.Time in whole steps, phi -1 to 1
	ContinuousAR1             // phi^|time apart|, any Scatter.Time, phi 0 to 1
)

// Scatter is what is assumed of the errors. The zero value is independent errors of one variance.
type Scatter struct {
	Variance    Variance
	Power       *float64  // of PowerOfMean and PowerOfCovariate, where it is known; nil: estimated
	Covariate   []float64 // of PowerOfCovariate: one value an observation, not 0
	Strata      []string  // of PerStratum: one label an observation
	Correlation Correlation
	Time        []float64 // of the correlations: one value an observation, no two alike within a group
}

// scatter is a Scatter on rows: it turns rows of correlated errors with unequal variance into independent ones
// of variance sigma^2. Its parameters are free of bounds: the power; logarithms of the ratios; atanh or logit of
// phi.
type scatter struct {
	kind        Variance
	correlation Correlation
	fixed       *float64
	logSize     []float64 // by row: log of the covariate or of the fitted value, less usual
	usual       float64   // log of a usual size: sigma is taken there, so that it does not swing with the power
	stratum     []int     // by row
	strata      []string
	gap         []float64 // by row: time since the row before it in its group; 0 for the first
}

func newScatter(s Scatter, g *groups) (*scatter, error) {
	n := len(g.order)
	c := &scatter{kind: s.Variance, correlation: s.Correlation, fixed: s.Power}
	if s.Power != nil && !finite(*s.Power) {
		return nil, badInput("the power is %v", *s.Power)
	}
	switch s.Variance {
	case PowerOfMean:
		c.logSize = make([]float64, n)
	case PowerOfCovariate:
		if len(s.Covariate) != n {
			return nil, badInput("%d values of the covariate for %d observations", len(s.Covariate), n)
		}
		for _, i := range g.order {
			v := math.Log(math.Abs(s.Covariate[i]))
			if !finite(v) {
				return nil, badInput("the covariate of observation %d is %v: a power of it is no standard deviation", i+1, s.Covariate[i])
			}
			c.logSize = append(c.logSize, v)
			c.usual += v / float64(n)
		}
		for row := range c.logSize {
			c.logSize[row] -= c.usual
		}
	case PerStratum:
		if len(s.Strata) != n {
			return nil, badInput("%d strata for %d observations", len(s.Strata), n)
		}
		for _, label := range s.Strata {
			if !slices.Contains(c.strata, label) {
				c.strata = append(c.strata, label)
			}
		}
		for _, i := range g.order {
			c.stratum = append(c.stratum, slices.Index(c.strata, s.Strata[i]))
		}
	}
	if s.Correlation == Independent {
		return c, nil
	}
	if len(s.Time) != n {
		return nil, badInput("%d times for %d observations", len(s.Time), n)
	}
	if err := checkFinite("time", s.Time); err != nil {
		return nil, err
	}
	c.gap = make([]float64, n)
	apart := false
	for k, name := range g.names {
		for row := g.start[k] + 1; row < g.start[k+1]; row++ {
			d := s.Time[g.order[row]] - s.Time[g.order[row-1]]
			if d == 0 {
				return nil, badInput("two observations of %q at time %v: their correlation would be 1", name, s.Time[g.order[row]])
			}
			if s.Correlation == AR1 && d != math.Round(d) {
				return nil, badInput("two observations of %q lie %v apart: AR1 needs whole steps, ContinuousAR1 does not", name, d)
			}
			c.gap[row], apart = d, true
		}
	}
	if !apart {
		return nil, badInput("no group has two observations: a correlation in time cannot be seen")
	}
	return c, nil
}

// start is where the search of the parameters begins: equal variances, a slight correlation.
func (c *scatter) start() []float64 {
	var psi []float64
	switch {
	case (c.kind == PowerOfMean || c.kind == PowerOfCovariate) && c.fixed == nil:
		psi = append(psi, 0)
	case c.kind == PerStratum:
		psi = append(psi, make([]float64, len(c.strata)-1)...)
	}
	switch c.correlation {
	case AR1:
		psi = append(psi, 0.1)
	case ContinuousAR1:
		var sum, n float64
		for _, d := range c.gap {
			if d > 0 {
				sum, n = sum+d, n+1
			}
		}
		// phi such that observations a usual gap apart correlate by 0.2.
		psi = append(psi, logit(math.Pow(0.2, n/sum)))
	}
	return psi
}

func logit(p float64) float64 { return math.Log(p / (1 - p)) }

func (c *scatter) power(psi []float64) float64 {
	switch {
	case c.kind != PowerOfMean && c.kind != PowerOfCovariate:
		return 0
	case c.fixed != nil:
		return *c.fixed
	}
	return psi[0]
}

func (c *scatter) phi(psi []float64) float64 {
	switch c.correlation {
	case AR1:
		return math.Tanh(psi[len(psi)-1])
	case ContinuousAR1:
		return 1 / (1 + math.Exp(-psi[len(psi)-1]))
	}
	return 0
}

// ratios are the standard deviations of the strata beside that of the first.
func (c *scatter) ratios(psi []float64) []float64 {
	if c.kind != PerStratum {
		return nil
	}
	out := make([]float64, len(c.strata))
	out[0] = 1
	for i := range out[1:] {
		out[i+1] = math.Exp(psi[i])
	}
	return out
}

// logSD is the logarithm of g at a row.
func (c *scatter) logSD(psi []float64, row int) float64 {
	switch c.kind {
	case PowerOfMean, PowerOfCovariate:
		return c.power(psi) * c.logSize[row]
	case PerStratum:
		if s := c.stratum[row]; s > 0 {
			return psi[s-1]
		}
	}
	return 0
}

// plain says that whitening changes nothing.
func (c *scatter) plain() bool { return c.kind == Constant && c.correlation == Independent }

// whiten makes the errors of rows first to first+len(block)/m of one group independent with variance sigma^2, in
// place, and returns the log determinant of what it divided by, doubled (log|Lambda|).
//
// Source: Pinheiro & Bates 2000, section 5.1.1 (variance functions), 5.3.1 (AR1 by its recursion).
func (c *scatter) whiten(psi []float64, first int, block []float64, m int) (logDet float64) {
	if c.plain() {
		return 0
	}
	n := len(block) / m
	if c.kind != Constant {
		for i := range n {
			l := c.logSD(psi, first+i)
			logDet += 2 * l
			g := math.Exp(-l)
			for j := range m {
				block[i*m+j] *= g
			}
		}
	}
	if c.correlation == Independent {
		return logDet
	}
	phi := c.phi(psi)
	for i := n - 1; i > 0; i-- { // backwards, because each row needs the one before it as it was
		rho := math.Pow(phi, c.gap[first+i])
		rest := (1 - rho) * (1 + rho)
		logDet += math.Log(rest)
		root := 1 / math.Sqrt(rest)
		for j := range m {
			block[i*m+j] = (block[i*m+j] - rho*block[(i-1)*m+j]) * root
		}
	}
	return logDet
}

// unit is what turns sigma at the usual size into sigma at size 1.
func (c *scatter) unit(psi []float64) float64 { return math.Exp(-c.power(psi) * c.usual) }

// setUsual takes the responses as usual sizes.
func (c *scatter) setUsual(y []float64) {
	if c.kind != PowerOfMean {
		return
	}
	var n float64
	for _, v := range y {
		if v != 0 {
			c.usual += math.Log(math.Abs(v))
			n++
		}
	}
	c.usual /= max(n, 1)
}

// setMean takes the fitted values of the rows as the sizes of which PowerOfMean is a power. Fitted values next to
// zero count as a millionth of the largest, so that no weight is infinite.
func (c *scatter) setMean(fitted []float64) {
	if c.kind != PowerOfMean {
		return
	}
	var largest float64
	for _, f := range fitted {
		largest = max(largest, math.Abs(f))
	}
	for i, f := range fitted {
		c.logSize[i] = math.Log(max(math.Abs(f), largest*1e-6)) - c.usual
	}
}

// String says it in words.
func (v Variance) String() string {
	return [...]string{"constant", "power of the mean", "power of a covariate", "one for each stratum"}[v]
}

// String says it in words.
func (c Correlation) String() string {
	return [...]string{"independent", "AR1", "continuous AR1"}[c]
}

package mixed

import (
	"fmt"
	"math"

	"keelmark/analysis/fit"
)

// Parameter is one parameter of a curve: for a group, Design times its fixed effects plus, with Random, an effect of
// the group's own.
type Parameter struct {
	Name    string
	Design  [][]float64 // one row an observation; nil: one constant for all
	Columns []string    // of Design, appended to Name: "A.male"; the first may be "" for the constant
	Random  bool
}

// NonlinearProblem is a nonlinear mixed model: y = f(phi; x) + e, phi = A beta + B b, with the rows of A by
// parameter, beta shared by all groups and b of each group drawn from a normal distribution of mean 0.
type NonlinearProblem struct {
	Model      fit.Model    // of the curve's parameters phi, not of the fixed effects
	Gradient   fit.Gradient // by the curve's parameters; nil: numerical
	X          [][]float64  // one row an observation, as many columns as the model reads
	Y          []float64    // observed responses, finite
	Groups     []string     // of each observation
	Parameters []Parameter  // of the curve, in the order that the model takes them
	Start      []float64    // one value a fixed effect: all columns of the first parameter, then of the second ...

	Covariance    Covariance // of the random effects
	Criterion     Criterion
	LogNormal     bool // log y = log f + e: errors in proportion to size; y and f positive
	Scatter       Scatter
	Approximation Approximation
	MaxSteps      int // linearisations of one climb; 0: 200
}

// Approximation says how the random effects are integrated out of a nonlinear model.
type Approximation uint8

// The approximations.
const (
	// Linearised is the alternating algorithm of Lindstrom & Bates: it maximises the likelihood of the model made
	// linear at its own estimates, as R's nlme does. Quick; good where groups have several observations.
	Linearised Approximation = iota
	// Laplace maximises the first-order Laplace approximation of the likelihood itself, as R's nlmer does. Dearer,
	// by maximum likelihood only, and less biased where groups say little of their own curve.
	Laplace
)

// curves are the rows of a nonlinear model, group by group.
type curves struct {
	*groups
	model      fit.Model
	gradient   fit.Gradient
	logged     bool
	x          [][]float64
	y          []float64 // or log y
	params     int
	p, q       int
	random     []int         // curve parameter of each random effect
	designs    [][][]float64 // by parameter, by row; nil: a constant
	first      []int         // by parameter: its first fixed effect
	phi, slope []float64     // scratch
}

// parameters writes phi of a row for fixed effects beta and the group's own b.
func (c *curves) parameters(row int, beta, b, phi []float64) {
	for k, design := range c.designs {
		at := c.first[k]
		if design == nil {
			phi[k] = beta[at]
			continue
		}
		var v float64
		for j, d := range design[row] {
			v += d * beta[at+j]
		}
		phi[k] = v
	}
	for j, k := range c.random {
		phi[k] += b[j]
	}
}

// value is f, or log f, of a row.
func (c *curves) value(row int, beta, b []float64) float64 {
	c.parameters(row, beta, b, c.phi)
	f := c.model(c.phi, c.x[row])
	if c.logged {
		return math.Log(f)
	}
	return f
}

// derivatives writes the derivatives of f, or log f, of a row by the fixed effects and the random effects; value is
// f, or log f.
func (c *curves) derivatives(row int, beta, b []float64, value float64, dx, dz []float64) {
	c.parameters(row, beta, b, c.phi)
	c.gradient(c.phi, c.x[row], c.slope)
	if c.logged {
		inverse := math.Exp(-value)
		for k := range c.slope {
			c.slope[k] *= inverse
		}
	}
	for k, design := range c.designs {
		at := c.first[k]
		if design == nil {
			dx[at] = c.slope[k]
			continue
		}
		for j, d := range design[row] {
			dx[at+j] = c.slope[k] * d
		}
	}
	for j, k := range c.random {
		dz[j] = c.slope[k]
	}
}

// curvesOf checks a problem and puts it into rows.
func curvesOf(p *NonlinearProblem) (c *curves, names, random []string, err error) {
	fail := func(err error) (*curves, []string, []string, error) { return nil, nil, nil, err }
	n := len(p.Y)
	switch {
	case p.Model == nil:
		return fail(badInput("no model"))
	case n == 0:
		return fail(fmt.Errorf("%w: no observations", fit.ErrTooFew))
	case len(p.X) != n:
		return fail(badInput("%d rows of x for %d responses", len(p.X), n))
	case len(p.Groups) != n:
		return fail(badInput("%d group labels for %d responses", len(p.Groups), n))
	case len(p.Parameters) == 0:
		return fail(badInput("no parameters"))
	case p.Approximation == Laplace && p.Criterion == REML:
		return fail(badInput("Laplace goes with maximum likelihood"))
	case p.Approximation == Laplace && p.Scatter.Variance == PowerOfMean:
		return fail(badInput("Laplace does not go with a power of the mean: take LogNormal, or Linearised"))
	}
	if err := checkFinite("response", p.Y); err != nil {
		return fail(err)
	}
	if err := checkFinite("start", p.Start); err != nil {
		return fail(err)
	}
	c = &curves{groups: group(p.Groups, p.Scatter.Time), model: p.Model, gradient: p.Gradient, logged: p.LogNormal, params: len(p.Parameters)}
	if c.gradient == nil {
		c.gradient = fit.NumericalGradient(p.Model)
	}
	if c.count() < 2 {
		return fail(fmt.Errorf("%w: %d group cannot show how groups differ", fit.ErrTooFew, c.count()))
	}
	for k, q := range p.Parameters {
		c.first = append(c.first, c.p)
		if q.Random {
			c.random, random = append(c.random, k), append(random, q.Name)
		}
		if q.Design == nil {
			c.p++
			names = append(names, q.Name)
			c.designs = append(c.designs, nil)
			continue
		}
		if len(q.Design) != n {
			return fail(badInput("%d rows of the design of %s for %d responses", len(q.Design), q.Name, n))
		}
		columns, err := columns("the design of "+q.Name, "", q.Design, q.Columns)
		if err != nil {
			return fail(err)
		}
		design := make([]float64, 0, n*len(columns))
		rows := make([][]float64, 0, n)
		for _, i := range c.order {
			design, rows = append(design, q.Design[i]...), append(rows, q.Design[i])
		}
		for _, column := range columns {
			name := q.Name
			if column != "" {
				name += "." + column
			}
			names = append(names, name)
		}
		if b := orthonormal(design, n, len(columns)); b.dull >= 0 {
			return fail(badInput("%s says nothing that the columns before it do not say: leave it out", names[c.p+b.dull]))
		}
		c.designs = append(c.designs, rows)
		c.p += len(columns)
	}
	c.q = len(c.random)
	c.phi, c.slope = make([]float64, c.params), make([]float64, c.params)
	switch {
	case c.q == 0:
		return fail(badInput("no parameter is random: this is a problem for fit.LeastSquares"))
	case len(p.Start) != c.p:
		return fail(badInput("%d values to start from for %d fixed effects (%v)", len(p.Start), c.p, names))
	case n <= c.p:
		return fail(fmt.Errorf("%w: %d observations cannot give %d fixed effects and a scatter", fit.ErrTooFew, n, c.p))
	}
	none := make([]float64, c.q)
	alike := true
	for row, i := range c.order {
		for _, x := range p.X[i] {
			if !finite(x) {
				return fail(badInput("x of observation %d of %d is %v", i+1, n, x))
			}
		}
		y := p.Y[i]
		alike = alike && y == p.Y[0]
		if c.logged {
			if y <= 0 {
				return fail(badInput("response %d of %d is %v: errors in proportion to size need positive responses", i+1, n, y))
			}
			y = math.Log(y)
		}
		c.x, c.y = append(c.x, p.X[i]), append(c.y, y)
		if f := c.value(row, p.Start, none); !finite(f) {
			return fail(badInput("at its start the model gives %v for observation %d", c.model(c.phi, p.X[i]), i+1))
		}
	}
	if alike {
		return fail(badInput("all %d responses are %v: nothing varies", n, p.Y[0]))
	}
	return c, names, random, nil
}

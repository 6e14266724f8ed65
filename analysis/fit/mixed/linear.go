package mixed

import (
	"fmt"
	"math"

	"keelmark/analysis/fit"
)

// LinearProblem is a linear mixed model: y = X beta + Z b + e, with beta shared by all groups, b of each group
// drawn from a normal distribution of mean 0, and e as Scatter says.
type LinearProblem struct {
	Y      []float64   // observed responses, finite
	Groups []string    // of each observation
	X      [][]float64 // one row an observation: the fixed-effects design, with its column of ones
	Names  []string    // of the columns of X; nil: x1, x2, ...
	Z      [][]float64 // one row an observation: what differs between groups; nil: the level alone (ones)
	Random []string    // names of the columns of Z; nil: level, or z1, z2, ...

	Covariance Covariance // of the random effects
	Criterion  Criterion
	Scatter    Scatter
}

// Linear fits a linear mixed model. Groups of one observation are welcome and say what they can. It returns an
// error where the problem cannot be fitted as stated: fit.ErrTooFew with no more observations than fixed effects or
// fewer than two groups, fit.ErrInput with NaN, lengths that differ, a design whose columns repeat each other, or
// responses that the fixed effects reproduce exactly. A fit that ends without a maximum is a Result with its Status;
// a variance at zero is in Boundary.
//
// With PowerOfMean the fitted values of one fit are the sizes of the next, until nothing moves.
//
// Source: Laird & Ware 1982, Biometrics 38:963; Pinheiro & Bates 2000, Mixed-Effects Models in S and S-PLUS, chapters
// 2 and 5.
func Linear(p LinearProblem) (*Result, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	n, px, q := len(p.Y), len(p.X[0]), len(p.Z[0])
	r := &rows{groups: group(p.Groups, p.Scatter.Time), q: q, p: px}
	if r.count() < 2 {
		return nil, fmt.Errorf("%w: %d group cannot show how groups differ", fit.ErrTooFew, r.count())
	}
	errors, err := newScatter(p.Scatter, r.groups)
	if err != nil {
		return nil, err
	}
	errors.setUsual(p.Y)
	errors.setMean(inRows(p.Y, r.order)) // until there are fitted values
	design, y := make([]float64, 0, n*px), make([]float64, 0, n)
	for _, i := range r.order {
		design, y = append(design, p.X[i]...), append(y, p.Y[i])
	}
	x := orthonormal(design, n, px)
	if x.dull >= 0 {
		return nil, badInput("%s says nothing that the columns before it do not say: leave it out", p.Names[x.dull])
	}
	var total float64
	for _, v := range y {
		total = math.Hypot(total, v)
	}
	shift := x.reduce(y)
	var left float64
	for _, v := range y {
		left = math.Hypot(left, v)
	}
	if !(left > 1e-12*total) {
		return nil, badInput("the fixed effects reproduce every response exactly: there is no scatter to share out")
	}
	scale := groupSizes(p.Z, r.count(), q)
	for j, s := range scale {
		if s == 0 {
			return nil, badInput("the column of %s is zero throughout", p.Random[j])
		}
	}
	for row, i := range r.order {
		for j, z := range p.Z[i] {
			r.flat = append(r.flat, z/scale[j])
		}
		r.flat = append(r.flat, x.q[row*px:(row+1)*px]...)
		r.flat = append(r.flat, y[row])
	}
	e := newEngine(r, p.Covariance, errors, p.Criterion == REML)
	ends := func() *Result {
		out := e.result(p.Names, p.Random, shift, x, scale)
		out.fill(p, r.groups)
		return out
	}
	status := e.converge(func() { errors.setMean(inRows(ends().Fitted, r.order)) })
	counted := len(e.theta)
	status, _ = e.settle(status)
	out := ends()
	out.Status = status
	out.Parameters += counted - len(e.theta) // a variance that ended at zero was estimated all the same
	out.criteria()
	out.boundary(e.found())
	e.spread(out)
	out.Standardised = e.standardised(inRows(out.Residuals, r.order))
	out.DF = degrees(p.X, r.groups)
	return out, nil
}

// converge estimates, and with PowerOfMean estimates again while renewed sizes move the estimate.
func (e *engine) converge(renew func()) fit.Status {
	const most = 100
	status, _ := e.estimate()
	if e.errors.kind != PowerOfMean {
		return status
	}
	for range most {
		renew()
		e.changed()
		var moved float64
		status, moved = e.estimate()
		if status == fit.Stuck || moved < 1e-10 {
			return status
		}
	}
	return fit.Drifting
}

// check fills in defaults and says why a problem cannot be fitted.
func (p *LinearProblem) check() error {
	n := len(p.Y)
	switch {
	case n == 0:
		return fmt.Errorf("%w: no observations", fit.ErrTooFew)
	case len(p.Groups) != n:
		return badInput("%d group labels for %d observations", len(p.Groups), n)
	case len(p.X) != n:
		return badInput("%d rows of X for %d observations", len(p.X), n)
	}
	if p.Z == nil {
		one := []float64{1}
		p.Z = make([][]float64, n)
		for i := range p.Z {
			p.Z[i] = one
		}
		if p.Random == nil {
			p.Random = []string{"level"}
		}
	}
	if len(p.Z) != n {
		return badInput("%d rows of Z for %d observations", len(p.Z), n)
	}
	if err := checkFinite("response", p.Y); err != nil {
		return err
	}
	var err error
	if p.Names, err = columns("X", "x", p.X, p.Names); err != nil {
		return err
	}
	if p.Random, err = columns("Z", "z", p.Z, p.Random); err != nil {
		return err
	}
	if n <= len(p.Names) {
		return fmt.Errorf("%w: %d observations cannot give %d fixed effects and a scatter", fit.ErrTooFew, n, len(p.Names))
	}
	return nil
}

// columns checks a design and names its columns.
func columns(what, letter string, design [][]float64, names []string) ([]string, error) {
	width := len(design[0])
	if width == 0 {
		return nil, badInput("%s has no columns", what)
	}
	for i, row := range design {
		if len(row) != width {
			return nil, badInput("row %d of %s has %d columns, the first has %d", i+1, what, len(row), width)
		}
		for j, v := range row {
			if !finite(v) {
				return nil, badInput("row %d, column %d of %s is %v", i+1, j+1, what, v)
			}
		}
	}
	if names == nil {
		for j := range width {
			names = append(names, fmt.Sprintf("%s%d", letter, j+1))
		}
	}
	if len(names) != width {
		return nil, badInput("%d names for the %d columns of %s", len(names), width, what)
	}
	return names, nil
}

// groupSizes is the root mean square over groups of the length of each column of Z.
func groupSizes(z [][]float64, groups, q int) []float64 {
	size := make([]float64, q)
	for _, row := range z {
		for j, v := range row {
			size[j] += v * v
		}
	}
	for j := range size {
		size[j] = math.Sqrt(size[j] / float64(groups))
	}
	return size
}

// fill computes fitted values and residuals in the order of the observations.
func (r *Result) fill(p LinearProblem, g *groups) {
	n := len(p.Y)
	r.Fitted, r.Population, r.Residuals = make([]float64, n), make([]float64, n), make([]float64, n)
	for k, effects := range r.Effects {
		for row := g.start[k]; row < g.start[k+1]; row++ {
			i := g.order[row]
			for j, x := range p.X[i] {
				r.Population[i] += x * r.Fixed[j]
			}
			r.Fitted[i] = r.Population[i]
			for j, z := range p.Z[i] {
				r.Fitted[i] += z * effects[j]
			}
			r.Residuals[i] = p.Y[i] - r.Fitted[i]
		}
	}
}

// inRows puts values of observations in the order of rows.
func inRows(values []float64, order []int) []float64 {
	out := make([]float64, len(values))
	for row, i := range order {
		out[row] = values[i]
	}
	return out
}

// standardised returns residuals, given by row, whitened and over sigma, by observation.
func (e *engine) standardised(residuals []float64) []float64 {
	out := make([]float64, len(residuals))
	sigma := math.Sqrt(e.profile.sigma2())
	for k := range e.count() {
		first, end := e.start[k], e.start[k+1]
		e.errors.whiten(e.psi, first, residuals[first:end], 1)
		for row := first; row < end; row++ {
			out[e.order[row]] = residuals[row] / sigma
		}
	}
	return out
}

// degrees counts the degrees of freedom of each fixed effect: a column that is constant within every group is judged
// by the number of groups, any other, and the constant, by observations within groups.
//
// Source: Pinheiro & Bates 2000, section 2.4.2.
func degrees(x [][]float64, g *groups) []float64 {
	p := len(x[0])
	within, constant := make([]bool, p), make([]bool, p)
	inner, outer := 0, 0
	anyConstant := false
	for j := range p {
		constant[j] = true
		for k := range g.count() {
			first := x[g.order[g.start[k]]][j]
			constant[j] = constant[j] && first == x[0][j]
			for _, i := range g.order[g.start[k]:g.start[k+1]] {
				within[j] = within[j] || x[i][j] != first
			}
		}
		switch {
		case within[j]:
			inner++
		case constant[j]:
			anyConstant = true
		default:
			outer++
		}
	}
	if anyConstant {
		outer++
	}
	df := make([]float64, p)
	for j := range p {
		if within[j] || constant[j] && !within[j] {
			df[j] = float64(len(g.order) - g.count() - inner)
		} else {
			df[j] = float64(g.count() - outer)
		}
	}
	return df
}

package mixed

import (
	"math"
	"slices"

	"keelmark/analysis/fit"
)

// alternation is the state of a nonlinear fit: fixed effects beta and, for each group, u with b = L u.
type alternation struct {
	*curves
	e          *engine
	scale      []float64 // of the columns of Z, by which b = L u / scale
	x          *basis    // scaling of the columns of X
	beta       []float64
	u          []float64 // by group: q
	loss       float64   // penalised sum of squares at beta, u
	losses     []float64 // by group
	values     []float64 // of the curves, or their logarithms, by row
	residual   []float64 // scratch
	trial      []float64 // u of a step
	stepped    []float64 // beta of a step
	b          []float64
	dx, dz     []float64
	linearised int
}

// Nonlinear fits a nonlinear mixed model. Errors are those of Linear, and fit.ErrInput where the model gives no
// finite value at the start. A fit that ends without a maximum is a Result with its Status. The likelihood of curves
// may have several maxima: a fit on which much hangs deserves a second start.
//
// One step makes the curves linear at the present estimates (each group at its own curve), finds the variances of
// that linear mixed model, and takes its fixed and random effects as a step, shortened where the penalised sum of
// squares does not fall. Where nothing moves, both conditions of the alternating algorithm hold: the effects
// minimise the penalised sum of squares, the variances maximise the likelihood of the linear model.
//
// The log likelihood is that of the linear model at the end, as R's nlme, or the Laplace approximation; of the
// responses themselves with log-normal errors, so that they compare.
//
// Source: Lindstrom & Bates 1990, Biometrics 46:673; Pinheiro & Bates 2000, section 7.2; for Laplace Pinheiro & Bates
// 1995, J. Comput. Graph. Stat. 4:12.
func Nonlinear(p NonlinearProblem) (*NonlinearResult, error) {
	c, names, random, err := curvesOf(&p)
	if err != nil {
		return nil, err
	}
	errors, err := newScatter(p.Scatter, c.groups)
	if err != nil {
		return nil, err
	}
	errors.setUsual(p.Y)
	a, counted, status := climb(c, errors, p)
	if p.Approximation == Laplace && status != fit.Stuck && a.e.profile.ok {
		status = a.integrate()
	}
	if !a.e.profile.ok {
		clear(a.e.profile.beta)
	}
	r := a.result(p, names, random)
	if !a.e.profile.ok {
		r.undetermined()
	}
	r.Status = status
	r.Parameters += counted - len(a.e.theta) // a variance that ended at zero was estimated all the same
	if p.LogNormal {
		for _, y := range c.y { // density of y, not of log y
			r.LogLik -= y
		}
	}
	r.criteria()
	if a.e.profile.ok {
		r.boundary(a.e.found())
		a.e.spread(&r.Result)
	}
	return r, nil
}

func newAlternation(c *curves, s *scatter, p NonlinearProblem) *alternation {
	n := len(c.y)
	r := &rows{groups: c.groups, q: c.q, p: c.p}
	r.flat = make([]float64, n*r.width())
	a := &alternation{
		curves: c, beta: slices.Clone(p.Start), u: make([]float64, c.count()*c.q), losses: make([]float64, c.count()),
		values: make([]float64, n), residual: make([]float64, n), trial: make([]float64, c.count()*c.q),
		stepped: make([]float64, c.p), b: make([]float64, c.q), dx: make([]float64, c.p), dz: make([]float64, c.q),
		e: newEngine(r, p.Covariance, s, p.Criterion == REML),
	}
	return a
}

// effects writes b of a group for its u.
func (a *alternation) effects(k int, u, b []float64) {
	q := a.q
	for i := range q {
		b[i] = 0
		for j := range i + 1 {
			b[i] += a.e.l[i*q+j] * u[k*q+j]
		}
		b[i] /= a.scale[i]
	}
}

// linearise sets the rows of the engine to the curves' derivatives at the present estimates, whose values are at hand.
// The response is what the fixed effects leave: y - f + Z b, so that the engine's fixed effects are steps. It is
// false where a derivative does not exist.
func (a *alternation) linearise() bool {
	a.linearised++
	m, q := a.e.width(), a.q
	sizes := make([]float64, m-1)
	for k := range a.count() {
		if a.scale != nil {
			a.effects(k, a.u, a.b)
		}
		for row := a.start[k]; row < a.start[k+1]; row++ {
			out := a.e.flat[row*m : (row+1)*m]
			f := a.values[row]
			a.derivatives(row, a.beta, a.b, f, out[q:m-1], out[:q])
			w := a.y[row] - f
			for j, z := range out[:q] {
				w += z * a.b[j]
			}
			out[m-1] = w
			for j, v := range out[:m-1] {
				sizes[j] += v * v
			}
		}
	}
	for j := range sizes {
		sizes[j] = math.Sqrt(sizes[j] / float64(a.count()))
		if !(sizes[j] > 0) || !finite(sizes[j]) {
			if sizes[j] != 0 {
				return false
			}
			sizes[j] = 1 // the curve does not depend on it here; the profile will find it undetermined
		}
	}
	for row := range a.y {
		for j, s := range sizes {
			a.e.flat[row*m+j] /= s
		}
	}
	a.rescale(sizes[:q])
	a.x = diagonal(sizes[q:])
	if a.e.errors.kind == PowerOfMean {
		a.e.errors.setMean(a.means())
	}
	a.e.changed()
	return true
}

// means are the fitted values by row, in the unit of y.
func (a *alternation) means() []float64 {
	out := slices.Clone(a.values)
	if a.logged {
		for i, v := range out {
			out[i] = math.Exp(v)
		}
	}
	return out
}

// rescale keeps the covariance of the random effects while the columns of Z change their length.
func (a *alternation) rescale(sizes []float64) {
	if a.scale != nil {
		for n, at := range a.e.places {
			i := at / a.q
			a.e.theta[n] *= sizes[i] / a.scale[i]
			a.e.l[at] = a.e.theta[n]
		}
	}
	a.scale = slices.Clone(sizes)
}

// keep makes u stand for the effects that it stood for with the L of before. Where L has become singular, the part of
// them that it no longer allows is dropped, and the curves follow.
func (a *alternation) keep(before []float64) {
	dropped := false
	q := a.q
	b := make([]float64, q)
	for k := range a.count() {
		u := a.u[k*q : (k+1)*q]
		for i := range q {
			b[i] = 0
			for j := range i + 1 {
				b[i] += before[i*q+j] * u[j]
			}
		}
		for i := range q {
			v := b[i]
			for j := range i {
				v -= a.e.l[i*q+j] * u[j]
			}
			u[i] = 0
			if pivot := a.e.l[i*q+i]; math.Abs(pivot) > 1e-6 {
				u[i] = v / pivot
			} else if v != 0 {
				dropped = true
			}
		}
	}
	if dropped {
		a.penalised(a.beta, a.u, a.losses)
	}
}

// penalised is the loss at fixed effects and u; by group into losses. The values of the curves there stay at hand.
func (a *alternation) penalised(beta, u, losses []float64) float64 {
	var total float64
	for k := range a.count() {
		losses[k] = a.groupLoss(k, beta, u)
		total += losses[k]
	}
	return total
}

func (a *alternation) groupLoss(k int, beta, u []float64) float64 {
	clear(a.b)
	if a.scale != nil {
		a.effects(k, u, a.b)
	}
	for row := a.start[k]; row < a.start[k+1]; row++ {
		a.values[row] = a.value(row, beta, a.b)
	}
	return a.lossOfValues(k, u)
}

// lossOfValues is the loss of a group whose values are at hand.
func (a *alternation) lossOfValues(k int, u []float64) float64 {
	first, end := a.start[k], a.start[k+1]
	for row := first; row < end; row++ {
		a.residual[row] = a.y[row] - a.values[row]
	}
	a.e.errors.whiten(a.e.psi, first, a.residual[first:end], 1)
	var loss float64
	for _, r := range a.residual[first:end] {
		loss += r * r
	}
	for _, v := range u[k*a.q : (k+1)*a.q] {
		loss += v * v
	}
	if math.IsNaN(loss) {
		return math.Inf(1)
	}
	return loss
}

// step goes from the present estimates to those of the engine's last evaluation, as far as the loss falls, and
// returns how far that would have been in standard errors of the fixed effects; false where no step helps.
func (a *alternation) step() (moved float64, ok bool) {
	p, q := a.p, a.q
	prof := a.e.profile
	delta := slices.Clone(prof.beta)
	a.x.back(delta)
	sigma := math.Sqrt(prof.sigma2())
	for i := range p {
		var v float64
		for j := i; j < p; j++ {
			v += prof.invX[i*p+j] * prof.invX[i*p+j]
		}
		moved = max(moved, math.Abs(prof.beta[i])/(sigma*math.Sqrt(v)))
	}
	full := make([]float64, len(a.u))
	a.loss = 0
	for k := range a.count() {
		prof.effects(k, a.e.l, full[k*q:(k+1)*q])
		a.losses[k] = a.lossOfValues(k, a.u) // anew: the variances may have changed
		a.loss += a.losses[k]
	}
	now := make([]float64, len(a.losses))
	for length := 1.0; length > 1e-6; length /= 2 {
		for i := range p {
			a.stepped[i] = a.beta[i] + length*delta[i]
		}
		for i := range a.trial {
			a.trial[i] = a.u[i] + length*(full[i]-a.u[i])
		}
		loss := a.penalised(a.stepped, a.trial, now)
		mended := !(loss < a.loss)
		if mended {
			loss = a.mend(now)
		}
		if loss <= a.loss*(1+1e-12) {
			copy(a.beta, a.stepped)
			copy(a.u, a.trial)
			if mended {
				a.penalised(a.beta, a.u, a.losses)
			}
			return moved, true
		}
	}
	a.penalised(a.beta, a.u, a.losses)
	return moved, false
}

// mend shortens the step of each group that lost by it, so that one bird with a wild curve does not hold back a
// flock, and returns the loss.
func (a *alternation) mend(now []float64) float64 {
	var total float64
	q := a.q
	old := make([]float64, q)
	for k := range a.count() {
		u := a.trial[k*q : (k+1)*q]
		if now[k] > a.losses[k] {
			copy(old, u)
			best, at := now[k], slices.Clone(u)
			for _, share := range []float64{0.5, 0.25, 0.0625, 0} {
				for j := range u {
					u[j] = a.u[k*q+j] + share*(old[j]-a.u[k*q+j])
				}
				if loss := a.groupLoss(k, a.stepped, a.trial); loss < best {
					best = loss
					copy(at, u)
				}
			}
			copy(u, at)
			now[k] = best
		}
		total += now[k]
	}
	return total
}

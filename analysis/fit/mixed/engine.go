package mixed

import (
	"math"
	"slices"

	"keelmark/analysis/fit"
)

// Covariance says how the random effects of one group go together.
type Covariance uint8

// The covariances of random effects.
const (
	Diagonal   Covariance = iota // a variance each, no correlation
	Correlated                   // any covariance
)

// places lists the elements of the lower triangle L that are free, by row.
func (c Covariance) places(q int) []int {
	var at []int
	for i := range q {
		if c == Correlated {
			for j := range i {
				at = append(at, i*q+j)
			}
		}
		at = append(at, i*q+i)
	}
	return at
}

// engine fits one linear mixed model in rows: parameters theta are the free elements of L, then those of the
// scatter. Nonlinear sets its rows anew for every linearisation.
type engine struct {
	*rows
	errors  *scatter
	reduced *reduction
	profile *profile
	places  []int
	l       []float64
	dl      []float64
	theta   []float64
	psi     []float64 // for which the rows are reduced
	current bool
	hessian []float64 // of the last estimate
	steps   int
}

func newEngine(r *rows, c Covariance, s *scatter, reml bool) *engine {
	e := &engine{rows: r, errors: s, places: c.places(r.q), l: make([]float64, r.q*r.q), dl: make([]float64, r.q*r.q)}
	e.reduced = newReduction(r)
	e.profile = newProfile(e.reduced, reml)
	for _, at := range e.places {
		v := 0.0
		if at/r.q == at%r.q {
			// A prior of the group's effect that weighs 0.375 squared of what its own rows say, as Pinheiro &
			// Bates 2000, section 3.3; columns of Z are of size 1.
			v = 1 / 0.375
		}
		e.theta = append(e.theta, v)
	}
	e.theta = append(e.theta, s.start()...)
	e.psi = make([]float64, len(e.theta)-len(e.places))
	return e
}

// changed says that the rows are new.
func (e *engine) changed() { e.current = false }

// set unpacks theta and reduces the rows where it has to.
func (e *engine) set(theta []float64) {
	for i, at := range e.places {
		e.l[at] = theta[i]
	}
	psi := theta[len(e.places):]
	for i, v := range psi {
		if v != e.psi[i] {
			e.psi[i], e.current = v, false
		}
	}
	if !e.current {
		e.reduced.reduce(e.rows, e.errors, e.psi)
		e.current = true
	}
}

// deviance is -2 log likelihood, profiled, with its gradient: exact by L, by differences for the scatter.
func (e *engine) deviance(theta, gradient []float64) float64 {
	e.set(theta)
	if gradient == nil {
		return e.profile.evaluate(e.l)
	}
	k := len(e.places)
	if len(theta) > k {
		const h = 1e-4
		at := append([]float64(nil), theta...)
		for i := k; i < len(theta); i++ {
			at[i] = theta[i] + h
			up := e.deviance(at, nil)
			at[i] = theta[i] - h
			down := e.deviance(at, nil)
			at[i] = theta[i]
			gradient[i] = (up - down) / (2 * h)
		}
		e.set(theta)
	}
	value := e.profile.evaluate(e.l)
	if !e.profile.ok {
		return value
	}
	e.profile.slope(e.l, e.dl)
	for i, at := range e.places {
		gradient[i] = e.dl[at]
	}
	return value
}

// estimate finds theta for the rows as they are, from where it stands, and leaves the profile evaluated there.
func (e *engine) estimate() (status fit.Status, moved float64) {
	s := search{of: e.deviance, point: append([]float64(nil), e.theta...), hessian: e.hessian}
	status = s.run()
	e.hessian = s.hessian
	e.steps += s.steps
	copy(e.theta, s.point)
	e.deviance(e.theta, nil)
	return status, s.moved
}

// found names the random effects whose variance is zero but for rounding. A singular L with positive variances means
// perfect correlation.
func (e *engine) found() (zero []int, singular bool) {
	const none = 1e-4 // beside what one group's own rows leave uncertain
	for i := range e.q {
		var size float64
		for _, v := range e.l[i*e.q : i*e.q+i+1] {
			size = math.Hypot(size, v)
		}
		switch {
		case size < none:
			zero = append(zero, i)
		case math.Abs(e.l[i*e.q+i]) < 1e-4*size:
			singular = true
		}
	}
	return zero, singular
}

// settle takes random effects of no variance out of the covariance and fits again what is left.
func (e *engine) settle(status fit.Status) (end fit.Status, dropped bool) {
	zero, _ := e.found()
	if len(zero) == 0 {
		return status, false
	}
	var places []int
	var theta []float64
	for n, at := range e.places {
		if slices.Contains(zero, at/e.q) || slices.Contains(zero, at%e.q) {
			continue
		}
		places, theta = append(places, at), append(theta, e.theta[n])
	}
	e.theta = append(theta, e.theta[len(e.places):]...)
	dropped = len(places) < len(e.places)
	e.places = places
	clear(e.l)
	status, _ = e.estimate()
	return status, dropped
}

package mixed

import (
	"math"
	"slices"

	"keelmark/analysis/fit"
)

// integrate maximises the Laplace approximation of the likelihood over fixed effects and variances together, from the
// end of the alternating algorithm. The curvature of each group's integrand is taken
// from first derivatives of the curve, so that the integrand may have any second ones.
//
// Source: Pinheiro & Bates 1995, J. Comput. Graph. Stat. 4:12, eq. (3.6) (modified Laplacian approximation);
// Nocedal & Wright 2006, Numerical Optimization, 2nd ed., algorithm 6.1 (BFGS).
func (a *alternation) integrate() (status fit.Status) {
	const (
		most  = 200
		still = 1e-9 // fall of -2 log likelihood at which the search ends
		h     = 1e-3 // of differences, in standard errors
	)
	p, k := a.p, len(a.e.theta)
	// Coordinates in standard errors: the search starts with the identity for second derivatives.
	units := make([]float64, p+k)
	root := make([]float64, p)
	sigma2 := a.e.profile.sigma2()
	for i := range p {
		for j := i; j < p; j++ {
			root[i] += a.e.profile.invX[i*p+j] * a.e.profile.invX[i*p+j]
		}
		units[i] = math.Sqrt(sigma2*root[i]) / a.x.r[i*p+i]
	}
	s := search{of: a.e.deviance, point: slices.Clone(a.e.theta), hessian: make([]float64, k*k)}
	s.second()
	for i := range k {
		units[p+i] = math.Sqrt(2 / max(s.hessian[i*k+i], 1e-3))
	}
	a.e.deviance(a.e.theta, nil)
	at := append(slices.Clone(a.beta), a.e.theta...)
	start := slices.Clone(at)
	of := func(z []float64) float64 {
		for i := range at {
			at[i] = start[i] + units[i]*z[i]
		}
		return a.laplace(at[:p], at[p:])
	}
	n := p + k
	z, g, next, gNext, step, probe := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	slope := func(z, g []float64) {
		copy(probe, z)
		for i := range probe {
			probe[i] = z[i] + h
			up := of(probe)
			probe[i] = z[i] - h
			down := of(probe)
			probe[i] = z[i]
			g[i] = (up - down) / (2 * h)
		}
	}
	inverse := square(n)
	for i := range n {
		inverse[i][i] = 0.5
	}
	value := of(z)
	slope(z, g)
	status = fit.Drifting
	small := 0
	for range most {
		a.e.steps++
		var fall float64
		for i := range n {
			step[i] = 0
			for j := range n {
				step[i] -= inverse[i][j] * g[j]
			}
			fall -= step[i] * g[i]
		}
		length, got := 1.0, math.Inf(1)
		for ; length > 1e-8; length /= 2 {
			for i := range n {
				next[i] = z[i] + length*step[i]
			}
			if got = of(next); got <= value-1e-4*length*fall {
				break
			}
		}
		if !(got < value) {
			status = fit.Stuck
			if fall < 1e-6 {
				status = fit.Converged
			}
			break
		}
		slope(next, gNext)
		update(inverse, z, next, g, gNext)
		gain := value - got
		copy(z, next)
		copy(g, gNext)
		value = got
		if small++; gain > still || fall > 100*still {
			small = 0
		}
		if small == 2 {
			status = fit.Converged
			break
		}
	}
	value = of(z)
	copy(a.beta, at[:p])
	copy(a.e.theta, at[p:])
	a.loss = a.penalised(a.beta, a.u, a.losses)
	a.linearise()
	a.e.deviance(a.e.theta, nil)
	// The linear model at the end serves for standard errors; its own estimates are not those of this likelihood.
	clear(a.e.profile.beta)
	a.e.profile.rss, a.e.profile.value = a.loss, value
	return status
}

// update is the BFGS update of an inverse second derivative.
func update(inverse [][]float64, z, next, g, gNext []float64) {
	n := len(z)
	s, y, hy := make([]float64, n), make([]float64, n), make([]float64, n)
	var sy, yhy float64
	for i := range n {
		s[i], y[i] = next[i]-z[i], gNext[i]-g[i]
		sy += s[i] * y[i]
	}
	if !(sy > 1e-12) {
		return
	}
	for i := range n {
		for j := range n {
			hy[i] += inverse[i][j] * y[j]
		}
		yhy += y[i] * hy[i]
	}
	for i := range n {
		for j := range n {
			inverse[i][j] += (1+yhy/sy)*s[i]*s[j]/sy - (hy[i]*s[j]+s[i]*hy[j])/sy
		}
	}
}

// laplace is -2 log likelihood at fixed effects and theta, with sigma profiled; a.u follows.
func (a *alternation) laplace(beta, theta []float64) float64 {
	for i, at := range a.e.places {
		a.e.l[at] = theta[i]
	}
	copy(a.e.psi, theta[len(a.e.places):])
	var loss, logs float64
	for k := range a.count() {
		groupLoss, log := a.mode(k, beta)
		loss, logs = loss+groupLoss, logs+log
	}
	n := float64(len(a.y))
	value := n*(math.Log(2*math.Pi*loss/n)+1) + logs
	if math.IsNaN(value) {
		return math.Inf(1)
	}
	return value
}

// mode finds the u of a group that minimises its loss, by Gauss-Newton from where it stands, and returns the loss
// there with log|P| + log|Lambda|.
func (a *alternation) mode(k int, beta []float64) (loss, logs float64) {
	const most = 100
	q, m := a.q, a.q+1
	first, n := a.start[k], a.start[k+1]-a.start[k]
	block := make([]float64, n*m)
	one := groupFactor{q: q, r: make([]float64, q*q), f: make([]float64, q*q), chol: make([]float64, q*q), t: make([]float64, q)}
	u := a.u[k*q : (k+1)*q]
	old, full := make([]float64, q), make([]float64, q)
	loss = a.groupLoss(k, beta, a.u)
	for range most {
		a.effects(k, a.u, a.b)
		for i := range n {
			f := a.values[first+i] // of the loss before
			a.derivatives(first+i, beta, a.b, f, a.dx, block[i*m:i*m+q])
			w := a.y[first+i] - f
			for j := range q {
				w += block[i*m+j] * a.b[j]
				block[i*m+j] /= a.scale[j]
			}
			block[i*m+q] = w
		}
		logs = a.e.errors.whiten(a.e.psi, first, block, m)
		householder(block, n, m, q)
		logs += one.solve(block, n, a.e.l, full)
		copy(old, u)
		var size float64
		for j := range u {
			size = max(size, math.Abs(full[j]-u[j])/(1e-3*math.Sqrt(loss)+math.Abs(u[j])))
		}
		if !(size > 1e-9) {
			return loss, logs
		}
		improved := false
		for length := 1.0; length > 1e-4; length /= 2 {
			for j := range u {
				u[j] = old[j] + length*(full[j]-old[j])
			}
			if now := a.groupLoss(k, beta, a.u); now <= loss {
				loss, improved = now, true
				break
			}
		}
		if !improved {
			copy(u, old)
			a.groupLoss(k, beta, a.u)
			return loss, logs
		}
	}
	return loss, logs
}

// groupFactor is the reduction of one group at given fixed effects.
type groupFactor struct {
	q             int
	r, f, chol, t []float64
}

// solve takes a reduced block of q columns of Z and the response, and writes u = F' P^-1 t; it returns log|P|.
func (g *groupFactor) solve(block []float64, n int, l, u []float64) (log float64) {
	q, m := g.q, g.q+1
	clear(g.r)
	clear(g.t)
	for i := range min(n, q) {
		copy(g.r[i*q+i:(i+1)*q], block[i*m+i:i*m+q])
		g.t[i] = block[i*m+q]
	}
	times(g.r, l, g.f, q)
	for i := range q {
		for j := range i + 1 {
			v := 0.0
			if i == j {
				v = 1
			}
			for b := range q {
				v += g.f[i*q+b] * g.f[j*q+b]
			}
			g.chol[i*q+j] = v
		}
	}
	cholesky(g.chol, q, 0)
	for i := range q {
		log += 2 * math.Log(g.chol[i*q+i])
		for j := range i {
			g.t[i] -= g.chol[i*q+j] * g.t[j]
		}
		g.t[i] /= g.chol[i*q+i]
	}
	for i := q - 1; i >= 0; i-- {
		for j := i + 1; j < q; j++ {
			g.t[i] -= g.chol[j*q+i] * g.t[j]
		}
		g.t[i] /= g.chol[i*q+i]
	}
	for j := range q {
		u[j] = 0
		for i := range q {
			u[j] += g.f[i*q+j] * g.t[i]
		}
	}
	return log
}

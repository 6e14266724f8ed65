package mixed

import "math"

// profile evaluates the likelihood of reduced rows, profiled over the fixed effects and sigma, for a covariance
// sigma^2 L L' of the random effects. With b = L u the likelihood stays smooth where a variance is zero, so that
// a search may walk there.
//
// For a group with triangle R and F = R L, the covariance of the rows beside R is sigma^2 P, P = I + F F'.
//
// Source: Pinheiro & Bates 2000, section 2.2 (profiled likelihoods); Bates, Mächler, Bolker & Walker 2015, J. Stat.
// Softw. 67(1), section 3 (b = L u).
type profile struct {
	*reduction
	reml bool

	// Of the last evaluation:
	chol  []float64 // by group: q x q, lower, P = chol chol'
	white []float64 // by group: q x (p+1): chol^-1 top
	cross []float64 // (p+1) x (p+1) lower Cholesky factor of [X w]'V^-1[X w]
	beta  []float64
	rss   float64   // penalised residual sum of squares
	invX  []float64 // p x p upper: inverse of the transposed factor; (X'V^-1X)^-1 = invX invX'
	ok    bool      // the fixed effects are determined, and the rows scatter
	value float64   // -2 log likelihood
	logs  float64   // log|P| summed
	logsX float64   // log|X'V^-1X|

	// Scratch of one group: F, chol^-1 F, chol^-1 R (q x q), the whitened residual (q), white X invX (q x p).
	f, cf, cr, residual, spanned []float64
}

func newProfile(d *reduction, reml bool) *profile {
	q, w := d.q, d.p+1
	return &profile{
		reduction: d, reml: reml, chol: make([]float64, d.count*q*q), white: make([]float64, d.count*q*w),
		cross: make([]float64, w*w), beta: make([]float64, d.p), invX: make([]float64, d.p*d.p),
		f: make([]float64, q*q), cf: make([]float64, q*q), cr: make([]float64, q*q),
		residual: make([]float64, q), spanned: make([]float64, q*d.p),
	}
}

// times writes R L, R upper and L lower triangular.
func times(r, l, out []float64, q int) {
	for i := range q {
		for j := range q {
			var v float64
			for k := max(i, j); k < q; k++ {
				v += r[i*q+k] * l[k*q+j]
			}
			out[i*q+j] = v
		}
	}
}

// evaluate computes estimates and -2 log likelihood for L (q x q, lower). It is infinite where the fixed effects
// are not determined.
func (f *profile) evaluate(l []float64) float64 {
	f.value = f.deviance(l)
	return f.value
}

func (f *profile) deviance(l []float64) float64 {
	q, w := f.q, f.p+1
	copy(f.cross, f.below)
	f.logs = 0
	for k := range f.count {
		times(f.triangle[k*q*q:(k+1)*q*q], l, f.f, q)
		c, white := f.chol[k*q*q:(k+1)*q*q], f.white[k*q*w:(k+1)*q*w]
		pivots := 1.0
		for i := range q { // Cholesky of I + F F' and the solution in one sweep
			for j := range i + 1 {
				var v float64
				for a := range q {
					v += f.f[i*q+a] * f.f[j*q+a]
				}
				if i == j {
					v++
				}
				for a := range j {
					v -= c[i*q+a] * c[j*q+a]
				}
				if i == j {
					c[i*q+i] = math.Sqrt(max(v, 1)) // a pivot of I + FF' is at least 1
					continue
				}
				c[i*q+j] = v / c[j*q+j]
			}
			pivots *= c[i*q+i]
			row := white[i*w : (i+1)*w]
			copy(row, f.top[(k*q+i)*w:(k*q+i+1)*w])
			for a := range i {
				x := c[i*q+a]
				for j, v := range white[a*w : (a+1)*w] {
					row[j] -= x * v
				}
			}
			inv := 1 / c[i*q+i]
			for a := range row {
				row[a] *= inv
				out := f.cross[a*w : a*w+a+1]
				for b, v := range row[:a+1] {
					out[b] += row[a] * v
				}
			}
		}
		f.logs += 2 * math.Log(pivots)
	}
	f.ok = f.solve()
	if !f.ok {
		return math.Inf(1)
	}
	n := float64(f.n)
	if !f.reml {
		return n*(math.Log(2*math.Pi*f.rss/n)+1) + f.logs + f.logDet
	}
	nu := float64(f.n - f.p)
	return nu*(math.Log(2*math.Pi*f.rss/nu)+1) + f.logs + f.logDet + f.logsX
}

// solve factors the cross products: the last row of the factor holds the estimates' right side and the root of the
// residual sum of squares.
func (f *profile) solve() bool {
	w, p := f.p+1, f.p
	f.logsX = 0
	for i := range w {
		diag := f.cross[i*w+i]
		for j := range i + 1 {
			v := f.cross[i*w+j]
			for a := range j {
				v -= f.cross[i*w+a] * f.cross[j*w+a]
			}
			if i != j {
				f.cross[i*w+j] = v / f.cross[j*w+j]
				continue
			}
			if i == p {
				f.rss = v
				break
			}
			if !(v > 1e-13*diag) {
				return false
			}
			f.cross[i*w+i] = math.Sqrt(v)
			f.logsX += math.Log(v)
		}
	}
	for j := p - 1; j >= 0; j-- {
		v := f.cross[p*w+j]
		for a := j + 1; a < p; a++ {
			v -= f.cross[a*w+j] * f.beta[a]
		}
		f.beta[j] = v / f.cross[j*w+j]
	}
	for c := range p { // column c of the inverse of the transposed factor
		for i := c; i >= 0; i-- {
			v := 0.0
			if i == c {
				v = 1
			}
			for a := i + 1; a <= c; a++ {
				v -= f.cross[a*w+i] * f.invX[a*p+c]
			}
			f.invX[i*p+c] = v / f.cross[i*w+i]
		}
	}
	return f.rss > 0 && finite(f.rss)
}

// sigma2 is the estimate of the residual variance at the last evaluation.
func (f *profile) sigma2() float64 {
	if f.reml {
		return f.rss / float64(f.n-f.p)
	}
	return f.rss / float64(f.n)
}

// slope writes the derivative of the last evaluation by each element of L (q x q) into out.
//
// Derivation: d log|P| = 2 tr(P^-1 R dL F'); the residual sum of squares is a minimum over beta, so that it moves by
// -2 rho' P^-1 R dL F' P^-1 rho, rho the residual beside the triangle; log|X'V^-1X| moves by
// -2 tr((X'V^-1X)^-1 X' P^-1 R dL F' P^-1 X).
func (f *profile) slope(l, out []float64) {
	q, w, p := f.q, f.p+1, f.p
	clear(out)
	scale := 1 / f.sigma2()
	u, h := f.residual, f.spanned
	for k := range f.count {
		r, c, white := f.triangle[k*q*q:(k+1)*q*q], f.chol[k*q*q:(k+1)*q*q], f.white[k*q*w:(k+1)*q*w]
		times(r, l, f.f, q)
		forward(c, f.f, f.cf, q)
		forward(c, r, f.cr, q)
		for i := range q { // residual, whitened
			v := white[i*w+p]
			for a, b := range f.beta {
				v -= white[i*w+a] * b
			}
			u[i] = v
		}
		// The slope is 2 (chol^-1 R)' (I - u u'/sigma^2 - h h') chol^-1 F, u the residual, h = white X invX.
		if f.reml {
			for i := range q {
				for j := range p {
					var v float64
					for a := range j + 1 {
						v += white[i*w+a] * f.invX[a*p+j]
					}
					h[i*p+j] = v
				}
			}
		}
		for i := range q {
			for j := range q {
				v := -scale * u[i] * u[j]
				if i == j {
					v++
				}
				if f.reml {
					for a := range p {
						v -= h[i*p+a] * h[j*p+a]
					}
				}
				v *= 2
				for a := range q {
					x := f.cr[i*q+a] * v
					for b := range a + 1 {
						out[a*q+b] += x * f.cf[j*q+b]
					}
				}
			}
		}
	}
}

// forward writes chol^-1 m.
func forward(chol, m, out []float64, q int) {
	for i := range q {
		for j := range q {
			v := m[i*q+j]
			for a := range i {
				v -= chol[i*q+a] * out[a*q+j]
			}
			out[i*q+j] = v / chol[i*q+i]
		}
	}
}

// effects writes u of group k at the last evaluation.
func (f *profile) effects(k int, l, u []float64) {
	q, w, p := f.q, f.p+1, f.p
	white := f.white[k*q*w : (k+1)*q*w]
	times(f.triangle[k*q*q:(k+1)*q*q], l, f.f, q)
	forward(f.chol[k*q*q:(k+1)*q*q], f.f, f.cf, q) // u = F' P^-1 rho = (chol^-1 F)' (white w - white X beta)
	clear(u[:q])
	for i := range q {
		v := white[i*w+p]
		for a, b := range f.beta {
			v -= white[i*w+a] * b
		}
		for j := range q {
			u[j] += f.cf[i*q+j] * v
		}
	}
}

// uncertainty returns, for group k, the covariance of u - estimate, in units of sigma^2, and the covariance of the
// estimated fixed effects (p) with it (q columns).
//
// Source: Henderson 1975, Biometrics 31:423 (variance of prediction errors).
func (f *profile) uncertainty(k int, l []float64) (uu, xu []float64) {
	q, w, p := f.q, f.p+1, f.p
	white := f.white[k*q*w : (k+1)*q*w]
	times(f.triangle[k*q*q:(k+1)*q*q], l, f.f, q)
	forward(f.chol[k*q*q:(k+1)*q*q], f.f, f.cf, q)
	uu, xu = make([]float64, q*q), make([]float64, p*q)
	g := make([]float64, q*p) // (chol^-1 F)' (white X) invX
	for a := range q {
		for j := range p {
			for i := range q {
				for b := range j + 1 {
					g[a*p+j] += f.cf[i*q+a] * white[i*w+b] * f.invX[b*p+j]
				}
			}
		}
	}
	for a := range q {
		for b := range q {
			v := 0.0
			if a == b {
				v = 1
			}
			for i := range q {
				v -= f.cf[i*q+a] * f.cf[i*q+b]
			}
			for j := range p {
				v += g[a*p+j] * g[b*p+j]
			}
			uu[a*q+b] = v
		}
		for i := range p {
			for j := i; j < p; j++ {
				xu[i*q+a] -= f.invX[i*p+j] * g[a*p+j]
			}
		}
	}
	return uu, xu
}

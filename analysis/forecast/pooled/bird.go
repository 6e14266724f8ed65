package pooled

import (
	"math"

	"keelmark/analysis/forecast/dense"
	"keelmark/analysis/forecast/outlier"
)

// effects is how many numbers make a bird its own: deviations in log A, log k and log ti.
const effects = 3

// Track is the growing-age weighings of one bird, oldest first.
type Track struct {
	Ages []float64 // weeks
	Logs []float64 // log grams
	Days []float64 // calendar days, or days of age where no date is known
}

// pool is the population that a bird comes from, on the scale of the model.
type pool struct {
	mean   curve
	spread [effects]float64 // SD of birds in log A, log k, log ti
	noise  float64          // SD of a good weighing, log scale
	settle float64          // how fast its rate returns to that of its curve, per unit 1/k of time
	wander float64          // SD that its growth rate gains over one unit 1/k of time, as a share of k
}

// own is the curve of a bird whose standardised deviations are x.
func (p *pool) own(x []float64) curve {
	m := &p.mean
	return newCurve(m.logA+p.spread[0]*x[0], m.logK+p.spread[1]*x[1], m.logT+p.spread[2]*x[2], m.nu)
}

// variance of one weighing.
func (p *pool) variance(bad bool) float64 {
	v := p.noise * p.noise
	if bad {
		v += outlier.SD * outlier.SD
	}
	return v
}

// workspace holds what fitting one bird needs, for reuse.
type workspace struct {
	paths    []path // between weighings
	gains    []gain // [weighing]
	hessian  [][]float64
	gradient []float64
	step     []float64
	trial    []float64
}

func newWorkspace(birds []Track) *workspace {
	most := 0
	for _, b := range birds {
		most = max(most, len(b.Ages))
	}
	return &workspace{paths: make([]path, most), gains: make([]gain, most), hessian: dense.Square(effects),
		gradient: make([]float64, effects), step: make([]float64, effects), trial: make([]float64, effects)}
}

// prepare fills the paths of a bird between its weighings under a pool.
func (w *workspace) prepare(p *pool, t *Track) {
	before := 0.0
	for j, age := range t.Ages {
		w.paths[j] = p.path(before, age)
		before = age
	}
}

// loss is minus the log of likelihood times prior of the standardised deviations x, given the filter's gains. It fills
// the gradient and the expected Hessian. ok is false where the curve has no weight at some age.
func (w *workspace) loss(p *pool, t *Track, x []float64) (loss float64, ok bool) {
	sum := dense.Dot(x[:effects], x[:effects]) / 2
	for i := range effects {
		w.gradient[i] = x[i]
		clear(w.hessian[i][:i])
		w.hessian[i][i] = 1
	}
	c := p.own(x)
	var along [effects + 1]drift // of the residual, and of its slopes in x
	for j, age := range t.Ages {
		f, slopeK, slopeT, ok := c.at(age)
		if !ok {
			return math.Inf(1), false
		}
		seen := [effects + 1]float64{t.Logs[j] - f, p.spread[0], p.spread[1] * slopeK, p.spread[2] * slopeT}
		g := &w.gains[j]
		for i := range along {
			seen[i] = along[i].news(&w.paths[j], g, seen[i])
		}
		sum += (g.precision*seen[0]*seen[0] - g.logPrecision) / 2
		for a := range effects {
			v := g.precision * seen[a+1]
			w.gradient[a] -= v * seen[0]
			row := w.hessian[a]
			for b := 0; b <= a; b++ {
				row[b] += v * seen[b+1]
			}
		}
	}
	return sum, !math.IsInf(sum, 0) && !math.IsNaN(sum)
}

// fit moves x to the mode and returns the Laplace approximation of the log marginal likelihood, up to a constant of
// the bird, given which weighings are bad, with the factor of the Hessian left in w. It is -Inf where the curve
// has no weight at some age. w must be prepared for the bird.
//
// Source: Laplace's method, Tierney & Kadane 1986, J. Am. Stat. Assoc. 81:82, with the expected Hessian.
func (w *workspace) fit(p *pool, t *Track, bad []bool, x []float64) (float64, dense.Factor) {
	w.filter(p, bad)
	loss, ok := w.loss(p, t, x)
	if !ok {
		clear(x)
		if loss, ok = w.loss(p, t, x); !ok {
			return math.Inf(-1), nil
		}
	}
	for range 50 {
		l, ok := dense.Cholesky(w.hessian)
		if !ok {
			return math.Inf(-1), nil
		}
		copy(w.step, w.gradient)
		l.Forward(w.step)
		gain := dense.Dot(w.step, w.step)
		if gain < 1e-6 {
			return -loss - l.HalfLogDet(), l
		}
		l.Backward(w.step)
		next, moved := loss, false
		for size := 1.0; size > 1e-4 && !moved; size /= 2 {
			for i := range w.trial {
				w.trial[i] = x[i] - size*w.step[i]
			}
			next, ok = w.loss(p, t, w.trial)
			moved = ok && next < loss-1e-4*size*gain
		}
		if !moved {
			break
		}
		copy(x, w.trial)
		loss = next
	}
	loss, _ = w.loss(p, t, x)
	l, ok := dense.Cholesky(w.hessian)
	if !ok {
		return math.Inf(-1), nil
	}
	return -loss - l.HalfLogDet(), l
}

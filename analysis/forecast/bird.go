package forecast

import "math"

const (
	// badShare of all weighings are taken to be off by much more than weighing error, with the wide relative
	// SD badSD. Source: contaminated normal of Tukey 1960; the shares are Keelmark's own assumption, 5 % off by
	// 10 to 30 %, as its planning simulated.
	badShare = 0.05
	badSD    = 0.20
	// effects is how many numbers make a bird its own: deviations in log A, log k and log ti.
	effects = 3
)

// track is the growing-age weighings of one bird.
type track struct {
	ages []float64 // weeks, ascending
	logs []float64 // log grams
	days []float64 // calendar days, or days of age where no date is known
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
		v += badSD * badSD
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

func newWorkspace(birds []track) *workspace {
	most := 0
	for _, b := range birds {
		most = max(most, len(b.ages))
	}
	return &workspace{paths: make([]path, most), gains: make([]gain, most), hessian: square(effects),
		gradient: make([]float64, effects), step: make([]float64, effects), trial: make([]float64, effects)}
}

// prepare fills the paths of a bird between its weighings under a pool.
func (w *workspace) prepare(p *pool, t *track) {
	before := 0.0
	for j, age := range t.ages {
		w.paths[j] = p.path(before, age)
		before = age
	}
}

// loss is minus the log of likelihood times prior of the standardised deviations x, given the filter's gains. It fills
// the gradient and the expected Hessian. ok is false where the curve has no weight at some age.
func (w *workspace) loss(p *pool, t *track, x []float64) (loss float64, ok bool) {
	sum := dot(x[:effects], x[:effects]) / 2
	for i := range effects {
		w.gradient[i] = x[i]
		clear(w.hessian[i][:i])
		w.hessian[i][i] = 1
	}
	c := p.own(x)
	var along [effects + 1]drift // of the residual, and of its slopes in x
	for j, age := range t.ages {
		f, slopeK, slopeT, ok := c.at(age)
		if !ok {
			return math.Inf(1), false
		}
		seen := [effects + 1]float64{t.logs[j] - f, p.spread[0], p.spread[1] * slopeK, p.spread[2] * slopeT}
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
func (w *workspace) fit(p *pool, t *track, bad []bool, x []float64) (float64, factor) {
	w.filter(p, bad)
	loss, ok := w.loss(p, t, x)
	if !ok {
		clear(x)
		if loss, ok = w.loss(p, t, x); !ok {
			return math.Inf(-1), nil
		}
	}
	for range 50 {
		l, ok := cholesky(w.hessian)
		if !ok {
			return math.Inf(-1), nil
		}
		copy(w.step, w.gradient)
		l.forward(w.step)
		gain := dot(w.step, w.step)
		if gain < 1e-6 {
			return -loss - l.halfLogDet(), l
		}
		l.backward(w.step)
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
	l, ok := cholesky(w.hessian)
	if !ok {
		return math.Inf(-1), nil
	}
	return -loss - l.halfLogDet(), l
}

package forecast

import "math"

const (
	// badShare of all weighings are taken to be off by much more than weighing error, with the wide relative
	// SD badSD. Source: contaminated normal of Tukey 1960; the shares are Keelmark's own assumption, 5 % off by
	// 10 to 30 %, as its planning simulated.
	badShare = 0.05
	badSD    = 0.20
	// bends is the most knots at which one bird's growth rate may bend away from its curve.
	bends = 4
)

// track is the growing-age weighings of one bird.
type track struct {
	ages   []float64 // weeks, ascending
	logs   []float64 // log grams
	days   []float64 // calendar days, or days of age where no date is known
	knots  []float64 // weeks: where the growth rate may bend
	spaced float64   // weeks between knots
}

// newTrack spreads the knots over the time observed: one for a bird with up to three weighings, four for six or
// more.
func newTrack(ages, logs, days []float64) track {
	n := len(ages)
	t := track{ages: ages, logs: logs, days: days}
	count := min(max(n-2, 1), bends)
	span := max(ages[n-1]-ages[0], 1)
	t.spaced = span / float64(count)
	for i := range count {
		t.knots = append(t.knots, ages[0]+(float64(i)+0.5)*t.spaced)
	}
	return t
}

func (t *track) dims() int { return 3 + len(t.knots) }

// pool is the population that a bird comes from, on the scale of the model.
type pool struct {
	mean   curve
	spread [3]float64 // SD of birds in log A, log k, log ti
	noise  float64    // SD of a good weighing, log scale
	wander float64    // SD of the growth rate's bends over one unit of growing time, as a share of k
}

// bendGain is what one unit of a bend at a knot adds to the log weight by an age. Until the inflection it adds up in
// proportion to time, in units of 1/k; after it, it fades with growth itself, so that no bend moves a grown bird.
//
// Source: integrated random walk of the rate, as in Wecker & Ansley 1983, J. Am. Stat. Assoc. 78:81 (from memory); the
// fading is Keelmark's own.
func (p *pool) bendGain(knot, age float64) float64 { return max(0, p.elapsed(age)-p.elapsed(knot)) }

// elapsed is growing time at an age, 0 at the inflection.
func (p *pool) elapsed(age float64) float64 {
	x := p.mean.k * (age - p.mean.ti)
	if x < 0 {
		return x
	}
	return -math.Expm1(-x)
}

// bend is the prior SD of one bend for knots so far apart.
func (p *pool) bend(spaced float64) float64 {
	return p.wander * math.Sqrt(p.mean.k*spaced)
}

// own is the curve of a bird whose standardised deviations are x.
func (p *pool) own(x []float64) curve {
	m := &p.mean
	return newCurve(m.logA+p.spread[0]*x[0], m.logK+p.spread[1]*x[1], m.logT+p.spread[2]*x[2], m.nu)
}

// workspace holds what fitting one bird needs, for reuse.
type workspace struct {
	basis    [][]float64 // [weighing][knot], scaled by the bend's prior SD
	hessian  [][]float64
	gradient []float64
	step     []float64
	trial    []float64
	slope    []float64
	start    []float64
}

func newWorkspace(birds []track) *workspace {
	most, dims := 0, 3+bends
	for _, b := range birds {
		most = max(most, len(b.ages))
	}
	w := &workspace{hessian: square(dims), gradient: make([]float64, dims), step: make([]float64, dims),
		trial: make([]float64, dims), slope: make([]float64, dims), start: make([]float64, dims)}
	for range most {
		w.basis = append(w.basis, make([]float64, bends))
	}
	return w
}

// prepare fills the basis of a bird under a pool.
func (w *workspace) prepare(p *pool, t *track) {
	sd := p.bend(t.spaced)
	var then [bends]float64
	for k, knot := range t.knots {
		then[k] = p.elapsed(knot)
	}
	for j, age := range t.ages {
		now := p.elapsed(age)
		for k := range t.knots {
			w.basis[j][k] = sd * max(0, now-then[k])
		}
	}
}

// loss is minus the log of likelihood times prior of the standardised deviations x, given which weighings are bad.
// It fills the gradient and the expected Hessian. ok is false where the curve has no weight at some age.
func (w *workspace) loss(p *pool, t *track, bad []bool, x []float64) (loss float64, ok bool) {
	d := t.dims()
	sum := dot(x[:d], x[:d]) / 2
	for i := range d {
		w.gradient[i] = x[i]
		clear(w.hessian[i][:i])
		w.hessian[i][i] = 1
	}
	c := p.own(x)
	good, wide := 1/(p.noise*p.noise), 1/(p.noise*p.noise+badSD*badSD)
	logGood, logWide := math.Log(good), math.Log(wide)
	for j, age := range t.ages {
		f, slopeK, slopeT, ok := c.at(age)
		if !ok {
			return math.Inf(1), false
		}
		for k := range t.knots {
			f += w.basis[j][k] * x[3+k]
		}
		r, precision, logPrecision := t.logs[j]-f, good, logGood
		if bad[j] {
			precision, logPrecision = wide, logWide
		}
		sum += (precision*r*r - logPrecision) / 2
		w.slope[0], w.slope[1], w.slope[2] = p.spread[0], p.spread[1]*slopeK, p.spread[2]*slopeT
		copy(w.slope[3:], w.basis[j][:len(t.knots)])
		for a := range d {
			v := precision * w.slope[a]
			w.gradient[a] -= v * r
			row := w.hessian[a]
			for b := 0; b <= a; b++ {
				row[b] += v * w.slope[b]
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
	d := t.dims()
	loss, ok := w.loss(p, t, bad, x)
	if !ok {
		clear(x[:d])
		if loss, ok = w.loss(p, t, bad, x); !ok {
			return math.Inf(-1), nil
		}
	}
	for range 50 {
		l, ok := cholesky(w.hessian[:d])
		if !ok {
			return math.Inf(-1), nil
		}
		copy(w.step, w.gradient[:d])
		l.forward(w.step[:d])
		gain := dot(w.step[:d], w.step[:d])
		if gain < 1e-6 {
			return -loss - l.halfLogDet(), l
		}
		l.backward(w.step[:d])
		next, moved := loss, false
		for size := 1.0; size > 1e-4 && !moved; size /= 2 {
			for i := range d {
				w.trial[i] = x[i] - size*w.step[i]
			}
			next, ok = w.loss(p, t, bad, w.trial)
			moved = ok && next < loss-1e-4*size*gain
		}
		if !moved {
			break
		}
		copy(x[:d], w.trial[:d])
		loss = next
	}
	loss, _ = w.loss(p, t, bad, x)
	l, ok := cholesky(w.hessian[:d])
	if !ok {
		return math.Inf(-1), nil
	}
	return -loss - l.halfLogDet(), l
}

package fit

import (
	"math"
)

// LeastSquares fits a problem by one procedure for all problems: several damped descents from the start (see
// ladder), the lowest sum of squares wins, and undamped steps with the most accurate derivatives then bring it
// to the last digits. It returns an error where the problem cannot be fitted as stated (ErrTooFew with as
// many parameters as observations, ErrInput); a fit that ends without a minimum is a Result with its Status.
//
// A problem needs a Model, X (one row an observation, with as many columns as the model has variables), Y and Start (one
// value a parameter); everything else has a default. A model for the logarithm of a response is fitted to logarithms
// in Y: LogNormal is for models of the response itself.
//
// On the collection NIST SRD 140 (Statistical Reference Datasets, nonlinear regression) parameters agree to at
// least 7 digits and standard errors to 5 from both published starts.
//
// Source: Bates & Watts 1988, Nonlinear Regression Analysis and Its Applications, ch. 2 (estimates, standard
// errors, relative offset); Marquardt, Moré, Nielsen, Transtrum & Sethna as named at each step.
func LeastSquares(p Problem) (*Result, error) {
	p, err := p.checked()
	if err != nil {
		return nil, err
	}
	switch {
	case p.Errors == PowerOfMean:
		return powerOfMean(p)
	case p.Robust != NotRobust:
		return robust(p)
	}
	w, status := minimise(p)
	return w.result(status), nil
}

// Refine fits a problem whose start already lies near the minimum: it does not search, and is for starts that
// another fit has found. Plain and log-normal errors only; otherwise as LeastSquares.
func Refine(p Problem) (*Result, error) {
	p, err := p.checked()
	if err != nil {
		return nil, err
	}
	if p.Errors == PowerOfMean || p.Robust != NotRobust {
		return nil, badInput("Refine goes with plain and log-normal least squares")
	}
	w, status := refine(p)
	return w.result(status), nil
}

// refine goes down from the start in one rung and polishes.
func refine(p Problem) (*walk, Status) {
	w := newSystem(p).walk()
	status := w.descend(rung{damping: 1e-3, accelerate: true})
	steps := w.steps
	status = w.polish(status)
	w.steps += steps
	return w, status
}

// minimise runs the ladder and polishes its best end.
func minimise(p Problem) (*walk, Status) {
	var best *walk
	var end Status
	steps, evals := 0, 0
	for _, how := range ladder {
		s := newSystem(p)
		if how.logs && !s.inLogs() {
			continue
		}
		w := s.walk()
		status := w.descend(how)
		steps, evals = steps+w.steps, evals+w.evals
		w.leaveLogs()
		if best == nil || w.better(status, best, end) {
			best, end = w, status
		}
	}
	before := best.evals
	status := best.polish(end)
	best.steps += steps
	best.evals = evals + best.evals - before
	return best, status
}

// better compares two ends: by the sum of squares; between mirror images of one minimum (the width of a bell
// curve may have either sign) by how many parameters keep the sign of their start; then by status.
func (w *walk) better(status Status, best *walk, end Status) bool {
	switch {
	case w.rss < best.rss*(1-1e-9):
		return true
	case w.rss > best.rss*(1+1e-9):
		return false
	case w.turned() != best.turned():
		return w.turned() < best.turned()
	}
	return status == Converged && end != Converged
}

// turned counts the parameters that have left the sign of their start.
func (w *walk) turned() int {
	n := 0
	for i, b := range w.point {
		if b*w.Start[i] < 0 {
			n++
		}
	}
	return n
}

// leaveLogs returns a walk to the parameters themselves.
func (w *walk) leaveLogs() {
	w.toParams(w.point, w.params)
	copy(w.point, w.params)
	clear(w.logged)
	w.rss, _ = w.residuals(w.point, w.r)
}

// polish takes undamped Gauss-Newton steps with careful derivatives until rounding stops them.
func (w *walk) polish(end Status) Status {
	const enough = 200
	last := math.Inf(1)
	w.steps = 0
	for ; w.steps < enough; w.steps++ {
		offset, ok := w.linearise(true)
		if !ok {
			return Stuck
		}
		if len(w.active) == 0 {
			return Converged // every parameter lies on a bound
		}
		if !w.q.determined() {
			return Flat
		}
		if !w.q.solve(w.qtr, w.delta) {
			return Flat
		}
		size := w.relative()
		if size < 1e-15 || size < 1e-8 && size >= last {
			return Converged // steps that no longer shrink are rounding
		}
		if !w.shorten() {
			if offset < 1e-5 || size < 1e-9 || w.exact() {
				return Converged
			}
			if end == Drifting {
				return Drifting
			}
			return Stuck
		}
		last = size
	}
	return Drifting
}

// relative is the size of the proposed step beside the parameters.
func (w *walk) relative() float64 {
	var size float64
	for a, j := range w.active {
		b := math.Abs(w.point[w.free[j]])
		d := math.Abs(w.delta[a])
		if d > 0 {
			size = max(size, d/(b+d))
		}
	}
	return size
}

// shorten takes the proposed step, halved until the sum of squares does not rise beyond rounding.
func (w *walk) shorten() bool {
	limit := w.rss * (1 + w.noise())
	for range 12 {
		copy(w.trial, w.point)
		for a, j := range w.active {
			w.trial[w.free[j]] += w.delta[a]
		}
		w.clamp(w.trial)
		if rss, ok := w.residuals(w.trial, w.rTrial); ok && rss <= limit {
			w.point, w.trial = w.trial, w.point
			w.r, w.rTrial = w.rTrial, w.r
			w.rss = rss
			return true
		}
		for a := range w.active {
			w.delta[a] /= 2
		}
	}
	return false
}

// noise is the relative rounding error of the sum of squares: residuals are small differences of responses.
func (w *walk) noise() float64 {
	const eps = 0x1p-52
	if w.rss == 0 {
		return 0
	}
	return 1e-13 + 8*eps*math.Sqrt(w.size()/w.rss)
}

// size is the weighted sum of squared responses.
func (w *walk) size() float64 {
	var size float64
	for i, y := range w.target {
		size += w.root[i] * w.root[i] * y * y
	}
	return size
}

// exact reports whether the residuals are no more than the rounding of the responses.
func (w *walk) exact() bool {
	return w.rss <= 1e-24*w.size()
}

// determined reports whether the factored columns are independent beyond rounding, whatever their scales.
func (q *qr) determined() bool {
	scaled := newQR(0, len(q.cols))
	for j, c := range q.cols {
		var norm float64
		for _, v := range c[:j+1] {
			norm += v * v
		}
		norm = math.Sqrt(norm)
		if norm == 0 || !finite(norm) {
			return false
		}
		scaled.cols[j] = make([]float64, len(q.cols))
		for i, v := range c[:j+1] {
			scaled.cols[j][i] = v / norm
		}
	}
	_, cond, ok := scaled.inverse()
	return ok && cond < 1e13
}

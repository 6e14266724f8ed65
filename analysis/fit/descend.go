package fit

import "math"

// Status says why a fit stopped.
type Status uint8

// The ends of a fit. Only Converged marks a minimum of the sum of squares.
const (
	Converged Status = iota
	Flat             // the data leave a combination of parameters undetermined; standard errors are infinite
	Drifting         // the sum of squares still falls, towards no finite minimum or too slowly
	Stuck            // no step improves, but the conditions of a minimum are not met
)

var statusNames = [...]string{
	"converged",
	"the data do not determine all parameters",
	"still improving when the steps ran out",
	"no step improves, but this is no minimum",
}

// String says it in words.
func (s Status) String() string { return statusNames[s] }

// rung is one way down: coordinates, damping and whether steps follow the curve of the valley.
type rung struct {
	logs       bool
	damping    float64
	accelerate bool
}

// The ladder. The short first steps of the first rung keep wild starts from jumping onto a plateau; logarithms
// of positive parameters with acceleration go down long bent valleys and keep signs, but alone they miss
// BoxBOD and MGH17 of the collection NIST SRD 140 from the far start, where the others alone miss MGH10 or
// mirror Eckerle4. All always run and the lowest sum of squares wins.
var ladder = [...]rung{
	{logs: false, damping: 100, accelerate: false},
	{logs: true, damping: 1, accelerate: true},
	{logs: false, damping: 1, accelerate: true},
}

// walk is the state of one descent.
type walk struct {
	*system
	point, trial, step []float64 // by parameter
	r, rTrial, qtr     []float64 // by observation
	cols               [][]float64
	q, damped          *qr         // of the columns that may move
	jac, mix           [][]float64 // all columns of q and damped, of which the active are in use
	active             []int       // their positions in free
	scale              []float64
	rhs, delta, bend   []float64
	rss                float64
	steps              int
}

func (s *system) walk() *walk {
	n, p, k := len(s.Y), len(s.Start), len(s.free)
	w := &walk{
		system: s, point: make([]float64, p), trial: make([]float64, p), step: make([]float64, p),
		r: make([]float64, n), rTrial: make([]float64, n), qtr: make([]float64, n),
		cols: newQR(n, k).cols, q: newQR(n, k), scale: make([]float64, k), damped: newQR(2*k, k),
		rhs: make([]float64, 2*k), delta: make([]float64, k), bend: make([]float64, k),
	}
	w.jac, w.mix = w.q.cols, w.damped.cols
	return w
}

// linearise computes and factors the derivatives at the point, leaving out parameters that lie on a bound and
// would be pushed through it. It returns the relative offset: the part of the residuals that the parameters
// could still take up, beside the part that they cannot.
//
// Source: Bates & Watts 1981, Technometrics 23:179 (relative offset).
func (w *walk) linearise(careful bool) (offset float64, ok bool) {
	if !w.jacobian(w.point, w.cols, careful) {
		return 0, false
	}
	w.active = w.active[:0]
	for j, k := range w.free {
		var slope float64
		for i, d := range w.cols[j] {
			slope += d * w.r[i]
		}
		b := w.point[k]
		if w.logged[k] {
			b = math.Exp(b)
		}
		if b <= w.Lower[k] && slope < 0 || b >= w.Upper[k] && slope > 0 {
			continue
		}
		w.active = append(w.active, j)
	}
	m := len(w.active)
	w.q.cols = w.jac[:m]
	for a, j := range w.active {
		copy(w.q.cols[a], w.cols[j])
	}
	w.q.factor()
	copy(w.qtr, w.r)
	w.q.rotate(w.qtr)
	var taken, left float64
	for i, v := range w.qtr {
		if i < m {
			taken += v * v
		} else {
			left += v * v
		}
	}
	if taken == 0 {
		return 0, true
	}
	return math.Sqrt(taken / float64(max(m, 1)) / (left / float64(len(w.r)-m))), true
}

// solveDamped solves the least squares of R x = rhs with damping times the scales, into x by active parameter.
func (w *walk) solveDamped(rhs []float64, damping float64, x []float64) bool {
	m := len(w.active)
	w.damped.cols = w.mix[:m]
	root := math.Sqrt(damping)
	for a := range m {
		w.mix[a] = w.mix[a][:2*m]
		c := w.mix[a]
		clear(c)
		copy(c, w.q.cols[a][:a+1])
		c[m+a] = root * w.scale[w.active[a]]
	}
	w.damped.factor()
	b := w.rhs[:2*m]
	clear(b)
	copy(b, rhs[:m])
	w.damped.rotate(b)
	return w.damped.solve(b, x[:m])
}

// descend runs damped least squares from the problem's start, with the damping schedule of Nielsen and the
// scaling of Moré.
//
// Source: Marquardt 1963, J. SIAM 11:431; Moré 1978, Lect. Notes Math. 630:105 (running maximum of column
// norms); Nielsen 1999, Damping parameter in Marquardt's method, IMM-REP-1999-05; Transtrum & Sethna 2012,
// arXiv:1201.5885 (geodesic acceleration).
func (w *walk) descend(how rung) Status {
	const small = 1e-7
	w.toPoint(w.Start, w.point)
	clear(w.scale)
	var ok bool
	if w.rss, ok = w.residuals(w.point, w.r); !ok {
		return Stuck
	}
	damping, growth, fresh := how.damping, 2.0, true
	for w.steps = 0; w.steps < w.MaxSteps; w.steps++ {
		if fresh {
			offset, ok := w.linearise(false)
			if !ok {
				return Stuck
			}
			if offset < small || w.rss == 0 {
				return Converged
			}
			w.rescale()
			fresh = false
		}
		predicted, ok := w.propose(damping, how.accelerate)
		if ok {
			rss, good := w.residuals(w.trial, w.rTrial)
			if gain := w.rss - rss; good && gain > 0 {
				w.point, w.trial = w.trial, w.point
				w.r, w.rTrial = w.rTrial, w.r
				w.rss, fresh = rss, true
				ratio := 1.0
				if predicted > 0 {
					ratio = gain / predicted
				}
				damping *= max(1.0/3, 1-math.Pow(2*ratio-1, 3))
				growth = 2
				damping = max(damping, 1e-20)
				continue
			}
			if w.negligible() {
				return Stuck // rounding decides from here; polish will say whether it is a minimum
			}
		}
		damping *= growth
		growth *= 2
		if damping > 1e40 {
			return Stuck
		}
	}
	return Drifting
}

// rescale keeps, for each parameter, the largest column norm seen.
func (w *walk) rescale() {
	for j, c := range w.cols {
		var sum float64
		for _, v := range c {
			sum += v * v
		}
		w.scale[j] = max(w.scale[j], math.Sqrt(sum))
		if w.scale[j] == 0 {
			w.scale[j] = 1
		}
	}
}

// propose writes the next trial point and returns the fall of the sum of squares that the linear model predicts.
func (w *walk) propose(damping float64, accelerate bool) (predicted float64, ok bool) {
	if !w.solveDamped(w.qtr, damping, w.delta) {
		return 0, false
	}
	if accelerate && !w.accelerate(damping) {
		return 0, false
	}
	clear(w.step)
	for a, j := range w.active {
		d := w.delta[a]
		s := w.scale[j] * d
		predicted += 2 * damping * s * s
		w.step[w.free[j]] = d
		if accelerate {
			w.step[w.free[j]] += w.bend[a] / 2
		}
	}
	for row := range w.active { // |R delta|^2
		var v float64
		for a := row; a < len(w.active); a++ {
			v += w.q.cols[a][row] * w.delta[a]
		}
		predicted += v * v
	}
	for i := range w.trial {
		w.trial[i] = w.point[i] + w.step[i]
	}
	w.clamp(w.trial)
	return predicted, true
}

// accelerate computes the second-order part of the step, and refuses where it outgrows the first.
func (w *walk) accelerate(damping float64) bool {
	const h = 0.1
	copy(w.trial, w.point)
	for a, j := range w.active {
		w.trial[w.free[j]] += h * w.delta[a]
	}
	if _, ok := w.residuals(w.trial, w.rTrial); !ok {
		return false
	}
	for i := range w.rTrial {
		var slope float64
		for a, j := range w.active {
			slope += w.cols[j][i] * w.delta[a]
		}
		// The residual falls where the fit rises: its second derivative has the opposite sign.
		w.rTrial[i] = 2 / h * ((w.rTrial[i]-w.r[i])/h + slope)
	}
	w.q.rotate(w.rTrial)
	if !w.solveDamped(w.rTrial, damping, w.bend) {
		return false
	}
	var first, second float64
	for a, j := range w.active {
		d, b := w.scale[j]*w.delta[a], w.scale[j]*w.bend[a]
		first += d * d
		second += b * b
	}
	return 2*math.Sqrt(second) <= 0.75*math.Sqrt(first)
}

// negligible reports whether the last step changes no parameter beyond rounding.
func (w *walk) negligible() bool {
	for i, d := range w.step {
		if math.Abs(d) > 4e-16*math.Abs(w.point[i]) {
			return false
		}
	}
	return true
}

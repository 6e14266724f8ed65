package fit

import "math"

// MostSeriesParams is the most parameters that a Series fits.
const MostSeriesParams = 4

// Curve is a model of one variable with its derivatives: it returns the value at x and writes the derivative by
// each parameter into gradient. It must be smooth and must not keep its arguments.
type Curve func(params []float64, x float64, gradient []float64) float64

// Series fits one curve to many short series, one after the other, without allocating: the quick path for
// flocks of thousands. It goes down from a good start by damped Gauss-Newton on the normal equations and does
// not search; LeastSquares is the judge of hard cases. A Series serves one goroutine.
type Series struct {
	curve Curve
	p     int

	// Of the last fit, valid until the next. StdErr is meaningless unless the fit converged.
	Params, StdErr []float64
	RSS, Sigma     float64
	Steps          int

	now, next normal
	factor    [MostSeriesParams][MostSeriesParams]float64
	step      [MostSeriesParams]float64
	gradient  [MostSeriesParams]float64
	trial     [MostSeriesParams]float64
}

// normal is one point of a descent: J'J (lower triangle), J'r and the residual sum of squares.
type normal struct {
	jj  [MostSeriesParams][MostSeriesParams]float64
	jr  [MostSeriesParams]float64
	rss float64
}

// NewSeries makes a fitter of a curve with 1 to MostSeriesParams parameters.
func NewSeries(curve Curve, params int) (*Series, error) {
	if curve == nil || params < 1 || params > MostSeriesParams {
		return nil, badInput("a series of curves has 1 to %d parameters, not %d", MostSeriesParams, params)
	}
	return &Series{curve: curve, p: params, Params: make([]float64, params), StdErr: make([]float64, params)}, nil
}

// Fit fits the curve to one series from a start. x and y have one value an observation, more than there are
// parameters; else, or with a value that is not finite, it returns Stuck at once.
//
// Source: Marquardt 1963, J. SIAM 11:431.
func (s *Series) Fit(x, y, start []float64) Status {
	const most = 200
	s.Steps = 0
	if len(x) != len(y) || len(y) <= s.p || len(start) != s.p {
		return Stuck
	}
	copy(s.Params, start)
	s.evaluate(x, y, s.Params, &s.now)
	if !finite(s.now.rss) {
		return Stuck
	}
	damping := 1e-3
	for s.Steps = 1; s.Steps <= most; s.Steps++ {
		if !s.solve(damping) {
			damping = max(damping*10, 1e-10)
			if damping > 1e12 {
				return Stuck
			}
			continue
		}
		var size float64
		for i := range s.p {
			s.trial[i] = s.Params[i] + s.step[i]
			size = max(size, math.Abs(s.step[i])/(math.Abs(s.Params[i])+math.Abs(s.trial[i])+1e-300))
		}
		s.evaluate(x, y, s.trial[:s.p], &s.next)
		// At the end rounding may raise the sum of squares by its last digits.
		if s.next.rss <= s.now.rss*(1+1e-12) {
			copy(s.Params, s.trial[:s.p])
			s.now, s.next = s.next, s.now
			if size < 1e-7 && damping < 1e-4 {
				return s.finish(len(y))
			}
			damping *= 0.02
			if damping < 1e-12 {
				damping = 0
			}
			continue
		}
		damping = max(damping*10, 1e-6)
		if damping > 1e12 {
			return Stuck
		}
	}
	return Drifting
}

// evaluate sums the normal equations at params.
func (s *Series) evaluate(x, y, params []float64, at *normal) {
	*at = normal{}
	g := s.gradient[:s.p]
	for i, t := range x {
		r := y[i] - s.curve(params, t, g)
		at.rss += r * r
		for a, ga := range g {
			at.jr[a] += ga * r
			row := &at.jj[a]
			for b := 0; b <= a; b++ {
				row[b] += ga * g[b]
			}
		}
	}
}

// solve factors J'J with damping and writes the step; false where it is not positive definite.
func (s *Series) solve(damping float64) bool {
	if !s.cholesky(damping) {
		return false
	}
	for i := range s.p { // L z = J'r
		v := s.now.jr[i]
		for k := range i {
			v -= s.factor[i][k] * s.step[k]
		}
		s.step[i] = v / s.factor[i][i]
	}
	for i := s.p - 1; i >= 0; i-- { // L' step = z
		v := s.step[i]
		for k := i + 1; k < s.p; k++ {
			v -= s.factor[k][i] * s.step[k]
		}
		s.step[i] = v / s.factor[i][i]
	}
	return true
}

func (s *Series) cholesky(damping float64) bool {
	for i := range s.p {
		for j := 0; j <= i; j++ {
			v := s.now.jj[i][j]
			if i == j {
				v *= 1 + damping
			}
			for k := range j {
				v -= s.factor[i][k] * s.factor[j][k]
			}
			if i != j {
				s.factor[i][j] = v / s.factor[j][j]
				continue
			}
			if !(v > 1e-14*s.now.jj[i][i]) { // dependent beyond what normal equations can resolve
				return false
			}
			s.factor[i][i] = math.Sqrt(v)
		}
	}
	return true
}

// finish fills sigma and the standard errors.
func (s *Series) finish(n int) Status {
	s.RSS = s.now.rss
	s.Sigma = math.Sqrt(s.RSS / float64(n-s.p))
	if !s.solve(0) {
		return Flat
	}
	// The last step needs no evaluation of the curve: the sums at the end are at hand.
	for i := range s.p {
		s.Params[i] += s.step[i]
	}
	// Row c of L to the power -1 solves L z = unit vector; (J'J)^-1 = L^-T L^-1.
	var inv [MostSeriesParams][MostSeriesParams]float64
	for c := range s.p {
		for i := c; i < s.p; i++ {
			v := 0.0
			if i == c {
				v = 1
			}
			for k := c; k < i; k++ {
				v -= s.factor[i][k] * inv[k][c]
			}
			inv[i][c] = v / s.factor[i][i]
		}
	}
	for a := range s.p {
		var v float64
		for i := a; i < s.p; i++ {
			v += inv[i][a] * inv[i][a]
		}
		s.StdErr[a] = s.Sigma * math.Sqrt(v)
	}
	return Converged
}

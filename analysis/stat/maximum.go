package stat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Hill is a smooth function of several numbers, such as a log likelihood. It returns its value at p and, where slope is
// not nil, writes its derivatives there. It must not keep its arguments.
type Hill func(p, slope []float64) float64

// Maximum is where a Hill is highest. Cov is the inverse of its negative curvature there, which is the covariance of
// maximum likelihood estimates; it is nil where the hill is flat in some direction.
type Maximum struct {
	At    []float64
	Value float64
	Cov   [][]float64
}

// Maximise climbs a hill from a start with quasi-Newton steps; it finds the nearest top, not always the highest. The hill
// must be finite at the start; elsewhere NaN or -Inf turn the climb back.
//
// Source: BFGS, Nocedal & Wright 2006, Numerical Optimization, section 6.1; curvature by central differences of slopes.
func Maximise(hill Hill, start []float64) (Maximum, error) {
	out, err := Climb(hill, start)
	if err != nil {
		return out, err
	}
	out.Cov = inverseCurvature(hill, out.At)
	return out, nil
}

// Climb is Maximise without the covariance. A start without numbers is its own top.
//
// Source: as for Maximise.
func Climb(hill Hill, start []float64) (Maximum, error) {
	if len(start) == 0 {
		return Maximum{Value: hill(nil, nil)}, nil
	}
	last, slopes, value := make([]float64, len(start)), make([]float64, len(start)), 0.0 // every point is asked for both
	last[0] = math.NaN()
	minus := func(p []float64) float64 {
		if !slices.Equal(p, last) {
			copy(last, p)
			if value = -hill(p, slopes); math.IsNaN(value) {
				value = math.Inf(1)
			}
		}
		return value
	}
	if math.IsInf(minus(start), 0) {
		return Maximum{}, domain("the function is not finite at the start")
	}
	slope := func(grad, p []float64) {
		minus(p)
		for i := range grad {
			grad[i] = -slopes[i]
		}
	}
	found, err := optimize.Minimize(optimize.Problem{Func: minus, Grad: slope}, start,
		&optimize.Settings{GradientThreshold: 1e-3, MajorIterations: 200}, &optimize.BFGS{})
	if found == nil || math.IsNaN(found.F) || math.IsInf(found.F, 0) {
		return Maximum{}, domain("no maximum was found: %v", err)
	}
	return Maximum{At: found.X, Value: -found.F}, nil
}

// inverseCurvature inverts the negative second derivatives, or returns nil.
func inverseCurvature(hill Hill, at []float64) [][]float64 {
	n := len(at)
	if n == 0 {
		return nil
	}
	rows := make([][]float64, n)
	p, up, down := append([]float64(nil), at...), make([]float64, n), make([]float64, n)
	for i, x := range at {
		h := 1e-4 * max(1, math.Abs(x))
		p[i] = x + h
		hill(p, up)
		p[i] = x - h
		hill(p, down)
		p[i] = x
		rows[i] = make([]float64, n)
		for j := range up {
			rows[i][j] = (down[j] - up[j]) / (2 * h)
		}
	}
	m := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			m.SetSym(i, j, (rows[i][j]+rows[j][i])/2)
		}
	}
	inverse, ok := inverted(m)
	if !ok {
		return nil
	}
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		for j := range out[i] {
			out[i][j] = inverse.At(i, j)
		}
	}
	return out
}

// inverted inverts the curvature at a maximum: false where it is not positive definite, so that there is none.
func inverted(curvature *mat.SymDense) (*mat.SymDense, bool) {
	var chol mat.Cholesky
	var inverse mat.SymDense
	ok := chol.Factorize(curvature) && chol.InverseTo(&inverse) == nil
	return &inverse, ok
}

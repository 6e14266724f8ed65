package fit

import "math"

// system is a problem as weighted residuals and their derivatives, in the coordinates that a rung works in.
type system struct {
	Problem
	root   []float64 // square roots of the weights
	target []float64 // y or log y
	logged []bool    // coordinates that are logarithms of their parameter
	free   []int     // coordinates that may move
	params []float64 // scratch: the parameters of a point
	grad   []float64
	evals  int
}

func newSystem(p Problem) *system {
	s := &system{
		Problem: p, root: make([]float64, len(p.Y)), target: p.Y, logged: make([]bool, len(p.Start)),
		params: make([]float64, len(p.Start)), grad: make([]float64, len(p.Start)),
	}
	for i := range s.root {
		s.root[i] = 1
		if p.Weights != nil {
			s.root[i] = math.Sqrt(p.Weights[i])
		}
	}
	if p.Errors == LogNormal {
		s.target = make([]float64, len(p.Y))
		for i, y := range p.Y {
			s.target[i] = math.Log(y)
		}
	}
	for i := range p.Start {
		if p.Lower[i] < p.Upper[i] {
			s.free = append(s.free, i)
		}
	}
	return s
}

// inLogs changes the coordinates of parameters with a positive start to logarithms.
// It returns false where there are none.
func (s *system) inLogs() bool {
	any := false
	for _, i := range s.free {
		s.logged[i] = s.Start[i] > 0
		any = any || s.logged[i]
	}
	return any
}

func (s *system) toPoint(params, point []float64) {
	for i, b := range params {
		point[i] = b
		if s.logged[i] {
			point[i] = math.Log(b)
		}
	}
}

func (s *system) toParams(point, params []float64) {
	for i, u := range point {
		params[i] = u
		if s.logged[i] {
			params[i] = math.Exp(u)
		}
	}
}

// clamp moves a point back between its bounds.
func (s *system) clamp(point []float64) {
	for i := range point {
		low, high := s.Lower[i], s.Upper[i]
		if s.logged[i] {
			low, high = math.Log(max(low, 0)), math.Log(max(high, 0))
		}
		point[i] = min(max(point[i], low), high)
	}
}

// residuals writes the weighted residuals at a point and returns their sum of squares; false where the model
// gives no finite number.
func (s *system) residuals(point, out []float64) (float64, bool) {
	s.toParams(point, s.params)
	return s.residualsAt(s.params, out)
}

func (s *system) residualsAt(params, out []float64) (float64, bool) {
	var rss float64
	s.evals += len(out)
	for i := range out {
		f := s.Model(params, s.X[i])
		if s.Errors == LogNormal {
			f = math.Log(f)
		}
		r := s.root[i] * (s.target[i] - f)
		out[i] = r
		rss += r * r
	}
	return rss, finite(rss)
}

// jacobian writes the derivative of each weighted fitted value by each free coordinate into columns of n.
// careful asks for the most accurate numerical derivatives rather than quick ones.
func (s *system) jacobian(point []float64, cols [][]float64, careful bool) bool {
	s.toParams(point, s.params)
	for i := range s.Y {
		if !s.gradient(s.X[i], careful) {
			return false
		}
		scale := s.root[i]
		if s.Errors == LogNormal {
			scale /= s.Model(s.params, s.X[i])
			s.evals++
		}
		for j, k := range s.free {
			d := s.grad[k] * scale
			if s.logged[k] {
				d *= s.params[k]
			}
			if !finite(d) {
				return false
			}
			cols[j][i] = d
		}
	}
	return true
}

// gradient fills s.grad at s.params.
func (s *system) gradient(x []float64, careful bool) bool {
	if s.Gradient != nil {
		s.Gradient(s.params, x, s.grad)
		return true
	}
	for _, k := range s.free {
		d, evals := derivative(s.Model, s.params, x, k, s.Lower[k], s.Upper[k], careful)
		s.evals += evals
		if !finite(d) {
			return false
		}
		s.grad[k] = d
	}
	return true
}

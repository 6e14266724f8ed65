package mixed

import (
	"math"

	"keelmark/analysis/fit"
)

// target is a smooth function of few variables: it returns its value at a point and, where gradient is not nil,
// writes the derivatives. It is infinite where it does not exist.
type target func(point, gradient []float64) float64

// search is a Newton search for a minimum with second derivatives from differences of the gradient, damped where
// they are not positive. It is for a few variables of order 1.
//
// Source: Nocedal & Wright 2006, Numerical Optimization, 2nd ed., sections 3.4 (modified Hessian) and 8.1.
type search struct {
	of      target
	point   []float64
	value   float64
	hessian []float64 // lower triangle, at the last point where it was computed
	steps   int
	moved   float64 // Newton decrement at the start: how far, in units of the function, the start was from the end
}

const (
	mostSteps = 50
	enough    = 1e-12 // Newton decrement, in units of the function (-2 log likelihood), at which a search ends
)

// run goes from the point to a minimum. Where second derivatives of an earlier run are at hand and the point is next
// to the end, it uses them: in a sequence of nearly equal problems they cost most of the work.
func (s *search) run() fit.Status {
	const near = 0.01 // Newton decrement
	k := len(s.point)
	gradient, trial, step := make([]float64, k), make([]float64, k), make([]float64, k)
	factor := make([]float64, k*k)
	s.value = s.of(s.point, gradient)
	s.moved = 0
	if !finite(s.value) {
		return fit.Stuck
	}
	damping, before := 0.0, near
	held := len(s.hessian) == k*k
	if !held {
		s.hessian = make([]float64, k*k)
		s.second()
	}
	for n := 0; ; n++ {
		decrement, shift := s.step(gradient, factor, step, damping)
		if held && !(shift == 0 && decrement < before) {
			s.second()
			held = false
			decrement, shift = s.step(gradient, factor, step, damping)
		}
		before = decrement / 4
		if n == 0 {
			s.moved = decrement
		}
		if !finite(decrement) {
			return fit.Stuck
		}
		rounding := 1e-15 * math.Abs(s.value)
		last := decrement < enough+rounding
		if last && shift == 0 {
			return s.finish(step, trial, gradient)
		}
		if n == mostSteps {
			return fit.Drifting
		}
		s.steps++
		for {
			for i := range trial {
				trial[i] = s.point[i] + step[i]
			}
			value := s.of(trial, nil)
			gain := s.value - value
			if gain > 0.1*decrement/2 || last && gain > -10*rounding {
				damping = shift / 10
				break
			}
			if shift > 1e12 || decrement < rounding {
				if decrement < 1e-6+10*rounding {
					return s.verdict()
				}
				return fit.Stuck
			}
			decrement, shift = s.step(gradient, factor, step, max(10*shift, 1e-2))
		}
		copy(s.point, trial)
		s.value = s.of(s.point, gradient)
		if last {
			return s.verdict()
		}
		if !held {
			s.second()
		}
	}
}

// finish takes the last step, which is within rounding, if it does no harm.
func (s *search) finish(step, trial, gradient []float64) fit.Status {
	for i := range trial {
		trial[i] = s.point[i] + step[i]
	}
	if value := s.of(trial, nil); value <= s.value+1e-13*math.Abs(s.value) {
		copy(s.point, trial)
	}
	s.value = s.of(s.point, gradient)
	return s.verdict()
}

// verdict tells a minimum from a valley floor: along a floor the function is flat beside what an observation adds.
func (s *search) verdict() fit.Status {
	k := len(s.point)
	for i := range k {
		if s.hessian[i*k+i]*max(1, s.point[i]*s.point[i]) < 1e-6 {
			return fit.Flat
		}
	}
	factor := make([]float64, k*k)
	copy(factor, s.hessian)
	for i := range k { // correlation form: a pivot next to 0 is a direction without curvature
		for j := range i + 1 {
			factor[i*k+j] /= math.Sqrt(s.hessian[i*k+i] * s.hessian[j*k+j])
		}
	}
	if !cholesky(factor, k, 1e-9) {
		return fit.Flat
	}
	return fit.Converged
}

// second fills the second derivatives at the point by central differences of the gradient.
func (s *search) second() {
	k := len(s.point)
	up, down, at := make([]float64, k), make([]float64, k), make([]float64, k)
	copy(at, s.point)
	full := make([]float64, k*k)
	for i := range k {
		h := 1e-4 * max(1, math.Abs(s.point[i]))
		at[i] = s.point[i] + h
		s.of(at, up)
		at[i] = s.point[i] - h
		s.of(at, down)
		at[i] = s.point[i]
		for j := range k {
			full[i*k+j] = (up[j] - down[j]) / (2 * h)
		}
	}
	for i := range k {
		for j := range i + 1 {
			s.hessian[i*k+j] = (full[i*k+j] + full[j*k+i]) / 2
		}
	}
}

// step writes the Newton step, with at least the given damping (relative to the size of the second derivatives) and
// more until they are positive, and returns the fall of the function that it promises, doubled.
func (s *search) step(gradient, factor, step []float64, damping float64) (decrement, used float64) {
	k := len(s.point)
	var size float64
	for i := range k {
		size = max(size, math.Abs(s.hessian[i*k+i]))
	}
	for ; ; damping = max(10*damping, 1e-3) {
		copy(factor, s.hessian)
		for i := range k {
			factor[i*k+i] += damping * (math.Abs(s.hessian[i*k+i]) + 1e-3*size)
		}
		if cholesky(factor, k, 1e-10) {
			break
		}
		if damping > 1e15 {
			return math.NaN(), damping
		}
	}
	for i := range k {
		step[i] = -gradient[i]
	}
	for i := range k {
		for j := range i {
			step[i] -= factor[i*k+j] * step[j]
		}
		step[i] /= factor[i*k+i]
	}
	for i := k - 1; i >= 0; i-- {
		for j := i + 1; j < k; j++ {
			step[i] -= factor[j*k+i] * step[j]
		}
		step[i] /= factor[i*k+i]
		decrement -= step[i] * gradient[i]
	}
	return decrement, damping
}

// cholesky overwrites a lower triangle by its factor; false where a pivot falls below a share of its diagonal.
func cholesky(a []float64, k int, share float64) bool {
	for i := range k {
		diagonal := a[i*k+i]
		for j := range i + 1 {
			v := a[i*k+j]
			for m := range j {
				v -= a[i*k+m] * a[j*k+m]
			}
			if i != j {
				a[i*k+j] = v / a[j*k+j]
				continue
			}
			if !(v > share*math.Abs(diagonal)) || !(v > 0) {
				return false
			}
			a[i*k+i] = math.Sqrt(v)
		}
	}
	return true
}

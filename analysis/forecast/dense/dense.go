// Package dense factors and solves the small symmetric positive definite systems that a forecast meets some thousands of
// times: three effects of a bird, ten unknowns of a line, the weighings of one hen. It works in place and allocates
// nothing beyond Square; package fit has the general least squares.
package dense

import "math"

// Factor is the Cholesky factor L of a small symmetric positive definite matrix, row by row.
type Factor [][]float64

// Square is an n by n matrix of zeros.
func Square(n int) [][]float64 {
	cells := make([]float64, n*n)
	m := make([][]float64, n)
	for i := range m {
		m[i] = cells[i*n : (i+1)*n]
	}
	return m
}

// Cholesky factors the lower half of a into itself, leaving the upper half as it is. It returns false where a is
// not positive definite.
//
// Source: Golub & Van Loan 2013, Matrix Computations, 4th ed., algorithm 4.2.1.
func Cholesky(a [][]float64) (Factor, bool) {
	for i := range a {
		for j := 0; j <= i; j++ {
			sum := a[i][j]
			for k := range j {
				sum -= a[i][k] * a[j][k]
			}
			if i == j {
				if !(sum > 1e-300) {
					return nil, false
				}
				a[i][i] = math.Sqrt(sum)
			} else {
				a[i][j] = sum / a[j][j]
			}
		}
	}
	return Factor(a), true
}

// Forward solves L x = b in place.
func (l Factor) Forward(b []float64) {
	for i := range b {
		for k := range i {
			b[i] -= l[i][k] * b[k]
		}
		b[i] /= l[i][i]
	}
}

// Backward solves Lᵀ x = b in place.
func (l Factor) Backward(b []float64) {
	for i := len(b) - 1; i >= 0; i-- {
		for k := i + 1; k < len(b); k++ {
			b[i] -= l[k][i] * b[k]
		}
		b[i] /= l[i][i]
	}
}

// HalfLogDet is the sum of the logarithms of the diagonal: half the log determinant of L Lᵀ.
func (l Factor) HalfLogDet() float64 {
	sum := 0.0
	for i := range l {
		sum += math.Log(l[i][i])
	}
	return sum
}

// Dot is the inner product of vectors of one length.
func Dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// Scaled is the factor times a number.
func (l Factor) Scaled(by float64) Factor {
	out := Square(len(l))
	for i := range l {
		for j := 0; j <= i; j++ {
			out[i][j] = by * l[i][j]
		}
	}
	return out
}

package forecast

import "math"

// factor is the Cholesky factor L of a small symmetric positive definite matrix, row by row.
type factor [][]float64

func square(n int) [][]float64 {
	cells := make([]float64, n*n)
	m := make([][]float64, n)
	for i := range m {
		m[i] = cells[i*n : (i+1)*n]
	}
	return m
}

// cholesky factors the lower half of a into itself, leaving the upper half as it is. It returns false where a is
// not positive definite.
//
// Source: Golub & Van Loan 2013, Matrix Computations, 4th ed., algorithm 4.2.1.
func cholesky(a [][]float64) (factor, bool) {
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
	return factor(a), true
}

// forward solves L x = b in place.
func (l factor) forward(b []float64) {
	for i := range b {
		for k := range i {
			b[i] -= l[i][k] * b[k]
		}
		b[i] /= l[i][i]
	}
}

// backward solves Lᵀ x = b in place.
func (l factor) backward(b []float64) {
	for i := len(b) - 1; i >= 0; i-- {
		for k := i + 1; k < len(b); k++ {
			b[i] -= l[k][i] * b[k]
		}
		b[i] /= l[i][i]
	}
}

// halfLogDet is the sum of the logarithms of the diagonal: half the log determinant of L Lᵀ.
func (l factor) halfLogDet() float64 {
	sum := 0.0
	for i := range l {
		sum += math.Log(l[i][i])
	}
	return sum
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// scaled is the factor times a number.
func (l factor) scaled(by float64) factor {
	out := square(len(l))
	for i := range l {
		for j := 0; j <= i; j++ {
			out[i][j] = by * l[i][j]
		}
	}
	return out
}

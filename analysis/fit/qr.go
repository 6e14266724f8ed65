package fit

import "math"

// qr is a Householder factorisation, kept small and free of allocation because it runs in every step.
// Columns hold R on and above the diagonal and the reflecting vectors below it.
//
// Source: Golub & Van Loan 1996, Matrix Computations, 3rd ed., algorithm 5.2.1.
type qr struct {
	cols [][]float64 // p columns of n
	head []float64   // first element of each reflecting vector
	beta []float64
}

func newQR(n, p int) *qr {
	q := &qr{cols: make([][]float64, p), head: make([]float64, p), beta: make([]float64, p)}
	for j := range q.cols {
		q.cols[j] = make([]float64, n)
	}
	return q
}

// factor overwrites the columns by their factorisation.
func (q *qr) factor() {
	for j, c := range q.cols {
		var sum float64
		for _, v := range c[j:] {
			sum += v * v
		}
		norm := math.Sqrt(sum)
		if norm == 0 {
			q.head[j], q.beta[j] = 0, 0
			continue
		}
		alpha := -norm
		if c[j] < 0 {
			alpha = norm
		}
		q.head[j] = c[j] - alpha
		q.beta[j] = 1 / (norm * math.Abs(q.head[j])) // 2 / |v|^2
		c[j] = alpha
		for _, other := range q.cols[j+1:] {
			q.reflect(j, other)
		}
	}
}

// reflect applies the j-th reflection to a vector.
func (q *qr) reflect(j int, v []float64) {
	if q.beta[j] == 0 {
		return
	}
	c := q.cols[j]
	dot := q.head[j] * v[j]
	for i := j + 1; i < len(v); i++ {
		dot += c[i] * v[i]
	}
	dot *= q.beta[j]
	v[j] -= dot * q.head[j]
	for i := j + 1; i < len(v); i++ {
		v[i] -= dot * c[i]
	}
}

// rotate overwrites v by the transpose of Q times v.
func (q *qr) rotate(v []float64) {
	for j := range q.cols {
		q.reflect(j, v)
	}
}

// solve finds x with R x = v (the first p of v). It returns false where R is singular.
func (q *qr) solve(v, x []float64) bool {
	for j := len(q.cols) - 1; j >= 0; j-- {
		s := v[j]
		for k := j + 1; k < len(q.cols); k++ {
			s -= q.cols[k][j] * x[k]
		}
		x[j] = s / q.cols[j][j]
		if !finite(x[j]) {
			return false
		}
	}
	return true
}

// inverse returns R to the power -1 as columns, and the condition of R in the 1-norm; false where singular.
func (q *qr) inverse() (inv [][]float64, cond float64, ok bool) {
	p := len(q.cols)
	unit := make([]float64, p)
	var normR, normInv float64
	for j := range p {
		clear(unit)
		unit[j] = 1
		x := make([]float64, p)
		if !q.solve(unit, x) {
			return nil, math.Inf(1), false
		}
		inv = append(inv, x)
		var r, i float64
		for k := 0; k <= j; k++ {
			r += math.Abs(q.cols[j][k])
			i += math.Abs(x[k])
		}
		normR, normInv = max(normR, r), max(normInv, i)
	}
	return inv, normR * normInv, true
}

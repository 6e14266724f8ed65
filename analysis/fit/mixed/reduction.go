package mixed

import "math"

// rows are the whitened-to-be rows of a linear mixed model, group by group: columns of random effects Z, of fixed
// effects X, and the response, w = X beta + Z b + e.
type rows struct {
	*groups
	q, p int
	flat []float64 // width columns a row: Z, X, w
}

func (r *rows) width() int { return r.q + r.p + 1 }

// reduction is what the likelihood needs of the rows once the errors are whitened. Each group's rows are turned by
// an orthogonal matrix so that Z becomes a triangle of at most q rows; the rows below it know nothing of the
// random effects and are summed over all groups at once. Nothing is subtracted, so nothing cancels however much
// the groups differ.
//
// Source: Pinheiro & Bates 2000, section 2.2.2 (orthogonal-triangular reduction).
type reduction struct {
	q, p, n, count int
	triangle       []float64 // by group: q x q, upper
	top            []float64 // by group: q x (p+1), the rows of X and w beside the triangle
	below          []float64 // (p+1) x (p+1), lower triangle: sum of products of the rows below
	logDet         float64   // log|Lambda|, summed
	block          []float64 // scratch
}

func newReduction(r *rows) *reduction {
	largest := 0
	for k := range r.count() {
		largest = max(largest, r.start[k+1]-r.start[k])
	}
	return &reduction{
		q: r.q, p: r.p, n: len(r.order), count: r.count(),
		triangle: make([]float64, r.count()*r.q*r.q), top: make([]float64, r.count()*r.q*(r.p+1)),
		below: make([]float64, (r.p+1)*(r.p+1)), block: make([]float64, largest*r.width()),
	}
}

// reduce computes the reduction of the rows, whitened by the scatter with parameters psi.
func (d *reduction) reduce(r *rows, s *scatter, psi []float64) {
	m, q, w := r.width(), r.q, r.p+1
	d.logDet = 0
	clear(d.below)
	for k := range d.count {
		first, n := r.start[k], r.start[k+1]-r.start[k]
		block := d.block[:n*m]
		copy(block, r.flat[first*m:(first+n)*m])
		d.logDet += s.whiten(psi, first, block, m)
		householder(block, n, m, q)
		triangle, top := d.triangle[k*q*q:(k+1)*q*q], d.top[k*q*w:(k+1)*q*w]
		clear(triangle)
		clear(top)
		for i := range min(n, q) {
			copy(triangle[i*q+i:(i+1)*q], block[i*m+i:i*m+q])
			copy(top[i*w:(i+1)*w], block[i*m+q:(i+1)*m])
		}
		for i := q; i < n; i++ {
			row := block[i*m+q : (i+1)*m]
			for a, v := range row {
				out := d.below[a*w : a*w+a+1]
				for b, u := range row[:a+1] {
					out[b] += v * u
				}
			}
		}
	}
}

// householder turns n rows of m columns, in place, so that the first q columns become an upper triangle.
//
// Source: Golub & Van Loan 1996, Matrix Computations, 3rd ed., algorithm 5.2.1.
func householder(block []float64, n, m, q int) {
	for j := range min(q, n-1) {
		var below float64
		for i := j + 1; i < n; i++ {
			v := block[i*m+j]
			below += v * v
		}
		if below == 0 {
			continue
		}
		at := block[j*m+j]
		norm := math.Sqrt(at*at + below)
		if at > 0 {
			norm = -norm
		}
		head := at - norm
		beta := 1 / (norm * -head) // 2/|v|^2
		for c := j + 1; c < m; c++ {
			dot := head * block[j*m+c]
			for i := j + 1; i < n; i++ {
				dot += block[i*m+j] * block[i*m+c]
			}
			dot *= beta
			block[j*m+c] -= dot * head
			for i := j + 1; i < n; i++ {
				block[i*m+c] -= dot * block[i*m+j]
			}
		}
		block[j*m+j] = norm
	}
}

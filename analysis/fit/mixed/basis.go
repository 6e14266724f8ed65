package mixed

import "math"

// basis is an orthonormal basis of the columns of a design: design = q r. In it the normal equations lose no digits
// to columns that resemble each other (age, age squared) or differ in size.
type basis struct {
	p    int
	q    []float64 // n rows of p
	r    []float64 // p x p, upper
	dull int       // a column that the ones before it already say, or -1
}

// orthonormal computes the basis by Gram-Schmidt, twice, which is enough.
//
// Source: Giraud, Langou & Rozložník 2005, Comput. Math. Appl. 50:1069.
func orthonormal(design []float64, n, p int) *basis {
	b := &basis{p: p, q: append([]float64(nil), design...), r: make([]float64, p*p), dull: -1}
	for j := range p {
		var before float64
		for i := range n {
			before = math.Hypot(before, b.q[i*p+j])
		}
		for range 2 {
			for k := range j {
				var dot float64
				for i := range n {
					dot += b.q[i*p+k] * b.q[i*p+j]
				}
				b.r[k*p+j] += dot
				for i := range n {
					b.q[i*p+j] -= dot * b.q[i*p+k]
				}
			}
		}
		var norm float64
		for i := range n {
			norm = math.Hypot(norm, b.q[i*p+j])
		}
		if !(norm > 1e-10*before) {
			b.dull = j
			return b
		}
		b.r[j*p+j] = norm
		for i := range n {
			b.q[i*p+j] /= norm
		}
	}
	return b
}

// reduce takes out of y what the columns say of it and returns that in coordinates of the basis.
func (b *basis) reduce(y []float64) []float64 {
	said := make([]float64, b.p)
	for range 2 {
		for j := range b.p {
			var dot float64
			for i := range y {
				dot += b.q[i*b.p+j] * y[i]
			}
			said[j] += dot
			for i := range y {
				y[i] -= dot * b.q[i*b.p+j]
			}
		}
	}
	return said
}

// back turns coordinates of the basis into coefficients of the design, in place.
func (b *basis) back(v []float64) {
	for i := b.p - 1; i >= 0; i-- {
		for j := i + 1; j < b.p; j++ {
			v[i] -= b.r[i*b.p+j] * v[j]
		}
		v[i] /= b.r[i*b.p+i]
	}
}

// logDet is log|r|, doubled: log|design' design|.
func (b *basis) logDet() float64 {
	var sum float64
	for j := range b.p {
		sum += 2 * math.Log(b.r[j*b.p+j])
	}
	return sum
}

// diagonal is the basis that only gives every column a size of 1. It is for designs that change from step to step.
func diagonal(sizes []float64) *basis {
	p := len(sizes)
	b := &basis{p: p, r: make([]float64, p*p), dull: -1}
	for j, s := range sizes {
		b.r[j*p+j] = s
	}
	return b
}

package season

// columns are the values of up to five columns of a regression in one row: level, and cosine and sine of one or two waves.
type columns [5]float64

// normal gathers the weighted normal equations of a regression on the first k columns.
type normal struct {
	k  int
	xx [5]columns
	xy columns
}

func (s *normal) add(w float64, x columns, y float64) {
	for i := range s.k {
		for j := range s.k {
			s.xx[i][j] += w * x[i] * x[j]
		}
		s.xy[i] += w * x[i] * y
	}
}

// solve returns false where the columns are not independent.
func (s *normal) solve() (b columns, ok bool) {
	a := s.xx
	b = s.xy
	for i := range s.k { // Gaussian elimination of a symmetric positive matrix needs no pivoting
		if a[i][i] <= 1e-9*s.xx[i][i] {
			return b, false
		}
		for r := i + 1; r < s.k; r++ {
			f := a[r][i] / a[i][i]
			for c := i; c < s.k; c++ {
				a[r][c] -= f * a[i][c]
			}
			b[r] -= f * b[i]
		}
	}
	for i := s.k - 1; i >= 0; i-- {
		for c := i + 1; c < s.k; c++ {
			b[i] -= a[i][c] * b[c]
		}
		b[i] /= a[i][i]
	}
	return b, true
}

// explained is the part of the weighted sum of squares that the regression takes away.
func (s *normal) explained(b columns) float64 {
	var out float64
	for i := range s.k {
		out += b[i] * s.xy[i]
	}
	return out
}

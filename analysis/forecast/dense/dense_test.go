package dense

import (
	"math"
	"testing"
)

// Factor and solution of a matrix small enough to check by hand: [[4,2],[2,5]] = [[2,0],[1,2]] times its transpose.
func TestCholesky(t *testing.T) {
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-15 {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	l, ok := Cholesky([][]float64{{4, 0}, {2, 5}})
	if !ok || l[0][0] != 2 || l[1][0] != 1 || l[1][1] != 2 {
		t.Fatalf("%v %v", l, ok)
	}
	b := []float64{8, 12} // solution of [[4,2],[2,5]] x = b is (1, 2)
	l.Forward(b)
	l.Backward(b)
	near("x1", b[0], 1)
	near("x2", b[1], 2)
	near("half log determinant of 16", l.HalfLogDet(), math.Log(4))
	if _, ok := Cholesky([][]float64{{1, 0}, {2, 1}}); ok {
		t.Error("an indefinite matrix was factored")
	}
}

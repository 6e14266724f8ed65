package stat

import (
	"math"
	"testing"
)

// Maximise finds the top of a known hill and its spread.
func TestMaximise(t *testing.T) {
	hill := func(p, slope []float64) float64 {
		x, y := p[0]-2, p[1]+1
		if slope != nil {
			slope[0], slope[1] = -x/0.5-y/10, -y/8-x/10
		}
		return -(x*x/0.5+y*y/8)/2 - x*y/10
	}
	m, err := Maximise(hill, []float64{0, 0})
	if err != nil || math.Abs(m.At[0]-2) > 1e-2 || math.Abs(m.At[1]+1) > 1e-2 || m.Cov == nil {
		t.Fatalf("%+v %v", m, err)
	}
	// curvature [[2, .1], [.1, .125]] inverted
	if det := 2*.125 - .01; math.Abs(m.Cov[0][0]-.125/det) > 1e-4 || math.Abs(m.Cov[0][1]+.1/det) > 1e-4 {
		t.Errorf("covariance %v", m.Cov)
	}
	flat := func(p, slope []float64) float64 {
		if slope != nil {
			slope[0], slope[1] = -2*p[0], 0
		}
		return -p[0] * p[0]
	}
	if m, err := Maximise(flat, []float64{1, 1}); err != nil || m.Cov != nil {
		t.Errorf("a hill that is flat in one direction: %+v %v", m, err)
	}
	if _, err := Maximise(func(_, _ []float64) float64 { return math.NaN() }, []float64{1}); err == nil {
		t.Error("a function that is nowhere finite was climbed")
	}
}

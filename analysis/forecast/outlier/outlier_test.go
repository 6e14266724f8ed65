package outlier

import (
	"math"
	"slices"
	"testing"
)

// logNormal is the log density of readings about a level, each with the SD that its way gives it.
func logNormal(readings []float64) func([]bool) float64 {
	return func(bad []bool) float64 {
		sum := 0.0
		for i, x := range readings {
			v := 0.03 * 0.03
			if bad[i] {
				v += SD * SD
			}
			sum -= x*x/(2*v) + math.Log(v)/2
		}
		return sum
	}
}

func TestWaysFindTheBadWeighing(t *testing.T) {
	none := []bool{false, false, false, false}
	if got := Ways(4, logNormal([]float64{0.01, -0.02, 0, 0.02})); len(got) != 1 || !slices.Equal(got[0], none) {
		t.Errorf("four good weighings: %v", got)
	}
	if got := Ways(4, logNormal([]float64{0.01, 0.4, 0, 0.02})); !slices.Equal(got[0], []bool{false, true, false, false}) {
		t.Errorf("the second is off by half: %v", got)
	}
	// 7 % off could be either: both ways are kept.
	if got := Ways(4, logNormal([]float64{0.01, 0.08, 0, 0.02})); len(got) < 2 {
		t.Errorf("a doubtful one: %v", got)
	}
	if got := Ways(0, func([]bool) float64 { return 0 }); len(got) != 1 || len(got[0]) != 0 {
		t.Errorf("no weighing: %v", got)
	}
}

// At most half of the weighings are taken for bad, and no more ways kept than say something.
func TestWaysAreFew(t *testing.T) {
	got := Ways(6, logNormal([]float64{0.5, -0.5, 0.6, -0.6, 0.7, -0.7}))
	if len(got) > most {
		t.Errorf("%d ways", len(got))
	}
	for _, bad := range got {
		n := 0
		for _, b := range bad {
			if b {
				n++
			}
		}
		if n > 3 {
			t.Errorf("%v", bad)
		}
	}
}

// log(e^0 + e^0) = log 2; sums of what is impossible, or far below the floating-point range, stay what they are.
func TestLogSum(t *testing.T) {
	if got := LogSum([]float64{0, 0}); math.Abs(got-math.Log(2)) > 1e-15 {
		t.Error(got)
	}
	if got := LogSum([]float64{-2000, -2000}); math.Abs(got-(-2000+math.Log(2))) > 1e-12 {
		t.Error(got)
	}
	if got := LogSum([]float64{math.Inf(-1), math.Inf(-1)}); !math.IsInf(got, -1) {
		t.Error(got)
	}
}

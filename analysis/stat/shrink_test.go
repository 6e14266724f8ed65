package stat

import (
	"math"
	"testing"
)

func TestShrunkenSharesMatchBruteForceIntegration(t *testing.T) {
	// Six invented hens. Answers: the same posterior integrated in R 4.2.2 on a grid of 1201 x 1201 points.
	s, err := ShrinkShares([]int{10, 4, 8, 11, 7, 2}, []int{12, 12, 10, 12, 9, 12}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.7898436, 0.3881435, 0.7577713, 0.8567937, 0.7376241, 0.2542434} {
		closeTo(t, "share", s.Units[i].Value, want, 2e-3)
	}
	closeTo(t, "mean", s.Mean.Value, 0.5998977, 5e-3)
	for i, want := range map[int][2]float64{0: {0.5960798, 0.9392956}, 5: {0.07702914, 0.4765766}} {
		closeTo(t, "low", s.Units[i].Low, want[0], 3e-3)
		closeTo(t, "high", s.Units[i].High, want[1], 3e-3)
	}
	if !(s.Mean.Low < s.Mean.Value && s.Mean.Value < s.Mean.High) {
		t.Errorf("%+v", s.Mean)
	}
}

func TestShrinkingFollowsAgreement(t *testing.T) {
	// Units that agree are drawn close together; those that differ stay apart; one without trials gets the widest range.
	alike, err := ShrinkShares([]int{16, 17, 16, 15, 16, 10}, []int{20, 20, 20, 20, 20, 20}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	apart, err := ShrinkShares([]int{2, 18, 3, 19, 1, 10, 0}, []int{20, 20, 20, 20, 20, 20, 0}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if !(alike.Units[5].Value > 0.55 && apart.Units[0].Value < 0.2 && apart.Units[6].High-apart.Units[6].Low > 0.7) {
		t.Errorf("alike %+v, apart %+v", alike.Units[5], apart.Units)
	}
	for _, bad := range [][2][]int{{{1}, {2}}, {{1, 2}, {2}}, {{3, 1}, {2, 2}}, {{0, 0}, {0, 0}}} {
		if s, err := ShrinkShares(bad[0], bad[1], 0.9); err == nil {
			t.Errorf("%v gave %+v", bad, s)
		}
	}
	none, err := ShrinkShares([]int{0, 0, 0}, []int{10, 10, 10}, 0.9)
	if err != nil || math.IsNaN(none.Units[0].Value) || none.Units[0].Low > 0.05 {
		t.Errorf("none of any: %+v %v", none, err)
	}
}

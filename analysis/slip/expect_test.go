package slip

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What each weighing should have been by the others must be what a process fitted without it predicts.
//
// Source: Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eq. 5.12, against eq. 2.25 and 2.26.
func TestLeavingOneOutIsFittingWithoutIt(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, p := range []prior{{6.5, 0.35, true}, {7.2, 1.5, false}} {
		var days, logs, extra []float64
		for i := range 14 {
			days, logs, extra = append(days, float64(9*i)+3*r.Float64()), append(logs, 6+0.03*r.NormFloat64()), append(extra, 1e-4*r.Float64())
		}
		e, ok := expect(p, days, logs, extra)
		if !ok {
			t.Fatal("no expectation")
		}
		e.doubt(2)
		e.doubt(9)
		e.doubt(5)
		e.believe(9)
		believed := []int{0, 1, 3, 4, 6, 7, 8, 9, 10, 11, 12, 13}
		for i := range days {
			var d, l, x []float64
			for _, j := range believed {
				if j != i {
					d, l, x = append(d, days[j]), append(l, logs[j]), append(x, extra[j])
				}
			}
			// Fitted without i, and i itself as a point doubted from the start.
			without, ok := expect(p, append(d, days[i]), append(l, logs[i]), append(x, extra[i]))
			if !ok {
				t.Fatal("no expectation")
			}
			without.doubt(len(d))
			want, wantSD := without.at(len(d))
			got, gotSD := e.at(i)
			if math.Abs(got-want) > 1e-6 || math.Abs(gotSD-wantSD) > 1e-6 {
				t.Errorf("weighing %d: %.9f (SD %.9f), want %.9f (%.9f)", i, got, gotSD, want, wantSD)
			}
			if on := without.on(days[i]); math.Abs(on-want) > 1e-6 {
				t.Errorf("day %v: %.9f, want %.9f", days[i], on, want)
			}
		}
	}
}

// One slip of any size does not bend what is expected of the others.
func TestAGrossSlipDoesNotSpeak(t *testing.T) {
	var days, logs, extra []float64
	for i := range 9 {
		days, logs, extra = append(days, float64(14*i)), append(logs, math.Log(700)+0.01*float64(i%3)), append(extra, 0)
	}
	for _, gross := range []float64{math.Log(7), math.Log(70), math.Log(1500), math.Log(700000)} {
		logs[4] = gross
		e, ok := expect(prior{math.Log(700), 0.35, false}, days, logs, extra)
		if !ok {
			t.Fatal("no expectation")
		}
		e.sift(siftZ, func(int) bool { return false })
		if e.count() != 1 || !e.doubted[4] {
			t.Errorf("%.0f g: doubted %v", math.Exp(gross), e.doubted)
		}
		if mean, _ := e.at(4); math.Abs(mean-math.Log(700)) > 0.03 {
			t.Errorf("%.0f g: expected %.0f g", math.Exp(gross), math.Exp(mean))
		}
	}
}

func TestAMatrixThatHasNoInverse(t *testing.T) {
	for _, m := range [][][]float64{{{0}}, {{1, 1}, {1, 1}}, {{math.NaN()}}, {{1, 2}, {2, 1}}} {
		if invert(m) {
			t.Errorf("%v has an inverse", m)
		}
	}
}

package stat

import (
	"math"
	"testing"
)

func TestTwoSharesMatchNewcombesTable(t *testing.T) {
	// Newcombe 1998, Stat. Med. 17:873, Table II, method 10, 95 %, his 56/70 against 48/80: 0.0524 to 0.3339; 9/10
	// against 3/10: 0.1705 to 0.8090; 0/10 against 10/10 ends of case 10/10, 0/10: 0.6075 to 1.0000 (from memory).
	for _, c := range []struct {
		x1, n1, x2, n2 int
		low, high      float64
	}{{48, 80, 56, 70, 0.0524, 0.3339}, {3, 10, 9, 10, 0.1705, 0.8090}, {0, 10, 10, 10, 0.6075, 1}} {
		d, err := TwoShares(c.x1, c.n1, c.x2, c.n2, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(d.Low-c.low) > 5e-5 || math.Abs(d.High-c.high) > 5e-5 {
			t.Errorf("%+v: %v to %v", c, d.Low, d.High)
		}
	}
	// Fisher's tea table, 3 of 4 against 1 of 4: the chances of its five tables are 1, 16, 36, 16, 1 of 70, so the
	// mid-p is (1 + 1)/70 for those less likely and half of 32/70 for those as likely.
	d, err := TwoShares(1, 4, 3, 4, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "mid-p", d.P, 18.0/70, 1e-12)
	closeTo(t, "exact p", d.Exact, 34.0/70, 1e-12) // printed 0.4857, Fisher 1935, The Design of Experiments, as in R's fisher.test
	if _, err := TwoShares(1, 0, 0, 1, 0.9); err == nil {
		t.Error("0 of 0 was compared")
	}
}

func TestMixedLogisticMatchesHerds(t *testing.T) {
	// Herd, cases, cattle at risk and period of the contagious bovine pleuropneumonia data of Lesnoff et al. 2004, Prev.
	// Vet. Med. 64:97, as in R's package lme4; answers computed with lme4 1.1.31 (glmer, Laplace), whose help page
	// prints -1.398, -0.992, -1.128, -1.580 and 0.642.
	var cases, cattle, herd, each []int
	var x [][]float64
	for i, r := range [][4]int{
		{1, 2, 14, 1}, {1, 3, 12, 2}, {1, 4, 9, 3}, {1, 0, 5, 4}, {2, 3, 22, 1}, {2, 1, 18, 2}, {2, 1, 21, 3}, {3, 8, 22, 1},
		{3, 2, 16, 2}, {3, 0, 16, 3}, {3, 2, 20, 4}, {4, 2, 10, 1}, {4, 0, 10, 2}, {4, 2, 9, 3}, {4, 0, 6, 4}, {5, 5, 18, 1},
		{5, 0, 25, 2}, {5, 0, 24, 3}, {5, 1, 4, 4}, {6, 3, 17, 1}, {6, 0, 17, 2}, {6, 0, 18, 3}, {6, 1, 20, 4}, {7, 8, 16, 1},
		{7, 1, 10, 2}, {7, 3, 9, 3}, {7, 0, 5, 4}, {8, 12, 34, 1}, {9, 2, 9, 1}, {9, 0, 6, 2}, {9, 0, 8, 3}, {9, 0, 6, 4},
		{10, 1, 22, 1}, {10, 1, 22, 2}, {10, 0, 18, 3}, {10, 2, 22, 4}, {11, 0, 25, 1}, {11, 5, 27, 2}, {11, 3, 22, 3}, {11, 1, 22, 4},
		{12, 2, 10, 1}, {12, 1, 8, 2}, {12, 0, 6, 3}, {12, 0, 5, 4}, {13, 1, 21, 1}, {13, 2, 24, 2}, {13, 0, 19, 3}, {13, 0, 23, 4},
		{14, 11, 19, 1}, {14, 0, 2, 2}, {14, 0, 3, 3}, {14, 0, 2, 4}, {15, 1, 19, 1}, {15, 1, 15, 2}, {15, 1, 15, 3}, {15, 0, 15, 4},
	} {
		row := []float64{1, 0, 0, 0}
		row[r[3]-1] = 1
		herd, cases, cattle, each, x = append(herd, r[0]-1), append(cases, r[1]), append(cattle, r[2]), append(each, i), append(x, row)
	}
	m, err := FitMixedLogistic(cases, cattle, x, herd)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Coefficient{{-1.39853204, 0.23247339}, {-0.99231588, 0.30664148}, {-1.12866415, 0.32663757}, {-1.58031560, 0.42743782}} {
		closeTo(t, "effect", m.Effects[i].Value, want.Value, 1e-4)
		closeTo(t, "SE", m.Effects[i].SE, want.SE, 1e-3)
	}
	closeTo(t, "SD of herds", m.SDs[0], 0.64226989, 2e-4)
	closeTo(t, "logLik", m.LogLik, -92.02628187, 1e-7)
	for i, want := range []float64{0.590020665, -0.298903414, 0.406254378, 0.039274585, -0.190021608} {
		closeTo(t, "herd", m.Levels[0][i].Value, want, 2e-4)
	}
	// With an intercept of each row beside that of the herd (crossed factors).
	m, err = FitMixedLogistic(cases, cattle, x, herd, each)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Coefficient{{-1.50029028, 0.2967129}, {-1.22650706, 0.4803111}, {-1.32883776, 0.4939200}, {-1.86625969, 0.5936100}} {
		closeTo(t, "effect", m.Effects[i].Value, want.Value, 1e-3)
		closeTo(t, "SE", m.Effects[i].SE, want.SE, 1e-2)
	}
	closeTo(t, "SD of herds", m.SDs[0], 0.18396131, 5e-3)
	closeTo(t, "SD of rows", m.SDs[1], 0.89107327, 1e-3)
	closeTo(t, "logLik", m.LogLik, -87.31915554, 1e-6)
}

func TestMixedLogisticRefusesAndBounds(t *testing.T) {
	one := [][]float64{{1}, {1}, {1}, {1}}
	if m, err := FitMixedLogistic([]int{5, 5, 5, 5}, []int{5, 5, 5, 5}, one, []int{0, 0, 1, 1}); err == nil && math.Abs(m.Effects[0].Value) < 3 {
		t.Errorf("all successes gave %+v", m)
	}
	if _, err := FitMixedLogistic([]int{5}, []int{4}, [][]float64{{1}}); err == nil {
		t.Error("5 of 4 was fitted")
	}
	if _, err := FitMixedLogistic([]int{1, 2, 1, 2}, []int{4, 4, 4, 4}, one, []int{0, 0, 0, 0}); err == nil {
		t.Error("one level was fitted")
	}
	// Levels that do not differ: the deviation is 0, and the effect that of the plain share, log(1/3).
	m, err := FitMixedLogistic([]int{5, 5, 5, 5}, []int{20, 20, 20, 20}, one, []int{0, 0, 1, 1})
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "log odds", m.Effects[0].Value, math.Log(1.0/3), 1e-4)
	if m.SDs[0] > smallestSD {
		t.Errorf("SD %v", m.SDs[0])
	}
}

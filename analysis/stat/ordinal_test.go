package stat

import (
	"errors"
	"math"
	"testing"
)

func closeTo(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Max(1, math.Abs(want))) {
		t.Errorf("%s = %.10g, want %.10g", what, got, want)
	}
}

func TestWeightedKappaMatchesPublishedTables(t *testing.T) {
	// Agresti 1990, Table 2.10 (Hout et al. 1987); kappas and standard errors computed with R's package vcd.
	table := [][]int{{7, 7, 2, 3}, {2, 8, 3, 7}, {1, 5, 4, 9}, {2, 8, 9, 14}}
	for _, c := range []struct {
		w         Weighting
		kappa, se float64
	}{{Unweighted, 0.129330254042, 0.0685985324807}, {Linear, 0.237380627558, 0.0783163347784}, {Quadratic, 0.332045586247, 0.0972975219586}} {
		a, err := Kappa(table, c.w)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, "kappa", a.Kappa, c.kappa, 1e-11)
		closeTo(t, "SE", a.SE, c.se, 1e-11)
		closeTo(t, "exact agreement", a.Exact, 33.0/91, 1e-12)
		closeTo(t, "within one", a.WithinOne, (33.0+7+2+3+5+9+9)/91, 1e-12)
	}
	// Cohen 1968, Table 1 (as in the help page of R's package psych: proportions of 200 cases), unweighted.
	a, err := Kappa([][]int{{88, 14, 18}, {10, 40, 10}, {2, 6, 12}}, Unweighted)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "kappa", a.Kappa, 0.491525423729, 1e-11)
	closeTo(t, "its variance", a.SE*a.SE, 0.002601185192, 1e-8)
}

func TestKappaRefusesWhatHasNoAnswer(t *testing.T) {
	for _, table := range [][][]int{nil, {{1}}, {{1, 2}}, {{1, 2}, {3}}, {{0, 0}, {0, 0}}, {{9, 0}, {0, 0}}, {{1, -1}, {2, 3}}} {
		if a, err := Kappa(table, Linear); err == nil {
			t.Errorf("%v gave %+v", table, a)
		}
	}
}

func TestSignedRanksMatchAPublishedExample(t *testing.T) {
	// Hollander & Wolfe 1973, p. 29f.: depression before and after; printed p 0.01953 (two-sided), V = 40.
	before := []float64{1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30}
	after := []float64{0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29}
	var d []float64
	for i := range before {
		d = append(d, before[i]-after[i])
	}
	r, err := PairedRanks(d)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "V", r.V, 40, 0)
	closeTo(t, "p", r.P, 0.0390625, 1e-12)
	if r.Ups != 7 || r.Downs != 2 || r.N != 9 {
		t.Errorf("%+v", r)
	}
	// All nine alike: 2/2^9, by counting.
	r, err = PairedRanks([]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 0})
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "p of nine ties", r.P, 2.0/512, 1e-15)
	if _, err := PairedRanks([]float64{0, 0}); !errors.Is(err, ErrTooFew) {
		t.Errorf("no difference: %v", err)
	}
}

func TestPairsAreCounted(t *testing.T) {
	// By hand: of the 6 pairs of {1, 2, 2} and {2, 3}, 3 is above in 3, and 2 is above 1 and ties twice: (3+1+1)/6.
	p, err := Superiority([]float64{1, 2, 2}, []float64{2, 3}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "share", p.Value, 5.0/6, 1e-12)
	if !(p.Low > 0 && p.Low < p.Value && p.High > p.Value && p.High <= 1) {
		t.Errorf("%+v", p)
	}
	p, err = Superiority([]float64{1, 1, 1}, []float64{2, 2, 2}, 0.9)
	if err != nil || p.Value != 1 || p.High != 1 || p.Low > 0.9 {
		t.Errorf("wholly apart: %+v %v", p, err)
	}
}

// wine holds the scores 0..4, temperature (1 warm), contact (1 yes) and judge of 72 tastings.
//
// Source: Randall 1989, Biometrical Journal 31:789, as in R's package ordinal.
func wine() (y []int, x [][]float64, judge []int) {
	for _, r := range [][4]int{
		{1, 0, 0, 1}, {2, 0, 0, 1}, {2, 0, 1, 1}, {3, 0, 1, 1}, {3, 1, 0, 1}, {3, 1, 0, 1}, {4, 1, 1, 1}, {4, 1, 1, 1},
		{0, 0, 0, 2}, {1, 0, 0, 2}, {0, 0, 1, 2}, {2, 0, 1, 2}, {1, 1, 0, 2}, {2, 1, 0, 2}, {4, 1, 1, 2}, {3, 1, 1, 2},
		{1, 0, 0, 3}, {2, 0, 0, 3}, {2, 0, 1, 3}, {1, 0, 1, 3}, {4, 1, 0, 3}, {4, 1, 0, 3}, {3, 1, 1, 3}, {3, 1, 1, 3},
		{2, 0, 0, 4}, {1, 0, 0, 4}, {2, 0, 1, 4}, {1, 0, 1, 4}, {2, 1, 0, 4}, {1, 1, 0, 4}, {4, 1, 1, 4}, {2, 1, 1, 4},
		{1, 0, 0, 5}, {2, 0, 0, 5}, {3, 0, 1, 5}, {2, 0, 1, 5}, {2, 1, 0, 5}, {2, 1, 0, 5}, {2, 1, 1, 5}, {2, 1, 1, 5},
		{2, 0, 0, 6}, {1, 0, 0, 6}, {2, 0, 1, 6}, {1, 0, 1, 6}, {1, 1, 0, 6}, {3, 1, 0, 6}, {4, 1, 1, 6}, {3, 1, 1, 6},
		{0, 0, 0, 7}, {0, 0, 0, 7}, {1, 0, 1, 7}, {1, 0, 1, 7}, {1, 1, 0, 7}, {2, 1, 0, 7}, {1, 1, 1, 7}, {2, 1, 1, 7},
		{1, 0, 0, 8}, {1, 0, 0, 8}, {1, 0, 1, 8}, {2, 0, 1, 8}, {2, 1, 0, 8}, {2, 1, 0, 8}, {2, 1, 1, 8}, {3, 1, 1, 8},
		{0, 0, 0, 9}, {1, 0, 0, 9}, {2, 0, 1, 9}, {1, 0, 1, 9}, {2, 1, 0, 9}, {1, 1, 0, 9}, {3, 1, 1, 9}, {3, 1, 1, 9},
	} {
		y, x, judge = append(y, r[0]), append(x, []float64{float64(r[1]), float64(r[2])}), append(judge, r[3])
	}
	return y, x, judge
}

func TestProportionalOddsMatchTheWineExample(t *testing.T) {
	y, x, judge := wine()
	// R's package ordinal 2022.11.16, clm(rating ~ temp + contact); printed in its tutorial as 2.503, 1.528, -86.49.
	m, err := ProportionalOdds(y, x, nil)
	if err != nil {
		t.Fatal(err)
	}
	compare := func(m Ordinal, thresholds, effects []Coefficient, logLik, tolerance float64) {
		t.Helper()
		closeTo(t, "logLik", m.LogLik, logLik, 1e-7)
		for i, c := range append(thresholds, effects...) {
			got := append(append([]Coefficient(nil), m.Thresholds...), m.Effects...)[i]
			closeTo(t, "coefficient", got.Value, c.Value, tolerance)
			closeTo(t, "SE", got.SE, c.SE, tolerance)
		}
	}
	compare(m, []Coefficient{{-1.344383411, 0.5171020453}, {1.250808798, 0.4378802030}, {3.466886926, 0.5977604246}, {5.006404204, 0.7309063437}},
		[]Coefficient{{2.503102008, 0.5286801008}, {1.527797658, 0.4766226296}}, -86.4919233656, 2e-5)
	// clmm(rating ~ temp + contact + (1 | judge)), Laplace.
	m, err = ProportionalOdds(y, x, judge)
	if err != nil {
		t.Fatal(err)
	}
	compare(m, []Coefficient{{-1.6236669, 0.68244276}, {1.5133652, 0.60375657}, {4.2285267, 0.80897125}, {6.0887725, 0.97245988}},
		[]Coefficient{{3.0629966, 0.59537875}, {1.8348849, 0.51253034}}, -81.56540929, 2e-4)
	closeTo(t, "variance between judges", m.Variance, 1.2794609, 2e-4)
}

func TestProportionalOddsRefuseWhatCannotBeFitted(t *testing.T) {
	y := []int{0, 0, 0, 0, 1, 1, 1, 1}
	sep := [][]float64{{0}, {0}, {0}, {0}, {1}, {1}, {1}, {1}}
	if m, err := ProportionalOdds(y, sep, nil); err == nil {
		t.Errorf("a separated column gave %+v", m)
	}
	if m, err := ProportionalOdds([]int{0, 2}, [][]float64{{0}, {1}}, nil); err == nil {
		t.Errorf("a missing step gave %+v", m)
	}
	if m, err := ProportionalOdds([]int{0, 1, 0}, [][]float64{{math.NaN()}, {1}, {1}}, nil); err == nil {
		t.Errorf("NaN gave %+v", m)
	}
	// Groups that do not differ at all have no variance, and the fit says so rather than failing.
	y = []int{0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 1, 0}
	x := make([][]float64, len(y))
	group := make([]int, len(y))
	for i := range y {
		x[i], group[i] = []float64{float64(i / 2 % 2)}, i/4
	}
	m, err := ProportionalOdds(y, x, group)
	if err != nil || m.Variance > 1e-3 || m.Groups != 4 {
		t.Errorf("alike groups: %+v %v", m, err)
	}
}

package stat

import (
	"math"
	"testing"
)

// aml is the leukaemia maintenance trial: Miller 1981, Survival Analysis, p. 49, as in R's survival ?aml (times in
// weeks; negative: still without relapse).
func aml() (maintained, not []Spell) {
	spells := func(ts ...float64) (out []Spell) {
		for _, t := range ts {
			out = append(out, Spell{math.Abs(t), t > 0})
		}
		return out
	}
	return spells(9, 13, -13, 18, 23, -28, 31, 34, -45, 48, -161), spells(5, 5, 8, 8, 12, -16, 23, 27, 30, 33, 43, 45)
}

// Answers computed by R 4.2.2, survival 3.5.3, survfit(Surv(time, status) ~ x, aml).
func TestKaplanMeierOfMaintainedLeukaemia(t *testing.T) {
	maintained, not := aml()
	k, err := KaplanMeier(maintained, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	want := [][6]float64{
		{9, 11, 0.9090909091, 0.0866784172, 0.75413384508, 1},
		{13, 10, 0.8181818182, 0.1162912998, 0.61924898740, 1},
		{18, 8, 0.7159090909, 0.1396649706, 0.48842628742, 1},
		{23, 7, 0.6136363636, 0.1526323310, 0.37686705950, 0.9991576002},
		{31, 5, 0.4909090909, 0.1641932672, 0.25485995120, 0.9455849552},
		{34, 4, 0.3681818182, 0.1626688858, 0.15487711790, 0.8752606781},
		{48, 2, 0.1840909091, 0.1534927458, 0.03591789849, 0.9435257695},
	}
	if len(k.Steps) != len(want) {
		t.Fatalf("%d steps", len(k.Steps))
	}
	for i, w := range want {
		s := k.Steps[i]
		for j, got := range []float64{s.Time, float64(s.AtRisk), s.Survival, s.SE, s.Low, s.High} {
			if math.Abs(got-w[j]) > 1e-9 {
				t.Errorf("step %d, column %d: %v, want %v", i, j, got, w[j])
			}
		}
	}
	if m := k.Median; m.Value != 31 || m.Low != 18 || !math.IsInf(m.High, 1) {
		t.Errorf("median %+v, want 31 (18 to none)", m)
	}
	k, err = KaplanMeier(not, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if m := k.Median; m.Value != 23 || m.Low != 8 || !math.IsInf(m.High, 1) {
		t.Errorf("median %+v, want 23 (8 to none)", m)
	}
	for i, w := range [][3]float64{{0.83333333333, 0.64703698701, 1}, {0.66666666667, 0.44684608115, 0.9946253603}, {0.58333333333, 0.36161370521, 0.9409980122},
		{0.48611111111, 0.26751824886, 0.8833192253}, {0.38888888889, 0.18539652610, 0.8157357157}, {0.29166666667, 0.11483115015, 0.7408220185},
		{0.19444444444, 0.05692155257, 0.6642236599}, {0.09722222222, 0.01525652717, 0.6195486291}, {0, 0, 0}} {
		s := k.Steps[i]
		for j, got := range []float64{s.Survival, s.Low, s.High} {
			if math.Abs(got-w[j]) > 1e-9 {
				t.Errorf("not maintained, step %d, column %d: %v, want %v", i, j, got, w[j])
			}
		}
	}
}

// Answers computed by R 4.2.2, survdiff(Surv(time, status) ~ x, aml) and with rho = 1.
func TestLogRankOfLeukaemia(t *testing.T) {
	maintained, not := aml()
	r, err := LogRank(maintained, not, 0)
	if err != nil {
		t.Fatal(err)
	}
	for name, v := range map[string][2]float64{"observed": {r.Observed[0], 7}, "expected": {r.Expected[0], 10.689335992}, "expected 2": {r.Expected[1], 7.310664008},
		"chi squared": {r.ChiSquared, 3.39638869898}, "p": {r.P, 0.0653393220405}} {
		if math.Abs(v[0]-v[1]) > 1e-9 {
			t.Errorf("%s %v, want %v", name, v[0], v[1])
		}
	}
	if r, err = LogRank(maintained, not, 1); err != nil || math.Abs(r.ChiSquared-2.77927954475) > 1e-9 {
		t.Errorf("Peto-Peto %v %v, want 2.77927954475", r.ChiSquared, err)
	}
}

// Breast cosmesis, radiotherapy alone: Finkelstein & Wolfe 1985, Biometrics 41:933 (46 intervals, from memory); the
// shares as in Lindsey & Ryan 1998, Stat. Med. 17:219 (from memory, to three decimals), and as R's survfit computes them.
func TestTurnbullOfBreastCosmesis(t *testing.T) {
	left := []float64{45, 6, 0, 46, 46, 7, 17, 7, 37, 0, 4, 15, 11, 22, 46, 46, 25, 46, 26, 46, 27, 36, 46, 36, 37, 40, 17, 46, 11, 38, 5, 37, 0, 18, 24, 36, 5, 19, 17, 24, 32, 33, 19, 37, 34, 36}
	right := []float64{0, 10, 7, 0, 0, 16, 0, 14, 44, 8, 11, 0, 15, 0, 0, 0, 37, 0, 40, 0, 34, 44, 0, 48, 0, 0, 25, 0, 18, 0, 12, 0, 5, 0, 0, 0, 11, 35, 25, 0, 0, 0, 26, 0, 0, 0}
	var times []Censored
	for i := range left {
		c := Censored{left[i], right[i]}
		if c.By == 0 {
			c.By = math.Inf(1)
		}
		times = append(times, c)
	}
	f, err := FitTurnbull(times)
	if err != nil {
		t.Fatal(err)
	}
	published := []Mass{{4, 5, .046}, {6, 7, .033}, {7, 8, .089}, {11, 12, .071}, {24, 25, .093}, {33, 34, .082}, {38, 40, .121}, {46, 48, .466}}
	if len(f.Masses) != len(published) {
		t.Fatalf("%d masses: %+v", len(f.Masses), f.Masses)
	}
	computed := []float64{0.9536619913, 0.9202687489, 0.8316232119, 0.7608773657, 0.6682287272, 0.5864170552, 0.4658578369, 0} // by R
	left1 := 1.0
	for i, p := range published {
		m := f.Masses[i]
		if m.After != p.After || m.By != p.By || math.Abs(m.Share-p.Share) > 6e-4 {
			t.Errorf("mass %d: %+v, published %+v", i, m, p)
		}
		left1 -= m.Share
		if math.Abs(left1-computed[i]) > 1e-3 {
			t.Errorf("after mass %d %v are left, R has %v", i, left1, computed[i])
		}
	}
	if low, high := f.Left(39); math.Abs(high-0.586) > 1e-3 || math.Abs(low-0.466) > 1e-3 {
		t.Errorf("left at 39: %v to %v", low, high)
	}
	if a, b, err := f.Quantile(0.5); err != nil || a != 38 || b != 40 {
		t.Errorf("median %v to %v, %v", a, b, err)
	}
}

// Where every time is exact or open, Turnbull's curve is that of Kaplan and Meier.
func TestTurnbullOfExactTimesIsKaplanMeier(t *testing.T) {
	spells, _ := aml()
	var times []Censored
	for _, s := range spells {
		c := Censored{s.Time, s.Time}
		if !s.Event {
			c.By = math.Inf(1)
		}
		times = append(times, c)
	}
	f, err := FitTurnbull(times)
	if err != nil {
		t.Fatal(err)
	}
	k, err := KaplanMeier(spells, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range k.Steps {
		if low, high := f.Left(s.Time); math.Abs(low-s.Survival) > 1e-6 || math.Abs(high-s.Survival) > 1e-6 {
			t.Errorf("at %v: %v to %v, want %v", s.Time, low, high, s.Survival)
		}
	}
}

func TestSurvivalRefusesWhatItCannotAnswer(t *testing.T) {
	for name, err := range map[string]error{
		"no spell":      second(KaplanMeier(nil, 0.9)),
		"time 0":        second(KaplanMeier([]Spell{{0, true}}, 0.9)),
		"NaN":           second(KaplanMeier([]Spell{{math.NaN(), true}}, 0.9)),
		"no event":      second(LogRank([]Spell{{1, false}}, []Spell{{2, false}}, 0)),
		"no interval":   second(FitTurnbull(nil)),
		"backwards":     second(FitTurnbull([]Censored{{5, 3}})),
		"NaN interval":  second(FitTurnbull([]Censored{{math.NaN(), 3}})),
		"a whole of it": func() error { _, _, err := (Turnbull{}).Quantile(1); return err }(),
	} {
		if err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func second[T any](_ T, err error) error { return err }

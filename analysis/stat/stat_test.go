package stat

import (
	"errors"
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if got == want {
		return
	}
	if math.IsNaN(got) || math.Abs(got-want) > relative*math.Max(math.Abs(want), 1e-300) {
		t.Errorf("%s = %.15g, want %.15g", what, got, want)
	}
}

func made(t *testing.T) func(Distribution, error) Distribution {
	return func(d Distribution, err error) Distribution {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
}

func value(t *testing.T) func(float64, error) float64 {
	return func(x float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

// The three-decimal tables that every reader can look up: NIST/SEMATECH e-Handbook of Statistical Methods,
// 1.3.6.7.2 (t), 1.3.6.7.3 (F), 1.3.6.7.4 (chi-squared). Entries from memory; R 4.2.2 gives the same.
func TestPublishedTables(t *testing.T) {
	d, v := made(t), value(t)
	for _, row := range []struct {
		what string
		got  float64
		want float64
	}{
		{"t .975, 1", v(d(StudentT(1)).Quantile(0.975)), 12.706},
		{"t .975, 5", v(d(StudentT(5)).Quantile(0.975)), 2.571},
		{"t .975, 30", v(d(StudentT(30)).Quantile(0.975)), 2.042},
		{"chi2 .95, 1", v(d(ChiSquared(1)).Quantile(0.95)), 3.841},
		{"chi2 .95, 10", v(d(ChiSquared(10)).Quantile(0.95)), 18.307},
		{"chi2 .95, 100", v(d(ChiSquared(100)).Quantile(0.95)), 124.342},
		{"F .95, 1, 1", v(d(F(1, 1)).Quantile(0.95)), 161.448},
		{"F .95, 3, 12", v(d(F(3, 12)).Quantile(0.95)), 3.490},
		{"F .95, 10, 30", v(d(F(10, 30)).Quantile(0.95)), 2.165},
		{"z .975", v(Normal().Quantile(0.975)), 1.960},
	} {
		if math.Abs(row.got-row.want) > 0.0005 {
			t.Errorf("%s = %.4f, table says %.3f", row.what, row.got, row.want)
		}
	}
}

// Expected values computed with R 4.2.2: qt, pt, qchisq, pchisq, qf, pf, qbeta, pbeta, qnorm, pnorm.
func TestAgainstR(t *testing.T) {
	d, v := made(t), value(t)
	t3, t12, t4 := d(StudentT(3)), d(StudentT(12)), d(StudentT(4))
	near(t, "qt(1e-10, 3)", v(t3.Quantile(1e-10)), -2225.76928468309, 1e-10)
	near(t, "qt(1e-4, 3)", v(t3.Quantile(1e-4)), -22.2037422732042, 1e-10)
	near(t, "qt(.5001, 3)", v(t3.Quantile(0.5001)), 0.000272069909110572, 1e-6)
	near(t, "pt(-8, 12)", v(t12.CDF(-8)), 1.87994911237513e-06, 1e-10)
	near(t, "pt(8, 12, upper)", v(t12.Upper(8)), 1.87994911237513e-06, 1e-10)
	near(t, "pt(2, 4)", v(t4.CDF(2)), 0.941941738241592, 1e-12)

	near(t, "pchisq(60, 3, upper)", v(d(ChiSquared(3)).Upper(60)), 5.87823072790691e-13, 1e-9)
	near(t, "pchisq(3.84, 1)", v(d(ChiSquared(1)).CDF(3.84)), 0.949956478751295, 1e-12)
	near(t, "qchisq(1e-6, 4)", v(d(ChiSquared(4)).Quantile(1e-6)), 0.00282976132295869, 1e-9)

	near(t, "pf(50, 3, 12, upper)", v(d(F(3, 12)).Upper(50)), 4.68816975959998e-07, 1e-9)
	near(t, "qf(1-1e-9, 2, 5)", v(d(F(2, 5)).Quantile(1-1e-9)), 9950.17937642983, 1e-6) // 1-p itself is rounded
	near(t, "qf(.01, 4, 9)", v(d(F(4, 9)).Quantile(0.01)), 0.068216855716714, 1e-10)

	b := d(Beta(2.5, 8.5))
	near(t, "qbeta(.025, 2.5, 8.5)", v(b.Quantile(0.025)), 0.0440594135526308, 1e-10)
	near(t, "qbeta(.975, 2.5, 8.5)", v(b.Quantile(0.975)), 0.502774496439993, 1e-10)
	near(t, "pbeta(.2, .5, .5)", v(d(Beta(0.5, 0.5)).CDF(0.2)), 0.295167235300866, 1e-12)
	near(t, "qbeta(1e-5, .5, 30)", v(d(Beta(0.5, 30)).Quantile(1e-5)), 2.63990063123426e-12, 1e-6)

	near(t, "qnorm(1e-12)", v(Normal().Quantile(1e-12)), -7.03448382530113, 1e-9)
	near(t, "pnorm(10, upper)", v(Normal().Upper(10)), 7.61985302416053e-24, 1e-9)
	near(t, "multiplier 0.95, Inf", v(Multiplier(0.95, math.Inf(1))), 1.95996398454005, 1e-12)
}

func TestEndsOfDistributions(t *testing.T) {
	d, v := made(t), value(t)
	for name, x := range map[string]Distribution{
		"normal": Normal(), "t": d(StudentT(2)), "chi2": d(ChiSquared(2)), "F": d(F(2, 3)), "beta": d(Beta(1, 2)),
	} {
		low, high := v(x.Quantile(0)), v(x.Quantile(1))
		if p := v(x.CDF(low)); p != 0 {
			t.Errorf("%s: CDF at its lower end = %v", name, p)
		}
		if p := v(x.Upper(high)); p != 0 {
			t.Errorf("%s: tail above its upper end = %v", name, p)
		}
		if p := v(x.CDF(math.Inf(1))) + v(x.Upper(math.Inf(-1))); p != 2 {
			t.Errorf("%s: CDF(Inf) + Upper(-Inf) = %v", name, p)
		}
		for _, p := range []float64{1e-6, 0.2, 0.5, 0.9, 0.999} {
			near(t, name+" round trip", v(x.CDF(v(x.Quantile(p)))), p, 1e-9)
		}
	}
}

func TestDomainErrors(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	check := func(name string, err, want error) {
		t.Helper()
		if !errors.Is(err, want) {
			t.Errorf("%s: error %v, want %v", name, err, want)
		}
	}
	for _, df := range []float64{0, -1, nan} {
		_, err := StudentT(df)
		check("StudentT", err, ErrDomain)
		_, err = ChiSquared(df)
		check("ChiSquared", err, ErrDomain)
		_, err = F(df, 1)
		check("F", err, ErrDomain)
		_, err = Beta(1, df)
		check("Beta", err, ErrDomain)
	}
	_, err := Normal().Quantile(1.1)
	check("quantile of 1.1", err, ErrDomain)
	_, err = Normal().CDF(nan)
	check("CDF of NaN", err, ErrDomain)
	_, err = Distribution{}.CDF(1)
	check("empty distribution", err, ErrDomain)
	_, err = Multiplier(1, 3)
	check("level 1", err, ErrDomain)
	_, err = Mean(nil)
	check("mean of nothing", err, ErrTooFew)
	_, err = SD([]float64{1})
	check("SD of one", err, ErrTooFew)
	_, err = Median([]float64{1, nan})
	check("median with NaN", err, ErrDomain)
	_, err = MeanInterval([]float64{1, inf}, 0.9)
	check("mean with Inf", err, ErrDomain)
	_, err = Wilson(1, 0, 0.95)
	check("share of none", err, ErrTooFew)
	_, err = Jeffreys(3, 2, 0.95)
	check("3 of 2", err, ErrDomain)
	_, err = ClopperPearson(1, 2, nan)
	check("level NaN", err, ErrDomain)
	_, err = MissProbability(10, 11, 1, 0.8)
	check("11 infested of 10", err, ErrDomain)
	_, err = MissProbability(10, 1, 1, nan)
	check("sensitivity NaN", err, ErrDomain)
	_, err = BenjaminiHochberg([]float64{0.1, nan})
	check("p NaN", err, ErrDomain)
}

func TestSummaries(t *testing.T) {
	// R 4.2.2: mean, sd, median, mad(constant = 1), quantile(type 7), t.test.
	xs := []float64{2.1, 3.4, 1.9, 7.7, 5.0, 4.2}
	s, err := Summarise(xs)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", s.Mean, 4.05, 1e-14)
	near(t, "sd", s.SD, 2.14918589237879, 1e-13)
	near(t, "median", s.Median, 3.8, 1e-14)
	near(t, "mad", s.MAD, 1.45, 1e-14)
	if s.N != 6 || s.Min != 1.9 || s.Max != 7.7 || xs[0] != 2.1 {
		t.Errorf("summary %+v of %v", s, xs)
	}
	v := value(t)
	near(t, "10 %", v(Quantile(xs, 0.1)), 2, 1e-14)
	near(t, "25 %", v(Quantile(xs, 0.25)), 2.425, 1e-14)
	near(t, "90 %", v(Quantile(xs, 0.9)), 6.35, 1e-14)
	near(t, "100 %", v(Quantile(xs, 1)), 7.7, 1e-14)
	ci, err := MeanInterval(xs, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low", ci.Low, 1.79456772777605, 1e-12)
	near(t, "high", ci.High, 6.30543227222395, 1e-12)

	one, err := Summarise([]float64{3})
	if err != nil || one.SD != 0 || one.Mean != 3 || one.N != 1 {
		t.Errorf("summary of one value: %+v, %v", one, err)
	}
	// A large offset: 1e9+4, +7, +13, +16 have SD sqrt(30) by hand (deviations -6, -3, 3, 6; 90/3).
	near(t, "sd of offset values", v(SD([]float64{1e9 + 4, 1e9 + 7, 1e9 + 13, 1e9 + 16})), math.Sqrt(30), 1e-14)
	near(t, "mean of huge values", v(Mean([]float64{1.5e308, 1.5e308})), 1.5e308, 1e-15)
	near(t, "MADToSD", MADToSD, 1/v(Normal().Quantile(0.75)), 1e-12)
}

// Newcombe 1998, Stat. Med. 17:857, Table I, methods 3 (Wilson) and 5 (Clopper-Pearson), four decimals, from
// memory; R 4.2.2 prop.test(correct = FALSE), binom.test and qbeta give the same.
func TestShares(t *testing.T) {
	for _, row := range []struct {
		x, n                                       int
		wilsonLow, wilsonHigh, exactLow, exactHigh float64
		jeffreysLow, jeffreysHigh                  float64 // R qbeta only
	}{
		{81, 263, 0.2553, 0.3662, 0.2527, 0.3676, 0.2545, 0.3656},
		{15, 148, 0.0624, 0.1605, 0.0578, 0.1617, 0.0604, 0.1576},
		{0, 20, 0, 0.1611, 0, 0.1684, 0, 0.1166},
		{1, 29, 0.0061, 0.1718, 0.0009, 0.1776, 0.0037, 0.1501},
	} {
		check := func(name string, f func(int, int, float64) (Interval, error), low, high float64) {
			t.Helper()
			i, err := f(row.x, row.n, 0.95)
			if err != nil || math.Abs(i.Low-low) > 0.00006 || math.Abs(i.High-high) > 0.00006 || i.N != row.n {
				t.Errorf("%s %d of %d = %+v (%v), want %v to %v", name, row.x, row.n, i, err, low, high)
			}
		}
		check("Wilson", Wilson, row.wilsonLow, row.wilsonHigh)
		check("Clopper-Pearson", ClopperPearson, row.exactLow, row.exactHigh)
		check("Jeffreys", Jeffreys, row.jeffreysLow, row.jeffreysHigh)
	}
}

// The shares that Keelmark's own planning computed by exact arithmetic: whole percents of Wilson's interval.
func TestSharesOfPlanning(t *testing.T) {
	for _, row := range []struct{ x, n, low, high int }{
		{8, 10, 49, 94}, {10, 12, 55, 95}, {20, 24, 64, 93}, {40, 50, 67, 89},
		{3, 12, 9, 53}, {0, 5, 0, 43}, {31, 48, 50, 77}, {41, 46, 77, 95},
	} {
		i, err := Wilson(row.x, row.n, 0.95)
		if err != nil || int(math.Round(100*i.Low)) != row.low || int(math.Round(100*i.High)) != row.high {
			t.Errorf("%d of %d = %.3f to %.3f (%v), want %d to %d %%", row.x, row.n, i.Low, i.High, err, row.low, row.high)
		}
	}
}

// Probability of missing an infestation at sensitivity 0.8: the table that Keelmark's planning computed by
// exact arithmetic, two decimals; R 4.2.2 sum(dhyper(0:n, D, N-D, n) * 0.2^(0:n)) gives the same.
func TestMissProbability(t *testing.T) {
	checked := []int{3, 5, 8, 10, 15, -1} // -1: all
	for _, row := range []struct {
		flock, infested int
		want            [6]float64
	}{
		{15, 3, [6]float64{.57, .37, .17, .09, .01, .01}},
		{30, 3, [6]float64{.77, .64, .48, .38, .21, .01}},
		{30, 6, [6]float64{.58, .40, .21, .13, .04, .00}},
		{60, 6, [6]float64{.78, .65, .50, .41, .25, .00}},
		{60, 12, [6]float64{.59, .41, .23, .16, .05, .00}},
	} {
		for i, n := range checked {
			if n < 0 {
				n = row.flock
			}
			got, err := MissProbability(row.flock, row.infested, n, 0.8)
			if err != nil || math.Abs(got-row.want[i]) > 0.0051 {
				t.Errorf("%d of %d infested, %d checked: %.4f (%v), want %.2f", row.infested, row.flock, n, got, err, row.want[i])
			}
		}
	}
	if p, err := MissProbability(30, 0, 30, 1); p != 1 || err != nil {
		t.Errorf("nothing to find is missed with chance %v, %v", p, err)
	}
	if p, err := MissProbability(30, 1, 30, 1); p != 0 || err != nil {
		t.Errorf("a perfect look at all misses with chance %v, %v", p, err)
	}
}

// Benjamini & Hochberg 1995, section 3.2: 15 p-values, of which the procedure rejects 4 at 0.05; adjusted values
// computed with R 4.2.2 p.adjust.
func TestBenjaminiHochberg(t *testing.T) {
	p := []float64{0.0344, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0001, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1}
	want := []float64{0.0645, 0.003, 0.0095, 0.035625, 0.0603, 0.06385714286, 0.06385714286, 0.0015, 0.0765, 0.486, 0.58118181818, 0.714875, 0.75323076923, 0.81321428571, 1}
	got, err := BenjaminiHochberg(p)
	if err != nil {
		t.Fatal(err)
	}
	rejected := 0
	for i := range want {
		near(t, "adjusted", got[i], want[i], 1e-9)
		if got[i] <= 0.05 {
			rejected++
		}
	}
	if rejected != 4 {
		t.Errorf("%d rejected, the paper has 4", rejected)
	}
	if none, err := BenjaminiHochberg(nil); err != nil || len(none) != 0 {
		t.Errorf("empty list: %v, %v", none, err)
	}
}

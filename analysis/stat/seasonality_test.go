package stat

import (
	"errors"
	"math"
	"slices"
	"testing"
)

func radians(degrees ...float64) []float64 {
	out := make([]float64, len(degrees))
	for i, d := range degrees {
		out[i] = d * math.Pi / 180
	}
	return out
}

const degree = math.Pi / 180

func TestMeanDirectionsMatchZarAndTheTurtles(t *testing.T) {
	for _, c := range []struct {
		what                                      string
		angles                                    []float64
		mean, length, sd, z, p, concentrated, tol float64
	}{
		// Zar, Biostatistical Analysis, Example 26.1/27.1: book 99 degrees, r 0.82522, z 5.448, 0.001 < P < 0.002 (from
		// memory); further digits with R 4.2.2, package circular 0.4.95; concentration
		// solved with R's besselI (the package prints 3.207 and 3.109 by the rational approximation of Best & Fisher 1981).
		{"Zar", radians(45, 55, 81, 96, 110, 117, 132, 154), 98.9877519504, 0.82521774482, 0.619851586037, 5.44787461093, 0.00185163750772, 3.2231362089, 1e-9},
		// Arrival directions of 10 green sea turtles, data set turtles of R package circular; R 4.2.2.
		{"turtles", radians(40, 303, 326, 285, 296, 314, 20, 308, 299, 296), 317.235319509, 0.818649629674, 0.632612186507, 6.70187216165, 0.000389790701209, 3.1225133225, 1e-9},
	} {
		d, err := Circular(c.angles)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, c.what+" mean", d.Mean/degree, c.mean, c.tol)
		closeTo(t, c.what+" length", d.Length, c.length, c.tol)
		closeTo(t, c.what+" SD", d.SD, c.sd, c.tol)
		closeTo(t, c.what+" z", d.Z, c.z, c.tol)
		near(t, c.what+" p", d.P, c.p, 1e-8)
		closeTo(t, c.what+" concentration", d.Concentration, c.concentrated, 1e-9)
	}
}

func TestCircularEnds(t *testing.T) {
	d, err := Circular(radians(0, 90, 180, 270))
	if err != nil || d.Length > 1e-12 || d.P < 0.9 || d.Concentration > 1e-6 {
		t.Errorf("four corners: %+v %v", d, err)
	}
	d, err = Circular(radians(359, 1))
	if err != nil || math.Min(d.Mean, 2*math.Pi-d.Mean) > 1e-12 {
		t.Errorf("about north: %+v %v", d, err)
	}
	if d, err := Circular(radians(10, 10)); err != nil || d.Length != 1 || d.SD != 0 {
		t.Errorf("all alike: %+v %v", d, err)
	}
	for _, bad := range [][]float64{nil, {1}, {1, math.NaN()}} {
		if _, err := Circular(bad); err == nil {
			t.Errorf("%v has a direction", bad)
		}
	}
}

// Both sets computed with R 4.2.2: lung-disease deaths in the UK 1974-1979 by calendar month (MASS, ldeaths), and a small
// constructed series.
func TestMonthlyCountsMatchR(t *testing.T) {
	deaths := []int{17756, 17368, 16458, 13618, 10831, 9652, 9305, 8450, 8384, 10140, 11244, 14871}
	days := []float64{31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}
	mites := []int{4, 3, 5, 9, 16, 25, 31, 28, 18, 10, 6, 5}
	even := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	for _, c := range []struct {
		what                                  string
		counts                                []int
		exposure                              []float64
		mean, length, z, corrected            float64
		edwards, edwardsPeak, edwardsChi      float64
		walter, walterPeak, walterChi, rogerQ float64
		edwardsP, walterP, rogerP             float64
	}{
		{"deaths", deaths, days, 40.626289511, 0.18678197428, 5166.03721349, 0.188932798585, 0.374521353248, 40.9806395427, 10385.1023093,
			0.3849426224, 41.2789988, 10969.0544734, 10332.074427, 0, 0, 0},
		{"mites", mites, even, 199.500709307, 0.485692344011, 37.743528485, 0.491285169028, 1.06208586242, 200.042825441, 90.2421103327,
			1.062085862, 200.0428254, 90.2421103327, 75.4870569699, 2.53614875835e-20, 2.53614875835e-20, 4.05689578399e-17},
	} {
		d, corrected, err := Grouped(c.counts)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, c.what+" direction", d.Mean/degree, c.mean, 1e-10)
		closeTo(t, c.what+" length", d.Length, c.length, 1e-10)
		closeTo(t, c.what+" z", d.Z, c.z, 1e-10)
		closeTo(t, c.what+" corrected", corrected, c.corrected, 1e-10)
		e, err := Edwards(c.counts)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, c.what+" Edwards amplitude", e.Amplitude, c.edwards, 1e-10)
		closeTo(t, c.what+" Edwards peak", e.Peak/degree, c.edwardsPeak, 1e-10)
		closeTo(t, c.what+" Edwards chi", e.ChiSq, c.edwardsChi, 1e-10)
		near(t, c.what+" Edwards p", e.P, c.edwardsP, 1e-8)
		w, err := WalterElwood(c.counts, c.exposure)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, c.what+" Walter-Elwood amplitude", w.Amplitude, c.walter, 1e-9)
		closeTo(t, c.what+" Walter-Elwood peak", w.Peak/degree, c.walterPeak, 1e-8)
		closeTo(t, c.what+" Walter-Elwood chi", w.ChiSq, c.walterChi, 1e-10)
		near(t, c.what+" Walter-Elwood p", w.P, c.walterP, 1e-8)
		r, err := Roger(c.counts)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, c.what+" Roger chi", r.ChiSq, c.rogerQ, 1e-9)
		near(t, c.what+" Roger p", r.P, c.rogerP, 1e-8)
	}
}

// harmonic are the columns of a model with waves of one year, of monthly values.
func harmonic(months, waves int) [][]float64 {
	var x [][]float64
	for i := range months {
		row := []float64{1}
		for w := 1; w <= waves; w++ {
			a := float64(w) * sector(i%12, 12)
			row = append(row, math.Cos(a), math.Sin(a))
		}
		x = append(x, row)
	}
	return x
}

func TestHarmonicPoissonMatchesR(t *testing.T) {
	days := []float64{31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}
	for _, c := range []struct {
		what                              string
		y                                 []float64
		exposure                          []float64
		b, se, quasi                      [3]float64
		deviance, null, loglik, aic, disp float64
		second                            float64 // likelihood ratio of a second wave
		two                               [5]float64
	}{
		{"deaths", []float64{17756, 17368, 16458, 13618, 10831, 9652, 9305, 8450, 8384, 10140, 11244, 14871}, days,
			[3]float64{5.968953863991, 0.295391130994, 0.257675055260}, [3]float64{0.00269308323251, 0.00374226165752, 0.00374156745120},
			[3]float64{0.0159903385256, 0.0222198965233, 0.0222157746328}, 317.288730069, 11352.4300385, -225.978202953, 457.956405905, 35.2545977978,
			238.068925541, [5]float64{5.9692103180412, 0.2856022812244, 0.2539205752194, 0.0253253729223, 0.0519827237449}},
		{"mites", []float64{4, 3, 5, 9, 16, 25, 31, 28, 18, 10, 6, 5}, nil,
			[3]float64{2.300678689833, -1.051143583366, -0.372244110094}, [3]float64{0.103621931324, 0.136023303340, 0.121943794977},
			[3]float64{0.0287941347919, 0.0377977256474, 0.0338853563599}, 0.675137741222, 81.3188246969, -25.3185753287, 56.6371506575, 0.0772155379991,
			0.256973877304, [5]float64{2.30795146577860, -1.01550921347968, -0.37868882060543, 0.06471752363999, 0.00880774288949}},
	} {
		g := GLM{Response: Poisson, Y: c.y, X: harmonic(12, 1)}
		for _, m := range c.exposure {
			g.Offset = append(g.Offset, math.Log(m))
		}
		f, err := g.Fit()
		if err != nil {
			t.Fatal(err)
		}
		q := f.Quasi()
		for i := range 3 {
			closeTo(t, c.what+" effect", f.Effects[i].Value, c.b[i], 1e-7)
			near(t, c.what+" SE", f.Effects[i].SE, c.se[i], 1e-6)
			near(t, c.what+" quasi SE", q.Effects[i].SE, c.quasi[i], 1e-6)
		}
		near(t, c.what+" deviance", f.Deviance, c.deviance, 1e-9)
		near(t, c.what+" null", f.NullDeviance, c.null, 1e-9)
		near(t, c.what+" loglik", f.LogLik, c.loglik, 1e-9)
		near(t, c.what+" AIC", f.AIC, c.aic, 1e-9)
		near(t, c.what+" dispersion", f.Dispersion, c.disp, 1e-6)
		g.X = harmonic(12, 2)
		two, err := g.Fit()
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.what+" second wave", f.Deviance-two.Deviance, c.second, 1e-7)
		for i := range 4 { // the fifth of the deaths was copied by eye and is checked by the ratio
			closeTo(t, c.what+" two waves", two.Effects[i].Value, c.two[i], 1e-6)
		}
	}
}

func TestCosinorMatchesR(t *testing.T) {
	// Ordinary least squares of the Nottingham temperatures on a yearly wave, R 4.2.2.
	f, err := GLM{Y: nottem(), X: harmonic(240, 1)}.Fit()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Coefficient{{49.039583333, 0.1642417727}, {-10.722483059, 0.2322729424}, {-4.312673507, 0.2322729424}} {
		near(t, "effect", f.Effects[i].Value, want.Value, 1e-9)
		near(t, "SE", f.Effects[i].SE, want.SE, 1e-9)
	}
	near(t, "sigma", math.Sqrt(f.Dispersion), 2.5444226011, 1e-10)
	near(t, "R2", 1-f.Deviance/f.NullDeviance, 0.912636153894, 1e-10)
	near(t, "amplitude", math.Hypot(f.Effects[1].Value, f.Effects[2].Value), 11.5572832332, 1e-10)
}

func TestLogisticMatchesVenablesAndRipley(t *testing.T) {
	// Tobacco budworm, Venables & Ripley 2002, Modern Applied Statistics with S, 7.2; digits with R 4.2.2.
	dead := []float64{1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16}
	g := GLM{Response: Binomial, Y: dead}
	for i := range 12 {
		male := 0.0
		if i < 6 {
			male = 1
		}
		d := float64(i % 6)
		g.Trials = append(g.Trials, 20)
		g.X = append(g.X, []float64{1, male, d, male * d})
	}
	f, err := g.Fit()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Coefficient{{-2.9935417552, 0.5526996915}, {0.1749867879, 0.7783100285}, {0.9060364355, 0.1671016426}, {0.3529129887, 0.2699902456}} {
		near(t, "effect", f.Effects[i].Value, want.Value, 1e-6)
		near(t, "SE", f.Effects[i].SE, want.SE, 1e-6)
	}
	near(t, "deviance", f.Deviance, 4.99372730762, 1e-9)
	near(t, "null", f.NullDeviance, 124.875592604, 1e-9)
	near(t, "AIC", f.AIC, 43.104128309, 1e-9)
	for i := range g.X {
		male := g.X[i][1]
		g.X[i] = []float64{1 - male, male, g.X[i][2]}
	}
	f, err = g.Fit()
	if err != nil {
		t.Fatal(err)
	}
	for p, want := range map[float64]Coefficient{0.25: {2.231264657, 0.2499089065}, 0.5: {3.263587404, 0.2297538651}, 0.75: {4.295910151, 0.2746874345}} {
		got, err := f.Solve(math.Log(p/(1-p)), 0, 2)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "dose", got.Value, want.Value, 1e-6)
		near(t, "its SE", got.SE, want.SE, 1e-6)
	}
}

func TestPoissonMatchesDobson(t *testing.T) {
	// Dobson 1990, An Introduction to Generalized Linear Models, p. 93 (R ?glm).
	g := GLM{Response: Poisson, Y: []float64{18, 17, 15, 20, 10, 20, 25, 13, 12}}
	for i := range 9 {
		row := []float64{1, 0, 0, 0, 0}
		if o := i % 3; o > 0 {
			row[o] = 1
		}
		if tr := i / 3; tr > 0 {
			row[2+tr] = 1
		}
		g.X = append(g.X, row)
	}
	f, err := g.Fit()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Coefficient{{3.044522438, 0.1708986515}, {-0.4542552723, 0.2021707567}, {-0.2929871247, 0.1927423435}, {0, 0.1999999979}, {0, 0.1999999985}} {
		closeTo(t, "effect", f.Effects[i].Value, want.Value, 1e-8)
		near(t, "SE", f.Effects[i].SE, want.SE, 1e-6)
	}
	near(t, "deviance", f.Deviance, 5.129141077, 1e-9)
	near(t, "null", f.NullDeviance, 10.5814458638, 1e-9)
	near(t, "loglik", f.LogLik, -23.380659201, 1e-9)
	near(t, "AIC", f.AIC, 56.761318402, 1e-9)
}

func TestModelsRefuseWhatHasNoAnswer(t *testing.T) {
	x := [][]float64{{1, 0}, {1, 0}, {1, 1}, {1, 1}}
	for what, g := range map[string]GLM{
		"all failures":     {Response: Binomial, Y: []float64{0, 0, 0, 0}, Trials: []float64{5, 5, 5, 5}, X: x},
		"all successes":    {Response: Binomial, Y: []float64{5, 5, 5, 5}, Trials: []float64{5, 5, 5, 5}, X: x},
		"separated":        {Response: Binomial, Y: []float64{0, 0, 5, 5}, Trials: []float64{5, 5, 5, 5}, X: x},
		"no count":         {Response: Poisson, Y: []float64{0, 0, 0, 0}, X: x},
		"dependent":        {Y: []float64{1, 2, 3, 4}, X: [][]float64{{1, 2}, {1, 2}, {1, 2}, {1, 2}}},
		"too few":          {Y: []float64{1, 2}, X: [][]float64{{1, 0}, {1, 1}}},
		"ragged":           {Y: []float64{1, 2, 3}, X: [][]float64{{1, 0}, {1, 1}, {1}}},
		"negative count":   {Response: Poisson, Y: []float64{1, -1, 2, 3}, X: x},
		"more than trials": {Response: Binomial, Y: []float64{6, 0, 1, 1}, Trials: []float64{5, 5, 5, 5}, X: x},
		"no trials":        {Response: Binomial, Y: []float64{1, 0, 1, 1}, X: x},
		"NaN":              {Y: []float64{1, math.NaN(), 2, 3}, X: x},
		"empty":            {},
	} {
		if f, err := g.Fit(); err == nil {
			t.Errorf("%s: %+v", what, f)
		} else if !errors.Is(err, ErrDomain) && !errors.Is(err, ErrTooFew) {
			t.Errorf("%s: %v", what, err)
		}
	}
	for _, bad := range [][]int{nil, {1, 2}, {0, 0, 0}, {1, -1, 2}} {
		if _, err := Edwards(bad); err == nil {
			t.Errorf("Edwards accepts %v", bad)
		}
		if _, err := Roger(bad); err == nil {
			t.Errorf("Roger accepts %v", bad)
		}
		if _, _, err := Grouped(bad); err == nil {
			t.Errorf("Grouped accepts %v", bad)
		}
	}
	if _, err := WalterElwood([]int{1, 2, 3}, []float64{1, 0, 1}); err == nil {
		t.Error("an exposure of 0 was accepted")
	}
}

func TestSeasonalKendallMatchesR(t *testing.T) {
	// Nottingham temperatures by month, R 4.2.2 (Hirsch, Slack & Smith 1982, independent seasons).
	var year, month []int
	for i := range 240 {
		year, month = append(year, 1920+i/12), append(month, i%12)
	}
	s, err := SeasonalKendall(year, month, nottem())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"S", s.S, 224}, {"var", s.VarS, 11364}, {"Z", s.Z, 2.09189195888}, {"p", s.P, 0.0364481815726}, {"slope", s.Slope, 0.05}} {
		closeTo(t, c.what, c.got, c.want, 1e-9)
	}
	slices.Reverse(year) // the same pairs the other way round
	if r, err := SeasonalKendall(year, month, nottem()); err != nil || r.S == s.S {
		t.Errorf("reversed years: %+v %v", r, err)
	}
	if _, err := SeasonalKendall([]int{1, 1, 2}, []int{0, 0, 0}, []float64{1, 2, 3}); err == nil {
		t.Error("two values of one season and year were accepted")
	}
	if _, err := SeasonalKendall([]int{1, 2, 1, 2}, []int{0, 0, 1, 1}, []float64{1, 2, 3, 4}); err == nil {
		t.Error("two values a season were accepted")
	}
}

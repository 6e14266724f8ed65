package mixed

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"keelmark/analysis/fit"
	"keelmark/analysis/stat"
)

// agree demands a number of agreeing significant digits.
func agree(t *testing.T, what string, got, want, digits float64) {
	t.Helper()
	if d := -math.Log10(math.Abs(got-want)/math.Abs(want) + 1e-17); !(d >= digits) {
		t.Errorf("%s = %.12g, want %.12g: %.1f digits, need %v", what, got, want, d, digits)
	}
}

func agreeAll(t *testing.T, what string, got, want []float64, digits float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d values, want %d", what, len(got), len(want))
	}
	for i := range got {
		agree(t, what, got[i], want[i], digits)
	}
}

// rLinear is what R's lme prints of a model of BodyWeight: R 4.2.2, nlme 3.1.162. The first two are of the reference
// data of the project; the others were computed for this test with lmeControl(tolerance = 1e-10, msTol = 1e-12).
type rLinear struct {
	name               string
	slope              bool
	covariance         Covariance
	criterion          Criterion
	scatter            Scatter
	fixed, se, sd      []float64
	corr               float64
	sigma, logLik, aic float64
	bic                float64
	extra              []float64 // power, ratios or phi
	digits             float64   // of SDs, sigma and extra; R's optimiser stops where the likelihood is flat
}

var rLinearFits = []rLinear{
	{"level and slope, correlated, REML", true, Correlated, REML, Scatter{},
		[]float64{251.6516515615, 0.3596391133, 200.6654864599, 252.0716777681, 0.6058391570, 0.2983375191},
		[]float64{13.09402484505, 0.09113974121, 22.67951630719, 22.67951630719, 0.15785866237, 0.15785866237},
		[]float64{36.9390723, 0.2484113}, -0.149, 4.443605241, -575.8598744, 1171.719749, 1203.077733, nil, 6},
	{"power of the mean", true, Correlated, REML, Scatter{Variance: PowerOfMean},
		[]float64{251.6021459540, 0.3610879479, 200.7769725, 252.1701673, 0.6018285936, 0.2952353384},
		[]float64{13.06738, 0.08837754, 22.6563223, 22.6616773, 0.1554229, 0.15589097},
		[]float64{36.8981424, 0.2436504}, -0.145, 0.1751722375, -570.9607109, 1163.921422, 1198.415205, []float64{0.542843}, 4.5},
	{"level, ML", false, Diagonal, ML, Scatter{},
		[]float64{251.651652, 0.359639113, 200.665486, 252.071678, 0.605839157, 0.298337519},
		[]float64{11.94659, 0.03537216, 20.6921, 20.6921, 0.06126638, 0.06126638},
		[]float64{32.989472}, 1, 6.34400798, -620.4839285, 1256.967857, 1282.331729, nil, 7},
	{"level and slope, diagonal, ML", true, Diagonal, ML, Scatter{},
		[]float64{251.651652, 0.359639113, 200.665486, 252.071678, 0.605839157, 0.298337519},
		[]float64{11.97467, 0.08334858, 20.74074, 20.74074, 0.144364, 0.144364},
		[]float64{33.179774, 0.221212}, 0, 4.44503469, -583.0869796, 1184.173959, 1212.708315, nil, 6},
	{"continuous AR1, REML", true, Correlated, REML, Scatter{Correlation: ContinuousAR1},
		[]float64{251.592447, 0.36029611, 200.688908, 252.315204, 0.625517707, 0.310945211},
		[]float64{13.11668, 0.09046722, 22.71876, 22.71876, 0.1566938, 0.1566938},
		[]float64{36.9745101, 0.2434605}, -0.149, 4.55012607, -566.0295901, 1154.05918, 1188.552963, []float64{0.7603818}, 4.5},
	{"AR1, ML", false, Diagonal, ML, Scatter{Correlation: AR1},
		[]float64{250.43577, 0.371807341, 202.402222, 258.830273, 0.63028563, 0.212098738},
		[]float64{12.19013, 0.0815559, 21.11392, 21.11392, 0.141259, 0.141259},
		[]float64{30.63959}, 1, 14.4813286, -575.178179, 1168.356358, 1196.890714, []float64{0.9304594}, 4.5},
	{"an SD for each diet, REML", true, Correlated, REML, Scatter{Variance: PerStratum},
		[]float64{251.651652, 0.359639113, 200.665486, 252.071678, 0.605839157, 0.298337519},
		[]float64{13.05563, 0.08887833, 22.62299, 22.65499, 0.1549143, 0.1579934},
		[]float64{36.861849, 0.2449555}, -0.139, 3.6450019, -569.9802735, 1163.960547, 1201.590128, []float64{1.173211, 1.607464}, 4.5},
	{"power of the day, ML", false, Diagonal, ML, Scatter{Variance: PowerOfCovariate},
		[]float64{252.371208, 0.342934497, 199.213292, 249.651257, 0.639934566, 0.354426248},
		[]float64{12.02136, 0.03644147, 20.8216, 20.8216, 0.06311849, 0.06311849},
		[]float64{33.13155}, 1, 10.9417326, -613.6309533, 1245.261907, 1273.796263, []float64{-0.1888294}, 5},
}

func TestLinearAgainstR(t *testing.T) {
	for _, want := range rLinearFits {
		t.Run(want.name, func(t *testing.T) {
			p := ratProblem(want.slope)
			p.Covariance, p.Criterion, p.Scatter = want.covariance, want.criterion, want.scatter
			for i, x := range p.X {
				p.Scatter.Time = append(p.Scatter.Time, x[1])
				if want.scatter.Correlation == AR1 {
					p.Scatter.Time[i] = float64(i % len(ratDays)) // by weighing
				}
				p.Scatter.Covariate = append(p.Scatter.Covariate, x[1])
				p.Scatter.Strata = append(p.Scatter.Strata, map[bool]string{true: "2", false: map[bool]string{true: "3", false: "1"}[x[3] == 1]}[x[2] == 1])
			}
			r, err := Linear(p)
			if err != nil {
				t.Fatal(err)
			}
			if r.Status != fit.Converged || len(r.Boundary) > 0 {
				t.Error(r)
			}
			agreeAll(t, "fixed", r.Fixed, want.fixed, min(want.digits+1, 7))
			agreeAll(t, "standard error", r.StdErr, want.se, min(want.digits, 5.5))
			agreeAll(t, "SD", r.SD, want.sd, want.digits)
			agree(t, "sigma", r.Sigma, want.sigma, want.digits)
			if math.Abs(r.LogLik-want.logLik) > 1e-6 || math.Abs(r.AIC-want.aic) > 3e-6 || math.Abs(r.BIC-want.bic) > 3e-6 {
				t.Errorf("logLik %.7f AIC %.6f BIC %.6f, want %v %v %v", r.LogLik, r.AIC, r.BIC, want.logLik, want.aic, want.bic)
			}
			if want.slope && math.Abs(r.Corr[0][1]-want.corr) > 5.1e-4 {
				t.Errorf("correlation %v, want %v", r.Corr[0][1], want.corr)
			}
			switch {
			case want.scatter.Variance == PerStratum:
				agreeAll(t, "ratio", r.Ratios[1:], want.extra, want.digits)
			case want.scatter.Variance != Constant:
				agree(t, "power", r.Power, want.extra[0], want.digits)
			case want.scatter.Correlation != Independent:
				agree(t, "phi", r.Phi, want.extra[0], want.digits)
			}
			for i, df := range []float64{157, 157, 13, 13, 157, 157} { // R's degrees of freedom
				if r.DF[i] != df {
					t.Errorf("%s has %v degrees of freedom, want %v", r.Names[i], r.DF[i], df)
				}
			}
		})
	}
}

// TestEffectsByFormula checks predictions and their errors of the model with a level alone against the closed form of
// a balanced design with known variances.
func TestEffectsByFormula(t *testing.T) {
	r, err := Linear(ratProblem(false))
	if err != nil {
		t.Fatal(err)
	}
	// R 4.2.2 ranef(lme(weight ~ Time * Diet, ~ 1 | Rat, method = "ML")), rats 1, 10, 11.
	for _, c := range []struct {
		rat  int
		want float64
	}{{1, -2.6162046}, {10, -31.870129}, {11, -29.786226}} {
		agree(t, "effect", r.Effects[c.rat-1][0], c.want, 7)
	}
	// Var(b - prediction) = tau^2 (1 - shrink) + shrink^2 Var(mean of the diet), shrink = n tau^2/(n tau^2 + sigma^2);
	// the mean of a diet of m rats has variance (tau^2 + sigma^2/n)/m, whatever the slope, which is balanced.
	tau2, sigma2, n := r.SD[0]*r.SD[0], r.Sigma*r.Sigma, float64(len(ratDays))
	shrink := n * tau2 / (n*tau2 + sigma2)
	for k, m := range map[int]float64{0: 8, 8: 4} {
		want := math.Sqrt(tau2*(1-shrink) + shrink*shrink*(tau2+sigma2/n)/m)
		agree(t, "error of the effect", r.EffectErr[k][0], want, 9)
	}
	// Own level on the middle day, of the first diet: error (1 - shrink) of the diet's mean, tau^2 (1 - shrink) of the rat.
	var middle float64
	for _, day := range ratDays {
		middle += day / n
	}
	own, err := r.Combination([]float64{1, middle, 0, 0, 0, 0}, "1", []float64{1}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "own level", own.Value, r.Fixed[0]+middle*r.Fixed[1]+r.Effects[0][0], 12)
	half := 1.654617 * math.Sqrt(tau2*(1-shrink)+(1-shrink)*(1-shrink)*(tau2+sigma2/n)/8) // t(0.95, 157), R 4.2.2 qt
	agree(t, "interval of the own level", own.High-own.Value, half, 6)
	if _, err := r.Combination([]float64{1, middle, 0, 0, 0, 0}, "17", []float64{1}, 0.9); !errors.Is(err, fit.ErrInput) {
		t.Error(err)
	}

	var sum float64
	for i, y := range ratProblem(false).Y {
		sum += r.Standardised[i]
		agree(t, "fitted and residual", r.Fitted[i]+r.Residuals[i], y, 12)
	}
	if math.Abs(sum) > 1e-6 {
		t.Errorf("standardised residuals sum to %v", sum)
	}
}

// TestSDIntervalsAgainstR: intervals(..., which = "var-cov") of R 4.2.2, nlme 3.1.162. R takes second derivatives by
// differences of the likelihood, good to three or four digits.
func TestSDIntervalsAgainstR(t *testing.T) {
	for _, c := range []struct {
		slope         bool
		criterion     Criterion
		covariance    Covariance
		level, sigma  [2]float64
		slopeInterval [2]float64
	}{
		{false, ML, Diagonal, [2]float64{23.302199, 46.703973}, [2]float64{5.6856489, 7.0786005}, [2]float64{}},
		{true, REML, Diagonal, [2]float64{25.04182907, 54.22561771}, [2]float64{3.9596045, 4.9889397}, [2]float64{0.16375302, 0.37487661}},
		{true, REML, Correlated, [2]float64{25.10177929, 54.35849962}, [2]float64{3.9589306, 4.9876164}, [2]float64{0.16423151, 0.37573901}},
	} {
		p := ratProblem(c.slope)
		p.Criterion, p.Covariance = c.criterion, c.covariance
		r, err := Linear(p)
		if err != nil {
			t.Fatal(err)
		}
		check := func(what string, i stat.Interval, err error, want [2]float64) {
			t.Helper()
			if err != nil {
				t.Error(err)
			}
			agree(t, what+", low", i.Low, want[0], 3.5)
			agree(t, what+", high", i.High, want[1], 3.5)
		}
		i, err := r.SDInterval(0, 0.95)
		check("level", i, err, c.level)
		i, err = r.SigmaInterval(0.95)
		check("sigma", i, err, c.sigma)
		if c.slope {
			i, err = r.SDInterval(1, 0.95)
			check("slope", i, err, c.slopeInterval)
		}
	}
}

// TestOneWayComponents: balanced one-way components of variance have a closed form under REML, the analysis of
// variance estimator, which is cut off at zero.
func TestOneWayComponents(t *testing.T) {
	p := LinearProblem{Criterion: REML, Names: []string{"mean"}}
	values := [][]float64{{10, 12, 11}, {14, 15, 16}, {9, 8, 10}, {12, 12, 15}}
	for k, group := range values {
		for _, y := range group {
			p.Y, p.Groups, p.X = append(p.Y, y), append(p.Groups, string(rune('a'+k))), append(p.X, []float64{1})
		}
	}
	r, err := Linear(p)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: means 11, 15, 9, 13 about 12; within 2+2+2+6 = 12 on 8; between 3(1+9+9+1) = 60 on 3.
	agree(t, "sigma^2", r.Sigma*r.Sigma, 1.5, 10)
	agree(t, "variance between", r.SD[0]*r.SD[0], (20-1.5)/3, 9)
	agree(t, "mean", r.Fixed[0], 12, 12)
	agree(t, "standard error", r.StdErr[0], math.Sqrt(20.0/12), 9)

	// Means alike: the estimate is zero, is said to be, and nothing is dropped.
	for k := range 4 {
		copy(p.Y[3*k:], []float64{10, 12, 14})
	}
	p.Y[0] = 10.001
	r, err = Linear(p)
	if err != nil {
		t.Fatal(err)
	}
	if r.SD[0] != 0 || len(r.Boundary) != 1 || !strings.Contains(r.Boundary[0], "level between groups is estimated as zero") || r.Status != fit.Converged {
		t.Errorf("a variance of zero: SD %v, %s", r.SD, r)
	}
	if len(r.Effects) != 4 || r.Effects[0][0] != 0 {
		t.Errorf("effects %v", r.Effects)
	}
	if _, err := r.SDInterval(0, 0.9); !errors.Is(err, fit.ErrInput) {
		t.Errorf("an interval of an SD of zero: %v", err)
	}
}

func TestLinearWithGroupsOfOne(t *testing.T) {
	p := LinearProblem{
		Y: []float64{10, 12, 15, 9, 20, 22, 21}, Groups: []string{"a", "a", "b", "c", "d", "d", "d"},
		X: [][]float64{{1}, {1}, {1}, {1}, {1}, {1}, {1}},
	}
	r, err := Linear(p)
	if err != nil || r.Status != fit.Converged || len(r.Groups) != 4 {
		t.Fatal(err, r)
	}
	// The bird weighed once moves towards the mean further than the one weighed three times.
	shrinkOnce := r.Effects[2][0] / (9 - r.Fixed[0])
	shrinkThrice := r.Effects[3][0] / (21 - r.Fixed[0])
	if !(shrinkOnce > 0 && shrinkOnce < shrinkThrice && shrinkThrice < 1) {
		t.Errorf("shrinkage %v and %v", shrinkOnce, shrinkThrice)
	}

	p.Groups = []string{"a", "b", "c", "d", "e", "f", "g"} // nothing tells the variances apart
	if r, err = Linear(p); err != nil || r.Status != fit.Flat {
		t.Errorf("all groups of one: %v, %v", r, err)
	}
}

func TestLinearRefuses(t *testing.T) {
	base := func() LinearProblem {
		return LinearProblem{
			Y: []float64{1, 2, 3, 5, 4, 6}, Groups: []string{"a", "a", "a", "b", "b", "b"},
			X: [][]float64{{1, 0}, {1, 1}, {1, 2}, {1, 0}, {1, 1}, {1, 2}}, Names: []string{"level", "day"},
		}
	}
	for _, c := range []struct {
		what   string
		change func(*LinearProblem)
		is     error
		says   string
	}{
		{"nothing", func(p *LinearProblem) { *p = LinearProblem{} }, fit.ErrTooFew, "no observations"},
		{"NaN", func(p *LinearProblem) { p.Y[2] = math.NaN() }, fit.ErrInput, "response 3 of 6 is NaN"},
		{"infinite design", func(p *LinearProblem) { p.X[1][1] = math.Inf(1) }, fit.ErrInput, "row 2, column 2 of X"},
		{"ragged design", func(p *LinearProblem) { p.X[4] = []float64{1} }, fit.ErrInput, "row 5 of X has 1 columns"},
		{"labels missing", func(p *LinearProblem) { p.Groups = p.Groups[:5] }, fit.ErrInput, "5 group labels for 6"},
		{"one group", func(p *LinearProblem) { p.Groups = strings.Split("a a a a a a", " ") }, fit.ErrTooFew, "1 group cannot show"},
		{"constant response", func(p *LinearProblem) { p.Y = []float64{7, 7, 7, 7, 7, 7} }, fit.ErrInput, "reproduce every response"},
		{"singular design", func(p *LinearProblem) {
			for i := range p.X {
				p.X[i][1] = 3
			}
		}, fit.ErrInput, "day says nothing"},
		{"too many columns", func(p *LinearProblem) {
			for i := range p.X {
				p.X[i] = make([]float64, 6)
				p.X[i][i] = 1
			}
			p.Names = nil
		}, fit.ErrTooFew, "6 fixed effects"},
		{"random column of zeros", func(p *LinearProblem) {
			p.Z = [][]float64{{0}, {0}, {0}, {0}, {0}, {0}}
		}, fit.ErrInput, "zero throughout"},
		{"times alike", func(p *LinearProblem) {
			p.Scatter = Scatter{Correlation: ContinuousAR1, Time: []float64{0, 1, 1, 0, 1, 2}}
		}, fit.ErrInput, "at time 1"},
		{"broken steps", func(p *LinearProblem) {
			p.Scatter = Scatter{Correlation: AR1, Time: []float64{0, 1, 2.5, 0, 1, 2}}
		}, fit.ErrInput, "whole steps"},
		{"covariate of zero", func(p *LinearProblem) {
			p.Scatter = Scatter{Variance: PowerOfCovariate, Covariate: []float64{0, 1, 2, 0, 1, 2}}
		}, fit.ErrInput, "covariate of observation 1"},
	} {
		p := base()
		c.change(&p)
		if _, err := Linear(p); !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}

func TestDesign(t *testing.T) {
	sex, line := []string{"m", "f", "m", "f"}, []string{"A", "B", "C", "A"}
	rows, columns, err := Design(4, Factor{Name: "sex", Labels: sex}, Factor{Name: "line", Labels: line, Base: "B"})
	if err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(columns, rows); got != "[ sex.m line.A line.C] [[1 1 1 0] [1 0 0 0] [1 1 0 1] [1 0 1 0]]" {
		t.Error(got)
	}
	for _, bad := range []Factor{{Name: "sex", Labels: sex[:3]}, {Name: "sex", Labels: []string{"m", "m", "m", "m"}}, {Name: "sex", Labels: sex, Base: "x"}} {
		if _, _, err := Design(4, bad); !errors.Is(err, fit.ErrInput) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

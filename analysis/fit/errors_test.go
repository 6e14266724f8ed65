package fit

import (
	"errors"
	"math"
	"testing"
)

func agree(t *testing.T, what string, got, want, least float64) {
	t.Helper()
	if d := digits(got, want); d < least || math.IsNaN(got) {
		t.Errorf("%s = %.12g, want %.12g: %.1f digits, need %v", what, got, want, d, least)
	}
}

// gompertz in the parameters mature weight, rate and age at inflection.
func gompertz(b, x []float64) float64 { return b[0] * math.Exp(-math.Exp(-b[1]*(x[0]-b[2]))) }

func gompertzGradient(b, x, out []float64) {
	u := math.Exp(-b[1] * (x[0] - b[2]))
	w := math.Exp(-u)
	out[0], out[1], out[2] = w, b[0]*w*u*(x[0]-b[2]), -b[0]*w*u*b[1]
}

// chick5 is the problem that R's answers below were computed for.
func chick5() Problem {
	return Problem{Model: gompertz, X: Column(chickDays), Y: chicks[2].weights, Start: []float64{300, 0.05, 10}}
}

// TestErrorModels compares chick 5 of ChickWeight, W = A exp(-exp(-k (t - ti))), with R 4.2.2 nls: weights
// 1/(1+t); log response; weights 1/fitted^2 and fitted^(-2 power) iterated to a standstill, the power by
// optimize on the likelihood. R itself was iterated to about 8 digits.
func TestErrorModels(t *testing.T) {
	one := 1.0
	for _, row := range []struct {
		name          string
		change        func(*Problem)
		coef, se      [3]float64
		sigma, logLik float64
		digits        float64
	}{
		{"plain", func(*Problem) {}, [3]float64{371.69372169, 0.0833050307708, 12.11708934422},
			[3]float64{84.40019170577, 0.02006629042764, 3.064108183225}, 10.773068002, -43.825761758, 7},
		{"weighted", func(p *Problem) {
			for _, d := range chickDays {
				p.Weights = append(p.Weights, 1/(1+d))
			}
		}, [3]float64{1005.347375423, 0.04010826702176, 30.02293598297},
			[3]float64{1024.957703848, 0.01883688758695, 21.25902759424}, 4.263823657613, -45.92081440929, 6},
		{"log-normal", func(p *Problem) { p.Errors = LogNormal }, [3]float64{2362.39109109, 0.02997349972254, 48.09551328972},
			[3]float64{4856.916630332, 0.01981878563061, 47.48903632564}, 0.1254323996575, -46.26491859375, 5.9}, // where R's steps ended
		{"power 1", func(p *Problem) { p.Errors, p.Power = PowerOfMean, &one }, [3]float64{2419.267840723, 0.02970562534207, 48.63572571647},
			[3]float64{5109.120771381, 0.02005966348749, 49.06091363855}, 0.1265670743011, -46.44422355943, 6},
		{"power estimated", func(p *Problem) { p.Errors = PowerOfMean }, [3]float64{270.6284960256, 0.1411587135724, 9.029140909683},
			[3]float64{18.42228176004, 0.02098737372983, 0.5422407753917}, 122.9852157578, -41.62951845608, 4.5},
	} {
		p := chick5()
		row.change(&p)
		r, err := LeastSquares(p)
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		for i := range 3 {
			agree(t, row.name+" "+r.Names[i], r.Params[i], row.coef[i], row.digits)
			agree(t, row.name+" SE of "+r.Names[i], r.StdErr[i], row.se[i], row.digits)
		}
		agree(t, row.name+" sigma", r.Sigma, row.sigma, row.digits)
		agree(t, row.name+" logLik", r.LogLik, row.logLik, row.digits)
		if r.Status != Converged || r.DF != 9 || r.N != 12 {
			t.Errorf("%s: %v, df %d, n %d", row.name, r.Status, r.DF, r.N)
		}
		if row.name == "power estimated" {
			agree(t, "power", r.Power, -0.591278513904, 4.5)
			agree(t, "AIC", r.AIC, 2*5-2*r.LogLik, 10) // 3 parameters, sigma, power
		}
		if row.name == "weighted" {
			agree(t, "AIC", r.AIC, 99.84162881858, 7)
			agree(t, "BIC", r.BIC, 101.7812554177, 7)
			agree(t, "AICc", r.AICc, 99.84162881858+2*4*5/7., 7) // 2k(k+1)/(n-k-1), k 4, n 12
		}
	}
}

// TestAnalyticDerivatives gives the same answer with and without them.
func TestAnalyticDerivatives(t *testing.T) {
	for _, errs := range []Errors{Additive, LogNormal} {
		p := chick5()
		p.Errors = errs
		without, err := LeastSquares(p)
		if err != nil {
			t.Fatal(err)
		}
		p.Gradient = gompertzGradient
		with, err := LeastSquares(p)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 3 {
			agree(t, "parameter", with.Params[i], without.Params[i], 9)
			agree(t, "standard error", with.StdErr[i], without.StdErr[i], 9)
		}
	}
}

// TestBadInput refuses in words what cannot be fitted.
func TestBadInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, row := range []struct {
		name   string
		change func(*Problem)
		want   error
	}{
		{"no model", func(p *Problem) { p.Model = nil }, ErrInput},
		{"no start", func(p *Problem) { p.Start = nil }, ErrInput},
		{"n = p", func(p *Problem) { p.X, p.Y = p.X[:3], p.Y[:3] }, ErrTooFew},
		{"no data", func(p *Problem) { p.X, p.Y = nil, nil }, ErrTooFew},
		{"lengths", func(p *Problem) { p.X = p.X[:5] }, ErrInput},
		{"NaN response", func(p *Problem) { p.Y = append([]float64{nan}, p.Y[1:]...) }, ErrInput},
		{"infinite x", func(p *Problem) { p.X = append([][]float64{{inf}}, p.X[1:]...) }, ErrInput},
		{"NaN start", func(p *Problem) { p.Start = []float64{1, nan, 1} }, ErrInput},
		{"start out of bounds", func(p *Problem) { p.Lower = []float64{1000, 0, 0} }, ErrInput},
		{"short bounds", func(p *Problem) { p.Upper = []float64{1000} }, ErrInput},
		{"zero weight", func(p *Problem) { p.Weights = make([]float64, 12) }, ErrInput},
		{"few weights", func(p *Problem) { p.Weights = []float64{1} }, ErrInput},
		{"few names", func(p *Problem) { p.Names = []string{"A"} }, ErrInput},
		{"log of nothing", func(p *Problem) { p.Errors = LogNormal; p.Y = append([]float64{0}, p.Y[1:]...) }, ErrInput},
		{"model undefined at start", func(p *Problem) { p.Model = func(b, x []float64) float64 { return math.Log(-b[0]) } }, ErrInput},
		{"robust power", func(p *Problem) { p.Errors, p.Robust = PowerOfMean, StudentT }, ErrInput},
	} {
		p := chick5()
		row.change(&p)
		if r, err := LeastSquares(p); !errors.Is(err, row.want) {
			t.Errorf("%s: %v, %v; want %v", row.name, r, err, row.want)
		}
	}
}

// TestStatus says why a fit ended where there is no minimum to find.
func TestStatus(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5, 6}
	// b1 and b2 appear only as a sum: no data determine them.
	r, err := LeastSquares(Problem{Model: func(b, x []float64) float64 { return (b[0] + b[1]) * x[0] },
		X: Column(x), Y: []float64{2, 4.1, 5.9, 8.2, 9.8, 12.1}, Start: []float64{1, 3}})
	if err != nil || r.Status != Flat || !math.IsInf(r.StdErr[0], 1) {
		t.Errorf("undetermined sum: %+v, %v", r, err)
	}
	// Exponential growth has no asymptote: a Gompertz curve runs off.
	y := make([]float64, len(x))
	for i, t := range x {
		y[i] = 10 * math.Exp(0.5*t)
	}
	r, err = LeastSquares(Problem{Model: gompertz, X: Column(x), Y: y, Start: []float64{300, 0.3, 5}, Lower: []float64{0, 0, -100}, Upper: []float64{1e9, 10, 1000}})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status == Converged && r.Params[0] < 1e5 && r.StdErr[0] < r.Params[0] {
		t.Errorf("exponential growth gave a mature weight of %v with SE %v", r.Params[0], r.StdErr[0])
	}
	// A perfect line is fitted without a division by zero.
	r, err = LeastSquares(Problem{Model: func(b, x []float64) float64 { return b[0] + b[1]*x[0] },
		X: Column(x), Y: []float64{3, 5, 7, 9, 11, 13}, Start: []float64{0, 0}})
	if err != nil || r.Status != Converged || math.Abs(r.Params[1]-2) > 1e-12 || math.Abs(r.Params[0]-1) > 1e-12 {
		t.Errorf("perfect line: %+v, %v", r, err)
	}
}

// TestBounds holds a parameter at its bound, gives it no standard error, and the others those of the model
// without it; and a parameter with equal bounds stays fixed.
func TestBounds(t *testing.T) {
	p := chick5()
	p.Upper = []float64{300, math.Inf(1), math.Inf(1)} // the free estimate is 372
	r, err := LeastSquares(p)
	if err != nil {
		t.Fatal(err)
	}
	fixed := chick5()
	fixed.Model = func(b, x []float64) float64 { return gompertz([]float64{300, b[0], b[1]}, x) }
	fixed.Start = []float64{0.05, 10}
	want, err := LeastSquares(fixed)
	if err != nil {
		t.Fatal(err)
	}
	held := chick5()
	held.Lower, held.Upper = []float64{300, 0, -100}, []float64{300, 1, 100}
	holding, err := LeastSquares(held)
	if err != nil {
		t.Fatal(err)
	}
	if r.Params[0] != 300 || !math.IsNaN(r.StdErr[0]) || r.Status != Converged {
		t.Errorf("bound: %v SE %v, %v", r.Params, r.StdErr, r.Status)
	}
	for i := range 2 {
		agree(t, "beside the bound", r.Params[i+1], want.Params[i], 9)
		agree(t, "beside the fixed", holding.Params[i+1], want.Params[i], 9)
		agree(t, "SE beside the fixed", holding.StdErr[i+1], want.StdErr[i], 8)
	}
	if holding.DF != 10 {
		t.Errorf("a fixed parameter was counted: df %d", holding.DF)
	}
}

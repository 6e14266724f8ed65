package mixed

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"keelmark/analysis/fit"
)

// TestSingularDesigns, groups that say nothing of their own curve, and starts far away: nothing panics, nothing is
// dropped, the end is told in words.
func TestNonlinearRefuses(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(*NonlinearProblem)
		is     error
		says   string
	}{
		{"nothing", func(p *NonlinearProblem) { p.Y, p.X, p.Groups = nil, nil, nil }, fit.ErrTooFew, "no observations"},
		{"no model", func(p *NonlinearProblem) { p.Model = nil }, fit.ErrInput, "no model"},
		{"NaN", func(p *NonlinearProblem) { p.Y[4] = math.NaN() }, fit.ErrInput, "response 5 of 578 is NaN"},
		{"age unknown", func(p *NonlinearProblem) { p.X[4] = []float64{math.NaN()} }, fit.ErrInput, "x of observation 5"},
		{"one group", func(p *NonlinearProblem) {
			for i := range p.Groups {
				p.Groups[i] = "1"
			}
		}, fit.ErrTooFew, "1 group"},
		{"nothing random", func(p *NonlinearProblem) { p.Parameters[0].Random, p.Parameters[1].Random = false, false }, fit.ErrInput, "no parameter is random"},
		{"start too short", func(p *NonlinearProblem) { p.Start = p.Start[:2] }, fit.ErrInput, "2 values to start from for 3"},
		{"start without a value", func(p *NonlinearProblem) { p.Model = func(_, _ []float64) float64 { return math.NaN() } }, fit.ErrInput, "at its start the model gives NaN"},
		{"constant response", func(p *NonlinearProblem) {
			for i := range p.Y {
				p.Y[i] = 40
			}
		}, fit.ErrInput, "nothing varies"},
		{"weight of zero on the log scale", func(p *NonlinearProblem) { p.LogNormal = true; p.Y[3] = 0 }, fit.ErrInput, "need positive"},
		{"singular design", func(p *NonlinearProblem) {
			p.Parameters[0].Columns = []string{"", "male"}
			for range p.Y {
				p.Parameters[0].Design = append(p.Parameters[0].Design, []float64{1, 1})
			}
			p.Start = []float64{300, 0, 14, 7}
		}, fit.ErrInput, "Asym.male says nothing"},
		{"Laplace with REML", func(p *NonlinearProblem) { p.Approximation, p.Criterion = Laplace, REML }, fit.ErrInput, "Laplace goes with maximum likelihood"},
	} {
		p := chickProblem()
		c.change(&p)
		if _, err := Nonlinear(p); !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}

// TestUndetermined: a parameter that the data do not speak of is told, not invented.
func TestUndetermined(t *testing.T) {
	p := chickProblem()
	p.Model = func(b, x []float64) float64 { return logistic(b[:3], x) + 0*b[3] }
	p.Parameters = append(p.Parameters, Parameter{Name: "idle"})
	p.Start = append(p.Start, 1)
	r, err := Nonlinear(p)
	if err != nil || r.Status != fit.Flat {
		t.Fatalf("%v, %v", err, r)
	}
	if !math.IsInf(r.StdErr[3], 1) || !math.IsNaN(r.LogLik) {
		t.Errorf("a standard error of %v, logLik %v", r.StdErr[3], r.LogLik)
	}
	if _, err := r.Predict("1", []float64{10}, 0.9); err == nil {
		t.Error("a prediction of what is not determined")
	}
}

// TestNoDifference: birds that share one curve have a variance of zero, and all of them stay.
func TestNoDifference(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	p := chickProblem()
	p.Y, p.X, p.Groups = nil, nil, nil
	for bird := range 12 {
		for day := 0.0; day <= 30; day += 3 {
			p.X, p.Groups = append(p.X, []float64{day}), append(p.Groups, fmt.Sprint(bird))
			// Scatter that repeats from bird to bird leaves less between birds than chance would.
			e := 4 * math.Sin(2.7*day)
			p.Y = append(p.Y, logistic([]float64{300, 14, 7}, []float64{day})+e+0.1*rng.NormFloat64())
		}
	}
	for _, covariance := range []Covariance{Diagonal, Correlated} {
		p.Covariance = covariance
		r, err := Nonlinear(p)
		if err != nil {
			t.Fatal(err)
		}
		if r.Status != fit.Converged || len(r.Groups) != 12 || len(r.Effects) != 12 {
			t.Errorf("%v, %d groups", r, len(r.Groups))
		}
		if r.SD[0] != 0 || r.SD[1] != 0 || len(r.Boundary) != 2 {
			t.Errorf("SD %v, boundary %q", r.SD, r.Boundary)
		}
		if want := 3 + 2 + 1; covariance == Diagonal && r.Parameters != want {
			t.Errorf("%d parameters counted, want %d", r.Parameters, want)
		}
	}
}

// TestGroupsOfOne: chicks with a single weighing are shrunk, not dropped.
func TestGroupsOfOne(t *testing.T) {
	p := chickProblem()
	var kept []int
	count := map[string]int{}
	for i, g := range p.Groups {
		if count[g]++; len(g) > 1 || count[g] == 6 {
			kept = append(kept, i)
		}
	}
	q := p
	q.X, q.Y, q.Groups = nil, nil, nil
	for _, i := range kept {
		q.X, q.Y, q.Groups = append(q.X, p.X[i]), append(q.Y, p.Y[i]), append(q.Groups, p.Groups[i])
	}
	r, err := Nonlinear(q)
	if err != nil || r.Status != fit.Converged || len(r.Groups) != 50 {
		t.Fatal(err, r)
	}
	for k, g := range r.Groups {
		for j := range r.SD {
			if e := r.EffectErr[k][j]; len(g) == 1 && !(e > 0.5*r.SD[j] && e < 1.1*r.SD[j]) {
				t.Errorf("chick %s, weighed once: %s is known to %v beside an SD of %v", g, r.Random[j], e, r.SD[j])
			}
		}
	}
}

// TestFarStarts: one end from starts up to a factor of 1.5 away.
func TestFarStarts(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 20 {
		p := chickProblem()
		for i := range p.Start {
			p.Start[i] *= math.Pow(1.5, 2*rng.Float64()-1)
		}
		r, err := Nonlinear(p)
		if err != nil || r.Status != fit.Converged || math.Abs(r.LogLik - -2259.4674) > 1e-3 {
			t.Errorf("from %v: %v, %v, logLik %v", p.Start, err, r.Status, r.LogLik)
		}
	}
}

func TestMaxSteps(t *testing.T) {
	p := chickProblem()
	p.MaxSteps = 2
	r, err := Nonlinear(p)
	if err != nil || r.Status != fit.Drifting || !strings.Contains(r.String(), "still improving") {
		t.Errorf("%v, %v", err, r)
	}
}

func TestPredict(t *testing.T) {
	p := chickProblem()
	p.Covariance = Correlated
	r, err := Nonlinear(p)
	if err != nil {
		t.Fatal(err)
	}
	at := []float64{15}
	own, err := r.Predict("7", at, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	k := 6
	agree(t, "own curve", own.Value, logistic(r.Curves[k], at), 12)
	agree(t, "mature weight", r.Curves[k][0], r.Fixed[0]+r.Effects[k][0], 12)
	anyone, err := r.PredictNew(nil, at, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "curve of no chick in particular", anyone.Value, logistic(r.Fixed, at), 12)
	if !(own.CurveSE < anyone.CurveSE/5 && own.Curve.Low < own.Value && own.Next.Low < own.Curve.Low) {
		t.Errorf("own %+v\nnew %+v", own, anyone)
	}
	// A twelve-weighing chick's curve in the middle of its weighings is known to about sigma/sqrt(5).
	if own.CurveSE < r.Sigma/6 || own.CurveSE > r.Sigma {
		t.Errorf("own curve known to %v, sigma %v", own.CurveSE, r.Sigma)
	}
	if _, err := r.Predict("51", at, 0.9); !errors.Is(err, fit.ErrInput) {
		t.Error(err)
	}
	if _, err := r.PredictNew([][]float64{{1}, nil, nil}, at, 0.9); !errors.Is(err, fit.ErrInput) {
		t.Error(err)
	}
	if _, err := r.Predict("7", at, 1); err == nil {
		t.Error("an interval of chance 1")
	}
	i, err := r.Interval(2, 0.95)
	if err != nil || math.Abs(i.High-i.Value-1.9645*r.StdErr[2]) > 1e-3*r.StdErr[2] { // t with 526 degrees of freedom, from R: 1.964484
		t.Errorf("%+v, %v", i, err)
	}
}

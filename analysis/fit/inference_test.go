package fit

import (
	"errors"
	"math"
	"testing"
)

// TestProfile compares the 90 % profile interval of chick 5's mature weight with R 4.2.2: nls over the others at
// each trial value, uniroot on the profile t at qt(0.95, 9).
func TestProfile(t *testing.T) {
	p := chick5()
	p.Gradient = gompertzGradient
	r, err := LeastSquares(p)
	if err != nil {
		t.Fatal(err)
	}
	i, err := r.Profile(0, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "low", i.Low, 278.2715510921, 6.5)
	agree(t, "high", i.High, 736.3590929564, 6.5)

	// Where the data end before the bend, no upper end can be told.
	p.Y = chicks[6].weights // chick 13: R's logistic has Asym 1182 with SE 16134
	p.Model = logisticModel
	p.Gradient = nil
	p.Start = []float64{200, 20, 8}
	if r, err = LeastSquares(p); err != nil {
		t.Fatal(err)
	}
	if i, err = r.Profile(0, 0.9); err == nil && !(i.High > 5*slicesMax(p.Y)) {
		t.Errorf("chick 13: upper end %v", i.High)
	}
	if _, err := r.Profile(3, 0.9); !errors.Is(err, ErrInput) {
		t.Errorf("profile of a parameter that is not there: %v", err)
	}
}

func slicesMax(x []float64) float64 {
	m := x[0]
	for _, v := range x {
		m = max(m, v)
	}
	return m
}

// TestPredict compares chick 5 at 30 days with R 4.2.2: gradient by hand, vcov of nls, qt(0.95, 9).
func TestPredict(t *testing.T) {
	r, err := LeastSquares(chick5())
	if err != nil {
		t.Fatal(err)
	}
	p, err := r.Predict([]float64{30}, 0.9, nil)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "value", p.Value, 296.6752540338, 8)
	agree(t, "SE", p.CurveSE, 27.62434903912, 7)
	agree(t, "curve low", p.Curve.Low, 246.036702554, 7)
	agree(t, "curve high", p.Curve.High, 347.3138055137, 7)
	agree(t, "next low", p.Next.Low, 242.3221834209, 7)
	agree(t, "next high", p.Next.High, 351.0283246468, 7)
	if _, err := r.Predict([]float64{30}, 1, nil); err == nil {
		t.Error("a chance of 1 was accepted")
	}

	// The weight at inflection is A/e, so its relative error is A's.
	v, se, err := r.Delta(func(b []float64) float64 { return b[0] / math.E })
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "A/e", v, r.Params[0]/math.E, 10)
	agree(t, "its SE", se, r.StdErr[0]/math.E, 9)
}

// TestCluster compares a pooled Gompertz curve of chicks 1, 3, 5, 7, 9 and 11 with the sandwich computed in R
// 4.2.2 from the gradient of nls, factor G/(G-1) (n-1)/(n-3).
func TestCluster(t *testing.T) {
	var p Problem
	var groups []string
	for _, c := range chicks[:6] {
		for i, w := range c.weights {
			p.Y = append(p.Y, w)
			p.X = append(p.X, []float64{chickDays[i]})
			groups = append(groups, string(rune('a'+c.number)))
		}
	}
	p.Model, p.Start = gompertz, []float64{300, 0.08, 12}
	r, err := LeastSquares(p)
	if err != nil {
		t.Fatal(err)
	}
	c, err := r.Cluster(groups)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{389.9064188562, 0.06338826171063, 13.93858325726} {
		agree(t, "pooled "+r.Names[i], r.Params[i], want, 5.5)
	}
	for i, want := range []float64{221.857810744, 0.02516673650483, 8.883845347796} {
		agree(t, "clustered SE of "+r.Names[i], c.StdErr[i], want, 5)
	}
	if c.DF != 5 {
		t.Errorf("df %d", c.DF)
	}
	plain, _, err := r.Delta(func(b []float64) float64 { return b[1] })
	if err != nil || plain != r.Params[1] {
		t.Errorf("delta of the rate: %v, %v", plain, err)
	}
	if _, se, err := c.Delta(func(b []float64) float64 { return b[1] }); err != nil || digits(se, c.StdErr[1]) < 8 {
		t.Errorf("clustered delta of the rate: SE %v, %v", se, err)
	}
	if _, err := r.Cluster(make([]string, len(groups))); !errors.Is(err, ErrTooFew) {
		t.Errorf("one group: %v", err)
	}
	if _, err := r.Cluster(groups[1:]); !errors.Is(err, ErrInput) {
		t.Errorf("a label too few: %v", err)
	}
}

// stackLoss is Brownlee's ammonia oxidation: air flow, water temperature, acid concentration, stack loss.
//
// Source: Brownlee 1965, Statistical Theory and Methodology in Science and Engineering, 2nd ed., p. 454 (R
// datasets, stackloss).
var stackLoss = [][4]float64{
	{80, 27, 89, 42}, {80, 27, 88, 37}, {75, 25, 90, 37}, {62, 24, 87, 28}, {62, 22, 87, 18}, {62, 23, 87, 18},
	{62, 24, 93, 19}, {62, 24, 93, 20}, {58, 23, 87, 15}, {58, 18, 80, 14}, {58, 18, 89, 14}, {58, 17, 88, 13},
	{58, 18, 82, 11}, {58, 19, 93, 12}, {50, 18, 89, 8}, {50, 18, 86, 7}, {50, 19, 72, 8}, {50, 19, 79, 8},
	{50, 20, 80, 9}, {56, 20, 82, 15}, {70, 20, 91, 15},
}

func stackProblem(how Robust) Problem {
	p := Problem{Start: []float64{0, 1, 1, 0}, Robust: how, Model: func(b, x []float64) float64 {
		return b[0] + b[1]*x[0] + b[2]*x[1] + b[3]*x[2]
	}}
	for i := range stackLoss {
		p.X = append(p.X, stackLoss[i][:3])
		p.Y = append(p.Y, stackLoss[i][3])
	}
	return p
}

// TestRobust compares the stack loss data with R 4.2.2: Tukey's biweight iterated to a standstill in the form of
// MASS::rlm (coefficients -42.2853, 0.9275, 0.6507, -0.1123 and scale 2.282 are those of its documented example,
// from memory), and the t likelihood with 4 degrees of freedom by EM and by optim.
func TestRobust(t *testing.T) {
	r, err := LeastSquares(stackProblem(Bisquare))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{-42.28535077933, 0.9275573227555, 0.6507176872143, -0.1123331537909} {
		agree(t, "biweight "+r.Names[i], r.Params[i], want, 7)
	}
	for i, want := range []float64{9.531481629657, 0.1080530141746, 0.2948736930378, 0.1252281604268} {
		agree(t, "biweight SE of "+r.Names[i], r.StdErr[i], want, 7)
	}
	agree(t, "biweight scale", r.Sigma, 2.281881334951, 7)
	for i, want := range map[int]float64{0: 0.8928701451076, 3: 0.3358027972402, 20: 0.002220389967577} {
		agree(t, "biweight weight", r.RobustWeights[i], want, 6)
	}
	if !math.IsNaN(r.LogLik) {
		t.Error("the biweight has no likelihood")
	}

	if r, err = LeastSquares(stackProblem(StudentT)); err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{-40.06809269074, 0.857090778939, 0.7452688108642, -0.1151248264281} {
		agree(t, "t4 "+r.Names[i], r.Params[i], want, 7)
	}
	agree(t, "t4 scale", r.Sigma*math.Sqrt(17./21), 2.02453393318, 7)
	agree(t, "t4 logLik", r.LogLik, -51.42333743265, 9)
}

// TestRobustWeighing: one weighing of ten typed wrong (a digit swapped) hardly moves the robust curve. Invented.
func TestRobustWeighing(t *testing.T) {
	p := Problem{Model: gompertz, Gradient: gompertzGradient, Start: []float64{900, 0.03, 50}, Errors: LogNormal}
	for i := range 12 {
		age := float64(14 * (i + 1))
		p.X = append(p.X, []float64{age})
		p.Y = append(p.Y, gompertz([]float64{1000, 0.03, 50}, []float64{age})*(1+0.01*math.Sin(float64(3*i))))
	}
	p.Y[7] *= 0.7
	for _, how := range []Robust{Bisquare, StudentT} {
		p.Robust = how
		r, err := LeastSquares(p)
		if err != nil || r.Status != Converged || math.Abs(r.Params[0]-1000) > 15 || r.RobustWeights[7] > 0.05 {
			t.Errorf("robust %d: %+v, %v", how, r, err)
		}
	}
	p.Robust = NotRobust
	if r, err := LeastSquares(p); err != nil || math.Abs(r.Params[0]-1000) < 15 {
		t.Errorf("the plain fit was expected to be misled: %v, %v", r.Params, err)
	}
}

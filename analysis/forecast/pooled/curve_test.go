package pooled

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// At the inflection a Gompertz curve has reached A/e and a logistic one A/2 (identities of the curves); Kadaknath
// males: A 2186 g, 803.67 g at the inflection as printed, A/e = 804.19 (study of 96 birds, abstract).
func TestCurveAtItsInflection(t *testing.T) {
	g := newCurve(math.Log(2186), math.Log(0.1), math.Log(14), 0)
	f, _, _, ok := g.at(14)
	near(t, "Gompertz", math.Exp(f), 804.19, 0.01)
	l := newCurve(math.Log(2186), math.Log(0.1), math.Log(14), 1)
	f, _, _, _ = l.at(14)
	near(t, "logistic", math.Exp(f), 1093, 1e-6)
	if !ok {
		t.Error("no weight at the inflection")
	}
}

// The curve is smooth through shape 0, and its slopes are those of differences.
func TestCurveIsSmooth(t *testing.T) {
	for _, nu := range []float64{-0.1, -1e-6, 0, 1e-6, 0.4, 1} {
		for _, age := range []float64{3, 8.5, 20, 60} {
			c := newCurve(6.7, math.Log(0.167), math.Log(8.5), nu)
			f, slopeK, slopeT, ok := c.at(age)
			const h = 1e-5
			k1, k2 := newCurve(6.7, c.logK+h, c.logT, nu), newCurve(6.7, c.logK-h, c.logT, nu)
			t1, t2 := newCurve(6.7, c.logK, c.logT+h, nu), newCurve(6.7, c.logK, c.logT-h, nu)
			at := func(c curve) float64 { f, _, _, _ := c.at(age); return f }
			near(t, "slope in log k", slopeK, (at(k1)-at(k2))/(2*h), 1e-6)
			near(t, "slope in log ti", slopeT, (at(t1)-at(t2))/(2*h), 1e-6)
			gompertz := newCurve(6.7, c.logK, c.logT, 0)
			if math.Abs(nu) < 1e-5 {
				near(t, "near Gompertz", f, at(gompertz), 2e-5)
			}
			if !ok {
				t.Errorf("no weight at %v weeks, shape %v", age, nu)
			}
		}
	}
	c := newCurve(6.7, math.Log(0.167), math.Log(8.5), -0.5)
	if _, _, _, ok := c.at(0); ok {
		t.Error("a curve of shape -0.5 has no weight at hatch")
	}
}

// With straight lines for curves Laplace's method is exact: one weighing of a grown bird has a normal marginal
// likelihood with variance spread² + noise².
func TestLaplaceIsExactForANormal(t *testing.T) {
	p := pool{mean: newCurve(6.5, math.Log(0.5), math.Log(5), 0), spread: [3]float64{0.12, 1e-9, 1e-9}, noise: 0.03, wander: 1e-9, settle: 1}
	tr := Track{[]float64{60}, []float64{6.7}, []float64{420}}
	w := newWorkspace([]Track{tr})
	w.prepare(&p, &tr)
	got, _ := w.fit(&p, &tr, []bool{false}, make([]float64, effects))
	f, _, _, _ := p.mean.at(60)
	variance := 0.12*0.12 + 0.03*0.03
	want := -0.5*(6.7-f)*(6.7-f)/variance - 0.5*math.Log(variance)
	near(t, "log marginal likelihood", got, want, 1e-6)
}

package mixed

import (
	"math/rand/v2"
	"testing"

	"keelmark/analysis/fit"
)

// TestOrderAndUnits: neither the order of the rows, nor the unit of the weights, nor a weight on top of every bird
// changes what a fit says.
func TestOrderAndUnits(t *testing.T) {
	p := ratProblem(true)
	p.Covariance, p.Criterion = Correlated, REML
	want, err := Linear(p)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	shuffle := func(p LinearProblem) LinearProblem {
		q := p
		q.Y, q.Groups, q.X, q.Z = nil, nil, nil, nil
		for _, i := range rng.Perm(len(p.Y)) {
			q.Y, q.Groups, q.X, q.Z = append(q.Y, p.Y[i]), append(q.Groups, p.Groups[i]), append(q.X, p.X[i]), append(q.Z, p.Z[i])
		}
		return q
	}
	for _, c := range []struct {
		what         string
		scale, above float64
	}{{"order", 1, 0}, {"kilograms", 1e-3, 0}, {"a tonne on top", 1, 1e6}} {
		q := shuffle(p)
		for i := range q.Y {
			q.Y[i] = q.Y[i]*c.scale + c.above
		}
		r, err := Linear(q)
		if err != nil || r.Status != fit.Converged {
			t.Fatal(c.what, err, r)
		}
		agree(t, c.what+": level", r.Fixed[0], want.Fixed[0]*c.scale+c.above, 9)
		agree(t, c.what+": slope", r.Fixed[1], want.Fixed[1]*c.scale, 7)
		agree(t, c.what+": standard error", r.StdErr[1], want.StdErr[1]*c.scale, 6)
		agree(t, c.what+": SD", r.SD[1], want.SD[1]*c.scale, 6)
		agree(t, c.what+": sigma", r.Sigma, want.Sigma*c.scale, 7)
	}

	n := chickProblem()
	curve, err := Nonlinear(n)
	if err != nil {
		t.Fatal(err)
	}
	kilograms := n
	kilograms.X, kilograms.Y, kilograms.Groups = nil, nil, nil
	for _, i := range rng.Perm(len(n.Y)) {
		kilograms.X, kilograms.Groups = append(kilograms.X, n.X[i]), append(kilograms.Groups, n.Groups[i])
		kilograms.Y = append(kilograms.Y, n.Y[i]/1000)
	}
	kilograms.Start = []float64{0.3, 14, 7}
	r, err := Nonlinear(kilograms)
	if err != nil || r.Status != fit.Converged {
		t.Fatal(err, r)
	}
	for i, scale := range []float64{1e-3, 1, 1} {
		agree(t, "kilograms: fixed", r.Fixed[i], curve.Fixed[i]*scale, 7)
		agree(t, "kilograms: standard error", r.StdErr[i], curve.StdErr[i]*scale, 6)
	}
	agree(t, "kilograms: sigma", r.Sigma, curve.Sigma/1000, 7)
	agree(t, "kilograms: SD", r.SD[0], curve.SD[0]/1000, 6)
}

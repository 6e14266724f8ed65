package pooled

import (
	"math"
	"testing"

	"keelmark/analysis/forecast/dense"
)

// The closed forms agree with the same process added up over fifty thousand short steps, before, across and after the
// inflection.
func TestAPathAddsUpItsSteps(t *testing.T) {
	p := pool{mean: newCurve(7, math.Log(0.2), math.Log(8), 0), wander: 0.3, settle: 2.2}
	for _, ages := range [][2]float64{{0, 3}, {2, 12}, {10, 14}, {9, 9.5}, {12, 60}} {
		got, want := p.path(ages[0], ages[1]), path{keep: 1}
		const n = 50000
		start := p.mean.k * (ages[0] - p.mean.ti)
		h := p.mean.k * (ages[1] - ages[0]) / n
		v := p.wander * p.wander
		for i := range n {
			fade := math.Exp(-max(0, start+(float64(i)+0.5)*h))
			want = want.then(path{keep: math.Exp(-p.settle * h), run: fade * h, rate: v * h, both: v * h * h / 2 * fade, own: v * h * h * h / 3 * fade * fade})
		}
		near(t, "keep", got.keep, want.keep, 1e-9)
		near(t, "run", got.run, want.run, 2e-3*want.run)
		near(t, "rate", got.rate, want.rate, 2e-3*want.rate)
		near(t, "both", got.both, want.both, 3e-3*want.both)
		near(t, "own", got.own, want.own, 3e-3*want.own)
	}
}

// Two paths one after the other are the path of both together.
func TestPathsJoin(t *testing.T) {
	p := pool{mean: newCurve(7, math.Log(0.2), math.Log(8), 0), wander: 0.3, settle: 1}
	got, want := p.path(3, 6).then(p.path(6, 20)), p.path(3, 20)
	near(t, "own", got.own, want.own, 1e-12)
	near(t, "both", got.both, want.both, 1e-12)
	near(t, "run", got.run, want.run, 1e-12)
}

// A bird's weight between two weighings is what a normal distribution of all three gives: conditioning the joint
// covariance of the deviations, element by element, on the two that were weighed.
func TestTheFilterAgreesWithTheJointCovariance(t *testing.T) {
	p := pool{mean: newCurve(6.5, math.Log(0.2), math.Log(8), 0), spread: [effects]float64{1e-9, 1e-9, 1e-9}, noise: 0.03, wander: 0.3, settle: 2}
	tr := Track{Ages: []float64{4, 10}, Logs: []float64{5, 6}}
	root := dense.Square(effects)
	for i := range root {
		root[i][i] = 1
	}
	bad := []bool{false, false}
	variance := func(age float64) float64 { return p.path(0, age).own }
	covariance := func(a, b float64) float64 { // a before b
		first, then := p.path(0, a), p.path(a, b)
		return first.own + then.run*first.both
	}
	for _, age := range []float64{3, 7, 14} {
		mean, got, ok := p.at(&tr, bad, mode{x: make([]float64, effects), root: root}, age)
		if !ok {
			t.Fatal("no weight")
		}
		joint := dense.Square(2)
		var cross, residual [2]float64
		for i, a := range tr.Ages {
			joint[i][i] = variance(a) + p.noise*p.noise
			cross[i] = covariance(min(a, age), max(a, age))
			f, _, _, _ := p.mean.at(a)
			residual[i] = tr.Logs[i] - f
		}
		joint[1][0] = covariance(tr.Ages[0], tr.Ages[1])
		l, _ := dense.Cholesky(joint)
		l.Forward(cross[:])
		l.Forward(residual[:])
		f, _, _, _ := p.mean.at(age)
		near(t, "mean", mean, f+dense.Dot(cross[:], residual[:]), 1e-9)
		near(t, "variance", got, variance(age)-dense.Dot(cross[:], cross[:]), 1e-9)
	}
}

package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

func gompertzCurve(b []float64, t float64, g []float64) float64 {
	u := math.Exp(-b[1] * (t - b[2]))
	w := math.Exp(-u)
	s := b[0] * w * u
	g[0], g[1], g[2] = w, s*(t-b[2]), -s*b[1]
	return b[0] * w
}

// invented makes a bird: Gompertz with 3 % scatter, weighed every two weeks.
func invented(rng *rand.Rand, weighings int) (x, y []float64) {
	b := []float64{1000 * math.Exp(0.12*rng.NormFloat64()), 0.028 * math.Exp(0.12*rng.NormFloat64()), 55 * math.Exp(0.1*rng.NormFloat64())}
	for i := range weighings {
		t := float64(14 * (i + 1))
		x = append(x, t)
		y = append(y, gompertz(b, []float64{t})*math.Exp(0.03*rng.NormFloat64()))
	}
	return x, y
}

// TestSeries: the quick path gives what LeastSquares gives, without allocating.
func TestSeries(t *testing.T) {
	s, err := NewSeries(gompertzCurve, 3)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		x, y := invented(rng, 10)
		if status := s.Fit(x, y, []float64{1000, 0.03, 50}); status != Converged {
			t.Errorf("quick path: %v", status)
			continue
		}
		r, err := LeastSquares(Problem{Model: gompertz, Gradient: gompertzGradient, X: Column(x), Y: y, Start: []float64{800, 0.02, 60}})
		if err != nil {
			t.Fatal(err)
		}
		for i := range 3 {
			agree(t, "quick parameter", s.Params[i], r.Params[i], 8)
			agree(t, "quick standard error", s.StdErr[i], r.StdErr[i], 7)
		}
		agree(t, "quick RSS", s.RSS, r.RSS, 8)
	}
	x, y := invented(rng, 10)
	start := []float64{1000, 0.03, 50}
	if n := testing.AllocsPerRun(10, func() { s.Fit(x, y, start) }); n != 0 {
		t.Errorf("%v allocations a fit", n)
	}
	if s.Fit(x, y[:9], start) != Stuck || s.Fit(x[:3], y[:3], start) != Stuck || s.Fit(x, append(y[:9:9], math.NaN()), start) != Stuck {
		t.Error("input that cannot be fitted was fitted")
	}
	if _, err := NewSeries(gompertzCurve, 5); err == nil {
		t.Error("five parameters were accepted")
	}
}

// BenchmarkSeriesGompertz fits 10 weighings a bird from one start for all, with standard errors.
func BenchmarkSeriesGompertz(b *testing.B) {
	s, err := NewSeries(gompertzCurve, 3)
	if err != nil {
		b.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var xs, ys [][]float64
	for range 500 {
		x, y := invented(rng, 10)
		xs, ys = append(xs, x), append(ys, y)
	}
	start := []float64{1000, 0.03, 50}
	steps, failed := 0, 0
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if s.Fit(xs[i%500], ys[i%500], start) != Converged {
			failed++
		}
		steps += s.Steps
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "fits/s")
	b.ReportMetric(float64(steps)/float64(b.N), "steps/fit")
	b.ReportMetric(float64(failed), "failed")
}

// BenchmarkLeastSquaresGompertz is the blind procedure on the same birds.
func BenchmarkLeastSquaresGompertz(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	x, y := invented(rng, 10)
	p := Problem{Model: gompertz, Gradient: gompertzGradient, X: Column(x), Y: y, Start: []float64{1000, 0.03, 50}}
	for b.Loop() {
		if _, err := LeastSquares(p); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "fits/s")
}

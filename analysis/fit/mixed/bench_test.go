package mixed

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"keelmark/analysis/fit"
)

// bench times a fit of growth curves: mature weight and rate of each bird's own, age at inflection common.
func bench(b *testing.B, p NonlinearProblem, birds int) {
	b.Helper()
	p.Model, p.Gradient = gompertz, gompertzGradient
	p.Parameters = []Parameter{{Name: "A", Random: true}, {Name: "k", Random: true}, {Name: "ti"}}
	var r *NonlinearResult
	for b.Loop() {
		var err error
		if r, err = Nonlinear(p); err != nil || r.Status != fit.Converged {
			b.Fatal(err, r)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)*1e6/float64(birds), "us/bird")
	b.ReportMetric(float64(r.Steps), "linearisations")
	b.Logf("logLik %.6f", r.LogLik)
}

// BenchmarkNonlinear shows that cost grows with the number of birds: Gompertz curves, ten weighings a bird from 14 to
// 266 days, 3 % scatter (invented).
func BenchmarkNonlinear(b *testing.B) {
	for _, birds := range []int{100, 1000, 10000, 100000} {
		b.Run(fmt.Sprintf("birds=%d", birds), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 2))
			p := NonlinearProblem{Start: []float64{1000, 0.03, 60}}
			for bird := range birds {
				own := []float64{1000 * math.Exp(0.12*rng.NormFloat64()), 0.025 * math.Exp(0.1*rng.NormFloat64()), 70 * math.Exp(0.08*rng.NormFloat64())}
				name := fmt.Sprint(bird)
				for j := range 10 {
					x := []float64{14 + 28*float64(j)}
					p.X, p.Groups = append(p.X, x), append(p.Groups, name)
					p.Y = append(p.Y, gompertz(own, x)*math.Exp(0.03*rng.NormFloat64()))
				}
			}
			bench(b, p, birds)
		})
	}
}

// BenchmarkLinear: adult weights, twelve a bird, with a level and a slope of each bird's own.
func BenchmarkLinear(b *testing.B) {
	for _, birds := range []int{100, 1000, 10000} {
		b.Run(fmt.Sprintf("birds=%d", birds), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 2))
			p := LinearProblem{Covariance: Correlated, Criterion: REML}
			for bird := range birds {
				level, slope := 1000+80*rng.NormFloat64(), 3*rng.NormFloat64()
				male := float64(bird % 2)
				name := fmt.Sprint(bird)
				for month := range 12 {
					t := float64(month)
					p.X, p.Z = append(p.X, []float64{1, t, male}), append(p.Z, []float64{1, t})
					p.Groups = append(p.Groups, name)
					p.Y = append(p.Y, level+200*male+slope*t+20*rng.NormFloat64())
				}
			}
			for b.Loop() {
				if r, err := Linear(p); err != nil || r.Status != fit.Converged {
					b.Fatal(err, r)
				}
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)*1e6/float64(birds), "us/bird")
		})
	}
}

package forecast

import (
	"context"
	"math/rand/v2"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/forecast/invent"
	"keelmark/analysis/forecast/pooled"
)

func BenchmarkIntegrate(b *testing.B) {
	s := simulate(rand.New(rand.NewPCG(7, 0)), invent.Design{Birds: 20, Last: 12, Step: 2, Noise: 0.03, Bad: 0.05})
	for b.Loop() {
		pooled.Integrate(800, 0.12, s.tracks)
	}
}

func BenchmarkRun(b *testing.B) {
	d := kept(24, 16)
	c := analysis.Context{Today: today}
	for b.Loop() {
		if _, err := Spec().Run(context.Background(), c, d, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSixtyBirds forecasts 40 hens weighed monthly for three years and 20 growing pullets.
func BenchmarkSixtyBirds(b *testing.B) {
	d := seasonal(40, 3, 30, true)
	young := kept(20, 16)
	d.Birds, d.Observations = append(d.Birds, young.Birds...), append(d.Observations, young.Observations...)
	c := analysis.Context{Today: today}
	for b.Loop() {
		if _, err := Spec().Run(context.Background(), c, d, nil); err != nil {
			b.Fatal(err)
		}
	}
}

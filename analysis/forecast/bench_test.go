package forecast

import (
	"context"
	"math/rand/v2"
	"testing"

	"keelmark/analysis"
)

func BenchmarkIntegrate(b *testing.B) {
	s := simulate(rand.New(rand.NewPCG(7, 0)), flockDesign{birds: 20, last: 12, step: 2, noise: 0.03, bad: 0.05})
	for b.Loop() {
		integrate(priorFor(800, 0.12), s.tracks)
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

package season

import (
	"math"

	"keelmark/analysis/stat"
)

// Naive is how the usual harmonic regressions judge: shown beside the test so that nobody need repeat them.
type Naive struct {
	PBirds     float64 // birds independent
	PDays      float64 // days independent, dispersion estimated
	PSecond    float64 // of a second wave, days independent
	Dispersion float64
}

// naive fits harmonic logistic regressions with one and two waves; it needs 8 rounds.
//
// Source: Stolwijk, Straatman & Zielhuis 1999, J. Epidemiol. Community Health 53:235; quasi-likelihood F test, McCullagh &
// Nelder 1989, 9.3. That they cry season where there is none: Keelmark's domain notes 4.5.
func naive(rounds []Round) (Naive, bool) {
	if len(rounds) < 8 {
		return Naive{}, false
	}
	var fits [3]stat.FittedGLM
	for waves := range fits {
		g := stat.GLM{Response: stat.Binomial}
		for _, r := range rounds {
			row := []float64{1}
			for w := 1; w <= waves; w++ {
				sin, cos := math.Sincos(float64(w) * phase(r.On))
				row = append(row, cos, sin)
			}
			g.X = append(g.X, row)
			g.Y = append(g.Y, float64(r.Found))
			g.Trials = append(g.Trials, float64(r.Looked))
		}
		f, err := g.Fit()
		if err != nil {
			return Naive{}, false
		}
		fits[waves] = f
	}
	out := Naive{Dispersion: fits[1].Dispersion}
	chi, err := stat.ChiSquared(2)
	if err != nil {
		return Naive{}, false
	}
	if out.PBirds, err = chi.Upper(fits[0].Deviance - fits[1].Deviance); err != nil {
		return Naive{}, false
	}
	for i, p := range []*float64{&out.PDays, &out.PSecond} {
		f, err := stat.F(2, float64(fits[i+1].DF))
		if err != nil {
			return Naive{}, false
		}
		if *p, err = f.Upper((fits[i].Deviance - fits[i+1].Deviance) / 2 / fits[i+1].Dispersion); err != nil {
			return Naive{}, false
		}
	}
	return out, true
}

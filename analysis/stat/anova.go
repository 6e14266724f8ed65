package stat

import "math"

// Anova is a one-way analysis of variance: how much of the scatter lies between groups.
type Anova struct {
	Between, Within     float64 // sums of squares
	DFBetween, DFWithin int
	F, P                float64 // ratio of the mean squares, and the chance of it or more where all means are alike
	RSquared            float64 // share of the variation between groups
	SD                  float64 // residual standard deviation
	N                   int
}

// OneWay compares the means of two or more groups of at least one finite value each, with more values than groups. It
// takes the scatter as alike in all groups. Where no group has any scatter F is +Inf, or an error where the means are
// alike too.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3; deviations from means taken twice against
// cancellation, Chan, Golub & LeVeque 1983, Am. Stat. 37:242.
func OneWay(groups ...[]float64) (Anova, error) {
	if len(groups) < 2 {
		return Anova{}, tooFew("an analysis of variance (groups)", len(groups), 2)
	}
	a := Anova{DFBetween: len(groups) - 1}
	var all []float64
	for _, g := range groups {
		if err := checkSample("a group", g, 1); err != nil {
			return Anova{}, err
		}
		all = append(all, g...)
	}
	a.N, a.DFWithin = len(all), len(all)-len(groups)
	if a.DFWithin < 1 {
		return Anova{}, tooFew("an analysis of variance", a.N, len(groups)+1)
	}
	centre, err := Mean(all)
	if err != nil {
		return Anova{}, err
	}
	var grand float64 // mean of the deviations: next to 0
	means := make([]float64, len(groups))
	for i, g := range groups {
		shifted := make([]float64, len(g))
		for j, x := range g {
			shifted[j] = x - centre
		}
		if means[i], err = Mean(shifted); err != nil {
			return Anova{}, err
		}
		for _, d := range shifted {
			a.Within += (d - means[i]) * (d - means[i])
			grand += d / float64(a.N)
		}
	}
	for i, g := range groups {
		d := means[i] - grand
		a.Between += float64(len(g)) * d * d
	}
	if a.Within == 0 && a.Between == 0 {
		return Anova{}, domain("all values are alike")
	}
	a.RSquared = a.Between / (a.Between + a.Within)
	within := a.Within / float64(a.DFWithin)
	a.SD = math.Sqrt(within)
	a.F = a.Between / float64(a.DFBetween) / within
	if math.IsInf(a.F, 1) {
		return a, nil
	}
	f, err := F(float64(a.DFBetween), float64(a.DFWithin))
	if err != nil {
		return Anova{}, err
	}
	a.P, err = f.Upper(a.F)
	return a, err
}

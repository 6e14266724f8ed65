package stat

import (
	"cmp"
	"math"
	"slices"
)

// Spell is one time to an event. An event that did not happen by then leaves the spell open.
type Spell struct {
	Time  float64 // any unit, above 0
	Event bool    // false: still without the event when last seen
}

// SurvivalStep is one time of events in a Kaplan-Meier curve.
type SurvivalStep struct {
	Time           float64
	AtRisk, Events int
	Survival, SE   float64 // SE by Greenwood, of the survival itself
	Low, High      float64 // by the logarithm of the survival; High at most 1. Both 0 where the survival is 0
}

// SurvivalCurve is a Kaplan-Meier curve. Median is the first time at which half or fewer are left; +Inf where the curve
// does not fall so far, as for the ends of its interval.
type SurvivalCurve struct {
	Steps     []SurvivalStep
	Median    Interval
	N, Events int
}

// KaplanMeier returns the share still without the event, for times that are known exactly or are open. It needs one
// spell; intervals of time go to Turnbull.
//
// Source: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457; variance Greenwood 1926; interval by the logarithm, Kalbfleisch &
// Prentice 1980, section 1.3; interval of the median Brookmeyer & Crowley 1982, Biometrics 38:29.
func KaplanMeier(spells []Spell, level float64) (SurvivalCurve, error) {
	z, err := checkSpells(spells, level)
	if err != nil {
		return SurvivalCurve{}, err
	}
	s := sortedSpells(spells)
	out := SurvivalCurve{N: len(s), Median: Interval{math.Inf(1), math.Inf(1), math.Inf(1), level, len(s)}}
	left, sum := 1.0, 0.0
	for from := 0; from < len(s); {
		to, events := from, 0
		for ; to < len(s) && s[to].Time == s[from].Time; to++ {
			if s[to].Event {
				events++
			}
		}
		atRisk := len(s) - from
		if events > 0 {
			n, d := float64(atRisk), float64(events)
			left *= 1 - d/n
			step := SurvivalStep{Time: s[from].Time, AtRisk: atRisk, Events: events, Survival: left}
			if events < atRisk {
				sum += d / (n * (n - d))
				root := math.Sqrt(sum)
				step.SE = left * root
				step.Low, step.High = left*math.Exp(-z*root), min(1, left*math.Exp(z*root))
			}
			out.Steps = append(out.Steps, step)
			out.Events += events
			const half = 0.5 + 1e-12
			for _, m := range []struct {
				to    *float64
				curve float64
			}{{&out.Median.Value, left}, {&out.Median.Low, step.Low}, {&out.Median.High, step.High}} {
				if m.curve <= half && math.IsInf(*m.to, 1) {
					*m.to = step.Time
				}
			}
			if events == atRisk { // the interval has no end once nobody is left
				out.Median.High = math.Inf(1)
				for _, k := range out.Steps[:len(out.Steps)-1] {
					if k.High <= half {
						out.Median.High = k.Time
						break
					}
				}
			}
		}
		from = to
	}
	return out, nil
}

func checkSpells(spells []Spell, level float64) (z float64, err error) {
	if err := checkLevel(level); err != nil {
		return 0, err
	}
	if len(spells) == 0 {
		return 0, tooFew("a survival curve", 0, 1)
	}
	for i, s := range spells {
		if !(s.Time > 0) || math.IsInf(s.Time, 0) {
			return 0, domain("time %d of %d is %v; times must be above 0", i+1, len(spells), s.Time)
		}
	}
	return Multiplier(level, math.Inf(1))
}

func sortedSpells(spells []Spell) []Spell {
	s := slices.Clone(spells)
	slices.SortStableFunc(s, func(a, b Spell) int { return cmp.Compare(a.Time, b.Time) })
	return s
}

// Ranked compares the times of two groups.
type Ranked struct {
	Observed, Expected [2]float64 // events of each group; Expected where both had the same curve
	ChiSquared, P      float64    // with 1 degree of freedom
	N                  [2]int
}

// LogRank tests whether two groups have the same curve. rho 0 weighs all times alike (log-rank), rho 1 early times more
// (the Peto-Peto form of Wilcoxon's test). Each group needs one spell, and both together an event.
//
// Source: Mantel 1966, Cancer Chemother. Rep. 50:163; Harrington & Fleming 1982, Biometrika 69:553.
func LogRank(a, b []Spell, rho float64) (Ranked, error) {
	for _, g := range [][]Spell{a, b} {
		if _, err := checkSpells(g, 0.5); err != nil {
			return Ranked{}, err
		}
	}
	first, second := sortedSpells(a), sortedSpells(b)
	all := sortedSpells(append(slices.Clone(a), b...))
	out := Ranked{N: [2]int{len(a), len(b)}}
	var variance, left = 0.0, 1.0
	for from := 0; from < len(all); {
		t := all[from].Time
		to, d := from, 0.0
		for ; to < len(all) && all[to].Time == t; to++ {
			if all[to].Event {
				d++
			}
		}
		if n := float64(len(all) - from); d > 0 {
			n1, d1 := atTime(first, t)
			_, d2 := atTime(second, t)
			w := math.Pow(left, rho)
			out.Observed[0] += w * d1
			out.Observed[1] += w * d2
			out.Expected[0] += w * d * n1 / n
			out.Expected[1] += w * d * (n - n1) / n
			if n > 1 {
				variance += w * w * d * n1 / n * (1 - n1/n) * (n - d) / (n - 1)
			}
			left *= 1 - d/n
		}
		from = to
	}
	if !(variance > 0) {
		return out, domain("no time at which both groups were at risk of an event")
	}
	away := out.Observed[0] - out.Expected[0]
	out.ChiSquared = away * away / variance
	chi, err := ChiSquared(1)
	if err != nil {
		return out, err
	}
	out.P, err = chi.Upper(out.ChiSquared)
	return out, err
}

// atTime counts who of a sorted group is at risk at a time and who has the event then.
func atTime(s []Spell, t float64) (atRisk, events float64) {
	for _, x := range s {
		if x.Time >= t {
			atRisk++
		}
		if x.Time == t && x.Event {
			events++
		}
	}
	return atRisk, events
}

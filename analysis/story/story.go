// Package story weighs what looks after a treatment found under three stories: survivors of the treatment, the expected hatch of
// eggs that no treatment reaches, and a new arrival. It gives chances; whether they may be printed is for the analysis of
// treatments to decide.
package story

import (
	"math"
	"slices"

	"keelmark/analysis/parasite"
)

// The stories.
const (
	Survivors = iota // live ones outlasted the treatment
	Hatch            // eggs that no treatment reaches hatched after it
	Arrival          // new ones came in after it
	Kinds            // how many there are
)

// Name is a story in words.
func Name(k int) string {
	return [Kinds]string{"survivors of the treatment", "the expected hatch of eggs laid before it", "a new arrival after it"}[k]
}

// Stage is what a note says of the live ones that were seen.
type Stage uint8

// The stages.
const (
	StageNotSaid Stage = iota
	Young              // only pale, small ones
	Grown              // full-grown ones among them
)

// After is one look after a treatment.
type After struct {
	Day   float64 // after the first treatment
	Found bool
	Stage Stage
}

// Bird is one treated bird and the looks at it afterwards.
type Bird struct {
	Carried float64 // chance that it carried the parasite when treated: 1 where it was found
	Looks   []After
}

// Weigh returns the chances of the three stories, equal before, given looks at treated birds; second is the day of the
// second treatment, 0 for none. The likelihood of each is averaged over the published ranges of the life cycle, over
// the sensitivity of a look from 0.5 to 0.9, and over how many birds each story reaches.
//
// Source: windows as derived in Keelmark's domain notes 3.2 and 3.3; Bayes' rule with equal priors.
func Weigh(birds []Bird, second float64, cycle parasite.LifeCycle) [Kinds]float64 {
	groups, n := alike(birds)
	horizon := 1.0
	for _, b := range groups {
		for _, l := range b.Looks {
			horizon = max(horizon, l.Day)
		}
	}
	var sums [Kinds]average
	for _, eye := range eyes() {
		for _, grown := range span(cycle.ToAdult) {
			for _, egg := range span(cycle.Egg) {
				t := times{second, egg, grown}
				for _, h := range []float64{0.35, 0.55, 0.75, 0.95} {
					sums[Hatch].add(total(groups, n, func(b Bird) float64 { return t.hatch(b, h, eye) }))
				}
				for _, q := range []float64{0.15, 0.3, 0.5, 0.7, 0.9} {
					for _, again := range []float64{q, (1 + q) / 2} {
						for _, h := range []float64{0, 0.6} {
							sums[Survivors].add(total(groups, n, func(b Bird) float64 { return t.survive(b, q, again, h, eye) }))
						}
					}
				}
			}
		}
		for i := range 8 {
			day := horizon * (float64(i) + 0.5) / 8
			for _, reach := range []float64{0.15, 0.35, 0.6, 0.9} {
				for _, pace := range []float64{2, 8, 20} {
					sums[Arrival].add(total(groups, n, func(b Bird) float64 { return arrive(b, day, reach, pace, second, eye) }))
				}
			}
		}
	}
	top := max(sums[0].log(), sums[1].log(), sums[2].log())
	var out [Kinds]float64
	var all float64
	for k := range out {
		out[k] = math.Exp(sums[k].log() - top)
		all += out[k]
	}
	for k := range out {
		out[k] /= all
	}
	return out
}

// average adds up likelihoods given by their logarithms.
type average struct{ top, sum, n float64 }

func (a *average) add(log float64) {
	if a.n == 0 {
		a.top = log
	}
	if log > a.top {
		a.sum *= math.Exp(a.top - log)
		a.top = log
	}
	a.sum += math.Exp(log - a.top)
	a.n++
}

func (a *average) log() float64 { return a.top + math.Log(a.sum/a.n) }

// span is the ends and the middle of a range.
func span(d parasite.Days) []float64 {
	if d.Low == d.High {
		return []float64{d.Low}
	}
	return []float64{d.Low, (d.Low + d.High) / 2, d.High}
}

// alike joins birds with the same looks, so that each is computed once.
func alike(birds []Bird) (groups []Bird, n []float64) {
	for _, b := range birds {
		i := slices.IndexFunc(groups, func(g Bird) bool {
			return math.Abs(g.Carried-b.Carried) < 1e-9 && slices.Equal(g.Looks, b.Looks)
		})
		if i < 0 {
			groups, n = append(groups, b), append(n, 0)
			i = len(groups) - 1
		}
		n[i]++
	}
	return groups, n
}

func total(groups []Bird, n []float64, f func(Bird) float64) float64 {
	var log float64
	for i, g := range groups {
		log += n[i] * math.Log(max(f(g), 1e-12))
	}
	return log
}

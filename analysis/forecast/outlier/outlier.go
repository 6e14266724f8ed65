// Package outlier tells a bird's good weighings from its bad ones: another bird on the scale, a slipped digit, a wet box.
//
// Errors of weighing are mostly small and seldom wide. The likelihood of a bird's weighings then has one hill for each
// way of telling the good from the bad, and a forecast sums over the ways that matter instead of choosing one. It throws
// no weighing away.
package outlier

import (
	"cmp"
	"math"
	"slices"
)

const (
	// Share of all weighings is taken to be off by much more than weighing error, with the wide relative SD of SD.
	// Source: contaminated normal of Tukey 1960; the shares are Keelmark's own assumption, 5 % off by 10 to 30 %, as its
	// planning simulated.
	Share = 0.05
	SD    = 0.20

	// most is how many ways one bird keeps.
	most = 5
	// unlikely is how far below the best way, in log probability, one is dropped: 1 in 50.
	unlikely = 3.9
)

// LogPrior is the log probability of so many bad weighings before their weights are seen.
func LogPrior(bad []bool) float64 {
	sum := 0.0
	for _, b := range bad {
		if b {
			sum += math.Log(Share)
		} else {
			sum += math.Log(1 - Share)
		}
	}
	return sum
}

// Ways finds the likeliest ways of telling the good of n weighings from the bad, best first: all good, then one bad
// weighing more at a time as long as that makes the records likelier. likelihood is the log likelihood of the records
// under one way.
func Ways(n int, likelihood func(bad []bool) float64) [][]bool {
	type scored struct {
		bad   []bool
		score float64
	}
	try := func(bad []bool) scored { return scored{bad, likelihood(bad) + LogPrior(bad)} }
	all := []scored{try(make([]bool, n))}
	best := all[0]
	for range n / 2 {
		from := best
		for j := range n {
			if from.bad[j] {
				continue
			}
			bad := slices.Clone(from.bad)
			bad[j] = true
			next := try(bad)
			all = append(all, next)
			if next.score > best.score {
				best = next
			}
		}
		if best.score == from.score {
			break
		}
	}
	slices.SortStableFunc(all, func(a, b scored) int { return cmp.Compare(b.score, a.score) })
	var out [][]bool
	for _, a := range all {
		if len(out) == 0 || len(out) < most && a.score > best.score-unlikely {
			out = append(out, a.bad)
		}
	}
	return out
}

// LogSum is the logarithm of the sum of exponentials: what several ways make likely together.
func LogSum(logs []float64) float64 {
	top := slices.Max(logs)
	if math.IsInf(top, -1) {
		return top
	}
	sum := 0.0
	for _, l := range logs {
		sum += math.Exp(l - top)
	}
	return top + math.Log(sum)
}

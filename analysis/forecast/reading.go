package forecast

import (
	"cmp"
	"math"
	"slices"
)

const (
	// readings is how many ways of telling good from bad weighings one bird keeps.
	readings = 5
	// unlikely is how far below the best reading, in log probability, one is dropped: 1 in 50.
	unlikely = 3.9
)

// reading is one way to tell a bird's good weighings from its bad ones. The chance of a bird's weighings is the
// sum over its readings: with errors that are mostly small and seldom wide the likelihood has one hill for each.
type reading struct {
	bad  []bool
	log  float64   // log prior probability of so many bad weighings
	mode []float64 // where the fit begins
}

func newReading(bad []bool) reading {
	r := reading{bad: bad, mode: make([]float64, effects)}
	for _, b := range bad {
		if b {
			r.log += math.Log(badShare)
		} else {
			r.log += math.Log(1 - badShare)
		}
	}
	return r
}

// read finds the readings of a bird that matter under a pool.
func (w *workspace) read(p *pool, t *track) []reading {
	w.prepare(p, t)
	var out []reading
	for _, bad := range tellBad(len(t.ages), func(bad []bool) float64 {
		l, _ := w.fit(p, t, bad, make([]float64, effects))
		return l
	}) {
		out = append(out, newReading(bad))
	}
	return out
}

// tellBad finds the likeliest ways of telling the good of n weighings from the bad, best first: all good, then
// one bad weighing more at a time as long as that makes the records likelier. likelihood is the log likelihood of
// the records under one way.
func tellBad(n int, likelihood func(bad []bool) float64) [][]bool {
	type scored struct {
		bad   []bool
		score float64
	}
	try := func(bad []bool) scored { return scored{bad, likelihood(bad) + newReading(bad).log} }
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
		if len(out) == 0 || len(out) < readings && a.score > best.score-unlikely {
			out = append(out, a.bad)
		}
	}
	return out
}

// logSum is the logarithm of the sum of exponentials.
func logSum(logs []float64) float64 {
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

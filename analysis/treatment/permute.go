package treatment

import (
	"math"
	"math/rand/v2"
)

// mostOrders is up to how many assignments are counted one by one.
const mostOrders = 20_000

// permute returns the two-sided chance that the sum of scores of drawn units lies as far from its mean as seen, when
// drawn[g] units of each group are drawn at random: over all assignments where they are few, else over 9,999 of them.
// The lowest value it can return is one over the number of assignments.
//
// Source: randomisation test, Fisher 1935, The Design of Experiments; Phipson & Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9:39
// (the seen assignment counts).
func permute(groups [][]float64, drawn []int, seen float64) float64 {
	mean, orders := 0.0, 1.0
	for g, scores := range groups {
		var sum float64
		for _, s := range scores {
			sum += s
		}
		mean += sum * float64(drawn[g]) / float64(len(scores))
		orders *= math.Exp(logChoose(len(scores), drawn[g]))
	}
	away := math.Abs(seen-mean) - 1e-9
	if orders <= mostOrders+0.5 {
		sums := []float64{0}
		for g, scores := range groups {
			var next []float64
			for _, part := range subsets(scores, drawn[g]) {
				for _, s := range sums {
					next = append(next, s+part)
				}
			}
			sums = next
		}
		hits := 0
		for _, s := range sums {
			if math.Abs(s-mean) >= away {
				hits++
			}
		}
		return float64(hits) / float64(len(sums))
	}
	const draws = 9_999
	rng := rand.New(rand.NewPCG(1935, uint64(len(groups)))) // the same records give the same answer
	hits := 1
	for range draws {
		var sum float64
		for g, scores := range groups {
			for _, i := range rng.Perm(len(scores))[:drawn[g]] {
				sum += scores[i]
			}
		}
		if math.Abs(sum-mean) >= away {
			hits++
		}
	}
	return float64(hits) / (draws + 1)
}

// subsets are the sums of all ways to draw k of the scores.
func subsets(scores []float64, k int) []float64 {
	if k == 0 {
		return []float64{0}
	}
	if k > len(scores) {
		return nil
	}
	var out []float64
	for _, rest := range subsets(scores[1:], k-1) {
		out = append(out, scores[0]+rest)
	}
	return append(out, subsets(scores[1:], k)...)
}

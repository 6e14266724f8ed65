package stat

import (
	"math"
	"slices"
)

// BenjaminiHochberg returns adjusted p-values in the order given: flagging those at or below q keeps the expected
// share of false flags among all flags at q, for independent or positively dependent tests. An empty list
// gives an empty list.
//
// Source: Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57:289.
func BenjaminiHochberg(p []float64) ([]float64, error) {
	for i, x := range p {
		if math.IsNaN(x) || x < 0 || x > 1 {
			return nil, domain("p-value %d of %d is %v", i+1, len(p), x)
		}
	}
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] > p[b]:
			return -1
		case p[a] < p[b]:
			return 1
		}
		return 0
	})
	out := make([]float64, len(p))
	smallest, m := 1.0, float64(len(p))
	for i, at := range order { // largest first
		smallest = min(smallest, p[at]*m/(m-float64(i)))
		out[at] = smallest
	}
	return out, nil
}

package stat

import (
	"cmp"
	"math"
	"slices"
)

// SignedRank is the result of a paired comparison by ranks.
type SignedRank struct {
	V     float64 // sum of the ranks of the positive differences
	P     float64 // exact two-sided p-value
	N     int     // differences that are not 0
	Ups   int     // positive differences
	Downs int
}

// PairedRanks tests whether paired differences lie around 0 by Wilcoxon's signed ranks. Differences of 0 are left
// out; equal ones share their mean rank, and the p-value is that of the permutation of signs given those ranks,
// so that it is exact with ties too. It needs 1 difference that is not 0.
//
// Source: Wilcoxon 1945, Biometrics Bull. 1:80; Hollander & Wolfe 1973, Nonparametric Statistical Methods, p. 27.
func PairedRanks(differences []float64) (SignedRank, error) {
	if err := checkSample("a paired comparison", differences, 1); err != nil {
		return SignedRank{}, err
	}
	d := slices.DeleteFunc(slices.Clone(differences), func(x float64) bool { return x == 0 })
	if len(d) == 0 {
		return SignedRank{}, tooFew("a paired comparison: differences that are not 0", 0, 1)
	}
	slices.SortFunc(d, func(a, b float64) int { return cmp.Compare(math.Abs(a), math.Abs(b)) })
	out := SignedRank{N: len(d)}
	twice := make([]int, len(d)) // ranks times two, so that shared ranks are whole
	for from := 0; from < len(d); {
		to := from
		for to < len(d) && math.Abs(d[to]) == math.Abs(d[from]) {
			to++
		}
		for i := from; i < to; i++ {
			twice[i] = from + 1 + to
		}
		from = to
	}
	v, all := 0, 0
	for i, x := range d {
		all += twice[i]
		if x > 0 {
			v += twice[i]
			out.Ups++
		} else {
			out.Downs++
		}
	}
	// chance[s] is the chance that the ranks with a plus sum to s/2, each sign being as likely as the other.
	chance := make([]float64, all+1)
	chance[0] = 1
	for _, r := range twice {
		for s := all; s >= 0; s-- {
			c := chance[s] / 2
			if s >= r {
				c += chance[s-r] / 2
			}
			chance[s] = c
		}
	}
	var low, high float64
	for s, c := range chance {
		if s <= v {
			low += c
		}
		if s >= v {
			high += c
		}
	}
	out.V, out.P = float64(v)/2, min(1, 2*min(low, high))
	return out, nil
}

// Pairs is how often a member of one group lies above one of another.
type Pairs struct {
	Interval     // share of pairs in which the second lies above the first, ties counted half
	First, Other int
}

// Superiority compares two independent groups: the share of all pairs in which the member of the second lies
// above that of the first (ties half), with an interval. It needs 2 values in each group.
//
// Source: McGraw & Wong 1992, Psychol. Bull. 111:361 (common-language effect); standard error by placements, DeLong,
// DeLong & Clarke-Pearson 1988, Biometrics 44:837; interval on the logit scale.
func Superiority(first, second []float64, level float64) (Pairs, error) {
	if err := checkSample("the first group", first, 2); err != nil {
		return Pairs{}, err
	}
	if err := checkSample("the second group", second, 2); err != nil {
		return Pairs{}, err
	}
	z, err := Multiplier(level, math.Inf(1))
	if err != nil {
		return Pairs{}, err
	}
	above := func(a, b float64) float64 {
		switch {
		case b > a:
			return 1
		case b == a:
			return 0.5
		}
		return 0
	}
	m, n := len(first), len(second)
	byFirst, bySecond := make([]float64, m), make([]float64, n)
	var share float64
	for i, a := range first {
		for j, b := range second {
			c := above(a, b)
			byFirst[i] += c / float64(n)
			bySecond[j] += c / float64(m)
			share += c
		}
	}
	share /= float64(m * n)
	sdFirst, err := SD(byFirst)
	if err != nil {
		return Pairs{}, err
	}
	sdSecond, err := SD(bySecond)
	if err != nil {
		return Pairs{}, err
	}
	out := Pairs{Interval{share, 0, 1, level, m + n}, m, n}
	// At 0 or 1 the placements do not vary; half a pair keeps the interval off the end that was not reached.
	inside := min(max(share, 0.5/float64(m*n)), 1-0.5/float64(m*n))
	se := math.Sqrt(sdFirst*sdFirst/float64(m) + sdSecond*sdSecond/float64(n))
	// Nor may the error of few placements fall below what alike groups would have, 1/(12 min(m, n)) at a half.
	se = max(se, math.Sqrt(inside*(1-inside)/float64(min(m, n))/3))
	half := z * se / (inside * (1 - inside))
	logit := math.Log(inside / (1 - inside))
	if share > 0 {
		out.Low = 1 / (1 + math.Exp(half-logit))
	}
	if share < 1 {
		out.High = 1 / (1 + math.Exp(-half-logit))
	}
	return out, nil
}

package stat

import (
	"math"
	"slices"
)

// Trend is a rank test of whether values rise or fall with their times.
type Trend struct {
	S         float64 // pairs that rise less pairs that fall
	VarS      float64 // under no trend, corrected for ties
	Z         float64 // continuity corrected
	P         float64 // two-sided; exact over all orders up to ExactTrend values, else normal
	Tau       float64 // Kendall's tau-b; 0 where all values are equal
	Slope     float64 // Sen's slope: median of the slopes of all pairs, per unit of time
	Intercept float64 // median of values less Slope times
	N         int
}

// ExactTrend is up to how many values the p-value is counted over all orders.
const ExactTrend = 8

// MannKendall tests values against their times, which must all differ; the order given does not matter. It needs 3.
//
// Source: Mann 1945, Econometrica 13:245; Kendall 1975, Rank Correlation Methods (variance with ties); Sen 1968, J. Am.
// Stat. Assoc. 63:1379.
func MannKendall(times, values []float64) (Trend, error) {
	if len(times) != len(values) {
		return Trend{}, domain("%d times and %d values", len(times), len(values))
	}
	if err := checkSample("a trend", times, 3); err != nil {
		return Trend{}, err
	}
	if err := checkSample("a trend", values, 3); err != nil {
		return Trend{}, err
	}
	n := len(values)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if times[a] < times[b] {
			return -1
		}
		return 1
	})
	t, v := make([]float64, n), make([]float64, n)
	for i, at := range order {
		t[i], v[i] = times[at], values[at]
		if i > 0 && t[i] == t[i-1] {
			return Trend{}, domain("two values at one time")
		}
	}
	out := Trend{N: n, S: rises(v)}
	var slopes []float64
	for i := range v {
		for j := range i {
			slopes = append(slopes, (v[i]-v[j])/(t[i]-t[j]))
		}
	}
	out.Slope, _ = Median(slopes)
	rest := make([]float64, n)
	for i := range v {
		rest[i] = v[i] - out.Slope*t[i]
	}
	out.Intercept, _ = Median(rest)
	nf := float64(n)
	tied, pairs := 0.0, nf*(nf-1)/2
	for _, k := range tieSizes(v) {
		tied += k * (k - 1) / 2
		out.VarS -= k * (k - 1) * (2*k + 5) / 18
	}
	out.VarS += nf * (nf - 1) * (2*nf + 5) / 18
	if tied == pairs { // all alike
		out.P = 1
		return out, nil
	}
	out.Tau = out.S / math.Sqrt((pairs-tied)*pairs)
	if out.S != 0 {
		out.Z = (out.S - math.Copysign(1, out.S)) / math.Sqrt(out.VarS)
	}
	out.P = math.Erfc(math.Abs(out.Z) / math.Sqrt2)
	if n <= ExactTrend {
		out.P = exactTrend(v, math.Abs(out.S))
	}
	return out, nil
}

// rises counts the pairs that rise less those that fall.
func rises(v []float64) float64 {
	s := 0
	for i := range v {
		for j := range i {
			switch {
			case v[i] > v[j]:
				s++
			case v[i] < v[j]:
				s--
			}
		}
	}
	return float64(s)
}

// tieSizes are the sizes of the groups of equal values.
func tieSizes(v []float64) []float64 {
	sorted := slices.Sorted(slices.Values(v))
	var out []float64
	for from := 0; from < len(sorted); {
		to := from
		for to < len(sorted) && sorted[to] == sorted[from] {
			to++
		}
		out = append(out, float64(to-from))
		from = to
	}
	return out
}

// exactTrend is the share of all orders of the values whose |S| is at least s.
func exactTrend(values []float64, s float64) float64 {
	v := slices.Clone(values)
	hits, all := 0, 0
	var permute func(k int)
	permute = func(k int) {
		if k == len(v) {
			all++
			if math.Abs(rises(v)) >= s {
				hits++
			}
			return
		}
		for i := k; i < len(v); i++ {
			v[k], v[i] = v[i], v[k]
			permute(k + 1)
			v[k], v[i] = v[i], v[k]
		}
	}
	permute(0)
	return float64(hits) / float64(all)
}

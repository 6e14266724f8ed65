package stat

import (
	"math"
	"slices"
)

// Family is a way to adjust p-values for their number.
type Family uint8

// The adjustments. The first four keep the chance of any false flag at q among the p-values at or below q; the last keeps
// the expected share of false flags under any dependence. BenjaminiHochberg stands by itself.
const (
	Bonferroni Family = iota
	Holm
	Hochberg
	Hommel
	BenjaminiYekutieli
)

// Adjust returns the adjusted p-values in the order given. An empty list gives an empty list.
//
// Source: Holm 1979, Scand. J. Stat. 6:65; Hochberg 1988, Biometrika 75:800; Hommel 1988, Biometrika 75:383 (algorithm of
// Wright 1992, Biometrics 48:1005); Benjamini & Yekutieli 2001, Ann. Stat. 29:1165.
func Adjust(how Family, p []float64) ([]float64, error) {
	for i, x := range p {
		if math.IsNaN(x) || x < 0 || x > 1 {
			return nil, domain("p-value %d of %d is %v", i+1, len(p), x)
		}
	}
	n := len(p)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	sorted := make([]float64, n)
	for i, at := range order {
		sorted[i] = p[at]
	}
	adjusted := make([]float64, n)
	nf := float64(n)
	switch how {
	case Bonferroni:
		for i, x := range sorted {
			adjusted[i] = nf * x
		}
	case Holm:
		running := 0.0
		for i, x := range sorted {
			running = max(running, (nf-float64(i))*x)
			adjusted[i] = running
		}
	case Hochberg:
		running := 1.0
		for i := n - 1; i >= 0; i-- {
			running = min(running, (nf-float64(i))*sorted[i])
			adjusted[i] = running
		}
	case BenjaminiYekutieli:
		harmonic := 0.0
		for i := 1; i <= n; i++ {
			harmonic += 1 / float64(i)
		}
		running := 1.0
		for i := n - 1; i >= 0; i-- {
			running = min(running, harmonic*nf/float64(i+1)*sorted[i])
			adjusted[i] = running
		}
	case Hommel:
		adjusted = hommel(sorted)
	default:
		return nil, domain("adjustment %d", how)
	}
	out := make([]float64, n)
	for i, at := range order {
		out[at] = min(1, adjusted[i])
	}
	return out, nil
}

// hommel adjusts rising p-values.
func hommel(p []float64) []float64 {
	n := len(p)
	if n < 2 {
		return slices.Clone(p)
	}
	smallest := math.Inf(1)
	for i, x := range p {
		smallest = min(smallest, float64(n)*x/float64(i+1))
	}
	q, adjusted := make([]float64, n), make([]float64, n)
	for i := range q {
		q[i], adjusted[i] = smallest, smallest
	}
	for m := n - 1; m >= 2; m-- {
		head := n - m + 1 // so many of the smallest
		tail := math.Inf(1)
		for i := head; i < n; i++ {
			tail = min(tail, float64(m)*p[i]/float64(i-head+2))
		}
		for i := range head {
			q[i] = min(float64(m)*p[i], tail)
		}
		for i := head; i < n; i++ {
			q[i] = q[head-1]
		}
		for i := range adjusted {
			adjusted[i] = max(adjusted[i], q[i])
		}
	}
	for i, x := range p {
		adjusted[i] = max(adjusted[i], x)
	}
	return adjusted
}

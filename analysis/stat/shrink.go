package stat

import (
	"math"
)

// Shrunken is the share of each of several units, each drawn towards the mean of all by as much as the units agree.
type Shrunken struct {
	Mean  Interval   // of the distribution that the units come from; N is the number of units
	Units []Interval // one a unit, in the order given; N is its own trials
}

// ShrinkShares estimates the share of each unit from x[i] of n[i] as one of a population of units, whose mean and
// spread are integrated over rather than fixed at their best value, so that few units give wide intervals. A unit
// with n 0 gets the distribution of a new unit. It needs 2 units with trials.
//
// Each share comes from Beta(a, b) with the prior density (a+b)^(-5/2) on (a, b); (a, b) are integrated on a grid of
// the logit of the mean and the logarithm of a+b.
//
// Source: Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., section 5.3, eq. 5.8 and 5.9.
func ShrinkShares(x, n []int, level float64) (Shrunken, error) {
	if len(x) != len(n) {
		return Shrunken{}, domain("%d counts of %d units", len(x), len(n))
	}
	if err := checkLevel(level); err != nil {
		return Shrunken{}, err
	}
	units, hits, trials := 0, 0, 0
	for i := range x {
		if n[i] < 0 || x[i] < 0 || x[i] > n[i] {
			return Shrunken{}, domain("%d of %d is not a share", x[i], n[i])
		}
		if n[i] > 0 {
			units++
		}
		hits, trials = hits+x[i], trials+n[i]
	}
	if units < 2 {
		return Shrunken{}, tooFew("units with trials", units, 2)
	}
	nodes := betaNodes(x, n, hits, trials)
	out := Shrunken{Mean: Interval{Level: level, N: units}}
	var err error
	if out.Mean, err = mixtureOfMeans(nodes, level, units); err != nil {
		return Shrunken{}, err
	}
	for i := range x {
		one, err := mixtureOfBetas(nodes, x[i], n[i], level)
		if err != nil {
			return Shrunken{}, err
		}
		out.Units = append(out.Units, one)
	}
	return out, nil
}

// betaNode is one point of the grid over (a, b) with its posterior weight.
type betaNode struct{ a, b, weight float64 }

// betaNodes lays the grid around the pooled share and keeps the points that carry weight.
func betaNodes(x, n []int, hits, trials int) []betaNode {
	const meanSteps, sizeSteps = 41, 37
	share := (float64(hits) + 0.5) / (float64(trials) + 1)
	centre := math.Log(share / (1 - share))
	width := 4.0
	lg := func(x float64) float64 { v, _ := math.Lgamma(x); return v }
	var nodes []betaNode
	top := math.Inf(-1)
	for i := range meanSteps {
		logit := centre + width*(2*float64(i)/(meanSteps-1)-1)
		mean := 1 / (1 + math.Exp(-logit))
		for j := range sizeSteps {
			size := math.Exp(math.Log(0.3) + float64(j)/(sizeSteps-1)*math.Log(3000/0.3))
			a, b := mean*size, (1-mean)*size
			// The grid is even in logit mean and log size, in which (a+b)^(-5/2) becomes size^(-1/2) times mean(1-mean):
			// da db = size d(mean) d(size), d(mean) = mean (1-mean) d(logit), d(size) = size d(log size).
			l := -0.5*math.Log(size) + math.Log(mean) + math.Log1p(-mean)
			for u := range x {
				if n[u] > 0 {
					l += lg(a+float64(x[u])) + lg(b+float64(n[u]-x[u])) - lg(size+float64(n[u])) - lg(a) - lg(b) + lg(size)
				}
			}
			nodes = append(nodes, betaNode{a, b, l})
			top = max(top, l)
		}
	}
	var kept []betaNode
	var sum float64
	for _, node := range nodes {
		if node.weight = math.Exp(node.weight - top); node.weight > 1e-3 {
			kept = append(kept, node)
			sum += node.weight
		}
	}
	for i := range kept {
		kept[i].weight /= sum
	}
	return kept
}

// mixtureOfMeans is the posterior of the population mean a/(a+b), a discrete distribution over the grid, its ends
// taken by interpolation.
func mixtureOfMeans(nodes []betaNode, level float64, units int) (Interval, error) {
	out := Interval{Level: level, N: units}
	type point struct{ mean, weight float64 }
	var points []point
	for _, node := range nodes { // the grid runs through the means in rising order
		mean := node.a / (node.a + node.b)
		out.Value += node.weight * mean
		if k := len(points); k > 0 && math.Abs(points[k-1].mean-mean) < 1e-12 {
			points[k-1].weight += node.weight
		} else {
			points = append(points, point{mean, node.weight})
		}
	}
	quantile := func(p float64) float64 {
		below := 0.0
		for i, at := range points {
			if below+at.weight >= p {
				low, high := at.mean, at.mean
				if i > 0 {
					low = (points[i-1].mean + at.mean) / 2
				}
				if i+1 < len(points) {
					high = (points[i+1].mean + at.mean) / 2
				}
				return low + (high-low)*(p-below)/at.weight
			}
			below += at.weight
		}
		return points[len(points)-1].mean
	}
	out.Low, out.High = quantile((1-level)/2), quantile((1+level)/2)
	return out, nil
}

func mixtureOfBetas(nodes []betaNode, x, n int, level float64) (Interval, error) {
	out := Interval{Level: level, N: n}
	parts := make([]Distribution, len(nodes))
	for i, node := range nodes {
		var err error
		if parts[i], err = Beta(node.a+float64(x), node.b+float64(n-x)); err != nil {
			return Interval{}, err
		}
		out.Value += node.weight * (node.a + float64(x)) / (node.a + node.b + float64(n))
	}
	quantile := func(p float64) (float64, error) {
		low, high := 0.0, 1.0
		for high-low > 1e-5 {
			middle := (low + high) / 2
			var below float64
			for i, d := range parts {
				c, err := d.CDF(middle)
				if err != nil {
					return 0, err
				}
				below += nodes[i].weight * c
			}
			if below < p {
				low = middle
			} else {
				high = middle
			}
		}
		return (low + high) / 2, nil
	}
	var err error
	if out.Low, err = quantile((1 - level) / 2); err != nil {
		return Interval{}, err
	}
	out.High, err = quantile((1 + level) / 2)
	return out, err
}

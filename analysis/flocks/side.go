package flocks

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"keelmark/analysis/stat"
)

// spread pools the differences with flocks as units, and sets each flock beside the others.
func (c *Comparison) spread(d, v []float64) {
	if len(d) < 2 {
		for i := range c.Rows {
			c.Rows[i].Side, c.Rows[i].P = Untold, math.NaN()
		}
		return
	}
	pooled, err := stat.Pool(d, v, stat.DerSimonianLaird, level)
	if err != nil {
		return
	}
	c.Mean, c.Tau2, c.d, c.v = pooled.Mean, pooled.Tau2, d, v
	within := c.Dispersion
	if p := c.Pool.Rate(); c.Measure.share() {
		within = p * (1 - p)
	}
	if within+c.Tau2 > 0 {
		c.ICC = c.Tau2 / (within + c.Tau2)
	}
	ranks := rankRanges(pooled.Shrunken)
	for i := range c.Rows {
		row := &c.Rows[i]
		row.Shrunken, row.Ranks = pooled.Shrunken[i], ranks[i]
		row.Shrunken.N = row.Cell.Birds
		row.P = math.NaN()
		switch {
		case row.Cell.Birds < MinBirds:
			row.Side = TooSmall
		case len(d) < MinFlocks || !c.Measure.Judged():
			row.Side = Untold
		default:
			row.Side, row.P = Untold, beside(d, v, i)
		}
	}
}

// Limit is Funnel for a flock of another size and the pool's mix.
func (c Comparison) Limit(size float64) float64 {
	v := max(c.Dispersion, 1e-12) / size
	if c.Measure.share() {
		p := min(max(c.Pool.Rate(), 0.5/(c.Pool.N+1)), 1-0.5/(c.Pool.N+1))
		v = p * (1 - p) / size
	}
	return funnelZ * math.Sqrt(v+c.UsualTau2)
}

// Judged reports whether a flock may be called above or below by a measure: effort and habits are shown, not judged.
func (m Measure) Judged() bool {
	return slices.Contains([]Measure{Lice, Mites, Weight, Growth, Condition, Fertile}, m)
}

// beside is the two-sided p-value of a flock against the others: its distance from their mean, with its own error, the
// spread between the others and the error of their mean, on as many degrees of freedom as the spread leaves.
//
// Source: the prediction interval of Higgins, Thompson & Spiegelhalter 2009, J. R. Stat. Soc. A 172:137, left one out.
func beside(d, v []float64, i int) float64 {
	others, errs := slices.Delete(slices.Clone(d), i, i+1), slices.Delete(slices.Clone(v), i, i+1)
	p, err := stat.Pool(others, errs, stat.DerSimonianLaird, level)
	if err != nil {
		return math.NaN()
	}
	t, err := stat.StudentT(float64(len(d) - 2))
	if err != nil {
		return math.NaN()
	}
	upper, err := t.Upper(math.Abs(d[i]-p.Mean.Value) / math.Sqrt(v[i]+p.Tau2+p.SE*p.SE))
	if err != nil {
		return math.NaN()
	}
	return 2 * upper
}

// rankRanges are the 5 % and 95 % points of the rank of each flock, by drawing from the shrunken values; the same input
// gives the same ranks.
//
// Source: Goldstein & Spiegelhalter 1996, J. R. Stat. Soc. A 159:385.
func rankRanges(shrunken []stat.Interval) [][2]int {
	const draws = 1000
	z, err := stat.Multiplier(level, math.Inf(1))
	if err != nil {
		return make([][2]int, len(shrunken))
	}
	source := rand.New(rand.NewPCG(1, uint64(len(shrunken))))
	ranks := make([][]int, len(shrunken))
	values, order := make([]float64, len(shrunken)), make([]int, len(shrunken))
	for range draws {
		for i, s := range shrunken {
			values[i] = s.Value + source.NormFloat64()*(s.High-s.Low)/(2*z)
			order[i] = i
		}
		slices.SortFunc(order, func(a, b int) int { return cmp.Compare(values[b], values[a]) })
		for rank, i := range order {
			ranks[i] = append(ranks[i], rank+1)
		}
	}
	out := make([][2]int, len(shrunken))
	for i := range out {
		slices.Sort(ranks[i])
		out[i] = [2]int{ranks[i][draws/20], ranks[i][draws-1-draws/20]}
	}
	return out
}

// decide calls flocks above or below with false ones held at FalseShare over all comparisons together.
func (r *Result) decide() {
	var p []float64
	var at []*Row
	for i := range r.Comparisons {
		for j := range r.Comparisons[i].Rows {
			if row := &r.Comparisons[i].Rows[j]; !math.IsNaN(row.P) && row.Side == Untold {
				p, at = append(p, row.P), append(at, row)
			}
		}
	}
	adjusted, err := stat.BenjaminiHochberg(p)
	if err != nil {
		return
	}
	for i, row := range at {
		row.Adjusted = adjusted[i]
		if adjusted[i] > FalseShare {
			continue
		}
		row.Side = Above
		if row.Difference.Value < 0 {
			row.Side = Below
		}
	}
}

// funnel sets the band of flocks that are not told apart around each flock's size. It needs 2 of them, else all are taken.
//
// Source: random-effects funnel limits of Spiegelhalter 2005, Stat. Med. 24:1185 (from memory); odd flocks are left out of the
// spread, where the paper winsorises them.
func (c *Comparison) funnel() {
	c.Usual, c.UsualTau2 = c.Mean, c.Tau2
	var d, v []float64
	for i, row := range c.Rows {
		if row.Side != Above && row.Side != Below && i < len(c.d) {
			d, v = append(d, c.d[i]), append(v, c.v[i])
		}
	}
	if len(d) >= 2 {
		if p, err := stat.Pool(d, v, stat.DerSimonianLaird, level); err == nil {
			c.Usual, c.UsualTau2 = p.Mean, p.Tau2
		}
	}
	for i := range c.v {
		c.Rows[i].Funnel = funnelZ * math.Sqrt(c.v[i]+c.UsualTau2)
	}
}

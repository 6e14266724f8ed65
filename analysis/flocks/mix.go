package flocks

import (
	"math"
	"slices"

	"keelmark/analysis/stat"
)

// table is what a comparison works on: the total of each flock and its strata at one level.
type table struct {
	total  []Cell
	halves []Cell // all totals, each half year by itself
	strata []map[Stratum]Cell
}

func (r *Result) table(m Measure, scale string, o Options) table {
	t := table{total: make([]Cell, len(r.Flocks)), strata: make([]map[Stratum]Cell, len(r.Flocks))}
	for i, f := range r.Flocks {
		t.strata[i] = map[Stratum]Cell{}
		birds := 0
		for _, c := range f.Summary.Total {
			if c.Measure == m && c.Scale == scale && o.within(c.Half) {
				birds = max(birds, c.Birds) // halves share birds
				t.total[i].add(c)
				t.halves = append(t.halves, c)
			}
		}
		t.total[i].Birds = birds
		for _, c := range f.Summary.Cells {
			if c.Measure == m && c.Scale == scale && o.within(c.Half) {
				x := t.strata[i][c.Stratum]
				b := max(x.Birds, c.Birds)
				x.add(c)
				x.Birds = b
				t.strata[i][c.Stratum] = x
			}
		}
	}
	return t
}

// poolOf adds the strata over flocks, at every level, so that a flock whose strata were released at a coarser level finds
// its reference too.
func poolOf(t table) map[Stratum]Cell {
	out := map[Stratum]Cell{}
	for _, strata := range t.strata {
		for _, s := range inStratumOrder(strata) {
			cell := strata[s]
			seen := map[Stratum]bool{}
			for _, level := range levels() {
				if at := level(s); !seen[at] {
					seen[at] = true
					x := out[at]
					x.add(cell)
					out[at] = x
				}
			}
		}
	}
	return out
}

func inStratumOrder(strata map[Stratum]Cell) []Stratum {
	var out []Stratum
	for s := range strata {
		out = append(out, s)
	}
	slices.SortFunc(out, Stratum.compare)
	return out
}

// expected is the pool's rate for a flock's mix: indirect standardisation. What a flock hides is taken at the pool's whole rate.
//
// Source: Breslow & Day 1987, Statistical Methods in Cancer Research II, section 2.3.
func expected(m Measure, total Cell, strata map[Stratum]Cell, pool map[Stratum]Cell, all Cell) Row {
	row := Row{}
	left, sum := total.N, 0.0
	for _, s := range inStratumOrder(strata) {
		cell := strata[s]
		reference := pool[s].Rate()
		if math.IsNaN(reference) {
			continue
		}
		sum += cell.N * reference
		left -= cell.N
	}
	row.Crude = left > 0.2*total.N || m != Growth && len(strata) < 2
	sum += max(0, left) * all.Rate()
	row.Expected = sum / total.N
	return row
}

// direct is the flock's rate with the mix of all flocks together: direct standardisation, NaN unless every stratum of the
// pool's finest level has SmallGroup birds in this flock.
func direct(t table, flock int, pool map[Stratum]Cell) float64 {
	finest := map[Stratum]bool{}
	for _, strata := range t.strata {
		for s := range strata {
			finest[s] = true
		}
	}
	if len(finest) < 2 {
		return math.NaN()
	}
	var sum, weight float64
	for _, s := range slices.SortedFunc(func(yield func(Stratum) bool) {
		for s := range finest {
			if !yield(s) {
				return
			}
		}
	}, Stratum.compare) {
		cell := t.strata[flock][s]
		if cell.Birds < SmallGroup || cell.N == 0 {
			return math.NaN()
		}
		sum += pool[s].N * cell.Rate()
		weight += pool[s].N
	}
	if weight == 0 {
		return math.NaN()
	}
	return sum / weight
}

// dispersion pools Spread over the half years of all flocks. For shares it gives the mean times that clusters vary more than
// independent members, and the correlation within clusters behind it, weighted by the independent variance; for others the
// variance between birds.
//
// Source: design effect 1+(m-1)rho of m members a cluster, Kish 1965, Survey Sampling, section 5.4 (from memory), solved for rho.
func dispersion(m Measure, t table) (mean, alike float64) {
	var sum, weight, beyond, room float64
	for _, c := range t.halves {
		if c.Spread == 0 {
			continue
		}
		w := c.N
		if m.share() {
			w *= c.Rate() * (1 - c.Rate())
			beyond += w * (c.Spread - 1)
			room += w * (c.N/float64(c.Clusters) - 1)
		}
		sum, weight = sum+w*c.Spread, weight+w
	}
	switch {
	case weight == 0:
		return 1, 0
	case !m.share():
		return sum / weight, 0
	case room > 0:
		alike = min(max(beyond/room, 0), 1)
	}
	return max(1, sum/weight), alike
}

// alike is how many times more a flock's share varies than that of independent members: a flock that looks every week has
// more looks in each two months, and as few outbreaks as the rest.
func (c Comparison) alike(cell Cell) float64 {
	if cell.Clusters == 0 {
		return 1
	}
	return 1 + max(0, cell.N/float64(cell.Clusters)-1)*c.Alike
}

// variance of a flock's rate if it does not differ from the pool: for shares by the expected one, for others by the pooled
// variance within flocks.
func (c Comparison) variance(row Row) float64 {
	again := c.Measure.again(row.Cell)
	if !c.Measure.share() {
		return again * max(c.Dispersion, 1e-12) / row.Cell.N
	}
	p := min(max(row.Expected, 0.5/(c.Pool.N+1)), 1-0.5/(c.Pool.N+1))
	return again * c.alike(row.Cell) * p * (1 - p) / row.Cell.N
}

// again is how often each bird came again: half years share birds, and a bird that is heavy in one is heavy in the next, so
// that its half years are worth one observation together. Released sums cannot tell how alike a bird's half years are; taking
// them to be the same bird twice errs on the side of saying too little. 1 where the clusters are no birds.
//
// Source: the design effect 1+(m-1)rho of Kish 1965, Survey Sampling, section 5.4 (from memory), with rho 1.
func (m Measure) again(c Cell) float64 {
	if !slices.Contains([]Measure{Weight, Growth, Condition}, m) || c.Birds == 0 {
		return 1
	}
	return max(1, float64(c.Clusters)/float64(c.Birds))
}

// exactRatio is counted over expected with the exact Poisson interval.
//
// Source: Garwood 1936, Biometrika 28:437; Breslow & Day 1987, section 2.3.
func exactRatio(counted, expected float64) stat.Interval {
	if expected <= 0 {
		return stat.Interval{}
	}
	out := stat.Interval{Value: counted / expected, Level: level}
	tail := (1 - level) / 2
	if counted > 0 {
		if chi, err := stat.ChiSquared(2 * counted); err == nil {
			if q, err := chi.Quantile(tail); err == nil {
				out.Low = q / 2 / expected
			}
		}
	}
	if chi, err := stat.ChiSquared(2 * (counted + 1)); err == nil {
		if q, err := chi.Quantile(1 - tail); err == nil {
			out.High = q / 2 / expected
		}
	}
	return out
}

package flocks

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"keelmark/analysis/stat"
)

// Minimum data.
const (
	// MinBirds behind a measure are needed before a flock is called above or below. Source: domain notes 4.9.
	MinBirds = 10
	// MinFlocks must be compared before any is called above or below: with fewer the spread between flocks is not known.
	// Source: ours; 5 flocks leave 3 degrees of freedom.
	MinFlocks = 5
	// FalseShare is the share of false ones allowed among all flocks called above or below in one comparison.
	FalseShare = 0.05
)

const level = 0.90

// funnelZ is the normal quantile of Funnel, two-sided 95 in 100. Source: Spiegelhalter 2005, Stat. Med. 24:1185.
const funnelZ = 1.959964

// Side says where a flock lies beside the others, the mix of its birds allowed for.
type Side string

// The sides. Untold is the rule: most differences between flocks are noise.
const (
	Above    Side = "clearly above"
	Below    Side = "clearly below"
	Untold   Side = "cannot be told apart"
	TooSmall Side = "too few birds to tell"
)

// Row is one flock in one comparison.
type Row struct {
	Code       string
	Flock      int // index into Result.Flocks
	Cell       Cell
	Rate       float64       // as counted
	Expected   float64       // the pool's rate for this flock's mix
	Difference stat.Interval // Rate less Expected, with its own sampling error; N is the flock's birds
	Shrunken   stat.Interval // the difference drawn towards the flocks' mean
	Ratio      stat.Interval // for findings: counted over expected with the exact interval; Level 0 where it does not apply
	Direct     float64       // the rate with the pool's mix; NaN where a stratum has fewer than 5 birds
	Ranks      [2]int        // 5 % and 95 % point of the rank, 1 the highest
	P          float64       // two-sided, against the others
	Adjusted   float64       // for all comparisons of the result
	Side       Side
	Crude      bool    // the mix is not allowed for: the strata are hidden or not told apart
	Funnel     float64 // half width of the band at this flock's size within which flocks that do not differ lie 95 times in 100
}

// Comparison is one measure on one scale over the flocks that have it.
type Comparison struct {
	Measure    Measure
	Scale      string
	Rows       []Row
	Pool       Cell          // all flocks together
	Mean       stat.Interval // of the differences, flocks as units
	Tau2       float64       // variance between flocks beyond sampling
	ICC        float64       // share of the variance between birds (or looks, eggs) that lies between flocks
	Dispersion float64       // how much more the clusters vary than independent birds would
	Hidden     string        // why nothing is printed; "" where it is
}

// Flock is one compared flock.
type Flock struct {
	Code     string
	Birds    int
	Released bool
	Summary  Summary
}

// Result is a comparison of flocks.
type Result struct {
	Flocks      []Flock
	Comparisons []Comparison
	notes       []string
}

// Options of a comparison.
type Options struct {
	From, To Half // periods included; zero for all
}

// Compare compares flocks by their sums. Codes must differ. It needs nothing more: what cannot be compared is said.
func Compare(ctx context.Context, list []Summary, o Options) (*Result, error) {
	r := &Result{}
	seen := map[string]bool{}
	for i, s := range list {
		code := cmp.Or(s.Code, fmt.Sprintf("flock %d", i+1))
		if seen[code] {
			return nil, fmt.Errorf("two flocks have the code %q; give each its own under [flock] code in flock.toml", code)
		}
		seen[code] = true
		s.members = nil
		r.Flocks = append(r.Flocks, Flock{code, s.Birds, s.Released, s})
	}
	for _, m := range Measures() {
		for _, scale := range scalesOf(list, m) {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			r.Comparisons = append(r.Comparisons, r.compare(m, scale, o))
		}
	}
	r.decide()
	return r, nil
}

// scalesOf lists the scales on which a measure was taken.
func scalesOf(list []Summary, m Measure) []string {
	var out []string
	for _, s := range list {
		for _, c := range s.Total {
			if c.Measure == m && !slices.Contains(out, c.Scale) {
				out = append(out, c.Scale)
			}
		}
	}
	slices.Sort(out)
	return out
}

func (o Options) within(h Half) bool {
	if h == (Half{}) {
		return true
	}
	return (o.From == Half{} || !h.Before(o.From)) && (o.To == Half{} || !o.To.Before(h))
}

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

// compare makes one comparison. Measures that only describe (effort, habits) have no sides.
func (r *Result) compare(m Measure, scale string, o Options) Comparison {
	c := Comparison{Measure: m, Scale: scale}
	t := r.table(m, scale, o)
	held, released := 0, 0
	for i, cell := range t.total {
		if cell.N > 0 || m == Treated && cell.X > 0 {
			if r.Flocks[i].Released {
				released++
			} else {
				held++
			}
			c.Pool.add(cell)
		}
	}
	if released > 0 && held+released < SmallGroup {
		c.Hidden = fmt.Sprintf("only %d flocks have it and not all of them as whole records; groups of fewer than %d flocks are not printed", held+released, SmallGroup)
		return c
	}
	if m == Treated {
		return c
	}
	pool := poolOf(t)
	c.Dispersion = dispersion(m, t)
	var d, v []float64
	for i, cell := range t.total {
		if cell.N == 0 {
			continue
		}
		row := expected(m, cell, t.strata[i], pool, c.Pool)
		row.Code, row.Flock, row.Cell, row.Rate = r.Flocks[i].Code, i, cell, cell.Rate()
		row.Direct = direct(t, i, pool)
		variance := row.variance(m, c.Dispersion, c.Pool, t)
		d, v = append(d, row.Rate-row.Expected), append(v, variance)
		row.Difference = normalInterval(row.Rate-row.Expected, variance, cell.Birds)
		if m == Lice || m == Mites {
			row.Ratio = exactRatio(cell.X, row.Expected*cell.N)
		}
		c.Rows = append(c.Rows, row)
	}
	c.spread(d, v)
	return c
}

func normalInterval(value, variance float64, n int) stat.Interval {
	z, err := stat.Multiplier(level, math.Inf(1))
	if err != nil {
		return stat.Interval{}
	}
	half := z * math.Sqrt(variance)
	return stat.Interval{Value: value, Low: value - half, High: value + half, Level: level, N: n}
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

// dispersion is the mean Spread of the half years: for shares how much more rates vary between clusters within flocks than
// independent units would, at least 1 and weighted by the independent variance; for others the variance within flocks.
func dispersion(m Measure, t table) float64 {
	var sum, weight float64
	for _, c := range t.halves {
		if c.Spread == 0 {
			continue
		}
		w := c.N
		if m.share() {
			w *= c.Rate() * (1 - c.Rate())
		}
		sum, weight = sum+w*c.Spread, weight+w
	}
	if weight == 0 {
		return 1
	}
	if m.share() {
		return max(1, sum/weight)
	}
	return sum / weight
}

// variance of a flock's rate if it does not differ from the pool: for shares by the expected one, for others by the pooled
// variance within flocks.
func (row Row) variance(m Measure, dispersion float64, pool Cell, t table) float64 {
	again := m.again(row.Cell)
	if !m.share() {
		return again * max(dispersion, 1e-12) / row.Cell.N
	}
	p := min(max(row.Expected, 0.5/(pool.N+1)), 1-0.5/(pool.N+1))
	return again * dispersion * p * (1 - p) / row.Cell.N
}

// again is how often each bird came again: half years share birds, and a bird that is heavy in one is heavy in the next, so
// that its half years are worth one observation together. Released sums cannot tell how alike a bird's half years are; taking
// them to be the same bird twice errs on the side of saying too little. 1 where the clusters are no birds.
//
// Source: the design effect 1+(m-1)rho of Kish 1965, Survey Sampling, section 5.4, with rho 1.
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
	c.Mean, c.Tau2 = pooled.Mean, pooled.Tau2
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
		row.Funnel = funnelZ * math.Sqrt(v[i]+c.Tau2)
		row.P = math.NaN()
		switch {
		case row.Cell.Birds < MinBirds:
			row.Side = TooSmall
		case len(d) < MinFlocks || !c.Measure.judged():
			row.Side = Untold
		default:
			row.Side, row.P = Untold, beside(d, v, i)
		}
	}
}

// judged reports whether a flock may be called above or below by a measure: effort and habits are shown, not judged.
func (m Measure) judged() bool {
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

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

package flocks

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

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
	Size       float64 // Cell.N as so many independent ones, each bird counted once: what Funnel narrows with
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
	Usual      stat.Interval // mean of the differences of the flocks that are not told apart
	UsualTau2  float64       // variance between those: what the funnel is made of, lest one odd flock widen it until it fits
	ICC        float64       // share of the variance between birds (or looks, eggs) that lies between flocks
	Dispersion float64       // for shares how much more the clusters vary than independent birds would; for others the variance between birds
	Alike      float64       // for shares the correlation within clusters, 0 to 1; else 0
	Hidden     string        // why nothing is printed; "" where it is

	d, v []float64 // differences and their variances, of Rows
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
	for i := range r.Comparisons {
		r.Comparisons[i].funnel()
	}
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
	c.Dispersion, c.Alike = dispersion(m, t)
	var d, v []float64
	for i, cell := range t.total {
		if cell.N == 0 {
			continue
		}
		row := expected(m, cell, t.strata[i], pool, c.Pool)
		row.Code, row.Flock, row.Cell, row.Rate = r.Flocks[i].Code, i, cell, cell.Rate()
		row.Direct, row.Size = direct(t, i, pool), cell.N/m.again(cell)/c.alike(cell)
		variance := c.variance(row)
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

package season

import (
	"math"
	"math/rand/v2"

	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Onset is a first finding after a clear look: it began on some day between the two.
type Onset struct {
	Clear, Found record.Day
}

// Onsets are the first findings and how closely they gather in the year.
type Onsets struct {
	List []Onset
	// Direction of the days on which they were found, where there are at least LeastOnsets.
	Direction stat.Directions
	// P is how often as many days, drawn from the days on which somebody looked (weighted by the days since the look
	// before), gather as closely: looking more before shows alone makes first findings gather there. 1 where too few.
	P float64
}

// LeastOnsets is the fewest first findings whose direction is told. Source: Keelmark's choice, as many as years.
const LeastOnsets = 3

// LongestGap is the longest time between a clear look and a finding for the finding to count as a first one: after
// longer nobody knows when it began. Source: Keelmark's choice, a quarter of a year.
const LongestGap = 91

// onsets lists the first findings.
//
// Source: Rayleigh's statistic, Mardia & Jupp 2000, 6.3, with a null distribution by drawing from the looks.
func onsets(rounds []Round, m Mark) Onsets {
	out := Onsets{P: 1}
	var angles, weights []float64 // of every look that could have been one
	for i := 1; i < len(rounds); i++ {
		gap := rounds[i].On - rounds[i-1].On
		if m.reached(rounds[i-1]) || gap > LongestGap {
			continue
		}
		angles, weights = append(angles, phase(rounds[i].On)), append(weights, float64(gap))
		if m.reached(rounds[i]) {
			out.List = append(out.List, Onset{rounds[i-1].On, rounds[i].On})
		}
	}
	n := len(out.List)
	if n < LeastOnsets {
		return out
	}
	var found []float64
	for _, o := range out.List {
		found = append(found, phase(o.Found))
	}
	d, err := stat.Circular(found)
	if err != nil {
		return out
	}
	out.Direction = d
	rng := rand.New(rand.NewPCG(31, uint64(n)))
	const draws = 499
	hits := 1
	left := make([]float64, len(weights))
	for range draws {
		copy(left, weights)
		var all, c, s float64
		for _, w := range left {
			all += w
		}
		for range n {
			at := rng.Float64() * all
			k := 0
			for ; k < len(left)-1 && at >= left[k]; k++ {
				at -= left[k]
			}
			all -= left[k]
			left[k] = 0
			sin, cos := math.Sincos(angles[k])
			c, s = c+cos, s+sin
		}
		if math.Hypot(c, s) >= float64(n)*d.Length-1e-9 {
			hits++
		}
	}
	out.P = float64(hits) / (draws + 1)
	return out
}

// Start is from when on to look, each year.
type Start struct {
	Angle    float64 // radians from the turn of the year
	Earliest Onset   // the earliest in the year of those it rests on
	Onsets   int     // first findings, one a year, that it rests on
	Early    bool    // it reaches back to the quiet time: look all year
}

// startOf takes, of each year counted from the quiet time, the first finding, and returns the day before which a
// further year's would fall with a chance of one in ten, or the clear look before the earliest one if that is earlier.
// It needs LeastOnsets years with a first finding.
//
// Source: prediction interval of a normal sample, one-sided, years as units: Hahn & Meeker 1991, Statistical Intervals, 4.7.
func startOf(list []Onset, quiet float64) (Start, bool) {
	after := func(d record.Day) float64 { return wrap(phase(d) - quiet) } // angle since the quiet time
	firsts := map[int]Onset{}
	var order []int
	for _, o := range list {
		y, _, _ := o.Found.Date()
		if phase(o.Found) < wrap(quiet) {
			y-- // the year of the quiet time before it
		}
		if f, ok := firsts[y]; !ok {
			order = append(order, y)
			firsts[y] = o
		} else if o.Found < f.Found {
			firsts[y] = o
		}
	}
	if len(order) < LeastOnsets {
		return Start{}, false
	}
	var xs []float64
	s := Start{Onsets: len(order)}
	clear := 2 * math.Pi
	for i, y := range order {
		o := firsts[y]
		x := after(o.Found)
		xs = append(xs, x)
		if i == 0 || x < after(s.Earliest.Found) {
			s.Earliest = o
		}
		// The day after the clear look, if that still lies after the quiet time.
		clear = min(clear, max(0, x-float64(o.Found-o.Clear)*2*math.Pi/yearDays))
	}
	mean, err := stat.Mean(xs)
	if err != nil {
		return Start{}, false
	}
	sd, err := stat.SD(xs)
	if err != nil {
		return Start{}, false
	}
	n := float64(len(xs))
	t, err := stat.Multiplier(0.8, n-1) // one tenth below
	if err != nil {
		return Start{}, false
	}
	at := min(clear, mean-t*sd*math.Sqrt(1+1/n))
	if at <= 0 {
		at, s.Early = 0, true
	}
	s.Angle = wrap(quiet + at)
	return s, true
}

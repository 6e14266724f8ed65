package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/forecast"
	"keelmark/analysis/forecast/invent"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
	"keelmark/plots"
)

// sizes are the numbers of birds that flocks take in turn.
func sizes() []int { return []int{10, 20, 30} }

// tolerance in percent of the listed weight: narrow, so that chances of all sizes are stated.
const tolerance = 12

// measured is what came of one design.
type measured struct {
	later, mature coverage
	setbacks      int // flocks in which one was found: they give no mature weight
	refused       int // birds without a mature weight for any reason
	marked        int // flocks in which one was found, or told to be too small to show
	told          tally
}

// measure forecasts flocks of a design four weeks ahead and to maturity.
func measure(ctx context.Context, d invent.Design, seed uint64, flocks int) (measured, error) {
	var m measured
	for k := range flocks {
		d.Birds = sizes()[k%len(sizes())]
		f := d.Flock(rand.New(rand.NewPCG(seed, uint64(k))))
		c := analysis.Context{Today: f.Today, Standards: []record.PublishedWeight{row(d)}}
		r, err := forecast.Run(ctx, c, f.Data, forecast.Options{On: f.Today + 28, Tolerance: tolerance})
		if err != nil {
			return m, err
		}
		if len(r.Birds) != len(f.Truth) {
			return m, fmt.Errorf("%d birds are forecast of %d", len(r.Birds), len(f.Truth))
		}
		m.later.flock, m.mature.flock, m.told.flock = k, k, m.told.flock+1
		for i, b := range r.Birds {
			t := f.Truth[i]
			if b.Refusal != nil || b.Bird.ID != t.Bird {
				return m, fmt.Errorf("%s: no forecast: %+v", t.Bird, b.Refusal)
			}
			m.later.add(b.OnTheDay, t.Later)
			p := b.Places[0]
			if p.Refusal != nil || !p.Band.Stated() {
				return m, fmt.Errorf("%s: no band: %+v", t.Bird, p)
			}
			m.told.add(b.Chance[0], p.Band.Low <= t.Later && t.Later <= p.Band.High)
			if b.Mature == nil {
				m.refused++
				continue
			}
			m.mature.add(b.WhenGrown, t.Adult)
		}
		if l := &r.Lines[0]; l.Setback != nil || l.Blind >= d.Setback {
			m.marked++
		}
		if r.Lines[0].Setback != nil {
			m.setbacks++
		}
	}
	return m, nil
}

// row is the published weight of the invented breed: its grown hens, and for pullets what such a bird weighs on the day.
func row(d invent.Design) record.PublishedWeight {
	at := func(grams float64) record.WeightRange {
		return record.WeightRange{Low: grams, High: grams, Printed: fmt.Sprintf("%.0f", grams)}
	}
	return record.PublishedWeight{
		Breed: "Invented", Size: record.Bantam, SizeText: "bantam", Standard: "invented", Edition: "not stated", Unit: "g",
		Weights:    map[record.Class]record.WeightRange{record.Hen: at(d.Table()), record.Pullet: at(math.Exp(d.Typical(d.Last + 4)))},
		SourceKind: "invented", Source: "invented",
	}
}

// coverage counts how often truths lie inside stated ranges.
type coverage struct {
	flock  int            // under way
	inside [3]map[int]int // of the 50, 80 and 90 % ranges, by flock
	n      map[int]int    // birds by flock
	errors []float64      // of the middle of the range, as a share
}

func levels() [3]float64 { return [3]float64{0.5, 0.8, 0.9} }

func (c *coverage) add(p standard.Predictive, truth float64) {
	if c.n == nil {
		c.n = map[int]int{}
		for k := range c.inside {
			c.inside[k] = map[int]int{}
		}
	}
	c.n[c.flock]++
	cdf := p.CDF(truth)
	for k, level := range levels() {
		if math.Abs(cdf-0.5) <= level/2 {
			c.inside[k][c.flock]++
		}
	}
	c.errors = append(c.errors, math.Abs(p.Median()/truth-1))
}

// share inside the k-th range in percent, with its standard error: birds of a flock go together.
//
// Source: ratio estimate of a cluster sample, Cochran 1977, Sampling Techniques, 3rd ed., section 9A.1 (from memory).
func (c *coverage) share(k int) (percent, se float64) { return clustered(c.inside[k], c.n) }

func clustered(inside, n map[int]int) (percent, se float64) {
	var hits, all int
	for flock, of := range n {
		hits, all = hits+inside[flock], all+of
	}
	if all == 0 {
		return math.NaN(), math.NaN()
	}
	p, squares := float64(hits)/float64(all), 0.0
	for flock, of := range n {
		squares += math.Pow(float64(inside[flock])-p*float64(of), 2)
	}
	flocks := float64(len(n))
	return 100 * p, 100 * math.Sqrt(squares*flocks/max(flocks-1, 1)) / float64(all)
}

// worst10 is the error in percent that nine birds of ten stay below.
func (c *coverage) worst10() float64 {
	if len(c.errors) == 0 {
		return math.NaN()
	}
	slices.Sort(c.errors)
	return 100 * c.errors[len(c.errors)*9/10]
}

func (c coverage) String() string {
	p50, _ := c.share(0)
	p80, _ := c.share(1)
	p90, se := c.share(2)
	return fmt.Sprintf("%-16s %-5.1f", fmt.Sprintf("%.0f/%.0f/%.0f (%.1f)", p50, p80, p90, se), c.worst10())
}

// tally counts how often a stated chance came true, in ten bins.
type tally struct {
	flock int
	cases []stated
}

type stated struct {
	flock  int
	chance float64
	true   bool
}

func (t *tally) add(chance float64, came bool) {
	t.cases = append(t.cases, stated{t.flock, chance, came})
}

func (t *tally) join(other tally) {
	for _, c := range other.cases {
		t.cases = append(t.cases, stated{t.flock + c.flock, c.chance, c.true})
	}
	t.flock += other.flock
}

const bins = 10

// bin gives the bins with a case.
func (t *tally) bin() []plots.ReliabilityBin {
	var out []plots.ReliabilityBin
	for b := range bins {
		hits, n, sum, all := map[int]int{}, map[int]int{}, 0.0, 0
		for _, c := range t.cases {
			if min(int(c.chance*bins), bins-1) != b {
				continue
			}
			n[c.flock]++
			all++
			sum += c.chance
			if c.true {
				hits[c.flock]++
			}
		}
		if all == 0 {
			continue
		}
		percent, se := clustered(hits, n)
		out = append(out, plots.ReliabilityBin{
			Stated: sum / float64(all), Share: percent / 100, Cases: all,
			Low: max(0, percent-1.645*se) / 100, High: min(100, percent+1.645*se) / 100,
		})
	}
	return out
}

// gap is the mean distance in points between stated chance and share, each case counting once.
func gap(bins []plots.ReliabilityBin) float64 {
	var sum, n float64
	for _, b := range bins {
		sum += float64(b.Cases) * math.Abs(b.Stated-b.Share)
		n += float64(b.Cases)
	}
	return 100 * sum / n
}

func (t *tally) figure() (plots.Figure, error) {
	bins := t.bin()
	if len(bins) == 0 {
		return plots.Figure{}, errors.New("no chance was stated, so there is nothing to draw")
	}
	return plots.Figure{
		Name: "reliability", Title: "Stated chances of being on weight, and what came of them",
		Caption: fmt.Sprintf("%d invented birds, forecast four weeks ahead; the bars take birds of a flock as going together.", len(t.cases)),
		Alt:     fmt.Sprintf("Over %d stated chances, the share that came true lies %.1f points from the stated chance on average.", len(t.cases), gap(bins)),
		Width:   100, Height: 100, Panel: plots.Reliability{Level: 0.9, Bins: bins},
	}, nil
}

package flocks

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// mixed is an invented flock of few birds of every size, sex and age, looked at, weighed and scored now and then.
func mixed(rng *rand.Rand, from, to record.Day) *record.Dataset {
	d := &record.Dataset{Name: "mixed"}
	at := record.Ref{File: "x.csv", Row: 1, Col: 1}
	for b := range 4 + rng.IntN(24) {
		id := fmt.Sprintf("B%d", b)
		bird := record.Bird{ID: id, Ring: id, Breed: "Sussex", Sex: []record.Sex{record.Male, record.Female, record.Female, ""}[rng.IntN(4)],
			Size: []record.Size{record.Large, record.Bantam}[rng.IntN(2)]}
		if rng.Float64() < 0.9 {
			bird.Hatched = record.On(from - record.Day(rng.IntN(900)) + 200)
		}
		d.Birds = append(d.Birds, bird)
	}
	next := func(o record.Observation) {
		at.Row++
		o.At = at
		d.Observations = append(d.Observations, o)
	}
	for on := from; on < to; on += record.Day(10 + rng.IntN(60)) {
		for _, b := range d.Birds {
			if rng.Float64() < 0.6 {
				next(record.Observation{Bird: b.ID, On: record.On(on), Trait: record.Parasite, Parasite: record.Lice, Form: record.Present, Value: float64(rng.IntN(2))})
			}
			if rng.Float64() < 0.3 {
				next(record.Observation{Bird: b.ID, On: record.On(on), Trait: record.Condition, Form: record.Ordinal, Value: float64(rng.IntN(4)), Scale: "condition"})
			}
			if rng.Float64() < 0.3 {
				next(record.Observation{Bird: b.ID, On: record.On(on), Trait: record.Weight, Form: record.Measured, Value: float64(800 + rng.IntN(3000))})
			}
		}
	}
	return d
}

func mixedContext(today record.Day) analysis.Context {
	c := analysis.Context{Today: today, Standards: inventedStandards()}
	c.Settings.Flock = record.FlockSettings{Code: "K7", Hemisphere: "north", Breed: "Sussex"}
	c.Settings.Scales = map[string]record.Scale{"condition": {Name: "condition", Min: 0, Max: 3, Direction: "high-good"}}
	return c
}

func summarised(t testing.TB, d *record.Dataset, today record.Day) Summary {
	t.Helper()
	s, err := Summarise(context.Background(), mixedContext(today), d)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const attackFrom, attackTo = record.Day(19000), record.Day(19700)

func TestNoSmallGroupCanBeWorkedOut(t *testing.T) {
	shown, careless := 0, 0
	for seed := range 24 {
		truth := summarised(t, mixed(rand.New(rand.NewPCG(uint64(seed), 3)), attackFrom, attackTo), attackTo)
		released := Release(truth, attackTo, nil)
		shown += len(released.Cells)
		for _, l := range leaks(t, truth, released) {
			t.Errorf("flock %d: %s", seed, l)
		}
		// The attack must be able to succeed: hiding only the small cells, and nothing beside them, falls to it.
		naive := released
		naive.Cells = nil
		level := levels()[1+seed%(len(levels())-1)]
		for _, total := range naive.Total {
			cells, members := coarsened(truth, total.Key, level)
			for i, c := range cells {
				if c.Birds = truth.birdsOf(total.Key, members[i]); c.Birds >= SmallGroup {
					naive.Cells = append(naive.Cells, c)
				}
			}
		}
		careless += len(leaks(t, truth, naive))
	}
	if shown < 60 {
		t.Errorf("only %d cells were shown over all flocks: too few to attack", shown)
	}
	if careless == 0 {
		t.Error("the attack finds nothing where small cells alone are hidden; it is too weak to mean anything")
	}
}

func TestTwoReleasesTellNoMoreThanOne(t *testing.T) {
	differing := func(one, two Summary) int { // cells whose difference is what a correction changed
		n := 0
		for _, a := range slices.Concat(one.Total, one.Cells) {
			for _, b := range slices.Concat(two.Total, two.Cells) {
				if a.Key == b.Key && a.Stratum == b.Stratum && a != b {
					n++
				}
			}
		}
		return n
	}
	careless := 0
	for seed := range 16 {
		rng := rand.New(rand.NewPCG(uint64(seed), 5))
		d := mixed(rng, attackFrom, attackTo+400)
		early := *d
		early.Observations = slices.DeleteFunc(slices.Clone(d.Observations), func(o record.Observation) bool { return o.On.First >= attackTo })
		first := Release(summarised(t, &early, attackTo), attackTo, nil)
		// Since then: cells corrected, a bird struck out, late records entered for months long past.
		later := *d
		later.Birds = d.Birds[:len(d.Birds)-1]
		later.Observations = nil
		for _, o := range d.Observations {
			if o.Bird == d.Birds[len(d.Birds)-1].ID {
				continue
			}
			if o.Trait == record.Parasite && rng.Float64() < 0.02 {
				o.Value = 1 - o.Value
			}
			later.Observations = append(later.Observations, o)
		}
		later.Observations = append(later.Observations, record.Observation{Bird: "B0", On: record.On(attackFrom + 33), Trait: record.Parasite, Parasite: record.Lice, Form: record.Present, Value: 1, At: record.Ref{File: "y.csv", Row: 2, Col: 1}})
		truth := summarised(t, &later, attackTo+400)
		second := Release(truth, attackTo+400, &first)
		if n := differing(first, second); n > 0 {
			t.Errorf("flock %d: %d numbers differ between two releases and tell of the birds corrected in between", seed, n)
		}
		for _, c := range slices.Concat(first.Total, first.Cells) {
			if !slices.Contains(slices.Concat(second.Total, second.Cells), c) {
				t.Errorf("flock %d: %s was released before and is gone", seed, c.Key)
			}
		}
		fresh := second
		carried := func(c Cell) bool {
			return slices.ContainsFunc(first.Total, func(o Cell) bool { return o.Half == c.Half })
		}
		fresh.Total, fresh.Cells = slices.DeleteFunc(slices.Clone(second.Total), carried), slices.DeleteFunc(slices.Clone(second.Cells), carried)
		for _, l := range leaks(t, truth, fresh) {
			t.Errorf("flock %d, second release: %s", seed, l)
		}
		careless += differing(first, Release(truth, attackTo+400, nil))
	}
	if careless == 0 {
		t.Error("forgetting the first release changes nothing; the corrections are too few to mean anything")
	}
}

func TestAnOpenHalfYearIsNotReleased(t *testing.T) {
	for seed := range 5 {
		s := Release(summarised(t, mixed(rand.New(rand.NewPCG(uint64(seed), 9)), attackFrom, attackTo), attackTo), attackTo, nil)
		for _, c := range slices.Concat(s.Total, s.Cells) {
			if c.Half != (Half{}) && !c.Half.Before(HalfOf(attackTo)) {
				t.Errorf("%s is released on %s, while it lasts", c.Key, attackTo)
			}
		}
	}
}

// alike is an evening of flocks as rows and as released summaries.
func alike(t *testing.T, flock func(i int) *record.Dataset, n int) (rows, released *Result) {
	t.Helper()
	var a, b []Summary
	for i := range n {
		c := mixedContext(simulatedToday)
		c.Settings.Flock.Code = fmt.Sprintf("K%d", i)
		s, err := Summarise(context.Background(), c, flock(i))
		if err != nil {
			t.Fatal(err)
		}
		a, b = append(a, s), append(b, Release(s, simulatedToday, nil))
	}
	var out [2]*Result
	for i, list := range [][]Summary{a, b} {
		r, err := Compare(context.Background(), list, Options{})
		if err != nil {
			t.Fatal(err)
		}
		out[i] = r
	}
	return out[0], out[1]
}

func near(a, b float64) bool {
	return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a)) || math.IsNaN(a) && math.IsNaN(b)
}

func TestSummariesGiveTheNumbersOfRows(t *testing.T) {
	compared := 0
	check := func(name string, rows, released *Result, whole bool) {
		for _, a := range rows.Comparisons {
			at := slices.IndexFunc(released.Comparisons, func(c Comparison) bool { return c.Measure == a.Measure && c.Scale == a.Scale })
			if at < 0 || len(released.Comparisons[at].Rows) != len(a.Rows) {
				if whole {
					t.Errorf("%s: %s of released summaries lacks flocks", name, a.Measure)
				}
				continue
			}
			b := released.Comparisons[at]
			same := map[string][2]float64{"n": {a.Pool.N, b.Pool.N}, "x": {a.Pool.X, b.Pool.X}, "rate": {a.Pool.Rate(), b.Pool.Rate()}, "dispersion": {a.Dispersion, b.Dispersion}}
			if whole {
				same["tau2"], same["mean"], same["low"], same["icc"] = [2]float64{a.Tau2, b.Tau2}, [2]float64{a.Mean.Value, b.Mean.Value}, [2]float64{a.Mean.Low, b.Mean.Low}, [2]float64{a.ICC, b.ICC}
			}
			for i := range a.Rows {
				p, q := a.Rows[i], b.Rows[i]
				same[p.Code+" rate"] = [2]float64{p.Rate, q.Rate}
				if whole {
					same[p.Code+" expected"], same[p.Code+" shrunken"] = [2]float64{p.Expected, q.Expected}, [2]float64{p.Shrunken.Value, q.Shrunken.Value}
					same[p.Code+" p"], same[p.Code+" ratio"], same[p.Code+" direct"] = [2]float64{p.P, q.P}, [2]float64{p.Ratio.High, q.Ratio.High}, [2]float64{p.Direct, q.Direct}
				}
			}
			for what, v := range same {
				compared++
				if !near(v[0], v[1]) {
					t.Errorf("%s: %s, %s: %v from rows, %v from summaries", name, a.Measure, what, v[0], v[1])
				}
			}
		}
	}
	e := evening{flocks: 8, years: 1, careful: -1}
	rng := rand.New(rand.NewPCG(4, 4))
	mix, again := alike(t, func(i int) *record.Dataset { return e.flock(rng, i) }, e.flocks)
	check("mixed flocks, totals", mix, again, false)
	if !slices.ContainsFunc(again.Claims(), func(c analysis.Claim) bool { return c.ID == "flocks.trap/released" }) {
		t.Error("nothing says that numbers with the mix allowed for may differ where groups are hidden")
	}
	// Flocks of 24 to 38 hens of one age class: no group is small, nothing is hidden, and all numbers are the same.
	rows, released := alike(t, func(i int) *record.Dataset {
		d := e.flock(rng, i+2)
		first := simulatedToday - 365
		for len(d.Birds) > 24+2*i {
			d.Birds = d.Birds[:len(d.Birds)-1]
		}
		known := map[string]bool{}
		for b := range d.Birds {
			d.Birds[b].Sex, d.Birds[b].Hatched = record.Female, record.On(first-800)
			known[d.Birds[b].ID] = true
		}
		d.Observations = slices.DeleteFunc(d.Observations, func(o record.Observation) bool { return !known[o.Bird] })
		d.Events = nil
		return d
	}, 8)
	check("flocks without small groups", rows, released, true)
	if compared < 200 {
		t.Errorf("only %d numbers were compared", compared)
	}
}

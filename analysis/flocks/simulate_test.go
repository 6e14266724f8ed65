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

// evening is an invented meeting: flocks of 10 to 40 birds over some years, with outbreaks of lice at random times that
// all birds of a flock share, weighings with noise, scores and settings. Flocks do not differ but by what is asked for.
type evening struct {
	flocks, years int
	careful       int     // index of a flock that looks every week, where others look every four; -1 for none
	lousier       float64 // added to the chance of a finding on every look of flock 0
	heavier       float64 // added percent of weight of every bird of flock 0
	growing       bool    // all birds hatch in the time looked at, in two batches, and grow
}

const simulatedToday = record.Day(20089) // 2025-01-01

func (e evening) run(t testing.TB, seed uint64) *Result {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 77))
	var list []Summary
	for i := range e.flocks {
		d := e.flock(rng, i)
		c := analysis.Context{Today: simulatedToday, Standards: inventedStandards()}
		c.Settings.Flock = record.FlockSettings{Code: fmt.Sprintf("K%02d", i), Hemisphere: []string{"north", "south"}[i%2], Breed: "Sussex", Size: record.Large}
		c.Settings.Scales = map[string]record.Scale{"condition": {Name: "condition", Min: 0, Max: 3, Direction: "high-good"}}
		s, err := Summarise(context.Background(), c, d)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, s)
	}
	r, err := Compare(context.Background(), list, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func inventedStandards() []record.PublishedWeight {
	var out []record.PublishedWeight
	for size, share := range map[record.Size]float64{record.Large: 1, record.Bantam: 0.3} {
		weights := map[record.Class]record.WeightRange{}
		for class, g := range map[record.Class]float64{record.Hen: 3000, record.Cock: 4000, record.Pullet: 2600, record.Cockerel: 3400} {
			weights[class] = record.WeightRange{Low: g * share, High: g * share}
		}
		out = append(out, record.PublishedWeight{Breed: "Sussex", Size: size, SizeText: string(size), Standard: "invented", Unit: "g", Weights: weights})
	}
	return out
}

func (e evening) flock(rng *rand.Rand, i int) *record.Dataset {
	d := &record.Dataset{Name: fmt.Sprintf("flock %d", i)}
	birds := 10 + rng.IntN(31)
	if i == 0 {
		birds = 30
	}
	if i == 1 {
		birds = 10
	}
	days := record.Day(365 * e.years)
	first := simulatedToday - days
	batches := [2]record.Day{first + record.Day(rng.IntN(60)), first + record.Day(60+rng.IntN(120))}
	for b := range birds {
		id := fmt.Sprintf("B%d", b)
		sex := record.Female
		if rng.Float64() < 0.25 {
			sex = record.Male
		}
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: sex, Breed: "Sussex", Size: record.Large, Hatched: record.On(first - record.Day(rng.IntN(700)+100))})
		if e.growing {
			d.Birds[b].Hatched = record.On(batches[rng.IntN(2)] + record.Day(rng.IntN(5)))
		}
	}
	at := record.Ref{File: "x.csv", Row: 1, Col: 1}
	next := func(o record.Observation) {
		at.Row++
		o.At = at
		d.Observations = append(d.Observations, o)
	}
	step := record.Day(28)
	if i == e.careful {
		step = 7
	}
	outbreakEnds, nextOutbreak := record.Day(0), first+record.Day(rng.ExpFloat64()*200)
	condition := map[string]float64{}
	for on := first + record.Day(rng.IntN(14)); on < simulatedToday; on += step {
		for nextOutbreak <= on {
			outbreakEnds = nextOutbreak + record.Day(30+rng.ExpFloat64()*50)
			nextOutbreak = outbreakEnds + record.Day(rng.ExpFloat64()*200)
		}
		chance := 0.04
		if on < outbreakEnds {
			chance = 0.4
		}
		if i == 0 {
			chance = math.Min(1, chance+e.lousier)
		}
		weigh := (on-first)/step%3 == 0
		for _, b := range d.Birds {
			x := 0.0
			if rng.Float64() < chance {
				x = 1
			}
			next(record.Observation{Bird: b.ID, On: record.On(on), Trait: record.Parasite, Parasite: record.Lice, Form: record.Present, Value: x})
			if !weigh {
				continue
			}
			age := float64(on - b.Hatched.First)
			if age < 1 {
				continue
			}
			base := map[record.Sex]float64{record.Male: 4000, record.Female: 3000}[b.Sex]
			if on-b.Hatched.First < 365 {
				base *= 0.86
			}
			if e.growing {
				base *= math.Exp(-4.2 * math.Exp(-0.022*age)) // an invented Gompertz curve
			}
			own := 0.1 * math.Sin(float64(len(b.ID))*7+float64(b.Hatched.First)*3.3) // a bird's own level
			w := base * math.Exp(own+0.03*rng.NormFloat64())
			if i == 0 {
				w *= 1 + e.heavier/100
			}
			next(record.Observation{Bird: b.ID, On: record.On(on), Trait: record.Weight, Form: record.Measured, Value: math.Round(w)})
			if _, ok := condition[b.ID]; !ok {
				condition[b.ID] = rng.NormFloat64()
			}
			score := math.Min(3, math.Max(0, math.Round(1.8+0.6*condition[b.ID]+0.5*rng.NormFloat64())))
			next(record.Observation{Bird: b.ID, On: record.On(on), Trait: record.Condition, Form: record.Ordinal, Value: score, Scale: "condition"})
		}
	}
	for s := range 4 * e.years {
		male, hen := math.Exp(0.3*rng.NormFloat64()), math.Exp(0.3*rng.NormFloat64())
		p := 0.85 * math.Min(1.15, male*hen)
		set, fertile := 12, 0
		for range set {
			if rng.Float64() < math.Min(0.97, p) {
				fertile++
			}
		}
		at.Row++
		d.Events = append(d.Events, record.Event{Kind: record.Set, On: record.On(first + record.Day(s*80+10)), At: at, Setting: &record.EggSetting{Male: d.Birds[0].ID, Hen: d.Birds[1+s%5].ID,
			Set: set, Clear: set - fertile, DeadEarly: -1, DeadInShell: -1, HatchedNo: -1, StoredDays: 4}})
	}
	return d
}

func (r *Result) side(m Measure, code string) Side {
	for _, c := range r.Comparisons {
		for _, row := range c.Rows {
			if c.Measure == m && row.Code == code {
				return row.Side
			}
		}
	}
	return ""
}

func (r *Result) anySide() bool {
	for _, c := range r.Comparisons {
		for _, row := range c.Rows {
			if row.Side == Above || row.Side == Below {
				return true
			}
		}
	}
	return false
}

// end reports whether a flock is shown at one end of a measure: by the plain rate, by the shrunken value, or as sure to be
// first or last by its rank range.
func (r *Result) end(m Measure, code string) (plain, shrunken, called bool) {
	for _, c := range r.Comparisons {
		if c.Measure != m {
			continue
		}
		at := slices.IndexFunc(c.Rows, func(row Row) bool { return row.Code == code })
		if at < 0 {
			return
		}
		extreme := func(of func(Row) float64) bool {
			above, below := 0, 0
			for i, row := range c.Rows {
				if i != at && of(row) >= of(c.Rows[at]) {
					above++
				}
				if i != at && of(row) <= of(c.Rows[at]) {
					below++
				}
			}
			return above == 0 || below == 0
		}
		ranks := c.Rows[at].Ranks
		return extreme(func(r Row) float64 { return r.Rate }), extreme(func(r Row) float64 { return r.Shrunken.Value }),
			ranks == [2]int{1, 1} || ranks == [2]int{len(c.Rows), len(c.Rows)}
	}
	return
}

// tally runs evenings with fixed seeds and counts, for each of some questions, the share of evenings that answer yes.
func tally(t testing.TB, e evening, runs int, questions ...func(*Result) bool) []float64 {
	out := make([]float64, len(questions))
	for seed := range runs {
		r := e.run(t, uint64(seed)+1)
		for i, q := range questions {
			if q(r) {
				out[i] += 1 / float64(runs)
			}
		}
	}
	return out
}

func called(m Measure, code string, side Side) func(*Result) bool {
	return func(r *Result) bool { return r.side(m, code) == side }
}

func TestEveningsOfAlikeFlocksStayQuiet(t *testing.T) {
	// 24 evenings; 5 % would show one, and the chance of more than 3 is 3 in 100 (binomial).
	share := tally(t, evening{flocks: 12, years: 1, careful: 3}, 24, (*Result).anySide, called(Lice, "K03", Above),
		func(r *Result) bool { _, _, sure := r.end(Lice, "K01"); return sure })
	if share[0] > 3.0/24 {
		t.Errorf("%.0f %% of evenings call a flock above or below although none differs", 100*share[0])
	}
	if share[1] > 1.0/24 {
		t.Errorf("%.0f %% of evenings call the flock that looks weekly lousier", 100*share[1])
	}
	// By chance one flock of 12 is first or last in 2 of 12; more than 8 of 24 has 1 in 100.
	if share[2] > 8.0/24 {
		t.Errorf("%.0f %% of evenings say that the flock of 10 birds is first or last", 100*share[2])
	}
}

func TestAFlockThatDiffersIsFound(t *testing.T) {
	heavier := tally(t, evening{flocks: 12, years: 1, careful: -1, heavier: 15}, 8, called(Weight, "K00", Above))
	if heavier[0] < 0.7 {
		t.Errorf("a flock 15 %% heavier is found in %.0f %% of evenings", 100*heavier[0])
	}
}

// BenchmarkEvenings prints the whole table: go test -run xxx -bench Evenings -benchtime 1x ./analysis/flocks
func BenchmarkEvenings(b *testing.B) {
	type question struct {
		name string
		hit  func(*Result) bool
	}
	tenCalled := question{"the flock of 10 birds called above or below by any measure", func(r *Result) bool {
		return slices.ContainsFunc(Measures(), func(m Measure) bool { return r.side(m, "K01") == Above || r.side(m, "K01") == Below })
	}}
	atEnd := func(m Measure) []question {
		return []question{
			{"the flock of 10 is first or last for " + string(m) + " as counted (its share: 16.7 %)", func(r *Result) bool { is, _, _ := r.end(m, "K01"); return is }},
			{"  by the shrunken value", func(r *Result) bool { _, is, _ := r.end(m, "K01"); return is }},
			{"  and said to be so by its rank range", func(r *Result) bool { _, _, is := r.end(m, "K01"); return is }},
		}
	}
	for range b.N {
		for _, e := range []struct {
			name string
			runs int
			evening
			ask []question
		}{
			{"12 alike flocks, 1 year", 400, evening{12, 1, -1, 0, 0, false}, slices.Concat([]question{{"any flock called above or below (bar: 5 %)", (*Result).anySide}, tenCalled}, atEnd(Lice), atEnd(Weight))},
			{"12 alike flocks, 1 year, one looks weekly", 400, evening{12, 1, 3, 0, 0, false}, []question{{"any flock called above or below (bar: 5 %)", (*Result).anySide}, {"the weekly flock called lousier", called(Lice, "K03", Above)}}},
			{"12 alike flocks, 3 years", 300, evening{12, 3, -1, 0, 0, false}, slices.Concat([]question{{"any flock called above or below (bar: 5 %)", (*Result).anySide}, tenCalled}, atEnd(Lice), atEnd(Weight))},
			{"30 birds lousier by 20 points, 3 years", 150, evening{12, 3, -1, 0.2, 0, false}, []question{{"found", called(Lice, "K00", Above)}}},
			{"30 birds lousier by 40 points, 3 years", 100, evening{12, 3, -1, 0.4, 0, false}, []question{{"found", called(Lice, "K00", Above)}}},
			{"30 birds heavier by 8 %, 1 year", 300, evening{12, 1, -1, 0, 8, false}, []question{{"found", called(Weight, "K00", Above)}}},
			{"30 birds heavier by 15 %, 1 year", 150, evening{12, 1, -1, 0, 15, false}, []question{{"found", called(Weight, "K00", Above)}}},
			{"12 alike flocks of growing birds, 1 year", 400, evening{12, 1, -1, 0, 0, true}, []question{{"any flock called above or below (bar: 5 %)", (*Result).anySide}}},
			{"30 growing birds heavier by 15 %, 1 year", 150, evening{12, 1, -1, 0, 15, true}, []question{{"found", called(Growth, "K00", Above)}}},
			{"30 birds heavier by 8 %, 3 years", 100, evening{12, 3, -1, 0, 8, false}, []question{{"found", called(Weight, "K00", Above)}}},
		} {
			var hits []func(*Result) bool
			for _, q := range e.ask {
				hits = append(hits, q.hit)
			}
			fmt.Printf("%s (%d evenings)\n", e.name, e.runs)
			for i, share := range tally(b, e.evening, e.runs, hits...) {
				fmt.Printf("  %-75s %5.1f %% (standard error %.1f)\n", e.ask[i].name, 100*share, 100*math.Sqrt(max(0, share*(1-share))/float64(e.runs)))
			}
		}
	}
}

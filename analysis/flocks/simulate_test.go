package flocks

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
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
}

const simulatedToday = record.Day(20089) // 2025-01-01

func (e evening) run(t testing.TB, seed uint64) *Result {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 77))
	var list []Summary
	for i := range e.flocks {
		d := e.flock(rng, i)
		c := analysis.Context{Today: simulatedToday, Standards: []record.PublishedWeight{{Breed: "Sussex", Size: record.Large, SizeText: "large", Standard: "invented", Unit: "g",
			Weights: map[record.Class]record.WeightRange{record.Hen: {Low: 3000, High: 3000}, record.Cock: {Low: 4000, High: 4000}, record.Pullet: {Low: 2600, High: 2600}, record.Cockerel: {Low: 3400, High: 3400}}}}}
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
	for b := range birds {
		id := fmt.Sprintf("B%d", b)
		sex := record.Female
		if rng.Float64() < 0.25 {
			sex = record.Male
		}
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: sex, Breed: "Sussex", Size: record.Large, Hatched: record.On(first - record.Day(rng.IntN(700)+100))})
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
			base := map[record.Sex]float64{record.Male: 4000, record.Female: 3000}[b.Sex]
			if on-b.Hatched.First < 365 {
				base *= 0.86
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

// tally runs evenings with fixed seeds and counts what a test asks for.
func tally(t testing.TB, e evening, runs int, hit func(*Result) bool) float64 {
	n := 0
	for seed := range runs {
		if hit(e.run(t, uint64(seed)+1)) {
			n++
		}
	}
	return float64(n) / float64(runs)
}

func TestEveningsOfAlikeFlocksStayQuiet(t *testing.T) {
	// 30 evenings; 5 % would show one or two, and the chance of more than 4 is 2 in 100 (binomial).
	if share := tally(t, evening{flocks: 12, years: 1, careful: 3}, 30, (*Result).anySide); share > 4.0/30 {
		t.Errorf("%.0f %% of evenings call a flock above or below although none differs", 100*share)
	}
}

func TestAFlockThatDiffersIsFound(t *testing.T) {
	heavier := tally(t, evening{flocks: 12, years: 1, careful: -1, heavier: 15}, 10, func(r *Result) bool { return r.side(Weight, "K00") == Above })
	if heavier < 0.7 {
		t.Errorf("a flock 15 %% heavier is found in %.0f %% of evenings", 100*heavier)
	}
}

// BenchmarkEvenings prints the whole table: go test -run xxx -bench Evenings -benchtime 1x ./analysis/flocks
func BenchmarkEvenings(b *testing.B) {
	for range b.N {
		const runs = 400
		for _, e := range []struct {
			name string
			evening
			hit func(*Result) bool
		}{
			{"no difference, any flock called above or below, 1 year", evening{12, 1, -1, 0, 0}, (*Result).anySide},
			{"no difference, one flock looks weekly, any called", evening{12, 1, 3, 0, 0}, (*Result).anySide},
			{"the weekly flock called lousier", evening{12, 1, 3, 0, 0}, func(r *Result) bool { return r.side(Lice, "K03") == Above }},
			{"no difference, 3 years", evening{12, 3, -1, 0, 0}, (*Result).anySide},
			{"flock 0 lousier by 20 points, found", evening{12, 3, -1, 0.2, 0}, func(r *Result) bool { return r.side(Lice, "K00") == Above }},
			{"flock 0 lousier by 40 points, found", evening{12, 3, -1, 0.4, 0}, func(r *Result) bool { return r.side(Lice, "K00") == Above }},
			{"flock 0 heavier by 8 %, found", evening{12, 1, -1, 0, 8}, func(r *Result) bool { return r.side(Weight, "K00") == Above }},
			{"flock 0 heavier by 15 %, found", evening{12, 1, -1, 0, 15}, func(r *Result) bool { return r.side(Weight, "K00") == Above }},
			{"the flock of 10 birds called above or below", evening{12, 1, -1, 0, 0}, func(r *Result) bool {
				for _, m := range Measures() {
					if s := r.side(m, "K01"); s == Above || s == Below {
						return true
					}
				}
				return false
			}},
		} {
			n := runs
			if e.years == 3 {
				n = 150
			}
			share := tally(b, e.evening, n, e.hit)
			fmt.Printf("%-60s %5.1f %% (%d evenings, standard error %.1f)\n", e.name, 100*share, n, 100*math.Sqrt(share*(1-share)/float64(n)))
		}
	}
}

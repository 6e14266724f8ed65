package treatment

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Everything in this file is simulated. One command runs the full studies:
//
//	go test ./analysis/treatment -run 'Simulated' -v -runs 400 -timeout 30m
var runs = flag.Int("runs", 0, "simulated flocks for each cell; 0 for the small run")

// world is how a simulated flock lives and how its keeper works.
type world struct {
	birds, pens, years int
	season             float64 // amplitude of the log hazard of taking lice up; 0 for none
	clears             float64 // chance that a treatment clears a bird
	see                float64
	policy             policy
	every              int // days between rounds of looks
}

// policy decides who is treated at a round; found holds what the round saw.
type policy func(rng *rand.Rand, round int, found []bool) []int

// lots treats half of the birds, drawn by lot, at every third round.
func lots(rng *rand.Rand, round int, found []bool) []int {
	if round%3 != 1 {
		return nil
	}
	return rng.Perm(len(found))[:len(found)/2]
}

// lousy treats the birds that were found lousy.
func lousy(_ *rand.Rand, _ int, found []bool) []int {
	var out []int
	for i, f := range found {
		if f {
			out = append(out, i)
		}
	}
	return out
}

// all treats everybody once a fifth are found lousy.
func all(_ *rand.Rand, _ int, found []bool) []int {
	n := 0
	for _, f := range found {
		n += one(f)
	}
	if 5*n < len(found) {
		return nil
	}
	out := make([]int, len(found))
	for i := range out {
		out[i] = i
	}
	return out
}

// worst treats the pen with most findings, of three, once a third of its birds are found lousy.
func worst(_ *rand.Rand, _ int, found []bool) []int {
	var n, all [3]int
	for i, f := range found {
		n[i%3] += one(f)
		all[i%3]++
	}
	pen := 0
	for k := range n {
		if n[k] > n[pen] {
			pen = k
		}
	}
	if 3*n[pen] < all[pen] {
		return nil
	}
	var out []int
	for i := pen; i < len(found); i += 3 {
		out = append(out, i)
	}
	return out
}

const simStart = record.Day(18993) // 2022-01-01

// simulate lets lice take their course, from a random time of the year, and writes what a keeper would.
func simulate(rng *rand.Rand, w world) *record.Dataset {
	d := &record.Dataset{Name: "simulated"}
	state := make([]bool, w.birds)
	for i := range w.birds {
		id := fmt.Sprintf("R%02d", i+1)
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Pen: fmt.Sprintf("P%d", i%w.pens+1), Hatched: record.On(simStart - 400)})
		state[i] = rng.Float64() < 0.25
	}
	row := int32(1)
	at := func() record.Ref { row++; return record.Ref{File: "looks.csv", Row: row, Col: 3} }
	phase := rng.Float64() * 2 * math.Pi
	sum := make([]float64, w.pens)
	for day := range w.years * 365 {
		clear(sum)
		for i, s := range state {
			sum[i%w.pens] += float64(one(s)) * float64(w.pens) / float64(w.birds)
		}
		base := 0.004 * math.Exp(w.season*math.Cos(2*math.Pi*float64(day)/365.25-phase))
		for i := range state {
			hazard := base + 0.02*sum[i%w.pens]
			if state[i] {
				hazard = 0.015
			}
			if rng.Float64() < 1-math.Exp(-hazard) {
				state[i] = !state[i]
			}
		}
		if day%w.every != 0 {
			continue
		}
		found := make([]bool, w.birds)
		on := record.On(simStart + record.Day(day))
		for i := range state {
			found[i] = state[i] && rng.Float64() < w.see
			d.Observations = append(d.Observations, record.Observation{Bird: d.Birds[i].ID, On: on, Trait: record.Parasite, Parasite: record.Lice,
				Form: record.Present, Value: float64(one(found[i])), At: at()})
		}
		for _, i := range w.policy(rng, day/w.every, found) {
			if state[i] && rng.Float64() < w.clears {
				state[i] = false
			}
			d.Events = append(d.Events, record.Event{Kind: record.Treated, Scope: record.OneBird, Bird: d.Birds[i].ID, On: on, At: at(),
				Treatment: &record.Treatment{Product: "product as labelled", Against: "lice"}})
		}
	}
	return d
}

func analyse(t *testing.T, d *record.Dataset, today record.Day) *Result {
	t.Helper()
	r, err := Spec().Run(context.Background(), analysis.Context{Today: today}, d, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range r.Claims() {
		for _, wrong := range c.Lint() {
			t.Errorf("%s: %s: %s", c.ID, wrong, c.Text)
		}
	}
	return r.(*Result)
}

// judgeOnly runs the comparison alone, without the hidden-state model, for large studies.
func judgeOnly(t *testing.T, d *record.Dataset, today record.Day) []Effect {
	t.Helper()
	v := gatherOf(t, d, today).of(record.Lice)
	return []Effect{v.effect("product as labelled", v.occasions(), v.repeats())}
}

// named reports whether an effect is claimed: fewer findings, by the treatment.
func claimed(e Effect) bool { return e.differs() && e.Lower.Value > 0 && len(e.Warnings) == 0 }

// An inert product must not be said to work, whoever is treated with it; one that works must be found where the lot fell.
func TestSimulatedInertTreatmentIsNotSaidToWork(t *testing.T) {
	n := *runs
	if n == 0 {
		n = 12
	}
	for _, c := range []struct {
		name   string
		policy policy
		clears float64
		least  float64 // share of flocks in which an effect must be claimed
		most   float64 // and may be
	}{
		{"inert, lousy birds treated", lousy, 0, 0, 0.05},
		{"inert, all treated when a fifth are lousy", all, 0, 0, 0.05},
		{"inert, the worst pen treated", worst, 0, 0, 0.05},
		{"inert, half drawn by lot", lots, 0, 0, 0.05},
		{"works, half drawn by lot", lots, 0.85, 0.8, 1},
		{"works, lousy birds treated", lousy, 0.85, 0, 1},
		{"works, all treated", all, 0.85, 0, 0.05},
	} {
		rng := rand.New(rand.NewPCG(31, 7))
		said, warned, compared := 0, 0, 0
		for range n {
			d := simulate(rng, world{birds: 25, pens: 3, years: 3, season: 0.8, clears: c.clears, see: 0.8, policy: c.policy, every: 28})
			e := judgeOnly(t, d, simStart+3*365)[0]
			said += one(claimed(e))
			warned += one(len(e.Warnings) > 0 || e.Missing != "")
			compared += one(e.Unit != "")
		}
		got := float64(said) / float64(n)
		t.Logf("%-45s %d flocks: compared %d, effect claimed %.1f %%, warned or refused %.1f %%", c.name, n, compared, 100*got, 100*float64(warned)/float64(n))
		slack := 2.3 * math.Sqrt(0.05*0.95/float64(n)) // of the counting
		if got < c.least || got > c.most+slack {
			t.Errorf("%s: claimed in %.1f %%, want %.0f to %.0f %%", c.name, 100*got, 100*c.least, 100*c.most)
		}
	}
}

// Three flocks of 25 birds over three years whose truth is known: a season and an effective treatment by lot; a treatment
// that only lousy birds got; neither season nor effect.
func TestSimulatedFlocksWithKnownTruth(t *testing.T) {
	effectOf := func(d *record.Dataset) (Effect, analysis.Claim) {
		r := analyse(t, d, simStart+3*365)
		for _, c := range r.Claims() {
			if strings.HasPrefix(c.ID, "treatment.effect/") {
				return r.Parasites[0].Effects[0], c
			}
		}
		t.Fatal("no claim on the effect")
		return Effect{}, analysis.Claim{}
	}
	base := world{birds: 25, pens: 3, years: 3, season: 1, clears: 0.85, see: 0.8, policy: lots, every: 28}
	if e, c := effectOf(simulate(rand.New(rand.NewPCG(1, 25)), base)); !claimed(e) || c.Stands != analysis.For || c.Estimate == nil {
		t.Errorf("an effective treatment by lot was not found: %s", c.Text)
	}
	confounded := base
	confounded.policy = lousy
	if e, c := effectOf(simulate(rand.New(rand.NewPCG(2, 25)), confounded)); claimed(e) || c.Stands != analysis.Open || !strings.Contains(c.Text+strings.Join(c.Caveats, " "), "not left to chance") && e.Missing == "" {
		t.Errorf("a confounded treatment was not warned of: %s %v", c.Text, c.Caveats)
	}
	neither := base
	neither.season, neither.clears = 0, 0
	if e, c := effectOf(simulate(rand.New(rand.NewPCG(3, 25)), neither)); claimed(e) || c.Stands != analysis.Open {
		t.Errorf("an inert treatment was said to work: %s", c.Text)
	}
}

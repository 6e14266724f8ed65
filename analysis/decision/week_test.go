package decision

import (
	"math"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tolerance {
		t.Errorf("%s is %.6f, want %.6f", what, got, want)
	}
}

// A normal belief N(0, sd²) about which side of 0 a value lies is wrong half the time; after a signal that explains the
// variance v of it, Phi(-|X|/s) with X ~ N(0, v) and s² = sd² - v averages to 1/2 - atan(√v/s)/π: the chance that two
// normals of correlation √v/sd differ in sign. Source: Sheppard 1899, the orthant probability of the bivariate normal.
func TestAWeighingTellsAsMuchAsTheNormalLawSays(t *testing.T) {
	for _, c := range []struct{ sd, before, cv float64 }{{0.06, 0.06, 0.03}, {0.12, 0.12, 0.03}, {0.05, 0.04, 0.03}, {0.05, 0.04, 0.001}} {
		now, then := afterWeighing(0, c.sd, c.before, c.cv, math.Inf(-1), 0)
		level := c.before*c.before - c.cv*c.cv
		v := level * level / (level + c.cv*c.cv)
		near(t, "before", now, 0.5, 1e-12)
		near(t, "after", then, 0.5-math.Atan(math.Sqrt(v)/math.Sqrt(c.sd*c.sd-v))/math.Pi, 5e-4)
	}
	// Nothing is learnt where the weight is known but for the error of the scale, and nothing where it is sure anyway.
	if now, then := afterWeighing(0, 0.03, 0.03, 0.03, -0.01, 0.02); now != then {
		t.Errorf("known weight: %v, then %v", now, then)
	}
	if now, _ := afterWeighing(0, 0.03, 0.03, 0.03, -1, 1); now > 1e-9 {
		t.Errorf("sure weight: %v", now)
	}
	// It never makes decisions worse, and a better scale or a later day tells more.
	last := 1.0
	for _, before := range []float64{0.035, 0.04, 0.05, 0.06} {
		now, then := afterWeighing(0.02, 0.06, before, 0.03, -0.05, 0.05)
		if then > now || then > last {
			t.Errorf("SD %.3f before: wrong %.4f without, %.4f with, %.4f earlier", before, now, then, last)
		}
		last = then
	}
}

// By hand: of 100 birds of which 30 carry lice, a look that sees 8 of 10 finds 24; 6 of the 76 others carry them.
func TestALookTellsAsMuchAsCountingSays(t *testing.T) {
	now, then := afterLook(0.3, 0.8)
	near(t, "before", now, 0.30, 1e-12)
	near(t, "after", then, 0.06, 1e-12)
	now, then = afterLook(0.9, 0.8) // of 100: 72 found; 18 of the other 28 carry them, so that 10 are decided wrongly
	near(t, "before", now, 0.10, 1e-12)
	near(t, "after", then, 0.10, 1e-12)
	now, then = afterLook(0.5, 1)
	near(t, "before", now, 0.5, 1e-12)
	near(t, "after", then, 0, 1e-12)
	if now, then := afterLook(1, 1); now != 0 || then != 0 {
		t.Errorf("a sure carrier: %v, %v", now, then)
	}
}

// Beta(1, 1) and one egg, enough is 1/2: wrong half the time before; after it Beta(2, 1) or Beta(1, 2), whose chance of
// lying on the other side of 1/2 is 1/4. With two eggs the outcomes 0, 1, 2 are equally likely (Bayes 1763): 1/8, 1/2, 1/8.
func TestEggsTellAsMuchAsTheBetaLawSays(t *testing.T) {
	for n, want := range map[int]float64{0: 0.5, 1: 0.25, 2: (0.125 + 0.5 + 0.125) / 3} {
		now, then, err := afterEggs(1, 1, n, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "before", now, 0.5, 1e-9)
		near(t, "after", then, want, 1e-9)
	}
}

func TestTheWeekNamesTheBirdThatNobodyLookedAt(t *testing.T) {
	c, d := home(t)
	r := gathered(t, c, d, nil)
	if len(r.Week) == 0 {
		t.Fatal("the week is empty")
	}
	of := func(bird string) bool {
		return slices.ContainsFunc(r.Week, func(l Look) bool {
			return strings.HasPrefix(l.What, "look for lice") && slices.ContainsFunc(l.Birds, func(g Gain) bool { return g.Bird.ID == bird })
		})
	}
	if !of("R3") || of("R1") {
		t.Errorf("the week is %+v", r.Week)
	}
	for _, l := range r.Week {
		if l.On <= r.Today || l.On > r.Today+weekDays || l.On >= r.On {
			t.Errorf("%s falls on %s", l.Text(), l.On)
		}
		for _, g := range l.Birds {
			if g.gain() < LeastGain || g.Then < 0 || g.Now > 0.5 {
				t.Errorf("%s: %+v", l.Text(), g)
			}
		}
	}
	if again := gathered(t, c, d, nil); !slices.EqualFunc(r.Week, again.Week, func(a, b Look) bool { return a.Text() == b.Text() }) {
		t.Error("two runs give two weeks")
	}
}

// A hen whose own weight lies at the end of the written range and that was weighed few times is weighed again; one far
// inside is not.
func TestTheWeekWeighsTheBirdAtTheBorder(t *testing.T) {
	c, d := home(t)
	d.Observations = slices.DeleteFunc(d.Observations, func(o record.Observation) bool { return o.Trait == record.Weight && o.Bird == "R3" })
	for i, ago := range []int{95, 80, 70} { // the written range begins at 2540 g
		d.Observations = append(d.Observations, record.Observation{Bird: "R3", On: record.On(c.Today - record.Day(ago)), Trait: record.Weight,
			Value: []float64{2400, 2650, 2560}[i], At: record.Ref{File: "w.csv", Row: int32(50 + i), Col: 3}})
	}
	var birds []string
	for _, l := range gathered(t, c, d, nil).Week {
		if l.What == "weigh" {
			for _, g := range l.Birds {
				birds = append(birds, g.Bird.ID)
			}
		}
	}
	if !slices.Equal(birds, []string{"R3"}) {
		t.Errorf("the week weighs %v", birds)
	}
}

func TestTheWeekComesBeforeTheShow(t *testing.T) {
	r := &Result{Today: day(t, "2025-11-24"), On: day(t, "2025-12-13")} // a Monday
	if on := r.weekDay(); on.String() != "2025-11-29" {
		t.Errorf("the day of the week is %s", on)
	}
	r.On = day(t, "2025-11-26")
	if on := r.weekDay(); on.String() != "2025-11-25" {
		t.Errorf("before a show on Wednesday it is %s", on)
	}
}

func TestEggsAreSetWhereTheyTell(t *testing.T) {
	c, d := home(t)
	d.Birds = append(d.Birds, record.Bird{ID: "C1", Ring: "C1", Sex: record.Male, Breed: "Sussex", Size: record.Large, Hatched: record.On(day(t, "2023-04-01"))})
	d.Birds = append(d.Birds, record.Bird{ID: "C2", Ring: "C2", Sex: record.Male, Breed: "Sussex", Size: record.Large, Hatched: record.On(day(t, "2023-04-01"))})
	set := func(male string, row int32, n, clear int) {
		d.Events = append(d.Events, record.Event{Kind: record.Set, On: record.On(c.Today - 60), At: record.Ref{File: "eggs.csv", Row: row, Col: 4},
			Setting: &record.EggSetting{Male: male, Set: n, Clear: clear, DeadEarly: -1, DeadInShell: -1, HatchedNo: -1, StoredDays: -1}})
	}
	set("C1", 90, 6, 2)   // of six eggs nobody can tell
	set("C2", 91, 60, 57) // of sixty, three fertile: no more eggs are needed
	r := gathered(t, c, d, map[string]any{"purpose": Breeding})
	var birds []string
	for _, l := range r.Week {
		if strings.HasPrefix(l.What, "set ") {
			for _, g := range l.Birds {
				birds = append(birds, g.Bird.ID)
			}
		}
	}
	if !slices.Equal(birds, []string{"C1"}) {
		t.Errorf("eggs are to be set of %v; males %+v", birds, r.Fertility.Males)
	}
	if e := gathered(t, c, d, nil); e.Fertility != nil {
		t.Error("an entry asks for eggs")
	}
}

package season

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// The flocks of these tests are invented.

func day(t testing.TB, iso string) record.Day {
	t.Helper()
	d, err := record.ParseDay(iso)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// recorded turns simulated rounds into the records of a flock of as many birds.
func recorded(rounds []Round, birds int, parasite string) *record.Dataset {
	d := &record.Dataset{Name: "Home"}
	for i := range birds {
		d.Birds = append(d.Birds, record.Bird{ID: id(i), Ring: id(i), Pen: []string{"A", "B", "C"}[i%3], Hatched: record.On(newYear(2012) + record.Day(17*i))})
	}
	for _, r := range rounds {
		for i := range r.Looked {
			look(d, id(i), parasite, record.On(r.On), i < r.Found)
		}
	}
	return d
}

func id(i int) string { return fmt.Sprintf("R%02d", i+1) }

func look(d *record.Dataset, bird, parasite string, on record.Date, found bool) {
	o := record.Observation{Bird: bird, On: on, Trait: record.Parasite, Parasite: parasite, Form: record.Present,
		At: record.Ref{File: "checks.csv", Row: int32(len(d.Observations) + 2), Col: 3}}
	if found {
		o.Value, o.Text = 1, "yes"
	}
	d.Observations = append(d.Observations, o)
}

func result(t testing.TB, d *record.Dataset, today record.Day) *Result {
	t.Helper()
	r, err := Spec().Run(context.Background(), analysis.Context{Today: today, Settings: d.Settings}, d, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func claim(t testing.TB, r *Result, id string) analysis.Claim {
	t.Helper()
	for _, c := range r.Claims() {
		if c.ID == id {
			return c
		}
	}
	t.Fatalf("no claim %q", id)
	return analysis.Claim{}
}

// wavy are the rounds of a flock in which lice come each year about one time, every four weeks over some years.
func wavy(rng *rand.Rand, years int, peakMonth float64) []Round {
	var out []Round
	for d := newYear(2020) + 5; d < newYear(2020+years); d += 28 {
		w := math.Pow((1+math.Cos(phase(d)-2*math.Pi*peakMonth/12))/2, 3)
		r := Round{On: d, Looked: 25}
		for range 25 {
			if rng.Float64() < 0.02+0.5*w {
				r.Found++
			}
		}
		out = append(out, r)
	}
	return out
}

func TestTheSpecIsWhole(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
}

func TestARealSeasonIsFoundAndTimed(t *testing.T) {
	d := recorded(wavy(rand.New(rand.NewPCG(1, 1)), 4, 8.5), 25, record.Lice) // worst in mid-September
	d.Settings.Flock.Hemisphere = "north"
	r := result(t, d, day(t, "2024-02-01"))
	p, ok := r.Pattern(record.Lice)
	if !ok || !p.Named || p.Rotation.Years != 4 {
		t.Fatalf("not found: %+v", p)
	}
	for _, c := range r.Claims() {
		t.Log(c.ID, c.Text)
	}
	if !p.Peak.covers(2 * math.Pi * 8.5 / 12) {
		t.Errorf("the peak %v to %v misses mid-September", dayAndMonth(p.Peak.Low), dayAndMonth(p.Peak.High))
	}
	for id, want := range map[string]string{
		"season.counted/lice": "In 4 of 4 years lice were found",
		"season.recurs/lice":  "The records show a season for lice",
		"season.peak/lice":    "September",
		"season.risk/lice":    "Months at risk here",
		"season.start/lice":   "Start checking for lice from",
		"season.effort/lice":  "Looked for lice on",
	} {
		if c := claim(t, r, id); !strings.Contains(c.Text, want) || c.Refusal != nil || len(c.RestsOn) == 0 || c.N.Dates == 0 {
			t.Errorf("%s: %q %v", id, c.Text, c.Refusal)
		}
	}
	if c := claim(t, r, "season.peak/lice"); c.Estimate == nil || c.Estimate.Low > 258 || c.Estimate.High < 258 {
		t.Errorf("peak: %+v", c.Estimate)
	}
}

// Three years of a flock of 25 birds with a plain season are enough, most of the time.
func TestThreeYearsOfAPlainSeasonAreFound(t *testing.T) {
	found := 0
	for seed := range uint64(10) {
		rounds := wavy(rand.New(rand.NewPCG(seed, 7)), 3, 8.5)
		if evidence(mustWander(t, rounds), rotate(years(rounds))) > Cut {
			found++
		}
	}
	if found < 8 {
		t.Errorf("found in %d of 10", found)
	}
}

func mustWander(t *testing.T, rounds []Round) Wander {
	t.Helper()
	w, ok := wander(rounds)
	if !ok {
		t.Fatal("no model")
	}
	return w
}

func TestAFlockWithoutASeasonIsLeftAlone(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	rounds := simulate(rng, truth{"G1", 0, 0}, habit{birds: 25, detection: 0.8}, 3, newYear(2020))
	r := result(t, recorded(rounds, 25, record.Lice), day(t, "2023-02-01"))
	p, _ := r.Pattern(record.Lice)
	if p.Named {
		t.Fatalf("a season was named: %+v", p.Rotation)
	}
	c := claim(t, r, "season.recurs/lice")
	if c.Refusal == nil || !strings.Contains(c.Text, "do not tell a season") || !strings.Contains(c.Text, "not to say that there is none") {
		t.Errorf("%q %v", c.Text, c.Refusal)
	}
	for _, c := range r.Claims() {
		t.Log(c.ID, c.Text)
		if strings.HasPrefix(c.ID, "season.peak") || strings.HasPrefix(c.ID, "season.risk") || strings.HasPrefix(c.ID, "season.start") {
			t.Errorf("%s was told without a season", c.ID)
		}
	}
	if c := claim(t, r, "season.outlook/lice"); !strings.Contains(c.Text, "years") {
		t.Errorf("%q", c.Text)
	}
}

// In each year only that spring's young are looked at, until they are sold: what looks like a season may be their age.
func aliased(t testing.TB) *record.Dataset {
	d := &record.Dataset{Name: "Home"}
	rng := rand.New(rand.NewPCG(2, 2))
	for y := range 4 {
		hatch := newYear(2020+y) + 95
		for i := range 12 {
			b := record.Bird{ID: fmt.Sprintf("Y%d-%d", 2020+y, i), Hatched: record.On(hatch + record.Day(i))}
			b.Ring = b.ID
			d.Birds = append(d.Birds, b)
			for age := 28; age < 340; age += 28 {
				p := 0.03
				if age > 120 && age < 210 {
					p = 0.6
				}
				look(d, b.ID, record.Lice, record.On(hatch+record.Day(age)), rng.Float64() < p)
			}
		}
	}
	return d
}

func TestAgeIsNotTakenForTheTimeOfYear(t *testing.T) {
	d := aliased(t)
	r := result(t, d, day(t, "2024-06-01"))
	p, _ := r.Pattern(record.Lice)
	c := claim(t, r, "season.recurs/lice")
	if p.Named || c.Refusal == nil || !strings.Contains(c.Text, "age and time of year are the same thing") || !strings.Contains(c.Refusal.Next, "over a year old") {
		t.Errorf("untold %.2f: %q %+v", p.Ages.Untold, c.Text, c.Refusal)
	}
	// Grown birds looked at in the same rounds tell the two apart.
	for i, r := range wavy(rand.New(rand.NewPCG(3, 3)), 4, 8.5) {
		for k := range r.Looked {
			if i == 0 {
				d.Birds = append(d.Birds, record.Bird{ID: "old" + id(k), Hatched: record.On(newYear(2014) + record.Day(40*k))})
			}
			look(d, "old"+id(k), record.Lice, record.On(r.On), k < r.Found)
		}
	}
	p, _ = result(t, d, day(t, "2024-06-01")).Pattern(record.Lice)
	if !p.Named {
		t.Errorf("with grown birds: untold %.2f, refused %q, evidence %.1f", p.Ages.Untold, p.refused, p.Evidence)
	}
}

func TestTwoYearsNeverConclude(t *testing.T) {
	d := recorded(wavy(rand.New(rand.NewPCG(5, 5)), 2, 9), 25, record.Lice)
	r := result(t, d, day(t, "2022-02-01"))
	p, _ := r.Pattern(record.Lice)
	c := claim(t, r, "season.recurs/lice")
	if p.Named || p.Rotation.P != 1 || c.Refusal == nil || !strings.Contains(c.Text, "two years cannot tell that from chance") {
		t.Errorf("%q %+v", c.Text, c.Refusal)
	}
	if regexp.MustCompile(`\bp \d`).MatchString(c.Text) {
		t.Errorf("two years with a p-value: %q", c.Text)
	}
	if f := rotate(append(usable(years(p.Rounds)), Year{Slots: 1})).Floor; math.Abs(f-1.0/13) > 1e-12 {
		t.Errorf("floor of two years %v, want 1/13 (domain notes 4.5)", f)
	}
}

func TestRedMiteIsAFindingOfTheHouse(t *testing.T) {
	d := &record.Dataset{Name: "Home", Birds: []record.Bird{{ID: "R01"}}}
	for i := range 40 {
		on := newYear(2020) + record.Day(28*i)
		found := 0
		if _, m, _ := on.Date(); m >= 6 && m <= 9 {
			found = 1
		}
		d.Events = append(d.Events, record.Event{Kind: record.Checked, Scope: record.WholeFlock, On: record.On(on), At: record.Ref{File: "a.csv", Row: int32(i + 2), Col: 1},
			Check: &record.CheckResult{Parasite: record.RedMite, Birds: 0, Found: found}})
	}
	r := result(t, d, day(t, "2024-01-01"))
	p, ok := r.Pattern(record.RedMite)
	if !ok || !p.House || len(p.Rounds) != 40 || p.Rounds[0].Looked != 1 {
		t.Fatalf("%+v", p)
	}
	if c := claim(t, r, "season.counted/red-mite"); !strings.Contains(c.Text, "In 3 of 3 years red mites were found between June and September") {
		t.Error(c.Text)
	}
	if len(r.Cautions()) == 0 {
		t.Error("red mite bites people, and nothing says so")
	}
	for _, c := range r.Claims() {
		t.Log(c.Text)
	}
}

func TestPenChecksCountTheirBirds(t *testing.T) {
	d := &record.Dataset{Name: "Home", Birds: []record.Bird{{ID: "R01", Pen: "A"}, {ID: "R02", Pen: "A"}}}
	d.Events = append(d.Events, record.Event{Kind: record.Checked, Scope: record.WholePen, Pen: "A", On: record.On(newYear(2020)), At: record.Ref{File: "a.csv", Row: 2, Col: 1},
		Check: &record.CheckResult{Parasite: record.Lice, Birds: 12, Found: 4}})
	p, _ := result(t, d, day(t, "2024-01-01")).Pattern(record.Lice)
	if len(p.Rounds) != 1 || p.Rounds[0].Looked != 12 || p.Rounds[0].Found != 4 {
		t.Errorf("%+v", p.Rounds)
	}
}

func TestOneParasiteCanBeAskedFor(t *testing.T) {
	d := recorded(wavy(rand.New(rand.NewPCG(1, 1)), 3, 6), 25, record.Lice)
	look(d, "R01", record.ScalyLegMite, record.On(newYear(2021)), true)
	r, err := Spec().Run(context.Background(), analysis.Context{Today: newYear(2024)}, d, map[string]any{"parasite": record.Lice})
	if err != nil || len(r.(*Result).Patterns) != 1 {
		t.Errorf("%v %v", r, err)
	}
	_, err = Spec().Run(context.Background(), analysis.Context{Today: newYear(2024)}, d, map[string]any{"parasite": "fleas"})
	if err == nil || !strings.Contains(err.Error(), "the records look for: lice, scaly leg mite") {
		t.Error(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Spec().Run(ctx, analysis.Context{Today: newYear(2024)}, d, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestSameRecordsSameWords(t *testing.T) {
	d := recorded(wavy(rand.New(rand.NewPCG(9, 9)), 3, 2), 25, record.Lice)
	first, _ := json.Marshal(result(t, d, newYear(2024)).Claims())
	slices.Reverse(d.Observations)
	second, _ := json.Marshal(result(t, d, newYear(2024)).Claims())
	if string(first) != string(second) {
		t.Errorf("differ:\n%s\n%s", first, second)
	}
}

// A year of which only the tail of the window was looked at is not a clear year.
func TestAYearHardlyLookedAtIsNotClear(t *testing.T) {
	var rs []Round
	for d := newYear(2020) + 310; d < newYear(2024); d += 28 { // from November 2020 on
		r := Round{On: d, Looked: 10}
		if _, m, _ := d.Date(); m >= 8 && m <= 10 {
			r.Found = 5
		}
		rs = append(rs, r)
	}
	rs = append(rs, Round{On: newYear(2024) + 230, Looked: 10})
	m := markOf(rs, false)
	months := monthsOf(rs, m)
	w, ok := window(rs, months, m)
	if !ok || w.First != 8 || w.Last != 10 || !slices.Equal(w.Found, []int{2021, 2022, 2023}) || len(w.Clear) != 0 || !slices.Equal(w.NotLooked, []int{2024}) {
		t.Errorf("%+v", w)
	}
}

func TestWindowsMayWrapAroundNewYear(t *testing.T) {
	var rs []Round
	for i := range 53 {
		r := Round{On: newYear(2020) + record.Day(28*i), Looked: 10}
		if _, m, _ := r.On.Date(); m == 12 || m <= 2 {
			r.Found = 5
		}
		rs = append(rs, r)
	}
	m := markOf(rs, false)
	w, ok := window(rs, monthsOf(rs, m), m)
	if !ok || w.First != 12 || w.Last != 2 || !slices.Equal(w.Found, []int{2019, 2020, 2021, 2022, 2023}) || w.OtherFound != 0 {
		t.Errorf("%+v", w)
	}
}

// The names of the seasons are those of the keeper's hemisphere, or none.
func TestSeasonsOfTheYearFollowTheHemisphere(t *testing.T) {
	w := Window{First: 8, Last: 10, Months: 3}
	for _, c := range []struct {
		south, told bool
		want        string
	}{{false, true, "autumn"}, {true, true, "spring"}, {false, false, ""}} {
		if got := seasonOfYear(w, c.south, c.told); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

func TestAnglesAreDaysOfTheYear(t *testing.T) {
	for iso, want := range map[string]string{"2024-01-01": "1 January", "2023-07-02": "2 July", "2023-12-31": "31 December"} {
		if got := dayAndMonth(phase(day(t, iso))); got != want {
			t.Errorf("%s is %s", iso, got)
		}
	}
}

// 1,000 flocks of 25 birds over 3 years must take less than a minute on two cores.
func BenchmarkFlockOf25Over3Years(b *testing.B) {
	rng := rand.New(rand.NewPCG(4, 4))
	d := recorded(simulate(rng, truth{"G1", 0, 0}, habit{true, 25, 0.8, false}, 3, newYear(2020)), 25, record.Lice)
	for b.Loop() {
		result(b, d, newYear(2023)+30)
	}
}

func BenchmarkFlockOf80Over3Years(b *testing.B) {
	rng := rand.New(rand.NewPCG(4, 4))
	d := recorded(simulate(rng, truth{"G1", 0, 0}, habit{true, 80, 0.8, false}, 3, newYear(2020)), 80, record.Lice)
	for b.Loop() {
		result(b, d, newYear(2023)+30)
	}
}

// Every sentence that some flock may get reads well and judges nothing.
func TestAllSentencesReadWell(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 21))
	for n := range 60 {
		g := []string{"G0", "G1", "G2", "G3", "G4"}[n%5]
		tr := truth{g, []float64{0, 1, 3}[n%3], 2 * math.Pi * rng.Float64()}
		birds := 3 + rng.IntN(25)
		rounds := simulate(rng, tr, habit{n%2 == 0, birds, 0.8, false}, 1+n%8, newYear(2016)+record.Day(rng.IntN(300)))
		d := recorded(rounds, birds, []string{record.Lice, record.BodyLouse, record.RedMite, ""}[n%4])
		d.Settings.Flock.Hemisphere = []string{"", "north", "south"}[n%3]
		r := result(t, d, newYear(2026))
		for _, c := range r.Claims() {
			for _, slip := range c.Lint() {
				t.Errorf("%s: %s in %q %q %v", c.ID, slip, c.Text, c.Caveats, c.Refusal)
			}
			if c.Refusal != nil && strings.Contains(c.Text, "show a season") {
				t.Errorf("%s both shows and refuses: %q", c.ID, c.Text)
			}
		}
		for _, c := range r.Cautions() {
			for _, slip := range analysis.LintText(c.Text) {
				t.Errorf("caution %s: %s", c.Topic, slip)
			}
		}
	}
}

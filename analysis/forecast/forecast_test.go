package forecast

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/forecast/invent"
	"keelmark/analysis/forecast/pooled"
	"keelmark/analysis/standard"
	"keelmark/datasets"
	"keelmark/ingest/record"
)

// The flocks of these tests are invented.

const today = record.Day(20278) // 2025-07-09

// kept is a line of Sussex bantam pullets hatched on one day, weighed from week 2 up to today: every two weeks, or
// five times where that would be long ago.
func kept(birds, weeks int) *record.Dataset {
	step := 2.0
	if weeks > 16 {
		step = float64(weeks-2) / 4
	}
	s := simulate(rand.New(rand.NewPCG(9, uint64(birds))), invent.Design{Birds: birds, Last: float64(weeks), Step: step, Noise: 0.02})
	d := &record.Dataset{Name: "Home"}
	hatched := today - record.Day(7*weeks)
	for i, tr := range s.tracks {
		id := fmt.Sprintf("R%02d", i+1)
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: record.Female, Breed: "Sussex", Size: record.Bantam, Hatched: record.On(hatched),
			At: []record.Ref{{File: "birds.csv", Row: int32(i + 2), Col: 1}}})
		for j := range tr.Ages {
			d.Observations = append(d.Observations, weight(id, hatched+record.Day(7*tr.Ages[j]), math.Exp(tr.Logs[j]), i, j))
		}
	}
	return d
}

func weight(id string, on record.Day, grams float64, row, col int) record.Observation {
	return record.Observation{Bird: id, On: record.On(on), Trait: record.Weight, Value: math.Round(grams),
		At: record.Ref{File: "weights.xlsx", Sheet: "2025", Row: int32(row + 2), Col: int32(col + 2)}}
}

func situation(t *testing.T, show record.Day) analysis.Context {
	t.Helper()
	rows, err := datasets.Breeds()
	if err != nil {
		t.Fatal(err)
	}
	c := analysis.Context{Today: today, Standards: rows}
	c.Settings.Flock.Country = "US"
	c.Settings.Show.Date = record.On(show)
	return c
}

func foreseen(t *testing.T, c analysis.Context, d *record.Dataset) *Result {
	t.Helper()
	r, err := Spec().Run(context.Background(), c, d, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func claimOf(t *testing.T, r *Result, id string) analysis.Claim {
	t.Helper()
	var ids []string
	for _, c := range r.Claims() {
		if c.ID == id {
			return c
		}
		ids = append(ids, c.ID)
	}
	t.Fatalf("no claim %s in %v", id, ids)
	return analysis.Claim{}
}

func has(list []string, part string) bool { return strings.Contains(strings.Join(list, "; "), part) }

func TestSpecIsWhole(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
}

func TestAGrowingBirdIsForecast(t *testing.T) {
	d := kept(9, 16)
	c := situation(t, today+21)
	r := foreseen(t, c, d)
	claim := claimOf(t, r, "forecast.band/R01")
	f := r.Birds[0]
	for _, want := range []string{"R01, pullet on 2025-07-30: about ", " on the day; written figure for the class 635 to 953 g (28 oz ± 20 %) by the written rule of the American Poultry Association",
		"chance of being inside "} {
		if !strings.Contains(claim.Text, want) {
			t.Errorf("%q is not in %q", want, claim.Text)
		}
	}
	if claim.N.Records != 8 || len(claim.RestsOn) != 9 || claim.Estimate.Low >= claim.Estimate.High || claim.Pool[0] != "forecast.line/Sussex-bantam-F" {
		t.Errorf("%+v", claim)
	}
	if !has(claim.Caveats, "based on the breed table only") || !has(claim.Caveats, "only from 1 December") || has(claim.Caveats, "extrapolation") {
		t.Errorf("caveats: %v", claim.Caveats)
	}
	if f.Kind != Growing || f.Extrapolated || len(f.Fan) < 20 || f.Mature == nil || len(f.Weighings) != 8 {
		t.Errorf("%+v", f)
	}
	last := f.Fan[len(f.Fan)-1]
	near(t, "fan on the day", last.Median, f.Weight.Value, 0.01*f.Weight.Value)
	for _, s := range f.Fan {
		if !(s.Low90 < s.Low50 && s.Low50 < s.Median && s.Median < s.High50 && s.High50 < s.High90) {
			t.Errorf("step %+v", s)
		}
	}
	line := claimOf(t, r, "forecast.line/Sussex-bantam-F")
	if line.N.Birds != 9 || line.N.Records != 72 || len(line.RestsOn) != 72 || !strings.Contains(line.Text, "published weight of the grown class 850 g") {
		t.Errorf("%+v", line)
	}
	for _, claim := range r.Claims() {
		for _, word := range []string{"cull", "keep ", "healthy", "guarantee", "disqualif", "inferior"} {
			if strings.Contains(strings.ToLower(claim.Text+strings.Join(claim.Caveats, " ")), word) {
				t.Errorf("%s says %q: %s", claim.ID, word, claim.Text)
			}
		}
		if _, err := json.Marshal(claim); err != nil {
			t.Error(err)
		}
	}
	c.Settings.Flock.Units = "lb-oz"
	if text := claimOf(t, foreseen(t, c, d), "forecast.band/R01").Text; !strings.Contains(text, "1 lb 6½ oz to 2 lb 1½ oz (28 oz ± 20 %)") {
		t.Error(text)
	}
}

func TestAForecastNeedsThreeWeighings(t *testing.T) {
	for n, refused := range map[int]bool{0: true, MinWeights - 1: true, MinWeights: false} {
		d := kept(3, 16)
		seen := 0
		var obs []record.Observation
		for _, o := range d.Observations {
			if o.Bird == "R01" {
				if seen++; seen > n {
					continue
				}
			}
			obs = append(obs, o)
		}
		d.Observations = obs
		claim := claimOf(t, foreseen(t, situation(t, today), d), "forecast.band/R01")
		if (claim.Estimate == nil) != refused || refused && !strings.Contains(claim.Refusal.Next, "weigh R01") {
			t.Errorf("%d weighings: %q %+v", n, claim.Text, claim.Refusal)
		}
	}
}

func TestAnOldWeighingLeavesTheDayOpen(t *testing.T) {
	d := kept(12, 16)
	last := d.Of("R01", record.Weight)
	weighed := last[len(last)-1].On.First
	for age, open := range map[record.Day]bool{standard.LastWeighingDays: false, standard.LastWeighingDays + 1: true} {
		c := situation(t, today)
		c.Today = weighed + age
		claim := claimOf(t, foreseen(t, c, d), "forecast.band/R01")
		if (claim.Refusal != nil) != open || open && claim.Stands != analysis.Open || claim.Estimate == nil {
			t.Errorf("weighed %d days ago: %s %+v", age, claim.Stands, claim.Refusal)
		}
	}
}

func TestAForecastNeedsTheSexAndTheAge(t *testing.T) {
	d := kept(3, 12)
	d.Birds[0].Sex = ""
	d.Birds[1].Hatched = record.Between(d.Birds[1].Hatched.First-MaxAgeSpan-1, d.Birds[1].Hatched.First)
	d.Birds[2].Hatched = record.Between(d.Birds[2].Hatched.First-MaxAgeSpan, d.Birds[2].Hatched.First)
	r := foreseen(t, situation(t, today), d)
	for id, want := range map[string]string{"R01": "sex", "R02": "hatch date"} {
		if c := claimOf(t, r, "forecast.band/"+id); c.Refusal == nil || !strings.Contains(c.Refusal.Next, want) {
			t.Errorf("%s: %+v", id, c)
		}
	}
	if c := claimOf(t, r, "forecast.band/R03"); c.Refusal != nil {
		t.Errorf("a hatch date known to %d days: %+v", MaxAgeSpan, c.Refusal)
	}
}

func TestALineNeedsEightBirdsFollowed(t *testing.T) {
	for n, thin := range map[int]bool{MinLineBirds - 1: true, MinLineBirds: false} {
		r := foreseen(t, situation(t, today), kept(n, MinLineDays/7))
		c := claimOf(t, r, "forecast.band/R01")
		if has(c.Caveats, "based on the breed table only") != thin || r.Lines[0].Followed != n {
			t.Errorf("%d birds: %v", n, c.Caveats)
		}
	}
	r := foreseen(t, situation(t, today), kept(MinLineBirds, MinLineDays/7-2))
	if c := claimOf(t, r, "forecast.band/R01"); !has(c.Caveats, "based on the breed table only") || r.Lines[0].Followed != 0 {
		t.Errorf("followed two weeks less: %v", c.Caveats)
	}
	// Without a published weight a thin line foretells no mature weight, only the day.
	for n, refused := range map[int]bool{MinLineBirds - 1: true, MinLineBirds: false} {
		d := kept(n, MinLineDays/7)
		for i := range d.Birds {
			d.Birds[i].Breed = "Griffin"
		}
		r := foreseen(t, situation(t, today), d)
		if c := claimOf(t, r, "forecast.mature/R01"); (c.Refusal != nil) != refused {
			t.Errorf("%d birds of no known breed: %+v", n, c)
		}
		if c := claimOf(t, r, "forecast.band/R01"); c.Refusal == nil || c.Estimate == nil || !strings.Contains(c.Text, "cannot say how that compares") {
			t.Errorf("%+v", c)
		}
	}
}

func TestSureRelativesAreCounted(t *testing.T) {
	for n, unsure := range map[int]bool{SureRelatives - 1: true, SureRelatives: false} {
		r := foreseen(t, situation(t, today), kept(n, MinLineDays/7))
		if c := claimOf(t, r, "forecast.mature/R01"); has(c.Caveats, "80 to 94 %") != unsure {
			t.Errorf("%d relatives: %v", n, c.Caveats)
		}
	}
}

// What setback the weighings of a line would not show is told, by the line and by each mature weight.
func TestUnseenSetbacksAreTold(t *testing.T) {
	r := foreseen(t, situation(t, today), kept(12, 16))
	l := r.Lines[0]
	if !(l.Blind >= pooled.SetbackShare && l.Blind < 0.5) {
		t.Errorf("blind to %v", l.Blind)
	}
	for _, id := range []string{"forecast.mature/R01", "forecast.line/Sussex-bantam-F"} {
		if c := claimOf(t, r, id); !has(c.Caveats, "a setback of the whole line of less than about") {
			t.Errorf("%s: %v", id, c.Caveats)
		}
	}
	r = foreseen(t, situation(t, today), kept(pooled.SetbackBirds-1, 16))
	if c := claimOf(t, r, "forecast.mature/R01"); !math.IsInf(r.Lines[0].Blind, 1) || !has(c.Caveats, "cannot tell a setback") {
		t.Errorf("%d birds: %v %v", pooled.SetbackBirds-1, r.Lines[0].Blind, c.Caveats)
	}
}

// What an unseen setback does to the day is told where the weighings end early, and only there.
func TestEarlyWeighingsTellOfUnseenSetbacks(t *testing.T) {
	for weeks, early := range map[int]bool{EarlyWeeks - 2: true, EarlyWeeks: false} {
		r := foreseen(t, situation(t, today+14), kept(12, weeks))
		c := claimOf(t, r, "forecast.band/R01")
		if has(c.Caveats, "7 in 10 simulated birds") != early {
			t.Errorf("weighed to %d weeks: %v", weeks, c.Caveats)
		}
	}
	f := &Forecast{Weighings: []Weighing{{Age: 12}}}
	for _, c := range []struct {
		line Line
		want bool
	}{
		{Line{Blind: EarlySetback}, true}, {Line{Blind: EarlySetback - 0.01}, false},
		{Line{Blind: math.Inf(1)}, true}, {Line{Blind: 0.2, Setback: &pooled.Setback{}}, false}, // a found one is told as such
	} {
		if f.early(&c.line) != c.want {
			t.Errorf("%+v: %v", c.line, !c.want)
		}
	}
	if text := (&Line{Blind: math.Inf(1)}).early(); !strings.Contains(text, "of any size") || strings.Contains(text, "Inf") {
		t.Error(text)
	}
}

func TestBeyondFourWeeksIsExtrapolation(t *testing.T) {
	d := kept(4, 12)
	for ahead, beyond := range map[int]bool{SolidDays: false, SolidDays + 1: true} {
		r := foreseen(t, situation(t, today+record.Day(ahead)), d)
		c := claimOf(t, r, "forecast.band/R01")
		if has(c.Caveats, "this is extrapolation") != beyond || r.Birds[0].Extrapolated != beyond {
			t.Errorf("%d days: %v", ahead, c.Caveats)
		}
		if last := r.Birds[0].Fan[len(r.Birds[0].Fan)-1]; last.Extrapolated != beyond {
			t.Errorf("%d days: %+v", ahead, last)
		}
	}
}

func TestBothClassesWhereABirthdayFallsBetween(t *testing.T) {
	d := kept(4, 50)
	for show, want := range map[record.Day]int{today + 13: 1, today + 15: 2} { // 50 weeks old today; a year is 52 and a day
		r := foreseen(t, situation(t, show), d)
		if got := len(r.Birds[0].Places); got != want || len(r.Birds[0].Chance) != want {
			t.Errorf("show in %d days: %d classes", show-today, got)
		}
	}
	r := foreseen(t, situation(t, today+15), d)
	hen, pullet := claimOf(t, r, "forecast.band/R01/hen"), claimOf(t, r, "forecast.band/R01/pullet")
	if !strings.Contains(hen.Text, "hen on") || !strings.Contains(pullet.Text, "no longer on") || pullet.Stands != analysis.Open {
		t.Errorf("%s / %s", hen.Text, pullet.Text)
	}
}

func TestWeighingsToConfirmAreLeftOut(t *testing.T) {
	d := kept(4, 12)
	for i := range d.Observations {
		if o := &d.Observations[i]; o.Bird == "R01" && o.On.First > today-15 {
			o.Flagged = true
		}
	}
	r := foreseen(t, situation(t, today), d)
	if f := r.Birds[0]; f.Left != 2 || len(f.Weighings) != 4 {
		t.Errorf("left out %d, used %d", f.Left, len(f.Weighings))
	}
	if c := claimOf(t, r, "forecast.band/R01"); !has(c.Caveats, "left out: 2") {
		t.Errorf("%v", c.Caveats)
	}
	if r, err := Spec().Run(context.Background(), situation(t, today), d, map[string]any{"unconfirmed": true}); err != nil || len(r.(*Result).Birds[0].Weighings) != 6 {
		t.Errorf("unconfirmed: %v", err)
	}
}

func TestBirdsThatHaveGoneCountForTheirLineOnly(t *testing.T) {
	d := kept(5, 12)
	d.Events = append(d.Events, record.Event{Kind: record.Died, Bird: "R02", On: record.On(today - 3)})
	r := foreseen(t, situation(t, today), d)
	if len(r.Birds) != 4 || r.Lines[0].Birds != 5 {
		t.Errorf("%d forecasts, %d birds of the line", len(r.Birds), r.Lines[0].Birds)
	}
}

func TestBadOptionsAreNamed(t *testing.T) {
	for _, options := range []map[string]any{{"ring": "nobody"}, {"tolerance": 120.0}, {"young_from": "x"}} {
		if _, err := Spec().Run(context.Background(), situation(t, today), kept(1, 12), options); err == nil {
			t.Errorf("%v was accepted", options)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Spec().Run(ctx, situation(t, today), kept(2, 12), nil); err == nil {
		t.Error("a cancelled run has a result")
	}
	if r := foreseen(t, situation(t, today), &record.Dataset{}); len(r.Claims()) != 0 {
		t.Error("an empty flock has claims")
	}
}

func TestWildWeightsAreNoWildNumbers(t *testing.T) {
	hatched := today - 84
	for name, grams := range map[string][]float64{
		"all the same": {500, 500, 500, 500}, "falling": {800, 600, 400, 200}, "doubling weekly": {100, 400, 1600, 6400},
		"day-olds' weight": {30, 31, 30, 32}, "far above any standard": {2000, 4000, 6000, 7500},
	} {
		d := &record.Dataset{Birds: []record.Bird{{ID: "R01", Sex: record.Male, Breed: "Sussex", Size: record.Bantam, Hatched: record.On(hatched)}}}
		for i, g := range grams {
			d.Observations = append(d.Observations, weight("R01", hatched+record.Day(21*(i+1)), g, 0, i))
		}
		r := foreseen(t, situation(t, today+14), d)
		f := r.Birds[0]
		if f.Refusal != nil {
			continue
		}
		heaviest := 0.0
		for _, g := range grams {
			heaviest = max(heaviest, g)
		}
		if !(f.Weight.Low > 0 && f.Weight.Value < 3*heaviest) {
			t.Errorf("%s: %+v", name, f.Weight)
		}
		if f.Mature == nil && f.MatureRefusal == nil || f.Mature != nil && !(f.Mature.Value <= MaxMature*heaviest) {
			t.Errorf("%s: mature %+v", name, f.Mature)
		}
	}
}

func TestTablesAreRectangularAndRunsAgree(t *testing.T) {
	d := kept(3, 12)
	d.Birds[2].Sex = ""
	a, b := foreseen(t, situation(t, today), d), foreseen(t, situation(t, today), d)
	for _, table := range a.Tables() {
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Errorf("%s: %d cells, %d columns", table.Name, len(row), len(table.Columns))
			}
		}
		if len(table.Rows) == 0 {
			t.Errorf("%s is empty", table.Name)
		}
	}
	if !reflect.DeepEqual(a.Claims(), b.Claims()) {
		t.Error("two runs differ")
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

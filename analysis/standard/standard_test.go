package standard

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// The flocks of these tests are invented.

func weighed(bird string, on record.Day, grams float64, row int32) record.Observation {
	return record.Observation{Bird: bird, On: record.On(on), Trait: record.Weight, Value: grams, At: record.Ref{File: "w.csv", Row: row, Col: 3}}
}

func standing(t *testing.T, c analysis.Context, d *record.Dataset, options map[string]any) *Result {
	t.Helper()
	c.Standards = breeds(t)
	r, err := Spec().Run(context.Background(), c, d, options)
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func sussex(t *testing.T, sex record.Sex, hatched string) record.Bird {
	return record.Bird{ID: "R12", Ring: "R12", Sex: sex, Breed: "Sussex", Size: record.Bantam, Hatched: record.On(day(t, hatched)),
		At: []record.Ref{{File: "birds.csv", Row: 2, Col: 1}}}
}

func TestSpecIsWhole(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
}

func TestACockIsComparedWithItsClass(t *testing.T) {
	today := day(t, "2025-01-20")
	d := &record.Dataset{Birds: []record.Bird{sussex(t, record.Male, "2023-04-01")}, Observations: []record.Observation{weighed("R12", today-12, 980, 7)}}
	c := analysis.Context{Today: today, Settings: record.Settings{Flock: record.FlockSettings{Country: "US"}}}
	claims := standing(t, c, d, nil).Claims()
	if len(claims) != 1 {
		t.Fatalf("%d claims", len(claims))
	}
	got := claims[0]
	// 36 oz is 1020.58 g; 980 g is 96.02 % of it, and a weighing error of 3 % puts 91.4 to 100.9 % about it.
	for _, want := range []string{"R12, cock on 2025-01-20", "980 g on 2025-01-08 (12 days ago)", "96 % of the listed weight 1021 g", "91 to 101 %",
		"816 to 1225 g (36 oz ± 20 %)", "more than 99 %"} {
		if !strings.Contains(got.Text, want) {
			t.Errorf("%q is not in %q", want, got.Text)
		}
	}
	if got.ID != "standard.band/R12" || got.Stands != analysis.For || got.N.Records != 1 || len(got.RestsOn) != 2 || !strings.Contains(got.Source, "magazine article") {
		t.Errorf("%+v", got)
	}
	c.Settings.Flock.Units = "lb-oz"
	if text := standing(t, c, d, nil).Claims()[0].Text; !strings.Contains(text, "2 lb 2½ oz on") {
		t.Error(text)
	}
}

func TestACeilingAloneNeverSpeaksForABird(t *testing.T) {
	target := Place{Band: Band{Low: 800, High: 1200}}
	ceiling := Place{Band: Band{High: 1700}}
	floor := Place{Band: Band{Low: 900, High: math.Inf(1)}}
	foreign := Place{Band: target.Band, Choice: Choice{Foreign: true}}
	for _, c := range []struct {
		place  Place
		chance float64
		want   analysis.Stands
	}{{target, 0.99, analysis.For}, {target, 0.01, analysis.Against}, {ceiling, 0.99, analysis.Open}, {ceiling, 0.01, analysis.Against},
		{floor, 0.99, analysis.Open}, {foreign, 0.99, analysis.Open}, {foreign, 0.01, analysis.Open}} {
		if got := c.place.Side(c.chance); got != c.want {
			t.Errorf("%+v at %g: %s, want %s", c.place.Band, c.chance, got, c.want)
		}
	}
}

func TestALastWeighingExpires(t *testing.T) {
	today := day(t, "2025-01-20")
	for age, expired := range map[int]bool{0: false, LastWeighingDays: false, LastWeighingDays + 1: true} {
		d := &record.Dataset{Birds: []record.Bird{sussex(t, record.Male, "2023-04-01")}, Observations: []record.Observation{weighed("R12", today-record.Day(age), 980, 7)}}
		c := analysis.Context{Today: today}
		c.Settings.Flock.Country = "US"
		claim := standing(t, c, d, nil).Claims()[0]
		if (claim.Refusal != nil) != expired || (claim.Stands == analysis.For) == expired {
			t.Errorf("%d days: %s %v", age, claim.Stands, claim.Refusal)
		}
	}
}

func TestABirthdayBeforeTheShowGivesBothClasses(t *testing.T) {
	today := day(t, "2025-03-20")
	c := analysis.Context{Today: today}
	c.Settings.Show.Date = record.On(day(t, "2025-04-05"))
	d := &record.Dataset{Birds: []record.Bird{sussex(t, record.Female, "2024-04-01")}, Observations: []record.Observation{weighed("R12", today, 820, 7)}}
	r := standing(t, c, d, nil)
	claims := r.Claims()
	if len(claims) != 2 || claims[0].ID != "standard.band/R12/hen" || claims[1].ID != "standard.band/R12/pullet" {
		t.Fatalf("%+v", claims)
	}
	if !strings.Contains(claims[1].Text, "pullet today but no longer on 2025-04-05") || !strings.Contains(strings.Join(claims[0].Caveats, ";"), "class border") {
		t.Errorf("%s / %v", claims[1].Text, claims[0].Caveats)
	}
	c.Settings.Show.Date = record.On(day(t, "2025-03-31"))
	if claims := standing(t, c, d, nil).Claims(); len(claims) != 1 || !strings.Contains(claims[0].Text, "pullet on 2025-03-31") {
		t.Errorf("the day before: %+v", claims)
	}
}

func TestWhatIsMissingIsRefused(t *testing.T) {
	today := day(t, "2025-01-20")
	ok := sussex(t, record.Male, "2023-04-01")
	noSex, noBreed, noSize, sebright := ok, ok, ok, ok
	noSex.Sex, noBreed.Breed, noSize.Size = "", "", ""
	sebright.Breed, sebright.Hatched = "Sebright", record.On(today-200)
	for name, b := range map[string]record.Bird{"no sex": noSex, "no breed": noBreed, "no size": noSize, "no weight for the class": sebright} {
		d := &record.Dataset{Birds: []record.Bird{b}, Observations: []record.Observation{weighed("R12", today, 900, 7)}}
		for _, claim := range standing(t, analysis.Context{Today: today}, d, nil).Claims() {
			if claim.Refusal == nil || claim.Refusal.Next == "" || claim.Stands != analysis.Open || !strings.Contains(claim.Text, "cannot say") {
				t.Errorf("%s: %+v", name, claim)
			}
		}
	}
	flagged := weighed("R12", today, 900, 7)
	flagged.Flagged = true
	for name, obs := range map[string][]record.Observation{"no weight": nil, "one to confirm": {flagged}, "one after today": {weighed("R12", today+1, 900, 7)}} {
		claim := standing(t, analysis.Context{Today: today}, &record.Dataset{Birds: []record.Bird{ok}, Observations: obs}, nil).Claims()[0]
		if claim.Refusal == nil || !strings.Contains(claim.Text, "no dated weighing") {
			t.Errorf("%s: %+v", name, claim)
		}
	}
}

func TestOptionsAndBirdsThatHaveGone(t *testing.T) {
	today := day(t, "2025-01-20")
	b := sussex(t, record.Male, "2023-04-01")
	d := &record.Dataset{Birds: []record.Bird{b}, Events: []record.Event{{Kind: record.Departed, Bird: "R12", On: record.On(today)}}}
	if claims := standing(t, analysis.Context{Today: today}, d, nil).Claims(); len(claims) != 0 {
		t.Errorf("a bird that has left: %+v", claims)
	}
	if claims := standing(t, analysis.Context{Today: today - 1}, d, nil).Claims(); len(claims) != 1 {
		t.Error("the bird left only the day after")
	}
	for _, options := range []map[string]any{{"ring": "nobody"}, {"tolerance": 100.0}, {"tolerance": -1.0}, {"young_from": "December"}} {
		if _, err := Spec().Run(context.Background(), analysis.Context{Today: today}, d, options); err == nil {
			t.Errorf("%v was accepted", options)
		}
	}
	c := analysis.Context{Today: today}
	c.Settings.Show.ClassRule = "weight"
	if _, err := Spec().Run(context.Background(), c, d, nil); err == nil {
		t.Error("an unknown class rule was accepted")
	}
}

func TestWeighingErrorNeedsTenPairs(t *testing.T) {
	today := day(t, "2025-01-20")
	b := sussex(t, record.Male, "2023-04-01")
	d := &record.Dataset{Birds: []record.Bird{b}}
	on := today - 400
	for i := range PairsForCV {
		if w := WeighingErrorOf(d); w.Estimated() || w.CV != AssumedCV || w.Pairs != i {
			t.Fatalf("%d pairs: %+v", i, w)
		}
		// Distances of exactly 2 % in log weight: a CV of 0.02/0.6745/√2 = 2.10 % by the median.
		d.Observations = append(d.Observations, weighed("R12", on, 1000, int32(2*i)), weighed("R12", on+PairDays, 1000*math.Exp(0.02), int32(2*i+1)))
		on += 30
	}
	w := WeighingErrorOf(d)
	if !w.Estimated() {
		t.Fatalf("%+v", w)
	}
	near(t, "CV", w.CV, 0.02/0.6745/math.Sqrt2, 1e-9)
	near(t, "smallest change", w.SmallestChange(), 1.96*math.Sqrt2*w.CV, 1e-12)
	near(t, "smallest change at 3 %", WeighingError{CV: 0.03}.SmallestChange(), 0.083, 0.0005)
	apart := &record.Dataset{Birds: d.Birds, Observations: slices.Clone(d.Observations)}
	for i := 1; i < len(apart.Observations); i += 2 {
		apart.Observations[i].On = record.On(apart.Observations[i].On.First + 1)
	}
	if w := WeighingErrorOf(apart); w.Pairs != 0 {
		t.Errorf("pairs %d days apart were taken", PairDays+1)
	}
	young := &record.Dataset{Birds: []record.Bird{sussex(t, record.Male, "2024-12-01")}, Observations: d.Observations}
	if w := WeighingErrorOf(young); w.Pairs != 0 {
		t.Errorf("pairs of chicks were taken: %+v", w)
	}
}

func TestTablesAreRectangular(t *testing.T) {
	today := day(t, "2025-01-20")
	d := &record.Dataset{Birds: []record.Bird{sussex(t, record.Male, "2023-04-01"), {ID: "R13", Sex: record.Female, Breed: "Sebright"}}}
	for _, table := range standing(t, analysis.Context{Today: today}, d, nil).Tables() {
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Errorf("%s: %d cells, %d columns", table.Name, len(row), len(table.Columns))
			}
		}
		if len(table.Rows) != 3 {
			t.Errorf("%d rows", len(table.Rows))
		}
	}
}

package standard

import (
	"math"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/datasets"
	"keelmark/ingest/record"
)

func breeds(t *testing.T) []record.PublishedWeight {
	t.Helper()
	rows, err := datasets.Breeds()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func find(t *testing.T, want Wanted) Choice {
	t.Helper()
	c, refusal := Find(breeds(t), want)
	if refusal != nil {
		t.Fatalf("%+v: %s", want, refusal.Needs)
	}
	return c
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// The American Poultry Association's notice of November 2023 gives the example itself: a bird of 5 lb may weigh 4
// to 6 lb. Its reading for 26 oz (Ameraucana bantam hen, a 2020 post of the breed's club) is 590 to 885 g.
func TestTheAmericanRule(t *testing.T) {
	c := find(t, Wanted{Breed: "Hamburg", Size: record.Large, Country: "US", Class: record.Cock})
	band, refusal := BandFor(c, record.Cock, day(t, "2025-01-15"), Terms{})
	if refusal != nil {
		t.Fatal(refusal.Needs)
	}
	near(t, "4 lb", band.Low, 4*453.59237, 1e-9)
	near(t, "6 lb", band.High, 6*453.59237, 1e-9)
	if band.RuleSource == "" || !strings.Contains(band.Origin(), "extension sheet") || !strings.Contains(band.Origin(), "edition not stated") {
		t.Errorf("origin: %s", band.Origin())
	}
	c = find(t, Wanted{Breed: "ameraucanas", Size: record.Bantam, Class: record.Hen})
	band, _ = BandFor(c, record.Hen, day(t, "2025-01-15"), Terms{})
	if got := band.Text(analysis.Grams); got != "590 to 885 g (26 oz ± 20 %)" && got != "590 to 884 g (26 oz ± 20 %)" {
		t.Errorf("band: %s", got)
	}
	if got := band.Text(analysis.PoundsOz); got != "1 lb 5 oz to 1 lb 15 oz (26 oz ± 20 %)" {
		t.Errorf("band: %s", got)
	}
	for _, word := range []string{"disqualif", "cull"} {
		if strings.Contains(strings.ToLower(band.Rule+strings.Join(band.Caveats, " ")), word) {
			t.Errorf("a verdict: %s %v", band.Rule, band.Caveats)
		}
	}
}

func TestYoungBirdsComeUnderTheRuleInDecember(t *testing.T) {
	c := find(t, Wanted{Breed: "Sussex", Size: record.Large, Country: "US", Class: record.Pullet})
	spring := record.On(day(t, "2025-04-01"))
	for on, excepted := range map[string]bool{"2025-11-30": true, "2025-12-01": false, "2026-02-01": false} {
		band, _ := BandFor(c, record.Pullet, day(t, on), Terms{Hatched: spring})
		if got := strings.Contains(strings.Join(band.Caveats, "; "), "only from 1 December"); got != excepted {
			t.Errorf("%s: %v %v", on, got, band.Caveats)
		}
	}
	band, _ := BandFor(c, record.Pullet, day(t, "2025-07-01"), Terms{Hatched: spring, YoungFrom: "06-01", South: true})
	if strings.Contains(strings.Join(band.Caveats, "; "), "only from") {
		t.Errorf("the keeper's own date has come: %v", band.Caveats)
	}
}

func TestTheMoultIsAllowedForInItsSeason(t *testing.T) {
	c := find(t, Wanted{Breed: "Sussex", Size: record.Large, Country: "US", Class: record.Hen})
	for _, s := range []struct {
		on    string
		south bool
		want  bool
	}{{"2025-07-31", false, false}, {"2025-08-01", false, true}, {"2025-11-30", false, true}, {"2025-12-01", false, false}, {"2025-03-15", true, true}, {"2025-09-15", true, false}} {
		band, _ := BandFor(c, record.Hen, day(t, s.on), Terms{South: s.south})
		if got := strings.Contains(strings.Join(band.Caveats, "; "), "moult"); got != s.want {
			t.Errorf("%+v: %v", s, band.Caveats)
		}
	}
}

func TestNoToleranceIsMadeUp(t *testing.T) {
	c := find(t, Wanted{Breed: "Light Sussex", Size: record.Large, Country: "GB", Class: record.Cock})
	band, _ := BandFor(c, record.Cock, day(t, "2025-01-15"), Terms{})
	if band.Stated() || band.Rule != "a source that states no tolerance" || !math.IsNaN(band.Chance(LogNormal(4000, 0.05))) {
		t.Errorf("%+v", band)
	}
	band, _ = BandFor(c, record.Cock, day(t, "2025-01-15"), Terms{Share: 0.1})
	near(t, "10 % below 9 lb", band.Low, 0.9*9*453.59237, 1e-9)
	if !strings.Contains(band.Rule, "the keeper set") {
		t.Errorf("rule: %s", band.Rule)
	}
	// The keeper's percentage does not replace a rule that the standard states.
	c = find(t, Wanted{Breed: "Sussex", Size: record.Large, Country: "US", Class: record.Cock})
	band, _ = BandFor(c, record.Cock, day(t, "2025-01-15"), Terms{Share: 0.1})
	near(t, "20 % below 9 lb", band.Low, 0.8*9*453.59237, 1e-9)
}

func TestOpenEndedFigures(t *testing.T) {
	c := find(t, Wanted{Breed: "Sussex", Size: record.Bantam, Country: "South Africa", Class: record.Hen})
	band, _ := BandFor(c, record.Hen, day(t, "2025-01-15"), Terms{})
	near(t, "chance under the maximum of 1.5 kg", band.Chance(LogNormal(1500, 0.03)), 0.5, 1e-6)
	if got := band.Text(analysis.Grams); got != "at most 1500 g (1.5 kg)" {
		t.Error(got)
	}
	c = find(t, Wanted{Breed: "Silkie", Country: "ZA", Size: record.Large, Class: record.Cock})
	if band, _ = BandFor(c, record.Cock, day(t, "2025-01-15"), Terms{}); !math.IsInf(band.High, 1) {
		t.Errorf("a minimum: %+v", band)
	}
	near(t, "chance over the minimum", band.Chance(LogNormal(2*band.Low, 0.03)), 1, 1e-9)
	c = find(t, Wanted{Breed: "Hamburg", Size: record.Bantam, Class: record.Cock})
	band, _ = BandFor(c, record.Cock, day(t, "2025-01-15"), Terms{Share: 0.2})
	near(t, "a printed range keeps its lower end", band.Low, 680, 1e-9)
	near(t, "and its upper end", band.High, 790, 1e-9)
}

func TestSebrightsHaveNoYoungWeights(t *testing.T) {
	for _, class := range []record.Class{record.Cockerel, record.Pullet} {
		c := find(t, Wanted{Breed: "Sebrights", Class: class})
		_, refusal := BandFor(c, class, day(t, "2025-01-15"), Terms{})
		if refusal == nil || !strings.Contains(refusal.Needs, "prints no "+string(class)+" weight for Sebright") {
			t.Errorf("%s: %v", class, refusal)
		}
	}
	c := find(t, Wanted{Breed: "Sebright", Class: record.Cock})
	if old(c.Chosen) {
		t.Errorf("the bulletin of 1899 comes before a present edition: %+v", c.Chosen)
	}
	if _, refusal := BandFor(c, record.Cock, day(t, "2025-01-15"), Terms{}); refusal != nil {
		t.Error(refusal.Needs)
	}
}

func TestFindChoosesByItsRuleAndNamesTheRest(t *testing.T) {
	for _, c := range []struct {
		want    Wanted
		country string
		text    string // in the standard's name
	}{
		{Wanted{Breed: "Sussex", Size: record.Large, Country: "Great Britain", Class: record.Cock}, "GB", ""},
		{Wanted{Breed: "Sussex", Size: record.Large, Country: "ZA", Class: record.Cock}, "ZA", "Southern African"},
		{Wanted{Breed: "Sussex", Size: record.Large, Country: "GB", Standard: "American Standard", Class: record.Cock}, "US", "American Standard"},
		{Wanted{Breed: "light sussex bantams", Country: "US", Class: record.Cock}, "US", "American Standard"},
		{Wanted{Breed: "Sussex, speckled", Size: record.Large, Country: "US", Class: record.Cock}, "US", "American Standard"},
		{Wanted{Breed: "Silver Spangled Hamburghs", Size: record.Large, Class: record.Cock}, "US", "American Standard"},
		{Wanted{Breed: "Barred Rock", Size: record.Large, Country: "US", Class: record.Cock}, "US", ""},
	} {
		got := find(t, c.want)
		if got.Chosen.Country != c.country || !strings.Contains(got.Chosen.Standard, c.text) {
			t.Errorf("%+v: %s", c.want, RowName(got.Chosen))
		}
	}
	c := find(t, Wanted{Breed: "Sussex", Size: record.Large, Country: "GB", Class: record.Cockerel})
	caveats := strings.Join(c.Caveats, "; ")
	if !strings.Contains(caveats, "4.0 kg (ZA, club page)") {
		t.Errorf("a weight that differs is not named in %q", caveats)
	}
	for _, printed := range []string{"7.5 lb (US", "3.4 kg"} { // the same figure, and the same in metric
		if strings.Contains(caveats, printed) {
			t.Errorf("%s agrees and is named in %q", printed, caveats)
		}
	}
	c = find(t, Wanted{Breed: "Sussex", Size: record.Large, Country: "New Zealand", Class: record.Cock})
	if !strings.Contains(strings.Join(c.Caveats, "; "), "no row from New Zealand") {
		t.Errorf("%v", c.Caveats)
	}
	own := record.PublishedWeight{Breed: "Sussex", Size: record.Large, SourceKind: record.OwnTable, Standard: "my club", Unit: "g",
		Weights: map[record.Class]record.WeightRange{record.Cock: {Low: 3900, High: 4300, Printed: "3900-4300"}}}
	mine, refusal := Find(append(breeds(t), own), Wanted{Breed: "Sussex", Size: record.Large, Country: "GB", Class: record.Cock})
	if refusal != nil || mine.Chosen.Standard != "my club" {
		t.Errorf("the keeper's own table: %+v %v", mine.Chosen, refusal)
	}
	if name := RowName(mine.Chosen); name != "your own table, my club" {
		t.Errorf("shown as %q", name)
	}
	// It comes first only for what it gives: another class or variety keeps its published weight.
	mine, refusal = Find(append(breeds(t), own), Wanted{Breed: "Sussex", Size: record.Large, Country: "GB", Class: record.Hen})
	if refusal != nil || mine.Chosen.Standard == "my club" {
		t.Errorf("a class that the keeper's own table lacks: %+v %v", mine.Chosen, refusal)
	}
	own.Variety = "Speckled"
	for variety, want := range map[string]bool{"Speckled": true, "Light": false} {
		mine, refusal = Find(append(breeds(t), own), Wanted{Breed: "Sussex", Variety: variety, Size: record.Large, Country: "GB", Class: record.Cock})
		if refusal != nil || (mine.Chosen.Standard == "my club") != want {
			t.Errorf("%s: %+v %v", variety, mine.Chosen, refusal)
		}
	}
	band, refusal := BandFor(Choice{Chosen: own}, record.Cock, 20000, Terms{})
	if refusal != nil || band.Rule != "your own table as printed" || !strings.HasPrefix(band.Origin(), "your own table, my club") {
		t.Errorf("%+v %v", band, refusal)
	}
}

func TestFindRefusesInWords(t *testing.T) {
	for _, c := range []struct {
		want Wanted
		say  string
	}{
		{Wanted{}, "breed is not written"},
		{Wanted{Breed: "Wyandot"}, "perhaps Wyandotte is meant"},
		{Wanted{Breed: "Griffin"}, "no published weight"},
		{Wanted{Breed: "Sussex"}, "size is not written"},
		{Wanted{Breed: "Sebright", Size: record.Large}, "in size large"},
	} {
		if _, refusal := Find(breeds(t), c.want); refusal == nil || !strings.Contains(refusal.Needs, c.say) || refusal.Next == "" {
			t.Errorf("%+v: %v", c.want, refusal)
		}
	}
	if _, refusal := Find(nil, Wanted{Breed: "Sussex"}); refusal == nil {
		t.Error("an empty table has a weight")
	}
}

// Every published breed is found under its own name, and never as another breed.
func TestEveryBreedFindsItself(t *testing.T) {
	rows := breeds(t)
	for _, r := range rows {
		c, refusal := Find(rows, Wanted{Breed: r.Breed, Variety: r.Variety, Size: r.Size, Country: r.Country})
		if refusal != nil {
			t.Errorf("%s: %s", r.Breed, refusal.Needs)
			continue
		}
		own, _ := synonyms().words(r.Breed)
		got, _ := synonyms().words(c.Chosen.Breed)
		if strings.Join(own, " ") != strings.Join(got, " ") {
			t.Errorf("%s finds %s", r.Breed, c.Chosen.Breed)
		}
	}
}

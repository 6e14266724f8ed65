package standard

import (
	"slices"
	"testing"
	"time"

	"keelmark/ingest/record"
)

func day(t *testing.T, s string) record.Day {
	t.Helper()
	d, err := record.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestClassFollowsTheShowsRule(t *testing.T) {
	season := record.ShowSettings{ClassRule: SeasonStart, SeasonStart: "12-01"}
	for _, c := range []struct {
		name    string
		show    record.ShowSettings
		hatched record.Date
		on      string
		want    []record.Class
	}{
		{"the day before the birthday", record.ShowSettings{ClassRule: Birthday}, record.On(day(t, "2024-06-10")), "2025-06-09", []record.Class{record.Cockerel}},
		{"the birthday", record.ShowSettings{ClassRule: Birthday}, record.On(day(t, "2024-06-10")), "2025-06-10", []record.Class{record.Cock}},
		{"a leap day's birthday", record.ShowSettings{ClassRule: Birthday}, record.On(day(t, "2024-02-29")), "2025-02-28", []record.Class{record.Cock}},
		{"hatched in the year of the show", record.ShowSettings{ClassRule: CalendarYear}, record.On(day(t, "2025-01-01")), "2025-12-31", []record.Class{record.Cockerel}},
		{"hatched the year before", record.ShowSettings{ClassRule: CalendarYear}, record.On(day(t, "2024-12-31")), "2025-01-01", []record.Class{record.Cock}},
		{"hatched on the season's start", season, record.On(day(t, "2024-12-01")), "2025-11-30", []record.Class{record.Cockerel}},
		{"hatched before it", season, record.On(day(t, "2024-11-30")), "2025-11-30", []record.Class{record.Cock}},
		{"a new season has begun", season, record.On(day(t, "2024-12-01")), "2025-12-01", []record.Class{record.Cock}},
		{"hatched in a month that straddles", record.ShowSettings{}, record.InMonth(2024, time.June), "2025-06-10", []record.Class{record.Cock, record.Cockerel}},
		{"hatched in a month that does not", record.ShowSettings{}, record.InMonth(2024, time.June), "2025-07-01", []record.Class{record.Cock}},
		{"hatch year still running", record.ShowSettings{}, record.InYear(2025), "2025-06-01", []record.Class{record.Cockerel}},
		{"hatch date unknown", record.ShowSettings{}, record.Date{}, "2025-06-10", []record.Class{record.Cock, record.Cockerel}},
	} {
		rule, err := RuleOf(c.show)
		if err != nil {
			t.Fatal(err)
		}
		got, refusal := ClassOn(record.Bird{ID: "R1", Sex: record.Male, Hatched: c.hatched}, day(t, c.on), rule)
		if refusal != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v %v, want %v", c.name, got, refusal, c.want)
		}
	}
}

func TestClassRefusesWithoutSexOrBeforeHatching(t *testing.T) {
	on := day(t, "2025-06-10")
	if _, refusal := ClassOn(record.Bird{ID: "R1"}, on, Rule{}); refusal == nil || refusal.Next == "" {
		t.Errorf("no sex: %v", refusal)
	}
	if _, refusal := ClassOn(record.Bird{ID: "R1", Sex: record.Female, Hatched: record.On(on + 1)}, on, Rule{}); refusal == nil {
		t.Error("a bird that hatches tomorrow has a class today")
	}
	if got, refusal := ClassOn(record.Bird{ID: "R1", Sex: record.Female, Hatched: record.On(on)}, on, Rule{}); refusal != nil || got[0] != record.Pullet {
		t.Errorf("hatched today: %v %v", got, refusal)
	}
}

func TestRuleNamesItsCure(t *testing.T) {
	for _, s := range []record.ShowSettings{{ClassRule: "age"}, {ClassRule: SeasonStart}, {ClassRule: SeasonStart, SeasonStart: "1 Dec"}} {
		if _, err := RuleOf(s); err == nil {
			t.Errorf("%+v was accepted", s)
		}
	}
	if r, err := RuleOf(record.ShowSettings{}); err != nil || !r.Assumed {
		t.Errorf("no rule: %+v %v", r, err)
	}
}

func TestRecordsNarrowTheHatchDate(t *testing.T) {
	seen := day(t, "2024-03-05")
	d := &record.Dataset{Observations: []record.Observation{{Bird: "R1", On: record.On(seen)}, {Bird: "R2", On: record.On(seen - 900)}}}
	// Seen more than a year before: an adult, though nobody wrote when it hatched.
	b := KnownHatch(d, record.Bird{ID: "R1", Sex: record.Female})
	if got, _ := ClassOn(b, day(t, "2025-03-05"), Rule{}); !slices.Equal(got, []record.Class{record.Hen}) {
		t.Errorf("seen a year ago: %v", got)
	}
	if got, _ := ClassOn(b, day(t, "2025-03-04"), Rule{}); len(got) != 2 {
		t.Errorf("seen a day less than a year ago: %v", got)
	}
	b = KnownHatch(d, record.Bird{ID: "R1", Sex: record.Female, Hatched: record.InYear(2024)})
	if b.Hatched.Last != seen {
		t.Errorf("hatched %v, seen %v", b.Hatched, seen)
	}
	exact := record.Bird{ID: "R1", Hatched: record.On(seen - 10)}
	if b := KnownHatch(d, exact); b.Hatched != exact.Hatched {
		t.Errorf("an exact date was changed to %v", b.Hatched)
	}
}

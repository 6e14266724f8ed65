package record

import (
	"testing"
	"time"
)

func TestPlacesReadAsASpreadsheetShowsThem(t *testing.T) {
	// Column letters as every spreadsheet program counts them: A is 1, Z 26, AA 27, XFD 16384 (the last
	// column of ECMA-376 worksheets).
	for col, want := range map[int]string{0: "", 1: "A", 26: "Z", 27: "AA", 52: "AZ", 53: "BA", 702: "ZZ", 703: "AAA", 16384: "XFD"} {
		if got := ColumnName(col); got != want {
			t.Errorf("ColumnName(%d) = %q, want %q", col, got, want)
		}
	}
	r := Ref{"weights.xlsx", "Flock A", 14, 4}
	if got, want := r.String(), "weights.xlsx, sheet Flock A, D14"; got != want {
		t.Errorf("String = %q, want %q", got, want)
	}
	if got, want := r.Key(), "weights.xlsx!Flock A!D14"; got != want {
		t.Errorf("Key = %q, want %q", got, want)
	}
	if got, want := (Ref{File: "a.csv", Row: 3}).String(), "a.csv, row 3"; got != want {
		t.Errorf("String = %q, want %q", got, want)
	}
	if got, want := (Ref{File: "a.csv"}).String(), "a.csv"; got != want {
		t.Errorf("String = %q, want %q", got, want)
	}
}

func TestPlacesAreOrdered(t *testing.T) {
	ordered := []Ref{{"a", "", 1, 1}, {"a", "", 1, 2}, {"a", "", 2, 1}, {"a", "s", 1, 1}, {"b", "", 1, 1}}
	for i := range ordered {
		for j := range ordered {
			got := ordered[i].Compare(ordered[j])
			if (got < 0) != (i < j) || (got == 0) != (i == j) {
				t.Errorf("%v against %v: %d", ordered[i], ordered[j], got)
			}
		}
	}
}

func TestDaysFollowTheCivilCalendar(t *testing.T) {
	// 2000 was a leap year, 1900 was not (Gregorian rule, papal bull Inter gravissimas, 1582).
	if _, ok := DayOf(2000, time.February, 29); !ok {
		t.Error("2000-02-29 refused")
	}
	for _, bad := range [][3]int{{1900, 2, 29}, {2025, 4, 31}, {2025, 13, 1}, {2025, 0, 1}, {2025, 1, 0}} {
		if d, ok := DayOf(bad[0], time.Month(bad[1]), bad[2]); ok {
			t.Errorf("%v became %v", bad, d)
		}
	}
	d, err := ParseDay("2025-03-01")
	if err != nil || d.String() != "2025-03-01" || d.Weekday() != time.Saturday || d.YearDay() != 60 {
		t.Errorf("2025-03-01: %v %v %v %v", d, d.Weekday(), d.YearDay(), err)
	}
	if _, err := ParseDay("1/3/25"); err == nil {
		t.Error("1/3/25 read as ISO")
	}
	before, _ := ParseDay("1969-12-31")
	if before != -1 || before.String() != "1969-12-31" {
		t.Errorf("the day before the epoch is %d, %v", before, before)
	}
	jan31, _ := ParseDay("2024-01-31")
	for n, want := range map[int]string{1: "2024-02-29", 13: "2025-02-28", -2: "2023-11-30", 0: "2024-01-31"} {
		if got := jan31.AddMonths(n).String(); got != want {
			t.Errorf("2024-01-31 plus %d months is %s, want %s", n, got, want)
		}
	}
}

func TestDatesKeepTheirPrecision(t *testing.T) {
	day, _ := ParseDay("2025-03-03")
	cases := []struct {
		date        Date
		text        string
		first, last string
	}{
		{On(day), "2025-03-03", "2025-03-03", "2025-03-03"},
		{InMonth(2024, time.February), "2024-02", "2024-02-01", "2024-02-29"},
		{InYear(2025), "2025", "2025-01-01", "2025-12-31"},
		{WeekFrom(day), "week from 2025-03-03", "2025-03-03", "2025-03-09"},
	}
	for _, c := range cases {
		if c.date.String() != c.text || c.date.First.String() != c.first || c.date.Last.String() != c.last {
			t.Errorf("%v: %v to %v, want %s, %s to %s", c.date, c.date.First, c.date.Last, c.text, c.first, c.last)
		}
		if !c.date.Known() || c.date.Exact() != (c.first == c.last) {
			t.Errorf("%v: known %v, exact %v", c.date, c.date.Known(), c.date.Exact())
		}
	}
	if (Date{}).Known() || (Date{}).String() != "" {
		t.Error("the zero Date is known")
	}
	if _, known := (Age{}).Days(); known {
		t.Error("the zero Age is known")
	}
	if days, known := AgeDays(0).Days(); !known || days != 0 {
		t.Error("the age of a chick on its first day is lost")
	}
}

func TestABirdIsFoundByTheBestKeyOnly(t *testing.T) {
	d := Dataset{Birds: []Bird{
		{ID: "R1", Ring: "R1", Name: "Ærø"},
		{ID: "R2", Ring: "R2", Name: "R1"}, // a name like another bird's ring
		{ID: "x", Name: "Twin"}, {ID: "y", Name: "Twin", Aliases: []string{"other"}},
	}}
	for key, want := range map[string]string{"R1": "R1", "Ærø": "R1", "other": "y"} {
		if b, ok := d.Bird(key); !ok || b.ID != want {
			t.Errorf("%q found %q %v, want %q", key, b.ID, ok, want)
		}
	}
	for _, key := range []string{"Twin", "nobody", ""} {
		if b, ok := d.Bird(key); ok {
			t.Errorf("%q found %q", key, b.ID)
		}
	}
}

func TestTheLedgerCountsEveryCell(t *testing.T) {
	var l Ledger
	l.Mark(3, 2, AsRecord)
	l.Mark(1, 1, AsAside)
	l.Mark(3, 2, AsQuestion) // the last word counts
	if l.At(3, 2) != AsQuestion || l.At(3, 1) != Blank || l.At(9, 9) != Blank || l.At(0, 0) != Blank {
		t.Errorf("fates: %v %v %v", l.At(3, 2), l.At(3, 1), l.At(9, 9))
	}
	n := l.Tally()
	if n[AsQuestion] != 1 || n[AsAside] != 1 || n[AsRecord] != 0 {
		t.Errorf("tally %v", n)
	}
}

func TestObservationsSortByDateThenAgeThenPlace(t *testing.T) {
	day := func(s string) Date { d, _ := ParseDay(s); return On(d) }
	d := Dataset{Observations: []Observation{
		{Bird: "a", Trait: Weight, On: day("2025-02-01"), At: Ref{Row: 2}},
		{Bird: "a", Trait: Weight, On: day("2025-01-01"), At: Ref{Row: 3}},
		{Bird: "a", Trait: Weight, Age: AgeDays(7), At: Ref{Row: 5}},
		{Bird: "a", Trait: Weight, Age: AgeDays(0), At: Ref{Row: 9}},
		{Bird: "a", Trait: Condition, At: Ref{Row: 1}},
		{Bird: "b", Trait: Weight, At: Ref{Row: 1}},
	}}
	var rows []int32
	for _, o := range d.Of("a", Weight) {
		rows = append(rows, o.At.Row)
	}
	if want := []int32{9, 5, 3, 2}; len(rows) != 4 || rows[0] != want[0] || rows[1] != want[1] || rows[2] != want[2] || rows[3] != want[3] {
		t.Errorf("rows %v, want %v", rows, want)
	}
	if g := d.ByBird(Weight); len(g) != 2 || len(g["a"]) != 4 || len(g["b"]) != 1 {
		t.Errorf("groups %v", g)
	}
}

func TestTheTraitTableIsWhole(t *testing.T) {
	seen := map[Trait]bool{}
	for _, s := range Traits() {
		if s.Label == "" || s.Low >= s.High || seen[s.Trait] {
			t.Errorf("row %+v", s)
		}
		seen[s.Trait] = true
		if got, ok := s.Trait.Lookup(); !ok || got != s {
			t.Errorf("Lookup(%q) = %+v, %v", s.Trait, got, ok)
		}
	}
	if _, ok := Trait("charm").Lookup(); ok {
		t.Error("an unknown trait has a row")
	}
}

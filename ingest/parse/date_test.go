package parse

import (
	"testing"
	"time"

	"keelmark/ingest/record"
)

// Texts marked f stand in the invented workbooks of the importer's test set, with the day of its key.
// Weekdays and calendar were checked against GNU date.
func TestDateReadsEveryStyle(t *testing.T) {
	dmy, mdy := DateIn{Order: DMY}, DateIn{Order: MDY}
	tab := DateIn{Order: DMY, Year: 2023}
	for _, c := range []struct {
		text string
		in   DateIn
		want string
	}{
		{"8/1/23", dmy, "2023-01-08"},                 // f
		{"27/11/23", DateIn{}, "2023-11-27"},          // f: no other order has such a day
		{"12.01.2024", dmy, "2024-01-12"},             // f
		{"1/11/2025", mdy, "2025-01-11"},              // f
		{"2nd September 24", DateIn{}, "2024-09-02"},  // f
		{"29 September 2024", DateIn{}, "2024-09-29"}, // f
		{"26th Oct 24", DateIn{}, "2024-10-26"},       // f
		{"22nd Nov 24", DateIn{}, "2024-11-22"},       // f
		{"2024-05-13", mdy, "2024-05-13"},
		{"2024/6/3", DateIn{}, "2024-06-03"},
		{"2024-05-13T14:30:00Z", DateIn{}, "2024-05-13"},
		{"2024-05-13 14:30", dmy, "2024-05-13"},
		{"13/5/24 7.30am", dmy, "2024-05-13"},
		{"4 June 2024 at 08:15", DateIn{}, "2024-06-04"},
		{"20240501", DateIn{}, "2024-05-01"}, {"01052024", DateIn{}, "2024-05-01"},
		{"24/12/31", DateIn{Order: YMD}, "2024-12-31"},
		{"3rd Sept", tab, "2023-09-03"}, {"27/5", tab, "2023-05-27"}, {"4.6.", tab, "2023-06-04"}, {"24 Nov", tab, "2023-11-24"},
		{"4. 6. 2024", dmy, "2024-06-04"}, {"4.VI.2024", DateIn{}, "2024-06-04"}, {"3-Jun-24", DateIn{}, "2024-06-03"},
		{"Sat 6/4/2024", DateIn{}, "2024-04-06"}, {"Monday 3rd June 2024", DateIn{}, "2024-06-03"}, {"Mo, 3.6.2024", dmy, "2024-06-03"},
		{"June 4, 2024", DateIn{}, "2024-06-04"}, {"Sept. 4th 2024", DateIn{}, "2024-09-04"}, {"4th of June 2024", DateIn{}, "2024-06-04"},
		{"12. März 2024", DateIn{}, "2024-03-12"}, {"8.Mai 24", DateIn{}, "2024-05-08"},
		{"1er mai 2024", DateIn{}, "2024-05-01"}, {"14 août 2024", DateIn{}, "2024-08-14"}, {"4 févr. 2024", DateIn{}, "2024-02-04"},
		{"4 de junio de 2024", DateIn{}, "2024-06-04"}, {"3 maart 2024", DateIn{}, "2024-03-03"}, {"4 giugno 2024", DateIn{}, "2024-06-04"},
		{"5 de março de 2024", DateIn{}, "2024-03-05"}, {"3 kwietnia 2024", DateIn{}, "2024-04-03"}, {"9 października 2024", DateIn{}, "2024-10-09"},
		{"3. maj 2024", DateIn{}, "2024-05-03"}, {"5. desember 2024", DateIn{}, "2024-12-05"}, {"7 augusti 2024", DateIn{}, "2024-08-07"}, {"5. září 2024", DateIn{}, "2024-09-05"},
		{"Febuary 3 2024", DateIn{}, "2024-02-03"},
		{"1/1/69", dmy, "1969-01-01"}, {"1/1/68", dmy, "2068-01-01"}, // the turn of POSIX strptime
		{"\u200b4\u00a0June\u00a02024", DateIn{}, "2024-06-04"}, {"０４/０６/２０２４", dmy, "2024-06-04"},
		{"5/5/24", DateIn{}, "2024-05-05"}, // the same day in both orders
	} {
		got, p := Date(T(c.text), c.in)
		if p != nil || got.On.String() != c.want || !got.On.Exact() {
			t.Errorf("%q in %+v: got %s, %v; want %s", c.text, c.in, got.On, p, c.want)
		}
	}
}

func TestDateKeepsItsPrecision(t *testing.T) {
	for _, c := range []struct {
		text        string
		in          DateIn
		first, last string
		precision   record.Precision
	}{
		{"November 2024", DateIn{}, "2024-11-01", "2024-11-30", record.ToMonth}, // f
		{"Nov '24", DateIn{}, "2024-11-01", "2024-11-30", record.ToMonth},
		{"06/2024", DateIn{}, "2024-06-01", "2024-06-30", record.ToMonth},
		{"2024-06", DateIn{}, "2024-06-01", "2024-06-30", record.ToMonth},
		{"early May 2023", DateIn{}, "2023-05-01", "2023-05-15", record.ToMonth},
		{"end of June 2024", DateIn{}, "2024-06-16", "2024-06-30", record.ToMonth},
		{"w/c 4 June 2024", DateIn{}, "2024-06-04", "2024-06-10", record.ToWeek},
		{"week commencing 3/6/24", DateIn{Order: DMY}, "2024-06-03", "2024-06-09", record.ToWeek},
		{"week ending 9 June 2024", DateIn{}, "2024-06-03", "2024-06-09", record.ToWeek},
		{"2024-W23", DateIn{}, "2024-06-03", "2024-06-09", record.ToWeek}, // ISO 8601: 3 June 2024 began week 23
		{"KW 1 2025", DateIn{}, "2024-12-30", "2025-01-05", record.ToWeek},
		{"wk 23", DateIn{Year: 2024}, "2024-06-03", "2024-06-09", record.ToWeek},
		{"spring 23", DateIn{Hemisphere: "north"}, "2023-03-01", "2023-05-31", record.ToSeason},
		{"spring 23", DateIn{Hemisphere: "south"}, "2023-09-01", "2023-11-30", record.ToSeason},
		{"Herbst 2024", DateIn{Hemisphere: "north"}, "2024-09-01", "2024-11-30", record.ToSeason},
		{"winter 23/24", DateIn{Hemisphere: "north"}, "2023-12-01", "2024-02-29", record.ToSeason},
		{"winter 2023", DateIn{Hemisphere: "south"}, "2023-06-01", "2023-08-31", record.ToSeason},
		{"late 2023", DateIn{}, "2023-09-01", "2023-12-31", record.ToSeason},
		{"2023", DateIn{}, "2023-01-01", "2023-12-31", record.ToYear},
	} {
		got, p := Date(T(c.text), c.in)
		if p == nil || p.Class != DateDayMissing || p.Action != Tell || got.On.First.String() != c.first || got.On.Last.String() != c.last || got.On.Precision != c.precision {
			t.Errorf("%q: got %s to %s (%s), %v", c.text, got.On.First, got.On.Last, got.On.Precision, p)
		}
	}
}

func TestDateAsksInsteadOfGuessing(t *testing.T) {
	today, _ := record.ParseDay("2025-12-31")
	for _, c := range []struct {
		cell  Cell
		in    DateIn
		class Class
		first string // Value of the first reading
	}{
		{T("5/4/2025"), DateIn{}, DateAmbiguous, "dmy"},
		{T("5/4/2025"), DateIn{Order: MDY, Weekday: "Sat"}, DateOrderConflict, "2025-04-05"}, // f
		{T("7/12/2025"), DateIn{Order: MDY, Weekday: "Mon"}, WeekdayMismatch, "2025-07-12"},  // f
		{T("5/13/2024"), DateIn{Order: DMY}, DateOrderConflict, "2024-05-13"},
		{T("31/11/25"), DateIn{Order: DMY}, DateInvalid, "2025-11-30"}, // f
		{T("30 February 2024"), DateIn{}, DateInvalid, ""},
		{T("Dec"), DateIn{Year: 2025}, DateDayMissing, "December 2025"}, // f
		{T("Dec"), DateIn{}, DateYearMissing, "-"},
		{T("27/5"), DateIn{}, DateYearMissing, "-"},
		{T("Mon 4/6"), DateIn{}, DateYearMissing, "-"},
		{T("45627"), DateIn{}, DateSerial, "2024-12-01"},                            // f
		{Cell{Text: "45717", Stored: Number}, DateIn{}, DateSerial, "2025-03-01"},   // f
		{Cell{Text: "5", Stored: Dated}, DateIn{}, DateAncient, ""},                 // f: 1900-01-05
		{Cell{Text: "55811", Stored: Dated}, DateIn{Latest: today}, DateFuture, ""}, // f: 2052-10-19
		{T("soon after Xmas"), DateIn{}, DateUnreadable, ""},                        // f
		{T(""), DateIn{}, DateMissing, "-"},                                         // f
		{T("24/12/31"), DateIn{Latest: today}, DateAmbiguous, "dmy"},                // 2031, or year first
		{T("Nov 24"), DateIn{}, DateAmbiguous, "November 2024"},
		{T("5/24"), DateIn{}, DateAmbiguous, "May 2024"},
		{T("spring 23"), DateIn{}, SeasonAmbiguous, "north"},
		{T("winter 23"), DateIn{Hemisphere: "north"}, SeasonAmbiguous, "January 2023"},
		{T("4 June 2024?"), DateIn{}, Doubtful, "2024-06-04"},
		{T("Tuesday 3rd June 2024"), DateIn{}, WeekdayMismatch, "2024-06-03"},
		{T("4/5 June 2024"), DateIn{}, DateUnreadable, ""},
		{T("2022-W53"), DateIn{}, DateInvalid, ""}, // 2022 had 52 weeks
		{T("?"), DateIn{}, UnknownValue, ""},
		{Cell{Text: "1", Stored: Bool}, DateIn{}, BooleanCell, ""},
		{Cell{Text: "60", Stored: Dated}, DateIn{}, DateUnreadable, ""}, // 29 February 1900
		{Cell{Text: "4.6", Stored: Number}, DateIn{}, DateUnreadable, ""},
	} {
		got, p := Date(c.cell, c.in)
		first := "-"
		if p != nil && len(p.Readings) > 0 {
			first = p.Readings[0].Value
		}
		if !p.Holds() || p.Class != c.class || first != c.first || got.On.Known() {
			t.Errorf("%q in %+v: got %s, %+v; want %s, first reading %q", c.cell.Text, c.in, got.On, p, c.class, c.first)
		}
	}
}

func TestDateReadingsReadWithoutAQuestion(t *testing.T) {
	for _, text := range []string{"5/4/2025", "31/11/25", "Dec", "45627", "Nov 24", "5/24", "spring 23", "winter 23", "4 June 2024?", "c. June 2024", "w/c 4 June 2024?", "Tuesday 3rd June 2024", "31/11/25"} {
		for _, in := range []DateIn{{}, {Order: DMY, Year: 2024, Hemisphere: "north"}} {
			_, p := Date(T(text), in)
			if p == nil {
				continue
			}
			for _, r := range p.Readings {
				answered, whole := in.Answered(r.Value)
				cell := T(text)
				if !whole {
					cell = T(r.Value)
				}
				if _, q := Date(cell, answered); q.Holds() && q.Class != DateMissing {
					t.Errorf("%q answered %q still asks: %s", text, r.Value, q.Message)
				}
			}
		}
	}
}

// Source: ECMA-376 Part 1 (5th ed. 2016), 18.17.4.1: 1900-01-01 is 1, 1904-01-01 is 0 in the 1904 system, and
// both systems differ by 1462 days. 45388 is 2024-04-06, as LibreOffice 7 shows it.
func TestSerial(t *testing.T) {
	for _, c := range []struct {
		serial float64
		sys    System
		day    string
		clock  string
	}{
		{1, From1900, "1900-01-01", ""}, {59, From1900, "1900-02-28", ""}, {61, From1900, "1900-03-01", ""},
		{45388, From1900, "2024-04-06", ""}, {45388.5, From1900, "2024-04-06", "12:00"}, {45388.99999, From1900, "2024-04-07", ""},
		{0, From1904, "1904-01-01", ""}, {45388 - 1462, From1904, "2024-04-06", ""}, {2958465, From1900, "9999-12-31", ""},
	} {
		day, clock, ok := Serial(c.serial, c.sys)
		if !ok || day.String() != c.day || clock != c.clock {
			t.Errorf("%v: got %s %s %v, want %s %s", c.serial, day, clock, ok, c.day, c.clock)
		}
	}
	for _, v := range []float64{0, 60, -1, 2958466} {
		if _, _, ok := Serial(v, From1900); ok {
			t.Errorf("%v is a day", v)
		}
	}
}

func TestColumnOrder(t *testing.T) {
	for _, c := range []struct {
		name      string
		texts     []string
		weekdays  []string
		order     Order
		at        int
		conflicts int
	}{
		{"a part above 12", []string{"8/1/23", "19/3/23"}, nil, DMY, 1, 0}, // f
		{"points", []string{"12.01.2024", "16.02.2024"}, nil, DMY, 1, 0},   // f
		{"weekdays beside", []string{"1/11/2025", "2/1/2025", "3/8/2025", "4/5/2025", "5/10/2025", "6/7/2025", "5/4/2025"}, []string{"Sat", "Sat", "Sat", "Sat", "Sat", "Sat", "Sat"}, MDY, 1, 1}, // f; 11/1 is a Saturday both ways
		{"weekday in the text", []string{"Sat 6/4/2024"}, nil, DMY, 0, 0},
		{"nothing", []string{"1/2/2024", "3/4/2024"}, nil, "", -1, 0},
		{"contradiction", []string{"13/2/2024", "2/13/2024"}, nil, "", -1, 0},
		{"one slip among many", []string{"13/2/24", "14/2/24", "15/2/24", "16/2/24", "17/2/24", "2/18/24"}, nil, DMY, 0, 1},
		{"runs forward", []string{"1/2/24", "8/2/24", "1/3/24", "8/3/24", "2/4/24", "9/4/24", "3/5/24"}, nil, DMY, -1, 0},
		{"year first", []string{"24/01/05", "24/02/09", "24/03/11", "24/04/02", "24/05/06", "24/06/12", "24/07/10"}, nil, YMD, -1, 0},
		{"no years", []string{"5/27", "6/3", "6/30", "7/14"}, nil, MDY, 0, 0},
		{"months with years", []string{"5/22", "6/23", "5/24", "6/24"}, nil, "", -1, 0},
		{"typed by the file", []string{"2024-05-13"}, nil, "", -1, 0},
	} {
		ev := ColumnOrder(cells(c.texts...), c.weekdays)
		if ev.Order != c.order || ev.At != c.at || len(ev.Conflicts) != c.conflicts || c.order != "" && ev.Reason == "" {
			t.Errorf("%s: got %+v", c.name, ev)
		}
	}
}

func TestWeekday(t *testing.T) {
	for text, want := range map[string]time.Weekday{"Sat": 6, "saturday": 6, "Mo": 1, "dimanche": 0, "Thurs.": 4, "lör": 6, "mié": 3, "mar.": 2} {
		if got, ok := Weekday(text); !ok || got != want {
			t.Errorf("%q: got %s %v", text, got, ok)
		}
	}
	if _, ok := Weekday("Dot"); ok {
		t.Error("a bird's name is no weekday")
	}
}

func TestAge(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		days       int
		class      Class
	}{
		{"12 wks", "", 84, ""}, {"12wk", "", 84, ""}, {"d21", "", 21, ""}, {"Day 21", "", 21, ""}, {"wk 8", "", 56, ""},
		{"8 weeks 3 days", "", 59, ""}, {"8w3d", "", 59, ""}, {"12", "w", 84, ""}, {"21", "d", 21, ""}, {"12 weeks old", "", 84, ""}, {"12. Woche", "", 84, ""},
		{"3 months", "", 91, Approximate}, {"2 yrs", "", 730, Approximate}, {"1½ years", "", 548, Approximate},
	} {
		got, p := Age(T(c.text), c.unit)
		days, ok := got.Days()
		if !ok || days != c.days || (p == nil) != (c.class == "") || p != nil && (p.Class != c.class || p.Action != Tell) {
			t.Errorf("%q: got %d %v, %v", c.text, days, ok, p)
		}
	}
	for _, text := range []string{"12", "old", "10-12 wks", "12 kg", "90 years", "-3 d"} {
		if got, p := Age(T(text), ""); !p.Holds() {
			t.Errorf("%q: got %v without a question", text, got)
		}
	}
}

func TestYearIn(t *testing.T) {
	for text, want := range map[string]int{"2023": 2023, "weigh book 2024": 2024, "Summer '23": 2023, "2023/24": 0, "2023-2024": 0, "Flock A": 0, "Ring 20245": 0, "Wts 12": 0, "": 0, "2024 (2024)": 2024} {
		if got, _ := YearIn(text); got != want && !(want == 0 && got == 0) {
			t.Errorf("%q: got %d, want %d", text, got, want)
		}
	}
}

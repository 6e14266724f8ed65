package stop

import (
	"strings"
	"testing"

	"keelmark/analysis"
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

func TestSignsAreReadFromTheKeepersWords(t *testing.T) {
	// The signs are those of government and veterinary pages (S112, S113 of the domain notes); the sentences
	// are invented.
	for text, want := range map[string]string{
		"Gasping  this morning":               "gasping",
		"head swollen, off food":              "swollen head",
		"no gasping today, comb gone purple":  "blue or purple comb, wattles or legs",
		"found dead on the floor":             "sudden death",
		"green droppings for two days":        "green or bloody droppings",
		"no gasping, no tremor":               "",
		"never gasping; later gasping":        "gasping",
		"in moult, clipped nails":             "",
		"purple ring on left leg":             "",
		"blue legs are the breed's own slate": "blue or purple comb, wattles or legs", // asked, not guessed away
		"":                                    "",
	} {
		if got := strings.Join(findSigns(text), ", "); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func TestARecentSignStopsAndAnOldOneDoesNot(t *testing.T) {
	today := day(t, "2025-11-20")
	note := func(on record.Day) *record.Dataset {
		shared := &record.Detail{Note: "gasping"}
		at := func(col int32) record.Ref { return record.Ref{File: "a.csv", Row: 4, Col: col} }
		return &record.Dataset{Name: "Home", Observations: []record.Observation{
			{Bird: "R1", On: record.On(on), At: at(2), More: shared},
			{Bird: "R1", On: record.On(on), At: at(3), More: shared},
		}}
	}
	for on, want := range map[record.Day]int{today: 1, today - Days: 1, today - Days - 1: 0, today + 1: 0} {
		claims := Signs(today, note(on))
		if len(claims) != want {
			t.Errorf("noted on %v: %d claims, want %d", on, len(claims), want)
		}
		for _, c := range claims {
			if c.Stands != analysis.Stop || !strings.Contains(c.Text, "vet") || len(c.RestsOn) != 1 {
				t.Errorf("claim %+v", c)
			}
		}
	}
}

func TestDeathsCloseTogetherStop(t *testing.T) {
	today := day(t, "2025-11-20")
	died := func(text string, days ...int) *record.Dataset {
		d := &record.Dataset{}
		for i, n := range days {
			d.Events = append(d.Events, record.Event{Kind: record.Died, On: record.On(today - record.Day(n)), Text: text,
				At: record.Ref{File: "a.csv", Row: int32(i + 2), Col: 1}})
		}
		return d
	}
	for _, c := range []struct {
		name string
		d    *record.Dataset
		want int
	}{
		{"one death", died("died", 3), 0},
		{"two, six days apart", died("died", 3, 9), 1},
		{"two, seven days apart", died("died", 3, 10), 0},
		{"two, put down to a fox", died("fox", 3, 3), 0},
		{"two, long ago", died("died", 300, 301), 0},
		{"three in a week", died("died", 1, 2, 5), 1},
	} {
		if got := Signs(today, c.d); len(got) != c.want {
			t.Errorf("%s: %d claims, want %d", c.name, len(got), c.want)
		}
	}
}

func TestASignInACellThatBecameNoRecordStops(t *testing.T) {
	today := day(t, "2025-11-20")
	for name, c := range map[string]struct {
		ledger record.Ledger
		want   int
	}{
		"a line without a weight": {record.Ledger{File: "a.csv", Texts: [][]string{{"date", "ring", "remarks"}, {"2025-11-20", "M1", "gasping, comb gone purple"}}}, 2},
		"a line of long ago":      {record.Ledger{File: "a.csv", Texts: [][]string{{"2023-11-20", "M1", "gasping"}}}, 0},
		"a line without a day":    {record.Ledger{File: "d.txt", Texts: [][]string{{"found Hetty gasping"}}}, 1},
		"our own guide":           {record.Ledger{File: "b.xlsx", Sheet: guideSheet, Texts: [][]string{{"gasping, a swollen head"}}}, 0},
	} {
		if got := Signs(today, &record.Dataset{Ledgers: []record.Ledger{c.ledger}}); len(got) != c.want {
			t.Errorf("%s: %d claims, want %d", name, len(got), c.want)
		}
	}
}

// Deaths that wait for the keeper's answer count, and are told apart.
func TestADoubtfulDeathCountsForTheStopSign(t *testing.T) {
	today, d := day(t, "2025-11-20"), &record.Dataset{}
	for i, bird := range []string{"R1", "R2"} {
		d.Events = append(d.Events, record.Event{Kind: record.Died, Bird: bird, On: record.On(today - record.Day(i)), Flagged: i == 0, Text: "died", At: record.Ref{File: "a.csv", Row: int32(i + 2), Col: 2}})
	}
	stops := Signs(today, d)
	if len(stops) != 1 || !strings.Contains(stops[0].Text, "2 deaths within 7 days") || !strings.Contains(stops[0].Text, "One of them waits for your confirmation") {
		t.Errorf("%+v", stops)
	}
}

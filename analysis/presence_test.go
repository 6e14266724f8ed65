package analysis_test

import (
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// A death that waits for the keeper's answer takes no bird out; a sure one does, from its day on.
func TestOnlyASureDeathTakesABirdOut(t *testing.T) {
	day := func(s string) record.Day { d, _ := record.ParseDay(s); return d }
	at := func(row int32) record.Ref { return record.Ref{File: "a.csv", Row: row, Col: 2} }
	d := &record.Dataset{
		Birds: []record.Bird{{ID: "sure"}, {ID: "flagged"}, {ID: "asked"}, {ID: "undated"}, {ID: "unhatched", Hatched: record.On(day("2025-07-01"))}},
		Events: []record.Event{
			{Kind: record.Died, Bird: "sure", On: record.On(day("2025-06-01")), At: at(2)},
			{Kind: record.Died, Bird: "flagged", On: record.On(day("2025-06-01")), At: at(3), Flagged: true, Text: "died"},
			{Kind: record.Departed, Bird: "asked", On: record.On(day("2025-06-01")), At: at(4), Text: "gone?"},
			{Kind: record.Departed, Bird: "undated", At: at(5)},
			{Kind: record.Treated, Bird: "asked", On: record.On(day("2025-06-01")), At: at(6)},
		},
		Questions: []record.Question{{Class: "event_marker", At: at(9), More: []record.Ref{at(4)}}},
	}
	p := analysis.PresenceOf(d)
	for _, c := range []struct {
		bird      string
		on        string
		there     bool
		unsettled int
	}{
		{"sure", "2025-05-31", true, 0}, {"sure", "2025-06-01", false, 0},
		{"flagged", "2025-06-02", true, 1}, {"flagged", "2025-05-02", true, 0},
		{"asked", "2025-06-02", true, 1}, {"undated", "2020-01-01", false, 0}, {"unhatched", "2025-06-30", false, 0},
	} {
		b, _ := d.Bird(c.bird)
		if got := p.There(b, day(c.on)); got != c.there {
			t.Errorf("%s on %s: there %v", c.bird, c.on, got)
		}
		if got := p.Waiting(c.bird, day(c.on)); len(got) != c.unsettled {
			t.Errorf("%s on %s: %d events wait, want %d", c.bird, c.on, len(got), c.unsettled)
		}
	}
	if got, want := analysis.MayBeGone(p.Waiting("flagged", day("2025-07-01"))[0]), `a cell may say that it died: a.csv, B3 ("died"); confirm or correct it`; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

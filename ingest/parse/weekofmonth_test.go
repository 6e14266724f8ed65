package parse

import (
	"testing"
	"time"

	"keelmark/ingest/record"
)

func TestWeekOfMonth(t *testing.T) {
	february := DateIn{Month: record.InMonth(2025, time.February)}
	for text, want := range map[string]string{"1st wk": "2025-02-01", "4th week": "2025-02-22"} {
		when, p := Date(T(text), february)
		if p.Holds() || when.On.First.String() != want || when.On.Precision != record.ToWeek {
			t.Errorf("%q: %v %v, want the week from %s", text, when.On, p, want)
		}
	}
	for _, text := range []string{"5th wk", "3rd week"} { // beyond February; no month known
		in := DateIn{}
		if text == "5th wk" {
			in = february
		}
		if _, p := Date(T(text), in); !p.Holds() {
			t.Errorf("%q is read as a date", text)
		}
	}
	for _, text := range []string{"wk 8", "8 wks", "D7"} {
		if _, ok := WeekOfMonth(text); ok {
			t.Errorf("%q is taken for a week of a month", text)
		}
	}
}

func TestAmountsAreNoBirds(t *testing.T) {
	for text, want := range map[string]bool{"6lb": true, "2780 g": true, "2.8 kg": true, "5lb 3oz": true, "Bess": false, "R12": false, "12": false, "850 g wet": false} {
		if Amount(text) != want {
			t.Errorf("Amount(%q) = %v", text, !want)
		}
	}
}

func TestHeadingsOfSumsAndNets(t *testing.T) {
	for text, want := range map[string]Field{"Net g": FieldWeight, "No of birds": FieldTotal, "Sampled": FieldDate, "Seen on": FieldDate} {
		if m := Heading(text); len(m) == 0 || m[0].Field != want {
			t.Errorf("%q: %v, want %s", text, m, want)
		}
	}
	for _, text := range []string{"Av weight (g)", "Total weight (g)"} {
		if m := Heading(text); len(m) > 0 && m[0].Field == FieldWeight {
			t.Errorf("%q is read as one bird's weight", text)
		}
	}
}

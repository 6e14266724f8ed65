package parse

import (
	"testing"

	"keelmark/ingest/record"
)

func TestTreatment(t *testing.T) {
	for _, c := range []struct {
		text                               string
		product, dose, against, withdrawal string
		scope                              record.Scope
	}{
		{"permethrin dust", "permethrin dust", "", "", "", ""},                                          // f
		{"perches scrubbed, silica dust", "perches scrubbed, silica dust", "", "", "", record.WholePen}, // f
		{"surgical spirit, legs", "surgical spirit, legs", "", "", "", ""},                              // f
		{"permethrin dust, 1 pinch, for lice", "permethrin dust", "1 pinch", "lice", "", ""},
		{"ivermectin 0.2 ml per bird against mites", "ivermectin", "0.2 ml per bird", "mites", "", ""},
		{"flubendazole in feed for 7 days", "flubendazole in feed for 7 days", "", "", "", ""},
		{"wormed, withdrawal 7 days as label", "wormed", "", "", "7 days as label", ""},
		{"Kieselgur gegen Milben", "Kieselgur", "", "Milben", "", ""},
		{"dusted all birds", "dusted all birds", "", "", "", record.WholeFlock},
		{"yes", "", "", "", "", ""}, {"x", "", "", "", "", ""},
	} {
		got, ok := Treatment(c.text)
		if !ok || got.Product != c.product || got.Dose != c.dose || got.Against != c.against || got.Withdrawal != c.withdrawal || got.Scope != c.scope {
			t.Errorf("%q: got %+v %v", c.text, got, ok)
		}
	}
	for _, text := range []string{"", "-", "n/a", "none", "No", "not treated", "?", "#N/A"} {
		if got, ok := Treatment(text); ok {
			t.Errorf("%q: got %+v", text, got)
		}
	}
}

func TestTreatmentInRemark(t *testing.T) {
	for text, want := range map[string][2]string{
		"dusted for lice":               {"", "lice"}, // f
		"dusted with permethrin":        {"permethrin", ""},
		"Wormed.":                       {"", ""},
		"moulting, wormed":              {"", ""},
		"entwurmt":                      {"", ""},
		"looks thin; treated for mites": {"", "mites"},
		"ivermectin 2 drops":            {"ivermectin", ""},
		"dusted pen 2 with permethrin":  {"permethrin", ""},
		"dusted all birds":              {"", ""},
		"wormed flubendazole in feed":   {"flubendazole in feed", ""},
	} {
		got, p := TreatmentInRemark(text)
		if p == nil || p.Class != TreatmentInRemarks || p.Action != Tell {
			t.Errorf("%q: got %+v %v", text, got, p)
			continue
		}
		if got.Product != want[0] || got.Against != want[1] {
			t.Errorf("%q: got %+v", text, got)
		}
	}
	for _, text := range []string{"", "moulting", "not treated", "needs to be wormed", "to be dusted", "never wormed", "untreated", "shown at Pendlewick", "industed"} {
		if got, p := TreatmentInRemark(text); p != nil {
			t.Errorf("%q: got %+v %s", text, got, p.Message)
		}
	}
}

func TestScope(t *testing.T) {
	for _, c := range []struct {
		text  string
		scope record.Scope
		pen   string
	}{
		{"all", record.WholeFlock, ""}, {"Whole flock", record.WholeFlock, ""}, {"*", record.WholeFlock, ""}, {"everyone", record.WholeFlock, ""}, {"alle", record.WholeFlock, ""},
		{"house", record.WholePen, "house"}, {"Pen 3", record.WholePen, "Pen 3"}, {"coop", record.WholePen, "coop"}, {"pen3", record.WholePen, "pen3"}, {"all of pen 2", record.WholePen, "pen 2"},
		{"Ivy", record.OneBird, ""}, {"Penny", record.OneBird, ""}, {"Housemartin", record.OneBird, ""}, {"Ally", record.OneBird, ""},
	} {
		if scope, pen := Scope(c.text); scope != c.scope || pen != c.pen {
			t.Errorf("%q: got %s %q", c.text, scope, pen)
		}
	}
}

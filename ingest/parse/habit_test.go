package parse

import (
	"slices"
	"testing"

	"keelmark/ingest/record"
)

// The words of keepers here are common practice, no source; the sheets are invented.

func TestSubjectOfAText(t *testing.T) {
	for text, want := range map[string]Bearing{
		"Leg ring": {Trade: true}, "Pullets 2025": {Trade: true}, "Federlinge": {Trade: true}, "wormed with flubendazole": {Trade: true},
		"Price": {Foreign: true}, "Cost £": {Foreign: true}, "Phone": {Foreign: true}, "Layers pellets 20 kg": {Foreign: true, Feed: true},
		"Hen feed cost": {Trade: true, Foreign: true, Feed: true},
		"Date":          {}, "Weight": {}, "Bess": {}, "": {}, "Total": {},
	} {
		if got := Subject(text); got != want {
			t.Errorf("%q: got %+v, want %+v", text, got, want)
		}
	}
}

func TestDatesAreNoNames(t *testing.T) {
	for text, want := range map[string]bool{
		"Sat 8 November": true, "1 Nov": true, "Saturday": true, "Nov": true, "3rd Oct": true, "Mon": true,
		"Bess": false, "May": false, "April": false, "R12": false, "Miss May": false, "Red 1": false, "": false, "Marcus": false, "Sunny": false,
	} {
		if got := NoName(text); got != want {
			t.Errorf("%q: got %v", text, got)
		}
	}
	for _, c := range []struct {
		bird, said string
		want       bool
	}{{"bought", "20 kg pellets", true}, {"ivermectin 0.5ml pen", "2", true}, {"pen", "2", true}, {"sold eggs", "12", true}, {"Bess", "850 g", false}, {"Red 1", "850", false}, {"Old Tom", "1.4kg", false}} {
		if got := NoBird(c.bird, c.said); got != c.want {
			t.Errorf("%q before %q: got %v", c.bird, c.said, got)
		}
	}
}

func TestPairsOfYears(t *testing.T) {
	for text, want := range map[string]int{"Winter 2024-25": 2024, "2024/2025": 2024, "season 2023–24 weights": 2023, "2024": 0, "2024-27": 0, "2024-12-25": 0, "": 0} {
		if got, ok := YearPair(text); ok != (want != 0) || ok && got != want {
			t.Errorf("%q: got %d %v, want %d", text, got, ok, want)
		}
	}
}

func TestDittoMarks(t *testing.T) {
	for text, want := range map[string]bool{`"`: true, "''": true, "do.": true, "ditto": true, "〃": true, "|": true, "↓": true, ",,": true, "”": true, "as above": true,
		"-": false, "0": false, "": false, "x": false, "Dot": false, "v": false, "idle": false, "none": false} {
		if got := Ditto(text); got != want {
			t.Errorf("%q: got %v", text, got)
		}
	}
}

func TestFindingsOfPlainTalk(t *testing.T) {
	for text, want := range map[string]Found{
		"clear": {Form: record.Ordinal, Scale: "words", Word: "none"}, "clean": {Form: record.Ordinal, Scale: "words", Word: "none"},
		"alive ones": {Form: record.Present, Value: 1}, "live lice": {Form: record.Present, Value: 1},
		"1 or 2": {Form: record.Range, Lo: 1, Hi: 2}, "couple": {Form: record.Ordinal, Scale: "words", Word: "couple", Value: 1},
		"none but eggs seen": {Form: record.Ordinal, Scale: "words", Word: "none", Note: "eggs seen"},
	} {
		want.Parasite = record.Lice
		if got, p := Finding(T(text), FindingIn{Parasite: record.Lice}); p != nil || got.Form != want.Form || got.Value != want.Value || got.Word != want.Word && want.Word != "none" || got.Lo != want.Lo || got.Hi != want.Hi || got.Note != want.Note || got.Parasite != want.Parasite {
			t.Errorf("%q: got %+v %v, want %+v", text, got, p, want)
		}
	}
	for text, want := range map[string]Class{"not looked": MissingMarker, "NT": MissingMarker, "n/t": MissingMarker, "nits": EggsOnly, "eggs only": EggsOnly, "nits only": EggsOnly, "OK": AllRight, "fine": AllRight} {
		_, p := Finding(T(text), FindingIn{Parasite: record.Lice})
		if p == nil || p.Class != want || (p.Action == Skip) != (want == MissingMarker) {
			t.Errorf("%q: got %v, want %s", text, p, want)
			continue
		}
		for _, r := range p.Readings { // what is offered reads without a question
			if _, q := Finding(T(r.Value), FindingIn{Parasite: record.Lice}); r.Value != "" && q != nil {
				t.Errorf("%q offers %q, which is asked again: %v", text, r.Value, q)
			}
		}
	}
	var parts []string
	for _, c := range Findings(T("lice none, mites some"), FindingIn{}) {
		parts = append(parts, c.Text)
	}
	if !slices.Equal(parts, []string{"lice none", "mites some"}) {
		t.Errorf("two parasites: %q", parts)
	}
	for _, text := range []string{"lice", "none", "lice few, lice many", "lice few, rest fine", "850, 900"} {
		if got := Findings(T(text), FindingIn{}); got != nil {
			t.Errorf("%q: parted into %v", text, got)
		}
	}
}

func TestSlipsOfOneFigureAreOffered(t *testing.T) {
	for text, want := range map[string]string{"9390": "939 g", "9": "90 g", "850/2": "850 g", "1100 1150": "1100 g"} {
		_, p := Weight(T(text), WeightIn{Unit: Grams})
		if p == nil || !slices.ContainsFunc(p.Readings, func(r record.Reading) bool { return r.Value == want }) {
			t.Errorf("%q: %v does not offer %s", text, p, want)
		}
	}
}

func TestHeadingsOfKeepers(t *testing.T) {
	for text, want := range map[string]Field{"Moved to": FieldMoved, "Came from": FieldCameFrom, "What I did": FieldNote, "Fthr": FieldFeather, "Ring leg": FieldRingLeg} {
		if m := Heading(text); len(m) == 0 || m[0].Field != want {
			t.Errorf("%q: got %v, want %s", text, m, want)
		}
	}
	m := Heading("Weight (decimal lb)")
	if len(m) == 0 || m[0].Unit != Pounds || m[0].Point != PointDecimal {
		t.Errorf("decimal pounds: %+v", m)
	}
	if d, _ := Treatment("ivermectin 0.5ml pen 2"); d.Product != "ivermectin" || d.Dose != "0.5ml" || d.Pen != "pen 2" {
		t.Errorf("treatment of a pen: %+v", d)
	}
}

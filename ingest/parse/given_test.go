package parse

import (
	"testing"

	"keelmark/ingest/record"
)

// All texts are invented; what keepers write is common practice, no source.
func TestTreatmentStanding(t *testing.T) {
	for text, want := range map[string]Standing{
		"permethrin dust": Given, "wormed": Given, "bathed, dusted (permethrin)": Given, "legs creamed": Given, "dusted, no lice seen": Given,
		"flubendazole, no eggs for 7 days": Given, "ivermectin pour on": Given, "Entwurmt": Given, "DE": Given, "yes": Given, "✓": Given,
		"": NotGiven, "no": NotGiven, "none needed": NotGiven, "not required": NotGiven, "Untreated": NotGiven, "keine": NotGiven,
		"x": Crossed, "X": Crossed,
		"ivermectin?": Doubted, "due 3/8": Doubted, "vet says no treatment": Doubted, "no powder left": Doubted, "re-treat in a week": Doubted,
		"wormer ordered": Doubted, "maybe dusted": Doubted, "spray before show": Doubted, "to be wormed": Doubted, "ivermectin - not given": Doubted,
		"isolated": Unnamed, "seems fine": Unnamed, "Lousicure": Unnamed,
	} {
		if got := TreatmentStanding(text); got != want {
			t.Errorf("%q: got %s, want %s", text, got, want)
		}
	}
}

func TestTreatmentText(t *testing.T) {
	for text, want := range map[string][2]string{
		"levamisole (1 ml) - repeat 9/8":       {"levamisole (1 ml)", "repeat 9/8"},
		"wormed; again in 3 weeks":             {"wormed", "again in 3 weeks"},
		"dusted, next due Sept":                {"dusted", "next due Sept"},
		"permethrin dust (repeat in 10 days)":  {"permethrin dust", "repeat in 10 days"},
		"permethrin, vent and under the wings": {"permethrin, vent and under the wings", ""},
		"repeat 9/8":                           {"repeat 9/8", ""},
	} {
		if done, plan := TreatmentText(text); done != want[0] || plan != want[1] {
			t.Errorf("%q: got %q and %q", text, done, plan)
		}
	}
}

func TestTreatmentKeepsWhatWasWritten(t *testing.T) {
	for text, want := range map[string][2]string{
		"washed, dusted (pyrethrum)":   {"washed, dusted (pyrethrum)", ""},
		"ivermectin (3 drops)":         {"ivermectin", ""},
		"moxidectin pour on":           {"moxidectin pour on", ""},
		"sulphur pour la gale":         {"sulphur", "la gale"},
		"(flubendazole)":               {"flubendazole", ""},
		"louse powder (vent) for lice": {"louse powder (vent)", "lice"},
	} {
		if d, ok := Treatment(text); !ok || d.Product != want[0] || d.Against != want[1] {
			t.Errorf("%q: got %q against %q", text, d.Product, d.Against)
		}
	}
}

func TestFindingInRemark(t *testing.T) {
	for text, want := range map[string]bool{
		"ticks under wing - 3": true, "saw mites on perch": true, "lots of fleas": true,
		"no lice found": false, "check for mites": false, "quiet bird": false, "mites?": false,
	} {
		if got := FindingInRemark(text); got != want {
			t.Errorf("%q: got %v", text, got)
		}
	}
}

func TestMayBeGoneByOthers(t *testing.T) {
	for text, want := range map[string]record.EventKind{
		"stoat took him 4/6": record.Died, "a dog got her": record.Died, "to Marjorie in May": record.Departed,
		"we had her at the vet": "", "to pen 4": "", "to Pen 4": "", "lost her tail": "", "lost his voice": "", "to dust again": "", "To Monday's weighing": "",
	} {
		if got, _ := MayBeGone(text); got != want {
			t.Errorf("%q: got %q", text, got)
		}
		if kind, sure := Gone(text); sure {
			t.Errorf("%q: surely %s", text, kind)
		}
	}
	if !CameBack("sold to Rita, came back 3/9") || CameBack("returned to breeder") {
		t.Error("a return is not seen, or seen where there is none")
	}
}

func TestLetterForFigure(t *testing.T) {
	for text, want := range map[string]string{"9o5": "905 g", "7I2 g": "712 g", "1l40": "1140 g"} {
		_, p := Weight(T(text), WeightIn{Unit: Grams})
		if p == nil || p.Class != WeightAmbiguous || len(p.Readings) != 2 || p.Readings[0].Value != want {
			t.Errorf("%q: got %+v", text, p)
		}
	}
}

func TestTreatmentInRemarkNamesWhatWasGiven(t *testing.T) {
	for text, want := range map[string]string{"dusted again": "", "wormed - repeat 9/8": "", "sprayed with pyrethrum, repeat in 9 days": "pyrethrum", "treated levamisole": "levamisole"} {
		if d, p := TreatmentInRemark(text); p == nil || d.Product != want {
			t.Errorf("%q: got %q, %v", text, d.Product, p)
		}
	}
}

func TestNoneSeen(t *testing.T) {
	for text, want := range map[string]string{"no lice seen": record.Lice, "clear of mites": record.Mites, "No sign of lice.": record.Lice, "no lice at all today": record.Lice,
		"no lice on vent but eggs": "", "few lice": "", "no birds seen": "", "no mites seen last time, some now": ""} {
		if got, ok := NoneSeen(text); ok != (want != "") || ok && got != want {
			t.Errorf("%q: got %q %v", text, got, ok)
		}
	}
}

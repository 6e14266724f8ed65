package parse

import (
	"testing"

	"keelmark/ingest/record"
)

// Headings marked f stand in the invented workbooks of the importer's test set; the others are synonyms that
// keepers use (common practice, no source).
func TestHeadingFindsTheField(t *testing.T) {
	for _, c := range []struct {
		text  string
		field Field
		unit  string
		scale string
		extra string // parasite or rest
		sure  bool
	}{
		{"Date", FieldDate, "", "", "", true}, {"Ring", FieldRing, "", "", "", true}, {"Name", FieldName, "", "", "", true}, {"Weight (g)", FieldWeight, "g", "", "", true}, // f
		{"Condition (1-5)", FieldCondition, "", "1-5", "", true}, {"Lice", FieldParasite, "", "", record.Lice, true}, {"Notes", FieldNote, "", "", "", true}, // f
		{"Bird", FieldBird, "", "", "", true}, {"Gain", FieldDerived, "", "", "", true}, {"Average", FieldTotal, "", "", "", true}, {"No. weighed", FieldTotal, "", "", "", true}, // f
		{"Wt", FieldWeight, "", "", "", true}, {"Remarks", FieldNote, "", "", "", true}, {"When", FieldDate, "", "", "", true}, {"Units", FieldUnit, "", "", "", true}, // f
		{"Datum", FieldDate, "", "", "", true}, {"Ringnummer", FieldRing, "", "", "", true}, {"Gewicht (kg)", FieldWeight, "kg", "", "", true}, {"Kondition (1-5)", FieldCondition, "", "1-5", "", true}, // f
		{"Federlinge", FieldParasite, "", "", record.Lice, true}, {"Bemerkung", FieldNote, "", "", "", true}, {"BCS 0-3", FieldCondition, "", "0-3", "", true}, // f
		{"Band", FieldRing, "", "", "", true}, {"Weight lb", FieldWeight, "lb", "", "", true}, {"Louse count", FieldParasite, "", "", record.Lice, true}, {"Scaly leg", FieldParasite, "", "", record.ScalyLegMite, true}, // f
		{"condition (of 5)", FieldCondition, "", "1-5", "", true}, {"who", FieldBird, "", "", "", false}, {"What", FieldTreatment, "", "", "", false}, {"Dose", FieldDose, "", "", "", true}, {"Why", FieldReason, "", "", "", true}, // f
		{"Hatched", FieldHatched, "", "", "", false}, {"Breed", FieldBreed, "", "", "", true}, {"Sex", FieldSex, "", "", "", true}, // f
		{"Wt. (g)", FieldWeight, "g", "", "", true}, {"WEIGHT KG", FieldWeight, "kg", "", "", true}, {"wt lb/oz", FieldWeight, "lb-oz", "", "", true}, {"Body wt in grams", FieldWeight, "g", "", "", true},
		{"lbs", FieldWeight, "lb", "", "", false}, {"g", FieldWeight, "g", "", "", false}, {"Age (wks)", FieldAge, "w", "", "", true}, {"age days", FieldAge, "d", "", "", true},
		{"NFM 0-7", FieldParasite, "", "0-7", record.NorthernFowlMite, true}, {"Lice y/n", FieldParasite, "", "", record.Lice, true}, {"red mites", FieldParasite, "", "", record.RedMite, true},
		{"D.O.B.", FieldHatched, "", "", "", true}, {"hatch date", FieldHatched, "", "", "", true}, {"M/F", FieldSex, "", "", "", true}, {"cock/hen", FieldSex, "", "", "", true},
		{"Dead in shell", FieldDeadShell, "", "", "", true}, {"Eggs set", FieldEggsSet, "", "", "", true}, {"Hatch %", FieldDerived, "", "", "", true}, {"WHP", FieldWithdrawal, "", "", "", true},
		{"Poids (g)", FieldWeight, "g", "", "", true}, {"Bague", FieldRing, "", "", "", true}, {"État corporel", FieldCondition, "", "", "", true}, {"Peso", FieldWeight, "", "", "", true}, {"Anilla", FieldRing, "", "", "", true},
		{"Gewogen am", FieldDate, "", "", "", true}, {"Opmerkingen", FieldNote, "", "", "", true}, {"Körpergewicht", FieldWeight, "", "", "", true}, {"Luizen", FieldParasite, "", "", record.Lice, true},
		{"Wieght", FieldWeight, "", "", "", false}, {"Condtion", FieldCondition, "", "", "", false}, {"Tretament", FieldTreatment, "", "", "", false},
	} {
		got := Heading(c.text)
		if len(got) == 0 {
			t.Errorf("%q: nothing", c.text)
			continue
		}
		m := got[0]
		extra := m.Parasite
		if extra == "" {
			extra = m.Rest
		}
		if m.Field != c.field || m.Unit != c.unit || m.Scale.Name != c.scale || extra != c.extra || (m.Confidence >= .9) != c.sure {
			t.Errorf("%q: got %+v", c.text, m)
		}
	}
}

func TestHeadingOffersEveryMeaning(t *testing.T) {
	for text, want := range map[string][]Field{
		"Day": {FieldDate, FieldWeekday}, "Hatched": {FieldHatched, FieldHatchedNo}, "lb": {FieldWeight, FieldPoundPart}, "oz": {FieldWeight, FieldOuncePart}, "Tag": {FieldRing, FieldDate},
	} {
		got := map[Field]bool{}
		for _, m := range Heading(text) {
			got[m.Field] = true
		}
		for _, f := range want {
			if !got[f] {
				t.Errorf("%q: %s is not among %+v", text, f, Heading(text))
			}
		}
	}
	if m := Heading("lb.oz"); len(m) == 0 || m[0].Unit != PoundOz || m[0].Point != PointOunces {
		t.Errorf("lb.oz: %+v", m)
	}
	if m := Heading("Lice y/n"); !m[0].YesNo {
		t.Errorf("y/n: %+v", m)
	}
	if m := Heading("Wts 2024"); m[0].Rest != "2024" {
		t.Errorf("rest: %+v", m)
	}
	for _, text := range []string{"", "Dumpling", "1370", "45430", "Body", "†"} {
		if m := Heading(text); m != nil {
			t.Errorf("%q: %+v", text, m)
		}
	}
}

// One phrase stands under one field once: a doubled row of the table would hide an ambiguity.
func TestHeadingTableIsSound(t *testing.T) {
	for phrase, meanings := range headingIndex() {
		seen := map[[2]string]bool{}
		surest := 0
		for _, m := range meanings {
			key := [2]string{string(m.Field), m.Parasite}
			if seen[key] {
				t.Errorf("%q stands twice under %s %s", phrase, m.Field, m.Parasite)
			}
			seen[key] = true
			if m.Confidence == 1 {
				surest++
			}
		}
		if surest > 1 {
			t.Errorf("%q is certain of two fields: %+v", phrase, meanings)
		}
	}
}

func TestUnitIn(t *testing.T) {
	for text, want := range map[string]string{
		"All weights in grams, evening, crop empty. P. Garr": "g", "Raw oz": "oz", "Grams": "g", "kg": "kg", "g": "g", "lb/oz": "lb-oz", // f
		"weights in lb and oz": "lb-oz", "Weight (kg)": "kg", "Weights (g)": "g", "kg or lb": "", "Flock G": "", "Weight g": "g", "G Smith": "", "Wexmere": "", "": "",
	} {
		if got := UnitIn(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

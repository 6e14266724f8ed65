package slip

import (
	"context"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// hens is an invented flock of six hens of about 2 kg, weighed every fortnight, in which R1's sixth weight lacks its
// unit's sense: it was typed in kilograms under a heading in grams.
func hens(t *testing.T) (*record.Dataset, record.Ref) {
	t.Helper()
	first, err := record.ParseDay("2025-01-04")
	if err != nil {
		t.Fatal(err)
	}
	d := &record.Dataset{Name: "Home"}
	row := int32(1)
	var wrong record.Ref
	for i := range 12 {
		for b := range 6 {
			id := "R" + string(rune('1'+b))
			if i == 0 {
				d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: record.Female})
			}
			row++
			grams := 1950 + 20*float64(b) + 13*float64((i*7+b*5)%6)
			at := record.Ref{File: "w.csv", Row: row, Col: 3}
			text := ""
			if id == "R1" && i == 5 {
				grams, text, wrong = 19.7, "19.7", at
			}
			d.Observations = append(d.Observations, record.Observation{Bird: id, On: record.On(first + record.Day(14*i)), Trait: record.Weight,
				Value: grams, Text: text, At: at})
		}
	}
	return d, wrong
}

func settle(t *testing.T, d *record.Dataset, answers map[string]string) []string {
	t.Helper()
	d.Answers = answers
	notes, err := Settle(context.Background(), analysis.Context{Today: d.Observations[len(d.Observations)-1].On.First}, d)
	if err != nil {
		t.Fatal(err)
	}
	return notes
}

func recordAt(d *record.Dataset, ref record.Ref) (record.Observation, bool) {
	for _, o := range d.Observations {
		if o.At == ref {
			return o, true
		}
	}
	return record.Observation{}, false
}

func TestAnOpenSlipIsAskedAndItsRecordMarked(t *testing.T) {
	d, wrong := hens(t)
	settle(t, d, nil)
	if len(d.Questions) != 1 || d.Questions[0].At != wrong {
		t.Fatalf("questions: %+v", d.Questions)
	}
	if o, _ := recordAt(d, wrong); !o.Flagged || o.Value != 19.7 {
		t.Errorf("the record: %+v", o)
	}
}

func TestAnswersToSlipsAreApplied(t *testing.T) {
	d, wrong := hens(t)
	settle(t, d, nil)
	key := d.Questions[0].Key
	for answer, want := range map[string]float64{"1970 g": 1970, "as it is": 19.7, "": 0, "1.97 kg": 1970} {
		d, _ := hens(t)
		if notes := settle(t, d, map[string]string{key: answer}); len(notes) != 0 {
			t.Errorf("%q: %v", answer, notes)
		}
		o, there := recordAt(d, wrong)
		if there != (want != 0) || there && (o.Value != want || o.Flagged) || len(d.Questions) != 0 {
			t.Errorf("%q: %v %g, flagged %v, %d questions", answer, there, o.Value, o.Flagged, len(d.Questions))
		}
		if answer == "1970 g" && !strings.Contains(strings.Join(o.Detail().Steps, " "), "as you answered") {
			t.Errorf("what was done is not told: %v", o.Detail().Steps)
		}
	}
	d, _ = hens(t)
	if notes := settle(t, d, map[string]string{key: "about two"}); len(notes) != 1 || len(d.Questions) != 1 {
		t.Errorf("an answer that says nothing: %v, %d questions", notes, len(d.Questions))
	}
	d, _ = hens(t)
	settle(t, d, map[string]string{key + "0": "as it is"}) // given for another text
	if len(d.Questions) != 1 {
		t.Error("an answer to another text settled the cell")
	}
}

func TestAnExchangeAndASecondBird(t *testing.T) {
	d, _ := hens(t)
	a, b := d.Observations[0], d.Observations[1]
	f := Finding{Class: Exchanged, At: a.At, More: []record.Ref{b.At}}
	if !f.apply(d, "exchange") || d.Observations[0].Value != b.Value || d.Observations[1].Value != a.Value {
		t.Errorf("exchanged: %g and %g", d.Observations[0].Value, d.Observations[1].Value)
	}
	from := d.Observations[36]
	if !(Finding{Class: RingReuse, Bird: "R1", At: from.At}).apply(d, "two") {
		t.Fatal("not split")
	}
	n := map[string]int{}
	for _, o := range d.Observations {
		n[o.Bird]++
	}
	if n["R1"] != 6 || n["R1 (2)"] != 6 || len(d.Birds) != 7 {
		t.Errorf("records by bird: %v", n)
	}
}

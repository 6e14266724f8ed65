package slip

import (
	"context"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/datasets"
	"keelmark/ingest/record"
)

// sussex is an invented flock of Sussex hens written as bantams, each weighed four times about a weight.
func sussex(t *testing.T, grams ...float64) (analysis.Context, *record.Dataset) {
	t.Helper()
	rows, err := datasets.Breeds()
	if err != nil {
		t.Fatal(err)
	}
	today, err := record.ParseDay("2025-11-20")
	if err != nil {
		t.Fatal(err)
	}
	c := analysis.Context{Today: today, Standards: rows}
	c.Settings.Flock.Country = "US"
	d := &record.Dataset{Name: "Sussex"}
	row := int32(1)
	for i, g := range grams {
		id := string(rune('A' + i))
		row++
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: record.Female, Breed: "Sussex", Size: record.Bantam, At: []record.Ref{{File: "s.csv", Row: row, Col: 1}}})
		for k := range 4 {
			row++
			d.Observations = append(d.Observations, record.Observation{Bird: id, Trait: record.Weight, On: record.On(today - record.Day(120-30*k)),
				Value: g * (1 + 0.01*float64(k%3-1)), At: record.Ref{File: "s.csv", Row: row, Col: 3}})
		}
	}
	return c, d
}

// The American figure for a Sussex hen is 7 lb large (3175 g); a bantam hen weighs some 1100 g.
func TestABirdFarFromItsBreedIsAskedAboutOnce(t *testing.T) {
	c, d := sussex(t, 1100, 1150, 3100)
	if notes, err := Settle(context.Background(), c, d); err != nil || len(notes) > 0 {
		t.Fatal(notes, err)
	}
	var asked []record.Question
	for _, q := range d.Questions {
		if q.Class == string(UnlikeBreed) {
			asked = append(asked, q)
		}
	}
	if len(asked) != 1 || !strings.Contains(asked[0].Message, "are breed, size, sex and unit right?") || asked[0].Readings[0].Value != "large" {
		t.Fatalf("asked %+v of %+v", asked, d.Questions)
	}
	again, e := sussex(t, 1100, 1150, 3100)
	e.Answers = map[string]string{asked[0].Key: "large"}
	if _, err := Settle(context.Background(), again, e); err != nil || e.Birds[2].Size != record.Large || e.Birds[0].Size != record.Bantam {
		t.Errorf("answered large: %+v, %v", e.Birds, err)
	}
	for _, q := range e.Questions {
		if q.Class == string(UnlikeBreed) {
			t.Errorf("asked again: %s", q.Message)
		}
	}
	for _, o := range d.Observations {
		if o.Flagged && o.Bird == "C" && o.At.Row != 0 && len(d.Questions) == 1 {
			t.Error("a question about the breed takes the bird's weights out")
		}
	}
	_, fair := sussex(t, 1100, 1150, 1300)
	if _, err := Settle(context.Background(), c, fair); err != nil || len(fair.Questions) != 0 {
		t.Errorf("a hen a fifth above is asked about: %+v, %v", fair.Questions, err)
	}
}

func TestAWeightThatNoBirdHasIsOfferedWithWhatItMayHaveBeen(t *testing.T) {
	c, d := sussex(t, 1100, 1150, 930)
	// the third hen's third weighing was written 9390, and is no record
	held := d.Observations[10]
	held.Value, held.Text = 9390, "9390"
	d.Observations = append(d.Observations[:10:10], d.Observations[11:]...)
	leave := record.Reading{Label: "leave it empty", Value: ""}
	d.Questions = []record.Question{{Class: "weight_enormous", At: held.At, Raw: "9390", Message: "9390 is too much.", Readings: []record.Reading{leave}, Key: "weight_enormous s.csv!C14"}}
	if _, err := Settle(context.Background(), c, d); err != nil {
		t.Fatal(err)
	}
	q := d.Questions[0]
	if !slices.ContainsFunc(q.Readings, func(r record.Reading) bool { return r.Value == "939 g" }) || q.Readings[len(q.Readings)-1].Value != "" || !strings.Contains(q.Message, "point to about 92") {
		t.Errorf("offered %+v: %s", q.Readings, q.Message)
	}
}

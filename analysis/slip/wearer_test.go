package slip

import (
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// ringTwice is an invented ring: a cock of 2.9 kg until the summer of 2023, then a growing pullet from May 2025, whose
// rows say so.
func ringTwice(t *testing.T, later []float64) *record.Dataset {
	t.Helper()
	day := func(s string) record.Day {
		d, err := record.ParseDay(s)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	d := &record.Dataset{Name: "Twice"}
	b := record.Bird{ID: "R12", Ring: "R12", Sex: record.Male, Breed: "Sussex", Hatched: record.InYear(2022)}
	n := int32(1)
	weigh := func(on record.Day, grams float64) {
		n++
		d.Observations = append(d.Observations, record.Observation{Bird: "R12", Trait: record.Weight, On: record.On(on), Value: grams, At: record.Ref{File: "r.csv", Row: n, Col: 4}})
	}
	for m := range 7 {
		weigh(day("2023-01-12").AddMonths(m), 2880+float64(m*m%5)*13)
	}
	b.Told = append(b.Told, record.Told{At: record.Ref{File: "r.csv", Row: 2, Col: 1}, Sex: record.Male, Breed: "Sussex", Hatched: record.InYear(2022)})
	b.Told = append(b.Told, record.Told{At: record.Ref{File: "r.csv", Row: n + 1, Col: 1}, Sex: record.Female, Breed: "Wyandotte"})
	b.At = []record.Ref{b.Told[0].At, b.Told[1].At}
	for m, g := range later {
		weigh(day("2025-05-10").AddMonths(m), g)
	}
	d.Birds = []record.Bird{b, {ID: "R13", Ring: "R13", Sex: record.Female}}
	d.Questions = []record.Question{{Class: "bird_facts_conflict", At: record.Ref{File: "r.csv", Row: 2, Col: 2}, Message: "sex?"}}
	return d
}

func TestEachWearerOfARingIsWhatItsOwnRowsSay(t *testing.T) {
	d := ringTwice(t, []float64{600, 850, 1100, 1350, 1600})
	asked := settle(t, d, nil)
	if len(asked) != 0 || len(d.Questions) != 1 || d.Questions[0].Class != string(RingReuse) {
		t.Fatalf("asked: %+v, notes %v", d.Questions, asked)
	}
	q := d.Questions[0]
	if !strings.Contains(q.Message, "male before and female then") {
		t.Errorf("the rows' own word is not told: %s", q.Message)
	}
	d = ringTwice(t, []float64{600, 850, 1100, 1350, 1600})
	settle(t, d, map[string]string{q.Key: "two"})
	first, _ := d.Bird("R12")
	second, ok := d.Bird("R12 (2)")
	if !ok || first.Sex != record.Male || second.Sex != record.Female || first.Breed != "Sussex" || second.Breed != "Wyandotte" {
		t.Errorf("first %+v\nsecond %+v", first, second)
	}
	if second.Hatched.Known() || first.Hatched != record.InYear(2022) || len(first.Told) != 1 || len(second.Told) != 1 {
		t.Errorf("hatched %v and %v", first.Hatched, second.Hatched)
	}
	if len(d.Of("R12", record.Weight)) != 7 || len(d.Of("R12 (2)", record.Weight)) != 5 || len(d.Questions) != 0 {
		t.Errorf("%d and %d weighings, %d questions", len(d.Of("R12", record.Weight)), len(d.Of("R12 (2)", record.Weight)), len(d.Questions))
	}
}

// A hen of the cock's weight shows only by what its row says.
func TestARowThatSaysAnotherSexAfterAGapIsAskedAbout(t *testing.T) {
	d := ringTwice(t, []float64{2850})
	settle(t, d, nil)
	if len(d.Questions) != 1 || d.Questions[0].Class != string(RingReuse) || strings.Contains(d.Questions[0].Message, "0 weighings") {
		t.Errorf("asked: %+v", d.Questions)
	}
}

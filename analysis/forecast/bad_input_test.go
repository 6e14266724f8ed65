package forecast

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// Whatever is typed, each bird of the line gets a claim or a refusal in words, and the others keep theirs.
func TestBadInputGivesWordsAndNoWildNumbers(t *testing.T) {
	hatched := today - 12*7
	for name, change := range map[string]func(*record.Dataset, int, *record.Observation){
		"constant weights": func(_ *record.Dataset, _ int, o *record.Observation) { o.Value = 500 },
		"two weighings": func(_ *record.Dataset, i int, o *record.Observation) {
			o.Value *= map[bool]float64{true: 1, false: 0}[i < 2]
		},
		"all one day":          func(_ *record.Dataset, _ int, o *record.Observation) { o.On = record.On(today - 14) },
		"all one day and same": func(_ *record.Dataset, _ int, o *record.Observation) { o.On, o.Value = record.On(today-14), 600 },
		"NaN":                  func(_ *record.Dataset, _ int, o *record.Observation) { o.Value = math.NaN() },
		"infinite":             func(_ *record.Dataset, _ int, o *record.Observation) { o.Value = math.Inf(1) },
		"negative":             func(_ *record.Dataset, _ int, o *record.Observation) { o.Value = -o.Value },
		"no dates":             func(_ *record.Dataset, _ int, o *record.Observation) { o.On = record.Date{} },
		"ages unknown":         func(d *record.Dataset, _ int, _ *record.Observation) { d.Birds[0].Hatched = record.Date{} },
		"hatched after":        func(d *record.Dataset, _ int, _ *record.Observation) { d.Birds[0].Hatched = record.On(today - 3) },
		"sex missing":          func(d *record.Dataset, _ int, _ *record.Observation) { d.Birds[0].Sex = "" },
		"heavier than any":     func(_ *record.Dataset, _ int, o *record.Observation) { o.Value *= 30 },
		"ounces for grams":     func(_ *record.Dataset, _ int, o *record.Observation) { o.Value /= 28.35 },
		"one slip of ten": func(_ *record.Dataset, i int, o *record.Observation) {
			o.Value *= map[bool]float64{true: 10, false: 1}[i == 4]
		},
		"in the future": func(_ *record.Dataset, i int, o *record.Observation) { o.On = record.On(today + record.Day(i) + 1) },
	} {
		d := kept(5, 12)
		if d.Birds[0].Hatched != record.On(hatched) {
			t.Fatalf("hatched %s", d.Birds[0].Hatched)
		}
		n := 0
		for i := range d.Observations {
			if o := &d.Observations[i]; o.Bird == "R01" {
				change(d, n, o)
				n++
			}
		}
		r := foreseen(t, situation(t, today+14), d)
		if len(r.Birds) != 5 {
			t.Errorf("%s: %d birds", name, len(r.Birds))
		}
		heaviest := 0.0
		for _, o := range d.Observations {
			if o.Bird == "R01" && o.Value > heaviest && !math.IsInf(o.Value, 0) {
				heaviest = o.Value
			}
		}
		for _, c := range r.Claims() {
			if _, err := json.Marshal(c); err != nil || c.Text == "" || strings.Contains(c.Text, "NaN") || strings.Contains(c.Text, "Inf") {
				t.Errorf("%s: %v %s", name, err, c.Text)
			}
			if c.Refusal != nil && (c.Refusal.Needs == "" || c.Refusal.Next == "") {
				t.Errorf("%s: a refusal without words: %+v", name, c)
			}
			if e := c.Estimate; c.Subject.Bird == "R01" && e != nil && e.Unit == "g" && !(e.Low > 0 && e.Low <= e.Value && e.Value <= e.High && e.Value < MaxMature*heaviest) {
				t.Errorf("%s: %s %+v of a bird of at most %.0f g", name, c.ID, *e, heaviest)
			}
		}
		for _, f := range r.Birds[1:] { // the others are forecast all the same
			if f.Refusal != nil || !(f.Weight.Value > 300 && f.Weight.Value < 1500) {
				t.Errorf("%s: %s: %+v %+v", name, f.Bird.ID, f.Refusal, f.Weight)
			}
		}
	}
}

package treatment

import (
	"math"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// Domain table: flock 30, looked at 5, 3 infested, sensitivity 0.8: missed with a chance of .64 (Keelmark's domain notes 4.4).
func TestNoneSeenSaysWhatItMisses(t *testing.T) {
	d := flock(30, "A")
	for i := range 5 {
		look(d, i, 3, false, "")
	}
	r := analyse(t, d, today)
	f := r.Parasites[0].Freedom
	var ten float64
	for _, m := range f.Missed {
		if m.Infested == 3 {
			ten = m.Chance
		}
	}
	if math.Abs(ten-0.64) > 0.005 || f.Clear {
		t.Errorf("%+v", f)
	}
	c := claim(t, r, "treatment.freedom")
	if !strings.Contains(c.Text, "None seen on 5 of 30 birds") || !strings.Contains(c.Text, "does not make the flock clear") || c.Refusal == nil {
		t.Error(c.Text)
	}
	all := flock(30, "A")
	for i := range 30 {
		look(all, i, 25, false, "")
		look(all, i, 3, false, "")
	}
	if f := analyse(t, all, today).Parasites[0].Freedom; !f.Clear {
		t.Errorf("two full rounds: %+v", f)
	}
	look(all, 4, 2, true, "")
	if f := analyse(t, all, today).Parasites[0].Freedom; f.Clear {
		t.Error("a finding after two full rounds")
	}
}

func TestEggCountsNeedTheRulesMinimum(t *testing.T) {
	d := flock(24)
	eggs := func(bird int, ago record.Day, epg float64) {
		d.Observations = append(d.Observations, record.Observation{Bird: d.Birds[bird].ID, On: record.On(today - ago), Trait: record.WormEggs, Value: epg, At: at(d)})
	}
	for i := range 12 {
		treatWorms(d, i, 30)
		eggs(i, 31, 400)
		eggs(i, 18, []float64{0, 50}[i%2])
	}
	c := claim(t, analyse(t, d, today), "treatment.worms")
	if c.Refusal == nil || c.Estimate != nil {
		t.Errorf("without untreated birds: %s", c.Text)
	}
	for i := 12; i < 24; i++ {
		eggs(i, 18, 500)
	}
	c = claim(t, analyse(t, d, today), "treatment.worms")
	if c.Refusal != nil || c.Estimate == nil || math.Abs(c.Estimate.Value-95) > 1e-9 {
		t.Errorf("%s", c.Text)
	}
}

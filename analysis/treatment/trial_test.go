package treatment

import (
	"reflect"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

func TestTheTrialTreatsEveryBirdAndTheLotIsTheSameAgain(t *testing.T) {
	d := flock(21, "A", "B", "C")
	for i := range 21 {
		look(d, i, 3, i%4 == 0, "")
	}
	first := analyse(t, d, today).Trial
	if !reflect.DeepEqual(first, analyse(t, d, today).Trial) {
		t.Error("the same records gave another lot")
	}
	seen, early := map[string]int{}, 0
	for _, r := range first.Rows {
		for _, b := range r.Birds {
			seen[b.ID]++
			early += one(r.Early)
		}
		if r.Early != (r.Treat == first.Start) {
			t.Errorf("%+v", r)
		}
	}
	for _, b := range d.Birds {
		if seen[b.ID] != 1 {
			t.Errorf("%s stands in the plan %d times", b.ID, seen[b.ID])
		}
	}
	if early < 9 || early > 12 || first.Unit != "bird" {
		t.Errorf("%d birds first, by %s", early, first.Unit)
	}
	d.Birds = d.Birds[:10]
	if got := analyse(t, d, today).Trial; got.Missing == "" {
		t.Error("ten birds were split")
	}
}

// The plan that the analysis itself proposes can be analysed: a second treatment on day 8, a look on day 14, and then the
// others' turn.
func TestTheProposedTrialIsAnalysed(t *testing.T) {
	d := flock(40, "A", "B")
	for i := range 40 {
		early := i%4 < 2
		look(d, i, 100, true, "")
		look(d, i, 86, !early, "")
		look(d, i, 72, false, "")
		for _, ago := range []record.Day{100, 92} {
			if !early {
				ago -= 14
			}
			treat(d, i, ago)
		}
	}
	e := analyse(t, d, today).Parasites[0].Effects[0]
	if e.Unit != "bird" || e.Treated != 20 || e.Untreated != 20 || e.TreatedAfter != 0 || e.UntreatedAfter != 20 || !e.differs() {
		t.Errorf("%s, %d treated (%d after), %d untreated (%d after), missing %q", e.Unit, e.Treated, e.TreatedAfter, e.Untreated, e.UntreatedAfter, e.Missing)
	}
	if len(e.Warnings) > 0 {
		t.Errorf("%v", e.Warnings)
	}
}

// A treatment of those that had findings is no trial, and every sentence on it says so.
func TestPickedBirdsAreWarnedOf(t *testing.T) {
	d := flock(40, "A", "B")
	for i := range 40 {
		picked := i%2 == 0 || i%3 == 0 && i > 30
		look(d, i, 60, picked || i%5 == 0, "")
		look(d, i, 44, picked && i%4 == 0, "")
		if picked {
			treat(d, i, 60)
		}
	}
	r := analyse(t, d, today)
	c := claim(t, r, "treatment.effect")
	if c.Stands != analysis.Open || !strings.Contains(c.Text+strings.Join(c.Caveats, " "), "who was treated was not left to chance") ||
		strings.Contains(strings.Join(c.Caveats, " "), "without regard to the bird") {
		t.Errorf("%s %q %v", c.Stands, c.Text, c.Caveats)
	}
}

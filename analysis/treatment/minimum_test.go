package treatment

import (
	"fmt"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Keelmark's domain notes 4.9: that a treatment lowered lice needs 8 treated birds looked at before and after, and
// untreated ones (here 5). On either side of each threshold only the number of birds differs.
func TestAnEffectNeedsEightTreatedAndFiveUntreatedBirds(t *testing.T) {
	for _, c := range []struct {
		treated, untreated int
		judged             bool
	}{{LeastTreated - 1, 12, false}, {LeastTreated, 12, true}, {12, LeastUntreated - 1, false}, {12, LeastUntreated, true}} {
		d := flock(c.treated+c.untreated, "A")
		for i := range d.Birds {
			look(d, i, 50, true, "")
			if i < c.treated {
				treat(d, i, 50)
			}
			look(d, i, 30, i >= c.treated, "")
		}
		e := claim(t, analyse(t, d, today), "treatment.effect")
		if got := e.Stands == analysis.For && e.Refusal == nil; got != c.judged {
			t.Errorf("%d treated and %d untreated: judged %v\n%s", c.treated, c.untreated, got, e.Text)
		}
	}
}

// The same notes: a time to return needs 4 returns in 2 pens.
func TestATimeToReturnNeedsFourReturnsInTwoPens(t *testing.T) {
	for _, c := range []struct {
		pens, rounds int
		told         bool
	}{{2, 1, false}, {2, 2, true}, {1, 4, false}, {3, 1, false}, {4, 1, true}} {
		var pens []string
		for i := range c.pens {
			pens = append(pens, fmt.Sprint("P", i+1))
		}
		d := flock(2*c.pens, pens...)
		for k := range c.rounds {
			day := record.Day(900 - 150*k)
			for i := range d.Birds {
				treat(d, i, day)
				look(d, i, day-14, false, "")
				look(d, i, day-35, false, "")
				look(d, i, day-56, i < c.pens, "")
			}
		}
		r := analyse(t, d, today)
		x := r.Parasites[0].Returns[0]
		if x.Seen != c.pens*c.rounds || x.Pens != c.pens {
			t.Fatalf("%d pens, %d rounds: %d returns in %d pens", c.pens, c.rounds, x.Seen, x.Pens)
		}
		if got := claim(t, r, "treatment.return"); (got.Refusal == nil) != c.told {
			t.Errorf("%d returns in %d pens: %s", x.Seen, x.Pens, got.Text)
		}
	}
}

package season

import (
	"fmt"

	"keelmark/analysis/stat"
)

// Mark is what counts as a finding in the counted sentences. Where something is found on most days, finding anything
// says nothing of when it is bad, and the mark is set higher: at a quarter of the birds, else at the median share.
type Mark struct {
	Above float64 // share of birds looked at
	Text  string  // "found", "found on over a quarter of the birds looked at"
}

// commonShare is the share of rounds with a finding above which the mark is raised. Source: Keelmark's choice.
const commonShare = 0.5

func markOf(rounds []Round, house bool) Mark {
	what := "birds looked at"
	if house {
		what = "looks of a day"
	}
	preposition := "on"
	if house {
		preposition = "at"
	}
	for _, m := range []Mark{{0, "found"}, {0.25, fmt.Sprintf("found %s over a quarter of the %s", preposition, what)}} {
		n := 0
		for _, r := range rounds {
			if m.reached(r) {
				n++
			}
		}
		if float64(n) <= commonShare*float64(len(rounds)) {
			return m
		}
	}
	var shares []float64
	for _, r := range rounds {
		shares = append(shares, r.Share())
	}
	middle, err := stat.Median(shares)
	if err != nil {
		return Mark{0, "found"}
	}
	return Mark{middle, fmt.Sprintf("found %s over %.0f %% of the %s, more than on half of all days,", preposition, middle*100, what)}
}

func (m Mark) reached(r Round) bool { return r.Looked > 0 && r.Share() > m.Above }

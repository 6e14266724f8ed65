package flocks

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
)

// traps explains where a reader would go wrong with these flocks.
func (r *Result) traps() []analysis.Claim {
	var claims []analysis.Claim
	add := func(kind, text string) {
		claims = append(claims, analysis.Claim{ID: "flocks.trap/" + kind, Topic: "reading the comparison", Stands: analysis.Open, Text: text, Method: method, N: analysis.Counts{Birds: r.birds()}})
	}
	if e, ok := r.measure(Effort); ok && len(e.Rows) >= 2 {
		low, high := math.Inf(1), 0.0
		for _, row := range e.Rows {
			if row.Rate > 0 {
				low, high = min(low, row.Rate), max(high, row.Rate)
			}
		}
		if high > 2*low && !math.IsInf(low, 1) {
			add("effort", fmt.Sprintf("Some flocks are looked at %.0f times as often as others. Who looks more often records more lice without having more: only findings for each look are compared, and an outbreak that is looked at every week still counts more often there.", high/low))
		}
	}
	if text, ok := r.treatedTrap(); ok {
		add("treated", text)
	}
	var scales []string
	for _, c := range r.Comparisons {
		if c.Measure == Condition && len(c.Rows) > 0 {
			scales = append(scales, fmt.Sprintf("%s (%s)", c.Scale, analysis.Counted(len(c.Rows), "flock", "flocks")))
		}
	}
	if len(scales) > 1 {
		add("scales", "Condition is scored on different scales, which are not set beside each other: "+strings.Join(scales, "; ")+".")
	}
	if n, in := r.unnamed(); n > 0 {
		add("unnamed", fmt.Sprintf("%s in %s name no bird: numbers within a day's sample tell nobody which bird was weighed the week before. Every sample is taken to hold the same birds, which errs on the side of saying too little; growth of a bird, and who was missed, cannot be told.",
			analysis.Capital(analysis.Counted(n, "weighing", "weighings")), analysis.Counted(in, "flock", "flocks")))
	}
	if text := r.mixUnknown(); text != "" {
		add("mix", text)
	}
	released := 0
	for _, f := range r.Flocks {
		if f.Released {
			released++
		}
	}
	if released > 0 {
		add("released", fmt.Sprintf("%s of %d came as summaries: their totals are exact, small groups are hidden, and what was hidden is taken at the pool's rate, so that numbers with the mix allowed for can differ from those of the whole records.",
			analysis.Capital(analysis.Counted(released, "flock", "flocks")), len(r.Flocks)))
	}
	for _, n := range r.notes {
		add("note", n)
	}
	return claims
}

// unnamed counts weighings that name no bird, and the flocks that hold them.
func (r *Result) unnamed() (weighings, flocks int) {
	for _, f := range r.Flocks {
		if f.Summary.Unnamed > 0 {
			weighings, flocks = weighings+f.Summary.Unnamed, flocks+1
		}
	}
	return weighings, flocks
}

// mixUnknown says what of the mix the records do not tell, over the flocks that came as records; "" where all is told.
func (r *Result) mixUnknown() string {
	var all, timed, sex, size, season float64
	for _, f := range r.Flocks {
		for _, c := range f.Summary.Cells {
			if f.Released || !slices.Contains([]Measure{Lice, Mites, Weight, Growth, Condition}, c.Measure) {
				continue
			}
			all += c.N
			if c.Sex == "" {
				sex += c.N
			}
			if c.Size == "" {
				size += c.N
			}
			if c.Measure != Growth {
				timed += c.N
				if c.Season == 0 {
					season += c.N
				}
			}
		}
	}
	var lacks []string
	for _, l := range []struct {
		what  string
		n, of float64
	}{{"sex", sex, all}, {"size class", size, all}, {"season (hemisphere = in flock.toml)", season, timed}} {
		if l.n > 0.2*l.of {
			lacks = append(lacks, fmt.Sprintf("%s in %.0f %%", l.what, 100*l.n/l.of))
		}
	}
	if all == 0 || len(lacks) == 0 {
		return ""
	}
	return "The records do not tell the " + strings.Join(lacks, ", the ") + " of what is compared: flocks with more cocks, other breeds or other times of the year can differ by that alone."
}

// treatedTrap warns where flocks that treat more also find more.
func (r *Result) treatedTrap() (string, bool) {
	lice, ok := r.measure(Lice)
	if !ok || len(lice.Rows) < 4 {
		return "", false
	}
	var treated, found []float64
	for _, row := range lice.Rows {
		var x, months float64
		for _, c := range r.Flocks[row.Flock].Summary.Total {
			switch c.Measure {
			case Treated:
				x += c.X
			case Effort:
				months += c.N
			}
		}
		if months > 0 {
			treated, found = append(treated, x/months), append(found, row.Rate)
		}
	}
	if slices.Max(append(treated, 0)) == 0 || concordance(treated, found) <= 0 {
		return "", false
	}
	return "Flocks that treated more also found more lice. That is what treating lousy birds looks like; it says nothing of what a treatment does. Only the same birds before and after, beside untreated ones, can say that.", true
}

// concordance is Kendall's sum of pairs that go together less those that go apart.
func concordance(a, b []float64) int {
	s := 0
	for i := range a {
		for j := range i {
			switch p := (a[i] - a[j]) * (b[i] - b[j]); {
			case p > 0:
				s++
			case p < 0:
				s--
			}
		}
	}
	return s
}

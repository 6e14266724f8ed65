package forecast

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// falseShare is the share of false flags among all flags of changed weight that is let pass. Source: Keelmark's own choice.
const falseShare = 0.10

// flock claims how many statements on single birds chance alone would make: many birds judged at once give some
// false flags whatever the rule.
func (r *Result) flock() []analysis.Claim {
	var out []analysis.Claim
	if c, ok := r.sides(); ok {
		out = append(out, c)
	}
	if c, ok := r.changes(); ok {
		out = append(out, c)
	}
	return out
}

// sides counts the birds whose chance speaks for or against, and how many of these the other side is true of by their
// own stated chances. It returns false for fewer than two birds.
//
// Source: posterior expected number of false discoveries, Müller, Parmigiani, Robert & Rousseau 2004, J. Am. Stat.
// Assoc. 99:990 (from memory).
func (r *Result) sides() (analysis.Claim, bool) {
	claim := analysis.Claim{ID: "forecast.flags", Topic: "weight", Stands: analysis.Open, Source: ownSource,
		Method: "sum of the stated chances of the other side"}
	var against, inside, favour, outside float64
	n := 0
	for i := range r.Birds {
		f := &r.Birds[i]
		if f.Refusal != nil || f.NoClass != nil {
			continue
		}
		for k, p := range f.Places {
			if !p.OnTheDay || p.Refusal != nil || math.IsNaN(f.Chance[k]) || !f.calibrated(r) {
				continue
			}
			n++
			switch chance := f.Chance[k]; p.Side(chance) {
			case analysis.Against:
				against, inside = against+1, inside+chance
			case analysis.For:
				favour, outside = favour+1, outside+1-chance
			}
			for _, w := range f.Weighings {
				claim.RestsOn = append(claim.RestsOn, w.From.At)
			}
		}
	}
	if n < 2 {
		return claim, false
	}
	slices.SortFunc(claim.RestsOn, record.Ref.Compare)
	claim.RestsOn = slices.Compact(claim.RestsOn)
	claim.N = analysis.Counts{Birds: n, Records: len(claim.RestsOn)}
	claim.Text = fmt.Sprintf("Of %d birds with a stated chance on %s, the chance of being inside the written figure is 10 %% or less for %.0f and 90 %% or more for %.0f; by these chances %s of the first would be inside all the same, and %s of the second outside.",
		n, r.On, against, favour, few(inside), few(outside))
	return claim, true
}

// few prints an expected number: "hardly any", "about 0.4", "about 3".
func few(x float64) string {
	switch {
	case x < 0.05:
		return "hardly any"
	case x < 3:
		return fmt.Sprintf("about %.1f", x)
	}
	return fmt.Sprintf("about %.0f", x)
}

// changes names the grown birds whose last two weighings differ by more than weighing error makes, with the false flags
// among many birds held down.
//
// Source: smallest change 1.96 √2 CV, normal theory; Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57:289.
func (r *Result) changes() (analysis.Claim, bool) {
	claim := analysis.Claim{ID: "forecast.changes", Topic: "weight", Stands: analysis.Open,
		Method: r.Error.String() + "; Benjamini-Hochberg", Source: "Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57:289"}
	type change struct {
		bird  record.Bird
		share float64
		over  record.Day
	}
	var all []change
	var ps []float64
	normal := stat.Normal()
	for i := range r.Birds {
		f := &r.Birds[i]
		n := len(f.Weighings)
		if f.Kind != Grown || n < 2 {
			continue
		}
		before, last := f.Weighings[n-2], f.Weighings[n-1]
		z := math.Log(last.Grams/before.Grams) / (math.Sqrt2 * r.Error.CV)
		p, err := normal.Upper(math.Abs(z))
		if err != nil {
			continue
		}
		all, ps = append(all, change{f.Bird, last.Grams/before.Grams - 1, last.Day - before.Day}), append(ps, min(1, 2*p))
		claim.RestsOn = append(claim.RestsOn, before.From.At, last.From.At)
	}
	if len(all) == 0 {
		return claim, false
	}
	slices.SortFunc(claim.RestsOn, record.Ref.Compare)
	claim.N = analysis.Counts{Birds: len(all), Records: len(claim.RestsOn)}
	adjusted, err := stat.BenjaminiHochberg(ps)
	if err != nil {
		return claim, false
	}
	var told []string
	for i, c := range all {
		if adjusted[i] <= falseShare && ps[i] <= 0.05 {
			told = append(told, fmt.Sprintf("%s by %+.0f %% in %d days", c.bird.Label(), 100*c.share, c.over))
		}
	}
	smallest := 100 * r.Error.SmallestChange()
	claim.Text = fmt.Sprintf("Two single weighings tell a change of about %.0f %% or more; of %s, between the last two weighings, ", smallest, analysis.Counted(len(all), "grown bird"))
	if len(told) == 0 {
		claim.Text += "none changed by more than weighing can show."
	} else {
		claim.Text += fmt.Sprintf("%d changed by more than weighing error makes: %s.", len(told), strings.Join(told, ", "))
	}
	if n := len(all); n > 1 {
		claim.Caveats = append(claim.Caveats, fmt.Sprintf("judged one by one at 5 %%, %s of %d birds would be named by weighing error alone: so that at most 1 named bird in 10 is expected to be, more than one bird's own limit is asked for",
			few(0.05*float64(n)), n))
	}
	claim.Caveats = append(claim.Caveats, "a true change is no sign of anything by itself: moult, lay, season and feed move grown weights")
	return claim, true
}

// caveats say what of the year's course and of the moult the forecast knows, for a bird on the day.
func (s *Season) caveats(moulting bool) []string {
	var out []string
	if s.Known() {
		out = append(out, fmt.Sprintf("over the year grown weights here move by about %.0f %% either way, most about %s (weighings in %d months of %d years): that is in the range",
			100*s.Swing, s.Heaviest, s.Months, s.Years))
	} else {
		out = append(out, fmt.Sprintf("the season's part in the weight is unknown: grown birds were weighed in %s of the calendar and %s, and %d months in %d years are needed to tell it",
			analysis.Counted(s.Months, "month"), analysis.Counted(s.Years, "year"), SeasonMonths, SeasonYears))
	}
	switch {
	case s.Moults > 0:
		out = append(out, fmt.Sprintf("in moult grown birds here weigh about %.0f %% %s (%s)", 100*math.Abs(s.Moult), lighter(s.Moult), analysis.Counted(s.Moults, "weighing")))
	case moulting:
		out = append(out, "seen in moult within 8 weeks of the day, and what a moult costs is unknown here: the range is wider for it")
	default:
		out = append(out, "no grown bird was weighed in moult: what a moult by the day would cost is unknown and not in the range")
	}
	return out
}

package decision

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/slip"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// mostNamed is how many weighings a caveat names.
const mostNamed = 3

// fragile says of each claim on the weight of the day that speaks for or against a bird whether a single wrong weighing
// would take it to another side. Each of the bird's own weighings is left out in turn; what its line says is held fixed.
func (r *Result) fragile(ctx context.Context, g *gathering) error {
	all, err := slip.Influences(ctx, g.c, g.d, r.On)
	if err != nil {
		return err
	}
	for i := range r.Sheets {
		s := &r.Sheets[i]
		if s.Ahead == nil || s.Ahead.Refusal != nil || len(all[s.Bird.ID]) == 0 {
			continue
		}
		for k := range s.Claims {
			claim := &s.Claims[k]
			for n, p := range s.Ahead.Places {
				if claim.ID != standard.ClaimID("forecast.band", s.Bird, s.Ahead.Places, n) || claim.Stands != analysis.For && claim.Stands != analysis.Against {
					continue
				}
				caveat := flips(all[s.Bird.ID], p, s.Ahead.OnTheDay, claim.Stands, r.Units)
				claim.Caveats = append(slices.Clone(claim.Caveats), caveat)
			}
		}
	}
	return nil
}

// flips names the weighings without any one of which a claim would stand on another side.
func flips(own []slip.Influence, p standard.Place, day standard.Predictive, side analysis.Stands, u analysis.Units) string {
	type flip struct {
		of     record.Observation
		chance float64
	}
	var found []flip
	for _, w := range own {
		if chance := p.Band.Chance(shifted(day, w.Shift)); !math.IsNaN(chance) && p.Side(chance) != side {
			found = append(found, flip{w.Of, chance})
		}
	}
	if len(found) == 0 {
		return fmt.Sprintf("no single weighing decides this: without any one of %d it stands on the same side", len(own))
	}
	slices.SortStableFunc(found, func(a, b flip) int { return b.of.At.Compare(a.of.At) })
	var texts []string
	for _, f := range found[:min(len(found), mostNamed)] {
		texts = append(texts, fmt.Sprintf("%s on %s (%s; the chance is then %s)", u.Weight(f.of.Value), f.of.On, f.of.At.Cell(), standard.About(f.chance)))
	}
	if len(found) == 1 {
		return "this flips if one weighing is wrong: " + texts[0]
	}
	more := ""
	if n := len(found) - mostNamed; n > 0 {
		more = fmt.Sprintf(" or one of %d more", n)
	}
	return "this flips if one of these weighings is wrong: " + strings.Join(texts, ", ") + more
}

// shifted moves a distribution of log weight.
func shifted(p standard.Predictive, by float64) standard.Predictive {
	out := standard.Predictive{Parts: slices.Clone(p.Parts)}
	for i := range out.Parts {
		out.Parts[i].Mean += by
	}
	return out
}

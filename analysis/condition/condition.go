package condition

import (
	"context"
	"fmt"
	"slices"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Minimum data.
const (
	// MinPaired is how many birds must be scored at both dates before the flock's change is judged, and in each of
	// two pens before they are compared. Source: domain notes 4.2.
	MinPaired = 6
	// ModelBirds, ModelLevels and LevelUses: a proportional-odds model with a bird intercept needs so many birds and
	// so many levels, each used so often. Source: domain notes 4.2.
	ModelBirds  = 30
	ModelLevels = 3
	LevelUses   = 5
	// TrendScores is how many scores of one bird within TrendDays a trend needs: with fewer even a perfect run has a
	// two-sided chance above 5 % (4 scores: 2/4! = 8 %; 5: 2/5! = 1.7 %). Source: Kendall 1938, by counting.
	TrendScores = 5
	TrendDays   = 365
	// ScoredDays is how long a score speaks for a bird. Source: domain notes 4.8 (28 days), common practice.
	ScoredDays = 28
	// RoundDays is how close scores of different birds must lie to count as one round.
	RoundDays = 3
	// AgreementPairs and KappaPairs: double scores needed to print exact agreement, and a kappa, whose standard error
	// at 20 pairs is about 0.15. Source: domain notes 4.8 for the five re-scored birds a session; the second is ours.
	AgreementPairs = 5
	KappaPairs     = 20
	// DriftPairs double scores on DriftDates dates are needed before a drift between two scorers is judged.
	DriftPairs = 10
	DriftDates = 5 // as for TrendScores: four days can never show a drift
)

// level is the stated chance of every interval; significant the chance below which a change is called more than
// scoring by chance would give; falseShare the share of false ones allowed among the birds whose trend is counted for or
// against them.
const (
	level       = 0.90
	significant = 0.05
	falseShare  = 0.10
)

const method = "scores on one declared scale; never averaged across scales"

// Options of the analysis.
type Options struct {
	Ring string `name:"ring" doc:"ring or name of one bird; empty for all"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("condition", "Condition, feather, leg and comb scores: where each bird stands and what moved",
		`For each bird and trait: the last score on the keeper's declared scale, how old it is, and whether its scores of the
last year move one way. For the flock: whether the same birds score otherwise than at the round before, how pens
compare in pairs of birds, and how two scorers agree and drift apart. Needs a scale declared in flock.toml with its
direction; 6 birds scored at both dates for a change; 5 scores of a bird for a trend. Scales are never converted.
Source: signed ranks Wilcoxon 1945; trend Mann 1945, Sen 1968; pairs McGraw & Wong 1992; proportional odds McCullagh
1980; weighted kappa Cohen 1968, Fleiss, Cohen & Everitt 1969.`,
		Options{}, run)
}

// History is what is known of one bird and one trait, on one scale.
type History struct {
	Bird     record.Bird
	Trait    record.Trait
	Scores   []Score // on the scale of the last one, oldest first; empty where the bird was never scored
	Other    int     // scores on other scales, which are not compared
	Scale    record.Scale
	Declared bool
	Age      int // of the last score in days
	Trend    *Trend
}

// Result is what was found.
type Result struct {
	Today     record.Day
	Histories []History // of present birds, by bird and trait; only traits that are scored at all
	Changes   []Change
	Pens      []PenPair
	Models    []Model
	Scorers   []Scorers
	Scores    []Score
	Left      int // scores left out: to be confirmed, no single step, or without a date
	claims    []analysis.Claim
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	r := &Result{Today: c.Today}
	r.Scores, r.Left = Scores(d, c.Today)
	presence := analysis.PresenceOf(d)
	for _, b := range d.Birds {
		if presence.There(b, c.Today) {
			r.Histories = append(r.Histories, r.histories(b, c.Settings.Scales)...)
		}
	}
	adjust(r.Histories)
	if o.Ring != "" {
		b, ok := d.Bird(o.Ring)
		if !ok {
			return nil, fmt.Errorf("condition: no single bird is known as %q; use its ring as check prints it", o.Ring)
		}
		r.Histories = slices.DeleteFunc(r.Histories, func(h History) bool { return h.Bird.ID != b.ID })
		r.claims = r.birdClaims()
		return r, nil
	}
	for _, g := range r.groups(c.Settings.Scales) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r.flock(g)
	}
	r.claims = append(r.flockClaims(d), r.birdClaims()...)
	return r, nil
}

// group is all scores of one trait on one scale.
type group struct {
	trait    record.TraitSpec
	name     string // of the scale as the records write it
	scale    record.Scale
	declared bool
	scores   []Score
}

// groups sorts the scores by trait and scale. Scores without a named scale form a group of their own, unless the trait
// has a declared one.
func (r *Result) groups(scales map[string]record.Scale) []group {
	var out []group
	for _, t := range traits() {
		var names []string
		by := map[string]*group{}
		for _, s := range r.Scores {
			if s.Trait != t.Trait {
				continue
			}
			scale, ok := scaleOf(scales, s)
			name := s.Scale
			if ok {
				name = scale.Name
			}
			g := by[name]
			if g == nil {
				g = &group{trait: t, name: name, scale: scale, declared: ok}
				by[name], names = g, append(names, name)
			}
			g.scores = append(g.scores, s)
		}
		for _, n := range names {
			out = append(out, *by[n])
		}
	}
	return out
}

func (r *Result) histories(b record.Bird, scales map[string]record.Scale) []History {
	var out []History
	for _, t := range traits() {
		if !slices.ContainsFunc(r.Scores, func(s Score) bool { return s.Trait == t.Trait }) {
			continue
		}
		h := History{Bird: b, Trait: t.Trait}
		var own []Score
		for _, s := range r.Scores {
			if s.Bird == b.ID && s.Trait == t.Trait {
				own = append(own, s)
			}
		}
		if len(own) > 0 {
			last := own[len(own)-1]
			h.Scale, h.Declared = scaleOf(scales, last)
			h.Age = int(r.Today - last.On.First)
			for _, s := range own {
				other, ok := scaleOf(scales, s)
				if ok == h.Declared && other.Name == h.Scale.Name && (ok || s.Scale == last.Scale) {
					h.Scores = append(h.Scores, s)
				}
			}
			h.Other = len(own) - len(h.Scores)
			if h.Declared {
				h.Trend = trendOf(h.Scores, r.Today)
			}
		}
		out = append(out, h)
	}
	return out
}

// flock judges what the scores of one trait on one scale say of all birds.
func (r *Result) flock(g group) {
	r.Scorers = append(r.Scorers, scorersOf(g)...)
	if !g.declared {
		return
	}
	r.Changes = append(r.Changes, changeOf(g))
	r.Pens = append(r.Pens, pensOf(g)...)
	if m, ok := modelOf(g, r.Today); ok {
		r.Models = append(r.Models, m)
	}
}

// Claims are those of the flock, then those of each bird.
func (r *Result) Claims() []analysis.Claim { return r.claims }

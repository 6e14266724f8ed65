package treatment

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// level is the stated chance of every interval.
const level = 0.90

// Options of the analysis.
type Options struct {
	Parasite string `name:"parasite" doc:"one parasite as the records name it; empty for all that live on birds"`
	TrialIn  int    `name:"trial_in" doc:"days from today until a fair trial would begin" unit:"d"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("treatment", "What treatments did, when parasites came back, and which unseen birds may carry them",
		`For each treatment: the same birds before it and 14 to 28 days after, beside untreated birds of the same pens and days;
without untreated birds only that findings fell, beside what repeat looks show without any treatment. After each, whether
survivors, the expected hatch or a new arrival fit the looks, if odds are above 5 to 1; when the parasite was seen again; the
days for a second treatment and a look, and the withdrawal as entered. For the flock: the chance that a bird not looked at
carries the parasite, how much "none seen" can miss, and a plan for a fair trial.
Needs dated looks at named birds before and after dated treatments.
Source: pooled ratio Mantel & Haenszel 1959, exact conditional test; Abbott 1925, Henderson & Tilton 1955; return times
Turnbull 1976; hidden states Jackson et al. 2003; egg counts Coles et al. 1992; freedom Cameron & Baldock 1998.`,
		Options{TrialIn: 3}, run)
}

// Result is what was found.
type Result struct {
	Today     record.Day
	Flock     string
	Parasites []Judged
	Worms     []WormTrial
	Trial     Trial
	Course    bool // any treatment at all
	LeftOut   []LeftOut
	RenamedAs map[string]string // pens that go by a later name
	renamedAt map[string][]record.Ref
	claims    []analysis.Claim
}

// Judged is what was found for one parasite.
type Judged struct {
	Parasite  string
	Occasions []Occasion
	Effects   []Effect // one for each product, in order of its first day
	Repeats   Repeats
	Returns   []Returns // one for each product
	Freedom   Freedom
	Carriers  Carriers
	Timelines []Timeline
}

// Timeline is what is recorded of one bird and one parasite, for the state chart.
type Timeline struct {
	Bird      record.Bird
	Looks     []parasite.Look // oldest first
	Treated   []record.Day
	From, To  record.Day // days in the flock, as far as the looks reach
	ChanceOn  []record.Day
	Chance    []float64 // of carrying it on those days, 0 to 1; empty where no model was fitted
	LastLook  record.Day
	EverFound bool
}

// LeftOut is a treatment that no analysis can use, and why.
type LeftOut struct {
	At  record.Ref
	On  record.Date
	Why string
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	if o.TrialIn < 0 || o.TrialIn > 365 {
		return nil, fmt.Errorf("treatment: trial_in %d; use 0 to 365 days", o.TrialIn)
	}
	looks := parasite.Looks(d, c.Settings.Scales, c.Today)
	courses, _ := parasite.Courses(d, c.Today) // those without a date the analysis of parasites names
	parasites := parasite.Named(looks)
	r := &Result{Today: c.Today, Flock: d.Name, Course: len(courses) > 0}
	g := gather(d, looks, courses, c.Today)
	r.RenamedAs, r.renamedAt, r.LeftOut = g.renamed, g.renamedAt, g.leftOut
	known := false
	for _, name := range parasites {
		if cycle, ok := parasite.LifeCycleOf(name); ok && !cycle.OnBird || o.Parasite != "" && name != o.Parasite {
			continue
		}
		known = true
		j, err := g.judge(ctx, name)
		if err != nil {
			return nil, err
		}
		r.Parasites = append(r.Parasites, j)
	}
	if o.Parasite != "" && !known {
		return nil, fmt.Errorf("treatment: the records look for no %q on birds; they look for: %s", o.Parasite, strings.Join(parasites, ", "))
	}
	r.Worms = wormTrials(d, courses)
	r.Trial = g.propose(r.Parasites, c.Today+record.Day(o.TrialIn))
	r.claims = r.write(d)
	return r, nil
}

func (g *gathered) judge(ctx context.Context, name string) (Judged, error) {
	j := Judged{Parasite: name}
	v := g.of(name)
	j.Occasions = v.occasions()
	j.Repeats = v.repeats()
	var products []string
	for _, o := range j.Occasions {
		if !slices.Contains(products, o.Product) {
			products = append(products, o.Product)
		}
	}
	for _, product := range products {
		var own []Occasion
		for _, o := range j.Occasions {
			if o.Product == product {
				own = append(own, o)
			}
		}
		j.Effects = append(j.Effects, v.effect(product, own, j.Repeats))
		j.Returns = append(j.Returns, v.returns(product, own))
	}
	for i := range j.Occasions {
		j.Occasions[i].Story = v.story(j.Occasions[i])
	}
	var err error
	if j.Carriers, j.Timelines, err = v.carriers(ctx); err != nil {
		return j, err
	}
	see := parasite.Sensitivity
	if m := j.Carriers.Model; m != nil && m.Told {
		see = m.See.Low
	}
	j.Freedom = v.freedom(see)
	j.Freedom.Fitted = see != parasite.Sensitivity
	return j, nil
}

// Claims implements analysis.Result.
func (r *Result) Claims() []analysis.Claim { return r.claims }

// Cautions implements analysis.Cautioned: they stand beside every result of this analysis, whether or not a treatment is
// recorded, for a fair trial is a treatment too.
func (r *Result) Cautions() []analysis.Caution { return parasite.Cautions() }

// share is x of n with Wilson's interval in percent.
func share(x, n int) (stat.Interval, bool) {
	i, err := stat.Wilson(x, n, level)
	if err != nil {
		return i, false
	}
	i.Value, i.Low, i.High = 100*i.Value, 100*i.Low, 100*i.High
	return i, true
}

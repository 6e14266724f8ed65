package season

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// Options of the analysis.
type Options struct {
	Parasite string `name:"parasite" doc:"one parasite as check prints it, such as lice or red mite; empty for all"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("season", "Whether and when lice and mites come back each year",
		`For each parasite by itself: in how many years it was found in which months and where nobody looked; whether the bad
time falls at the same part of each year more than outbreaks at random would; if so, when it is worst, which months are at
risk and from when on to look; what looking more before shows does to it; and how many years more would settle it. Names
a season only from three usable years on (a look in 8 of 13 four-week slots) and only where the evidence passes a cut
that called at most 7 % of simulated flocks without a season seasonal. Refuses where age and time of year are the same thing.
Source: year-rotation test and harmonic model with a wandering deviation (Harvey 1989), cut by simulation (the grid in
the package's tests); peak by Fieller 1954 with years as units; first findings by Rayleigh's statistic against the
days looked; shares of years with Wilson's interval (1927).`,
		Options{}, run)
}

// Pattern is what was found of one parasite.
type Pattern struct {
	Parasite string
	House    bool // it lives in the house: looks are the units, not birds
	Rounds   []Round
	Years    []Year
	Mark     Mark
	Months   [12]MonthOfYear
	Window   *Window // nil where no half year holds most findings
	Ages     Ages
	Grown    bool // told from looks at grown birds only
	Rotation Rotation
	Wander   Wander
	// Evidence adds what model and rotation say; Named tells whether it passes Cut, with enough usable years and no
	// aliasing with age. Without Named nothing is called a season.
	Evidence float64
	Named    bool
	Peak     Peak // only where Named
	Onsets   Onsets
	Start    *Start  // only where Named
	Outlook  Outlook // only where not Named
	LeftOut  []string
	Renamed  string // what speaks for pens that changed their names
	Shows    ShowEffort
	Treated  []record.Day // days of treatments against it, or that say nothing of what against, each once
	refused  string       // why nothing can be told, "" where something can
	at       []record.Ref // cells of all looks for it
	// Cells of the treatments and of the shows that the sentences count.
	treatedAt, shown []record.Ref
}

// Result is what was found, parasite by parasite.
type Result struct {
	Today    record.Day
	South    bool // hemisphere of the flock; northern where the settings do not say
	Told     bool // the settings say which
	Patterns []Pattern
	cautions []analysis.Caution
	claims   []analysis.Claim
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	all, err := gather(ctx, c, d)
	if err != nil {
		return nil, err
	}
	hemisphere := strings.ToLower(c.Settings.Flock.Hemisphere)
	r := &Result{Today: c.Today, South: hemisphere == "south", Told: hemisphere != ""}
	courses, undated := parasite.Courses(d, c.Today)
	if len(courses)+len(undated) > 0 {
		r.cautions = parasite.Cautions()
	}
	hatched, checks := told(d)
	shows, shown := showDays(c, d)
	var known []string
	for _, g := range all {
		known = append(known, g.parasite)
		if o.Parasite != "" && o.Parasite != g.parasite {
			continue
		}
		p, err := pattern(ctx, g, hatched, checks)
		if err != nil {
			return nil, err
		}
		p.Shows, p.shown = showEffort(p.Rounds, shows), shown
		p.Treated, p.treatedAt = treated(courses, g.parasite)
		r.Patterns = append(r.Patterns, p)
	}
	if o.Parasite != "" && len(r.Patterns) == 0 {
		return nil, fmt.Errorf("season: no dated look for %q is recorded; the records look for: %s", o.Parasite, strings.Join(known, ", "))
	}
	r.claims = r.tell(d)
	return r, nil
}

func pattern(ctx context.Context, g gathered, hatched map[string]record.Date, checks map[record.Ref]*record.CheckResult) (Pattern, error) {
	p := Pattern{Parasite: g.parasite, House: g.house, LeftOut: g.leftOut, Renamed: renamed(g.looks), at: g.at}
	p.Rounds = clear(g.rounds)
	p.Ages = ages(g.looks, hatched)
	if !g.house && p.Ages.Aliased() {
		if old := clear(rounds(grown(g.looks, hatched), false, checks)); len(usable(years(old))) >= LeastYears {
			p.Rounds, p.Grown = old, true
		}
	}
	p.Years = years(p.Rounds)
	p.Mark = markOf(p.Rounds, g.house)
	p.Months = monthsOf(p.Rounds, p.Mark)
	if w, ok := window(p.Rounds, p.Months, p.Mark); ok {
		p.Window = &w
		for i := range p.Months {
			p.Months[i].Inside = w.in(p.Months[i].Month)
		}
	}
	p.Onsets = onsets(p.Rounds, p.Mark)
	p.Rotation = rotate(p.Years)
	looked, found := 0, 0
	for _, r := range p.Rounds {
		looked, found = looked+r.Looked, found+r.Found
	}
	days := len(p.Rounds)
	switch {
	case days == 0:
		p.refused = "no look gives a clear answer"
	case days == 1:
		p.refused = fmt.Sprintf("all clear looks are of one day, %s", p.Rounds[0].On)
	case found == 0:
		p.refused = fmt.Sprintf("none were found on any of %d days; there is nothing to time", days)
	case found == looked:
		p.refused = fmt.Sprintf("something was found at every look on all %d days; nothing sets one time apart from another", days)
	case p.Ages.Aliased() && !g.house && !p.Grown:
		p.refused = "age and time of year are the same thing in these looks"
	case p.Rotation.Years < LeastYears:
		p.refused = fmt.Sprintf("%s usable, and fewer than %d cannot tell it from chance", yearsAre(p.Rotation.Years), LeastYears)
	}
	if p.refused == "" {
		if w, ok := wander(p.Rounds); ok {
			p.Wander, p.Evidence = w, evidence(w, p.Rotation)
			p.Named = p.Evidence > Cut
		}
	}
	if p.Named {
		p.Peak, p.Named = peak(p.Years, level)
	}
	if p.Named {
		if s, ok := startOf(p.Onsets.List, p.Peak.Angle+math.Pi); ok {
			p.Start = &s
		}
		return p, ctx.Err()
	}
	var err error
	if days >= leastRounds && found > 0 && found < looked { // else there are no outbreaks to reckon with
		p.Outlook, err = outlook(ctx, p.Rounds, p.Years, p.Mark)
	}
	return p, err
}

func yearsAre(n int) string {
	switch n {
	case 0:
		return "no year is"
	case 1:
		return "one year is"
	}
	return fmt.Sprintf("%d years are", n)
}

// Pattern returns what was found of one parasite.
func (r *Result) Pattern(of string) (*Pattern, bool) {
	for i := range r.Patterns {
		if r.Patterns[i].Parasite == of {
			return &r.Patterns[i], true
		}
	}
	return nil, false
}

// Claims are, for each parasite, what was counted, whether it recurs, and what follows from that.
func (r *Result) Claims() []analysis.Claim { return r.claims }

// Cautions are those of treatments, where there are any, and of parasites that bite people.
//
// Source: named in each; no dose, product or withdrawal time is ours.
func (r *Result) Cautions() []analysis.Caution {
	out := slices.Clone(r.cautions)
	for _, p := range r.Patterns {
		if p.Parasite == record.RedMite || p.Parasite == record.NorthernFowlMite || p.Parasite == record.Mites {
			out = append(out, analysis.Caution{Topic: "People", Text: "Fowl mites and red mites bite people. Wash your hands and change your clothes after handling birds or opening the house; " +
				"ask a doctor about a rash.", Source: "extension texts"})
			break
		}
	}
	return out
}

func treated(courses []parasite.Course, p string) (days []record.Day, at []record.Ref) {
	for _, c := range courses {
		if (c.Against == "" || c.Against == p) && c.Event.On.Last-c.Event.On.First <= vagueDays {
			days, at = append(days, c.Event.On.Middle()), append(at, c.Event.At)
		}
	}
	return slices.Compact(days), at // courses come oldest first
}

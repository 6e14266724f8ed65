package standard

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Options of the analysis.
type Options struct {
	Ring      string     `name:"ring" doc:"ring or name of one bird; empty for all"`
	On        record.Day `name:"on" doc:"the day to judge classes by; empty for the show day of flock.toml, else today"`
	Tolerance float64    `name:"tolerance" doc:"percent of the listed weight allowed either way where the standard's own rule was not found; 0 for none" unit:"%"`
	YoungFrom string     `name:"young_from" doc:"month and day from which the standard's weight rule covers young birds, such as 12-01; empty as the standard writes it"`
	Expires   int        `name:"expires" doc:"age at which a last weighing no longer counts as recent" unit:"d"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("standard", "Where each bird stands against the published weight",
		`For each bird: its class on the decision day by the show's own rule, the published weight of that class with
its source, the band that the standard's written rule gives, the last weighing, and what percent of the listed
weight that was, with weighing error. Where a birthday falls before the show, both classes are shown.
Needs breed, size, sex, hatch date and one dated weighing a bird. Weighing error is the flock's own where it has
10 pairs of weighings at most 3 days apart, else 3 %.
Source: published weights as each row names them; the 20 % rule of the American standard from the American
Poultry Association's notice of November 2023; for other standards no tolerance is assumed.`,
		Options{Expires: LastWeighingDays}, run)
}

// Standing is where one bird stands.
type Standing struct {
	Bird    record.Bird
	Places  []Place             // classes on the decision day, then a class held only until then
	Last    record.Observation  // latest dated weighing up to today
	Weighed bool                // false where there is none
	Age     int                 // of the last weighing in days
	Expired bool                // older than the option allows
	Waiting int                 // weighings left out until the keeper confirms them
	Leaving []record.Event      // deaths and departures that the keeper has not confirmed
	Percent []analysis.Estimate // of each Place's target, in %, NaN where the place has no band
	Chance  []float64           // of each Place: that a further weighing now falls inside; NaN where not stated
	Refusal *analysis.Refusal   // no class can be told
}

// Result is what was found.
type Result struct {
	On    record.Day
	Today record.Day
	Rule  Rule
	Error WeighingError
	Units analysis.Units
	Birds []Standing

	claims []analysis.Claim
}

// level is the stated chance of every interval of the analysis.
const level = 0.90

// z is the standard normal quantile of level.
const z = 1.6448536269514722

func run(_ context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	rule, err := RuleOf(c.Settings.Show)
	if err != nil {
		return nil, err
	}
	terms, err := TermsOf(c.Settings, o.Tolerance, o.YoungFrom)
	if err != nil {
		return nil, err
	}
	birds, err := Present(d, o.Ring, c.Today)
	if err != nil {
		return nil, err
	}
	r := &Result{On: DecisionDay(o.On, c), Today: c.Today, Rule: rule, Error: WeighingErrorOf(d), Units: analysis.UnitsOf(c.Settings)}
	weights, here := d.ByBird(record.Weight), analysis.PresenceOf(d)
	for _, b := range birds {
		b = KnownHatch(d, b)
		s := Standing{Bird: b, Leaving: here.Waiting(b.ID, c.Today)}
		s.Places, s.Refusal = Places(c, b, r.On, rule, terms)
		if s.Last, s.Weighed = Last(weights[b.ID], c.Today); s.Weighed {
			s.Age = int(c.Today - s.Last.On.First)
			s.Expired = s.Age > o.Expires
		}
		for _, o := range weights[b.ID] {
			if o.Flagged {
				s.Waiting++
			}
		}
		s.compare(r.Error)
		r.Birds = append(r.Birds, s)
		r.claims = append(r.claims, r.claimsOf(s)...)
	}
	if len(r.Birds) > 1 {
		r.claims = append(r.claims, r.flockClaim(o.Expires))
	}
	return r, nil
}

// compare fills Percent and Chance.
func (s *Standing) compare(w WeighingError) {
	for _, p := range s.Places {
		percent := analysis.Estimate{Value: math.NaN(), Low: math.NaN(), High: math.NaN(), Level: level, Unit: "%"}
		chance := math.NaN()
		if s.Weighed && p.Refusal == nil {
			target, _ := p.Band.Target()
			percent.Value = 100 * s.Last.Value / target
			percent.Low, percent.High = percent.Value*math.Exp(-z*w.CV), percent.Value*math.Exp(z*w.CV)
			chance = p.Band.Chance(LogNormal(s.Last.Value, w.CV).Widened(w.CV))
		}
		s.Percent, s.Chance = append(s.Percent, percent), append(s.Chance, chance)
	}
}

// Claims are one for each bird and class, and one for the flock.
func (r *Result) Claims() []analysis.Claim { return r.claims }

func (r *Result) claimsOf(s Standing) []analysis.Claim {
	base := analysis.Claim{
		Subject: analysis.Subject{Bird: s.Bird.ID}, Topic: "weight", Stands: analysis.Open,
		N: analysis.Counts{Birds: 1}, RestsOn: s.Bird.At,
	}
	label := s.Bird.Label()
	for _, e := range s.Leaving {
		base.Caveats = append(base.Caveats, analysis.MayBeGone(e))
	}
	if s.Refusal != nil {
		base.ID = "standard.class/" + s.Bird.ID
		base.Text = fmt.Sprintf("%s: cannot say which class on %s, because %s.", label, r.On, s.Refusal.Needs)
		base.Refusal, base.Source = s.Refusal, "class by the show's rule: "+r.Rule.String()
		return []analysis.Claim{base}
	}
	if s.Weighed {
		base.N.Records, base.N.Dates = 1, 1
		base.RestsOn = union(s.Bird.At, analysis.Refs([]record.Observation{s.Last}))
	}
	var out []analysis.Claim
	for i, p := range s.Places {
		claim := base
		claim.ID = ClaimID("standard.band", s.Bird, s.Places, i)
		claim.Method = r.Error.String()
		who := fmt.Sprintf("%s, %s on %s", label, p.Class, r.On)
		if !p.OnTheDay {
			who = fmt.Sprintf("%s, %s today but no longer on %s", label, p.Class, r.On)
		}
		claim.Caveats = slices.Concat(base.Caveats, ClassCaveats(s.Places, r.On, r.Rule))
		if p.Refusal != nil {
			claim.Text = fmt.Sprintf("%s: cannot say how its weight compares, because %s.", who, p.Refusal.Needs)
			claim.Refusal = p.Refusal
			claim.Source = "class by the show's rule: " + r.Rule.String()
			out = append(out, claim)
			continue
		}
		claim.Source = p.Band.Origin()
		claim.Caveats = append(claim.Caveats, p.Band.Caveats...)
		rule := fmt.Sprintf("written figure for the class %s by %s", p.Band.Text(r.Units), p.Band.Rule)
		if !s.Weighed {
			claim.Refusal = &analysis.Refusal{Needs: "no dated weighing of " + label, Next: "weigh " + label}
			if s.Waiting > 0 {
				claim.Refusal.Next = "confirm or correct the weighings of " + label + " that are asked about"
				claim.Caveats = append(claim.Caveats, fmt.Sprintf("weighings that wait for the keeper's confirmation are left out: %d", s.Waiting))
			}
			claim.Text = fmt.Sprintf("%s: no dated weighing; %s.", who, rule)
			out = append(out, claim)
			continue
		}
		target, of := p.Band.Target()
		percent := s.Percent[i]
		claim.Estimate = &percent
		claim.Text = fmt.Sprintf("%s: last weighed %s on %s (%s), %.0f %% of the %s %s (%.0f to %.0f %% with weighing error); %s",
			who, r.Units.Weight(s.Last.Value), s.Last.On, daysAgo(s.Age), percent.Value, of, r.Units.Weight(target),
			percent.Low, percent.High, rule)
		if s.Waiting > 0 {
			claim.Caveats = append(claim.Caveats, fmt.Sprintf("weighings that wait for the keeper's confirmation are left out: %d", s.Waiting))
		}
		switch recent := !s.Expired && (Adult(p.Class) || r.On-s.Last.On.First <= 7); {
		case s.Expired:
			claim.Refusal = &analysis.Refusal{
				Needs: fmt.Sprintf("the last weighing is %d days old and no longer tells today's weight", s.Age),
				Next:  "weigh " + label + " again",
			}
		case !math.IsNaN(s.Chance[i]) && recent:
			claim.Text += fmt.Sprintf("; chance of a further weighing now being inside %s", About(s.Chance[i]))
			claim.Stands = p.Side(s.Chance[i])
		case !Adult(p.Class):
			claim.Caveats = append(claim.Caveats, "a young bird is still growing: the forecast says what it may weigh on the day")
		}
		claim.Text += "."
		out = append(out, claim)
	}
	return out
}

func (r *Result) flockClaim(expires int) analysis.Claim {
	recent, refs := 0, []record.Ref{}
	for _, s := range r.Birds {
		if s.Weighed && !s.Expired {
			recent++
			refs = append(refs, s.Last.At)
		}
	}
	claim := analysis.Claim{
		ID: "standard.weighed", Topic: "weight", Stands: analysis.Open, RestsOn: union(refs, nil),
		N:      analysis.Counts{Birds: len(r.Birds), Records: recent},
		Text:   fmt.Sprintf("%s of %d birds %s weighed in the %d days up to %s.", noneOr(recent), len(r.Birds), was(recent), expires, r.Today),
		Method: "count", Source: "common practice, no source",
	}
	if recent < len(r.Birds) {
		claim.Refusal = &analysis.Refusal{
			Needs: missing(len(r.Birds) - recent),
			Next:  "weigh " + strings.Join(notWeighed(r.Birds), ", "),
		}
	}
	return claim
}

func noneOr(n int) string {
	if n == 0 {
		return "None"
	}
	return strconv.Itoa(n)
}

func was(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

func missing(n int) string {
	if n == 1 {
		return "1 bird has no weighing that recent"
	}
	return fmt.Sprintf("%d birds have no weighing that recent", n)
}

func notWeighed(birds []Standing) []string {
	var out []string
	for _, s := range birds {
		if !s.Weighed || s.Expired {
			out = append(out, s.Bird.Label())
		}
	}
	return out
}

func daysAgo(n int) string {
	switch n {
	case 0:
		return "today"
	case 1:
		return "1 day ago"
	}
	return fmt.Sprintf("%d days ago", n)
}

// Side says on which side of an entry a chance of being inside the band stands: For at 90 % or more, Against
// at 10 % or less.
//
// Source: thresholds are Keelmark's own; they sort claims and decide nothing.
func Side(chance float64) analysis.Stands {
	switch {
	case chance >= 0.90:
		return analysis.For
	case chance <= 0.10:
		return analysis.Against
	}
	return analysis.Open
}

// Side says on which side of an entry a chance of being inside the place's band stands. A band with one end only, a
// maximum or a minimum, never speaks for a bird, and another country's weight speaks neither way.
func (p Place) Side(chance float64) analysis.Stands {
	side := Side(chance)
	oneEnd := p.Band.Low <= 0 || math.IsInf(p.Band.High, 1)
	if p.Choice.Foreign || oneEnd && side == analysis.For {
		return analysis.Open
	}
	return side
}

// Percent prints a chance without claiming certainty: "98 %", "more than 99 %", "less than 1 %".
func Percent(chance float64) string {
	switch {
	case chance > 0.99:
		return "more than 99 %"
	case chance < 0.01:
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*chance)
}

// About prints a chance within a sentence: "about 98 %", "more than 99 %".
func About(chance float64) string {
	if chance > 0.99 || chance < 0.01 {
		return Percent(chance)
	}
	return "about " + Percent(chance)
}

func union(a, b []record.Ref) []record.Ref {
	out := slices.Concat(a, b)
	slices.SortFunc(out, record.Ref.Compare)
	return slices.Compact(out)
}

// Tables has one row for each bird and class.
func (r *Result) Tables() []analysis.Table {
	t := analysis.Table{
		Name:    "standing",
		Caption: fmt.Sprintf("Last weights against the published weight of the class on %s", r.On),
		Columns: []analysis.Column{
			{Name: "bird", Head: "bird", Doc: "ring and name"},
			{Name: "class", Head: "class", Doc: "class on the day, or held only until then"},
			{Name: "on_the_day", Head: "on the day", Doc: "whether the bird is of the class on the day"},
			{Name: "weighed_on", Head: "last weighed", Doc: "date of the last weighing"},
			{Name: "weight_g", Head: "weight", Unit: "g", Doc: "last weighing"},
			{Name: "target_g", Head: "listed", Unit: "g", Doc: "published figure that the weight is compared with"},
			{Name: "low_g", Head: "band from", Unit: "g", Doc: "lower end of the band; empty where open or not stated"},
			{Name: "high_g", Head: "band to", Unit: "g", Doc: "upper end of the band; empty where open or not stated"},
			{Name: "percent", Head: "of listed", Unit: "%", Doc: "weight in percent of the listed figure"},
			{Name: "percent_low", Head: "from", Unit: "%", Doc: "lower end with weighing error, 90 %"},
			{Name: "percent_high", Head: "to", Unit: "%", Doc: "upper end with weighing error, 90 %"},
			{Name: "rule", Head: "rule", Doc: "where the band comes from"},
			{Name: "source", Head: "source", Doc: "standard, country, edition, kind of source, source"},
		},
	}
	for _, s := range r.Birds {
		for i, p := range s.Places {
			row := []any{s.Bird.Label(), string(p.Class), p.OnTheDay, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil}
			if s.Weighed {
				row[3], row[4] = s.Last.On.String(), s.Last.Value
			}
			if p.Refusal == nil {
				target, _ := p.Band.Target()
				row[5], row[6], row[7] = target, bound(p.Band.Low), bound(p.Band.High)
				row[8], row[9], row[10] = bound(s.Percent[i].Value), bound(s.Percent[i].Low), bound(s.Percent[i].High)
				row[11], row[12] = p.Band.Rule, p.Band.Origin()
			} else {
				row[11] = p.Refusal.Needs
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return []analysis.Table{t}
}

// bound is a number for a table cell, nil where there is none.
func bound(x float64) any {
	if math.IsNaN(x) || math.IsInf(x, 0) || x == 0 {
		return nil
	}
	return x
}

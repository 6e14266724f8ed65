package forecast

import (
	"context"

	"keelmark/analysis"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Options of the analysis.
type Options struct {
	Ring        string     `name:"ring" doc:"ring or name of one bird; empty for all. Its line is used all the same"`
	On          record.Day `name:"on" doc:"the day to forecast; empty for the show day of flock.toml, else today"`
	Tolerance   float64    `name:"tolerance" doc:"percent of the listed weight allowed either way where the standard's own rule was not found; 0 for none" unit:"%"`
	YoungFrom   string     `name:"young_from" doc:"month and day from which the standard's weight rule covers young birds, such as 12-01; empty as the standard writes it"`
	Unconfirmed bool       `name:"unconfirmed" doc:"also use weighings that wait for the keeper's confirmation"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("forecast", "What each bird may weigh on the show day, and the chance of being on weight",
		`For each bird: the range of its weight on the day, the chance of being inside the written figure of its class
(both classes where a birthday falls between), and what it may weigh when grown.
Needs 3 usable weighings of the bird, its sex, and for a growing bird a hatch date known to a fortnight. Fewer than
8 birds of the line followed to 24 weeks: the mature weight rests on the breed table only. More than 4 weeks past
the last weighing is marked as extrapolation.
Growing birds share a Richards curve of one pooled shape with bird effects on mature weight, rate and age at
inflection and a growth rate that wanders; 5 % of weighings may be bad; what is unknown of the line is integrated by
Laplace's method and importance sampling. Grown birds are forecast from their own level: last weights count most,
the year's course is fitted where grown birds were weighed in 8 months of the calendar and 2 years, and a moult where
one was written down; else both are told to be unknown.
Source: Richards 1959, J. Exp. Bot. 10:290; Laird & Ware 1982, Biometrics 38:963; Tierney & Kadane 1986, J. Am.
Stat. Assoc. 81:82; Geweke 1989, Econometrica 57:1317; ranges checked by Keelmark's own simulations.`,
		Options{}, Run)
}

// Kind says how a bird was forecast.
type Kind string

// The kinds of forecast.
const (
	Growing Kind = "growing" // by its line's curve
	Grown   Kind = "grown"   // by its own level
)

// Forecast is what is foreseen of one bird.
type Forecast struct {
	Bird      record.Bird
	Kind      Kind
	Line      record.Line
	Places    []standard.Place // classes on the day, then a class held only until then
	NoClass   *analysis.Refusal
	Weighings []Weighing // that the forecast rests on, oldest first
	Left      int        // weighings left out until the keeper confirms them

	Refusal *analysis.Refusal // no forecast; the fields below are then empty
	// OnTheDay is one good weighing on the day, with weighing error; Weight its 90 % range in g.
	OnTheDay     standard.Predictive
	Weight       analysis.Estimate
	Chance       []float64 // of each Place: of being inside its band; NaN where no band is stated
	Ahead        int       // days from the last weighing to the day; negative where the day has passed
	Extrapolated bool      // more than SolidDays ahead
	Moulting     bool      // a grown bird seen in moult shortly before the day
	Fan          []Step    // from the first weighing to the day, for figures

	// Mature is the weight when grown, 90 % range in g, of a growing bird; MatureRefusal says why there is none.
	Mature        *analysis.Estimate
	WhenGrown     standard.Predictive // the distribution that Mature sums up
	MatureRefusal *analysis.Refusal
}

// Step is one day of a fan chart: equal-tailed ranges of a good weighing in g.
type Step struct {
	Day          record.Day
	Age          float64 // weeks; NaN where it is not known
	Low90, Low50 float64
	Median       float64
	High50       float64
	High90       float64
	Extrapolated bool // to be drawn dashed
}

// Result is what was found.
type Result struct {
	On, Today record.Day
	Rule      standard.Rule
	Units     analysis.Units
	Birds     []Forecast
	Lines     []Line // that growing birds lean on, by name
	Season    Season // of the grown birds
	Error     standard.WeighingError
}

// Run forecasts the birds that are still there. Too few weighings are refusals within the result; an error means
// that the options or settings make no sense, or that ctx was cancelled.
func Run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	rule, err := standard.RuleOf(c.Settings.Show)
	if err != nil {
		return nil, err
	}
	terms, err := standard.TermsOf(c.Settings, o.Tolerance, o.YoungFrom)
	if err != nil {
		return nil, err
	}
	wanted, err := standard.Present(d, o.Ring, c.Today)
	if err != nil {
		return nil, err
	}
	r := &Result{On: standard.DecisionDay(o.On, c), Today: c.Today, Rule: rule, Units: analysis.UnitsOf(c.Settings), Error: standard.WeighingErrorOf(d)}
	all := d.ByBird(record.Weight)
	lines := make(map[record.Line]*Line)
	for _, b := range wanted {
		b = standard.KnownHatch(d, b)
		f := Forecast{Bird: b, Line: b.Group()}
		f.Places, f.NoClass = standard.Places(c, b, r.On, rule, terms)
		f.Weighings, f.Left, _ = weighings(all[b.ID], b.Hatched, c.Today, o.Unconfirmed)
		f.sort()
		if f.Refusal == nil && f.Kind == Growing {
			lines[f.Line] = &Line{Line: f.Line}
		}
		r.Birds = append(r.Birds, f)
	}
	for _, b := range d.Birds { // birds that have gone count for their line as well
		l, needed := lines[b.Group()]
		if !needed {
			continue
		}
		b = standard.KnownHatch(d, b)
		ws, _, _ := weighings(all[b.ID], b.Hatched, c.Today, o.Unconfirmed)
		if ws = growing(ws); len(ws) > 0 {
			l.members = append(l.members, member{b, ws})
		}
	}
	if err := r.fitLines(ctx, c, lines); err != nil {
		return nil, err
	}
	r.forecastGrown(d)
	for i := range r.Birds {
		r.Birds[i].compare()
	}
	return r, nil
}

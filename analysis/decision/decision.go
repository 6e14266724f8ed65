// Package decision gathers, for each bird, what the other analyses say before a decision: what speaks for it,
// what speaks against it, what is open, and the cheapest observations that would settle more.
//
// It refuses to decide: there is no verdict, no score of a bird and no ranked list. A stop sign in the records
// (several deaths, signs of a notifiable disease) silences everything else until a vet or the authority was asked.
package decision

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/forecast"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Entry is the purpose of showing a bird. Breeding and parting with a bird rest on condition and fertility too.
const Entry = "entry"

// Options of the analysis.
type Options struct {
	Purpose   string     `name:"purpose" doc:"what is to be decided: entry"`
	Ring      string     `name:"ring" doc:"ring or name of one bird; empty for all"`
	On        record.Day `name:"on" doc:"the day of the decision; empty for the show day of flock.toml, else today"`
	Tolerance float64    `name:"tolerance" doc:"percent of the listed weight allowed either way where the standard's own rule was not found; 0 for none" unit:"%"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("decision", "What the records say for and against each bird, and what they cannot say",
		`For each bird that is still in the flock: class on the day, weight against the published figure, chance of lying
inside it on the day, last look for parasites, treatments with their withdrawal as entered, doubts about its cells,
and the cheapest next looks. Sentences for and against stand side by side; nothing is decided.
Needs what the analyses standard, forecast and parasite need; where they refuse, the refusal is shown.
Source: those of the analyses; stop signs from government and veterinary pages on notifiable disease.`,
		Options{Purpose: Entry}, run)
}

// Sheet is what the records say of one bird.
type Sheet struct {
	Bird    record.Bird
	Claims  []analysis.Claim // by weight of evidence within each side; all about this bird
	Doubts  []Doubt
	Next    []string // cheapest next observations, most telling first
	Places  []standard.Place
	Rests   *standard.Standing
	Ahead   *forecast.Forecast // the day's weight, or why there is none
	Look    parasite.Look      // the last for any parasite
	Looked  bool
	Course  parasite.Course // the last treatment
	Treated bool
}

// Doubt is a cell of the bird that is not settled.
type Doubt struct {
	At   record.Ref
	Text string
}

// Side returns the claims on one side.
func (s Sheet) Side(side analysis.Stands) []analysis.Claim {
	var out []analysis.Claim
	for _, c := range s.Claims {
		if c.Stands == side {
			out = append(out, c)
		}
	}
	return out
}

// Result is what was gathered.
type Result struct {
	Purpose string
	Show    record.ShowSettings
	On      record.Day
	Today   record.Day
	Units   analysis.Units
	Sheets  []Sheet
	Flock   []analysis.Claim // about the flock
	Pools   []analysis.Claim // about lines, which the birds' claims lean on
	Stops   []analysis.Claim // where there is any, there are no Sheets

	cautions  []analysis.Caution
	Parasites *parasite.Result
	Forecast  *forecast.Result
	Standard  *standard.Result
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	if o.Purpose != Entry {
		return nil, fmt.Errorf("decision: the purpose %q is not known; it can be %s", o.Purpose, Entry)
	}
	r := &Result{Purpose: o.Purpose, Show: c.Settings.Show, On: standard.DecisionDay(o.On, c), Today: c.Today, Units: analysis.UnitsOf(c.Settings)}
	birds, err := standard.Present(d, o.Ring, c.Today)
	if err != nil {
		return nil, err
	}
	r.Stops = Stops(c.Today, d)
	if err := r.analyse(ctx, c, d, o); err != nil {
		return nil, err
	}
	if len(r.Stops) > 0 {
		return r, nil // no sheet, no table, no figure: nothing else is said
	}
	byBird := r.share()
	doubts := doubtsOf(d)
	for _, b := range birds {
		s := Sheet{Bird: b, Doubts: doubts[b.ID], Claims: withoutEchoes(byBird[b.ID])}
		slices.SortStableFunc(s.Claims, heavier)
		s.Next = nextOf(s.Claims)
		r.fill(&s)
		s.Bird.Breed, s.Bird.Size = cmp.Or(s.Bird.Breed, c.Settings.Flock.Breed), cmp.Or(s.Bird.Size, c.Settings.Flock.Size)
		r.Sheets = append(r.Sheets, s)
	}
	return r, nil
}

// analyse runs the analyses that an entry rests on.
func (r *Result) analyse(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) error {
	options := map[string]any{"on": o.On, "tolerance": o.Tolerance, "ring": o.Ring}
	stand, err := standard.Spec().Run(ctx, c, d, options)
	if err != nil {
		return err
	}
	ahead, err := forecast.Spec().Run(ctx, c, d, options)
	if err != nil {
		return err
	}
	look, err := parasite.Spec().Run(ctx, c, d, nil)
	if err != nil {
		return err
	}
	r.Standard, r.Forecast = stand.(*standard.Result), ahead.(*forecast.Result)
	r.Parasites = look.(*parasite.Result)
	for _, result := range []analysis.Result{stand, ahead, look} {
		if with, ok := result.(analysis.Cautioned); ok {
			r.cautions = append(r.cautions, with.Cautions()...)
		}
	}
	return nil
}

// share sorts the claims of the analyses into those of each bird, of the flock and of pools.
func (r *Result) share() map[string][]analysis.Claim {
	byBird := map[string][]analysis.Claim{}
	for _, result := range []analysis.Result{r.Standard, r.Forecast, r.Parasites} {
		for _, c := range result.Claims() {
			switch {
			case c.Subject.Bird != "":
				byBird[c.Subject.Bird] = append(byBird[c.Subject.Bird], c)
			case c.Subject.Line != "":
				r.Pools = append(r.Pools, c)
			default:
				r.Flock = append(r.Flock, c)
			}
		}
	}
	for _, c := range r.Parasites.Courses {
		if c.Event.Scope == record.OneBird {
			continue // its claim names the bird already
		}
		for _, claim := range r.Flock {
			if slices.Contains(claim.RestsOn, c.Event.At) && claim.Topic == "treatments" && r.recent(c) {
				for _, bird := range c.Birds {
					if last, _ := r.Parasites.LastCourse(bird); last.Event.At != c.Event.At {
						continue // the table of looks and treatments has the earlier ones
					}
					own := claim
					own.ID, own.Subject = claim.ID+"/"+bird, analysis.Subject{Bird: bird}
					byBird[bird] = append(byBird[bird], own)
				}
			}
		}
	}
	return byBird
}

// recent reports whether a treatment is so recent that it bears on the day.
func (r *Result) recent(c parasite.Course) bool {
	return c.Event.On.Last >= r.Today-3*parasite.VerifyTo
}

// heavier orders claims within a sheet: stop signs, then against, for, open; with a number before without, more
// records before fewer.
func heavier(a, b analysis.Claim) int {
	order := []analysis.Stands{analysis.Stop, analysis.Against, analysis.For, analysis.Open}
	if c := slices.Index(order, a.Stands) - slices.Index(order, b.Stands); c != 0 {
		return c
	}
	weight := func(c analysis.Claim) int {
		n := c.N.Records
		if c.Estimate != nil {
			n += 1000
		}
		if c.Refusal != nil {
			n -= 1000
		}
		return n
	}
	return weight(b) - weight(a)
}

// withoutEchoes leaves out what does not bear on an entry, the weight when grown, and what the last weighing alone
// says of a class where the forecast for the day says it from all weighings.
func withoutEchoes(claims []analysis.Claim) []analysis.Claim {
	forecast := map[string]bool{}
	for _, c := range claims {
		if rest, ok := strings.CutPrefix(c.ID, "forecast.band/"); ok && c.Estimate != nil {
			forecast[rest] = true
		}
	}
	return slices.DeleteFunc(claims, func(c analysis.Claim) bool {
		if strings.HasPrefix(c.ID, "forecast.mature/") {
			return true
		}
		rest, ok := strings.CutPrefix(c.ID, "standard.band/")
		return ok && forecast[rest]
	})
}

// nextOf lists the next observations that the refusals of a bird name, each once.
func nextOf(claims []analysis.Claim) []string {
	var next []string
	for _, c := range claims {
		if c.Refusal != nil && c.Refusal.Next != "" && !slices.Contains(next, c.Refusal.Next) {
			next = append(next, c.Refusal.Next)
		}
	}
	return next
}

// doubtsOf finds, for each bird, the open questions, refused cells and records to confirm in its rows.
func doubtsOf(d *record.Dataset) map[string][]Doubt {
	type row struct {
		file, sheet string
		n           int32
	}
	owner := map[row]string{}
	at := func(r record.Ref) row { return row{r.File, r.Sheet, r.Row} }
	for _, b := range d.Birds {
		for _, r := range b.At {
			owner[at(r)] = b.ID
		}
	}
	for _, o := range d.Observations {
		if o.Bird != "" {
			owner[at(o.At)] = o.Bird
		}
	}
	out := map[string][]Doubt{}
	told := map[record.Ref]bool{} // a question about a cell says all that a flag would
	add := func(r record.Ref, text string) {
		if bird := owner[at(r)]; bird != "" && !told[r] {
			told[r] = true
			out[bird] = append(out[bird], Doubt{r, text})
		}
	}
	for _, q := range d.Questions {
		for _, r := range append([]record.Ref{q.At}, q.More...) {
			add(r, "not counted until answered: "+q.Message)
		}
	}
	for _, x := range d.Rejects {
		add(x.At, "refused: "+x.Message)
	}
	for _, o := range d.Observations {
		if o.Flagged {
			add(o.At, fmt.Sprintf("read, to be confirmed: %s: %q", o.At, o.Text))
		}
	}
	for _, doubts := range out {
		slices.SortStableFunc(doubts, func(a, b Doubt) int { return a.At.Compare(b.At) })
	}
	return out
}

// fill adds what the one-line view of a bird shows.
func (r *Result) fill(s *Sheet) {
	for i := range r.Standard.Birds {
		if r.Standard.Birds[i].Bird.ID == s.Bird.ID {
			s.Rests = &r.Standard.Birds[i]
			s.Places = s.Rests.Places
			s.Bird = s.Rests.Bird // with its hatch date narrowed by the records
		}
	}
	for i := range r.Forecast.Birds {
		if r.Forecast.Birds[i].Bird.ID == s.Bird.ID {
			s.Ahead = &r.Forecast.Birds[i]
		}
	}
	s.Look, s.Looked = r.Parasites.LastOf(s.Bird.ID)
	s.Course, s.Treated = r.Parasites.LastCourse(s.Bird.ID)
}

// Claims are the stop signs, then those of the flock, of pools and of each bird. Where there is a stop sign, it
// is all there is.
func (r *Result) Claims() []analysis.Claim {
	if len(r.Stops) > 0 {
		return r.Stops
	}
	out := slices.Concat(r.Flock, r.Pools)
	seen := map[string]bool{}
	for _, c := range out {
		seen[c.ID] = true
	}
	for _, s := range r.Sheets {
		for _, c := range s.Claims {
			if !seen[c.ID] {
				seen[c.ID] = true
				out = append(out, c)
			}
		}
	}
	return out
}

// Cautions are those of the analyses, then those of showing a bird.
func (r *Result) Cautions() []analysis.Caution {
	return append(slices.Clone(r.cautions),
		analysis.Caution{Topic: "Before entering", Text: "A bird that moults hard, is in poor condition or was treated lately is better off at home, and showing is a strain " +
			"for any bird. Rules on gatherings and on registering birds change, in outbreaks from week to week: check them before you enter. " +
			"Birds that come back are best housed apart and watched for two weeks or more.",
			Source: "government licence conditions for poultry gatherings (England, 2025); common practice"},
		analysis.Caution{Topic: "Signs that come first", Text: "Sudden or several deaths, a swollen head, a blue or purple comb, gasping, a twisted neck, paralysis, green or bloody " +
			"droppings, a sharp drop in lay, feed or water: speak to a vet or the animal health authority before anything else. Avian influenza and Newcastle disease are notifiable.",
			Source: "government and veterinary pages on avian influenza and Newcastle disease"})
}

// Counted counts the birds by what the records hold: those with nothing against and nothing open beside
// something for, those with something open and nothing against, and those with something against.
func (r *Result) Counted() (nothingAgainst, open, against int) {
	for _, s := range r.Sheets {
		switch {
		case len(s.Side(analysis.Against)) > 0:
			against++
		case len(s.Side(analysis.Open)) > 0:
			open++
		default:
			nothingAgainst++
		}
	}
	return nothingAgainst, open, against
}

// Summary says in words and counts what the sheets hold.
func (r *Result) Summary() string {
	if len(r.Stops) > 0 {
		return "The records name signs that come before any show. Nothing else is said of this flock until a vet or the authority was asked."
	}
	if len(r.Sheets) == 0 {
		return "The records hold no bird that is still in the flock."
	}
	clean, open, against := r.Counted()
	return strings.Join([]string{
		fmt.Sprintf("something speaks against %s", birds(against)),
		fmt.Sprintf("%s %s an open point and nothing against", birds(open), have(open)),
		fmt.Sprintf("nothing speaks against %s", birds(clean)),
	}, " · ") + ". The decision is yours: the lines for it are blank."
}

func birds(n int) string {
	if n == 1 {
		return "1 bird"
	}
	return fmt.Sprintf("%d birds", n)
}

func have(n int) string {
	if n == 1 {
		return "has"
	}
	return "have"
}

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
	"sync"

	"keelmark/analysis"
	"keelmark/analysis/condition"
	"keelmark/analysis/fertility"
	"keelmark/analysis/forecast"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/analysis/stop"
	"keelmark/analysis/treatment"
	"keelmark/ingest/record"
)

// Options of the analysis.
type Options struct {
	Purpose   string     `name:"purpose" doc:"what is to be decided: entry, breeding or keep-or-part"`
	Ring      string     `name:"ring" doc:"ring or name of one bird; empty for all"`
	On        record.Day `name:"on" doc:"the day of the decision; empty for the show day of flock.toml, else today"`
	Tolerance float64    `name:"tolerance" doc:"percent of the listed weight allowed either way where the standard's own rule was not found; 0 for none" unit:"%"`
	Enough    float64    `name:"enough" doc:"share of eggs that must be fertile for a male or hen to be fertile enough, used for the next looks of the purpose breeding" unit:"%"`
}

// House are rules of the keeper's own: from the claims on the sheets they make claims to add, and name claims to mute, by
// ID, with the reason.
type House func(context.Context, analysis.Context, *record.Dataset, []analysis.Claim) (added []analysis.Claim, muted map[string]string, err error)

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec { return SpecUnder(nil) }

// SpecUnder is the analysis with the keeper's own rules applied to the sheets; without any where house is nil.
func SpecUnder(house House) analysis.Spec {
	return analysis.Define("decision", "What the records say for and against each bird, and what they cannot say",
		`For each bird that is still in the flock: class on the day, weight against the published figure, chance of lying
inside it on the day, last look for parasites, treatments with their withdrawal as entered, doubts about its cells,
and the cheapest next looks. Sentences for and against stand side by side; nothing is decided. The purposes breeding and
keep-or-part leave out the day of the show and add growth, condition and fertility.
Needs what those analyses need; where they refuse, the refusal is shown.
Source: those of the analyses; stop signs from government and veterinary pages on notifiable disease.`,
		Options{Purpose: Entry, Enough: 80}, func(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
			r, err := run(ctx, c, d, o)
			if err != nil || house == nil || len(r.Stops) > 0 {
				return r, err
			}
			var all []analysis.Claim
			for _, s := range r.Sheets {
				all = append(all, s.Claims...)
			}
			added, muted, err := house(ctx, c, d, all)
			if err != nil {
				return nil, err
			}
			return r.underRules(added, muted), nil
		})
}

// Sheet is what the records say of one bird.
type Sheet struct {
	Bird    record.Bird
	Claims  []analysis.Claim // by weight of evidence within each side; all about this bird
	Doubts  []Doubt
	Lapsed  []Lapse  // what is too old to speak for the bird today
	Missing []string // what the records do not hold of it
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

	Courses []string // what is open to the keeper; what can be undone stands first

	Week  []Look  // the looks of the coming week that would change most
	Ranks []Rank  // where birds of one line could stand among each other
	Muted []Muted // claims that the keeper's own rules leave out of the sheets

	results   []analysis.Result
	tables    []analysis.Table // made once: a notebook asks for them by name, many times
	cautions  []analysis.Caution
	Parasites *parasite.Result
	Forecast  *forecast.Result
	Standard  *standard.Result
	Condition *condition.Result // nil where the purpose does not ask for it
	Fertility *fertility.Result // likewise
	Treatment *treatment.Result
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	p, err := purposeOf(o.Purpose)
	if err != nil {
		return nil, err
	}
	if !(o.Enough > 0 && o.Enough < 100) {
		return nil, fmt.Errorf("decision: enough is %g %%; use more than 0 and less than 100", o.Enough)
	}
	r := &Result{Purpose: p.name, Courses: p.courses, Show: c.Settings.Show, On: p.day(o, c), Today: c.Today, Units: analysis.UnitsOf(c.Settings), cautions: p.cautions}
	birds, err := standard.Present(d, o.Ring, c.Today)
	if err != nil {
		return nil, err
	}
	r.Stops = stop.Signs(c.Today, d)
	g := &gathering{c, d, o, r}
	if err := r.ask(ctx, p.sources, g); err != nil {
		return nil, err
	}
	if len(r.Stops) > 0 {
		r.tables = r.makeTables() // without a row
		return r, nil             // no sheet, no figure: nothing else is said
	}
	byBird := r.share()
	doubts, here := doubtsOf(d), analysis.PresenceOf(d)
	slices.SortStableFunc(birds, byRing)
	for _, b := range birds {
		s := Sheet{Bird: b, Doubts: doubts[b.ID], Claims: append(leaving(b, here.Waiting(b.ID, c.Today)), p.bears(byBird[b.ID])...)}
		r.fill(&s)
		s.Bird.Breed, s.Bird.Size = cmp.Or(s.Bird.Breed, c.Settings.Flock.Breed), cmp.Or(s.Bird.Size, c.Settings.Flock.Size)
		r.lapse(&s, d, p)
		r.Sheets = append(r.Sheets, s)
	}
	if err := r.fragile(ctx, g); err != nil {
		return nil, err
	}
	if p.compares {
		if err := r.rank(); err != nil {
			return nil, err
		}
	}
	for i := range r.Sheets {
		s := &r.Sheets[i]
		p.order(s.Claims)
		s.Next = nextOf(s.Claims)
	}
	if r.Week, err = r.week(p, o.Enough/100); err != nil {
		return nil, err
	}
	r.tables = r.makeTables()
	return r, nil
}

// ask runs the analyses of a purpose and gathers their cautions before its own.
func (r *Result) ask(ctx context.Context, sources []source, g *gathering) error {
	var cautions []analysis.Caution
	add := func(list []analysis.Caution) { // analyses share cautions
		for _, c := range list {
			if !slices.Contains(cautions, c) {
				cautions = append(cautions, c)
			}
		}
	}
	results, errs := make([]analysis.Result, len(sources)), make([]error, len(sources))
	var all sync.WaitGroup
	faults := make([]any, len(sources))
	for i, of := range sources { // they share nothing but what they read, and each fills fields of its own
		all.Go(func() {
			defer func() { faults[i] = recover() }()
			results[i], errs[i] = of(ctx, g)
		})
	}
	all.Wait()
	for _, fault := range faults {
		if fault != nil {
			panic(fault) // where the caller can catch it
		}
	}
	for i, result := range results {
		if errs[i] != nil {
			return errs[i]
		}
		if result == nil {
			continue
		}
		r.results = append(r.results, result)
		if with, ok := result.(analysis.Cautioned); ok {
			add(with.Cautions())
		}
	}
	add(r.cautions)
	r.cautions = cautions
	return nil
}

// share sorts the claims of the analyses into those of each bird, of the flock and of pools.
func (r *Result) share() map[string][]analysis.Claim {
	byBird := map[string][]analysis.Claim{}
	for _, result := range r.results {
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
			if slices.Contains(claim.RestsOn, c.Event.At) && strings.HasPrefix(claim.ID, "parasite.treatment/") && r.recent(c) {
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

// leaving says which cells may tell that a bird is no longer there.
func leaving(b record.Bird, events []record.Event) []analysis.Claim {
	var out []analysis.Claim
	for _, e := range events {
		out = append(out, analysis.Claim{ID: "decision.leaving/" + b.ID + "/" + e.At.Key(), Subject: analysis.Subject{Bird: b.ID}, Topic: "records",
			Stands: analysis.Open, Text: fmt.Sprintf("%s: %s. Until then it stands here as a bird of the flock.", b.Label(), analysis.MayBeGone(e)),
			N: analysis.Counts{Records: 1, Birds: 1}, RestsOn: []record.Ref{e.At}, Method: "an event that waits for the keeper's answer takes no bird out",
			Refusal: &analysis.Refusal{Needs: "your answer about one cell", Next: "confirm or correct " + e.At.String()}})
	}
	return out
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
			add(r, "open question: "+q.Message)
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

// Cautions are those of the analyses, then those of the purpose.
func (r *Result) Cautions() []analysis.Caution { return r.cautions }

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
		return "The records name signs that come before any decision. Nothing else is said of this flock until a vet or the authority was asked."
	}
	if len(r.Sheets) == 0 {
		return "The records hold no bird that is still in the flock."
	}
	clean, open, against := r.Counted()
	parts := []string{"nothing speaks against any bird"}
	if against > 0 {
		parts[0] = "something speaks against " + birds(against)
	}
	if open > 0 {
		parts = append(parts, fmt.Sprintf("%s %s an open point and nothing against", birds(open), have(open)))
	}
	if clean > 0 {
		parts = append(parts, fmt.Sprintf("%s %s nothing against and nothing open", birds(clean), have(clean)))
	}
	return strings.Join(parts, " · ") + ". The decision is yours: the lines for it are blank."
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

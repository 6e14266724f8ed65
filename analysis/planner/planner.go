package planner

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/analysis/stop"
	"keelmark/ingest/record"
)

// Options of the analysis.
type Options struct {
	Shows string `name:"shows" doc:"further shows as Name=2026-01-17; several with ; between. The show of flock.toml is always planned"`
	Birds string `name:"birds" doc:"rings or names of the team with , between; empty for every bird of the flock"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("plan", "Count back from the show: what falls due for which bird, what is late and what is in the way",
		`For each show and bird: bringing in, looks for lice and mites with room for two treatments, droppings, trimming early and
never just before, conditioning, weighings, papers, bath, and the weeks apart afterwards; second treatments and looks that
recorded treatments call for; withdrawal as entered. Says what is done already, what is late, what is in the way, and how
many days of room are left. Needs the day of the show; windows are changed under [plan] in flock.toml.
Source: windows common practice, no source; second treatments by the published life cycles of the analysis parasite;
isolation England's gathering licence of 2025.`,
		Options{}, run)
}

// Show is a show to plan for.
type Show struct {
	Name string
	On   record.Day
}

// State says where a task stands.
type State string

// The states.
const (
	Done   State = "done"
	Due    State = "due now"
	Ahead  State = "ahead"
	Late   State = "late"
	Missed State = "missed"       // its days have passed, and it comes round again
	Over   State = "not recorded" // its show has passed
)

// Task is one step for one show and the birds that share its window and state.
type Task struct {
	Step     Step
	Show     Show
	From, To record.Day
	On       record.Day // a day to do it: a weekend day of the window where there is one, never before today
	Birds    []record.Bird
	State    State
	At       []record.Ref // cells that show it done
}

// Conflict is something in the way of a plan.
type Conflict struct {
	Show  Show
	Birds []record.Bird
	Text  string
	At    []record.Ref
	Hard  bool // speaks against taking the bird; else an open point
}

// Result is the plan.
type Result struct {
	Today     record.Day
	Shows     []Show
	Team      []record.Bird
	Tasks     []Task // by day, then step
	Conflicts []Conflict
	Slack     []Slack
	Units     analysis.Units
	Stops     []analysis.Claim // where there is any, nothing is planned: no bird should be moved
	refused   string
	cautions  []analysis.Caution
}

// Slack is how many days are left to begin before treatment, second treatment and a look no longer fit.
type Slack struct {
	Show   Show
	Latest record.Day // of the first look
	Days   int        // from today; negative where it has passed
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	r := &Result{Today: c.Today, Units: analysis.UnitsOf(c.Settings)}
	plan, err := planned(c.Settings.Plan)
	if err != nil {
		return nil, err
	}
	if r.Shows, err = shows(c.Settings.Show, o.Shows); err != nil {
		return nil, err
	}
	if r.Team, err = team(d, o.Birds, c.Today); err != nil {
		return nil, err
	}
	if r.Stops = stop.Signs(c.Today, d); len(r.Stops) > 0 {
		return r, nil
	}
	looked, err := parasite.Spec().Run(ctx, c, d, nil)
	if err != nil {
		return nil, err
	}
	lice := looked.(*parasite.Result)
	switch {
	case len(r.Shows) == 0:
		r.refused = "the day of no show is known"
	case len(r.Team) == 0:
		r.refused = "no bird is in the flock"
	}
	if r.refused != "" {
		return r, nil
	}
	for _, show := range r.Shows {
		for _, s := range plan {
			r.lay(d, show, s)
		}
		r.courses(lice, show)
		r.beaks(d, show)
		latest := show.On - record.Day(window(plan, "last_look").To+parasite.VerifyFrom+secondWithin())
		r.Slack = append(r.Slack, Slack{show, latest, int(latest - c.Today)})
		r.Conflicts = append(r.Conflicts, r.withdrawals(lice, show)...)
		r.Conflicts = append(r.Conflicts, r.moult(c, show)...)
	}
	r.Conflicts = append(r.Conflicts, r.crowded()...)
	slices.SortStableFunc(r.Tasks, func(a, b Task) int { return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.From, b.From)) })
	r.cautions = cautions()
	r.cautions = append(r.cautions, parasite.Cautions()...)
	return r, nil
}

// shows are the show of flock.toml and those of the option, in order of day, each day once.
func shows(set record.ShowSettings, also string) ([]Show, error) {
	var out []Show
	if set.Date.Known() {
		out = append(out, Show{cmp.Or(set.Name, "the show"), set.Date.First})
	}
	for _, part := range strings.Split(also, ";") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		name, date, named := strings.Cut(part, "=")
		if !named {
			name, date = "the show", part
		}
		on, err := record.ParseDay(strings.TrimSpace(date))
		if err != nil {
			return nil, fmt.Errorf("plan: show %q: %w", part, err)
		}
		name = strings.TrimSpace(name)
		if !slices.ContainsFunc(out, func(s Show) bool { return s.On == on }) {
			out = append(out, Show{cmp.Or(name, "the show"), on})
		}
	}
	slices.SortStableFunc(out, func(a, b Show) int { return cmp.Compare(a.On, b.On) })
	return out, nil
}

func team(d *record.Dataset, keys string, today record.Day) ([]record.Bird, error) {
	if strings.TrimSpace(keys) == "" {
		return standard.Present(d, "", today)
	}
	var out []record.Bird
	for _, key := range strings.Split(keys, ",") {
		if key = strings.TrimSpace(key); key == "" {
			continue
		}
		b, ok := d.Bird(key)
		if !ok {
			return nil, fmt.Errorf("plan: no single bird is known as %q; use its ring as check prints it", key)
		}
		out = append(out, b)
	}
	return out, nil
}

// lay puts a step of a show on the calendar: one task for the birds that have done it and one for those that have not.
func (r *Result) lay(d *record.Dataset, show Show, s Step) {
	from, to := show.On-record.Day(s.From), show.On-record.Day(s.To)
	var done, open Task
	birds := r.Team
	if s.Team {
		birds = []record.Bird{{}}
	}
	for _, b := range birds {
		var at []record.Ref
		if s.done != nil {
			at = s.done(b.ID, from, min(to, r.Today), d)
		}
		t := &open
		if len(at) > 0 {
			t = &done
			t.At = append(t.At, at...)
		}
		if s.Team {
			t.Birds = r.Team
		} else {
			t.Birds = append(t.Birds, b)
		}
	}
	for _, t := range []*Task{&done, &open} {
		if len(t.Birds) == 0 {
			continue
		}
		t.Step, t.Show, t.From, t.To = s, show, from, to
		switch {
		case len(t.At) > 0:
			t.State = Done
		case show.On < r.Today && to < r.Today:
			t.State = Over
		case to < r.Today && s.Again:
			t.State = Missed
		case to < r.Today:
			t.State = Late
		case from <= r.Today:
			t.State = Due
		default:
			t.State = Ahead
		}
		t.On = weekend(max(from, min(r.Today, to)), to)
		if t.State == Late {
			t.On = r.Today
		}
		r.Tasks = append(r.Tasks, *t)
	}
}

// weekend picks the Saturday or Sunday nearest to the middle of a window, else the middle. Keepers have time then.
func weekend(from, to record.Day) record.Day {
	middle := from + (to-from)/2
	for off := record.Day(0); off <= (to-from+1)/2; off++ {
		for _, day := range []record.Day{middle - off, middle + off} {
			if w := day.Weekday(); day >= from && day <= to && (w == time.Saturday || w == time.Sunday) {
				return day
			}
		}
	}
	return middle
}

func window(plan []Step, name string) Step {
	return plan[slices.IndexFunc(plan, func(s Step) bool { return s.Name == name })]
}

// secondWithin is within how many days of the first a second treatment is due, at the latest that the life cycles give for
// what lives on birds.
func secondWithin() int {
	days := 0
	for _, l := range parasite.LifeCycles() {
		if l.OnBird {
			days = max(days, int(l.Again.High))
		}
	}
	return days
}

// courses adds what recorded treatments call for until the show: the second treatment and the look that tells.
func (r *Result) courses(lice *parasite.Result, show Show) {
	for i, c := range lice.Courses {
		birds := r.members(c.Birds)
		if len(birds) == 0 {
			continue
		}
		what := cmp.Or(c.Against, "parasites")
		if c.Again[1] >= r.Today && c.Again[0] <= show.On && !r.repeated(lice.Courses[i+1:], c) {
			cycle, _ := parasite.LifeCycleOf(c.Against)
			r.add(Task{Step: Step{Name: "second_treatment", Do: fmt.Sprintf("second treatment against %s, after the one of %s, as the label says", what, c.Event.On),
				Why: cycle.AgainReason + " (" + cycle.Source + ")", Topic: treating}, Show: show, From: c.Again[0], To: c.Again[1], Birds: birds, At: []record.Ref{c.Event.At}})
		}
		from, to := c.Event.On.First+parasite.VerifyFrom, c.Event.On.Last+parasite.VerifyTo
		looked := slices.ContainsFunc(lice.Looks, func(l parasite.Look) bool {
			return slices.Contains(c.Birds, l.Bird) && l.On.Last >= from && l.On.First <= to
		})
		if to >= r.Today && from <= show.On && !looked {
			r.add(Task{Step: Step{Name: "look_after_treatment", Do: fmt.Sprintf("look whether the treatment of %s worked", c.Event.On),
				Why: "two to four weeks after a treatment a look can tell what it did", Topic: treating}, Show: show, From: from, To: to, Birds: birds, At: []record.Ref{c.Event.At}})
		}
	}
}

// Days after a beak was shortened in which a look is due: a bird with a shortened beak preens less well and carries more
// mites and lice. Source: beak-trimmed hens carried ten times more (Poult. Sci. 2011, doi 10.3382/ps.2010-00955); 3 to 4
// weeks, common practice, no source.
const (
	beakFrom = 21
	beakTo   = 28
)

// beaks adds the look that a shortened beak calls for.
func (r *Result) beaks(d *record.Dataset, show Show) {
	for _, e := range d.Events {
		if e.Kind != record.Trimmed || e.Flagged || !e.On.Exact() || !strings.Contains(strings.ToLower(e.Text+" "+e.Note), "beak") {
			continue
		}
		birds := r.members([]string{e.Bird})
		if from, to := e.On.First+beakFrom, e.On.First+beakTo; len(birds) > 0 && to >= r.Today && from <= show.On {
			r.add(Task{Step: Step{Name: "look_after_beak", Do: fmt.Sprintf("look for lice and mites: the beak was shortened on %s", e.On), Why: "a bird with a shortened beak preens less well", Topic: treating},
				Show: show, From: from, To: to, Birds: birds, At: []record.Ref{e.At}})
		}
	}
}

// add lays a task that a treatment calls for, once for all shows.
func (r *Result) add(t Task) {
	if slices.ContainsFunc(r.Tasks, func(o Task) bool { return o.Step.Do == t.Step.Do && slices.EqualFunc(o.Birds, t.Birds, sameBird) }) {
		return
	}
	t.State = Ahead
	if t.From <= r.Today {
		t.State = Due
	}
	t.On = weekend(max(t.From, r.Today), t.To)
	r.Tasks = append(r.Tasks, t)
}

func sameBird(a, b record.Bird) bool { return a.ID == b.ID }

// repeated reports whether a later treatment against the same fell into the window of the second one.
func (r *Result) repeated(later []parasite.Course, c parasite.Course) bool {
	return slices.ContainsFunc(later, func(o parasite.Course) bool {
		return o.Against == c.Against && o.Event.On.First >= c.Again[0] && slices.ContainsFunc(o.Birds, func(b string) bool { return slices.Contains(c.Birds, b) })
	})
}

func (r *Result) members(ids []string) []record.Bird {
	var out []record.Bird
	for _, b := range r.Team {
		if slices.Contains(ids, b.ID) {
			out = append(out, b)
		}
	}
	return out
}

// Cautions stand beside every plan.
func (r *Result) Cautions() []analysis.Caution { return r.cautions }

package planner

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// All flocks here are invented.

func day(t *testing.T, s string) record.Day {
	t.Helper()
	d, err := record.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func flock(n int) *record.Dataset {
	d := &record.Dataset{Name: "Home"}
	for i := range n {
		id := fmt.Sprintf("R%d", i+1)
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Pen: "A", Hatched: record.InYear(2023)})
	}
	return d
}

func plan(t *testing.T, d *record.Dataset, today, show string, change func(*analysis.Context), options map[string]any) *Result {
	t.Helper()
	c := analysis.Context{Today: day(t, today)}
	if show != "" {
		c.Settings.Show = record.ShowSettings{Name: "Winter show", Date: record.On(day(t, show))}
	}
	if change != nil {
		change(&c)
	}
	r, err := Spec().Run(context.Background(), c, d, options)
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func (r *Result) task(t *testing.T, step string) Task {
	t.Helper()
	for _, x := range r.Tasks {
		if x.Step.Name == step {
			return x
		}
	}
	t.Fatalf("no task %s", step)
	return Task{}
}

func said(r *Result) string {
	var b strings.Builder
	for _, c := range r.Claims() {
		b.WriteString(c.Text + "\n")
	}
	return b.String()
}

func TestTheSpecIsWhole(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
}

func TestDaysAreCountedBackFromTheShow(t *testing.T) {
	// Common practice, no source: eight to twelve weeks before 13 December 2025 is 20 September to 18 October; trimming ends
	// five weeks before; a bath about three days before. Dates by the civil calendar.
	r := plan(t, flock(3), "2025-09-01", "2025-12-13", nil, nil)
	for step, want := range map[string][2]string{"bring_in": {"2025-09-20", "2025-10-18"}, "trim": {"2025-10-04", "2025-11-08"}, "bath": {"2025-12-08", "2025-12-10"},
		"show": {"2025-12-13", "2025-12-13"}, "apart": {"2025-12-14", "2025-12-27"}} {
		x := r.task(t, step)
		if x.From.String() != want[0] || x.To.String() != want[1] || x.State != Ahead || x.On < x.From || x.On > x.To || len(x.Birds) != 3 {
			t.Errorf("%s: %s to %s on %s, %s", step, x.From, x.To, x.On, x.State)
		}
	}
	if w := r.task(t, "bring_in").On.Weekday().String(); w != "Saturday" && w != "Sunday" {
		t.Errorf("bringing in is put on a %s", w)
	}
	sessions := 0
	for _, x := range r.Tasks {
		if strings.HasPrefix(x.Step.Name, "condition_") {
			sessions++
		}
		if strings.Contains(x.Step.Do, "nails") && r.Shows[0].On-x.To < 28 {
			t.Errorf("trimming up to %s is just before the show", x.To)
		}
	}
	if sessions < 4 || sessions > 5 {
		t.Errorf("%d conditioning sessions, want four or five", sessions)
	}
}

func TestALateStartIsToldHonestly(t *testing.T) {
	r := plan(t, flock(2), "2025-11-25", "2025-12-13", nil, nil)
	if x := r.task(t, "bring_in"); x.State != Late || x.On != r.Today || x.Step.Late == "" {
		t.Errorf("%+v", x)
	}
	if x := r.task(t, "trim"); x.State != Late || !strings.Contains(x.Step.Late, "leave them") {
		t.Errorf("%+v", x)
	}
	if x := r.task(t, "condition_2"); x.State != Missed {
		t.Errorf("a session that comes round again is %s", x.State)
	}
	text := said(r)
	for _, want := range []string{"Winter show is in 18 days", "for 2 birds the usual days have passed, unrecorded, for: bring in", "no longer fit before the last look"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in:\n%s", want, text)
		}
	}
}

func TestRoomEndsWhereTwoTreatmentsAndALookNoLongerFit(t *testing.T) {
	// Last look 6 days before; look 14 days after the second treatment (domain notes 4.9); second within 10 days of the
	// first (life cycle of lice, domain notes 3.2): 30 days before the show.
	for today, days := range map[string]int{"2025-11-12": 1, "2025-11-13": 0, "2025-11-14": -1} {
		r := plan(t, flock(1), today, "2025-12-13", nil, nil)
		if r.Slack[0].Days != days || r.Slack[0].Latest.String() != "2025-11-13" {
			t.Errorf("%s: %+v", today, r.Slack[0])
		}
	}
}

func TestWhatIsRecordedIsDone(t *testing.T) {
	d := flock(2)
	d.Events = append(d.Events, record.Event{Kind: record.Trimmed, Bird: "R1", On: record.On(day(t, "2025-10-20")), At: record.Ref{File: "a.csv", Row: 2, Col: 2}})
	d.Observations = append(d.Observations, record.Observation{Bird: "R2", Trait: record.Parasite, Parasite: record.Lice, Form: record.Count, On: record.On(day(t, "2025-10-01")),
		At: record.Ref{File: "a.csv", Row: 3, Col: 2}})
	r := plan(t, d, "2025-10-25", "2025-12-13", nil, nil)
	states := map[string]State{}
	for _, x := range r.Tasks {
		for _, b := range x.Birds {
			if x.Step.Name == "trim" || x.Step.Name == "first_look" {
				states[x.Step.Name+b.ID] = x.State
			}
		}
	}
	for k, want := range map[string]State{"trimR1": Done, "trimR2": Due, "first_lookR2": Done, "first_lookR1": Late} {
		if states[k] != want {
			t.Errorf("%s: %s, want %s", k, states[k], want)
		}
	}
}

func treated(t *testing.T, on, withdrawal string) *record.Dataset {
	d := flock(2)
	d.Events = append(d.Events, record.Event{Kind: record.Treated, Scope: record.WholeFlock, On: record.On(day(t, on)), At: record.Ref{File: "t.csv", Row: 2, Col: 2},
		Treatment: &record.Treatment{Product: "product as labelled", Against: "lice", Withdrawal: withdrawal}})
	return d
}

func TestATreatmentCallsForASecondAndALook(t *testing.T) {
	// Lice: second treatment 7 to 10 days later by the life cycle (domain notes 3.2), the look 14 to 28 days later (4.9).
	r := plan(t, treated(t, "2025-11-01", "eggs 7 days"), "2025-11-05", "2025-12-13", nil, nil)
	second, look := r.task(t, "second_treatment"), r.task(t, "look_after_treatment")
	if second.From.String() != "2025-11-08" || second.To.String() != "2025-11-11" || look.From.String() != "2025-11-15" || look.To.String() != "2025-11-29" {
		t.Errorf("second %s to %s, look %s to %s", second.From, second.To, look.From, look.To)
	}
	if len(r.Cautions()) < 3 {
		t.Errorf("cautions: %v", r.Cautions())
	}
	for _, x := range r.Tasks {
		if x.Step.Topic == "" {
			continue
		}
		found := false
		for _, c := range r.Cautions() {
			found = found || c.Topic == x.Step.Topic
		}
		if !found {
			t.Errorf("%s has no caution on %s", x.Step.Name, x.Step.Topic)
		}
	}
}

func TestAShortenedBeakCallsForALook(t *testing.T) {
	d := flock(2)
	d.Events = append(d.Events, record.Event{Kind: record.Trimmed, Bird: "R2", Text: "beak tip", On: record.On(day(t, "2025-11-01"))},
		record.Event{Kind: record.Trimmed, Bird: "R1", Text: "nails", On: record.On(day(t, "2025-11-01"))})
	x := plan(t, d, "2025-11-05", "2025-12-13", nil, nil).task(t, "look_after_beak")
	if x.From.String() != "2025-11-22" || x.To.String() != "2025-11-29" || len(x.Birds) != 1 || x.Birds[0].ID != "R2" {
		t.Errorf("%+v", x)
	}
}

func TestWithdrawalIsCountedAsEnteredOnly(t *testing.T) {
	for _, c := range []struct {
		written, want string
		hard          bool
	}{
		{"", parasite.UnknownWithdrawal, false},
		{"ask vet", "gives no day here", false},
		{"eggs 42 days", "counts to 2025-12-13: not before the show", true},
		{"eggs 41 days", "", false},
		{"nil", "", false},
		{"eggs 3 d, meat 60 d", "counts to 2025-12-31", true},
	} {
		r := plan(t, treated(t, "2025-11-01", c.written), "2025-11-20", "2025-12-13", nil, nil)
		if c.want == "" {
			if len(r.Conflicts) != 0 {
				t.Errorf("%q: %+v", c.written, r.Conflicts)
			}
			continue
		}
		if len(r.Conflicts) != 1 || r.Conflicts[0].Hard != c.hard || !strings.Contains(r.Conflicts[0].Text, c.want) {
			t.Errorf("%q: %+v", c.written, r.Conflicts)
		}
	}
}

func TestShowsCloserThanTheWeeksApartCollide(t *testing.T) {
	for gap, clash := range map[string]bool{"2025-12-26": true, "2025-12-27": false} {
		r := plan(t, flock(2), "2025-10-01", "2025-12-13", nil, map[string]any{"shows": "Spring show=" + gap})
		if len(r.Shows) != 2 || (len(r.Conflicts) == 1) != clash {
			t.Errorf("%s: %d shows, conflicts %+v", gap, len(r.Shows), r.Conflicts)
		}
	}
}

func TestMoultIsThatOfTheHemisphere(t *testing.T) {
	for _, c := range []struct {
		hemisphere, show string
		moult            bool
	}{{"north", "2025-12-13", true}, {"south", "2025-12-13", false}, {"south", "2025-06-13", true}, {"north", "2025-06-13", false}, {"", "2025-12-13", false}} {
		r := plan(t, flock(2), "2025-05-01", c.show, func(x *analysis.Context) { x.Settings.Flock.Hemisphere = c.hemisphere }, nil)
		if got := strings.Contains(said(r), "moult"); got != c.moult {
			t.Errorf("%s %s: %v\n%s", c.hemisphere, c.show, got, said(r))
		}
	}
}

func TestTheKeepersWindowsReplaceTheDefaults(t *testing.T) {
	set := func(step string, from, to int) func(*analysis.Context) {
		return func(c *analysis.Context) { c.Settings.Plan = map[string]map[string]int{step: {"from": from, "to": to}} }
	}
	if x := plan(t, flock(1), "2025-09-01", "2025-12-13", set("bath", 7, 6), nil).task(t, "bath"); x.From.String() != "2025-12-06" || x.To.String() != "2025-12-07" {
		t.Errorf("%s to %s", x.From, x.To)
	}
	for _, c := range []struct {
		change func(*analysis.Context)
		want   string
	}{{set("bthe", 5, 3), "no step \"bthe\""}, {set("bath", 3, 5), "runs backwards"}} {
		ctx := analysis.Context{Today: day(t, "2025-09-01")}
		ctx.Settings.Show.Date = record.On(day(t, "2025-12-13"))
		c.change(&ctx)
		if _, err := Spec().Run(context.Background(), ctx, flock(1), nil); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}

func TestAStopSignSilencesThePlan(t *testing.T) {
	d := flock(2)
	d.Observations = append(d.Observations, record.Observation{Bird: "R1", Trait: record.Weight, Form: record.Measured, Value: 900, On: record.On(day(t, "2025-11-10")),
		At: record.Ref{File: "w.csv", Row: 2, Col: 3}, More: &record.Detail{Note: "swollen head"}})
	r := plan(t, d, "2025-11-20", "2025-12-13", nil, nil)
	if len(r.Tasks) != 0 || len(r.Claims()) != 1 || r.Claims()[0].Stands != analysis.Stop {
		t.Errorf("%d tasks, claims %+v", len(r.Tasks), r.Claims())
	}
	for _, table := range r.Tables() {
		if len(table.Rows) != 0 {
			t.Errorf("table %s has %d rows", table.Name, len(table.Rows))
		}
	}
}

func TestWithoutAShowOrBirdsTheAnswerIsASentence(t *testing.T) {
	if r := plan(t, flock(1), "2025-09-01", "", nil, nil); len(r.Tasks) != 0 || r.Claims()[0].Refusal == nil {
		t.Errorf("%+v", r)
	}
	if r := plan(t, flock(0), "2025-09-01", "2025-12-13", nil, nil); len(r.Tasks) != 0 || !strings.Contains(said(r), "no bird is in the flock") {
		t.Errorf("%s", said(r))
	}
	for _, shows := range []string{"tomorrow", "X=13.12.2025"} {
		if _, err := Spec().Run(context.Background(), analysis.Context{}, flock(1), map[string]any{"shows": shows}); err == nil {
			t.Errorf("%q was read as a show", shows)
		}
	}
	if r := plan(t, flock(1), "2026-01-10", "2025-12-13", nil, nil); !strings.Contains(said(r), "28 days ago") || r.task(t, "bath").State != Over {
		t.Errorf("%s", said(r))
	}
}

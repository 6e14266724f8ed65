package planner

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

const method = "days counted back from the show; windows " + practice + ", second treatments by the published life cycles"

// Claims are the stop signs where there are any and nothing beside them; else they say what is late, what is due this week, how much room is left, and what is in the way.
func (r *Result) Claims() []analysis.Claim {
	if len(r.Stops) > 0 {
		return r.Stops
	}
	if r.refused != "" {
		return []analysis.Claim{{ID: "plan.none", Topic: "plan", Stands: analysis.Open, Text: "Cannot count back because " + r.refused + ".", Method: method,
			Refusal: &analysis.Refusal{Needs: "the day of the show and a bird", Next: "write the show's date under [show] in flock.toml, or give --show 2026-01-17"}}}
	}
	var claims []analysis.Claim
	for _, show := range r.Shows {
		claims = append(claims, r.start(show))
	}
	for _, s := range r.Slack {
		claims = append(claims, r.room(s))
	}
	for i, c := range r.Conflicts {
		stands := analysis.Open
		if c.Hard {
			stands = analysis.Against
		}
		claims = append(claims, analysis.Claim{ID: fmt.Sprintf("plan.conflict/%s-%d", c.Show.On, i+1), Topic: "plan", Stands: stands, Subject: one(c.Birds),
			Text: fmt.Sprintf("%s: %s.", strings.Replace(names(c.Birds, len(r.Team)), "the whole", "The whole", 1), c.Text), N: analysis.Counts{Records: len(c.At), Birds: len(c.Birds)}, RestsOn: c.At, Method: method})
	}
	return claims
}

// start says how much of the usual time is left before a show, and what of it is gone.
func (r *Result) start(show Show) analysis.Claim {
	c := analysis.Claim{ID: "plan.start/" + show.On.String(), Topic: "plan", Stands: analysis.Open, N: analysis.Counts{Birds: len(r.Team)}, Method: method}
	days := int(show.On - r.Today)
	if days < 0 {
		c.Text = fmt.Sprintf("%s was %s ago; what follows are the weeks after it, for %s.", analysis.Capital(show.Name), analysis.Counted(-days, "day"), analysis.Counted(len(r.Team), "bird"))
		return c
	}
	var late []string
	birds := map[string]bool{}
	for _, t := range r.Tasks {
		if t.Show == show && t.State == Late {
			late = append(late, strings.ReplaceAll(t.Step.Name, "_", " "))
			for _, b := range t.Birds {
				birds[b.ID] = true
			}
		}
	}
	c.Text = fmt.Sprintf("%s is in %s (%s), with %s in the plan", analysis.Capital(show.Name), analysis.Counted(days, "day"), show.On, analysis.Counted(len(r.Team), "bird"))
	if len(late) == 0 {
		c.Text += "; nothing in it is late."
		return c
	}
	c.Text += fmt.Sprintf("; for %s the usual days have passed, unrecorded, for: %s.", analysis.Counted(len(birds), "bird"), strings.Join(late, ", "))
	return c
}

func (r *Result) room(s Slack) analysis.Claim {
	c := analysis.Claim{ID: "plan.room/" + s.Show.On.String(), Topic: "plan", Stands: analysis.Open, N: analysis.Counts{Birds: len(r.Team)}, Method: method,
		Source: "life cycles as named in the analysis parasite"}
	if s.Days >= 0 {
		c.Text = fmt.Sprintf("If lice are found by %s, a treatment, a second one and a look two weeks later still fit before the last look for %s: %s of room.", s.Latest, s.Show.Name, analysis.Counted(s.Days, "day"))
		return c
	}
	c.Text = fmt.Sprintf("Since %s a treatment, a second one and a look two weeks later no longer fit before the last look for %s: lice found now leave %s for the records to show what a treatment did.",
		s.Latest, s.Show.Name, analysis.Counted(max(0, int(s.Show.On-r.Today)), "day"))
	return c
}

func one(birds []record.Bird) analysis.Subject {
	if len(birds) == 1 {
		return analysis.Subject{Bird: birds[0].ID}
	}
	return analysis.Subject{}
}

// names lists up to 12 birds; the whole team is "the whole team".
func names(birds []record.Bird, all int) string {
	if len(birds) == all && all > 1 {
		return "the whole team"
	}
	var out []string
	for _, b := range birds {
		out = append(out, b.Label())
	}
	if n := len(out); n > 12 {
		out = append(out[:11], fmt.Sprintf("%d more", n-11))
	}
	return strings.Join(out, ", ")
}

// Tables are the calendar, each bird's own list, and what is in the way.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.calendar(), r.byBird(), r.inTheWay()}
}

func (r *Result) calendar() analysis.Table {
	t := analysis.Table{Name: "calendar", Caption: "What falls due, by day", Columns: []analysis.Column{
		{Name: "on", Head: "day"}, {Name: "from", Head: "from"}, {Name: "to", Head: "to"}, {Name: "show", Head: "for"}, {Name: "step", Head: "step"},
		{Name: "what", Head: "what"}, {Name: "why", Head: "why"}, {Name: "birds", Head: "birds"}, {Name: "n", Head: "number"}, {Name: "state", Head: "state"}, {Name: "late", Head: "if late"},
	}}
	for _, x := range r.Tasks {
		t.Rows = append(t.Rows, []any{x.On.String(), x.From.String(), x.To.String(), x.Show.Name, x.Step.Name, x.Step.Do, x.Step.Why, names(x.Birds, len(r.Team)), len(x.Birds),
			string(x.State), x.Step.Late})
	}
	return t
}

func (r *Result) byBird() analysis.Table {
	t := analysis.Table{Name: "by_bird", Caption: "What falls due, by bird", Columns: []analysis.Column{
		{Name: "id", Head: "key"}, {Name: "bird", Head: "bird"}, {Name: "on", Head: "day"}, {Name: "from", Head: "from"}, {Name: "to", Head: "to"},
		{Name: "what", Head: "what"}, {Name: "state", Head: "state"}, {Name: "late", Head: "if late"}, {Name: "cells", Head: "cells that show it"},
	}}
	for _, b := range r.Team {
		for _, x := range r.Tasks {
			if x.Step.Team || !slices.ContainsFunc(x.Birds, func(o record.Bird) bool { return o.ID == b.ID }) {
				continue
			}
			t.Rows = append(t.Rows, []any{b.ID, b.Label(), x.On.String(), x.From.String(), x.To.String(), x.Step.Do, string(x.State), x.Step.Late, len(x.At)})
		}
	}
	return t
}

func (r *Result) inTheWay() analysis.Table {
	t := analysis.Table{Name: "conflicts", Caption: "What is in the way", Columns: []analysis.Column{{Name: "show", Head: "for"}, {Name: "birds", Head: "birds"}, {Name: "what", Head: "what"}}}
	for _, c := range r.Conflicts {
		t.Rows = append(t.Rows, []any{c.Show.Name, names(c.Birds, len(r.Team)), c.Text})
	}
	return t
}

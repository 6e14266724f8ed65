package main

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"keelmark/analysis/catalog"
	"keelmark/analysis/planner"
	"keelmark/ingest/record"
	"keelmark/notebooks/render"
	"keelmark/notebooks/reports"
	"keelmark/notebooks/runner"
)

const planHelp = `keelmark plan SOURCE...

Counts back from the show: what falls due for which bird, what is late, what is in the way, and how much room is left for
two treatments and a look. Writes it as a page for the screen (HTML), for paper with boxes to tick (PDF), as the executed
notebook, and as a calendar file (.ics) that calendar programs import. Importing a later plan updates the entries of
an earlier one.

    keelmark plan my-flock/
    keelmark plan --show 2025-12-13 --birds R12,R14 my-flock/
    keelmark plan --also "Spring show=2026-03-14" my-flock/

The days are common practice; change them under [plan] in flock.toml (keelmark help flock.toml).

    --also SHOWS      further shows: Name=DATE, several with ; between
    --birds RINGS     the team, with , between (default: every bird of the flock)
    --out DIR         where to write (default ` + reportFolder + `)
    --paper P         A4 or Letter (default: as in flock.toml, else A4)

` + sourceHelp

func planVerb() verb {
	return verb{"plan", "count back from the show: a sheet to tick off, and a calendar file", planHelp, runPlan}
}

func runPlan(ctx context.Context, w world, args []string) (int, error) {
	set := flags("plan")
	var source sourceFlags
	source.add(set)
	also := set.String("also", "", "")
	birds := set.String("birds", "", "")
	out := set.String("out", reportFolder, "")
	paper := set.String("paper", "", "")
	rest, err := parse(w, set, planHelp, args)
	if err != nil {
		return 0, err
	}
	if err := oneOf("paper", *paper, "A4", "Letter"); err != nil {
		return 0, err
	}
	flocks, today, err := source.load(ctx, w, rest)
	if err != nil {
		return 0, err
	}
	nb, err := reports.Get("plan")
	if err != nil {
		return 0, err
	}
	for _, d := range flocks {
		c, err := contextOf(d, today)
		if err != nil {
			return 0, err
		}
		result, err := planner.Spec().Run(ctx, c, d, map[string]any{"shows": *also, "birds": *birds})
		if err != nil {
			return 0, err
		}
		made, err := makeReport(ctx, "plan", nb, catalog.All(), d, today, []runner.Set{{Name: "shows", Value: *also}, {Name: "birds", Value: *birds}})
		if err != nil {
			return 0, err
		}
		if made.paper == "" || *paper != "" {
			made.paper = render.Paper(*paper)
		}
		name := nameOf(d, flocks) + "-plan"
		paths, err := made.write(*out, name)
		if err != nil {
			return 0, err
		}
		var calendar bytes.Buffer
		plan := result.(*planner.Result)
		if err := render.Calendar(&calendar, d.Name, "Keelmark plan: "+flockName(d), today, appointments(plan)); err != nil {
			return 0, err
		}
		if len(plan.Tasks) > 0 {
			path := filepath.Join(*out, name+".ics")
			if err := writeFile(path, calendar.Bytes()); err != nil {
				return 0, err
			}
			paths = append(paths, path)
		}
		printPlan(w, plan)
		for _, p := range paths {
			fmt.Fprintln(w.out, p)
		}
	}
	return outcome(flocks), nil
}

// appointments are the tasks as entries of a calendar, one a step and show: birds that have done it and birds that have not
// share it, so that its identity does not change while the work goes on.
func appointments(plan *planner.Result) []render.Appointment {
	var out []render.Appointment
	at := map[string]int{}
	for _, t := range plan.Tasks {
		if t.State == planner.Missed || t.State == planner.Over {
			continue
		}
		key := fmt.Sprintf("%s %s %s", t.Step.Name, t.Show.On, t.Step.Do)
		var labels []string
		for _, b := range t.Birds {
			labels = append(labels, b.Label())
		}
		who := strings.Join(labels, ", ")
		if t.State == planner.Done {
			who = "recorded as done: " + who
		}
		if i, ok := at[key]; ok {
			out[i].Description += "\n" + who
			if t.State != planner.Done {
				out[i].First, out[i].Last, out[i].Summary = t.On, t.On, summaryOf(t)
			}
			continue
		}
		at[key] = len(out)
		out = append(out, render.Appointment{Key: key, First: t.On, Last: t.On, Summary: summaryOf(t),
			Description: fmt.Sprintf("For %s on %s. Any day from %s to %s. %s.\n%s", t.Show.Name, t.Show.On, t.From, t.To, t.Step.Why, who)})
	}
	return out
}

func summaryOf(t planner.Task) string {
	text := fmt.Sprintf("%s (%s)", t.Step.Do, count(len(t.Birds), "bird", "birds"))
	if t.State == planner.Done {
		return "done: " + text
	}
	return text
}

func printPlan(w world, plan *planner.Result) {
	for _, c := range plan.Claims() {
		fmt.Fprintln(w.out, c.Text)
		if c.Refusal != nil {
			fmt.Fprintln(w.out, "  next: "+c.Refusal.Next)
		}
	}
	week := plan.Today + 7
	for _, t := range plan.Tasks {
		if (t.State == planner.Due || t.State == planner.Late) && t.On <= week {
			fmt.Fprintf(w.out, "%s: %s (%s)%s\n", dayText(t.On), t.Step.Do, count(len(t.Birds), "bird", "birds"), lateText(t))
		}
	}
	fmt.Fprintln(w.out)
}

func lateText(t planner.Task) string {
	if t.State == planner.Late && t.Step.Late != "" {
		return ": late; " + t.Step.Late
	}
	return ""
}

func dayText(d record.Day) string { return d.Weekday().String()[:3] + " " + d.String() }

package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"keelmark/analysis/slip"
	"keelmark/ingest"
	"keelmark/ingest/intake"
	"keelmark/ingest/record"
)

const importHelp = `keelmark import FILE... --flock DIR

Copies a season's spreadsheets, untouched, into the folder of a flock, and says what they add: which cells of an
edited sheet changed, which records stand in two files and are counted once, which birds were known before. Then it
tells what was read and what is asked, and adds a line to imports.log in the folder.

    keelmark import season-2025.xlsx pens.csv --flock my-flock/
    keelmark import season-2025.xlsx --flock my-flock/ --dry-run     only say what would happen
    keelmark import season-2025.xlsx --flock my-flock/ --ask         then put the questions one by one

A file whose name is in the folder already and whose content is another is an edited sheet: the newer one takes its
place, and the older one is kept in the folder "earlier" below it, which is not read. No file is ever overwritten
without being kept, and an import may be stopped at any moment: keelmark import --flock DIR finishes what was begun.
The folder is made if it is not there.

    --flock DIR       the folder of the flock
    --dry-run         change nothing
    --anyway          copy files that cannot be read too, and go back to a file that was replaced before
    --ask             put the open questions when the files are in
    --all             show every change, question and refused cell, not only the first

` + sourceHelp + `
Exit code: 0 all read, 3 with open questions or refused cells, 1 a file was not copied, 2 wrong call.
`

func importVerb() verb {
	return verb{"import", "add a season's spreadsheets to a flock's folder", importHelp, runImport}
}

func runImport(ctx context.Context, w world, args []string) (int, error) {
	set := flags("import")
	var source sourceFlags
	source.add(set)
	dir := set.String("flock", "", "")
	dry := set.Bool("dry-run", false, "")
	anyway := set.Bool("anyway", false, "")
	asking := set.Bool("ask", false, "")
	all := set.Bool("all", false, "")
	files, err := parse(w, set, importHelp, args)
	if err != nil {
		return 0, err
	}
	if *dir == "" {
		return 0, usage("import: say into which folder: keelmark import FILE... --flock DIR")
	}
	if *dry && *asking {
		return 0, usage("import: --dry-run changes nothing and so keeps no answers; leave --ask away")
	}
	o, err := source.options(w)
	if err != nil {
		return 0, err
	}
	resumed, err := resume(w, *dir, *dry)
	switch {
	case err != nil:
		return 0, err
	case len(files) == 0 && resumed:
		return exitDone, nil
	case len(files) == 0:
		return 0, usage("import: name the spreadsheets to add")
	}
	if o.Breeds, err = breedNames(); err != nil {
		return 0, err
	}
	plan, err := intake.Prepare(ctx, *dir, files, intake.Options{Load: o, Anyway: *anyway})
	if err != nil {
		return 0, err
	}
	code, err := exitFailed, withSlips(ctx, w, o.Today, plan.Before, plan.After)
	if err == nil {
		code, err = carryOut(ctx, w, plan, o.Today, *dry, *all)
	}
	if closing := plan.Close(); err == nil {
		err = closing
	}
	if err != nil || !*asking || plan.After == nil {
		return code, err
	}
	fmt.Fprintln(w.out)
	flocks, err := askAll(ctx, w, &source, []string{*dir})
	if code != exitFailed { // a file that was not copied still is not
		code = outcome(flocks)
	}
	return code, err
}

// withSlips adds the questions that only a bird's own history can raise, as check does.
func withSlips(ctx context.Context, w world, today record.Day, states ...[]*record.Dataset) error {
	for i, flocks := range states {
		for _, d := range flocks {
			c, err := contextOf(d, today)
			if err != nil {
				return err
			}
			notes, err := slip.Settle(ctx, c, d)
			if err != nil {
				return err
			}
			for _, n := range notes {
				if i == len(states)-1 { // what was wrong before is told once
					fmt.Fprintf(w.err, "keelmark: %s\n", n)
				}
			}
		}
		ingest.MarkAsked(flocks)
	}
	return nil
}

// resume finishes an import that was interrupted.
func resume(w world, dir string, dry bool) (bool, error) {
	if dry {
		if intake.Interrupted(dir) {
			return false, fmt.Errorf("an earlier import into %s was interrupted; keelmark import --flock %s finishes it, then try again", dir, dir)
		}
		return false, nil
	}
	line, err := intake.Resume(dir)
	if line != "" && err == nil {
		fmt.Fprintf(w.out, "An earlier import was interrupted. It is finished now:\n  %s\n\n", strings.ReplaceAll(line, "\t", "\n  "))
	}
	return line != "", err
}

// carryOut tells what the plan is, does it unless it is a dry run, and shows what is then read.
func carryOut(ctx context.Context, w world, plan *intake.Plan, on record.Day, dry, all bool) (int, error) {
	would := ""
	if dry {
		would = " (only a trial: nothing is changed)"
	}
	fmt.Fprintf(w.out, "Into %s%s:\n", plan.Dir, would)
	limit := shownAtMost
	if all {
		limit = int(^uint(0) >> 1)
	}
	left := false
	for _, it := range plan.Items {
		printItem(w.out, it, limit)
		left = left || it.Action == intake.Skip
	}
	for _, c := range plan.Carried {
		fmt.Fprintf(w.out, "  %s\n", c)
	}
	code := exitDone
	if plan.Nothing() {
		fmt.Fprintln(w.out, "\nNo file is to be copied.")
	} else {
		printMeaning(w.out, plan.Meaning(), limit)
		if !dry {
			if err := plan.Commit(ctx, on); err != nil {
				return 0, err
			}
			fmt.Fprintf(w.out, "\nDone, and noted in %s. The files you gave were not touched.\n", filepath.Join(plan.Dir, intake.LogFile))
		}
		fmt.Fprintln(w.out)
		printSummaries(w.out, plan.After, all)
		code = outcome(plan.After)
	}
	if left {
		code = exitFailed
	}
	return code, nil
}

func printItem(w io.Writer, it intake.Item, limit int) {
	fmt.Fprintf(w, "  %s: %s\n", it.Source, it.Action)
	if it.Reason != "" {
		fmt.Fprintf(w, "      %s\n", it.Reason)
	}
	if it.Action != intake.Replace {
		return
	}
	fmt.Fprintf(w, "      the one that was there is kept as %s\n", it.Earlier)
	if len(it.Diffs) == 0 {
		fmt.Fprintln(w, "      every cell says the same as before")
	}
	for _, d := range it.Diffs {
		printDiff(w, d, limit)
	}
}

func printDiff(w io.Writer, d intake.SheetDiff, limit int) {
	name := ""
	if d.Sheet != "" {
		name = "sheet " + d.Sheet + ": "
	}
	switch d.State {
	case intake.Add:
		fmt.Fprintf(w, "      sheet %s is new\n", d.Sheet)
		return
	case intake.Skip:
		fmt.Fprintf(w, "      sheet %s has vanished\n", d.Sheet)
		return
	case intake.Replace, intake.Same:
	}
	var lines []string
	for _, c := range d.Cells {
		at := c.At.Cell()
		if c.Was.Cell() != at {
			at += " (was " + c.Was.Cell() + ")"
		}
		switch {
		case c.Old == "":
			lines = append(lines, fmt.Sprintf("%s: empty before, now %q", at, c.New))
		case c.New == "":
			lines = append(lines, fmt.Sprintf("%s: %q has vanished", at, c.Old))
		default:
			lines = append(lines, fmt.Sprintf("%s: %q is now %q", at, c.Old, c.New))
		}
	}
	row := func(l intake.Line, what string) {
		lines = append(lines, fmt.Sprintf("%s: %s (row %d%s)", what, listed(l.Texts, 6), l.N, map[bool]string{true: " of the older sheet"}[what == "gone"]))
	}
	column := func(l intake.Line, what string) {
		lines = append(lines, fmt.Sprintf("column %s %s: %s", record.ColumnName(l.N), what, listed(l.Texts, 3)))
	}
	for _, l := range d.Gone {
		row(l, "gone")
	}
	for _, l := range d.GoneCol {
		column(l, "has vanished")
	}
	for _, l := range d.NewRows {
		row(l, "new")
	}
	for _, l := range d.NewCols {
		column(l, "is new")
	}
	counts := []string{}
	for _, c := range []struct {
		n         int
		one, many string
	}{{len(d.Cells), "cell changed", "cells changed"}, {len(d.Gone), "line is gone", "lines are gone"}, {len(d.NewRows), "line is new", "lines are new"},
		{len(d.GoneCol), "column vanished", "columns vanished"}, {len(d.NewCols), "column is new", "columns are new"}} {
		if c.n > 0 {
			counts = append(counts, count(c.n, c.one, c.many))
		}
	}
	fmt.Fprintf(w, "      %s%s\n", name, strings.Join(counts, ", "))
	for _, l := range lines[:min(limit, len(lines))] {
		fmt.Fprintf(w, "        %s\n", l)
	}
	if rest := len(lines) - limit; rest > 0 {
		fmt.Fprintf(w, "        ... and %d more; --all shows them\n", rest)
	}
}

func printMeaning(w io.Writer, m intake.Meaning, limit int) {
	fmt.Fprintln(w)
	if len(m.Known) > 0 {
		fmt.Fprintf(w, "%s known already: %s.\n", count(len(m.Known), "bird is", "birds are"), listed(m.Known, limit))
	}
	if len(m.New) > 0 {
		fmt.Fprintf(w, "%s new: %s.\n", count(len(m.New), "bird is", "birds are"), listed(m.New, limit))
	}
	if len(m.Vanished) > 0 {
		fmt.Fprintf(w, "No sheet knows %s any more.\n", listed(m.Vanished, limit))
	}
	if m.Once > 0 {
		fmt.Fprintf(w, "%s in more than one file and counted once.\n", count(m.Once, "record stands", "records stand"))
	}
	for _, r := range m.Split {
		fmt.Fprintf(w, "Ring %s is read as worn by %s, one after the other.\n", r.Ring, strings.Join(r.Birds, " and "))
	}
	if m.Questions > 0 {
		fmt.Fprintf(w, "%s come up: keelmark check --ask puts them one by one.\n", count(m.Questions, "new question has", "new questions have"))
	}
}

package main

import (
	"context"
	"fmt"
	"path/filepath"

	"keelmark/analysis"
	"keelmark/analysis/flocks"
	"keelmark/ingest/record"
	"keelmark/notebooks/cell"
	"keelmark/notebooks/render"
	"keelmark/notebooks/reports"
	"keelmark/notebooks/runner"
	"keelmark/plots"
)

// writeEvening writes the report of a comparison and a page for each keeper, and says where they are.
func writeEvening(ctx context.Context, w world, r *flocks.Result, today record.Day, paper render.Paper, dir string) error {
	all, err := comparedReport(ctx, "flocks", r, today, paper)
	if err != nil {
		return err
	}
	paths, err := all.write(dir, "flocks")
	if err != nil {
		return err
	}
	for _, p := range paths {
		fmt.Fprintln(w.out, p)
	}
	if len(r.Flocks) < flocks.SmallGroup {
		fmt.Fprintf(w.out, "No pages for keepers: beside fewer than %d flocks a band would tell of the others.\n", flocks.SmallGroup)
		return nil
	}
	for i, f := range r.Flocks {
		own, err := r.Own(f.Code)
		if err != nil {
			return err
		}
		page, err := comparedReport(ctx, "keeper", own, today, paper)
		if err != nil {
			return err
		}
		page.document.Title += ": " + f.Code
		paths, err := page.write(filepath.Join(dir, "keepers"), fmt.Sprintf("%s-%d", slug(f.Code), i+1))
		if err != nil {
			return err
		}
		fmt.Fprintln(w.out, paths[1])
	}
	return nil
}

// comparedReport runs a report over what a comparison found. It is given no flock: no record can reach the page.
func comparedReport(ctx context.Context, name string, compared analysis.Result, today record.Day, paper render.Paper) (*report, error) {
	nb, err := reports.Compared(name)
	if err != nil {
		return nil, err
	}
	engine, err := cell.New(cell.Options{Compared: compared, Context: analysis.Context{Today: today}, Figures: plots.For, Limits: cell.Unattended(),
		NoFlock: "this page is about a comparison; no flock's records are here"})
	if err != nil {
		return nil, err
	}
	executed, err := runner.Run(ctx, nb, engine, nil)
	if err != nil {
		return nil, fmt.Errorf("report %s: %w", name, err)
	}
	doc := render.FromNotebook(executed)
	doc.Made = today
	return &report{executed, doc, paperOr(paper)}, nil
}

package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"keelmark/analysis/flocks"
	"keelmark/ingest/record"
	"keelmark/notebooks/render"
)

const compareHelp = `keelmark compare SOURCE...

Sets flocks side by side, so that each keeper learns from it and none is ranked: how often one looks first, then what was
found, weights, condition and fertility, with the mix of sizes, sexes, ages and seasons allowed for. Most flocks cannot be
told apart, and it says so.

A source is a folder of flocks (each folder in it one flock), the folder of one flock, or a summary from keelmark share; they
can be mixed. A flock that cannot be read is reported and left out.

    keelmark compare the-club/
    keelmark compare the-club/ shares/ my-flock/
    keelmark compare --report evening the-club/

    --from H, --to H  half years, such as 2024-H2 (default: all)
    --format F        text, json (claims and tables), csv (one table, see --table), html or pdf (the report flocks)
    --table T         with --format csv: which table
    --report DIR      write the evening: the report for the screen and as a handout, and a page for each keeper, who sees the
                      own flock beside the band of all and no other flock
    --out DIR         with --format html or pdf: where to write (default ` + reportFolder + `)
    --paper P         A4 or Letter (default A4)

` + sourceHelp

func compareVerb() verb {
	return verb{"compare", "flocks side by side: folders, summaries, or both", compareHelp, runCompare}
}

func runCompare(ctx context.Context, w world, args []string) (int, error) {
	set := flags("compare")
	var source sourceFlags
	source.add(set)
	from, to := set.String("from", "", ""), set.String("to", "", "")
	format := set.String("format", "text", "")
	wanted := set.String("table", "", "")
	evening := set.String("report", "", "")
	out := set.String("out", reportFolder, "")
	paper := set.String("paper", "", "")
	rest, err := parse(w, set, compareHelp, args)
	if err != nil {
		return 0, err
	}
	if err := errors.Join(oneOf("format", *format, "text", "json", "csv", "html", "pdf"), oneOf("paper", *paper, "A4", "Letter")); err != nil {
		return 0, usage("%v", err)
	}
	var o flocks.Options
	for _, h := range []struct {
		name, text string
		at         *flocks.Half
	}{{"from", *from, &o.From}, {"to", *to, &o.To}} {
		if h.text != "" {
			if *h.at, err = flocks.ParseHalf(h.text); err != nil {
				return 0, usage("--%s: %v", h.name, err)
			}
		}
	}
	gathered, today, err := source.gather(ctx, w, rest)
	if err != nil {
		return 0, err
	}
	result, err := flocks.Compare(ctx, gathered.summaries, o)
	if err != nil {
		return 0, err
	}
	switch {
	case *evening != "":
		err = writeEvening(ctx, w, result, today, render.Paper(*paper), *evening)
	case *format == "json":
		err = printJSON(w.out, []found{{&record.Dataset{Name: "comparison"}, result}})
	case *format == "csv":
		err = printCSV(w.out, []found{{&record.Dataset{Name: "comparison"}, result}}, *wanted)
	case *format == "html" || *format == "pdf":
		var page *report
		if page, err = comparedReport(ctx, "flocks", result, today, render.Paper(*paper)); err == nil {
			err = page.writeOne(w, filepath.Join(*out, "flocks."+*format))
		}
	default:
		printComparison(w.out, result)
	}
	return gathered.outcome(), err
}

// printComparison prints the sentences, and one narrow table a measure: the wide one is for csv.
func printComparison(out io.Writer, r *flocks.Result) {
	fmt.Fprintf(out, "%s side by side, in the order given\n\n", count(len(r.Flocks), "flock", "flocks"))
	for _, c := range r.Claims() {
		printClaim(out, c)
	}
	for _, t := range r.Narrow() {
		fmt.Fprintf(out, "\n%s\n%s\n", t.Caption, textTable(t))
	}
	for _, c := range r.Cautions() {
		fmt.Fprintf(out, "\nCaution, %s: %s\n", c.Topic, c.Text)
	}
}

// writeOne writes a report in the one form that the path's ending names.
func (r *report) writeOne(w world, path string) error {
	var page bytes.Buffer
	write := r.document.HTML
	if filepath.Ext(path) == ".pdf" {
		write = r.document.PDF
	}
	if err := write(&page, r.paper); err != nil {
		return err
	}
	if err := writeFile(path, page.Bytes()); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w.out, path)
	return err
}

// paperOr is a paper, A4 where none was chosen.
func paperOr(p render.Paper) render.Paper { return cmp.Or(p, render.Paper("A4")) }

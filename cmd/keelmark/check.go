package main

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"

	"keelmark/analysis/stop"
	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/notebooks/render"
)

const checkHelp = `keelmark check SOURCE...

Reads spreadsheets and says what was understood, what only you can answer, what was refused, and what was set
aside. Every cell that is not empty is in one of these. No spreadsheet is changed.

A folder is one flock; loose files together are one flock; a column that names flocks splits.

    keelmark check weights.xlsx
    keelmark check my-flock/                     with flock.toml and answers.toml in it, where they exist
    keelmark check --weight-unit g weights.csv
    keelmark check --ask my-flock/               put the questions one by one and keep your answers
    keelmark check --format html my-flock/       your sheets as a page, each cell lettered by what became of it
    keelmark check --format jsonl my-flock/      one JSON object a line: file, record, issue, aside

    --ask             put the open questions one by one. A letter chooses a reading; where it is offered, write
                      your own; Enter leaves a question open; u takes the latest answer back; q stops. Each answer is kept at once, in
                      answers.toml in the folder or NAME.answers.toml beside a single file, and is not asked
                      again. If you edit the cell later, you are told that the answer no longer fits
    --all             show every question and refused cell, not only the first
    --format F        text, html or jsonl
    --out FILE        where to write (html: default ` + reportFolder + `/NAME-check.html; - prints it)

` + sourceHelp + `
Exit code: 0 all read, 3 with open questions or refused cells, 1 a file was refused, 2 wrong call.
`

func checkVerb() verb {
	return verb{"check", "say what was read, what is asked, what was refused and why", checkHelp, runCheck}
}

func runCheck(ctx context.Context, w world, args []string) (int, error) {
	set := flags("check")
	var source sourceFlags
	source.add(set)
	format := set.String("format", "text", "")
	all := set.Bool("all", false, "")
	asking := set.Bool("ask", false, "")
	out := set.String("out", "", "")
	sources, err := parse(w, set, checkHelp, args)
	if err != nil {
		return 0, err
	}
	if err := oneOf("format", *format, "text", "html", "jsonl"); err != nil {
		return 0, err
	}
	if *asking && (*format != "text" || *out != "") {
		return 0, usage("--ask is a talk in the terminal; leave --format and --out away, and run check again for the page")
	}
	if *asking && len(sources) > 0 {
		flocks, err := askAll(ctx, w, &source, sources)
		return outcome(flocks), err
	}
	if len(sources) == 0 {
		return 0, usage("name the spreadsheets, or the folder that holds them")
	}
	o, err := source.options(w)
	if err != nil {
		return 0, err
	}
	o.KeepTexts = *format == "html"
	flocks, err := readFlocks(ctx, w, sources, o)
	if err != nil {
		return 0, err
	}
	var page bytes.Buffer
	switch *format {
	case "html":
		err = render.Sheets(&page, flocks, o.Today)
	case "jsonl":
		err = ingest.WriteJSONL(&page, flocks)
	default:
		for _, d := range flocks {
			for _, c := range stop.Signs(o.Today, d) { // before anything else
				printClaim(&page, c)
				fmt.Fprintln(&page)
			}
		}
		printSummaries(&page, flocks, *all)
	}
	if err != nil {
		return 0, err
	}
	return outcome(flocks), putOut(w, *out, *format, flocks, page.Bytes())
}

// options are the flags as ingest takes them.
func (f *sourceFlags) options(w world) (ingest.Options, error) {
	settings, err := f.settings()
	if err != nil {
		return ingest.Options{}, err
	}
	today, err := f.day()
	return ingest.Options{Today: today, Settings: settings, StandardTable: f.table, Progress: progress(w.err)}, err
}

// putOut writes what check found: to the file that was named, a page without one to the folder of reports, all
// else to the output.
func putOut(w world, path, format string, flocks []*record.Dataset, content []byte) error {
	if path == "" && format == "html" {
		path = filepath.Join(reportFolder, nameOf(flocks[0], flocks)+"-check.html")
	}
	if path == "" || path == "-" {
		_, err := w.out.Write(content)
		return err
	}
	if err := writeFile(path, content); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w.out, path)
	return err
}

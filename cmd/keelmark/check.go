package main

import (
	"context"
	"fmt"

	"keelmark/ingest"
)

const checkHelp = `keelmark check SOURCE...

Reads spreadsheets and says what was understood, what only you can answer, what was refused, and what was set
aside. Every cell that is not empty is in one of these. No file is changed.

A folder is one flock; loose files together are one flock; a column that names flocks splits.

    keelmark check weights.xlsx
    keelmark check my-flock/                     with flock.toml and answers.toml in it, where they exist
    keelmark check --weight-unit g weights.csv
    keelmark check --format jsonl my-flock/      one JSON object a line: file, record, issue, aside

    --all             show every question and refused cell, not only the first
    --format F        text or jsonl

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
	sources, err := parse(w, set, checkHelp, args)
	if err != nil {
		return 0, err
	}
	if err := oneOf("format", *format, "text", "jsonl"); err != nil {
		return 0, err
	}
	flocks, _, err := source.load(ctx, w, sources)
	if err != nil {
		return 0, err
	}
	if *format == "jsonl" {
		return outcome(flocks), ingest.WriteJSONL(w.out, flocks)
	}
	for i, d := range flocks {
		if i > 0 {
			fmt.Fprintln(w.out)
		}
		printSummary(w.out, d, *all)
	}
	return outcome(flocks), nil
}

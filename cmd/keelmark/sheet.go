package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"keelmark/ingest/record"
	"keelmark/ingest/workbook"
)

const sheetHelp = `keelmark sheet OUT.xlsx [FLOCK]

Writes a blank recording workbook: one sheet a kind of record, with drop-downs, warnings, the legend of your scales and
a guide of its own. What is filled in there reads back without a question. With FLOCK, the folder of your records, it
is made for the settings of its flock.toml and already lists your birds.

    keelmark sheet 2026.xlsx
    keelmark sheet 2026.xlsx my-flock/
    keelmark sheet --weight-unit lb-oz --date-order mdy 2026.xlsx

It never overwrites a file.

` + sourceHelp

func sheetVerb() verb {
	return verb{"sheet", "write a blank recording workbook with drop-downs and its own guide", sheetHelp, runSheet}
}

func runSheet(ctx context.Context, w world, args []string) (int, error) {
	set := flags("sheet")
	var source sourceFlags
	source.add(set)
	rest, err := parse(w, set, sheetHelp, args)
	if err != nil {
		return 0, err
	}
	if len(rest) == 0 || len(rest) > 2 {
		return 0, usage("sheet: name the workbook to write, and the folder of your records if it is to list your birds")
	}
	if !strings.EqualFold(filepath.Ext(rest[0]), ".xlsx") {
		return 0, usage("sheet: %s: the name must end in .xlsx", rest[0])
	}
	if _, err := os.Stat(rest[0]); !errors.Is(err, fs.ErrNotExist) {
		return 0, fmt.Errorf("%s is there already; give another name, so that nothing of yours is overwritten", rest[0])
	}
	settings, err := source.settings()
	if err != nil {
		return 0, err
	}
	var birds []record.Bird
	if len(rest) == 2 {
		d, _, err := source.one(ctx, w, rest[1:])
		if err != nil {
			return 0, err
		}
		settings, birds = d.Settings, d.Birds
	}
	var book bytes.Buffer
	if err := workbook.Blank(&book, settings, birds); err != nil {
		return 0, err
	}
	if err := writeFile(rest[0], book.Bytes()); err != nil {
		return 0, err
	}
	fmt.Fprintln(w.out, rest[0])
	return exitDone, nil
}

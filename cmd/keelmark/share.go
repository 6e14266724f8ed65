package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"keelmark/analysis/flocks"
	"keelmark/ingest/record"
)

// shareFolder is where shares go when nobody says otherwise: never among the records, which they would be read with.
const shareFolder = "keelmark-shares"

const shareHelp = `keelmark share SOURCE...

Writes a summary of one flock for a comparison: counts and sums by half year, and by size, sex, age and season where at least
five birds stand behind each. No ring, name, place, photograph, comment, file name or date is in it. First it shows every
number that would leave, and what stays hidden and why; nothing is written until you say so.

    keelmark share --code K7 my-flock/
    keelmark share --code K7 --out for-the-club --yes my-flock/

The summary is written twice with the same numbers, as a table (csv) and for programs (json); either is enough. Complete half
years only are shared. Keep the folder: a later share repeats the earlier numbers of a half year as they were, because the
difference would tell of the birds that were corrected in between. For the same reason keep one code.

    --code C          your code, of letters, digits and hyphens, that tells nobody who you are (default: code in flock.toml)
    --out DIR         where to write, and where the earlier share lies (default ` + shareFolder + `)
    --yes             write without asking

` + sourceHelp

func shareVerb() verb {
	return verb{"share", "an anonymous summary of a flock, shown before it is written", shareHelp, runShare}
}

func runShare(ctx context.Context, w world, args []string) (int, error) {
	set := flags("share")
	var source sourceFlags
	source.add(set)
	code := set.String("code", "", "")
	out := set.String("out", shareFolder, "")
	yes := set.Bool("yes", false, "")
	rest, err := parse(w, set, shareHelp, args)
	if err != nil {
		return 0, err
	}
	read, today, err := source.load(ctx, w, rest)
	if err != nil {
		return 0, err
	}
	if len(read) != 1 {
		return 0, usage("share: these sources hold %d flocks; share one at a time, each under its own code", len(read))
	}
	d := read[0]
	if *code == "" {
		*code = d.Settings.Flock.Code
	}
	if *code == "" {
		return 0, usage("share: choose a code that tells nobody who you are: --code K7, or code = \"K7\" under [flock] in flock.toml")
	}
	if err := checkCode(*code, d); err != nil {
		return 0, err
	}
	base := filepath.Join(*out, "keelmark-share-"+*code)
	earlier, err := earlierShare(base)
	if err != nil {
		return 0, err
	}
	c, err := contextOf(d, today)
	if err != nil {
		return 0, err
	}
	c.Settings.Flock.Code = *code
	whole, err := flocks.Summarise(ctx, c, d)
	if err != nil {
		return 0, err
	}
	released := flocks.Release(whole, today, earlier)
	printShare(w, released, flocks.Account(whole, released, today, earlier), whole.Doubts)
	if len(released.Total) == 0 {
		fmt.Fprintln(w.out, "\nThere is nothing to share yet, and nothing was written.")
		return exitDone, nil
	}
	if ok, err := agreed(ctx, w, *yes, base); err != nil || !ok {
		return exitDone, err
	}
	table, err := released.CSV()
	if err != nil {
		return 0, err
	}
	object, err := released.JSON()
	if err != nil {
		return 0, err
	}
	for _, f := range []struct {
		path string
		data []byte
	}{{base + ".csv", table}, {base + ".json", object}} {
		if err := writeFile(f.path, f.data); err != nil {
			return 0, err
		}
		fmt.Fprintln(w.out, f.path)
	}
	return exitDone, nil
}

// checkCode refuses a code that would tell whose flock it is.
func checkCode(code string, d *record.Dataset) error {
	if err := flocks.CheckCode(code); err != nil {
		return usage("share: %v", err)
	}
	telling := []string{d.Settings.Flock.Name, d.Name}
	for _, b := range d.Birds {
		telling = append(telling, b.ID, b.Ring, b.Name)
		telling = append(telling, b.Aliases...)
	}
	if slices.ContainsFunc(telling, func(s string) bool { return strings.EqualFold(s, code) && code != d.Settings.Flock.Code }) {
		return usage("share: the code %s is the name of a bird or of the flock; choose one that tells nobody who you are", code)
	}
	return nil
}

// earlierShare is the share that was written to the same place under the same code; nil where there is none.
func earlierShare(base string) (*flocks.Summary, error) {
	for _, ext := range []string{".json", ".csv"} {
		data, err := os.ReadFile(base + ext)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		s, err := flocks.Read(filepath.Base(base+ext), data)
		if err != nil {
			return nil, fmt.Errorf("the earlier share cannot be read, and without it a new one could tell of birds that were corrected since: %w; bring back the file as it was shared", err)
		}
		return &s, nil
	}
	return nil, nil
}

func printShare(w world, s flocks.Summary, withheld []flocks.Withheld, doubts int) {
	fmt.Fprintf(w.out, "This is everything that would leave, under the code %s:\n", s.Code)
	fmt.Fprintf(w.out, "  the code, the version of the form, the number of birds (%d, the most behind one total), a checksum, and these numbers:\n", s.Birds)
	for _, t := range s.Contents() {
		if len(t.Rows) > 0 {
			fmt.Fprintf(w.out, "\n%s\n%s\n", t.Caption, textTable(t))
		}
	}
	fmt.Fprintln(w.out)
	for _, m := range flocks.Measures() {
		if slices.ContainsFunc(s.Total, func(c flocks.Cell) bool { return c.Measure == m }) {
			printWrapped(w.out, "  "+string(m)+": ", m.Counts())
		}
	}
	fmt.Fprintln(w.out)
	printWrapped(w.out, "", "Not in it: rings, names of birds, people and places, breeds, photographs, comments, file names, days.")
	if slices.ContainsFunc(s.Total, func(c flocks.Cell) bool { return c.Measure == flocks.Weight }) {
		printWrapped(w.out, "", "The scale of weight says whose published weights were used, which can tell the country.")
	}
	if doubts > 0 {
		printWrapped(w.out, "", fmt.Sprintf("%s open or refused in the records: what is in doubt is in no sum. keelmark check --ask settles them; settle them before you share.", count(doubts, "cell is", "cells are")))
	}
	if len(withheld) > 0 {
		fmt.Fprintln(w.out, "\nHidden, or shared in part:")
		last := ""
		for _, h := range withheld {
			line := h.Key.String() + ": " + h.Why
			if line != last {
				printWrapped(w.out, "  ", line)
			}
			last = line
		}
	}
}

// agreed asks on a terminal whether to write.
func agreed(ctx context.Context, w world, yes bool, base string) (bool, error) {
	if yes {
		fmt.Fprintln(w.out)
		return true, nil
	}
	if !isTerminal(w.in) {
		return false, usage("share: nothing was written; look through the numbers above, then say --yes")
	}
	fmt.Fprintf(w.out, "\nWrite this to %s.csv and .json? Type yes: ", base)
	line := make(chan string, 1)
	go func() {
		text, _ := bufio.NewReader(w.in).ReadString('\n') // what was typed before an end counts
		line <- text
	}()
	select {
	case <-ctx.Done():
		return false, ctx.Err()
	case text := <-line:
		if strings.EqualFold(strings.TrimSpace(text), "yes") {
			return true, nil
		}
		fmt.Fprintln(w.out, "Nothing was written.")
		return false, nil
	}
}

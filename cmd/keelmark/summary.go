package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

// shownAtMost is how many questions, rejects or confirmations are printed before the rest is counted.
const shownAtMost = 12

// printSummaries tells what became of every file and every cell. Flocks that a column splits share their files, which
// are told of once, before the flocks.
func printSummaries(w io.Writer, flocks []*record.Dataset, all bool) {
	for i := 0; i < len(flocks); {
		j := i + 1
		for j < len(flocks) && slices.Equal(names(flocks[i].Files), names(flocks[j].Files)) {
			j++
		}
		if i > 0 {
			fmt.Fprintln(w)
		}
		if j == i+1 {
			fmt.Fprintf(w, "%s\n\n", flocks[i].Name)
		}
		printFiles(w, flocks[i:j])
		for _, d := range flocks[i:j] {
			if j > i+1 {
				fmt.Fprintf(w, "\n%s\n", d.Name)
			}
			printFlock(w, d, all)
		}
		printLedger(w, flocks[i:j])
		i = j
	}
}

func names(files []record.File) []string {
	var out []string
	for _, f := range files {
		out = append(out, f.Name+f.Hash)
	}
	return out
}

// printFiles tells what became of the files that flocks share.
func printFiles(w io.Writer, flocks []*record.Dataset) {
	for _, f := range flocks[0].Files {
		switch f.Outcome {
		case record.Imported:
			fmt.Fprintf(w, "  %s: read %s\n", f.Name, contents(flocks, f.Name))
		case record.Nothing:
			fmt.Fprintf(w, "  %s: %s\n", f.Name, plainReason(f))
		case record.Refused:
			fmt.Fprintf(w, "  %s: refused; %s\n", f.Name, f.Reason)
		}
		for _, note := range f.Notes {
			fmt.Fprintf(w, "      %s\n", note)
		}
	}
}

// plainReason says why a file gave no records, without naming the file again.
func plainReason(f record.File) string {
	if reason, ok := strings.CutPrefix(f.Reason, f.Name+" "); ok {
		return reason
	}
	return "no records; " + strings.TrimPrefix(f.Reason, f.Name+": ")
}

// printFlock tells of one flock: how much it holds, what is asked, refused and set aside.
func printFlock(w io.Writer, d *record.Dataset, all bool) {
	fmt.Fprintf(w, "\n%s\n", extent(d))
	limit := shownAtMost
	if all {
		limit = len(d.Questions) + len(d.Rejects) + len(d.Observations)
	}
	printBirds(w, d.Birds, all)
	printSpellings(w, d.Birds, limit)
	printQuestions(w, d, limit)
	printFlagged(w, d, limit)
	printRejects(w, d.Rejects, limit)
	printAsides(w, d.Asides)
}

// contents counts the records of one file: "412 weights, 40 condition scores, 3 treatments".
func contents(flocks []*record.Dataset, file string) string {
	traits, events, birds := map[record.Trait]int{}, map[record.EventKind]int{}, 0
	var kinds []record.EventKind
	for _, d := range flocks {
		for _, o := range d.Observations {
			if o.At.File == file {
				traits[o.Trait]++
			}
		}
		for _, e := range d.Events {
			if e.At.File == file {
				if events[e.Kind] == 0 {
					kinds = append(kinds, e.Kind)
				}
				events[e.Kind]++
			}
		}
		for _, b := range d.Birds {
			if slices.ContainsFunc(b.At, func(r record.Ref) bool { return r.File == file }) {
				birds++
			}
		}
	}
	var parts []string
	for _, t := range record.Traits() {
		if n := traits[t.Trait]; n > 0 {
			parts = append(parts, traitCount(t.Trait, n))
		}
	}
	for _, k := range kinds {
		parts = append(parts, eventCount(k, events[k]))
	}
	if len(parts) == 0 {
		return count(birds, "bird", "birds") + " of a register"
	}
	return strings.Join(parts, ", ")
}

func traitCount(t record.Trait, n int) string {
	switch t {
	case record.Weight:
		return count(n, "weight", "weights")
	case record.Parasite:
		return count(n, "look for parasites", "looks for parasites")
	case record.EggCount:
		return count(n, "egg count", "egg counts")
	case record.WormEggs:
		return count(n, "worm egg count", "worm egg counts")
	}
	spec, _ := t.Lookup()
	return count(n, spec.Label+" score", spec.Label+" scores")
}

func eventCount(k record.EventKind, n int) string {
	switch k {
	case record.Treated:
		return count(n, "treatment", "treatments")
	case record.Checked:
		return count(n, "check of a pen or the flock", "checks of a pen or the flock")
	case record.Died:
		return count(n, "death", "deaths")
	case record.Departed:
		return count(n, "departure", "departures")
	case record.Set:
		return count(n, "setting of eggs", "settings of eggs")
	}
	return fmt.Sprintf("%d × %s", n, k)
}

// extent counts birds and records and names the first and last date.
func extent(d *record.Dataset) string {
	n := len(d.Observations) + len(d.Events)
	s := fmt.Sprintf("%s, %s", count(len(d.Birds), "bird", "birds"), count(n, "record", "records"))
	var first, last record.Day
	seen := false
	see := func(on record.Date) {
		if !on.Known() {
			return
		}
		if !seen || on.First < first {
			first = on.First
		}
		if !seen || on.Last > last {
			last = on.Last
		}
		seen = true
	}
	for _, o := range d.Observations {
		see(o.On)
	}
	for _, e := range d.Events {
		see(e.On)
	}
	if seen {
		s += fmt.Sprintf(" from %s to %s", first, last)
	}
	return s + "."
}

// printBirds names the birds, so that one that is none ("1st wk") is seen at once.
func printBirds(w io.Writer, birds []record.Bird, all bool) {
	if len(birds) == 0 {
		return
	}
	var labels []string
	for _, b := range birds {
		labels = append(labels, b.Label())
	}
	line := "Birds: "
	if more := len(labels) - shownAtMost; more > 0 && !all {
		line += fmt.Sprintf("%s, and %d more.", strings.Join(labels[:shownAtMost], ", "), more)
	} else {
		line += strings.Join(labels, ", ") + "."
	}
	fmt.Fprintln(w, line)
}

// printSpellings tells which spellings were taken for one bird.
func printSpellings(w io.Writer, birds []record.Bird, limit int) {
	var lines []string
	for _, b := range birds {
		if len(b.Aliases) > 0 {
			lines = append(lines, fmt.Sprintf("%s, also written %s", b.Label(), strings.Join(b.Aliases, ", ")))
		}
	}
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(w, "\nRead as one bird each:\n")
	for _, l := range lines[:min(limit, len(lines))] {
		fmt.Fprintf(w, "  %s\n", l)
	}
	printRest(w, len(lines)-limit)
}

// printQuestions shows the questions as the talk puts them: in its order, with its letters.
func printQuestions(w io.Writer, d *record.Dataset, limit int) {
	flock := []*record.Dataset{d}
	questions := openQuestions(flock)
	if len(questions) == 0 {
		return
	}
	fmt.Fprintf(w, "\nTo ask: %s%s. What is in doubt stays out of curves and forecasts until then.\n",
		count(len(questions), "question", "questions"), aboutCells(flock))
	for i, q := range questions[:min(limit, len(questions))] {
		fmt.Fprintf(w, "  %d. %s\n", i+1, q.Message)
		if len(q.More) > 0 {
			fmt.Fprintf(w, "     One answer settles %s: %s\n", count(1+len(q.More), "cell", "cells"), places(q))
		}
		o := offersFor(q, flock)
		for j, r := range o.readings {
			fmt.Fprintf(w, "     %s) %s\n", letter(j), r.Label)
		}
		if hint := o.own.hint(); hint != "" && len(o.readings) == 0 {
			fmt.Fprintf(w, "     write %s\n", hint)
		}
	}
	printRest(w, len(questions)-limit)
}

// aboutCells says how many cells are in question, as the account of all cells counts them: those that a question names and
// those that wait with them. Flocks that a column splits share one account, which stands below them.
func aboutCells(flocks []*record.Dataset) string {
	n := 0
	for _, d := range flocks {
		for i := range d.Ledgers {
			n += d.Ledgers[i].Tally()[record.AsQuestion]
		}
	}
	if n == 0 {
		return ""
	}
	return " about " + count(n, "cell", "cells")
}

// places names the first cells of a question.
func places(q record.Question) string {
	names := []string{cmp.Or(q.At.Cell(), q.At.Key())}
	for _, r := range q.More {
		if len(names) == 6 {
			return strings.Join(names, ", ") + " ..."
		}
		name := cmp.Or(r.Cell(), r.Key())
		if r.File != q.At.File || r.Sheet != q.At.Sheet {
			name = r.Key()
		}
		names = append(names, name)
	}
	return strings.Join(names, ", ")
}

func printFlagged(w io.Writer, d *record.Dataset, limit int) {
	asked := map[record.Ref]bool{}
	for _, q := range d.Questions {
		asked[q.At] = true
		for _, r := range q.More {
			asked[r] = true
		}
	}
	var lines []string
	for _, o := range d.Observations {
		if o.Flagged && !asked[o.At] {
			lines = append(lines, fmt.Sprintf("%s: %q read as %s%s", o.At, o.Text, readAs(o), steps(o)))
		}
	}
	for _, e := range d.Events {
		if e.Flagged && !asked[e.At] {
			lines = append(lines, fmt.Sprintf("%s: %q read as %s", e.At, e.Text, e.Kind))
		}
	}
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(w, "\nPlease look at %s: read, but not quite as written.\n", count(len(lines), "record", "records"))
	for _, l := range lines[:min(limit, len(lines))] {
		fmt.Fprintf(w, "  %s\n", l)
	}
	printRest(w, len(lines)-limit)
}

// readAs is an observation's value in words.
func readAs(o record.Observation) string {
	unit := ""
	if spec, ok := o.Trait.Lookup(); ok && spec.Unit != "" {
		unit = " " + spec.Unit
	}
	on := ""
	if o.On.Known() {
		on = " on " + o.On.String()
	}
	switch o.Form {
	case record.Range:
		return fmt.Sprintf("%g to %g%s%s", o.Lo, o.Hi, unit, on)
	case record.MoreThan:
		return fmt.Sprintf("more than %g%s%s", o.Lo, unit, on)
	case record.LessThan:
		return fmt.Sprintf("less than %g%s%s", o.Hi, unit, on)
	case record.AtLeast:
		return fmt.Sprintf("%g%s or more%s", o.Lo, unit, on)
	case record.Present:
		if o.Value == 0 {
			return "looked, none found" + on
		}
		return "found" + on
	}
	if o.Trait == record.Weight {
		return fmt.Sprintf("%.0f%s%s", o.Value, unit, on)
	}
	return fmt.Sprintf("%g%s%s", o.Value, unit, on)
}

func steps(o record.Observation) string {
	if s := o.Detail().Steps; len(s) > 0 {
		return " (" + strings.Join(s, "; ") + ")"
	}
	return ""
}

func printRejects(w io.Writer, rejects []record.Reject, limit int) {
	if len(rejects) == 0 {
		return
	}
	fmt.Fprintf(w, "\nRefused: %s.\n", count(len(rejects), "cell", "cells"))
	for _, r := range rejects[:min(limit, len(rejects))] {
		fmt.Fprintf(w, "  %s\n", r.Message)
	}
	printRest(w, len(rejects)-limit)
}

func printAsides(w io.Writer, asides []record.Aside) {
	if len(asides) == 0 {
		return
	}
	var whys []string
	n := map[string]int{}
	for _, a := range asides {
		if n[a.Why] == 0 {
			whys = append(whys, a.Why)
		}
		n[a.Why]++
	}
	slices.Sort(whys)
	for i, why := range whys {
		whys[i] = fmt.Sprintf("%d × %s", n[why], why)
	}
	fmt.Fprintf(w, "\nSet aside, with their reason: %s.\n", strings.Join(whys, ", "))
}

func printLedger(w io.Writer, flocks []*record.Dataset) {
	var n [record.AsAside + 1]int
	for _, d := range flocks {
		for i := range d.Ledgers {
			for fate, cells := range d.Ledgers[i].Tally() {
				n[fate] += cells
			}
		}
	}
	fmt.Fprintf(w, "\nEvery cell that is not empty is accounted for: %d as records, %d as their dates, birds, headings and "+
		"notes, %d asked, %d refused, %d set aside.\n",
		n[record.AsRecord], n[record.AsContext], n[record.AsQuestion], n[record.AsReject], n[record.AsAside])
}

func printRest(w io.Writer, n int) {
	if n > 0 {
		fmt.Fprintf(w, "  ... and %d more; --all shows them\n", n)
	}
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

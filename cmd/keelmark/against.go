package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"keelmark/ingest/record"
	"keelmark/notebooks/nbformat"
	"keelmark/notebooks/render"
)

// sentencesOf reads the sentences of an executed report.
func sentencesOf(path string) ([]render.Claim, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("cannot read the report to compare with: %w", err)
	}
	nb, err := nbformat.Parse(filepath.Base(path), data)
	if err != nil {
		return nil, err
	}
	said := render.FromNotebook(nb).Blocks.Sentences()
	if len(said) == 0 {
		return nil, fmt.Errorf("%s holds no sentence of a report; name the .ipynb that keelmark report wrote", filepath.Base(path))
	}
	return said, nil
}

// change is a sentence that differs between two runs of a report; one side is nil where it is new or gone.
type change struct {
	was, now *render.Claim
}

// changes compares two runs sentence by sentence, by the name of the claim: what a reader would see is compared, the
// counts and the way it was made included; the cells are not, as they are what it rests on.
func changes(was, now []render.Claim) []change {
	before := map[string]*render.Claim{}
	for i := range was {
		before[was[i].ID] = &was[i]
	}
	var out []change
	for i := range now {
		old, ok := before[now[i].ID]
		delete(before, now[i].ID)
		if !ok || !sameSentence(*old, now[i]) {
			out = append(out, change{old, &now[i]})
		}
	}
	for i := range was {
		if before[was[i].ID] != nil {
			out = append(out, change{&was[i], nil})
		}
	}
	return out
}

func sameSentence(a, b render.Claim) bool {
	refusal := func(c render.Claim) string {
		if c.Refusal == nil {
			return ""
		}
		return c.Refusal.Needs + "\n" + c.Refusal.Next
	}
	return a.Text == b.Text && a.Stands == b.Stands && slices.Equal(a.Caveats, b.Caveats) && refusal(a) == refusal(b) && a.N == b.N && a.Method == b.Method && a.Source == b.Source
}

// printChanges lists what changed, and which cells read otherwise.
func printChanges(w io.Writer, was, now []render.Claim) {
	found := changes(was, now)
	changed, fresh, gone := 0, 0, 0
	for _, c := range found {
		switch {
		case c.was == nil:
			fresh++
		case c.now == nil:
			gone++
		default:
			changed++
		}
	}
	fmt.Fprintf(w, "\nBeside the earlier report: %s changed, %d new, %d gone, of %d.\n", count(changed, "sentence", "sentences"), fresh, gone, len(now))
	cells := changedCells(was, now)
	if len(cells) > 0 {
		fmt.Fprintln(w, "Cells that read otherwise:")
	}
	for _, c := range cells {
		fmt.Fprintf(w, "    %s\n", c)
	}
	for _, c := range found {
		switch {
		case c.was == nil:
			fmt.Fprintf(w, "\nnew: %s\n", c.now.ID)
			printWrapped(w, "    now: ", c.now.Text)
		case c.now == nil:
			fmt.Fprintf(w, "\ngone: %s\n", c.was.ID)
			printWrapped(w, "    was: ", c.was.Text)
		case c.was.Text == c.now.Text:
			fmt.Fprintf(w, "\nthe same words, with other notes: %s\n", c.now.ID)
			printWrapped(w, "    now: ", strings.Join(append([]string{c.now.Text}, c.now.Caveats...), "; "))
		default:
			fmt.Fprintf(w, "\nchanged: %s\n", c.now.ID)
			printWrapped(w, "    was: ", c.was.Text)
			printWrapped(w, "    now: ", c.now.Text)
		}
	}
}

// changedCells lists the cells under the sentences whose text differs, or that only one run read.
func changedCells(was, now []render.Claim) []string {
	texts := func(said []render.Claim) map[record.Ref]string {
		out := map[record.Ref]string{}
		for _, c := range said {
			for _, e := range c.Cells {
				out[e.At] = e.Text
			}
		}
		return out
	}
	before, after := texts(was), texts(now)
	var refs []record.Ref
	for at, text := range before {
		if new, ok := after[at]; !ok || new != text {
			refs = append(refs, at)
		}
	}
	for at := range after {
		if _, ok := before[at]; !ok {
			refs = append(refs, at)
		}
	}
	slices.SortFunc(refs, record.Ref.Compare)
	var out []string
	for _, at := range refs {
		old, had := before[at]
		new, has := after[at]
		switch {
		case had && has:
			out = append(out, fmt.Sprintf("%s: %q, before %q", at.Key(), new, old))
		case has:
			out = append(out, fmt.Sprintf("%s: %q, not rested on before", at.Key(), new))
		default:
			out = append(out, fmt.Sprintf("%s: %q before, no longer rested on", at.Key(), old))
		}
	}
	return out
}

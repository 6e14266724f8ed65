package main

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/catalog"
	"keelmark/datasets"
	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/notebooks/render"
	"keelmark/notebooks/reports"
	"keelmark/notebooks/runner"
)

// retype puts a number or a text into one cell of a workbook that holds something, as a keeper would by typing.
func retype(t *testing.T, path string, sheet int, cell, to string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	old := regexp.MustCompile(`<c r="` + cell + `"[^>]*>.*?</c>`)
	value := `<c r="` + cell + `" t="inlineStr"><is><t>` + to + `</t></is></c>`
	if _, err := strconv.ParseFloat(to, 64); err == nil {
		value = `<c r="` + cell + `"><v>` + to + `</v></c>`
	}
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	done := false
	for _, f := range in.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == fmt.Sprintf("xl/worksheets/sheet%d.xml", sheet) {
			done = old.Match(content)
			content = old.ReplaceAllLiteral(content, []byte(value))
		}
		w, err := out.Create(f.Name)
		if err == nil {
			_, err = w.Write(content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := out.Close(); err != nil || !done {
		t.Fatalf("%s holds nothing in %s of its sheet %d (%v)", path, cell, sheet, err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// sentence is all that a reader sees of a claim, with what it rests on.
type sentence struct {
	text  string
	cells []record.Ref
	pool  []string
}

func everything(t *testing.T, dir string) (map[string]sentence, *record.Dataset) {
	t.Helper()
	flocks, err := readFlocks(context.Background(), world{strings.NewReader(""), io.Discard, io.Discard}, []string{dir}, ingest.Options{Today: datasets.DemoToday()})
	if err != nil || len(flocks) != 1 {
		t.Fatalf("%d flocks, %v", len(flocks), err)
	}
	d := flocks[0]
	c, err := contextOf(d, datasets.DemoToday())
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]sentence{}
	for _, s := range catalog.All() {
		var options map[string]any
		switch s.Name {
		case "decision": // it says what most of the others say
			options = map[string]any{"purpose": "keep-or-part"}
		case "treatment", "season", "plan", "slip": // of these it says a part, or nothing
		default:
			continue
		}
		r, err := s.Run(context.Background(), c, d, options)
		if err != nil {
			t.Fatal(err)
		}
		for _, claim := range r.Claims() {
			key := s.Name + ":" + claim.ID
			if _, twice := out[key]; twice {
				t.Errorf("%s stands twice", key)
			}
			out[key] = sentence{textOf(claim), claim.RestsOn, claim.Pool}
		}
	}
	return out, d
}

func textOf(c analysis.Claim) string {
	text := fmt.Sprintln(c.Text, c.Stands, c.Caveats, c.N, c.Method, c.Source)
	if c.Refusal != nil {
		text += c.Refusal.Needs + "\n" + c.Refusal.Next
	}
	return text
}

// leansOn reports whether a claim rests on a cell, itself or through the pools that it names.
func leansOn(all map[string]sentence, key string, at record.Ref, depth int) bool {
	c, ok := all[key]
	if !ok || depth > 4 {
		return false
	}
	if slices.Contains(c.cells, at) {
		return true
	}
	name, _, _ := strings.Cut(key, ":")
	return slices.ContainsFunc(c.pool, func(p string) bool { return leansOn(all, name+":"+p, at, depth+1) })
}

// One cell of the demo's workbook is typed anew: every sentence that changed rests on it, directly or through a pool that
// it names, and no other sentence changed a byte.
func TestASentenceChangesOnlyWithItsCells(t *testing.T) {
	dir := demo(t)
	before, d := everything(t, dir)
	// The last weighing and the last look of a bird that is there, in the latest workbook.
	pick := func(is func(record.Observation) bool) record.Observation {
		var last record.Observation
		for _, o := range d.Observations {
			if o.At.File == "book-2025.xlsx" && o.Bird != "" && !o.Flagged && is(o) && o.On.First >= last.On.First {
				last = o
			}
		}
		return last
	}
	weight := pick(func(o record.Observation) bool { return o.Trait == record.Weight })
	lice := pick(func(o record.Observation) bool { return o.Parasite == record.Lice && o.Value == 0 })
	sheets := sheetNumbers(t, filepath.Join(dir, "book-2025.xlsx"))
	original, err := os.ReadFile(filepath.Join(dir, "book-2025.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	for what, c := range map[string]struct {
		of record.Observation
		to string
	}{
		"a weighing":      {weight, fmt.Sprintf("%.0f g", 0.97*weight.Value)},
		"a look for lice": {lice, "2"},
	} {
		path := filepath.Join(dir, "book-2025.xlsx")
		if err := os.WriteFile(path, original, 0o644); err != nil {
			t.Fatal(err)
		}
		retype(t, path, sheets[c.of.At.Sheet], c.of.At.Cell(), c.to)
		after, _ := everything(t, dir)
		changed, loose := 0, 0
		for key, now := range after {
			was, ok := before[key]
			if ok && was.text == now.text {
				continue
			}
			changed++
			if !leansOn(after, key, c.of.At, 0) && !leansOn(before, key, c.of.At, 0) {
				if loose++; loose > 3 {
					continue
				}
				t.Errorf("%s (%s, %s to %s): %s changed and does not rest on it\n  was %s  now %s", what, c.of.At.Key(), c.of.Text, c.to, key, was.text, now.text)
			}
		}
		for key := range before {
			if _, still := after[key]; !still && !leansOn(before, key, c.of.At, 0) {
				t.Errorf("%s: %s is gone and did not rest on it", what, key)
			}
		}
		if loose > 3 {
			t.Errorf("%s: %d more", what, loose-3)
		}
		if changed == 0 {
			t.Errorf("%s: %s from %q to %s changed nothing", what, c.of.At.Key(), c.of.Text, c.to)
		}
		t.Logf("%s: %d of %d claims changed", what, changed, len(after))
	}
}

// sheetNumbers are the files of a workbook's sheets, by name.
func sheetNumbers(t *testing.T, path string) map[string]int {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	f, err := z.Open("xl/workbook.xml")
	if err != nil {
		t.Fatal(err)
	}
	content, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]int{}
	for i, m := range regexp.MustCompile(`<sheet [^>]*name="([^"]*)"`).FindAllStringSubmatch(string(content), -1) {
		out[m[1]] = i + 1
	}
	return out
}

func TestAReportTellsWhatChangedAgainstAnEarlierOne(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, "flock.csv", strings.ReplaceAll(sussex, "%s", ""))
	args := func(more ...string) []string {
		return append(append([]string{"report", "entry", "--today", "2025-11-20", "--show", "2025-12-13", "--country", "US", "--out", dir}, more...), path)
	}
	if code, out, errOut := keelmark(t, args()...); code != exitDone {
		t.Fatalf("exit %d\n%s%s", code, out, errOut)
	}
	old := filepath.Join(dir, "flock-entry.ipynb")
	if _, out, _ := keelmark(t, args("--against", old)...); !strings.Contains(out, "0 sentences changed, 0 new, 0 gone") {
		t.Errorf("the same records:\n%s", out)
	}
	// The last weighing is typed anew, and the report takes the place of the one that it is compared with.
	write(t, dir, "flock.csv", strings.ReplaceAll(strings.ReplaceAll(sussex, "%s", ""), "2930", "2790"))
	_, out, _ := keelmark(t, args("--against", old)...)
	for _, want := range []string{`flock.csv!H4: "2790", before "2930"`, "changed: forecast.band/R1", "was: ", "now: "} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if strings.Contains(out, "parasite.last") {
		t.Errorf("a sentence on lice changed with a weight:\n%s", out)
	}
	code, _, errOut := keelmark(t, args("--against", path)...)
	if code != exitFailed || !strings.Contains(errOut, "flock.csv") {
		t.Errorf("against no notebook: exit %d, %s", code, errOut)
	}
}

// Every sentence of a report opens to cells, or names a pooled sentence of the same report that does; on paper each
// has its note. What rests on no cell at all says that there is none.
func TestEverySentenceOpensToItsCells(t *testing.T) {
	flocks, err := readFlocks(context.Background(), world{strings.NewReader(""), io.Discard, io.Discard}, []string{demo(t)}, ingest.Options{Today: datasets.DemoToday()})
	if err != nil {
		t.Fatal(err)
	}
	for name, part := range map[string]string{"breeding": "bird=W25-01"} { // a part has sentences of each kind
		nb, err := reports.Get(name)
		if err != nil {
			t.Fatal(err)
		}
		set, err := runner.ParseSet(part)
		if err != nil {
			t.Fatal(err)
		}
		made, err := makeReport(context.Background(), name, nb, catalog.All(), flocks[0], datasets.DemoToday(), []runner.Set{set})
		if err != nil {
			t.Fatal(err)
		}
		var html bytes.Buffer
		if err := made.document.HTML(&html, made.paper); err != nil {
			t.Fatal(err)
		}
		said := made.document.Blocks.Sentences()
		known := map[string]bool{}
		for _, c := range said {
			known[c.ID] = true
		}
		for _, c := range said {
			if len(c.Cells)+len(c.Pool) == 0 && (c.Refusal == nil || !strings.HasPrefix(c.Text, "Cannot say")) {
				t.Errorf("%s: %s rests on nothing: %s", name, c.ID, c.Text)
			}
			for _, p := range c.Pool {
				if !known[p] {
					t.Errorf("%s: %s leans on %s, which the report does not show", name, c.ID, p)
				}
			}
		}
		if n := strings.Count(html.String(), "<details"); n < len(said) || len(said) < 15 {
			t.Errorf("%s: %d expansions of %d sentences", name, n, len(said))
		}
		open := 0 // sentences for which no notes have been printed yet
		var walk func(render.Blocks)
		walk = func(list render.Blocks) {
			for _, b := range list {
				switch b := b.(type) {
				case render.Claims:
					open += len(b.Claims)
				case render.Notes:
					open = 0
				case render.Group:
					walk(b.Blocks)
				case render.Columns:
					for _, c := range b.Columns {
						walk(c)
					}
				}
			}
		}
		if walk(made.document.Blocks); open > 0 {
			t.Errorf("%s: %d sentences stand behind the last notes", name, open)
		}
	}
}

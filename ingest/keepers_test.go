package ingest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// The workbooks in testdata/keepers are invented, each after one keeper's habit, with an answer key beside it:
// what is true (records), which cells need more than reading (issues), and what is to be done about them.

type key struct {
	Files  []string
	Expect string
	SameAs string `json:"same_as"`
	Birds  []struct {
		ID, Ring, Name string
		Aliases        []string
	}
	Records []keyRecord
	Issues  []keyIssue
}

type keyIssue struct {
	Sheet  string
	Row    *int32
	Cell   string
	Class  string
	Action string
	Stage  string // "outlier": a later check may find it
}

type keyRecord struct {
	Sheet         string
	Row           int32
	Cell          string
	Bird          *string
	Date          *string
	DatePrecision string `json:"date_precision"`
	Kind          string
	Value         any
	Tol           float64
	Scale         *string
	Parasite      string
	Form          string
	Lo, Hi        *float64
	Product       string
}

// today is after the last genuine date in any of the files.
func today() record.Day {
	d, err := record.ParseDay("2026-01-15")
	if err != nil {
		panic(err)
	}
	return d
}

func keys(t *testing.T) map[string]key {
	t.Helper()
	paths, err := filepath.Glob("testdata/keepers/*.key.json")
	if err != nil || len(paths) == 0 {
		t.Fatal("no keys found", err)
	}
	out := map[string]key{}
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		var k key
		if err := json.Unmarshal(data, &k); err != nil {
			t.Fatal(p, err)
		}
		for _, f := range k.Files {
			out[f] = k
		}
	}
	return out
}

func load(t *testing.T, paths ...string) []*record.Dataset {
	t.Helper()
	sets, err := Load(context.Background(), paths, Options{Today: today()})
	if err != nil {
		t.Fatal(err)
	}
	return sets
}

// jsonLine is one line of WriteJSONL, as a program that reads it would see it.
type jsonLine struct {
	Type, Outcome, Reason, Sheet, Cell, Bird, Ring, Name, Date, Kind, Scale, Parasite, Form, Product, Class, Message, Raw string
	Row                                                                                                                   int32
	DatePrecision                                                                                                         string `json:"date_precision"`
	Value                                                                                                                 any
	Lo, Hi                                                                                                                *float64
	Flagged                                                                                                               bool
}

func printed(t *testing.T, sets []*record.Dataset) []jsonLine {
	t.Helper()
	var buf bytes.Buffer
	if err := WriteJSONL(&buf, sets); err != nil {
		t.Fatal(err)
	}
	var out []jsonLine
	dec := json.NewDecoder(&buf)
	for dec.More() {
		var l jsonLine
		if err := dec.Decode(&l); err != nil {
			t.Fatal(err)
		}
		out = append(out, l)
	}
	return out
}

// fold makes names comparable as the keys mean them: case, spaces, hyphens and width do not count.
func fold(s string) string {
	return strings.NewReplacer(" ", "", "-", "").Replace(strings.ReplaceAll(parse.Fold(s), "\u200b", ""))
}

func (k keyRecord) matches(l jsonLine, names []string) bool {
	if l.Kind != k.Kind {
		return false
	}
	if k.Bird != nil && *k.Bird != "*" && !slices.ContainsFunc([]string{l.Bird, l.Ring, l.Name}, func(s string) bool { return s != "" && slices.Contains(names, fold(s)) }) {
		return false
	}
	if k.Date != nil {
		if k.DatePrecision == "day" && l.Date != *k.Date || !strings.HasPrefix(l.Date, (*k.Date)[:7]) || l.DatePrecision != k.DatePrecision && !l.Flagged {
			return false
		}
	}
	same := func(a, b any, tol float64) bool {
		x, xok := a.(float64)
		y, yok := b.(float64)
		if xok && yok {
			return math.Abs(x-y) <= tol
		}
		return fold(fmt.Sprint(a)) == fold(fmt.Sprint(b))
	}
	bound := func(want, got *float64) bool { return want == nil || got != nil && *want == *got }
	switch k.Kind {
	case "weight":
		return same(l.Value, k.Value, max(0.6, k.Tol))
	case "condition":
		return same(l.Value, k.Value, 1e-9) && (k.Scale == nil || l.Scale == *k.Scale)
	case "parasite":
		if l.Parasite != k.Parasite || l.Form != k.Form {
			return false
		}
		return (k.Value == nil || same(l.Value, k.Value, 1e-9)) && bound(k.Lo, l.Lo) && bound(k.Hi, l.Hi)
	case "treatment":
		return strings.Contains(parse.Fold(l.Product), strings.Fields(parse.Fold(k.Product))[0])
	}
	return true
}

func TestKeepersSheets(t *testing.T) {
	all := keys(t)
	for _, file := range slices.Sorted(maps.Keys(all)) {
		path := filepath.Join("testdata/keepers", file)
		if _, err := os.Stat(path); err != nil {
			continue // the bomb and the protected file are tested where files are opened
		}
		k := all[file]
		if k.SameAs != "" {
			data, err := os.ReadFile(filepath.Join("testdata/keepers", k.SameAs))
			if err != nil {
				t.Fatal(err)
			}
			if err := json.Unmarshal(data, &k); err != nil {
				t.Fatal(err)
			}
		}
		t.Run(file, func(t *testing.T) { checkKeeper(t, path, k) })
	}
}

func checkKeeper(t *testing.T, path string, k key) {
	got := printed(t, load(t, path))
	if len(got) == 0 || got[0].Type != "file" {
		t.Fatal("no line about the file")
	}
	switch outcome := got[0].Outcome; {
	case outcome == "refused":
		if k.Expect == "import" && !strings.HasSuffix(path, ".xls") || k.Expect == "nothing_to_import" {
			t.Fatalf("refused: %s", got[0].Reason)
		}
		if got[0].Reason == "" {
			t.Error("refused without a reason")
		}
		return
	case outcome == "nothing":
		if len(k.Records) > 0 || k.Expect == "refuse" {
			t.Fatalf("nothing read: %s", got[0].Reason)
		}
	case k.Expect == "refuse" || k.Expect == "nothing_to_import":
		t.Fatalf("outcome %s, expected %s", outcome, k.Expect)
	}
	names := map[string][]string{}
	for _, b := range k.Birds {
		for _, n := range append([]string{b.ID, b.Ring, b.Name}, b.Aliases...) {
			if n != "" {
				names[b.ID] = append(names[b.ID], fold(n))
			}
		}
	}
	text := !strings.HasSuffix(path, ".xlsx") && !strings.HasSuffix(path, ".ods")
	place := func(s string, row int32) string {
		if text || s == "*" {
			s = ""
		}
		return fmt.Sprintf("%s!%d", s, row)
	}
	anySheet := slices.ContainsFunc(k.Issues, func(e keyIssue) bool { return e.Sheet == "*" })
	if anySheet {
		place = func(_ string, row int32) string { return fmt.Sprint(row) }
	}
	told, records := map[string]bool{}, []jsonLine{}
	for _, l := range got {
		switch {
		case l.Type == "issue":
			told[place(l.Sheet, l.Row)] = true
		case l.Type == "record" && slices.Contains([]string{"weight", "condition", "parasite", "treatment"}, l.Kind):
			records = append(records, l)
			if l.Flagged {
				told[place(l.Sheet, l.Row)] = true
			}
		}
	}
	used := make([]bool, len(records))
	spread, shared := map[string]map[string]bool{}, map[string]map[string]bool{}
	right := 0
	for _, want := range k.Records {
		bird := ""
		if want.Bird != nil {
			bird = *want.Bird
		}
		ids := names[bird]
		if ids == nil {
			ids = []string{fold(bird)}
		}
		best := -1
		for i, l := range records {
			if !used[i] && want.matches(l, ids) && (best < 0 || place(l.Sheet, l.Row) == place(want.Sheet, want.Row)) {
				if best = i; place(l.Sheet, l.Row) == place(want.Sheet, want.Row) {
					break
				}
			}
		}
		if best < 0 {
			t.Errorf("%s %s: %s of %s on %v is not read right (told: %v)", want.Sheet, want.Cell, want.Kind, bird, want.Date, told[place(want.Sheet, want.Row)])
			continue
		}
		used[best] = true
		right++
		if bird != "" && bird != "*" {
			add(spread, bird, records[best].Bird)
			add(shared, records[best].Bird, bird)
		}
	}
	for b, ids := range spread {
		if len(ids) > 1 {
			t.Errorf("bird %s is split over %d birds", b, len(ids))
		}
	}
	for id, birds := range shared {
		if len(birds) > 1 {
			t.Errorf("%d birds are merged into %s", len(birds), id)
		}
	}
	keyed := map[string]bool{}
	todo, caught := 0, 0
	reject, later := map[string]bool{}, map[string]bool{}
	for _, e := range k.Issues {
		if e.Row == nil {
			continue
		}
		at := place(e.Sheet, *e.Row)
		keyed[at] = true
		reject[at] = reject[at] || e.Action == "reject"
		later[at] = later[at] || e.Stage == "outlier"
		if slices.Contains([]string{"reject", "query", "flag"}, e.Action) && e.Stage != "outlier" {
			todo++
			if told[at] {
				caught++
			} else {
				t.Errorf("%s %s (%s) is not told", e.Sheet, e.Cell, e.Class)
			}
		}
	}
	for i, l := range records {
		at := place(l.Sheet, l.Row)
		if !used[i] && (reject[at] || !told[at] && !later[at]) {
			t.Errorf("%s %s: a %s of %v is recorded that the key does not know, and the keeper is not told", l.Sheet, l.Cell, l.Kind, l.Value)
		}
	}
	noise := 0
	for at := range told {
		if !keyed[at] {
			noise++
		}
	}
	if rows := len(told) + len(records); float64(noise) >= 0.03*float64(max(rows, 1)) && noise > 0 {
		t.Errorf("%d rows are told of without need", noise)
	}
	t.Logf("right %d of %d, told %d of %d", right, len(k.Records), caught, todo)
}

func add(m map[string]map[string]bool, a, b string) {
	if m[a] == nil {
		m[a] = map[string]bool{}
	}
	m[a][b] = true
}

// Every cell that holds anything has a fate, in every workbook.
func TestEveryCellHasAFate(t *testing.T) {
	paths, err := filepath.Glob("testdata/keepers/s*")
	if err != nil || len(paths) == 0 {
		t.Fatal("no files", err)
	}
	for _, path := range paths {
		if strings.HasSuffix(path, ".json") {
			continue
		}
		book, err := sheet.OpenFile(context.Background(), path, sheet.Limits{})
		if err != nil {
			continue
		}
		sets := load(t, path)
		for i := range book.Grids {
			g := &book.Grids[i]
			v := layout.Of(g)
			ledger := ledgerOf(sets[0], g.File, g.Sheet)
			if ledger == nil {
				t.Errorf("%s: no account of sheet %q", path, g.Sheet)
				continue
			}
			cells := 0
			for n := 0; n < v.Lines(); n++ {
				for f := 0; f < v.Fields(); f++ {
					r := v.Ref(n, f)
					fate := ledger.At(r.Row, r.Col)
					if v.Blank(n, f) {
						continue
					}
					cells++
					if fate == record.Blank {
						t.Errorf("%s: %q has no fate", r, v.Cell(n, f).Raw)
					}
				}
			}
			sum := 0
			for fate, n := range ledger.Tally() {
				if record.Fate(fate) != record.Blank {
					sum += n
				}
			}
			if sum != cells {
				t.Errorf("%s, sheet %q: %d cells hold something, %d have a fate", path, g.Sheet, cells, sum)
			}
		}
		checkFates(t, sets)
	}
}

func ledgerOf(d *record.Dataset, file, sheet string) *record.Ledger {
	for i := range d.Ledgers {
		if d.Ledgers[i].File == file && d.Ledgers[i].Sheet == sheet {
			return &d.Ledgers[i]
		}
	}
	return nil
}

// checkFates compares the account with the records: a cell of a record is accounted as one, a reject as one.
func checkFates(t *testing.T, sets []*record.Dataset) {
	t.Helper()
	for _, d := range sets {
		want := func(at record.Ref, what string, fates ...record.Fate) {
			if l := ledgerOf(d, at.File, at.Sheet); l != nil && !slices.Contains(fates, l.At(at.Row, at.Col)) {
				t.Errorf("%s: %s, but accounted as %s", at, what, l.At(at.Row, at.Col))
			}
		}
		open := map[record.Ref]bool{} // a cell of a diary may hold a record and a question
		for _, q := range d.Questions {
			open[q.At] = true
			for _, at := range q.More {
				open[at] = true
			}
		}
		for _, o := range d.Observations {
			if fates := []record.Fate{record.AsRecord}; open[o.At] {
				want(o.At, "a record", append(fates, record.AsQuestion)...)
			} else {
				want(o.At, "a record", fates...)
			}
		}
		for _, r := range d.Rejects {
			want(r.At, "rejected", record.AsReject)
		}
	}
}

func TestSameInputSameBytes(t *testing.T) {
	var first []byte
	for range 3 {
		var buf bytes.Buffer
		paths, _ := filepath.Glob("testdata/keepers/s0*.xlsx")
		if err := WriteJSONL(&buf, load(t, paths...)); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = buf.Bytes()
		} else if !bytes.Equal(first, buf.Bytes()) {
			t.Fatal("two runs differ")
		}
	}
}

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func neighbours(t *testing.T) string {
	t.Helper()
	return filepath.Join(filepath.Dir(demo(t)), "neighbours")
}

func compared(t *testing.T, args ...string) (code int, out, errOut string) {
	t.Helper()
	return keelmark(t, append([]string{"compare", "--today", "2025-11-24"}, args...)...)
}

// says reports whether a text holds a sentence, lines broken anywhere.
func says(text, sentence string) bool {
	return strings.Contains(strings.Join(strings.Fields(text), " "), sentence)
}

// done reports whether a comparison was made: open questions in the records do not keep it.
func done(code int) bool {
	return code == exitDone || code == exitQuestions
}

func TestFlocksAreSetSideBySide(t *testing.T) {
	dir := neighbours(t)
	code, out, errs := compared(t, dir)
	if !done(code) || errs != "" {
		t.Fatalf("exit %d: %s", code, errs)
	}
	effort, lice := strings.Index(out, "Looks a bird and month"), strings.Index(out, "Looks that found lice")
	if effort < 0 || lice < effort {
		t.Error("effort does not come first")
	}
	for _, want := range []string{"6 flocks side by side, in the order given", "different scales", "only K6 has it", "could be ranked", "does not rank"} {
		if !says(out, want) {
			t.Errorf("%q is not said:\n%s", want, out)
		}
	}
	var found []struct {
		Claims []struct{ Text string }
		Tables []struct {
			Name string
			Rows []map[string]any
		}
	}
	_, out, _ = compared(t, "--format", "json", dir)
	if err := json.Unmarshal([]byte(out), &found); err != nil || len(found) != 1 || len(found[0].Tables) != 2 || len(found[0].Claims) < 8 {
		t.Errorf("json: %v, %.200s", err, out)
	}
	if _, out, _ = compared(t, "--format", "csv", dir); !strings.HasPrefix(out, "flock,measure,scale,flock") || strings.Count(out, "\n") < 20 {
		t.Errorf("csv: %.300s", out)
	}
	for _, format := range []string{"html", "pdf"} {
		to := t.TempDir()
		code, out, errs := compared(t, "--format", format, "--out", to, dir)
		if !done(code) || strings.TrimSpace(out) != filepath.Join(to, "flocks."+format) {
			t.Errorf("%s: exit %d, %s%s", format, code, out, errs)
		}
	}
}

func TestSharesCompareLikeTheirFlocks(t *testing.T) {
	dir := neighbours(t)
	shares := t.TempDir()
	for i := range 6 {
		if code, _, errs := keelmark(t, "share", "--today", "2025-11-24", "--yes", "--out", shares, filepath.Join(dir, fmt.Sprintf("k%d", i+1))); code != exitDone {
			t.Fatalf("k%d: %s", i+1, errs)
		}
	}
	rates := func(args ...string) map[string]string {
		t.Helper()
		code, out, errs := compared(t, append([]string{"--format", "csv", "--to", "2025-H1"}, args...)...)
		if !done(code) {
			t.Fatalf("exit %d: %s", code, errs)
		}
		all := map[string]string{}
		for _, line := range strings.Split(out, "\n")[1:] {
			if cells := strings.Split(line, ","); len(cells) > 6 {
				all[cells[1]+cells[2]+cells[3]] = cells[5] + " " + cells[6]
			}
		}
		return all
	}
	rows := rates(dir)
	for name, args := range map[string][]string{"shares": {shares}, "both": {filepath.Join(dir, "k1"), filepath.Join(dir, "k2"), filepath.Join(shares, "keelmark-share-K3.csv"),
		filepath.Join(shares, "keelmark-share-K4.json"), filepath.Join(dir, "k5"), filepath.Join(dir, "k6")}} {
		got := rates(args...)
		if len(got) < 20 {
			t.Errorf("%s: %d numbers", name, len(got))
		}
		for key, want := range rows {
			if got[key] != want && got[key] != "" {
				t.Errorf("%s: %s is %s, from rows %s", name, key, got[key], want)
			}
		}
	}
	_, out, _ := compared(t, shares)
	if !says(out, "6 flocks of 6 came as summaries") {
		t.Errorf("nothing says that small groups are hidden:\n%s", out)
	}
	// Fewer than five flocks, not all of them held as records: no number of them is printed.
	_, out, _ = compared(t, filepath.Join(dir, "k1"), filepath.Join(shares, "keelmark-share-K2.json"), filepath.Join(shares, "keelmark-share-K3.json"))
	if !says(out, "groups of fewer than 5 flocks are not printed") || strings.Contains(out, "points from the others") {
		t.Errorf("three flocks, two of them shares:\n%s", out)
	}
}

func TestABadFlockIsLeftOutAndTheRestGoOn(t *testing.T) {
	dir := neighbours(t)
	bad := filepath.Join(dir, "k0-bad")
	if err := os.Mkdir(bad, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, bad, "book.xlsx", "this is no workbook")
	empty := filepath.Join(dir, "k9-empty")
	if err := os.Mkdir(empty, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, dir, "tampered.json", "{\"form\": \"keelmark flock summary\",\n\"version\": 1,\n\"code\": \"K7\",\n\"birds\": -4\n}")
	twin := filepath.Join(dir, "k7-twin")
	if err := os.Mkdir(twin, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, twin, "flock.toml", "[flock]\ncode = \"K1\"\n")
	write(t, twin, "w.csv", "ring,date,lice (0-3)\nA1,2025-03-01,0\n")
	code, out, errs := compared(t, dir)
	if code != exitFailed || !strings.Contains(out, "5 flocks side by side") {
		t.Errorf("exit %d: %.300s", code, out)
	}
	for _, want := range []string{"k0-bad is left out: nothing in it could be read as a record", "k9-empty is left out", "tampered.json is left out: tampered.json: ", "the code K1 stands for 2 flocks"} {
		if !says(errs, want) {
			t.Errorf("%q is not said:\n%s", want, errs)
		}
	}
}

func TestComparingSmallThings(t *testing.T) {
	dir := t.TempDir()
	flock := func(name, toml, csv string) string {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(path, 0o755); err != nil {
			t.Fatal(err)
		}
		write(t, path, "flock.toml", toml)
		write(t, path, "w.csv", csv)
		return path
	}
	one := flock("a", "[flock]\ncode = \"A\"\nhemisphere = \"north\"\n", "ring,date,lice (0-3),breed,weight (g)\nA1,2025-03-01,0,Sussex,3000\n")
	two := flock("b", "[flock]\nhemisphere = \"south\"\n", "ring,date,lice (0-3),breed,weight (g)\nB1,2025-03-01,1,Hamburg,2000\n")
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{one}, exitDone, "a comparison needs two flocks"},
		{[]string{dir}, exitDone, "With 2 flocks none is called above or below"},
		{[]string{dir}, exitDone, "has no code and is called flock 2 here"},
		{[]string{dir}, exitDone, "fewer than 10 birds in A, flock 2"},
		{nil, exitUsage, "name the folder that holds the flocks"},
		{[]string{filepath.Join(dir, "none")}, exitFailed, "is not there"},
		{[]string{"--from", "2025", dir}, exitUsage, "write it as 2025-H1"},
		{[]string{"--format", "xls", dir}, exitUsage, "use text, json"},
		{[]string{"--report", filepath.Join(t.TempDir(), "r"), one, two}, exitDone, "No pages for keepers"},
	} {
		code, out, errs := compared(t, c.args...)
		if code != c.code && code != exitQuestions || !says(out+errs, c.says) {
			t.Errorf("compare %v: exit %d\n%s%s\nwant %d, %q", c.args, code, out, errs, c.code, c.says)
		}
	}
}

func TestAnEveningIsWritten(t *testing.T) {
	dir, to := neighbours(t), t.TempDir()
	code, out, errs := compared(t, "--report", to, dir)
	if !done(code) {
		t.Fatalf("exit %d: %s", code, errs)
	}
	if n := strings.Count(out, "\n"); n != 3+6 {
		t.Errorf("%d files are told of:\n%s", n, out)
	}
	for i := range 6 {
		for _, ext := range []string{"html", "ipynb"} {
			data, err := os.ReadFile(filepath.Join(to, "keepers", fmt.Sprintf("k%d-%d.%s", i+1, i+1, ext)))
			if err != nil {
				t.Fatal(err)
			}
			for j := range 6 {
				if j != i && bytes.Contains(data, fmt.Appendf(nil, "K%d", j+1)) {
					t.Errorf("the %s page of K%d names K%d", ext, i+1, j+1)
				}
			}
			if !bytes.Contains(data, []byte("One habit to add")) {
				t.Errorf("K%d is told no habit", i+1)
			}
		}
	}
	data, err := os.ReadFile(filepath.Join(to, "flocks.html"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"How often one looks", "To take home", "in the order given, never by rank", "<svg"} {
		if !bytes.Contains(data, []byte(want)) {
			t.Errorf("the report does not say %q", want)
		}
	}
}

func TestAComparisonStopsWhenAsked(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	var out, errs bytes.Buffer
	if code := run(ctx, []string{"compare", neighbours(t)}, nil, &out, &errs); code != exitFailed || !strings.Contains(errs.String(), "stopped") || out.Len() > 0 {
		t.Errorf("exit %d: %s%s", code, out.String(), errs.String())
	}
}

// writeFlocks writes invented flocks of 40 birds: every month for 3 years a look at each, every third month a weight.
func writeFlocks(b *testing.B, dir string, n int) (records int) {
	b.Helper()
	rng := rand.New(rand.NewPCG(8, 8))
	for i := range n {
		at := filepath.Join(dir, fmt.Sprintf("f%04d", i))
		if err := os.MkdirAll(at, 0o755); err != nil {
			b.Fatal(err)
		}
		var csv strings.Builder
		csv.WriteString("date,ring,breed,size,sex,hatched,weight (g),lice (0-3)\n")
		for month := range 36 {
			for bird := range 40 {
				weight := ""
				if month%3 == 0 {
					weight = fmt.Sprint(2800 + rng.IntN(400))
					records++
				}
				fmt.Fprintf(&csv, "%d-%02d-%02d,%d-%d,Sussex,large,%s,2021-%02d-11,%s,%d\n", 2022+month/12, 1+month%12, 1+i%28, i, bird, []string{"F", "M"}[bird%4/3], 1+bird%12, weight, rng.IntN(4)/3)
				records++
			}
		}
		for name, text := range map[string]string{"records.csv": csv.String(), "flock.toml": fmt.Sprintf("[flock]\ncode = \"F%d\"\nhemisphere = \"north\"\ncountry = \"GB\"\n[scales.lice]\nmin = 0\nmax = 3\ndirection = \"high-bad\"\n[dates]\norder = \"ymd\"\n", i)} {
			if err := os.WriteFile(filepath.Join(at, name), []byte(text), 0o644); err != nil {
				b.Fatal(err)
			}
		}
	}
	return records
}

// BenchmarkCompare compares some hundred flocks; 2,000 are run by KEELMARK_FLOCKS=2000 go test -run xxx -bench Compare
// -benchtime 1x ./cmd/keelmark.
func BenchmarkCompare(b *testing.B) {
	n := 100
	if s := os.Getenv("KEELMARK_FLOCKS"); s != "" {
		if _, err := fmt.Sscan(s, &n); err != nil {
			b.Fatal(err)
		}
	}
	dir := b.TempDir()
	records := writeFlocks(b, dir, n)
	for b.Loop() {
		var out, errs bytes.Buffer
		if code := run(context.Background(), []string{"compare", "--today", "2025-01-05", dir}, nil, &out, &errs); code == exitFailed || !strings.Contains(out.String(), fmt.Sprintf("%d flocks side by side", n)) {
			b.Fatalf("exit %d: %.500s", code, errs.String())
		}
	}
	b.ReportMetric(float64(records)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "flocks/s")
}

package main

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"keelmark/datasets"
	"keelmark/ingest"
)

// telling are all words of a flock's records that could say whose they are.
func telling(t *testing.T, dir string) []string {
	t.Helper()
	sets, err := ingest.Load(context.Background(), []string{dir}, ingest.Options{Today: datasets.DemoToday()})
	if err != nil {
		t.Fatal(err)
	}
	var words []string
	for _, d := range sets {
		words = append(words, d.Name, d.Settings.Flock.Name, d.Settings.Flock.Breed, d.Settings.Show.Name, filepath.Base(dir))
		for _, f := range d.Files {
			words = append(words, f.Name, strings.TrimSuffix(f.Name, filepath.Ext(f.Name)))
		}
		for _, b := range d.Birds {
			words = append(words, b.ID, b.Ring, b.Name, b.Breed, b.Variety, b.Line, b.Pen)
			words = append(words, b.Aliases...)
		}
		for _, o := range d.Observations {
			detail := o.Detail()
			words = append(words, o.At.File, o.At.Sheet, detail.Note, detail.Scorer, detail.Pen, detail.Session)
		}
		for _, e := range d.Events {
			words = append(words, e.At.File, e.At.Sheet, e.Note, e.Pen, e.Result)
			if e.Treatment != nil {
				words = append(words, e.Treatment.Product, e.Treatment.By)
			}
		}
	}
	return words
}

func TestAShareTellsNobodyWhoseItIs(t *testing.T) {
	keeper := demo(t)
	yards, err := filepath.Glob(filepath.Join(filepath.Dir(keeper), "neighbours", "*"))
	if err != nil || len(yards) != 6 {
		t.Fatalf("%d neighbours, %v", len(yards), err)
	}
	searched := 0
	for _, yard := range append(yards, keeper) {
		out := t.TempDir()
		code, said, errs := keelmark(t, "share", "--today", "2025-11-24", "--code", "Z9", "--yes", "--out", out, yard)
		if code != exitDone {
			t.Fatalf("%s: exit %d: %s", yard, code, errs)
		}
		files, err := os.ReadDir(out)
		if err != nil || len(files) != 2 {
			t.Fatalf("%s: %d files, %v", yard, len(files), err)
		}
		for _, f := range files {
			data, err := os.ReadFile(filepath.Join(out, f.Name()))
			if err != nil {
				t.Fatal(err)
			}
			left := f.Name() + "\n" + string(data)
			seen := map[string]bool{}
			for _, word := range telling(t, yard) {
				if len(word) < 2 || seen[word] {
					continue
				}
				seen[word] = true
				searched++
				if regexp.MustCompile(`(?i)(^|[^\pL\pN])` + regexp.QuoteMeta(word) + `($|[^\pL\pN])`).MatchString(left) {
					t.Errorf("%s: %s holds %q", yard, f.Name(), word)
				}
			}
			if day := regexp.MustCompile(`\d{4}-\d{2}-\d{2}`).FindString(left); day != "" {
				t.Errorf("%s: %s holds the day %s", yard, f.Name(), day)
			}
			for _, number := range regexp.MustCompile(`"(?:n|x)":([0-9.]+)`).FindAllStringSubmatch(left, -1) {
				if !strings.Contains(said, strings.TrimSuffix(number[1], ".0")) {
					t.Errorf("%s: %s leaves and was not shown before", yard, number[0])
				}
			}
		}
	}
	if searched < 300 {
		t.Errorf("only %d words were looked for", searched)
	}
}

func TestNothingLeavesUnasked(t *testing.T) {
	keeper := demo(t)
	yard := filepath.Join(filepath.Dir(keeper), "neighbours", "k2")
	out := filepath.Join(t.TempDir(), "shares")
	nameless := write(t, t.TempDir(), "w.csv", "ring,date,weight (g)\nA1,2025-03-01,3000\n")
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{yard}, exitUsage, "nothing was written; look through the numbers above"},
		{[]string{"--yes", "--code", "K2-01", yard}, exitUsage, "is the name of a bird"},
		{[]string{"--yes", "--code", "Jane Doe", yard}, exitUsage, "is not a code"},
		{[]string{"--yes", "--code", "Z9", yard, keeper}, exitUsage, "hold 2 flocks"},
		{[]string{"--yes", filepath.Join(yard, "none")}, exitFailed, "no such file"},
		{[]string{"--yes", nameless}, exitUsage, "choose a code"},
	} {
		code, said, errs := keelmark(t, append([]string{"share", "--today", "2025-11-24", "--out", out}, c.args...)...)
		if code != c.code || !strings.Contains(said+errs, c.says) {
			t.Errorf("share %v: exit %d, %s; want %d, %q", c.args, code, errs, c.code, c.says)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("something was written")
	}
}

func TestAnEarlierShareIsHonoured(t *testing.T) {
	keeper := demo(t)
	yard := filepath.Join(filepath.Dir(keeper), "neighbours", "k2")
	out := t.TempDir()
	share := func(today string) (string, string) {
		t.Helper()
		code, said, errs := keelmark(t, "share", "--today", today, "--yes", "--out", out, yard)
		if code != exitDone {
			t.Fatalf("exit %d: %s", code, errs)
		}
		data, err := os.ReadFile(filepath.Join(out, "keelmark-share-K2.csv"))
		if err != nil {
			t.Fatal(err)
		}
		return string(data), said
	}
	first, _ := share("2025-11-24")
	// A look that was forgotten is entered for a half year that was shared.
	sheet := filepath.Join(yard, "hamburgs.csv")
	data, err := os.ReadFile(sheet)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(sheet, append(data, "2025-03-02,K2-01,Hamburg,large,F,2023-04-21,68.5,2,3\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	second, said := share("2026-01-05")
	if !strings.Contains(said, "repeats the earlier numbers") {
		t.Errorf("nothing says that the earlier numbers stay:\n%s", said)
	}
	old := 0
	for line := range strings.Lines(first) {
		if cells := strings.Split(line, ","); len(cells) > 5 && cells[5] == "2025-H1" {
			old++
			if !strings.Contains(second, strings.Join(cells[:15], ",")) {
				t.Errorf("the second share changed %s", line)
			}
		}
	}
	if old == 0 || !strings.Contains(second, "2025-H2") || strings.Contains(first, "2025-H2") {
		t.Errorf("%d numbers of 2025-H1; the open half year is shared, or the closed one is not", old)
	}
	if err := os.WriteFile(filepath.Join(out, "keelmark-share-K2.json"), []byte("{"), 0o644); err != nil {
		t.Fatal(err)
	}
	if code, _, errs := keelmark(t, "share", "--today", "2026-01-05", "--yes", "--out", out, yard); code != exitFailed || !strings.Contains(errs, "earlier share cannot be read") {
		t.Errorf("a spoilt earlier share: exit %d, %s", code, errs)
	}
}

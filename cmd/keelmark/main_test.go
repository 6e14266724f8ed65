package main

import (
	"bytes"
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"

	"keelmark/datasets"
)

// keelmark runs the command in the test's own process.
func keelmark(t *testing.T, args ...string) (code int, out, errOut string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(context.Background(), args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

// demo writes the demo's files to a folder of the test's and returns the keeper's.
func demo(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := copyDemo(dir); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, datasets.DemoKeeper)
}

func write(t *testing.T, dir, name, content string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestExitCodesAndSentences(t *testing.T) {
	dir := t.TempDir()
	clean := write(t, dir, "clean.csv", "ring,date,weight (g),sex,breed,size,hatched\nR1,2025-03-01,2900,F,Sussex,large,2023-04-01\nR1,2025-04-01,2950,F,Sussex,large,2023-04-01\n")
	bare := write(t, dir, "bare.csv", "ring,date,weight\nR1,2025-03-01,612\nR1,2025-03-08,640\n")
	empty := write(t, dir, "empty.csv", "")
	words := write(t, dir, "letter.pdf", "%PDF-1.4 not a sheet")
	none := filepath.Join(dir, "none")
	if err := os.Mkdir(none, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		code int
		says string // on either stream
	}{
		{nil, exitUsage, "keelmark demo DIR"},
		{[]string{"help"}, exitDone, "check"},
		{[]string{"chekc"}, exitUsage, "did you mean check?"},
		{[]string{"check"}, exitUsage, "name the spreadsheets"},
		{[]string{"check", "--wieght-unit", "g", clean}, exitUsage, "keelmark help check lists the options"},
		{[]string{"check", "--weight-unit", "stone", clean}, exitUsage, "use g, kg, lb, oz, lb-oz"},
		{[]string{"check", "--today", "soon", clean}, exitUsage, "write it as 2025-03-01"},
		{[]string{"check", clean}, exitDone, "2 weights"},
		{[]string{"check", bare}, exitQuestions, "To ask"},
		{[]string{"check", "--weight-unit", "g", bare}, exitDone, "2 weights"},
		{[]string{"check", empty}, exitFailed, "empty"},
		{[]string{"check", words}, exitFailed, "refused"},
		{[]string{"check", none}, exitFailed, "no spreadsheet"},
		{[]string{"check", filepath.Join(dir, "absent.xlsx")}, exitFailed, "absent.xlsx"},
		{[]string{"analyse"}, exitUsage, "growth"},
		{[]string{"analyse", "grwoth", clean}, exitUsage, "did you mean growth?"},
		{[]string{"analyse", "growth", "--bird", "R9", clean}, exitFailed, "R9"},
		{[]string{"analyse", "growth", "--format", "xml", clean}, exitUsage, "use text, json, csv"},
		{[]string{"analyse", "standard", "--today", "2025-04-02", "--country", "US", clean}, exitDone, "7 lb ± 20 %"},
		{[]string{"report"}, exitUsage, "entry"},
		{[]string{"report", "entrance", clean}, exitUsage, "there are: breeding, culling, entry"},
		{[]string{"report", "entry", "--out", dir, none}, exitFailed, "no spreadsheet"},
		{[]string{"report", "entry", "--out", dir, "-p", "brid=R1", clean}, exitFailed, "brid"},
		{[]string{"run"}, exitUsage, "name the notebook"},
		{[]string{"run", clean}, exitFailed, "clean.csv"},
		{[]string{"demo"}, exitUsage, "one folder"},
		{[]string{"help", "breeds"}, exitDone, "Sebright"},
		{[]string{"help", "flock.toml"}, exitDone, "[flock]"},
		{[]string{"help", "cells"}, exitDone, "decision_line"},
		{[]string{"help", "growth"}, exitDone, "Source:"},
		{[]string{"help", "weather"}, exitUsage, "no help"},
		{[]string{"check", "--help"}, exitDone, "Exit code"},
	} {
		code, out, errOut := keelmark(t, c.args...)
		if code != c.code || !strings.Contains(out+errOut, c.says) {
			t.Errorf("keelmark %s: exit %d, want %d with %q\n%s%s", strings.Join(c.args, " "), code, c.code, c.says, out, errOut)
		}
	}
}

func TestTheDemoTellsWhatToOpenAndTwoRunsGiveTheSameBytes(t *testing.T) {
	first, second := filepath.Join(t.TempDir(), "demo"), filepath.Join(t.TempDir(), "demo")
	for _, dir := range []string{first, second} {
		if code, out, errOut := keelmark(t, "demo", dir); code != exitDone || !strings.Contains(out, "entry-report.pdf") {
			t.Fatalf("exit %d\n%s%s", code, out, errOut)
		}
	}
	files := 0
	err := fs.WalkDir(os.DirFS(first), ".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		files++
		a, err := os.ReadFile(filepath.Join(first, path))
		if err != nil {
			return err
		}
		b, err := os.ReadFile(filepath.Join(second, path))
		if err != nil {
			return err
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s differs between two runs", path)
		}
		return nil
	})
	if err != nil || files < 12 {
		t.Errorf("%d files, %v", files, err)
	}
	write(t, first, "README.md", "mine")
	if code, _, errOut := keelmark(t, "demo", first); code != exitFailed || !strings.Contains(errOut, "choose an empty folder") {
		t.Errorf("a file of somebody else's: exit %d, %s", code, errOut)
	}
}

func TestTheDemoIsReadAsItsMakerKnows(t *testing.T) {
	truth, err := datasets.DemoTruth()
	if err != nil {
		t.Fatal(err)
	}
	_, out, _ := keelmark(t, "check", "--today", datasets.DemoToday().String(), "--format", "jsonl", demo(t))
	lines := strings.Split(out, "\n")
	count := func(file, what string) int {
		n := 0
		for _, l := range lines {
			if strings.Contains(l, `"type":"record"`) && strings.Contains(l, `"file":"`+file+`"`) && strings.Contains(l, what) {
				n++
			}
		}
		return n
	}
	doubtful := map[string]int{}
	for _, d := range truth.Doubtful {
		doubtful[d.File]++
	}
	for _, f := range truth.Files {
		if f.Flock != datasets.DemoKeeper {
			continue
		}
		near := func(kind string, got, want int) {
			// A doubtful cell may wait for an answer; nothing else may be missing and nothing may be added.
			if got > want || got < want-doubtful[f.File] {
				t.Errorf("%s: %d records of %s, its maker wrote %d (%d doubtful)", f.File, got, kind, want, doubtful[f.File])
			}
		}
		near("weight", count(f.File, `"kind":"weight"`), f.Weights)
		near("condition", count(f.File, `"kind":"condition"`), f.Conditions)
		near("lice", count(f.File, `"parasite":"lice"`), f.Lice)
		near("mites", count(f.File, `"parasite":"mites"`), f.Mites)
		near("treatment", count(f.File, `"kind":"treatment"`), f.Treatments)
	}
	for _, d := range truth.Doubtful {
		told := false
		for _, l := range lines {
			about := strings.Contains(l, `"file":"`+d.File+`"`) && strings.Contains(l, `"cell":"`+d.Cell+`"`)
			told = told || about && (strings.Contains(l, `"type":"issue"`) || strings.Contains(l, `"flagged":true`))
		}
		if !told {
			t.Errorf("%s %s %q: nobody is told (%s)", d.File, d.Cell, d.Raw, d.Why)
		}
	}
}

func TestNothingIsLeftHalfWritten(t *testing.T) {
	dir := t.TempDir()
	ctx, stop := context.WithCancel(context.Background())
	stop()
	var out, errOut bytes.Buffer
	if code := run(ctx, []string{"report", "entry", "--out", filepath.Join(dir, "out"), demo(t)}, strings.NewReader(""), &out, &errOut); code != exitFailed ||
		!strings.Contains(errOut.String(), "stopped") {
		t.Errorf("exit %d: %s", code, errOut.String())
	}
	if _, err := os.Stat(filepath.Join(dir, "out")); err == nil {
		t.Error("a stopped run left its folder")
	}
}

func TestAFailingCellIsWrittenWithItsPlace(t *testing.T) {
	dir := t.TempDir()
	nb := `{"cells":[{"cell_type":"code","execution_count":null,"id":"a","metadata":{},"outputs":[],"source":["1 + 1"]},
		{"cell_type":"code","execution_count":null,"id":"b","metadata":{},"outputs":[],"source":["flock.wieghts"]},
		{"cell_type":"code","execution_count":null,"id":"c","metadata":{},"outputs":[],"source":["3"]}],
		"metadata":{},"nbformat":4,"nbformat_minor":5}`
	path := write(t, dir, "n.ipynb", nb)
	code, out, errOut := keelmark(t, "run", path)
	written, err := os.ReadFile(filepath.Join(dir, "n-run.ipynb"))
	if code != exitFailed || err != nil || !strings.Contains(string(written), "wieghts") || !strings.Contains(errOut, "cell 2") {
		t.Errorf("exit %d, %v\n%s%s\n%s", code, err, out, errOut, written)
	}
}

func TestTheNoticeNamesEveryLibraryInTheBinary(t *testing.T) {
	notice, err := os.ReadFile(filepath.Join("..", "..", "NOTICE"))
	if err != nil {
		t.Fatal(err)
	}
	info, ok := debug.ReadBuildInfo()
	if !ok || len(info.Deps) == 0 {
		t.Fatal("the test binary does not say what it is built from")
	}
	for _, d := range info.Deps {
		if !strings.Contains(string(notice), "\n"+d.Path+"  ") {
			t.Errorf("NOTICE does not list %s", d.Path)
		}
	}
}

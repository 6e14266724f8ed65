package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Invented sheets of one yard: a winter, the same sheet edited, and what the pens say.
const (
	winterSheet = "ring,name,date,weight (g)\nR1,Bess,2025-01-04,612\nR2,Clary,2025-01-04,700\nR1,Bess,2025-02-01,640?\n"
	editedSheet = "ring,name,date,weight (g)\nR1,Bess,2025-01-04,621\nR1,Bess,2025-02-01,640?\nR3,Dot,2025-02-01,655\n"
	penSheet    = "date,ring,weight (g)\n2025-01-04,R1,612\n2025-03-01,R1,660\n"
)

func TestImportTellsWhatASheetAdds(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	write(t, dir, "w.csv", winterSheet)
	code, out, errOut := keelmark(t, "import", "w.csv", "--flock", "flock", "--today", "2025-06-01")
	const first = `Into flock:
  w.csv: new

2 birds are new: R1 Bess, R2 Clary.
1 new question has come up: keelmark check --ask puts them one by one.

Done, and noted in flock/imports.log. The files you gave were not touched.

flock

  w.csv: read 2 weights
`
	if code != exitQuestions || !strings.HasPrefix(filepath.ToSlash(out), first) || errOut != "" {
		t.Errorf("exit %d\n%s%s", code, out, errOut)
	}
	write(t, dir, "pens.csv", penSheet)
	write(t, dir, "w.csv", editedSheet)
	write(t, dir, "note.pdf", "%PDF-1.4")
	before := readAll(t, "flock")
	for _, dry := range []bool{true, false} {
		args := []string{"import", "pens.csv", "w.csv", "note.pdf", "--flock", "flock", "--today", "2025-06-01"}
		if dry {
			args = append(args, "--dry-run")
		}
		code, out, _ = keelmark(t, args...)
		for _, part := range []string{"pens.csv: new", "w.csv: edited", "kept as " + filepath.Join("earlier", "w."), "1 cell changed, 1 line is gone, 1 line is new",
			`D2: "612" is now "621"`, "gone: R2, Clary, 2025-01-04, 700 (row 3 of the older sheet)", "new: R3, Dot, 2025-02-01, 655 (row 4)", "note.pdf: not copied", "1 bird is known already: R1 Bess",
			"1 bird is new: R3 Dot", "No sheet knows R2 Clary any more", "which is right?"} {
			if !strings.Contains(out, part) {
				t.Errorf("dry %v: lacks %q\n%s", dry, part, out)
			}
		}
		if code != exitFailed {
			t.Errorf("dry %v: exit %d", dry, code)
		}
		if after := readAll(t, "flock"); dry != (after == before) {
			t.Errorf("dry %v: the folder was\n%s\nand is\n%s", dry, before, after)
		}
	}
	if code, out, _ := keelmark(t, "import", "w.csv", "--flock", "flock"); code != exitDone || !strings.Contains(out, "already there") || !strings.Contains(out, "No file is to be copied") {
		t.Errorf("again: exit %d\n%s", code, out)
	}
}

// readAll is all that a folder holds, as one text.
func readAll(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		b.WriteString(path + "\n" + string(data) + "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestImportThenAsk(t *testing.T) {
	dir := t.TempDir()
	flock, sheet := filepath.Join(dir, "flock"), write(t, dir, "w.csv", winterSheet)
	code, out := answering(t, "a\n", "import", sheet, "--flock", flock, "--ask", "--today", "2025-06-01")
	if code != exitDone || !strings.Contains(out, "Question 1\n") || !strings.Contains(out, "1 question answered, none left open") {
		t.Errorf("exit %d\n%s", code, out)
	}
	if kept, err := os.ReadFile(filepath.Join(flock, "answers.toml")); err != nil || !strings.Contains(string(kept), "640?") {
		t.Errorf("%v\n%s", err, kept)
	}
	// The answered cell is edited in the keeper's own copy, which is imported again: the answer fits no more.
	write(t, dir, "w.csv", strings.Replace(winterSheet, "640?", "460?", 1))
	code, out = answering(t, "", "import", sheet, "--flock", flock, "--today", "2025-06-01")
	if code != exitQuestions || !strings.Contains(out, `D4: "640?" is now "460?"`) || !strings.Contains(out, "it has changed since") {
		t.Errorf("exit %d\n%s", code, out)
	}
}

func TestImportWrongCalls(t *testing.T) {
	dir := t.TempDir()
	sheet := write(t, dir, "w.csv", winterSheet)
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"import", sheet}, exitUsage, "say into which folder"},
		{[]string{"import", "--flock", dir}, exitUsage, "name the spreadsheets"},
		{[]string{"import", sheet, "--flock", dir, "--dry-run", "--ask"}, exitUsage, "leave --ask away"},
		{[]string{"import", sheet, "--flock", sheet}, exitFailed, "is a file"},
		{[]string{"import", dir, "--flock", filepath.Join(dir, "f")}, exitFailed, "is a folder"},
		{[]string{"import", filepath.Join(dir, "none.csv"), "--flock", filepath.Join(dir, "f")}, exitFailed, "no such file"},
		{[]string{"import", "--help"}, exitDone, "earlier"},
	} {
		if code, out, errOut := keelmark(t, c.args...); code != c.code || !strings.Contains(out+errOut, c.says) {
			t.Errorf("%v: exit %d\n%s%s", c.args, code, out, errOut)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "f")); err == nil {
		t.Error("a wrong call made the folder")
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	var out, errOut bytes.Buffer
	if code := run(ctx, []string{"import", sheet, "--flock", filepath.Join(dir, "f")}, strings.NewReader(""), &out, &errOut); code != exitFailed || !strings.Contains(errOut.String(), "stopped") {
		t.Errorf("exit %d: %s", code, errOut.String())
	}
	if _, err := os.Stat(filepath.Join(dir, "f")); err == nil {
		t.Error("a stopped import left its folder")
	}
}

func TestCheckWritesItsPage(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	write(t, dir, "w.csv", winterSheet)
	code, out, errOut := keelmark(t, "check", "--format", "html", "--today", "2025-06-01", "w.csv")
	path := filepath.Join(reportFolder, "w-check.html")
	page, err := os.ReadFile(path)
	if code != exitQuestions || err != nil || out != path+"\n" || errOut != "" || !strings.Contains(string(page), `<b class="fate">?</b>640?`) {
		t.Errorf("exit %d, %v\n%s%s", code, err, out, errOut)
	}
	if _, out, _ := keelmark(t, "check", "--format", "html", "--out", "-", "--today", "2025-06-01", "w.csv"); out != string(page) {
		t.Error("the printed page differs")
	}
	if code, out, _ := keelmark(t, "check", "--format", "jsonl", "--out", "w.jsonl", "w.csv"); code != exitQuestions || out != "w.jsonl\n" {
		t.Errorf("exit %d: %s", code, out)
	}
}

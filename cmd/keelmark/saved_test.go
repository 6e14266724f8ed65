package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/notebooks/cell"
	"keelmark/notebooks/nbformat"
)

// A cell that saves a table, a figure and a text leaves three files in the folder beside the notebook, and the
// flock as it was.
func TestCellsSaveBesideTheNotebook(t *testing.T) {
	folder := demo(t)
	before, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	nb := nbformat.New()
	nb.Add(nbformat.Code, "save(flock.weights.head(3), \"weights.csv\")\nsave(flock.weights, \"weights.xlsx\")\n"+
		"f = growth(flock).figures[0]\nsave(f, \"growth.svg\")\nsave(png(f, dpi = 72), \"growth.png\")\nsave(\"Nine birds.\", \"note.txt\")")
	path := filepath.Join(folder, "notebook.ipynb")
	data, err := nb.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	write(t, folder, "notebook.ipynb", string(data))
	for _, into := range []string{"", filepath.Join(t.TempDir(), "elsewhere")} {
		args := []string{"run", path, folder, "--today", "2025-11-24", "-o", filepath.Join(t.TempDir(), "out.ipynb")}
		at := filepath.Join(folder, "saved")
		if into != "" {
			args, at = append(args, "--save-in", into), into
		}
		if code, _, errOut := keelmark(t, args...); code != exitDone {
			t.Fatalf("exit %d: %s", code, errOut)
		}
		for name, begins := range map[string]string{"weights.csv": "bird,", "weights.xlsx": "PK", "growth.svg": "<", "growth.png": "\x89PNG", "note.txt": "Nine"} {
			if got, err := os.ReadFile(filepath.Join(at, name)); err != nil || !strings.HasPrefix(string(got), begins) {
				t.Errorf("%s: %.20q %v", name, got, err)
			}
		}
		if list, err := os.ReadDir(at); err != nil || len(list) != 5 {
			t.Errorf("%d files saved (%v)", len(list), err)
		}
	}
	if after, err := os.ReadDir(folder); err != nil || len(after) != len(before)+2 { // the notebook and its folder
		t.Errorf("%d files before, %d after (%v)", len(before), len(after), err)
	}
}

// A kernel's cells write into the folder saved of the notebook's own folder, whatever they try.
func TestNothingIsWrittenElsewhere(t *testing.T) {
	outside := t.TempDir()
	write(t, outside, "secret.txt", "SECRET")
	folder := demo(t)
	e := kernelEngine(t, folder, "")
	run := func(source string) *cell.Failure { return e.Run(t.Context(), "cell", source, &last{}) }
	if f := run("save(\"x\", \"x.txt\")\nsave(\"y\", \"x.txt\")"); f != nil {
		t.Fatal(f)
	}
	if got, _ := os.ReadFile(filepath.Join(folder, "saved", "x.txt")); string(got) != "y" {
		t.Errorf("saved %q", got)
	}
	refused := func(what, source, want string) {
		t.Helper()
		if f := run(source); f == nil || !strings.Contains(f.Message, want) {
			t.Errorf("%s: %v, want %q", what, f, want)
		}
	}
	for _, name := range []string{"../x.txt", "../../x.txt", filepath.Join(outside, "x.txt"), `..\\x.txt`, "..", "~/x.txt"} {
		refused(name, "save(\"x\", \""+name+"\")", "save: ")
	}
	link := func(to, at string) {
		t.Helper()
		if err := os.Symlink(to, at); err != nil {
			t.Fatal(err)
		}
	}
	link(filepath.Join(outside, "secret.txt"), filepath.Join(folder, "saved", "link.txt"))
	refused("a file that is a link", "save(\"x\", \"link.txt\")", "is no plain file but a folder or a link")
	link(filepath.Join(outside, "secret.txt"), filepath.Join(folder, "saved", ".part.txt.part"))
	if f := run("save(\"x\", \"part.txt\")"); f != nil {
		t.Error(f)
	}
	if err := os.RemoveAll(filepath.Join(folder, "saved")); err != nil {
		t.Fatal(err)
	}
	link(outside, filepath.Join(folder, "saved"))
	refused("a folder that is a link", "save(\"x\", \"x.txt\")", "is no folder but a file or a link")
	if list, err := os.ReadDir(outside); err != nil || len(list) != 1 {
		t.Errorf("%v (%v)", list, err)
	}
	if got, _ := os.ReadFile(filepath.Join(outside, "secret.txt")); string(got) != "SECRET" {
		t.Errorf("the file outside holds %q", got)
	}
}

func TestWhatCellsSaveIsBounded(t *testing.T) {
	s := newSaved(filepath.Join(t.TempDir(), "saved"))
	s.written = mostSavedBytes - 1
	if _, err := s.save("a.txt", []byte("a")); err != nil {
		t.Error(err)
	}
	if _, err := s.save("b.txt", []byte("b")); err == nil || !strings.Contains(err.Error(), "at most") {
		t.Error(err)
	}
	if _, err := newSaved(filepath.Join(t.TempDir(), "none", "saved")).save("a.txt", nil); err == nil || !strings.Contains(err.Error(), "cannot make the folder") {
		t.Error(err)
	}
}

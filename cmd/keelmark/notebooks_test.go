package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/notebooks/nbformat"
)

// Every notebook for users runs on the demo from its first cell to its last, and shows something in each cell
// that is there to show it.
func TestTheNotebooksRunOnTheDemo(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join("..", "..", "notebooks", "*.ipynb"))
	if err != nil || len(paths) < 5 {
		t.Fatalf("%d notebooks (%v)", len(paths), err)
	}
	folder := demo(t)
	flocks := filepath.Join(filepath.Dir(folder), "neighbours")
	for _, path := range paths {
		name := filepath.Base(path)
		source, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		nb, err := nbformat.Parse(name, source)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range nb.Cells {
			if len(c.Outputs) > 0 || c.Count != nil {
				t.Errorf("%s: cell %s is shipped with an output", name, c.ID)
			}
		}
		if again, err := nb.Bytes(); err != nil || string(again) != string(source) {
			t.Errorf("%s is not written as Keelmark writes notebooks (%v)", name, err)
		}
		out := filepath.Join(t.TempDir(), name)
		args := []string{"run", path, folder, "--today", "2025-11-24", "-o", out}
		if name == "educators-comparison.ipynb" {
			args = append(args[:2], append([]string{"--compare", flocks}, args[3:]...)...)
		}
		if code, said, errOut := keelmark(t, args...); code != exitDone {
			t.Errorf("%s: exit %d\n%s%s", name, code, said, errOut)
			continue
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		executed, err := nbformat.Parse(name, data)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range executed.Cells {
			if c.Type == nbformat.Code && !c.Tagged("parameters") && len(c.Outputs) == 0 {
				t.Errorf("%s: cell %s shows nothing:\n%s", name, c.ID, c.Source)
			}
		}
	}
}

// The educator's notebook compares whatever the flocks have: each measure can be chosen, shows something in each
// cell, and never sets two scales side by side.
func TestTheEducatorsNotebookTakesEachMeasure(t *testing.T) {
	flocks := neighbours(t)
	path := filepath.Join("..", "..", "notebooks", "educators-comparison.ipynb")
	for _, measure := range []string{"lice", "weight", "growth", "condition", "hatch day", "effort"} {
		out := filepath.Join(t.TempDir(), "out.ipynb")
		if code, _, errOut := keelmark(t, "run", path, "--compare", flocks, "--today", "2025-11-24", "-p", "measure="+measure, "-o", out); code != exitDone {
			t.Errorf("%s: exit %d: %s", measure, code, errOut)
			continue
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if two := strings.Contains(string(data), " are set side by side here"); two != (measure == "condition" || measure == "weight") {
			t.Errorf("%s: says that scales are kept apart: %v", measure, two)
		}
	}
	if code, _, errOut := keelmark(t, "run", path, "--compare", flocks, "-p", "measure=none", "-o", filepath.Join(t.TempDir(), "out.ipynb")); code != exitFailed || !strings.Contains(errOut, "there is no measure none") {
		t.Errorf("exit %d: %s", code, errOut)
	}
}

// The page of the cell language is made by the program. To write it anew:
// KEELMARK_WRITE_PAGES=1 go test -run CellLanguage ./cmd/keelmark
func TestThePageOfTheCellLanguageHasNotDrifted(t *testing.T) {
	path := filepath.Join("..", "..", "notebooks", "cell-language.md")
	code, help, errOut := keelmark(t, "help", "cells")
	if code != exitDone {
		t.Fatal(errOut)
	}
	page := "# The cell language\n\nMade by the program; `keelmark help cells` prints the same. Do not edit.\n\n```text\n" + strings.TrimRight(help, "\n") + "\n```\n"
	if os.Getenv("KEELMARK_WRITE_PAGES") != "" {
		if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	written, err := os.ReadFile(path)
	if err != nil || string(written) != page {
		t.Errorf("notebooks/cell-language.md is not what the program says (%v); write it anew with KEELMARK_WRITE_PAGES=1 go test -run CellLanguage ./cmd/keelmark", err)
	}
}

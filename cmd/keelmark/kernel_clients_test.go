//go:build clients

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"keelmark/notebooks/nbformat"
)

// python is Debian's, which holds Debian's front ends.
const python = "/usr/bin/python3"

// frontEnds builds keelmark and installs its kernel where the front ends of this test find it. The notebook's
// folder is the demo's flock.
func frontEnds(t *testing.T) (program, folder string) {
	t.Helper()
	dir := t.TempDir()
	program = filepath.Join(dir, "keelmark")
	build := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-o", program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Setenv("JUPYTER_PATH", filepath.Join(dir, "jupyter"))
	t.Setenv("JUPYTER_DATA_DIR", filepath.Join(dir, "own"))
	t.Setenv("JUPYTER_CONFIG_DIR", filepath.Join(dir, "config"))
	t.Setenv("JUPYTER_RUNTIME_DIR", filepath.Join(dir, "runtime"))
	t.Setenv("IPYTHONDIR", filepath.Join(dir, "ipython"))
	folder = demo(t)
	in(t, folder, program, "kernel", "install", "--today", "2025-11-24")
	in(t, folder, program, "kernel", "check")
	return program, folder
}

// in runs a program in a folder. A missing program or a failure fails the test.
func in(t *testing.T, folder, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Dir = folder
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// script is one of the Python scripts beside the kernel.
func script(t *testing.T, name string) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join("..", "..", "notebooks", "kernel", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// fourCells is a notebook that shows text, tables, a drawing and a picture.
func fourCells(t *testing.T, more ...string) *nbformat.Notebook {
	t.Helper()
	nb := nbformat.New()
	nb.Metadata["kernelspec"] = map[string]any{"name": "keelmark", "display_name": "Keelmark", "language": "starlark"}
	for _, source := range append([]string{
		"t = flock.weights\nprint(len(t), \"weighings\")\nwarn(\"a warning\")",
		"hens = t.where(sex = \"F\", weight = (500, None))\ndisplay(hens.head(5), para(\"These are hens.\"))\nhens.group(\"bird\", weight = [\"mean\", \"sd\"])",
		"g = growth(flock)\nfigure(g.figures[0])",
		"png(g.figures[0], dpi = 72)",
	}, more...) {
		nb.Add(nbformat.Code, source)
	}
	return nb
}

func save(t *testing.T, path string, nb *nbformat.Notebook) {
	t.Helper()
	data, err := nb.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

func load(t *testing.T, path string) *nbformat.Notebook {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	nb, err := nbformat.Parse(filepath.Base(path), data)
	if err != nil {
		t.Fatal(err)
	}
	return nb
}

// TestRealFrontEnds drives what keepers and educators use. The scripts say of each check how it went.
func TestRealFrontEnds(t *testing.T) {
	program, folder := frontEnds(t)
	t.Run("the client library and its kernel tests", func(t *testing.T) {
		t.Log(in(t, folder, python, script(t, "clients.py"), "keelmark"))
	})
	t.Run("the terminal client", func(t *testing.T) {
		t.Log(in(t, folder, python, script(t, "console.py"), "keelmark"))
	})
	t.Run("nbconvert", func(t *testing.T) { throughNbconvert(t, program, folder) })
	t.Run("the browser", func(t *testing.T) {
		save(t, filepath.Join(folder, "four.ipynb"), fourCells(t))
		picture := os.Getenv("KEELMARK_SCREENSHOT")
		if picture == "" {
			picture = filepath.Join(t.TempDir(), "screenshot.png")
		}
		t.Log(in(t, folder, python, script(t, "browser.py"), "keelmark", "four.ipynb", picture))
	})
	t.Run("beside another kernel", func(t *testing.T) {
		for try := 1; ; try++ { // a machine that is busy with other things may spoil one run
			cmd := exec.Command(python, script(t, "latency.py"), "keelmark", "python3")
			cmd.Dir = t.TempDir() // the other kernel has no flock to read either
			var out bytes.Buffer
			cmd.Stdout = &out
			err := cmd.Run()
			t.Logf("run %d:\n%s", try, out.String())
			if err == nil {
				return
			}
			if try == 3 {
				t.Fatal(err)
			}
		}
	})
}

// throughNbconvert compares the outputs that nbconvert gets from the kernel with those of keelmark run, and
// checks both with the format's own validator.
func throughNbconvert(t *testing.T, program, folder string) {
	source := filepath.Join(folder, "source.ipynb")
	save(t, source, fourCells(t))
	in(t, folder, "jupyter-nbconvert", "--to", "notebook", "--execute", source, "--output", "converted.ipynb")
	in(t, folder, program, "run", source, folder, "--today", "2025-11-24", "-o", filepath.Join(folder, "run.ipynb"))
	for _, name := range []string{"converted.ipynb", "run.ipynb"} {
		in(t, folder, python, "-c", "import nbformat, sys; nb = nbformat.read(sys.argv[1], as_version=nbformat.NO_CONVERT); "+
			"nbformat.validate(nb); assert (nb.nbformat, nb.nbformat_minor) == (4, 5), nb.nbformat_minor", name)
	}
	converted, run := load(t, filepath.Join(folder, "converted.ipynb")), load(t, filepath.Join(folder, "run.ipynb"))
	for i, c := range converted.Cells {
		if len(c.Outputs) == 0 || !reflect.DeepEqual(c.Outputs, run.Cells[i].Outputs) || *c.Count != *run.Cells[i].Count {
			t.Errorf("cell %d: nbconvert and keelmark run show different things:\n%v\n%v", i+1, c.Outputs, run.Cells[i].Outputs)
		}
	}
	save(t, source, fourCells(t, "x = 1\nx / 0", "2"))
	cmd := exec.Command("jupyter-nbconvert", "--to", "notebook", "--execute", source, "--output", "failed.ipynb")
	cmd.Dir = folder
	if out, err := cmd.CombinedOutput(); err == nil || !strings.Contains(string(out), "cell 5, line 2: division by zero") {
		t.Errorf("a failing cell: %v\n%s", err, out)
	}
}

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/notebooks/cell"
	"keelmark/notebooks/kernel"
)

// TestMain lets the test program be keelmark itself, for the verbs that start it as a child.
func TestMain(m *testing.M) {
	if os.Getenv("KEELMARK_TEST_AS_COMMAND") != "" {
		os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

func TestTheKernelIsInstalledCheckedAndRemoved(t *testing.T) {
	t.Setenv("KEELMARK_TEST_AS_COMMAND", "yes")
	data := t.TempDir()
	t.Setenv("JUPYTER_PATH", data+string(filepath.ListSeparator)+filepath.Join(data, "other"))
	t.Setenv("JUPYTER_DATA_DIR", filepath.Join(data, "own"))
	folder := demo(t)
	expect := func(code int, says string, args ...string) {
		t.Helper()
		got, out, errOut := keelmark(t, append([]string{"kernel"}, args...)...)
		if got != code || !strings.Contains(out+errOut, says) {
			t.Errorf("kernel %v: exit %d, says\n%s%s\nwant %d, %q", args, got, out, errOut, code, says)
		}
	}
	expect(exitFailed, "no notebook program can find it yet: run keelmark kernel install", "check")
	expect(exitDone, filepath.Join(data, "kernels", "keelmark", "kernel.json"), "install")
	expect(exitDone, "all is well", "check")
	expect(exitDone, "own", "install", "--user", "--name", "demo", "--flock", folder, "--today", "2025-11-24")
	expect(exitDone, "all is well", "check", "--name", "demo")
	spec, err := kernel.ReadSpec(filepath.Join(data, "own", "kernels", "demo"))
	if got := strings.Join(spec.Argv[1:], " "); err != nil || got != "kernel serve {connection_file} --today 2025-11-24 --flock "+folder {
		t.Errorf("argv %s (%v)", got, err)
	}
	expect(exitDone, "own", "install", "--user", "--name", "evening", "--compare", "--flock", folder)
	expect(exitDone, "all is well", "check", "--name", "evening")
	expect(exitDone, filepath.Join(data, "share", "jupyter", "kernels"), "install", "--prefix", data)
	expect(exitUsage, "two different places", "install", "--prefix", data, "--user")
	expect(exitUsage, "cannot be the name", "install", "--name", "a/b")
	expect(exitFailed, "--flock", "install", "--flock", filepath.Join(data, "none"))
	expect(exitUsage, "did you mean install?", "instal")
	expect(exitUsage, "name the connection file", "serve")
	expect(exitFailed, "cannot read the connection file", "serve", filepath.Join(data, "none.json"))
	expect(exitFailed, "is not a connection file", "serve", write(t, data, "c.json", "5"))
	expect(exitFailed, "serves its own machine only", "serve", write(t, data, "c.json", `{"ip":"0.0.0.0","transport":"tcp"}`))

	moved := kernel.NewSpec(filepath.Join(data, "moved-away"), "Keelmark")
	if _, err := moved.Install(filepath.Join(data, "kernels", "keelmark")); err != nil {
		t.Fatal(err)
	}
	expect(exitFailed, "moved-away, which is not there", "check")
	broken := kernel.NewSpec(os.Args[0], "Keelmark", "--unknown-flag")
	if _, err := broken.Install(filepath.Join(data, "kernels", "keelmark")); err != nil {
		t.Fatal(err)
	}
	expect(exitFailed, "it ended at once; it said: keelmark: kernel: unknown flag", "check")
	write(t, filepath.Join(data, "kernels", "keelmark"), "kernel.json", "{")
	expect(exitFailed, "install writes it anew", "check")
	expect(exitDone, "kernel.json", "install")
	expect(exitDone, "removed", "uninstall")
	expect(exitFailed, "nothing is installed", "uninstall")
	foreign := kernel.Spec{Argv: []string{"another", "-f", "{connection_file}"}}
	if _, err := foreign.Install(filepath.Join(data, "kernels", "keelmark")); err != nil {
		t.Fatal(err)
	}
	expect(exitFailed, "belongs to another kernel", "uninstall")
}

// kernelEngine is the engine of kernel serve in a folder.
func kernelEngine(t *testing.T, folder, flock string) *cell.Engine {
	t.Helper()
	t.Chdir(folder)
	f := kernelFlags{set: flags("kernel"), flock: flock, source: sourceFlags{today: "2025-11-24"}}
	e, err := f.engine(world{strings.NewReader(""), os.Stdout, os.Stderr})(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// A folder of flocks is compared for the cells, which get no flock's records.
func TestAKernelThatCompares(t *testing.T) {
	folder := neighbours(t)
	t.Chdir(t.TempDir())
	f := kernelFlags{set: flags("kernel"), compare: true, source: sourceFlags{today: "2025-11-24"}}
	for dir, want := range map[string]string{folder: "", "none": "could not be compared"} {
		f.flock = dir
		e, err := f.engine(world{strings.NewReader(""), io.Discard, io.Discard})(t.Context(), nil)
		if err != nil {
			t.Fatal(err)
		}
		var shown last
		if e.Run(t.Context(), "cell 1", "len(set(compared.flocks.flock))", &shown); want == "" && shown.bundle["text/plain"] != "6" {
			t.Errorf("%v %v", shown.bundle, shown.failure)
		}
		if want == "" {
			want = "no flock's records are here"
		}
		if e.Run(t.Context(), "cell 2", "flock.weights", &shown); shown.failure == nil || !strings.Contains(shown.failure.Message, want) {
			t.Errorf("%s: %v", dir, shown.failure)
		}
	}
}

// A sheet that is a link to a file outside the flock's folder is read by no cell.
func TestLinksOutOfTheFlock(t *testing.T) {
	outside, folder := t.TempDir(), t.TempDir()
	write(t, outside, "secret.csv", "ring,date,weight (g)\nR1,2025-03-01,600\n")
	write(t, folder, "flock.csv", "ring,date,weight (g)\nR2,2025-03-01,600\n")
	write(t, folder, "notebook.ipynb", `{"cells":[],"metadata":{},"nbformat":4,"nbformat_minor":5}`)
	inside := filepath.Join(folder, "again.csv")
	for link, to := range map[string]string{inside: filepath.Join(folder, "flock.csv"), filepath.Join(folder, "photos"): outside, filepath.Join(folder, "gone.csv"): filepath.Join(outside, "gone.csv")} {
		if err := os.Symlink(to, link); err != nil {
			t.Fatal(err)
		}
	}
	if err := linksOut(folder); err != nil {
		t.Error(err)
	}
	if err := os.Symlink(filepath.Join(outside, "secret.csv"), filepath.Join(folder, "more.csv")); err != nil {
		t.Fatal(err)
	}
	const want = "more.csv is a link to a file outside the flock's folder"
	if code, _, errOut := keelmark(t, "run", filepath.Join(folder, "notebook.ipynb"), folder); code != exitFailed || !strings.Contains(errOut, want) {
		t.Errorf("exit %d: %s", code, errOut)
	}
	var shown last
	if kernelEngine(t, folder, "").Run(t.Context(), "cell 1", "flock.weights", &shown); shown.failure == nil || !strings.Contains(shown.failure.Message, want) {
		t.Errorf("%v %v", shown.bundle, shown.failure)
	}
}

// last keeps what a cell shows last.
type last struct {
	bundle  cell.Bundle
	failure *cell.Failure
}

func (*last) Stream(string, string)   {}
func (*last) Display(cell.Bundle)     {}
func (l *last) Result(b cell.Bundle)  { l.bundle = b }
func (l *last) Error(f *cell.Failure) { l.failure = f }
func (*last) Clear(bool)              {}

func TestTheFlockOfAKernel(t *testing.T) {
	folder, empty := demo(t), t.TempDir()
	bad := t.TempDir()
	write(t, bad, "flock.toml", "[flock\n")
	write(t, bad, "flock.csv", "ring,date,weight (g)\nR1,2025-03-01,600\n")
	for _, c := range []struct{ at, flock, want string }{
		{folder, "", ""},
		{empty, folder, ""},
		{empty, "", "there is no spreadsheet beside this notebook"},
		{empty, empty, "the flock could not be read"},
		{empty, filepath.Join(empty, "none"), "there is no such file or folder"},
		{bad, "", "flock.toml"},
	} {
		e := kernelEngine(t, c.at, c.flock)
		var shown last
		e.Run(t.Context(), "cell 1", "len(flock.birds) > 5", &shown)
		got := fmt.Sprint(shown.bundle["text/plain"])
		if c.want == "" && got != "True" || c.want != "" && (shown.failure == nil || !strings.Contains(shown.failure.Message, c.want)) {
			t.Errorf("%+v: %v %v", c, got, shown.failure)
		}
		shown = last{}
		if e.Run(t.Context(), "cell 2", "1 + 1", &shown); shown.bundle["text/plain"] != "2" {
			t.Errorf("%+v: the next cell shows %v", c, shown)
		}
	}
}

// The figures of an analysis are shown as SVG in HTML and alone, and as PNG where asked.
func TestFiguresInEveryForm(t *testing.T) {
	e := kernelEngine(t, demo(t), "")
	var shown last
	e.Run(t.Context(), "cell 1", "f = growth(flock).figures\nf[0]", &shown)
	if shown.failure != nil {
		t.Fatal(shown.failure)
	}
	for mime, want := range map[string]string{"image/svg+xml": "<svg", "text/html": "<svg", "text/plain": " "} {
		if s, _ := shown.bundle[mime].(string); !strings.Contains(s, want) {
			t.Errorf("%s: %.80q", mime, s)
		}
	}
	e.Run(t.Context(), "cell 2", "png(f[0], dpi = 72)", &shown)
	if s, _ := shown.bundle["image/png"].(string); !strings.HasPrefix(s, "iVBORw0KGgo") || shown.bundle["text/plain"] == "" {
		t.Errorf("png: %.40q", s)
	}
	for source, want := range map[string]string{"png(5)": "png takes a figure", "png(f[0], dpi = 5000)": "use 50 to 600"} {
		if e.Run(t.Context(), "cell 3", source, &shown); shown.failure == nil || !strings.Contains(shown.failure.Message, want) {
			t.Errorf("%s: %v", source, shown.failure)
		}
	}
	if _, err := json.Marshal(shown.bundle); err != nil {
		t.Error(err)
	}
}

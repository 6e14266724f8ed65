package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"keelmark/analysis/catalog"
	"keelmark/datasets"
	"keelmark/ingest"
	"keelmark/notebooks/reports"
)

const demoHelp = `keelmark demo DIR

Writes an invented keeper's flock to DIR (three seasons of workbooks in three habits, with flock.toml), six invented
neighbouring flocks, and the entry report made from them: HTML, PDF and the executed notebook. The birds, people,
places and the show do not exist. It is the first thing to run, and it prints what to open.

    keelmark demo try-it
`

func demoVerb() verb {
	return verb{"demo", "write an invented flock and its report: the first thing to run", demoHelp, runDemo}
}

func runDemo(ctx context.Context, w world, args []string) (int, error) {
	rest, err := parse(w, flags("demo"), demoHelp, args)
	if err != nil {
		return 0, err
	}
	if len(rest) != 1 {
		return 0, usage("demo takes one folder to write to: keelmark demo DIR")
	}
	dir := rest[0]
	if err := copyDemo(dir); err != nil {
		return 0, err
	}
	keeper := filepath.Join(dir, datasets.DemoKeeper)
	today := datasets.DemoToday()
	flocks, err := readFlocks(ctx, w, []string{keeper}, ingest.Options{Today: today})
	if err != nil {
		return 0, err
	}
	nb, err := reports.Get("entry")
	if err != nil {
		return 0, err
	}
	made, err := makeReport(ctx, "entry", nb, catalog.All(), flocks[0], today, nil)
	if err != nil {
		return 0, err
	}
	paths, err := made.write(dir, "entry-report")
	if err != nil {
		return 0, err
	}
	fmt.Fprintf(w.out, `An invented flock and its report are in %s. Every day in it is judged from %s.

Open first:
  %s   the entry report, on paper
  %s  the same on screen: every sentence opens to its cells
  %s the same as a notebook, for who wants to change a cell

The keeper's spreadsheets, messy as they come:
`, dir, today, paths[1], paths[0], paths[2])
	for _, f := range flocks[0].Files {
		fmt.Fprintf(w.out, "  %s: %s\n", filepath.Join(keeper, f.Name), contents(flocks, f.Name))
	}
	fmt.Fprintf(w.out, `
Then try:
  keelmark check --today %[1]s %[2]s
  keelmark analyse parasite --today %[1]s %[2]s
`, today, keeper)
	return exitDone, nil
}

// copyDemo writes the embedded files to a folder. It refuses to overwrite a file that is not its own.
func copyDemo(dir string) error {
	files := datasets.Demo()
	return fs.WalkDir(files, ".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := fs.ReadFile(files, path)
		if err != nil {
			return err
		}
		target := filepath.Join(dir, filepath.FromSlash(path))
		switch there, err := os.ReadFile(target); {
		case err == nil && string(there) != string(data):
			return fmt.Errorf("%s is there already and differs from the demo's; choose an empty folder", target)
		case err == nil:
			return nil
		case !errors.Is(err, fs.ErrNotExist):
			return err
		}
		return writeFile(target, data)
	})
}

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"keelmark/analysis/flocks"
	"keelmark/ingest/record"
	"keelmark/notebooks/cell"
	"keelmark/notebooks/nbformat"
	"keelmark/notebooks/render"
	"keelmark/notebooks/runner"
	"keelmark/plots"
)

const runHelp = `keelmark run NOTEBOOK [SOURCE...]

Runs a notebook from its first cell to its last, without any server, on the flock that SOURCE gives, and writes it
with its outputs. A cell reads that flock and nothing else: no other file, no network. What it saves goes into the
folder saved beside the notebook. If a cell fails, the notebook is written with the error in its place, and the exit
code is 1.

    keelmark run first-look.ipynb my-flock/
    keelmark run first-look.ipynb my-flock/ -o first-look.pdf
    keelmark run growth.ipynb my-flock/ -p bird=R12
    keelmark run educators-comparison.ipynb --compare flocks/

    -o FILE           where to write; .ipynb, .html or .pdf (default NOTEBOOK with -run before its ending)
    -p NAME=VALUE     set a parameter of the notebook; may be given more than once
    --paper P         A4 or Letter, for .html and .pdf
    --compare         SOURCE are flocks to lay side by side, as for keelmark compare: cells find them as compared,
                      and no flock's records at all
    --save-in DIR     the folder for what cells save (default the folder saved beside the notebook)

` + sourceHelp

func runVerb() verb {
	return verb{"run", "run a notebook without a server; write it executed, or as HTML or PDF", runHelp, runNotebook}
}

func runNotebook(ctx context.Context, w world, args []string) (int, error) {
	set := flags("run")
	var source sourceFlags
	source.add(set)
	out := set.StringP("out", "o", "", "")
	paper := set.String("paper", "", "")
	compare := set.Bool("compare", false, "")
	saveIn := set.String("save-in", "", "")
	params := set.StringArrayP("param", "p", nil, "")
	rest, err := parse(w, set, runHelp, args)
	if err != nil {
		return 0, err
	}
	if len(rest) == 0 {
		return 0, usage("run: name the notebook")
	}
	if err := oneOf("paper", *paper, "A4", "Letter"); err != nil {
		return 0, err
	}
	path := *out
	if path == "" {
		path = strings.TrimSuffix(rest[0], ".ipynb") + "-run.ipynb"
	}
	if ext := filepath.Ext(path); ext != ".ipynb" && ext != ".html" && ext != ".pdf" {
		return 0, usage("-o %s: the name must end in .ipynb, .html or .pdf", path)
	}
	values, err := parameters(*params)
	if err != nil {
		return 0, err
	}
	data, err := os.ReadFile(rest[0])
	if err != nil {
		return 0, fmt.Errorf("cannot read the notebook: %w", err)
	}
	nb, err := nbformat.Parse(filepath.Base(rest[0]), data)
	if err != nil {
		return 0, err
	}
	into := *saveIn
	if into == "" {
		into = filepath.Join(filepath.Dir(rest[0]), savedFolder)
	}
	o := cell.Options{Figures: plots.For, BirdFigures: plots.ForBird, Limits: cell.Unattended(), Save: newSaved(into).save}
	d := &record.Dataset{Name: "flocks side by side"}
	if *compare {
		o, err = source.compared(ctx, w, rest[1:], o)
	} else {
		d, o, err = source.noted(ctx, w, rest[1:], o)
		if err == nil {
			o.Specs, err = specsOf(rest[1:], d, 1)
		}
	}
	if err != nil {
		return 0, err
	}
	engine, err := cell.New(o)
	if err != nil {
		return 0, err
	}
	executed, runErr := runner.Run(ctx, nb, engine, values)
	var failed *cell.Failure
	if runErr != nil && !errors.As(runErr, &failed) {
		return 0, runErr
	}
	content, err := layOut(executed, d, o.Context.Today, filepath.Ext(path), render.Paper(*paper))
	if err != nil {
		return 0, err
	}
	if err := writeFile(path, content); err != nil {
		return 0, err
	}
	fmt.Fprintln(w.out, path)
	if failed != nil {
		return 0, fmt.Errorf("%s: %w", filepath.Base(rest[0]), failed)
	}
	return exitDone, nil
}

// noted reads the flock of a notebook for its cells.
func (f *sourceFlags) noted(ctx context.Context, w world, sources []string, o cell.Options) (*record.Dataset, cell.Options, error) {
	for _, s := range sources {
		if err := linksOut(s); err != nil {
			return nil, o, err
		}
	}
	d, today, err := f.one(ctx, w, sources)
	if err != nil {
		return nil, o, err
	}
	o.Flock = d
	o.Context, err = contextOf(d, today)
	return d, o, err
}

// compared lays flocks side by side for the cells of a notebook, which get no flock's records.
func (f *sourceFlags) compared(ctx context.Context, w world, sources []string, o cell.Options) (cell.Options, error) {
	gathered, today, err := f.gather(ctx, w, sources)
	if err != nil {
		return o, err
	}
	if o.Compared, err = flocks.Compare(ctx, gathered.summaries, flocks.Options{}); err != nil {
		return o, err
	}
	o.NoFlock = "this notebook compares flocks, and no flock's records are here; what was found is in compared"
	o.Context, err = contextOf(&record.Dataset{}, today)
	return o, err
}

// layOut writes an executed notebook in the form that its file name's ending asks for.
func layOut(nb *nbformat.Notebook, d *record.Dataset, today record.Day, ext string, paper render.Paper) ([]byte, error) {
	if ext == ".ipynb" {
		return nb.Bytes()
	}
	doc := render.FromNotebook(nb)
	if doc.Title == "" {
		doc.Title = flockName(d)
	}
	doc.Running, doc.Made = d.Name, today
	if len(d.Files) > 0 {
		doc.Running = running(d)
	}
	var b bytes.Buffer
	var err error
	if ext == ".html" {
		err = doc.HTML(&b, paper)
	} else {
		err = doc.PDF(&b, paper)
	}
	return b.Bytes(), err
}

// one reads sources that must be one flock. Without any, the flock is empty.
func (f *sourceFlags) one(ctx context.Context, w world, sources []string) (*record.Dataset, record.Day, error) {
	if len(sources) == 0 {
		today, err := f.day()
		return &record.Dataset{Name: "no flock"}, today, err
	}
	flocks, today, err := f.load(ctx, w, sources)
	if err != nil {
		return nil, 0, err
	}
	if len(flocks) != 1 {
		return nil, 0, fmt.Errorf("a notebook runs on one flock, and these sources hold %d; give one folder, or a file of one flock", len(flocks))
	}
	return flocks[0], today, nil
}

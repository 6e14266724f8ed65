package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"unicode"

	"keelmark/analysis"
	"keelmark/ingest/record"
	"keelmark/notebooks/cell"
	"keelmark/notebooks/nbformat"
	"keelmark/notebooks/render"
	"keelmark/notebooks/reports"
	"keelmark/notebooks/runner"
	"keelmark/plots"
)

// reportFolder is where reports go when nobody says otherwise.
const reportFolder = "keelmark-reports"

const reportHelp = `keelmark report entry SOURCE...

Runs a report and writes it three times: as a page for the screen (HTML), for paper (PDF), and as the executed
notebook, in which every number can be traced and run again.

    keelmark report entry my-flock/
    keelmark report entry --show 2025-12-13 --out for-saturday my-flock/
    keelmark report entry -p bird=R12 my-flock/

The reports breeding and culling are the same for a breeding pen, and for keeping a bird or parting with it; what can be
undone stands first in them. The report season tells of lice and mites through the years: the months at risk, whether they
come back at the same time, what treatments did and what was seen after each. The entry report holds, before a show: what the records say in counts, one line a bird with room for a pencil,
then a page a bird with what speaks for and against, what is open, and a blank line for your decision.

Rules of your own, in a file rules.star beside the sheets, add lines to a bird's sheet or mute some: keelmark help rules.

A photograph that lies beside the sheets and bears a bird's ring or name (R12.jpg, Dot.png) stands on its page; place,
time and camera are not passed on.

    --out DIR         where to write (default ` + reportFolder + `)
    --format F        pages (default: the three above) or xlsx (its tables, sentences and curves, with charts)
    --paper P         A4 or Letter (default: as in flock.toml, else A4)
    --against OLD     an earlier run's .ipynb: lists the sentences that changed, and the cells that read otherwise
    -p NAME=VALUE     set a parameter of the notebook; may be given more than once

` + sourceHelp

func reportVerb() verb {
	return verb{"report", "write a report for screen and paper: " + strings.Join(reports.Names(), ", "), reportHelp, runReport}
}

func runReport(ctx context.Context, w world, args []string) (int, error) {
	set := flags("report")
	var source sourceFlags
	source.add(set)
	out := set.String("out", reportFolder, "")
	paper := set.String("paper", "", "")
	format := set.String("format", "pages", "")
	params := set.StringArrayP("param", "p", nil, "")
	against := set.String("against", "", "")
	rest, err := parse(w, set, reportHelp, args)
	if err != nil {
		return 0, err
	}
	if len(rest) == 0 {
		return 0, usage("report: name a report: %s", strings.Join(reports.Names(), ", "))
	}
	nb, err := reports.Get(rest[0])
	if err != nil {
		return 0, usage("%v%s", err, didYouMean(rest[0], reports.Names()))
	}
	if err := oneOf("paper", *paper, "A4", "Letter"); err != nil {
		return 0, err
	}
	if err := oneOf("format", *format, "pages", "xlsx"); err != nil {
		return 0, err
	}
	values, err := parameters(*params)
	if err != nil {
		return 0, err
	}
	var before []render.Claim
	if *against != "" { // read first: the new report may take its place
		if before, err = sentencesOf(*against); err != nil {
			return 0, err
		}
	}
	flocks, today, err := source.load(ctx, w, rest[1:])
	if err != nil {
		return 0, err
	}
	if len(flocks) > 1 && before != nil {
		return 0, usage("--against compares one flock, and these sources hold %d", len(flocks))
	}
	for _, d := range flocks {
		specs, err := specsOf(rest[1:], d, len(flocks))
		if err != nil {
			return 0, err
		}
		made, err := makeReport(ctx, rest[0], nb, specs, d, today, values)
		if err != nil {
			return 0, err
		}
		if *format == "xlsx" {
			path, err := made.writeWorkbook(*out, nameOf(d, flocks)+"-"+rest[0])
			if err != nil {
				return 0, err
			}
			fmt.Fprintln(w.out, path)
			continue
		}
		made.document.Blocks = made.document.Blocks.WithPhotos(photosOf(w, foldersOf(rest[1:], d, len(flocks)), d))
		if made.paper == "" || *paper != "" {
			made.paper = render.Paper(*paper)
		}
		paths, err := made.write(*out, nameOf(d, flocks)+"-"+rest[0])
		if err != nil {
			return 0, err
		}
		for _, p := range paths {
			fmt.Fprintln(w.out, p)
		}
		if before != nil {
			printChanges(w.out, before, made.document.Blocks.Sentences())
		}
	}
	return outcome(flocks), nil
}

func parameters(given []string) ([]runner.Set, error) {
	var out []runner.Set
	for _, g := range given {
		s, err := runner.ParseSet(g)
		if err != nil {
			return nil, usage("%v", err)
		}
		out = append(out, s)
	}
	return out, nil
}

// report is an executed notebook with its layout.
type report struct {
	notebook *nbformat.Notebook
	document render.Document
	paper    render.Paper
}

// newEngine makes the cell engine of a flock.
func newEngine(specs []analysis.Spec, d *record.Dataset, today record.Day) (*cell.Engine, error) {
	c, err := contextOf(d, today)
	if err != nil {
		return nil, err
	}
	return cell.New(cell.Options{Specs: specs, Flock: d, Context: c, Figures: plots.For, BirdFigures: plots.ForBird, Limits: cell.Unattended()})
}

// makeReport runs a report on a flock.
func makeReport(ctx context.Context, name string, nb *nbformat.Notebook, specs []analysis.Spec, d *record.Dataset, today record.Day, params []runner.Set) (*report, error) {
	if len(d.Observations)+len(d.Events)+len(d.Birds) == 0 {
		return nil, fmt.Errorf("%s: no report, because nothing could be read as a record%s; keelmark check tells what became of each cell",
			d.Name, refusals(d))
	}
	engine, err := newEngine(specs, d, today)
	if err != nil {
		return nil, err
	}
	executed, err := runner.Run(ctx, nb, engine, params)
	if err != nil {
		return nil, fmt.Errorf("report %s: %w", name, err)
	}
	doc := render.FromNotebook(executed)
	doc.Title = doc.Title + ": " + flockName(d)
	doc.Running = running(d)
	doc.Made = today
	return &report{executed, doc, render.Paper(d.Settings.Show.Paper)}, nil
}

// refusals repeats why files were refused.
func refusals(d *record.Dataset) string {
	var b strings.Builder
	for _, f := range d.Files {
		if f.Outcome != record.Imported {
			fmt.Fprintf(&b, " (%s: %s)", f.Name, strings.TrimPrefix(f.Reason, f.Name+": "))
		}
	}
	return b.String()
}

func flockName(d *record.Dataset) string {
	if d.Settings.Flock.Name != "" {
		return d.Settings.Flock.Name
	}
	return d.Name
}

// running is the line on every page: which files, and how much was read of them.
func running(d *record.Dataset) string {
	var names []string
	for _, f := range d.Files {
		if f.Outcome == record.Imported {
			names = append(names, f.Name)
		}
	}
	if len(names) > 3 {
		names = append(names[:2], fmt.Sprintf("%d more files", len(names)-2))
	}
	return strings.Join(names, ", ") + " · " + count(len(d.Observations)+len(d.Events), "record", "records")
}

// write writes the three forms beside each other and returns their paths. Each file is whole or absent.
func (r *report) write(dir, name string) ([]string, error) {
	var html, pdf bytes.Buffer
	var failed error
	onPaper := make(chan struct{})
	go func() { // the three forms share nothing but what they read
		defer close(onPaper)
		failed = r.document.PDF(&pdf, r.paper)
	}()
	err := r.document.HTML(&html, r.paper)
	ipynb, err2 := r.notebook.Bytes()
	<-onPaper
	if err := errors.Join(err, failed, err2); err != nil {
		return nil, err
	}
	var paths []string
	for _, f := range []struct {
		ext  string
		data []byte
	}{{".html", html.Bytes()}, {".pdf", pdf.Bytes()}, {".ipynb", ipynb}} {
		path := filepath.Join(dir, name+f.ext)
		if err := writeFile(path, f.data); err != nil {
			return paths, err
		}
		paths = append(paths, path)
	}
	return paths, nil
}

// writeWorkbook writes the report's tables as a workbook and returns its path.
func (r *report) writeWorkbook(dir, name string) (string, error) {
	var book bytes.Buffer
	if err := r.document.XLSX(&book); err != nil {
		return "", err
	}
	path := filepath.Join(dir, name+".xlsx")
	return path, writeFile(path, book.Bytes())
}

// nameOf makes a file name of a flock's: letters and digits of any script, hyphens between. Flocks that would
// share one are numbered.
func nameOf(d *record.Dataset, all []*record.Dataset) string {
	base := slug(d.Name)
	same, mine := 0, 0
	for _, o := range all {
		if slug(o.Name) == base {
			same++
			if o == d {
				mine = same
			}
		}
	}
	if same > 1 {
		return fmt.Sprintf("%s-%d", base, mine)
	}
	return base
}

func slug(name string) string {
	var b strings.Builder
	for _, r := range name {
		switch {
		case b.Len() > 60:
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(unicode.ToLower(r))
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s
	}
	return "flock"
}

const plainHelp = `keelmark FILE|FOLDER...

Checks the records and makes the entry report at once, and says where the pages are. It takes the options of
keelmark report and of the records.
`

// checkAndReport is keelmark without a verb: check, then the entry report.
func checkAndReport(ctx context.Context, w world, args []string) (int, error) {
	set := flags("keelmark")
	var source sourceFlags
	source.add(set)
	out := set.String("out", reportFolder, "")
	paper := set.String("paper", "", "")
	sources, err := parse(w, set, plainHelp, args)
	if err != nil {
		return 0, err
	}
	if err := oneOf("paper", *paper, "A4", "Letter"); err != nil {
		return 0, err
	}
	flocks, today, err := source.load(ctx, w, sources)
	if err != nil {
		return 0, err
	}
	nb, err := reports.Get("entry")
	if err != nil {
		return 0, err
	}
	code := outcome(flocks)
	printSummaries(w.out, flocks, false)
	for _, d := range flocks {
		specs, err := specsOf(sources, d, len(flocks))
		if err != nil {
			return 0, err
		}
		made, err := makeReport(ctx, "entry", nb, specs, d, today, nil)
		if err != nil {
			if ctx.Err() != nil {
				return 0, err
			}
			fmt.Fprintf(w.err, "keelmark: %v\n", err)
			code = exitFailed
			continue
		}
		made.document.Blocks = made.document.Blocks.WithPhotos(photosOf(w, foldersOf(sources, d, len(flocks)), d))
		if *paper != "" {
			made.paper = render.Paper(*paper)
		}
		paths, err := made.write(*out, nameOf(d, flocks)+"-entry")
		if err != nil {
			return 0, err
		}
		fmt.Fprintf(w.out, "\nThe entry report of %s:\n", flockName(d))
		for _, p := range paths {
			fmt.Fprintf(w.out, "  %s\n", p)
		}
	}
	return code, nil
}

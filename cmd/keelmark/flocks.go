package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"keelmark/analysis"
	"keelmark/analysis/flocks"
	"keelmark/analysis/slip"
	"keelmark/datasets"
	"keelmark/ingest"
	"keelmark/ingest/record"
)

// gathered are the summaries of all flocks that could be read.
type gathered struct {
	summaries []flocks.Summary
	leftOut   int
	doubts    int
}

func (g gathered) outcome() int {
	switch {
	case g.leftOut > 0:
		return exitFailed
	case g.doubts > 0:
		return exitQuestions
	}
	return exitDone
}

// unit is what becomes one flock, or several where a column tells flocks apart.
type unit struct {
	paths []string
	share bool // a summary, not records
}

// name says where a unit comes from.
func (u unit) name() string {
	if len(u.paths) > 1 {
		return fmt.Sprintf("%s and %s", u.paths[0], count(len(u.paths)-1, "file more", "files more"))
	}
	return u.paths[0]
}

// unitsOf lists the flocks of the sources, in their order, folders by name.
func unitsOf(sources []string) ([]unit, error) {
	var out []unit
	var loose []string
	for _, s := range sources {
		info, err := os.Stat(s)
		if err != nil {
			return nil, fmt.Errorf("%s is not there", s)
		}
		if !info.IsDir() {
			if isShare(s) {
				out = append(out, unit{[]string{s}, true})
			} else {
				loose = append(loose, s)
			}
			continue
		}
		inside, err := unitsIn(s)
		if err != nil {
			return nil, err
		}
		out = append(out, inside...)
	}
	if len(loose) > 0 {
		out = append(out, unit{loose, false})
	}
	return out, nil
}

// unitsIn lists the flocks of a folder: itself where sheets lie in it, else the folders and shares in it. Of a share that lies
// there in both forms the table is passed over; so is what the cells of a notebook saved.
func unitsIn(dir string) ([]unit, error) {
	entries, err := os.ReadDir(dir) // sorted by name
	if err != nil {
		return nil, err
	}
	var out []unit
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		switch {
		case strings.HasPrefix(e.Name(), "."), e.IsDir() && e.Name() == savedFolder:
		case e.IsDir():
			out = append(out, unit{[]string{path}, false})
		case isShare(path):
			if twin := strings.TrimSuffix(path, ".csv") + ".json"; !strings.HasSuffix(path, ".csv") || !isShare(twin) {
				out = append(out, unit{[]string{path}, true})
			}
		case slices.Contains([]string{".xlsx", ".xlsm", ".ods", ".csv", ".tsv", ".txt", ".xls"}, strings.ToLower(filepath.Ext(path))):
			return []unit{{[]string{dir}, false}}, nil
		}
	}
	return out, nil
}

// isShare looks into the first bytes of a file.
func isShare(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 256)
	n, err := io.ReadFull(f, head)
	return (err == nil || errors.Is(err, io.ErrUnexpectedEOF)) && flocks.IsSummary(head[:n])
}

// gather reads the flocks one by one, as many at a time as there are processors, and keeps their sums only.
func (f *sourceFlags) gather(ctx context.Context, w world, sources []string) (gathered, record.Day, error) {
	var g gathered
	if len(sources) == 0 {
		return g, 0, usage("name the folder that holds the flocks, or the summaries that keepers shared")
	}
	settings, err := f.settings()
	if err != nil {
		return g, 0, err
	}
	today, err := f.day()
	if err != nil {
		return g, 0, err
	}
	units, err := unitsOf(sources)
	if err != nil {
		return g, 0, err
	}
	breeds, err := datasets.Breeds()
	if err != nil {
		return g, 0, err
	}
	read := flockReader{ingest.Options{Today: today, Settings: settings, StandardTable: f.table}, breeds}
	type outcome struct {
		summaries []flocks.Summary
		err       error
	}
	outcomes := make([]outcome, len(units))
	jobs := make(chan int)
	told := flockProgress(w.err, len(units))
	var workers sync.WaitGroup
	for range min(len(units), runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			for i := range jobs {
				s, err := read.unit(ctx, units[i])
				outcomes[i] = outcome{s, err}
				told(units[i].name())
			}
		})
	}
feed:
	for i := range units {
		select {
		case jobs <- i:
		case <-ctx.Done():
			break feed
		}
	}
	close(jobs)
	workers.Wait()
	told("")
	if err := ctx.Err(); err != nil {
		return g, 0, err
	}
	by := map[string][]string{} // code to units
	for i, o := range outcomes {
		if o.err != nil {
			fmt.Fprintf(w.err, "keelmark: %s is left out: %v\n", units[i].name(), o.err)
			g.leftOut++
		}
		for j, s := range o.summaries {
			if s.Code == "" {
				s.Code = fmt.Sprintf("flock %d", len(g.summaries)+1)
				which := units[i].name()
				if len(o.summaries) > 1 {
					which = fmt.Sprintf("flock %d of %d in %s", j+1, len(o.summaries), which)
				}
				fmt.Fprintf(w.err, "keelmark: %s has no code and is called %s here\n", which, s.Code)
			}
			by[s.Code] = append(by[s.Code], units[i].name())
			g.summaries = append(g.summaries, s)
			g.doubts += s.Doubts
		}
	}
	g.summaries = slices.DeleteFunc(g.summaries, func(s flocks.Summary) bool { return len(by[s.Code]) > 1 })
	for _, code := range sortedCodes(by) {
		if where := by[code]; len(where) > 1 {
			fmt.Fprintf(w.err, "keelmark: the code %s stands for %s: %s. They are left out; give each flock its own under [flock] code in flock.toml, and each flock once\n",
				code, count(len(where), "flock", "flocks"), strings.Join(where, ", "))
			g.leftOut += len(where)
		}
	}
	return g, today, nil
}

func sortedCodes(by map[string][]string) []string {
	var out []string
	for code := range by {
		out = append(out, code)
	}
	slices.Sort(out)
	return out
}

// flockReader reads units to summaries.
type flockReader struct {
	options ingest.Options
	breeds  []record.PublishedWeight
}

func (r flockReader) unit(ctx context.Context, u unit) ([]flocks.Summary, error) {
	if u.share {
		info, err := os.Stat(u.paths[0])
		if err != nil {
			return nil, err
		}
		if info.Size() > flocks.Largest {
			return nil, fmt.Errorf("%d MB are too much for a summary of one flock", info.Size()>>20)
		}
		data, err := os.ReadFile(u.paths[0])
		if err != nil {
			return nil, err
		}
		s, err := flocks.Read(filepath.Base(u.paths[0]), data)
		if err != nil {
			return nil, err
		}
		return []flocks.Summary{s}, nil
	}
	sets, err := ingest.Load(ctx, u.paths, r.options)
	if err != nil {
		return nil, err
	}
	var out []flocks.Summary
	for _, d := range sets {
		for _, f := range d.Files {
			if f.Outcome == record.Refused {
				return nil, fmt.Errorf("%s: %s", f.Name, f.Reason)
			}
		}
		if len(d.Observations)+len(d.Events) == 0 {
			return nil, fmt.Errorf("nothing in it could be read as a record%s; keelmark check tells what became of each cell", refusals(d))
		}
		c := analysis.Context{Today: r.options.Today, Standards: slices.Concat(d.Standards, r.breeds), Settings: d.Settings}
		if _, err := slip.Settle(ctx, c, d); err != nil {
			return nil, err
		}
		s, err := flocks.Summarise(ctx, c, d)
		if err != nil {
			return nil, err
		}
		out = append(out, s.Forget())
	}
	return out, nil
}

// flockProgress tells on a terminal how many flocks were read, once that has taken a second. Workers call it at the same time.
func flockProgress(to io.Writer, all int) func(string) {
	if progress(to) == nil {
		return func(string) {}
	}
	var one sync.Mutex
	begun, done := time.Now(), 0
	return func(name string) {
		one.Lock()
		defer one.Unlock()
		done++
		switch {
		case time.Since(begun) < time.Second:
		case name == "":
			fmt.Fprint(to, "\r\033[K")
		default:
			fmt.Fprintf(to, "\r\033[Kread %d/%d: %s", done, all, name)
		}
	}
}

// Package reading turns the lines of a file's tables into looks and events that wait for their birds.
//
// Each line says when, which bird, and what was seen or done. A cell that does not read plainly is asked
// about, refused or skipped as package parse says; where the day or the bird of a line is in doubt, its values
// are held. Every cell that was touched gets its fate in the ledger, and what no table claims is set aside.
//
// It refuses to decide which bird is which (package identity does, for the flock as a whole), and to drop a
// cell.
package reading

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/identity"
	"keelmark/ingest/layout"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// Flock is what was read of one flock, before its birds are told apart.
type Flock struct {
	Name       string // as its column writes it, "" for the flock of the source
	Looks      []record.Observation
	Links      []Link // of the looks, in the same order
	Happenings []Happening
	Sightings  []*identity.Sighting
	Ask        *ask.List
	Rejects    []record.Reject
	Asides     []record.Aside

	byName map[named]*identity.Sighting
}

// Link is what stands beside a look until its bird is known.
type Link struct {
	Who  *identity.Sighting // nil for pen and flock
	Bird int32              // index in identity.Birds.All, -1 for none; set when birds are told apart
	From int32              // number of the table it was read from
}

// Happening is an event that waits for its bird.
type Happening struct {
	Event record.Event
	Bird  int // as Link.Bird
	Who   *identity.Sighting
}

// look adds a look like another, and returns it to be completed.
func (f *Flock) look(like *record.Observation, who *identity.Sighting, from int32) *record.Observation {
	f.Looks = append(f.Looks, *like)
	f.Links = append(f.Links, Link{Who: who, From: from})
	return &f.Looks[len(f.Looks)-1]
}

// grow makes room for looks.
func (f *Flock) grow(r room) {
	if r.made != nil && len(f.Looks) == 0 {
		made := <-r.made
		f.Looks, f.Links = made.Looks, made.Links
		return
	}
	f.Looks, f.Links = slices.Grow(f.Looks, r.n), slices.Grow(f.Links, r.n)
}

// room is space for the looks of a table.
type room struct {
	n    int
	made chan Flock // space for those of a long table, which is made while the table is looked over; else nil
}

// roomFor begins to make room for the looks of a table, where a flock has none yet.
func roomFor(t *layout.Table, f *Flock) room {
	r := room{n: count(t)}
	if len(t.Lines) >= manyLines && (f == nil || len(f.Looks) == 0) {
		r.made = make(chan Flock, 1)
		go func() { r.made <- Flock{Looks: make([]record.Observation, 0, r.n), Links: make([]Link, 0, r.n)} }()
	}
	return r
}

// manyLines is from how many lines on work on a table is worth being shared out.
const manyLines = 5_000

// Keep drops the looks that are not wanted.
func (f *Flock) Keep(wanted func(i int) bool) {
	n := 0
	for i := range f.Looks {
		if wanted(i) {
			if n == i {
				n++
				continue
			}
			f.Looks[n], f.Links[n] = f.Looks[i], f.Links[i]
			n++
		}
	}
	clear(f.Looks[n:])
	f.Looks, f.Links = f.Looks[:n], f.Links[:n]
}

// Flocks is what was read of all flocks of one source.
type Flocks struct {
	Order   []string // names, as first seen; "" is the flock of the source itself
	Ledgers []*record.Ledger
	Breeds  []string // names of breeds that are spelt right

	set     record.Settings
	replies *ask.Replies
	byName  map[string]*Flock
	table   int32 // number of the table that is read
}

// New returns an empty collection.
func New(set record.Settings, replies *ask.Replies) *Flocks {
	return &Flocks{set: set, replies: replies, byName: map[string]*Flock{}}
}

// Flock returns a flock, made at first mention.
func (c *Flocks) Flock(name string) *Flock {
	f := c.byName[name]
	if f == nil {
		f = &Flock{Name: name, Ask: ask.NewList(), byName: map[named]*identity.Sighting{}}
		c.byName[name] = f
		c.Order = append(c.Order, name)
	}
	return f
}

// Find returns a flock, nil where it was never mentioned.
func (c *Flocks) Find(name string) *Flock { return c.byName[name] }

// Len is how many looks, events, birds, questions and rejects there are: a file that adds none held nothing.
func (c *Flocks) Len() int {
	n := 0
	for _, f := range c.byName {
		n += len(f.Looks) + len(f.Happenings) + len(f.Sightings) + f.Ask.Len() + len(f.Rejects)
	}
	return n
}

// work is the reading of one file.
type work struct {
	*evidence.File
	*Flocks
	unscaled map[*evidence.Pool]bool // columns of scores without a scale
	results  map[*evidence.Pool]*results
}

// Read reads all sheets of a file. The error is that of the context.
func (c *Flocks) Read(ctx context.Context, f *evidence.File) error {
	w := &work{File: f, Flocks: c, unscaled: map[*evidence.Pool]bool{}, results: map[*evidence.Pool]*results{}}
	first := len(c.Ledgers)
	for _, p := range f.Pages {
		c.Ledgers = append(c.Ledgers, newLedger(p.Grid))
	}
	ledgers := c.Ledgers[first:]
	read := make([]bool, len(f.Pages))
	for _, sure := range []bool{true, false} { // sheets that are surely about birds tell whose names the others hold
		for i, p := range f.Pages {
			if (p.Layout.Subject == layout.OfBirds) != sure {
				continue
			}
			var err error
			if read[i], err = w.page(ctx, p, ledgers[i]); err != nil {
				return err
			}
		}
	}
	for _, q := range f.Asked {
		if i := slices.IndexFunc(f.Pages, func(p *evidence.Page) bool { return p.Grid.Sheet == q.At.Sheet }); i < 0 || read[i] {
			c.Flock("").Ask.Add(q)
		}
	}
	if !slices.Contains(read, true) {
		f.Notes = nil // what was decided of sheets that are not read helps nobody
	}
	told := map[string]bool{}
	f.Notes = slices.DeleteFunc(f.Notes, func(n string) bool { // tables side by side are decided alike
		again := told[n]
		told[n] = true
		return again
	})
	w.scales()
	w.unread(f.Pages, ledgers)
	return nil
}

// sheetOfNumbers is how many numbers or dates make a sheet that is worth a word where nothing of it was read.
const sheetOfNumbers = 4

// unread tells of sheets of which nothing was read although they hold numbers, where others of the file were.
func (w *work) unread(pages []*evidence.Page, ledgers []*record.Ledger) {
	var silent []*evidence.Page
	for i, p := range pages {
		n := ledgers[i].Tally()
		if n[record.AsRecord]+n[record.AsContext]+n[record.AsQuestion]+n[record.AsReject] > 0 {
			continue
		}
		figures := 0
		for _, r := range p.Grid.Rows {
			for _, c := range r.Cells {
				if c.Kind == sheet.Number || c.Kind == sheet.Date || c.Kind == sheet.Text && c.Raw != "" && strings.Trim(c.Raw, "0123456789.,/-: ") == "" {
					figures++
				}
			}
		}
		if figures >= sheetOfNumbers {
			silent = append(silent, p)
		}
	}
	if len(silent) == len(pages) {
		return // the file's outcome says so
	}
	for _, p := range silent {
		at := record.Ref{File: p.Grid.File, Sheet: p.Grid.Sheet}
		w.Flock("").Ask.Add(record.Question{Class: "sheet_not_read", At: at,
			Message: fmt.Sprintf("%s: no table of birds was found on this sheet, so nothing of it is read; put one line of headings above its columns (date, ring, weight in g)", at)})
	}
}

// newLedger has room for every cell of a sheet.
func newLedger(g *sheet.Grid) *record.Ledger {
	l := &record.Ledger{File: g.File, Sheet: g.Sheet}
	cells := 0
	for _, r := range g.Rows {
		cells += len(r.Cells)
	}
	if len(g.Rows) > 0 {
		l.Fates = make([][]record.Fate, g.Rows[len(g.Rows)-1].N)
	}
	all := make([]record.Fate, cells)
	for _, r := range g.Rows {
		n := len(r.Cells)
		l.Fates[r.N-1], all = all[:n:n], all[n:]
	}
	return l
}

// answer looks for the answer to a question about a whole column or file.
func (c *Flocks) answer(key string) (string, bool) { return c.replies.Column(key) }

// scales asks for the scale of each column of scores that has none: once for all sheets with its heading.
func (w *work) scales() {
	for _, k := range w.Pools() {
		if w.unscaled[k] {
			w.Flock("").Ask.Add(record.Question{Class: "scale_unknown", At: k.At, Raw: k.Heading, Key: ask.ColumnKey("scale_unknown", w.Name, k.Heading),
				Message:  fmt.Sprintf("%s: no scale is stated for %q; from what to what does it run, and which end is good? Until then it is shown, but not compared", k.At, k.Heading),
				Readings: []record.Reading{{Label: "0 to 3", Value: "0-3"}, {Label: "1 to 5", Value: "1-5"}, {Label: "1 to 9", Value: "1-9"}}})
		}
	}
}

// Package ingest reads keepers' spreadsheets into flocks of records, and accounts for every cell.
//
// The data's path: sources become files (source.go), files grids (package sheet), grids tables (package
// layout). Per file, the evidence of all its cells decides how dates, units and signs are read (package
// evidence). Each line of each table gives looks and events (package reading). Then, for the flock as a whole,
// it is decided which bird is which (package identity), which pens are one (pens.go), which numbers are no birds
// (samples.go), what was written twice and what cannot be (settle.go). What cannot be decided is asked (package
// ask): a question names its cells, and they hold no unmarked record until it is answered.
//
// It refuses to change a keeper's file, to guess a unit, an order of dates or a bird, to judge a value
// against a bird's growth (analysis/slip does), and to drop a cell.
package ingest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/reading"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
	"keelmark/ingest/sheet"
)

// Options are what the caller adds to the sources.
type Options struct {
	Today    record.Day           // later dates are asked about; 0 no check
	Settings record.Settings      // from flags: what is set here wins over flock.toml
	Answers  *settings.Answers    // may be nil; where the flock's own folder has an answers.toml, that counts
	Limits   sheet.Limits         // zero takes the defaults
	Progress func(Progress) error // called as files are read; an error stops Load; may be nil
	// StandardTable is a file of the keeper's own standard weights, in place of the one that flock.toml names; "" for that.
	StandardTable string
	// KeepTexts fills Ledger.Texts, for pages that show the sheets.
	KeepTexts bool
	// Breeds are names that are known to be spelt right. A breed that is nearly one of them is asked about; a flock's own
	// breeds in flock.toml are always known.
	Breeds []string
}

// Progress says how far reading is.
type Progress struct {
	File  string // base name of the file that is read next; "" at the end
	Done  int    // files read
	Files int
}

// ErrNoSheets is the error of sources that hold no file that could be a spreadsheet.
var ErrNoSheets = errors.New("no spreadsheet found")

// Load reads the sources and returns one dataset a flock, in the order of the sources. A folder is one flock,
// loose files together are one, and a column of flocks splits. A file that cannot be read is one record.File
// with the outcome refused; the others go on. The error is one of the sources themselves (a path that does
// not exist, a folder without sheets), of the settings, or of the context.
func Load(ctx context.Context, sources []string, o Options) ([]*record.Dataset, error) {
	groups, err := gather(sources)
	if err != nil {
		return nil, err
	}
	files, done := 0, 0
	for _, g := range groups {
		files += len(g.paths)
	}
	var out []*record.Dataset
	for _, g := range groups {
		r, err := newReader(ctx, g, o)
		if err != nil {
			return nil, err
		}
		files -= len(g.paths) - len(r.paths)
		for _, path := range r.paths {
			if o.Progress != nil {
				if err := o.Progress(Progress{base(path), done, files}); err != nil {
					return nil, err
				}
			}
			if err := r.file(ctx, path, o.Limits); err != nil {
				return nil, err
			}
			done++
		}
		sets, err := r.finish(ctx)
		if err != nil {
			return nil, err
		}
		out = append(out, sets...)
	}
	if o.Progress != nil {
		if err := o.Progress(Progress{"", done, files}); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// reader reads the files of one source.
type reader struct {
	name    string
	set     record.Settings
	replies *ask.Replies
	today   record.Day
	texts   bool
	files   []record.File
	flocks  *reading.Flocks
	paths   []string // of files to read as records

	standards []record.PublishedWeight // the keeper's own
}

func newReader(ctx context.Context, g group, o Options) (*reader, error) {
	set, answers, err := g.settings()
	if err != nil {
		return nil, err
	}
	if answers == nil {
		answers = o.Answers
	}
	r := &reader{name: g.name, set: overlay(set, o.Settings), replies: ask.NewReplies(answers), today: o.Today, texts: o.KeepTexts, paths: g.paths}
	r.flocks = reading.New(r.set, r.replies)
	if err := r.ownTable(ctx, g, o); err != nil {
		return nil, err
	}
	r.flocks.Breeds = slices.Clone(o.Breeds)
	for _, w := range r.standards {
		r.flocks.Breeds = append(r.flocks.Breeds, w.Breed)
	}
	return r, nil
}

// file reads one file. What is wrong with it is told in its outcome; only the end of the context is an error.
func (r *reader) file(ctx context.Context, path string, lim sheet.Limits) error {
	book, err := sheet.OpenFile(ctx, path, lim)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		r.files = append(r.files, record.File{Name: base(path), Outcome: record.Refused, Reason: plain(err)})
		return nil
	}
	f := record.File{Name: book.File, Hash: book.Hash, Notes: book.Notes}
	for _, other := range r.files {
		if other.Hash == f.Hash && other.Outcome == record.Imported {
			f.Outcome, f.Reason = record.Nothing, fmt.Sprintf("%s has the same content as %s and is counted once", f.Name, other.Name)
			r.files = append(r.files, f)
			return nil
		}
	}
	r.replies.Follow(book.File, func() []ask.Sheet { return sheetsOf(book) })
	before, ledgers := r.flocks.Len(), len(r.flocks.Ledgers)
	weighed := evidence.Weigh(book, r.set, r.replies, r.today)
	if err := r.flocks.Read(ctx, weighed); err != nil {
		return err
	}
	if r.texts {
		keepTexts(book, r.flocks.Ledgers[ledgers:])
	}
	if f.Outcome = record.Imported; r.flocks.Len() == before {
		f.Outcome, f.Reason = record.Nothing, nothing(book, weighed)
	} else {
		f.Notes = append(f.Notes, weighed.Notes...)
	}
	r.files = append(r.files, f)
	return nil
}

// nothing says why a sound file gave no records: of each sheet what was found there, and what is missing.
func nothing(b *sheet.Book, w *evidence.File) string {
	empty := true
	for _, g := range b.Grids {
		empty = empty && len(g.Rows) == 0
	}
	if empty {
		return b.File + " holds no cells; save it again from the program that made it"
	}
	return strings.Join(reading.Silent(w), "; ")
}

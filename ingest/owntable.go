package ingest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
	"keelmark/ingest/standards"
)

// ownTable reads the keeper's own table of standard weights, where there is one, and takes its file out of those that are
// read as records. The error names the file and the cure: a table that was asked for and left out would let a published
// weight stand in its place unseen.
func (r *reader) ownTable(ctx context.Context, g group, o Options) error {
	path, from := o.StandardTable, "--standard-table"
	if path == "" {
		if path = r.set.Flock.StandardTable; path == "" {
			return nil
		}
		from = "standard_table in flock.toml"
		if path = filepath.FromSlash(path); !filepath.IsLocal(path) {
			return fmt.Errorf("flock.toml: standard_table is %q, outside its own folder; copy the file there, and write its name only", r.set.Flock.StandardTable)
		}
		path = filepath.Join(g.place(), path)
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s: there is no such file, which %s names; put it there, or correct the name", path, from)
	case err != nil:
		return err
	case info.IsDir():
		return fmt.Errorf("%s is a folder, and %s needs a file; name the csv in it", path, from)
	}
	book, err := sheet.OpenFile(ctx, path, o.Limits)
	if err != nil {
		return err
	}
	if r.standards, err = standards.Read(book); err != nil {
		return err
	}
	before := len(r.paths)
	r.paths = slices.DeleteFunc(slices.Clone(r.paths), func(other string) bool {
		that, err := os.Stat(other)
		return err == nil && os.SameFile(info, that)
	})
	if len(r.paths) < before {
		r.files = append(r.files, record.File{Name: book.File, Hash: book.Hash, Outcome: record.Nothing,
			Reason: fmt.Sprintf("%s is your own table of standard weights (%s), and is not read as records", book.File, from)})
	}
	if len(r.paths) == 0 {
		return fmt.Errorf("%w beside your own table of standard weights, %s; put the flock's records there", ErrNoSheets, book.File)
	}
	return nil
}

// place is the folder from which flock.toml sees other files.
func (g group) place() string {
	if g.dir == "" && len(g.paths) > 0 {
		return filepath.Dir(g.paths[0])
	}
	return g.dir
}

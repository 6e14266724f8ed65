// Package intake brings a season's spreadsheets into the folder of a flock: it copies the originals untouched,
// reconciles them with what is there, and logs what was done.
//
// The data's path: Prepare looks at the files and reads the flock as it is and as it would become, in a folder
// aside (plan.go); what is different in an edited sheet is found cell by cell (diff.go) and what the new records
// mean for the birds is counted (meaning.go). Commit then copies into the flock's folder (commit.go). It can be
// killed at any moment: all copying goes to a hidden folder first, a journal then says what is to happen, and only
// renames follow, which Resume finishes. An older file that a newer one replaces is kept in the folder "earlier",
// which is not read.
//
// It refuses to change a file's bytes, to overwrite a file without keeping it, to copy what cannot be read unless
// told to, and to delete anything but its own copies.
package intake

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"keelmark/ingest"
	"keelmark/ingest/record"
)

// The names that an import uses in a flock's folder.
const (
	EarlierFolder = "earlier"     // replaced originals
	LogFile       = "imports.log" // one line an import
)

// Options say how to read and what to copy.
type Options struct {
	Load   ingest.Options
	Anyway bool // also copy files that cannot be read, and go back to a file that was replaced before
}

// Action is what an import does with one file.
type Action string

// The actions.
const (
	Add     Action = "new"
	Replace Action = "edited"        // a file of this name and other content is there; it goes to "earlier"
	Same    Action = "already there" // nothing to do
	Skip    Action = "not copied"
)

// Item is one file to import.
type Item struct {
	Source  string // path as given
	Name    string // in the flock's folder
	Hash    string // SHA-256 of the content, hexadecimal
	Action  Action
	Reason  string      // for Same and Skip, with the cure
	OldHash string      // for Replace
	Earlier string      // for Replace: where the older file is kept, below the flock's folder
	Diffs   []SheetDiff // for Replace: what is different, sheet by sheet
}

// Copied reports whether the file goes into the flock's folder.
func (i Item) Copied() bool { return i.Action == Add || i.Action == Replace }

// Plan is an import that has been prepared and not yet done.
type Plan struct {
	Dir    string
	Items  []Item
	Before []*record.Dataset // nil where the folder holds no sheets yet
	After  []*record.Dataset // as the folder would be read after the import; nil where it would hold no sheets

	// Carried tells, a sentence each, what is taken along from beside the files, and what differs there from what the
	// folder says.
	Carried []string

	sides []side            // new states of flock.toml and answers.toml
	there map[string]string // the files of the flock's folder by name, with their hashes

	aside string // folder with the copies that were read
	step  func() // called before and after each change of a file; nil but in tests
}

// Close removes what Prepare put aside. It touches nothing of the flock.
func (p *Plan) Close() error { return os.RemoveAll(p.aside) }

// Nothing reports whether no file is to be copied and nothing taken along.
func (p *Plan) Nothing() bool {
	if len(p.sides) > 0 {
		return false
	}
	for _, i := range p.Items {
		if i.Copied() {
			return false
		}
	}
	return true
}

// isReserved reports whether a name is not free for a keeper's sheet in a flock's folder.
func isReserved(name string) bool {
	for _, r := range []string{"flock.toml", "answers.toml", LogFile, EarlierFolder} {
		if strings.EqualFold(name, r) {
			return true
		}
	}
	return strings.HasPrefix(name, ".")
}

// hashFile is the SHA-256 of a file, hexadecimal.
func hashFile(ctx context.Context, path string) (string, error) {
	return copyFile(ctx, path, io.Discard, nil)
}

// copyFile copies a file and returns the hash of what was copied.
func copyFile(ctx context.Context, path string, to io.Writer, step func()) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	to = io.MultiWriter(to, sum)
	buf := make([]byte, 64<<10)
	for {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		n, err := f.Read(buf)
		if n > 0 {
			if step != nil {
				step()
			}
			if _, err := to.Write(buf[:n]); err != nil {
				return "", err
			}
		}
		if errors.Is(err, io.EOF) {
			return hex.EncodeToString(sum.Sum(nil)), nil
		}
		if err != nil {
			return "", fmt.Errorf("cannot read %s: %w", path, err)
		}
	}
}

// copyTo copies a file to a new file, safely on disk, with its time of last change.
func copyTo(ctx context.Context, path, target string, step func()) (hash string, err error) {
	if err := os.MkdirAll(filepath.Dir(target), 0o755); err != nil {
		return "", err
	}
	out, err := os.OpenFile(target, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return "", err
	}
	if hash, err = copyFile(ctx, path, out, step); err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err != nil {
		return "", err
	}
	if info, err := os.Stat(path); err == nil {
		// The time is a convenience: where a disk cannot keep it, the copy is whole all the same.
		_ = os.Chtimes(target, info.ModTime(), info.ModTime())
	}
	return hash, nil
}

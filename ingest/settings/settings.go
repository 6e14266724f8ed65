// Package settings reads what a keeper wrote about a flock, flock.toml, and reads and writes the answers that
// Keelmark keeps, answers.toml.
//
// All of flock.toml is optional and all of it is checked: a key that is not known, a value that is not allowed
// and a date that the calendar does not have are each named with their line and the cure, all at once.
//
// It refuses to touch a file (bytes come in, bytes go out), to ignore what it does not know, and to say what a
// setting means for a cell.
package settings

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Fault is one thing wrong in a settings file.
type Fault struct {
	File    string // base name
	Line    int    // counted from 1; 0 where no line can be named
	Message string // what is wrong and the cure
}

// String is the fault as a sentence names it: "flock.toml, line 4: ...".
func (f Fault) String() string {
	if f.Line == 0 {
		return f.File + ": " + f.Message
	}
	return fmt.Sprintf("%s, line %d: %s", f.File, f.Line, f.Message)
}

// Faults is the error of a settings file: all that is wrong in it, by line.
type Faults []Fault

// Error gives one fault a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		lines[i] = fault.String()
	}
	return strings.Join(lines, "\n")
}

// largest is how long a settings file may be in bytes: far more than anybody writes, and soon read.
const largest = 1 << 20

// parse reads TOML into tables and finds the line of every key.
func parse(file string, data []byte) (*document, error) {
	d := &document{file: file}
	fail := func(line int, message string) (*document, error) {
		return nil, Faults{{file, line, message}}
	}
	switch {
	case len(data) > largest:
		return fail(0, fmt.Sprintf("is larger than %d MB; a settings file holds a few lines", largest>>20))
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		return fail(0, "is written in UTF-16; save it as UTF-8")
	}
	// Some editors put a mark before UTF-8.
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if err := toml.Unmarshal(data, &d.root); err != nil {
		var where *toml.DecodeError
		if !errors.As(err, &where) {
			return fail(0, plain(err))
		}
		line, _ := where.Position()
		return fail(line, plain(err)+`; a setting is written as key = "text", a number or a date such as 2025-03-01`)
	}
	d.lines = keyLines(data)
	return d, nil
}

// plain is the TOML library's message without its own prefix.
func plain(err error) string { return strings.TrimPrefix(err.Error(), "toml: ") }

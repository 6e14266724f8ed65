package settings

import (
	"bytes"
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Answer is what the keeper chose when asked, with the cell and its text at that time, so that an answer which
// no longer fits can be told.
type Answer struct {
	Key   string // of the question
	Value string // what was chosen, as the question's reading stores it
	Cell  string // key of the first cell: "weights.xlsx!Flock A!D14"
	Raw   string // its text when it was answered
	Row   string // what its row then held, so that the answer follows the row; "" where the question is about more
	Line  int    // of answers.toml, counted from 1; not written
}

// Fits reports whether the cell still holds the text that the answer was given for; outer white space does not
// count.
func (a Answer) Fits(raw string) bool { return strings.TrimSpace(a.Raw) == strings.TrimSpace(raw) }

// Answers is answers.toml. The zero value and nil hold none.
type Answers struct {
	file  string
	byKey map[string]Answer
}

// File is the base name of the file that holds the answers, as messages name it.
func (a *Answers) File() string {
	if a == nil || a.file == "" {
		return "answers.toml"
	}
	return a.file
}

// ReadAnswers reads answers.toml. file is its base name, for messages. The error is Faults.
func ReadAnswers(file string, data []byte) (*Answers, error) {
	d, err := parse(file, data)
	if err != nil {
		return nil, err
	}
	a := &Answers{file: file}
	top := d.top()
	v, _ := top.take("answer")
	list, ok := v.([]any)
	if v != nil && !ok {
		d.fault(join("", "answer"), "each answer begins with a line [[answer]]")
	}
	for i, e := range list {
		t := &table{d: d, path: join(join("", "answer"), strconv.Itoa(i)), name: "an answer"}
		if t.keys, ok = e.(map[string]any); !ok {
			d.fault(join("", "answer"), "each answer begins with a line [[answer]]")
			continue
		}
		a.read(t)
	}
	top.done(nil)
	return a, d.err()
}

func (a *Answers) read(t *table) {
	var one Answer
	for key, at := range one.fields() {
		v, ok := t.take(key)
		if !ok {
			continue
		}
		if *at, ok = v.(string); !ok {
			t.d.fault(join(t.path, key), "%s is a text; write it in quotes", key)
		}
	}
	t.done(nil)
	one.Line = t.d.lines[t.path]
	switch _, twice := a.Get(one.Key); {
	case one.Key == "":
		t.d.fault(t.path, "this answer names no question; give it the key that stood there, or delete the answer and be asked again")
	case twice:
		t.d.fault(join(t.path, "key"), "the question %q is answered twice; delete one of the answers", one.Key)
	default:
		a.Set(one)
	}
}

// fields yields the keys of an answer in the order in which they are written.
func (a *Answer) fields() func(yield func(string, *string) bool) {
	return func(yield func(string, *string) bool) {
		_ = yield("key", &a.Key) && yield("answer", &a.Value) && yield("cell", &a.Cell) && yield("raw", &a.Raw) && yield("row", &a.Row)
	}
}

// Get returns the answer to a question.
func (a *Answers) Get(key string) (Answer, bool) {
	if a == nil {
		return Answer{}, false
	}
	one, ok := a.byKey[key]
	return one, ok
}

// Answer returns what was chosen under a question's key.
func (a *Answers) Answer(key string) (value string, ok bool) {
	one, ok := a.Get(key)
	return one.Value, ok
}

// Set adds an answer in place of an older one to the same question.
func (a *Answers) Set(one Answer) { set(&a.byKey, one.Key, one) }

// Clone returns a copy that can be changed by itself; of nil an empty one.
func (a *Answers) Clone() *Answers {
	c := &Answers{file: a.File()}
	for _, one := range a.All() {
		c.Set(one)
	}
	return c
}

// Delete forgets the answer to a question, which is then asked again.
func (a *Answers) Delete(key string) {
	if a != nil {
		delete(a.byKey, key)
	}
}

// All returns the answers by cell, then key.
func (a *Answers) All() []Answer {
	if a == nil {
		return nil
	}
	all := make([]Answer, 0, len(a.byKey))
	for _, one := range a.byKey {
		all = append(all, one)
	}
	slices.SortFunc(all, func(x, y Answer) int { return cmp.Or(cmp.Compare(x.Cell, y.Cell), cmp.Compare(x.Key, y.Key)) })
	return all
}

// Encode writes answers.toml: the same answers give the same bytes. Text that is no UTF-8 is written with the
// usual stand-in, U+FFFD.
func (a *Answers) Encode() ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("# Written by Keelmark: your answers to its questions. Delete an answer to be asked again.\n")
	for _, one := range a.All() {
		b.WriteString("\n[[answer]]\n")
		for key, value := range one.fields() {
			if key == "row" && *value == "" {
				continue
			}
			line, err := toml.Marshal(map[string]string{key: strings.ToValidUTF8(*value, "\uFFFD")})
			if err != nil {
				return nil, err
			}
			b.Write(line)
		}
	}
	return b.Bytes(), nil
}

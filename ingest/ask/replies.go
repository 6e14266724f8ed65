package ask

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// Replies looks up the keeper's answers to earlier questions, and remembers which were of use.
type Replies struct {
	from  *settings.Answers
	used  map[string]bool
	stale []settings.Answer // given for another text than the cell now holds
	lost  []settings.Answer // their row is not there as it was
	moved []movedAnswer
	wrong []settings.Answer // none of what their question takes
}

// NewReplies begins with the answers of answers.toml, which may be nil. They are not changed.
func NewReplies(a *settings.Answers) *Replies {
	return &Replies{from: a.Clone(), used: map[string]bool{}}
}

// Column returns the answer to a question about a whole column, file or flock. An answer that the question does not
// take counts as none.
func (r *Replies) Column(key string) (string, bool) {
	a, ok := r.from.Get(key)
	if !ok {
		return "", false
	}
	return a.Value, r.takes(a)
}

// takes reports whether an answer is one of those that its question takes, and remembers that it was of use.
func (r *Replies) takes(a settings.Answer) bool {
	ok := Takes(a.Key, a.Value)
	if !ok && !r.used[a.Key] {
		r.wrong = append(r.wrong, a)
	}
	r.used[a.Key] = true
	return ok
}

// Cell returns the answer to a question about one cell, if the cell still holds the text that it was given for.
func (r *Replies) Cell(key, raw string) (string, bool) {
	a, ok := r.from.Get(key)
	if !ok {
		return "", false
	}
	if !a.Fits(raw) {
		if !r.used[key] {
			r.used[key] = true
			r.stale = append(r.stale, a)
		}
		return "", false
	}
	return a.Value, r.takes(a)
}

// Renamed finds the answer to the question of a class about a column whose heading was changed since: its cell stood in the
// column of this heading, which still holds its text, and no column of the file has its heading any more. It returns that
// heading.
func (r *Replies) Renamed(class string, heading record.Ref, has, holds func(text string) bool) (value, was string, ok bool) {
	for _, a := range r.from.All() {
		was, mine := strings.CutPrefix(a.Key, ColumnKey(class, heading.File, ""))
		_, col := place(a.Cell)
		if !mine || !inSheet(a.Cell, record.Ref{File: heading.File, Sheet: heading.Sheet}) || col+1 != int(heading.Col) || has(was) || !holds(a.Raw) {
			continue
		}
		return a.Value, was, r.takes(a)
	}
	return "", "", false
}

// columnWords tells of an answer about a column that no question asks for.
func (r *Replies) columnWords(a settings.Answer) string {
	class, rest, _ := strings.Cut(a.Key, " ")
	_, heading, _ := strings.Cut(rest, " ")
	file, _, _ := strings.Cut(a.Cell, "!")
	if after, ok := strings.CutPrefix(rest, file+" "); ok {
		heading = after
	}
	return fmt.Sprintf("%s: the answer %q to the question %s about %q is not used: nothing asks for it now. Where its heading was changed in the sheet, the question comes up again under the new one; answer it there, or put the heading back (%s)",
		a.Cell, a.Value, class, strings.TrimSpace(heading), r.lineOf(a))
}

// Refuse tells that an answer, which was looked up, settles nothing.
func (r *Replies) Refuse(key string) {
	a, ok := r.from.Get(key)
	if ok && !slices.Contains(r.wrong, a) {
		r.wrong = append(r.wrong, a)
	}
}

// Outdated tells of the answers about cells of a file that followed their rows, that no longer fit, that settle nothing,
// or that no question asks for any more.
func (r *Replies) Outdated(file string) []string {
	var out []string
	for _, m := range r.moved {
		if m.to.File == file {
			out = append(out, m.String())
		}
	}
	for _, a := range r.lost {
		if cellOf(a.Cell, file) {
			out = append(out, r.lostWords(a))
		}
	}
	for _, a := range r.stale {
		if cellOf(a.Cell, file) {
			out = append(out, fmt.Sprintf("%s: you answered %q when the cell held %q; it has changed since, so the question is open again", a.Cell, a.Value, parse.Shown(a.Raw)))
		}
	}
	for _, a := range r.wrong {
		if cellOf(a.Cell, file) || a.Cell == "" && strings.Contains(a.Key, " "+file+" ") {
			out = append(out, r.wrongWords(a))
		}
	}
	for _, a := range r.from.All() {
		if r.used[a.Key] || aboutSlip(a) || !cellOf(a.Cell, file) {
			continue
		}
		if !AboutOneCell(a) {
			out = append(out, r.columnWords(a))
		} else {
			out = append(out, fmt.Sprintf("%s: the answer %q to %q is no longer needed (%s)", a.Cell, a.Value, parse.Shown(a.Raw), r.lineOf(a)))
		}
	}
	return out
}

// Answers are the answers as they followed their rows. Those whose row is gone stay as they were, for the keeper to see,
// unless another answer has come to their place.
func (r *Replies) Answers() *settings.Answers {
	all := r.from.Clone()
	for _, a := range r.lost {
		if _, taken := all.Get(a.Key); !taken {
			all.Set(a)
		}
	}
	return all
}

// aboutSlip reports whether an answer is to a question of analysis/slip, whose keys end in the cell's text: whether it
// is of use is known only after reading.
func aboutSlip(a settings.Answer) bool {
	return a.Raw != "" && strings.HasSuffix(a.Key, " "+a.Cell+" "+strings.TrimSpace(a.Raw))
}

// All returns the answers by their questions' keys.
func (r *Replies) All() map[string]string {
	out := map[string]string{}
	for _, a := range r.from.All() {
		out[a.Key] = a.Value
	}
	return out
}

func cellOf(key, file string) bool {
	return len(key) > len(file) && key[:len(file)] == file && key[len(file)] == '!'
}

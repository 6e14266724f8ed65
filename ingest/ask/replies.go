package ask

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/settings"
)

// Replies looks up the keeper's answers to earlier questions, and remembers which were of use.
type Replies struct {
	from  *settings.Answers
	used  map[string]bool
	stale []settings.Answer // given for another text than the cell now holds
}

// NewReplies begins with the answers of answers.toml, which may be nil.
func NewReplies(a *settings.Answers) *Replies { return &Replies{from: a, used: map[string]bool{}} }

// Column returns the answer to a question about a whole column, file or flock.
func (r *Replies) Column(key string) (string, bool) {
	a, ok := r.from.Get(key)
	if ok {
		r.used[key] = true
	}
	return a.Value, ok
}

// Cell returns the answer to a question about one cell, if the cell still holds the text that it was given for.
func (r *Replies) Cell(key, raw string) (string, bool) {
	a, ok := r.from.Get(key)
	if !ok {
		return "", false
	}
	if r.used[key] {
		return a.Value, a.Fits(raw)
	}
	r.used[key] = true
	if !a.Fits(raw) {
		r.stale = append(r.stale, a)
		return "", false
	}
	return a.Value, true
}

// Outdated tells of the answers about cells of a file that no longer fit, or that no question asks for any more.
func (r *Replies) Outdated(file string) []string {
	var out []string
	for _, a := range r.stale {
		if cellOf(a.Cell, file) {
			out = append(out, fmt.Sprintf("%s: you answered %q when the cell held %q; it has changed since, so the question is open again", a.Cell, a.Value, parse.Shown(a.Raw)))
		}
	}
	for _, a := range r.from.All() {
		if !r.used[a.Key] && !aboutSlip(a) && cellOf(a.Cell, file) && !slices.Contains(r.stale, a) {
			out = append(out, fmt.Sprintf("%s: the answer %q to %q is no longer needed", a.Cell, a.Value, parse.Shown(a.Raw)))
		}
	}
	return out
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

package kernel

import "slices"

// thisSession is the number of this kernel's session in its history, which holds no other.
const thisSession = 1

// history is what was run, for consoles that offer it again. It is kept while the kernel lives.
type history struct{ entries []entry }

type entry struct {
	line          int
	input, output string
}

func (h *history) add(line int, input, output string) {
	h.entries = append(h.entries, entry{line, input, output})
}

type historyRequest struct {
	Access  string `json:"hist_access_type"` // range, tail or search
	Output  bool   `json:"output"`
	Session int    `json:"session"`
	Start   int    `json:"start"`
	Stop    *int   `json:"stop"`
	N       *int   `json:"n"`
	Pattern string `json:"pattern"`
	Unique  bool   `json:"unique"`
}

// find answers a request with [session, line, input] or [session, line, [input, output]].
func (h *history) find(q historyRequest) [][]any {
	found := h.entries
	switch q.Access {
	case "range":
		if q.Session != 0 && q.Session != thisSession {
			found = nil
		}
		found = slices.DeleteFunc(slices.Clone(found), func(e entry) bool {
			return e.line < q.Start || q.Stop != nil && e.line >= *q.Stop
		})
	case "search":
		pattern := q.Pattern
		if pattern == "" {
			pattern = "*"
		}
		found = slices.DeleteFunc(slices.Clone(found), func(e entry) bool { return !glob([]rune(pattern), []rune(e.input)) })
		if q.Unique { // the last of each
			seen := map[string]bool{}
			slices.Reverse(found)
			found = slices.DeleteFunc(found, func(e entry) bool {
				again := seen[e.input]
				seen[e.input] = true
				return again
			})
			slices.Reverse(found)
		}
	}
	if q.Access != "range" && q.N != nil {
		found = found[max(0, len(found)-max(0, *q.N)):]
	}
	out := [][]any{}
	for _, e := range found {
		if q.Output {
			var shown any
			if e.output != "" {
				shown = e.output
			}
			out = append(out, []any{thisSession, e.line, []any{e.input, shown}})
		} else {
			out = append(out, []any{thisSession, e.line, e.input})
		}
	}
	return out
}

// glob reports whether a text matches a pattern in which * is anything and ? one character, line ends too.
// After a mismatch only the last * needs to be tried again, so that no pattern takes long.
func glob(pattern, text []rune) bool {
	p, t, star, from := 0, 0, -1, 0
	for t < len(text) {
		switch {
		case p < len(pattern) && pattern[p] == '*':
			star, from = p, t
			p++
		case p < len(pattern) && (pattern[p] == '?' || pattern[p] == text[t]):
			p++
			t++
		case star >= 0:
			from++
			p, t = star+1, from
		default:
			return false
		}
	}
	for p < len(pattern) && pattern[p] == '*' {
		p++
	}
	return p == len(pattern)
}

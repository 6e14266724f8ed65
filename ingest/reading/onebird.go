package reading

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// alone finds the one bird that a whole diary is about: its weights stand without a bird, no statement weighs or names
// another, and its title, its sheet's name or its file's name is a name. A file's name is asked about, and so is a
// diary that names nobody.
func (l *lines) alone(entries []entry) {
	bare := record.Ref{}
	for _, e := range entries {
		for _, c := range e.clauses {
			if c.kind == weightClause && c.bird != "" {
				return
			}
			if c.kind == weightClause && bare.Row == 0 {
				bare = e.at
			}
		}
	}
	if bare.Row == 0 {
		return
	}
	for _, of := range []struct{ text, step string }{{l.t.Title, "bird from the title above"}, {l.page.Grid.Sheet, "bird from the name of the sheet"}} {
		if who, ok := titleBird(of.text); ok {
			l.fixedName, l.fixedFrom = who, of.step
			l.fixedAt = [2]record.Ref{bare, bare}
			return
		}
	}
	q := l.missingBird(&line{n: int(bare.Row) - 1})
	q.At = bare
	q.Message = fmt.Sprintf("%s: no bird is named in this diary; which bird is it about?", bare)
	who, ok := titleBird(strings.TrimSuffix(l.Name, filepath.Ext(l.Name)))
	if ok {
		q.Message = fmt.Sprintf("%s: no bird is named in this diary; is it about %s, as its file's name says?", bare, who.name)
		q.Readings = []record.Reading{{Label: "yes, about " + who.name, Value: who.name}, {Label: "leave the diary out", Value: ""}}
	}
	if a, answered := l.saidBird(q); answered {
		if who, ok = (named{name: parse.Name(a)}), strings.TrimSpace(a) != ""; strings.ContainsAny(a, "0123456789") {
			who = named{ring: a}
		}
	} else {
		l.Flock("").Ask.Add(q)
		l.loneDoubt = true
	}
	if ok {
		l.fixedName, l.fixedFrom = who, "bird from the file's name"
		l.fixedAt = [2]record.Ref{bare, bare}
	}
	l.loneAsked = true
}

var ringWord = regexp.MustCompile(`(?i)\b(?:ring|band|leg ring|tag)(?: no\.?| number)?[ :.#]*([A-Za-z]{0,4}[ -]?[0-9][0-9A-Za-z/-]*)`)

// titleBird reads a title that is a bird's name, perhaps with its ring: "Gladys (ring 2417, Buff Orpington hen)".
func titleBird(title string) (named, bool) {
	head, rest := title, ""
	if i := strings.IndexAny(title, "(,:;-–"); i > 0 {
		head, rest = title[:i], title[i:]
	}
	var words []string
	for _, w := range strings.Fields(strings.ReplaceAll(head, "_", " ")) {
		switch folded := strings.TrimSuffix(strings.TrimSuffix(parse.Fold(w), "'s"), "’s"); folded {
		case "diary", "notes", "log", "record", "records", "book", "journal", "the", "my", "of", "for", "weights", "weight", "weighings", "notebook":
		default:
			words = append(words, strings.TrimSuffix(strings.TrimSuffix(w, "'s"), "’s"))
		}
	}
	name := strings.Join(words, " ")
	if len(words) == 0 || len(words) > 2 || len([]rune(name)) < 3 || len(name) > 40 || layout.PlainTitle(name) || parse.NoName(name) || parse.Amount(name) ||
		slices.ContainsFunc(words, func(w string) bool { b := parse.Subject(w); return b.Foreign || b.Feed || b.Trade }) {
		return named{}, false
	}
	who := named{name: name}
	if m := ringWord.FindStringSubmatch(rest); m != nil {
		who.ring = m[1]
	}
	if m := parse.Heading(name); len(m) > 0 && m[0].Confidence >= 0.6 {
		return named{}, false
	}
	if strings.ContainsAny(name, "0123456789") {
		who = named{ring: name}
	}
	return who, true
}

// retold reads the statements of a one-bird diary that name nobody: what was found on the bird, and what became of it.
func (l *lines) retold(entries []entry) {
	if l.fixedName == (named{}) {
		return
	}
	for _, e := range entries {
		for i, c := range e.clauses {
			if c.kind != remarkClause || scopeIn(c.text) {
				continue
			}
			said := parse.T(c.text)
			if kind := parse.Parasite(c.text); kind != "" {
				if _, p := parse.Finding(said, parse.FindingIn{Parasite: kind}); p == nil {
					e.clauses[i].kind, e.clauses[i].rest = findingClause, said
				}
			} else if _, gone := parse.Gone(c.text); gone && len(strings.Fields(c.text)) <= 6 && !parse.CameBack(c.text) {
				e.clauses[i].kind, e.clauses[i].rest = goneClause, said
			}
		}
	}
}

// scopeIn reports whether words speak of a pen or of the whole flock.
func scopeIn(text string) bool {
	words := strings.Fields(text)
	for i := range words {
		for j := i + 1; j <= min(i+2, len(words)); j++ {
			if scope, _ := parse.Scope(strings.Join(words[i:j], " ")); scope != record.OneBird {
				return true
			}
		}
	}
	return false
}

// ofNobody asks whose a weight is that names no bird.
func (l *lines) ofNobody(b line, e entry, c clause) {
	l.mark(e.at, record.AsQuestion)
	if l.loneAsked {
		return
	}
	q := record.Question{Class: "bird_missing", At: e.at, Raw: c.text, Key: ask.CellKey("bird_missing", e.at) + " " + c.text,
		Message:  fmt.Sprintf("%s: no bird is named with %q; write the bird's ring or name before it", e.at, parse.Shown(c.text)),
		Readings: []record.Reading{{Label: "leave it out", Value: ""}}}
	if _, answered := l.replies.Cell(q.Key, q.Raw); !answered {
		b.flock.Ask.Add(q)
	}
}

// weightIn finds a weight that a fowl may have among the words of a statement, "she made 3 lb 2 oz on the scales"; "" where
// there is none, or the statement is of feed or other goods.
func weightIn(text string) string {
	if b := parse.Subject(text); b.Feed || b.Foreign || strings.Contains(strings.ToLower(text), "egg") {
		return ""
	}
	words := strings.Fields(text)
	for i := range words {
		for n := min(4, len(words)-i); n > 0; n-- {
			span := strings.Trim(strings.Join(words[i:i+n], " "), "(),;:")
			if m, p := parse.Weight(parse.T(span), parse.WeightIn{}); p == nil && m.Unit != "" && parse.Amount(span) {
				return span
			}
		}
	}
	return ""
}

// inWords asks about a weight that a statement tells in a form that is not read.
func (l *lines) inWords(b *line, text string, at record.Ref) {
	said := weightIn(text)
	if said == "" {
		return
	}
	q := record.Question{Class: "weight_in_words", At: at, Raw: text, Key: ask.CellKey("weight_in_words", at) + " " + text,
		Message:  fmt.Sprintf("%s: %q tells of a weight (%s), but not in a form that can be read; write it as date, bird, weight, or leave it a remark", at, parse.Shown(text), said),
		Readings: []record.Reading{{Label: "leave it a remark", Value: ""}}}
	if _, answered := l.replies.Cell(q.Key, q.Raw); !answered {
		b.flock.Ask.Add(q)
		l.mark(at, record.AsQuestion)
	}
}

package reading

import (
	"path/filepath"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// when is a day or an age that holds for a whole table.
type when struct {
	cell parse.Cell
	age  bool
	at   record.Ref
	from string // "the title", "the sheet's name"
}

// titled finds the day or age of a table that has no column of either: in the title above it, "Weigh-in 13 April
// 2025" or "Weights at 8 weeks", else in the name of its sheet or file.
func (l *lines) titled() when {
	if l.date != nil || l.age != nil || l.t.Fact(parse.FieldDate, parse.FieldAge) != nil {
		return when{}
	}
	at := l.v.Ref(l.t.Head[0], l.t.Fields[0])
	file := strings.TrimSuffix(l.Name, filepath.Ext(l.Name))
	for _, of := range []struct{ text, from string }{{l.t.Title, "the title above"}, {l.page.Grid.Sheet, "the sheet's name"}, {file, "the file's name"}} {
		words := strings.FieldsFunc(of.text, func(r rune) bool { return r == ' ' || r == '_' || r == '(' || r == ')' })
		if len(words) > 12 {
			continue
		}
		for n := min(5, len(words)); n > 0; n-- {
			for i := 0; i+n <= len(words); i++ {
				text := strings.Trim(strings.Join(words[i:i+n], " "), ",;:.-")
				if !strings.ContainsAny(text, "0123456789") {
					continue
				}
				cell := parse.T(text)
				if _, p := parse.Age(cell, ""); (p == nil || p.Class == parse.Approximate) && ofAge(words[:i], words[i+n:]) {
					return when{cell, true, at, of.from}
				}
				if d := l.dated(cell, ""); d.p == nil && d.when.On.Exact() || d.p != nil && d.p.Class == parse.DateAmbiguous {
					return when{cell, false, at, of.from}
				}
			}
		}
	}
	return when{}
}

// ofAge reports whether the words around a span of time make it an age: "at 8 weeks", "8 weeks old", "8 week
// weights", or no words at all. "Every 2 weeks" and "the last 8 weeks" are none.
func ofAge(before, after []string) bool {
	if len(before)+len(after) == 0 {
		return true
	}
	if len(before) > 0 {
		switch strings.Trim(parse.Fold(before[len(before)-1]), ".,:-") {
		case "at", "age", "aged", "mit", "alter", "op", "a", "con", "edad":
			return true
		}
	}
	if len(after) > 0 {
		switch strings.Trim(parse.Fold(after[0]), ".,:-") {
		case "old", "weight", "weights", "wt", "wts", "weighing", "weigh", "weigh-in", "alt", "age", "gewicht", "gewichte", "poids", "peso":
			return true
		}
	}
	return false
}

package reading

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// ownBreed is how often a flock's own sheet must write a breed to be trusted with its spelling, and rareBreed how often
// a spelling may stand that is taken for a slip of it (common practice, no source).
const ownBreed, rareBreed = 3, 2

// spellBreeds asks once about each spelling of a breed that is nearly that of a known one: a published name, one of
// flock.toml, or one that the table itself writes often. Until the keeper answers, it stays as typed; the answer, here or
// in an earlier sheet of the file, holds for all cells of that spelling.
func (l *lines) spellBreeds() {
	cells := map[string][]record.Ref{}
	var texts []string
	note := func(text string, at record.Ref) {
		if text = strings.TrimSpace(text); text == "" {
			return
		}
		if cells[text] == nil {
			texts = append(texts, text)
		}
		cells[text] = append(cells[text], at)
	}
	if c := l.t.Column(parse.FieldBreed); c != nil {
		for _, n := range l.t.Lines {
			note(l.text(c, n), l.v.Ref(n, c.Field))
		}
	}
	if f := l.t.Fact(parse.FieldBreed); f != nil {
		note(f.Cell.Text, f.At)
	}
	if len(texts) == 0 {
		return
	}
	known := l.knownBreeds()
	var own []string
	for _, t := range texts {
		if len(cells[t]) >= ownBreed && parse.NearBreeds(t, known) == nil {
			own = append(own, t)
		}
	}
	for _, t := range texts {
		near := parse.NearBreeds(t, known)
		if near == nil && len(cells[t]) <= rareBreed {
			near = parse.NearBreeds(t, slices.DeleteFunc(slices.Clone(own), func(o string) bool { // nothing says that the own one is right: the whole of it must fit
				return len(strings.Fields(o)) != len(strings.Fields(t))
			}))
		}
		key := ask.ColumnKey("breed_spelling", l.Name, t)
		a, answered := l.answer(key)
		switch {
		case answered && strings.TrimSpace(a) != "":
			if l.breeds == nil {
				l.breeds = map[string]string{}
			}
			l.breeds[t] = strings.TrimSpace(a)
			continue
		case near == nil || answered:
			continue
		}
		at := cells[t]
		q := record.Question{Class: "breed_spelling", At: at[0], Raw: t, Key: key}
		q.Message = fmt.Sprintf("%s: %q is nearly %q; is that the breed?", at[0], parse.Shown(t), near[0])
		for _, r := range near {
			q.Readings = append(q.Readings, record.Reading{Label: r, Value: r})
		}
		q.Readings = append(q.Readings, record.Reading{Label: "as it is written", Value: t})
		for _, more := range at {
			q.At = more
			l.Flock("").Ask.Add(q)
		}
	}
}

// knownBreeds are the breeds whose spelling is known: published names and those of flock.toml.
func (l *lines) knownBreeds() []string {
	known := slices.Clone(l.Breeds)
	add := func(b string) {
		if b = strings.TrimSpace(b); b != "" && !slices.Contains(known, b) {
			known = append(known, b)
		}
	}
	add(l.set.Flock.Breed)
	var own []string
	for _, b := range l.set.Birds { // sorted below: the order does not matter
		own = append(own, b.Breed)
	}
	slices.Sort(own)
	for _, b := range own {
		add(b)
	}
	return known
}

// breed is a breed as the keeper says that it is spelt.
func (l *lines) breed(text string) string {
	if b, ok := l.breeds[text]; ok {
		return b
	}
	return text
}

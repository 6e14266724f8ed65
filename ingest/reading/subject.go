package reading

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/identity"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// page reads one sheet, its tables of other things than birds left out. It returns whether any table was read or is
// asked about.
func (w *work) page(ctx context.Context, p *evidence.Page, ledger *record.Ledger) (bool, error) {
	told, read := false, false
	for _, t := range p.Layout.Tables {
		switch w.subject(p, t) {
		case layout.Foreign:
			if p.Layout.Subject == layout.OfBirds {
				w.tableAside(t, ledger)
			}
			continue
		case layout.Doubtful:
			w.doubtful(p, t, ledger)
			read = true
			continue
		}
		if !told {
			for _, q := range []*record.Question{p.Doubt, p.Values} {
				if q != nil {
					w.Flock("").Ask.Add(*q)
				}
			}
			told = true
		}
		read = true
		w.table++
		room := roomFor(t, w.Find(""))
		l := w.newLines(p, t, ledger)
		l.room = room
		if err := l.read(ctx); err != nil {
			return read, err
		}
	}
	w.aside(p, ledger)
	return read, nil
}

// subject decides whether a table is about birds: by what it says itself, by a keeper's answer, by headings that
// flock.toml explains, or by naming birds that are known.
func (w *work) subject(p *evidence.Page, t *layout.Table) layout.Subject {
	if a, ok := w.answer(subjectKey(p)); ok {
		if a == "yes" {
			return layout.OfBirds
		}
		return layout.Foreign
	}
	if t.Subject == layout.OfBirds || w.names(t) {
		return layout.OfBirds
	}
	for i := range t.Columns {
		if _, ok := w.set.Columns[t.Columns[i].Text]; ok && t.Columns[i].Text != "" {
			return layout.OfBirds
		}
	}
	if t.Subject == layout.Doubtful && p.Layout.Subject == layout.OfBirds {
		return layout.OfBirds // beside a table of birds
	}
	return t.Subject
}

func subjectKey(p *evidence.Page) string {
	return ask.ColumnKey("sheet_doubtful", p.Grid.File, p.Grid.Sheet)
}

// names reports whether half of the birds that a table names, and two at least, are known: from the sheets read
// before or from flock.toml.
func (w *work) names(t *layout.Table) bool {
	seen := map[string]bool{}
	known := 0
	for i := range t.Columns {
		switch t.Columns[i].Means.Field {
		case parse.FieldBird, parse.FieldRing, parse.FieldName:
		default:
			continue
		}
		for _, l := range t.Lines[:min(len(t.Lines), 200)] {
			text := t.View.Cell(l, t.Columns[i].Field).Raw
			if key := parse.NameKey(text); key != "" && !seen[key] {
				seen[key] = true
				if w.isBird(text) {
					known++
				}
			}
		}
	}
	return known >= 2 && known*2 >= len(seen)
}

// isBird reports whether a text is the ring or name of a bird that is known.
func (w *work) isBird(text string) bool {
	ring, name := parse.RingKey(text), parse.NameKey(text)
	if b, ok := w.set.Birds[text]; ok || b.Name != "" {
		return true
	}
	for id, b := range w.set.Birds { // any match will do: the order does not matter
		if parse.RingKey(b.Ring) == ring && ring != "" || parse.NameKey(b.Name) == name && name != "" || parse.NameKey(id) == name {
			return true
		}
	}
	for _, f := range w.byName {
		if slices.ContainsFunc(f.Sightings, func(s *identity.Sighting) bool {
			return s.RingKey == ring && ring != "" || s.NameKey == name && name != ""
		}) {
			return true
		}
	}
	return false
}

// doubtful asks once whether a sheet is about the keeper's birds, and holds all its cells until then.
func (w *work) doubtful(p *evidence.Page, t *layout.Table, ledger *record.Ledger) {
	at := record.Ref{File: p.Grid.File, Sheet: p.Grid.Sheet}
	var more []record.Ref
	w.cells(t, func(at record.Ref, value bool) {
		ledger.Mark(at.Row, at.Col, record.AsQuestion)
		if value {
			more = append(more, at)
		}
	})
	q := record.Question{Class: "sheet_doubtful", At: at, Key: subjectKey(p), More: more,
		Message:  fmt.Sprintf("%s: nothing here says that it is about birds (no ring, breed, sex, hen or cock); is it? Until you answer, nothing of it is read", at),
		Readings: []record.Reading{{Label: "yes, my birds", Value: "yes"}, {Label: "no, leave it out", Value: "no"}}}
	w.Flock("").Ask.Add(q)
}

// cells visits the filled cells of a table, and says which hold values.
func (w *work) cells(t *layout.Table, visit func(at record.Ref, value bool)) {
	for l := t.Head[0]; l <= t.Head[1]; l++ {
		for f := t.Fields[0]; f <= t.Fields[1]; f++ {
			if !t.View.Blank(l, f) {
				visit(t.View.Ref(l, f), false)
			}
		}
	}
	for _, l := range t.Lines {
		for i := range t.Columns {
			if c := &t.Columns[i]; !t.View.Blank(l, c.Field) {
				visit(t.View.Ref(l, c.Field), c.Fate == layout.Value || t.Shape == layout.Diary)
			}
		}
	}
}

// tableAside sets a table aside that is not about birds.
func (w *work) tableAside(t *layout.Table, ledger *record.Ledger) {
	w.cells(t, func(at record.Ref, _ bool) { ledger.Mark(at.Row, at.Col, record.AsAside) })
	last := t.Head[1]
	if n := len(t.Lines); n > 0 {
		last = t.Lines[n-1]
	}
	w.asideBlock(layout.Block{View: t.View, Line1: t.Head[0], Field1: t.Fields[0], Line2: max(last, t.Head[0]), Field2: t.Fields[1], Why: "not about birds"})
}

// Silent says of each sheet of a file of which nothing was read what was found on it and what it lacks.
func Silent(f *evidence.File) []string {
	var out []string
	for _, p := range f.Pages {
		if len(p.Grid.Rows) == 0 {
			continue
		}
		name := p.Grid.File
		if p.Grid.Sheet != "" {
			name += ", sheet " + p.Grid.Sheet
		}
		headings, rows := headingsOf(p), 0
		for _, t := range p.Layout.Tables {
			rows += len(t.Lines)
		}
		switch found := listed(headings); {
		case found != "" && rows == 0 && len(p.Grid.Rows) <= len(p.Layout.Tables)+1:
			out = append(out, fmt.Sprintf("%s: the headings %s stand here, but no rows below them; there is nothing to read yet", name, found))
		case found != "":
			out = append(out, fmt.Sprintf("%s: found %s in %s, and nothing that speaks of birds; "+firstLine, name, found, counted(len(p.Grid.Rows))))
		default:
			out = append(out, fmt.Sprintf("%s: found %s beginning %s, and no headings that are known; "+firstLine, name, counted(len(p.Grid.Rows)), listed(firstTexts(p))))
		}
	}
	return out
}

const firstLine = "the first line should say what the columns hold, such as date, ring, sex, weight (g)"

func counted(rows int) string {
	if rows == 1 {
		return "one row"
	}
	return fmt.Sprintf("%d rows", rows)
}

// headingsOf lists the headings of a sheet's tables.
func headingsOf(p *evidence.Page) []string {
	var out []string
	for _, t := range p.Layout.Tables {
		for i := range t.Columns {
			if text := strings.TrimSpace(t.Columns[i].Text); text != "" {
				out = append(out, text)
			}
		}
	}
	return out
}

// firstTexts lists what the first row with any text holds.
func firstTexts(p *evidence.Page) []string {
	for _, r := range p.Grid.Rows {
		var out []string
		for _, c := range r.Cells {
			if text := strings.TrimSpace(c.Raw); text != "" {
				out = append(out, text)
			}
		}
		if len(out) > 0 {
			return out
		}
	}
	return nil
}

// listed quotes a few texts.
func listed(texts []string) string {
	const most = 5
	var out []string
	for _, t := range texts[:min(most, len(texts))] {
		out = append(out, fmt.Sprintf("%q", parse.Shown(t)))
	}
	if len(texts) > most {
		out = append(out, "...")
	}
	return strings.Join(out, ", ")
}

package layout

import (
	"slices"
	"strings"

	"keelmark/ingest/parse"
)

// A keeper who gives each kind of look a line of its own writes what was looked at in one column and what was
// found in another, or under dates: "Bess | Weight | 850". Such a table is read as one table for each kind of
// look, whose values have that heading.

// byMeasure parts a table whose lines name their kind of look; other tables it returns as they are.
func (s *scan) byMeasure(t *Table) []*Table {
	measure := s.measureColumn(t)
	if measure < 0 {
		return []*Table{t}
	}
	value := s.valueColumns(t, measure)
	if len(value) == 0 {
		return []*Table{t}
	}
	var kinds []string
	lines := map[string][]int{}
	for _, l := range t.Lines {
		kind := strings.TrimSpace(s.v.Cell(l, t.Columns[measure].Field).Raw)
		if lines[kind] == nil {
			kinds = append(kinds, kind)
		}
		lines[kind] = append(lines[kind], l)
	}
	above := s.namesAbove(t)
	var out []*Table
	for i, kind := range kinds {
		part := *t
		part.Lines, part.Above, part.Columns = lines[kind], above, slices.Clone(t.Columns)
		if i > 0 {
			part.Total, part.Groups = nil, nil
		}
		part.Columns[measure].Means, part.Columns[measure].Fate = parse.Meaning{Field: FieldMeasure, Confidence: 1}, Key
		could := meanings([]string{kind})
		for _, v := range value {
			c := &part.Columns[v]
			c.Text, c.Could, c.Means, c.Fate = kind, could, parse.Meaning{}, Other
			if len(could) == 0 {
				continue
			}
			switch c.Means = could[0]; {
			case valued(c.Means.Field):
				c.Fate = Value
			case beside(c.Means.Field):
				c.Fate = Beside
			}
			if part.Shape = t.Shape; c.When != nil {
				part.Shape = Wide
			}
		}
		part.sites()
		out = append(out, &part)
	}
	return out
}

// FieldMeasure is a column that names what the other columns of its line hold. It is layout's own: the tables
// that it parts know their headings.
const FieldMeasure parse.Field = "measure"

// measureColumn finds the column whose cells are themselves headings of looks: seven in ten at least, under a
// heading that says so or none. -1 where there is none.
func (s *scan) measureColumn(t *Table) int {
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.When != nil || c.Who != nil || c.Text != "" && !measureWord(c.Text) {
			continue
		}
		n, fit := 0, 0
		for _, l := range t.Lines[:min(len(t.Lines), 200)] {
			if s.v.Blank(l, c.Field) {
				continue
			}
			n++
			if k := s.words.look(s.v, l, c.Field); k.known() && topical(k.means.Field) {
				fit++
			}
		}
		if n >= 2 && fit*10 >= n*7 && n*2 > min(len(t.Lines), 200) {
			return i
		}
	}
	return -1
}

func measureWord(text string) bool {
	switch strings.Trim(parse.Fold(text), " .:?") {
	case "what", "measure", "measurement", "measured", "trait", "parameter", "variable", "test", "item", "type", "record", "look", "kind", "check", "parasite", "pest", "was", "merkmal", "mesure", "quoi", "wat", "meting", "que", "medida", "dato":
		return true
	}
	return false
}

func valueWord(text string) bool {
	switch strings.Trim(parse.Fold(text), " .:?") {
	case "value", "result", "reading", "amount", "score", "figure", "count", "number", "found", "level", "finding", "wert", "ergebnis", "valeur", "resultat", "waarde", "uitslag", "valor", "resultado", "n":
		return true
	}
	return false
}

// valueColumns lists the columns that hold what was found: those under dates or ages, else the one whose heading
// says so.
func (s *scan) valueColumns(t *Table, measure int) []int {
	var out []int
	for i := range t.Columns {
		if i != measure && t.Columns[i].When != nil {
			out = append(out, i)
		}
	}
	if len(out) > 0 {
		return out
	}
	for i := range t.Columns {
		if i != measure && valueWord(t.Columns[i].Text) {
			return []int{i}
		}
	}
	return nil
}

// namesAbove finds, for each line that names no bird, the nearest line above that does.
func (s *scan) namesAbove(t *Table) map[int]int {
	var names []*Column
	for i := range t.Columns {
		switch c := &t.Columns[i]; c.Means.Field {
		case parse.FieldBird, parse.FieldRing, parse.FieldName:
			names = append(names, c)
		}
	}
	above := map[int]int{}
	last := -1
	for _, l := range t.Lines {
		if slices.ContainsFunc(names, func(c *Column) bool { return !s.v.Blank(l, c.Field) }) {
			last = l
		} else if last >= 0 {
			above[l] = last
		}
	}
	return above
}

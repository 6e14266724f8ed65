package layout

import (
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// lead gives a table the birds of the first table beside it, where it follows without a gap and names none: "Ring |
// Date 1 | Weight 1 | Date 2 | Weight 2" is one bird a line.
func (s *scan) lead(t, first *Table, before int) {
	of := func(t *Table) bool {
		return t.Column(parse.FieldBird, parse.FieldRing, parse.FieldName) != nil || t.Fact(parse.FieldBird, parse.FieldRing, parse.FieldName) != nil
	}
	if t.Fields[0] != before+1 || of(t) || !of(first) {
		return
	}
	for i := range first.Columns {
		switch c := first.Columns[i]; c.Means.Field {
		case parse.FieldBird, parse.FieldRing, parse.FieldRingColour, parse.FieldName, parse.FieldPen, parse.FieldFlock:
			t.Columns = append(t.Columns, c)
		}
	}
}

// mostPairs is how many cells a line of labels and values has at most: some cards side by side.
const mostPairs = 24

// pairs reports whether a line is made of labels and values, "Ring: | R12 | Sex | hen", and keeps them.
func (s *scan) pairs(line int, filled []int) bool {
	if len(filled) > mostPairs {
		return false
	}
	var found []Fixed
	for i := 0; i < len(filled); i++ {
		f := filled[i]
		raw := s.v.Cell(line, f).Raw
		if s.v.Cell(line, f).Kind != sheet.Text {
			return false
		}
		if label, value, ok := strings.Cut(raw, ":"); ok && strings.TrimSpace(value) != "" {
			l := s.words.text(strings.TrimSpace(label))
			if !l.known() || !factual(l.means.Field) {
				return false
			}
			found = append(found, Fixed{l.means, parse.T(strings.TrimSpace(value)), s.v.Ref(line, f)})
			continue
		}
		l := s.words.text(strings.TrimSuffix(strings.TrimSpace(raw), ":"))
		if !l.known() || !factual(l.means.Field) || i+1 >= len(filled) {
			return false
		}
		next := filled[i+1]
		if len(filled) == 2 && s.rowsBelow(line, f, next) {
			return false
		}
		if n := s.words.look(s.v, line, next); n.means.Field == l.means.Field && n.known() || parents(n.means.Field) && parents(l.means.Field) {
			return false // "Pen A | | Pen B", "Hens | | Cocks": titles of tables side by side
		}
		colon := strings.HasSuffix(strings.TrimSpace(raw), ":")
		if n := s.words.look(s.v, line, next); n.means.Confidence >= 1 && n.means.Rest == "" && !valueOf(l.means.Field, s.v.Stored(line, next), colon) {
			return false
		}
		found = append(found, Fixed{l.means, s.v.Stored(line, next), s.v.Ref(line, next)})
		i++
	}
	s.fixed = append(s.fixed, found...)
	return len(found) > 0
}

// parents reports whether a field is one of the two sexes of a breeding pen.
func parents(f parse.Field) bool { return f == parse.FieldHen || f == parse.FieldMale }

// rowsBelow reports whether two cells are rather the headings of two columns: rows of values follow directly,
// and no further label.
func (s *scan) rowsBelow(line, label, value int) bool {
	rows := 0
	for l := line + 1; l < min(line+4, s.v.Lines()); l++ {
		if rows >= 2 && s.v.Blank(l, label) && s.v.Blank(l, value) {
			break
		}
		if s.v.Blank(l, label) || s.v.Blank(l, value) || s.words.look(s.v, l, label).known() {
			return false
		}
		rows++
	}
	return rows >= 2
}

// factual reports whether a field can hold for a whole card.
func factual(f parse.Field) bool {
	switch f {
	case parse.FieldBird, parse.FieldRing, parse.FieldRingColour, parse.FieldName, parse.FieldHatched, parse.FieldSex, parse.FieldClass,
		parse.FieldBreed, parse.FieldVariety, parse.FieldSize, parse.FieldLine, parse.FieldPen, parse.FieldUnit, parse.FieldScorer,
		parse.FieldNote, parse.FieldDate, parse.FieldOut, parse.FieldMale, parse.FieldHen, parse.FieldAge:
		return true
	}
	return false
}

// valueOf reports whether a cell that is also a known heading is rather a value of a field: "hen" after "Sex".
func valueOf(f parse.Field, c parse.Cell, colon bool) bool {
	switch f {
	case parse.FieldSex, parse.FieldClass:
		_, _, p := parse.Sex(c)
		return p == nil
	case parse.FieldName, parse.FieldBird:
		return colon
	}
	return false
}

// factsOver lists the facts of the card above a band. Where cards lie side by side, a fact belongs to the band it
// stands over, and to all where only one band has a fact of its kind and it is none of a bird's own.
func (s *scan) factsOver(bands []band, of int) []Fixed {
	if len(bands) == 1 {
		return slices.Clone(s.fixed)
	}
	over := func(f Fixed) int {
		field := int(f.At.Col) - 1
		if s.v.turned {
			field = int(f.At.Row) - 1
		}
		i := 0
		for i+1 < len(bands) && bands[i+1].lo <= field {
			i++
		}
		return i
	}
	var out []Fixed
	for _, f := range s.fixed {
		shared := false
		switch f.Means.Field {
		case parse.FieldUnit, parse.FieldDate, parse.FieldBreed, parse.FieldVariety, parse.FieldScorer, parse.FieldPen:
			shared = !slices.ContainsFunc(s.fixed, func(o Fixed) bool { return o.Means.Field == f.Means.Field && over(o) != over(f) })
		}
		if shared || over(f) == of {
			out = append(out, f)
		}
	}
	return out
}

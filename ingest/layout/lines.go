package layout

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// fill sorts the lines below a heading into data, totals, groups and words that are set aside, and returns
// the first line that is no longer the table's.
func (s *scan) fill(t *Table, from int) int {
	lo, hi := t.Fields[0], t.Fields[1]
	if t.Lines == nil {
		t.Lines = make([]int, 0, s.v.Lines()-from)
	}
	end := from
	gap := 0
	whole := lo == 0 && hi >= s.v.Fields()-1
	var filled []int
	for line := from; line < s.v.Lines(); line++ {
		filled = s.v.filledInto(filled[:0], line, lo, hi)
		if len(filled) == 0 {
			gap++
			continue
		}
		if line > from && s.begins(t, line, filled, gap > 0) {
			return end
		}
		gap = 0
		kind := s.kind(t, line, filled)
		if kind == "card" {
			return end
		}
		end = line + 1
		switch kind {
		case "data":
			t.Lines = append(t.Lines, line)
		case "total":
			t.Total = append(t.Total, line)
			s.out.Aside = append(s.out.Aside, Block{s.v, line, lo, line, hi, "total"})
		case "group":
			s.group(t, line, filled[0])
		default:
			if kind == "legend" {
				var texts []string
				for _, f := range filled {
					texts = append(texts, s.v.Cell(line, f).Raw)
				}
				s.out.Legend = append(s.out.Legend, parse.Legend(texts...)...)
			} else {
				for _, f := range filled {
					s.out.Titles = append(s.out.Titles, s.v.Cell(line, f).Raw)
				}
			}
			s.out.Aside = append(s.out.Aside, Block{s.v, line, lo, line, hi, kind})
		}
	}
	if whole {
		return s.v.Lines()
	}
	return end
}

// begins reports whether a line is the heading of a further table, or a title above one.
func (s *scan) begins(t *Table, line int, filled []int, gap bool) bool {
	l := s.words.look(s.v, line, filled[0])
	if !l.known() && !gap && !s.repeats(t, line, filled) {
		return false
	}
	all := s.v.filled(line, 0, s.v.Fields()-1)
	if _, ok := s.header(line, all); ok {
		return true
	}
	if !gap || len(filled) > 2 {
		return false
	}
	for next := line + 1; next < min(line+4, s.v.Lines()); next++ { // a title, then a heading
		all := s.v.filled(next, 0, s.v.Fields()-1)
		if len(all) == 0 {
			continue
		}
		if _, ok := s.header(next, all); ok {
			return true
		}
		if len(all) > 2 {
			return false
		}
	}
	return false
}

// repeats reports whether a line writes the heading's dates or words again, two at least: "Cock | 13/4 | 20/4" in
// the middle of "Hen | 13/4 | 20/4".
func (s *scan) repeats(t *Table, line int, filled []int) bool {
	same := 0
	for _, f := range filled {
		if f == filled[0] || t.Head[1] < t.Head[0] {
			continue
		}
		if c := s.v.Cell(line, f); c.Raw != s.v.Cell(t.Head[1], f).Raw || c.Kind != s.v.Cell(t.Head[1], f).Kind {
			return false
		}
		same++
	}
	return same >= 2
}

// kind says what a line below a heading is.
func (s *scan) kind(t *Table, line int, filled []int) string {
	words, values := 0, 0
	for _, f := range filled {
		if len(filled) <= 2 && s.words.look(s.v, line, f).text {
			words++
		}
		if c := t.at(f); c != nil && c.Fate == Value {
			values++
		}
	}
	first := s.v.Cell(line, filled[0])
	if s.total(t, line, filled, values) {
		return "total"
	}
	if len(filled) <= 2 && words == len(filled) {
		var texts []string
		for _, f := range filled {
			texts = append(texts, s.v.Cell(line, f).Raw)
		}
		if parse.Legend(texts...) != nil && (len(t.Columns) > 2 || values == 0) {
			return "legend"
		}
	}
	if len(filled) == 1 && len(t.Columns) >= 3 && first.Kind == sheet.Text {
		c := t.at(filled[0])
		last := !s.more(t, line)
		switch {
		case c == nil:
			return "title"
		case c.Fate == Value || c.Means.Field == parse.FieldNote:
			return "data"
		case last:
			return "title"
		case len(first.Raw) <= 40:
			return "group"
		}
		return "title"
	}
	return "data"
}

// at returns the column of a field, or nil.
func (t *Table) at(field int) *Column {
	if i := field - t.Fields[0]; i >= 0 && i < len(t.Columns) {
		return &t.Columns[i]
	}
	return nil
}

// more reports whether lines with values follow.
func (s *scan) more(t *Table, line int) bool {
	for l := line + 1; l < min(line+6, s.v.Lines()); l++ {
		if f := s.v.filled(l, t.Fields[0], t.Fields[1]); len(f) >= 2 {
			return true
		}
	}
	return false
}

// group keeps a line that stands over the lines below it: a pen, a month, a bird.
func (s *scan) group(t *Table, line, field int) {
	raw := s.v.Cell(line, field).Raw
	means := parse.Meaning{Field: parse.FieldNote}
	scope, _ := parse.Scope(raw)
	switch l := s.words.text(strings.TrimSuffix(strings.TrimSpace(raw), ":")); {
	case scope == "pen":
		means.Field = parse.FieldPen
	case l.date && t.Column(parse.FieldDate) == nil:
		means.Field = parse.FieldDate
	case t.Column(parse.FieldBird, parse.FieldRing, parse.FieldName) == nil && t.Fact(parse.FieldBird, parse.FieldRing, parse.FieldName) == nil:
		means.Field = parse.FieldBird
	case t.Column(parse.FieldBreed) == nil && parse.Size(raw) != "":
		means.Field = parse.FieldBreed
	}
	t.Groups = append(t.Groups, Group{line, Fixed{means, s.v.Stored(line, field), s.v.Ref(line, field)}})
}

// total reports whether a line holds sums, means, extremes or counts of the lines above it. The evidence: a
// label that says so, or numbers that all equal the same statistic of their columns and no bird or date of
// their own.
func (s *scan) total(t *Table, line int, filled []int, values int) bool {
	if d := t.Column(parse.FieldDate); d != nil && t.Shape == Long && (s.v.Cell(line, d.Field).Kind == sheet.Date || s.words.look(s.v, line, d.Field).date) {
		return false
	}
	for _, f := range filled[:min(2, len(filled))] {
		c := t.at(f)
		if c == nil || c.Fate == Value && f != filled[0] {
			continue
		}
		if l := s.words.look(s.v, line, f); l.known() && (l.means.Field == parse.FieldTotal || l.means.Field == parse.FieldDerived) {
			return s.totalled(t, line, f, l)
		}
	}
	if values < 2 || len(t.Lines) < 2 || len(filled)-values > 1 {
		return false
	}
	named := len(filled) > values
	return s.statistic(t, line, func(name string) bool { return !named || name == "sum" || name == "mean" }) && !(named && s.copied(t, line, filled))
}

// totalled reports whether a label of a sum, mean or extreme is one and not the name of a bird, such as Total Eclipse or
// Max: the label says nothing else, or the numbers prove it.
func (s *scan) totalled(t *Table, line, field int, l look) bool {
	for i := range t.Columns {
		if c := &t.Columns[i]; c.Means.Field == parse.FieldSex && !s.v.Blank(line, c.Field) {
			if _, _, p := parse.Sex(s.v.Stored(line, c.Field)); p == nil {
				return false
			}
		}
	}
	label := strings.Trim(parse.Fold(s.v.Cell(line, field).Raw), " .:=")
	plain := !strings.ContainsAny(label, "@=+*\"'")
	if r := t.Column(parse.FieldRing); r != nil && r.Field != field && ringlike(s.v.Cell(line, r.Field).Raw) {
		plain = false
	}
	for _, w := range strings.Fields(l.means.Rest) {
		plain = plain && (totalRest(w) || len(parse.Heading(w)) > 0)
	}
	if plain && label != "max" {
		return true
	}
	return s.statistic(t, line, func(string) bool { return true }) || plain && !s.numbers(t, line)
}

// totalRest are words that a label of totals may have besides.
func totalRest(word string) bool {
	switch word {
	case "g", "kg", "lb", "oz", "gms", "per", "all", "pen", "flock", "both", "for", "this", "no", "n", "row", "column", "group", "line", "hens", "cocks", "cockerels", "pullets", "males", "females", "chicks", "week", "month", "year", "overall", "eggs", "a", "b", "c", "d":
		return true
	}
	return strings.Trim(word, "0123456789") == ""
}

// numbers reports whether a line has a number in a column of values.
func (s *scan) numbers(t *Table, line int) bool {
	for i := range t.Columns {
		if c := &t.Columns[i]; c.Fate == Value {
			if _, ok := number(s.v.Cell(line, c.Field)); ok {
				return true
			}
		}
	}
	return false
}

// copied reports whether all numbers of a line stand in one line above: two birds of the same weights, no mean.
func (s *scan) copied(t *Table, line int, filled []int) bool {
	for _, l := range t.Lines[max(0, len(t.Lines)-50):] {
		same := true
		for _, f := range filled {
			if c := t.at(f); c != nil && c.Fate == Value {
				same = same && s.v.Cell(l, f).Raw == s.v.Cell(line, f).Raw
			}
		}
		if same {
			return true
		}
	}
	return false
}

// statistic reports whether all numbers of a line are the same statistic of the numbers above them, one that is
// allowed.
func (s *scan) statistic(t *Table, line int, allowed func(name string) bool) bool {
	var agree []string
	n := 0
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Fate != Value || s.v.Blank(line, c.Field) {
			continue
		}
		x, ok := number(s.v.Cell(line, c.Field))
		if !ok {
			return false
		}
		var of []string
		for name, y := range s.summary(t, c.Field) {
			if allowed(name) && math.Abs(x-y) <= 0.005*math.Max(1, math.Abs(y)) {
				of = append(of, name)
			}
		}
		if n == 0 {
			agree = of
		} else {
			agree = slices.DeleteFunc(agree, func(a string) bool { return !slices.Contains(of, a) })
		}
		n++
	}
	return n >= 2 && len(agree) > 0 && !(len(agree) == 1 && (agree[0] == "max" || agree[0] == "min") && n < 3)
}

// summary computes the statistics that keepers write below a column.
func (s *scan) summary(t *Table, field int) map[string]float64 {
	sum, n, low, high := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	lines := t.Lines
	for _, l := range lines[max(0, len(lines)-500):] {
		if x, ok := number(s.v.Cell(l, field)); ok {
			sum, n, low, high = sum+x, n+1, math.Min(low, x), math.Max(high, x)
		}
	}
	if n < 2 {
		return nil
	}
	return map[string]float64{"sum": sum, "mean": sum / n, "count": n, "min": low, "max": high}
}

func number(c *sheet.Cell) (float64, bool) {
	if c.Kind != sheet.Number && c.Kind != sheet.Text {
		return 0, false
	}
	x, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(c.Raw), ",", ".", 1), 64)
	return x, err == nil
}

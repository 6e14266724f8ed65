package layout

import (
	"slices"
	"strings"
	"unicode"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// within finds a date or age inside a heading of values: "Wt 4wk", "Weight 13/4/24", "8 week weight".
func (s *scan) within(t *Table, h header) {
	for i := range t.Columns {
		c := &t.Columns[i]
		words := strings.Fields(c.Text)
		if c.When != nil || len(words) < 2 || len(words) > 8 || h.first != h.last || c.Means.Confidence >= 1 && c.Means.Rest == "" && !strings.ContainsAny(c.Text, "0123456789") {
			continue // "Eggs set" is no September
		}
		for n := len(words) - 1; n >= 1 && c.When == nil; n-- {
			for at := 0; at+n <= len(words); at++ {
				span := strings.Trim(strings.Join(words[at:at+n], " "), "()[],:-")
				rest := strings.Join(append(slices.Clone(words[:at]), words[at+n:]...), " ")
				m := parse.Heading(rest)
				if unit := parse.UnitIn(rest); len(m) > 0 && unit != "" && m[0].Field == parse.FieldWeight && m[0].Rest == "" {
					m[0].Confidence, m[0].Unit = 1, unit // "13/4/2025 g"
				}
				if len(m) == 0 || m[0].Confidence < 0.9 || !topical(m[0].Field) && m[0].Field != parse.FieldTreatment {
					continue
				}
				means := parse.Meaning{Field: parse.FieldDate}
				switch {
				case isAge(span):
					means.Field = parse.FieldAge
				case !isYear(span) && (!isDate(span) || !wholeDate(span)):
					continue
				}
				c.When = &Fixed{means, parse.T(span), s.v.Ref(h.last, c.Field)}
				c.Means, c.Text = m[0], rest
				break
			}
		}
	}
}

// agesIn is the unit of ages that the words above a table speak of, "Weights at 8, 12 and 16 weeks"; "" where they speak of
// none or of both.
func (s *scan) agesIn() string {
	unit := ""
	for _, l := range s.titles {
		for _, f := range s.v.filled(l, 0, s.v.Fields()-1) {
			for _, word := range strings.FieldsFunc(parse.Fold(s.v.Cell(l, f).Raw), func(r rune) bool { return !unicode.IsLetter(r) }) {
				of := ""
				switch word {
				case "weeks", "wks", "wochen", "semaines", "weken", "semanas":
					of = "w"
				case "days", "tage", "jours", "dagen", "dias":
					of = "d"
				default:
					continue
				}
				if unit != "" && unit != of {
					return ""
				}
				unit = of
			}
		}
	}
	return unit
}

// shortDates finds days without a year inside headings that are else the same: "Wt (kg) 1/10 | Wt (kg) 1/11". One alone
// may be a fraction or a scale.
func (s *scan) shortDates(t *Table, h header) {
	type part struct {
		column int
		span   string
		means  parse.Meaning
		rest   string
	}
	found := map[string][]part{}
	for i := range t.Columns {
		c := &t.Columns[i]
		words := strings.Fields(c.Text)
		if c.When != nil || len(words) < 2 || len(words) > 6 || h.first != h.last {
			continue
		}
		for _, at := range []int{0, len(words) - 1} {
			span := strings.Trim(words[at], "()[],:")
			rest := strings.Join(append(slices.Clone(words[:at]), words[at+1:]...), " ")
			if len(span) > 5 || !strings.ContainsAny(span, "/.-") || !isDate(span) {
				continue
			}
			if m := parse.Heading(rest); len(m) > 0 && m[0].Confidence >= 0.8 && topical(m[0].Field) {
				found[parse.Fold(rest)] = append(found[parse.Fold(rest)], part{i, span, m[0], rest})
				break
			}
		}
	}
	for _, parts := range found { // each on its own: the order does not matter
		if len(parts) < 2 || parts[0].span == parts[1].span {
			continue
		}
		for _, p := range parts {
			c := &t.Columns[p.column]
			c.When = &Fixed{parse.Meaning{Field: parse.FieldDate}, parse.T(p.span), s.v.Ref(h.last, c.Field)}
			c.Means, c.Could, c.Text = p.means, nil, p.rest
		}
	}
}

// wholeDate reports whether a text in figures has three parts, or names its month: "0-3" is a scale.
func wholeDate(s string) bool {
	parts := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("/-. ", r) })
	return len(parts) >= 3 || strings.ContainsFunc(s, unicode.IsLetter)
}

// names finds the birds that stand over columns of values: "Bess | | Clary" over "Wt | BCS | Wt | BCS".
func (s *scan) names(t *Table, h header) {
	if h.first == h.last || t.Column(parse.FieldBird, parse.FieldRing, parse.FieldName) != nil || t.Fact(parse.FieldBird, parse.FieldRing, parse.FieldName) != nil {
		return
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.When != nil || s.v.Blank(h.last, c.Field) {
			continue
		}
		m := meanings([]string{s.v.Cell(h.last, c.Field).Raw})
		of := c.Field
		if s.v.Blank(h.first, of) {
			of = s.leftOver(h, h.first, of)
		}
		if of < 0 || len(m) == 0 || m[0].Confidence < 0.6 || !valued(m[0].Field) && !beside(m[0].Field) {
			continue
		}
		if k := s.words.look(s.v, h.first, of); k.known() || k.date || s.v.Cell(h.first, of).Kind == sheet.Blank {
			continue
		}
		c.Who = &Fixed{parse.Meaning{Field: parse.FieldBird}, s.v.Stored(h.first, of), s.v.Ref(h.first, of)}
		c.Means, c.Could, c.Text = m[0], m, s.v.Cell(h.last, c.Field).Raw
	}
}

// overBand takes a name or date that stands over all columns of a band as a fact of the whole table.
func (s *scan) overBand(t *Table, h header) {
	if h.first == h.last {
		return
	}
	_, f := s.v.Origin(h.first, t.Fields[0])
	for ; f >= t.Fields[0] && s.v.Blank(h.first, f); f-- {
	}
	if f < 0 || s.v.Blank(h.first, f) {
		return
	}
	for g := t.Fields[0] + 1; g <= t.Fields[1]; g++ {
		if o, of := s.v.Origin(h.first, g); !s.v.Blank(h.first, g) || o == h.first && of != g && of != f {
			return
		}
	}
	l := s.words.look(s.v, h.first, f)
	if l.known() {
		return
	}
	field := parse.FieldBird
	if l.date {
		field = parse.FieldDate
	}
	if t.Column(field, parse.FieldRing, parse.FieldName) != nil {
		return
	}
	t.Fixed = append(t.Fixed, Fixed{parse.Meaning{Field: field, Confidence: 0.9}, s.v.Stored(h.first, f), s.v.Ref(h.first, f)})
	for i := range t.Columns {
		c := &t.Columns[i]
		if m := s.words.look(s.v, h.last, c.Field).means; m.Field != "" {
			c.Means, c.Text = m, s.v.Cell(h.last, c.Field).Raw
		}
	}
}

// periods finds the dates and ages that stand over columns of values. A line of plain rising numbers counts
// where the corner speaks of weeks or ages, or the words above do.
func (s *scan) periods(t *Table, h header) {
	var found []int
	for i := range t.Columns {
		c := &t.Columns[i]
		for l := h.first; l <= h.last; l++ {
			ol, of := l, c.Field
			if s.v.Blank(l, c.Field) {
				if of = s.leftOver(h, l, c.Field); of < 0 {
					continue
				}
			}
			k := s.words.look(s.v, ol, of)
			raw := s.v.Cell(ol, of).Raw
			switch {
			case k.known():
			case k.week && s.ages(h):
				c.When = &Fixed{parse.Meaning{Field: parse.FieldAge, Unit: "w"}, s.v.Stored(ol, of), s.v.Ref(ol, of)}
			case k.date, k.number && isYear(raw):
				c.When = &Fixed{parse.Meaning{Field: parse.FieldDate}, s.v.Stored(ol, of), s.v.Ref(ol, of)}
			case k.age:
				c.When = &Fixed{parse.Meaning{Field: parse.FieldAge}, s.v.Stored(ol, of), s.v.Ref(ol, of)}
			}
		}
		if c.When != nil {
			found = append(found, i)
		}
	}
	if len(found) == 0 {
		s.numbered(t, h)
		return
	}
	for _, i := range found {
		c := &t.Columns[i]
		if h.first == h.last || s.v.Blank(h.last, c.Field) || c.When.At == s.v.Ref(h.last, c.Field) {
			c.Means, c.Text = parse.Meaning{}, "" // decided by what the table holds
		} else if sub := s.v.Cell(h.last, c.Field).Raw; session(sub) {
			c.Means, c.Text, c.Session = parse.Meaning{}, "", strings.TrimSpace(sub)
		} else if m := meanings([]string{sub}); len(m) > 0 {
			c.Means = m[0]
			c.Text = sub
		}
	}
}

// daysOfWeek is how many weekdays side by side make a week: fewer may be two remarks.
const daysOfWeek = 3

// week finds the days of a week that stand side by side over values, "Mon | Tue | Wed", beside a date of the
// week. What they hold is eggs unless the words above say otherwise.
func (s *scan) week(t *Table) {
	if t.Column(parse.FieldDate) == nil && t.Column(parse.FieldAge) == nil {
		return
	}
	var at []int
	for i := range t.Columns {
		if _, ok := parse.Weekday(t.Columns[i].Text); ok && t.Columns[i].When == nil {
			at = append(at, i)
		}
	}
	if len(at) < daysOfWeek {
		return
	}
	means := parse.Meaning{Field: parse.FieldEggCount, Confidence: 0.7}
	for i := len(s.titles) - 1; i >= 0; i-- {
		for _, f := range s.v.filled(s.titles[i], 0, s.v.Fields()-1) {
			if m, _ := Topic(s.v.Cell(s.titles[i], f).Raw); m.Field != "" {
				means, i = m, 0
				break
			}
		}
	}
	for i := range t.Columns { // "Week" holds the date that the week begins with
		if c := &t.Columns[i]; c.Means.Field == parse.FieldAge && c.Means.Confidence < 0.8 {
			c.Means, c.Could = parse.Meaning{Field: parse.FieldDate, Confidence: 0.7}, nil
		}
	}
	for _, i := range at {
		c := &t.Columns[i]
		c.Weekday, c.Means, c.Could = c.Text, means, nil
	}
}

// session reports whether a heading under a date tells two weighings of a day apart.
func session(text string) bool {
	switch strings.Trim(parse.Fold(text), " .:") {
	case "am", "pm", "a.m", "p.m", "morning", "evening", "noon", "night", "before", "after", "fed", "empty", "before feed", "after feed", "morgens", "abends", "matin", "soir":
		return true
	}
	return false
}

// ages decides whether "wk 8" over a column is an age and not a week of the year. The evidence: words of age
// or growth in the titles, or weights that rise at least threefold from the first of these columns to the
// last, as those of growing birds do (common practice, no source).
func (s *scan) ages(h header) bool {
	for _, l := range s.titles {
		for _, f := range s.v.filled(l, 0, s.v.Fields()-1) {
			for _, word := range strings.Fields(parse.Fold(s.v.Cell(l, f).Raw)) {
				switch strings.Trim(word, ".,:()") {
				case "age", "ages", "growth", "chick", "chicks", "rearing", "old", "growing", "alter", "kuken", "aufzucht", "age:", "croissance", "poussins":
					return true
				}
			}
		}
	}
	var weeks []int
	for f := 0; f < s.v.Fields(); f++ {
		for l := h.first; l <= h.last; l++ {
			if s.words.look(s.v, l, f).week {
				weeks = append(weeks, f)
			}
		}
	}
	if len(weeks) < 2 {
		return false
	}
	low, high := s.mean(h, weeks[0]), s.mean(h, weeks[len(weeks)-1])
	return low > 0 && high >= 3*low
}

// mean is the mean of the first numbers below a heading, 0 where there are none.
func (s *scan) mean(h header, field int) float64 {
	sum, n := 0.0, 0
	for l := h.last + 1; l < min(h.last+30, s.v.Lines()); l++ {
		if x, ok := number(s.v.Cell(l, field)); ok {
			sum, n = sum+x, n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// leftOver returns the field of the upper heading that covers a field from the left: by a merged block, or
// because its own cell is empty while a heading of the lower line stands there. -1 where none does.
func (s *scan) leftOver(h header, line, field int) int {
	if l, f := s.v.Origin(line, field); l == line && f != field {
		return f
	}
	if h.first == h.last || line == h.last || s.v.Blank(h.last, field) {
		return -1
	}
	for f := field - 1; f >= 0; f-- {
		if !s.v.Blank(line, f) {
			if l, o := s.v.Origin(line, f); l == line && o == f && !s.v.Blank(h.last, f) {
				if ml, mf := s.v.Origin(line, f+1); ml == line && mf == f {
					return -1 // its own merged block ends before this field
				}
				return f
			}
			return -1
		}
		if s.v.Blank(h.last, f) {
			return -1
		}
	}
	return -1
}

// numbered takes a run of plain rising numbers as weeks or days of age, or weeks of a year.
func (s *scan) numbered(t *Table, h header) {
	var fields, at []int
	for i := range t.Columns {
		if c := s.v.Cell(h.last, t.Columns[i].Field); s.words.look(s.v, h.last, t.Columns[i].Field).number && c.Raw != "" {
			fields, at = append(fields, t.Columns[i].Field), append(at, i)
		}
	}
	if len(fields) < 2 || !rising(s.v, h.last, fields) {
		return
	}
	means := parse.Meaning{Field: parse.FieldAge}
	for i := range t.Columns { // "Age (wk)" or "Week" in the corner, or above the numbers
		c := &t.Columns[i]
		if c.Means.Field != parse.FieldAge && !(h.first < h.last && s.words.look(s.v, h.first, c.Field).means.Field == parse.FieldAge) {
			continue
		}
		means.Unit = first(c.Means.Unit, s.words.look(s.v, h.first, c.Field).means.Unit, means.Unit)
		if !slices.Contains(at, i) {
			c.Means = parse.Meaning{Field: parse.FieldBird, Confidence: 0.6}
		}
	}
	if means.Unit == "" {
		means.Unit = s.agesIn()
	}
	for _, i := range at {
		f := t.Columns[i].Field
		cell := s.v.Stored(h.last, f)
		cell.Text = ordinal(strings.TrimSpace(cell.Text))
		t.Columns[i].When = &Fixed{means, cell, s.v.Ref(h.last, f)}
		t.Columns[i].Means, t.Columns[i].Text = parse.Meaning{}, ""
	}
}

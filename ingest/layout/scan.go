package layout

import (
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// scan reads a view from the first line to the last and collects its tables.
type scan struct {
	v     *View
	words *words
	out   *Sheet

	titles []int // lines of words since the last table
	cards  []int // lines of labels and values since the last table
	fixed  []Fixed
}

func scanView(v *View, w *words) *Sheet {
	s := &scan{v: v, words: w, out: &Sheet{}}
	for line := 0; line < v.Lines(); {
		filled := s.v.filled(line, 0, v.Fields()-1)
		switch {
		case len(filled) == 0:
			line++
		case s.pairs(line, filled):
			s.cards = append(s.cards, line)
			line++
		default:
			if h, ok := s.header(line, filled); ok {
				line = s.table(h)
				continue
			}
			s.titles = append(s.titles, line)
			line++
		}
	}
	s.flush()
	s.score()
	return s.out
}

// header is a candidate for the heading of one or more tables side by side.
type header struct {
	first, last int // lines
	fields      []int
}

// header decides whether a line begins the heading of a table. The evidence: at least two known headings
// and no numbers among them, or one and a run of dates, ages or rising numbers, or a run of dates with an
// empty corner; and below each date something that is no date.
func (s *scan) header(line int, filled []int) (header, bool) {
	var known, maybe, dates, ages, numbers, texts []int
	for _, f := range filled {
		l := s.words.look(s.v, line, f)
		switch {
		case l.means.Field == parse.FieldTotal && f == filled[0]:
			return header{}, false
		case l.known():
			known = append(known, f)
		case l.maybe():
			maybe = append(maybe, f)
		case l.date, l.number && isYear(s.v.Cell(line, f).Raw):
			dates = append(dates, f)
		case l.age:
			ages = append(ages, f)
		case l.number:
			numbers = append(numbers, f)
		default:
			texts = append(texts, f)
		}
	}
	if len(known) > 0 { // a heading of several meanings counts beside one that is sure
		known = append(known, maybe...)
	} else {
		texts = append(texts, maybe...)
	}
	if len(dates) > 0 && !s.overValues(line, dates) {
		return header{}, false
	}
	if len(known) > 0 && len(dates)+len(ages)+len(numbers) == 0 && s.titlesOver(line, filled) {
		return header{}, false
	}
	contrast := len(known) == 1 && len(numbers)+len(dates)+len(ages) == 0 && len(texts) >= 1 && s.contrast(line, filled)
	runs := len(dates) >= 2 || len(ages) >= 2 || rising(s.v, line, numbers)
	h := header{first: line, last: line}
	switch {
	case len(known) >= 2 && len(numbers) == 0 && len(known)*3 >= len(texts):
	case contrast:
	case len(known) >= 1 && runs && (len(numbers) == 0 || len(dates)+len(ages) == 0):
	case len(known) == 0 && len(dates)+len(ages) >= 2 && len(numbers) == 0 && len(texts) <= 1 && (filled[0] > 0 || len(texts) == 1 && texts[0] == filled[0] && s.overNumbers(line, filled[1:])):
	case len(known) == 0 && len(texts)+len(dates) >= 1 && len(numbers) == 0 && s.headsBelow(line, filled):
		// only the line below says what the columns are: names or dates over pairs of columns
	case len(known) == 1 && len(numbers)+len(dates)+len(ages) == 0 && s.headsBelow(line, filled):
	default:
		return header{}, false
	}
	h.fields = filled
	if sub := s.v.filled(line+1, 0, s.v.Fields()-1); s.subheader(line, filled, sub) {
		h.last = line + 1
		for _, f := range sub {
			if !slices.Contains(h.fields, f) {
				h.fields = append(h.fields, f)
			}
		}
		slices.Sort(h.fields)
	}
	return h, true
}

// contrast reports whether words stand over numbers: most of the cells of the next lines, under the words of
// this one, are numbers or dates.
func (s *scan) contrast(line int, filled []int) bool {
	lines, other, n := 0, 0, 0
	for l := line + 1; l < min(line+9, s.v.Lines()); l++ {
		if len(s.v.filled(l, 0, s.v.Fields()-1)) == 0 {
			break
		}
		lines++
		for _, f := range filled {
			if s.v.Blank(l, f) {
				continue
			}
			n++
			if k := s.words.look(s.v, l, f); k.number || k.date {
				other++
			}
		}
	}
	return lines >= 2 && other*5 >= n*3
}

// overValues reports whether the cells below a run of dates are no dates themselves, so that the run is a
// heading and not a line of data.
func (s *scan) overValues(line int, dates []int) bool {
	same, other := 0, 0
	for _, f := range dates {
		for l := line + 1; l <= line+4 && l < s.v.Lines(); l++ {
			if s.v.Blank(l, f) {
				continue
			}
			switch c := s.v.Cell(l, f); {
			case !s.words.look(s.v, l, f).date:
				other++
			case c.Kind != sheet.Text || wholeDate(c.Raw): // "1-14" may be pounds and ounces
				same++
			}
		}
	}
	return other >= same
}

// titlesOver reports whether the cells of a line are titles of tables side by side: the next line holds two whole
// headings or more, each with its key and value, and every cell stands over another of them.
func (s *scan) titlesOver(line int, filled []int) bool {
	below := s.v.filled(line+1, 0, s.v.Fields()-1)
	if len(below) < 4 {
		return false
	}
	for _, f := range below {
		if !s.words.look(s.v, line+1, f).maybe() {
			return false
		}
	}
	parts := s.bands(header{first: line + 1, last: line + 1, fields: below})
	if len(parts) < 2 || len(filled) > len(parts) {
		return false
	}
	last := -1
	for _, f := range filled {
		i := slices.IndexFunc(parts, func(b band) bool { return b.lo <= f && f <= b.hi })
		if i <= last {
			return false
		}
		last = i
	}
	return true
}

// overNumbers reports whether numbers stand below most cells of a line, or below a further line of headings.
func (s *scan) overNumbers(line int, fields []int) bool {
	n, numbers := 0, 0
	for l := line + 1; l < min(line+6, s.v.Lines()); l++ {
		for _, f := range fields {
			if s.v.Blank(l, f) {
				continue
			}
			if k := s.words.look(s.v, l, f); l == line+1 && k.known() {
				continue
			}
			n++
			if _, ok := number(s.v.Cell(l, f)); ok {
				numbers++
			} else if strings.Trim(s.v.Cell(l, f).Raw, "+- ") == "" {
				numbers++ // signs for how many
			}
		}
	}
	return n > 0 && numbers*2 > n
}

// headsBelow reports whether the next line is a heading that repeats under the cells of this one.
func (s *scan) headsBelow(line int, filled []int) bool {
	below := s.v.filled(line+1, 0, s.v.Fields()-1)
	if len(below) <= len(filled) {
		return false
	}
	known := 0
	for _, f := range below {
		l := s.words.look(s.v, line+1, f)
		if l.number || l.date {
			return false
		}
		if l.known() {
			known++
		}
	}
	merged := false
	for _, f := range filled {
		if l, c := s.v.Origin(line, f+1); l == line && c == f {
			merged = true
		}
	}
	return known >= 2 && known*2 >= len(below) && (merged || len(filled) >= 2 && filled[0] > 0)
}

// subheader reports whether the line below a heading belongs to it: words only, that stand under merged or
// empty cells of the heading, or that are units.
func (s *scan) subheader(line int, top, sub []int) bool {
	if len(sub) == 0 {
		return false
	}
	if s.agesBelow(line, sub) {
		return true
	}
	under, known, units := 0, 0, 0
	for _, f := range sub {
		c := s.v.Cell(line+1, f)
		l := s.words.look(s.v, line+1, f)
		if c.Kind != sheet.Text || l.number || l.date || l.age {
			return false
		}
		if parse.UnitIn(c.Raw) != "" || strings.HasPrefix(c.Raw, "(") && strings.HasSuffix(c.Raw, ")") {
			units++
		} else if l.known() {
			known++
		}
		switch of, _ := s.v.Origin(line, f); {
		case of != line:
			return false
		case !slices.Contains(top, f):
			under++
		default:
			// a heading of its own above: a merged one covers its neighbours
			if l, c := s.v.Origin(line, f+1); l == line && c == f {
				under++
			}
		}
	}
	combined := 0
	for _, f := range sub {
		if m := parse.Heading(s.above(line, f) + " " + s.v.Cell(line+1, f).Raw); len(m) > 0 && m[0].Confidence >= 0.9 {
			combined++
		}
	}
	if under == 0 {
		return units == len(sub) && len(sub) < len(top)
	}
	known += units
	return (known*2 >= len(sub) || combined*2 >= len(sub)) && !s.dataLike(line+1, sub)
}

// agesBelow reports whether the line below a heading of ages or weeks holds them: "Age in weeks" over 4, 8, 12.
func (s *scan) agesBelow(line int, sub []int) bool {
	if len(sub) < 2 || !rising(s.v, line+1, sub) {
		return false
	}
	l, f := s.v.Origin(line, sub[0])
	k := s.words.look(s.v, l, f)
	return k.means.Field == parse.FieldAge && s.v.Blank(line, sub[1])
}

// dataLike reports whether a line of words is more likely data: its cells return further down.
func (s *scan) dataLike(line int, filled []int) bool {
	again := 0
	for _, f := range filled {
		raw := s.v.Cell(line, f).Raw
		for l := line + 1; l < min(line+12, s.v.Lines()); l++ {
			if s.v.Cell(l, f).Raw == raw {
				again++
				break
			}
		}
	}
	return again*2 > len(filled)
}

// above is the text of the heading over a field: its own, that of the merged block it lies in, or that of the
// nearest filled cell to the left where none of its own stands.
func (s *scan) above(line, field int) string {
	l, f := s.v.Origin(line, field)
	for ; f >= 0; f-- {
		if !s.v.Blank(l, f) {
			return s.v.Cell(l, f).Raw
		}
	}
	return ""
}

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

// rowsBelow reports whether two cells are rather the headings of two columns: rows of values follow directly,
// and no further label.
func (s *scan) rowsBelow(line, label, value int) bool {
	rows := 0
	for l := line + 1; l < min(line+4, s.v.Lines()); l++ {
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

// flush sets the lines aside that led to no table, and makes a table of facts that stand alone.
func (s *scan) flush() {
	if len(s.fixed) > 0 {
		t := &Table{View: s.v, Shape: Cards, Head: [2]int{s.cards[0], s.cards[0] - 1}, Fields: [2]int{0, s.v.Fields() - 1}, Fixed: s.fixed}
		s.out.Tables = append(s.out.Tables, t)
	}
	s.asideTitles("words below")
	s.cards, s.fixed = nil, nil
}

func (s *scan) asideTitles(why string) {
	for _, l := range s.titles {
		var texts []string
		for _, f := range s.v.filled(l, 0, s.v.Fields()-1) {
			texts = append(texts, s.v.Cell(l, f).Raw)
		}
		w := why
		if defs := parse.Legend(texts...); len(defs) > 1 || len(defs) == 1 && len(s.out.Tables) > 0 && why != "title" {
			s.out.Legend, w = append(s.out.Legend, defs...), "legend"
		} else {
			s.out.Titles = append(s.out.Titles, texts...)
		}
		s.out.Aside = append(s.out.Aside, Block{s.v, l, 0, l, s.v.Fields() - 1, w})
	}
	s.titles = nil
}

// table reads the tables under a header and returns the first line after them.
func (s *scan) table(h header) int {
	bands := s.bands(h)
	end := h.last + 1
	var led Table // the first of tables side by side
	for i, b := range bands {
		t := s.build(h, b, s.factsOver(bands, i))
		t.Title = s.titleOver(h, b, len(bands) > 1)
		stop := s.fill(t, h.last+1)
		end = max(end, stop)
		if len(s.fixed) > 0 {
			t.Shape = Cards
		}
		if i > 0 {
			s.lead(t, &led, bands[i-1].hi)
		} else {
			led = *t
		}
		s.out.Tables = append(s.out.Tables, s.byMeasure(t)...)
	}
	s.asideTitles("title")
	s.cards, s.fixed = nil, nil
	return end
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

// titleOver returns the nearest words above a table; where tables lie side by side, those above its own
// columns.
func (s *scan) titleOver(h header, b band, own bool) string {
	for i := len(s.titles) - 1; i >= 0; i-- {
		lo, hi := 0, s.v.Fields()-1
		if own {
			lo, hi = b.lo, b.hi
		}
		for _, f := range s.v.filled(s.titles[i], lo, hi) {
			if c := s.v.Cell(s.titles[i], f); c.Kind == sheet.Text {
				return c.Raw
			}
		}
	}
	return ""
}

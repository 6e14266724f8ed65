package layout

import (
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

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
	if n := len(texts); n > 1 && filled[0] == texts[0] && !slices.ContainsFunc(texts, func(f int) bool { return s.v.Cell(line, f).Raw != s.v.Cell(line, texts[0]).Raw }) {
		texts = texts[:1] // the corner again: tables side by side
	}
	runs := len(dates) >= 2 || len(ages) >= 2 || risingRuns(s.v, line, numbers)
	h := header{first: line, last: line}
	switch {
	case len(known) >= 2 && len(numbers) == 0 && len(known)*3 >= len(texts):
	case contrast:
	case len(known) >= 1 && runs && (len(numbers) == 0 || len(dates)+len(ages) == 0):
	case len(known) == 0 && len(dates)+len(ages) >= 2 && len(numbers) == 0 && len(texts) <= 1 && (filled[0] > 0 || len(texts) == 1 && texts[0] == filled[0] && s.overNumbers(line, filled[1:])):
	case len(known) == 0 && len(dates)+len(ages) == 0 && len(numbers) >= 4 && len(texts) == 1 && texts[0] == filled[0] && s.repeatsAlong(line, filled) && runs:
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

// repeatsAlong reports whether the first cell of a line comes again in it.
func (s *scan) repeatsAlong(line int, filled []int) bool {
	return slices.ContainsFunc(filled[1:], func(f int) bool { return s.v.Cell(line, f).Raw == s.v.Cell(line, filled[0]).Raw })
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
		if l := s.words.look(s.v, line+1, f); !l.maybe() && !l.date && !l.age && l.means.Field == "" {
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

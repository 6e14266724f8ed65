package layout

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/parse"
)

// meanings reads a heading of one or two levels: together, where the upper level rules the lower ("Lice" over
// "Vent"), else the level that says more.
func meanings(levels []string) []parse.Meaning {
	var out []parse.Meaning
	switch len(levels) {
	case 0:
		return nil
	case 1:
		out = slices.Clone(parse.Heading(levels[0]))
	default:
		last := levels[len(levels)-1]
		both, top, sub := parse.Heading(strings.Join(levels, " ")), parse.Heading(levels[0]), parse.Heading(last)
		switch {
		case len(both) > 0 && len(top) > 0 && both[0].Field == top[0].Field && !(len(sub) > 0 && sub[0].Confidence >= 0.9 && sub[0].Field != top[0].Field && keys(top[0].Field)):
			out = slices.Clone(both)
			out[0].Confidence = max(out[0].Confidence, 0.9*top[0].Confidence)
		case len(sub) > 0 && sub[0].Confidence >= 0.6:
			out = slices.Clone(sub)
		case len(both) > 0:
			out = slices.Clone(both)
		default:
			out = slices.Clone(top)
		}
		if len(out) > 0 && out[0].Unit == "" {
			out[0].Unit = parse.UnitIn(last)
		}
	}
	return slices.DeleteFunc(slices.Clone(out), func(m parse.Meaning) bool { return m.Confidence < 0.4 })
}

// resolve chooses among the meanings of a heading by the cells below it, surest headings first. Two columns
// "lb" and "oz" side by side are the parts of one weight.
func (s *scan) resolve(t *Table, h header) {
	taken := map[parse.Field]bool{}
	for i := range t.Columns {
		if c := &t.Columns[i]; len(c.Could) == 1 && c.Means.Confidence >= 0.8 {
			taken[c.Means.Field] = true
		}
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.When != nil || c.Who != nil || len(c.Could) < 2 && (len(c.Could) == 0 || c.Means.Confidence >= 0.6) {
			continue
		}
		best := -1.0
		for _, m := range c.Could {
			worth := 0.5*m.Confidence + s.share(h, c.Field, m)
			if taken[m.Field] && (keys(m.Field) || single(m.Field)) {
				worth -= 0.6
			}
			if worth > best {
				best, c.Means = worth, m
			}
		}
		if best < 0.7 {
			c.Means = parse.Meaning{}
			continue
		}
		taken[c.Means.Field] = true
	}
	s.coloured(t, h)
	s.treatedOn(t, h)
	s.together(t, h)
	for i := range t.Columns {
		if c := &t.Columns[i]; c.When == nil && c.Who == nil && (c.Means.Field == "" || c.Means.Field == parse.FieldResult) && !parse.NotOfBird(c.Text) && s.weighs(h, c.Field) {
			c.Means = parse.Meaning{Field: parse.FieldWeight, Confidence: 0.6}
			s.out.Notes = append(s.out.Notes, fmt.Sprintf("the column at %s is read as weights: most of its cells write a unit of weight", cellName(s.v.Ref(h.last, c.Field))))
		}
	}
	for i := 0; i+1 < len(t.Columns); i++ {
		lb, oz := could(t.Columns[i], parse.FieldPoundPart), could(t.Columns[i+1], parse.FieldOuncePart)
		if lb != nil && oz != nil {
			t.Columns[i].Means, t.Columns[i+1].Means = *lb, *oz
		}
	}
}

// treatedOn takes a column of treatments that holds dates only, "Treated" beside "Product", for the column of dates.
func (s *scan) treatedOn(t *Table, h header) {
	if t.Column(parse.FieldDate) != nil {
		return
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Means.Field != parse.FieldTreatment || s.share(h, c.Field, parse.Meaning{Field: parse.FieldDate}) < 0.9 {
			continue
		}
		if slices.ContainsFunc(t.Columns, func(o Column) bool {
			return o.Field != c.Field && o.Means.Field == parse.FieldTreatment && s.share(h, o.Field, parse.Meaning{Field: parse.FieldDate}) < 0.5
		}) {
			c.Means, c.Could = parse.Meaning{Field: parse.FieldDate, Confidence: 0.8}, nil
			return
		}
	}
}

// coloured takes a column of colours for those of the rings, not of the birds, where the same ring stands beside
// two of them, or other rings have their colour before the number.
func (s *scan) coloured(t *Table, h header) {
	ring := t.Column(parse.FieldRing, parse.FieldBird)
	if ring == nil || t.Column(parse.FieldRingColour) != nil {
		return
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		of := could(*c, parse.FieldRingColour)
		if of == nil {
			continue
		}
		seen := map[string]string{}
		two, other := false, false
		for l := h.last + 1; l < min(h.last+200, s.v.Lines()); l++ {
			if s.v.Blank(l, c.Field) || s.v.Blank(l, ring.Field) {
				continue
			}
			colour, key := parse.Colour(s.v.Cell(l, c.Field).Raw), parse.RingKey(s.v.Cell(l, ring.Field).Raw)
			other = other || colour == ""
			if old, ok := seen[key]; ok && old != colour {
				two = true
			}
			seen[key] = colour
		}
		for l := h.last + 1; l < min(h.last+200, s.v.Lines()); l++ {
			word, number, ok := strings.Cut(strings.TrimSpace(s.v.Cell(l, ring.Field).Raw), " ")
			two = two || ok && parse.Colour(word) != "" && strings.Trim(number, "0123456789") == ""
		}
		if two && !other {
			c.Means = *of
		}
	}
}

// weighs reports whether half or more of a column's first cells are weights that write their unit.
func (s *scan) weighs(h header, field int) bool {
	n, fit := 0, 0
	for l := h.last + 1; l < min(h.last+60, s.v.Lines()); l++ {
		if s.v.Blank(l, field) || parse.Missing(s.v.Cell(l, field).Raw) {
			continue
		}
		n++
		if m, p := parse.Weight(s.v.Stored(l, field), parse.WeightIn{}); (p == nil || !p.Holds()) && m.Unit != "" {
			fit++
		}
	}
	return n >= 2 && fit*2 >= n
}

func could(c Column, f parse.Field) *parse.Meaning {
	for i := range c.Could {
		if c.Could[i].Field == f {
			return &c.Could[i]
		}
	}
	return nil
}

// single reports whether a table has one column of a field at most.
func single(f parse.Field) bool {
	switch f {
	case parse.FieldWeekday, parse.FieldSex, parse.FieldBreed, parse.FieldRingColour, parse.FieldVariety, parse.FieldHatched, parse.FieldFlock, parse.FieldRingLeg:
		return true
	}
	return false
}

// share is the share of a column's first cells that suit a meaning.
func (s *scan) share(h header, field int, m parse.Meaning) float64 {
	n, fit := 0, 0
	for l := h.last + 1; l < min(h.last+40, s.v.Lines()); l++ {
		if s.v.Blank(l, field) {
			continue
		}
		n++
		if s.suits(l, field, m) {
			fit++
		}
	}
	if n == 0 {
		return 0.5
	}
	return float64(fit) / float64(n)
}

// suits reports whether a cell may be of a meaning.
func (s *scan) suits(line, field int, m parse.Meaning) bool {
	c, k := s.v.Stored(line, field), s.words.look(s.v, line, field)
	switch m.Field {
	case parse.FieldDate, parse.FieldHatched:
		return k.date || k.number && isYear(c.Text)
	case parse.FieldWeekday:
		_, ok := parse.Weekday(c.Text)
		return ok
	case parse.FieldSession:
		return parse.Clock(c.Text) || c.Stored == parse.Dated && strings.HasPrefix(c.Text, "0.")
	case parse.FieldAge:
		return k.age || k.number
	case parse.FieldSex:
		_, _, p := parse.Sex(c)
		return p == nil
	case parse.FieldRingColour:
		return parse.Colour(c.Text) != ""
	case parse.FieldRingLeg:
		return parse.Side(c.Text)
	case parse.FieldRing:
		return !k.date && (k.number || strings.ContainsAny(c.Text, "0123456789"))
	case parse.FieldBird, parse.FieldMale, parse.FieldHen:
		return !k.date
	case parse.FieldName, parse.FieldVariety, parse.FieldBreed:
		return k.text
	case parse.FieldWeight, parse.FieldPoundPart, parse.FieldOuncePart:
		return k.number || strings.ContainsAny(c.Text, "0123456789")
	case parse.FieldCondition, parse.FieldFeather, parse.FieldLeg, parse.FieldComb:
		_, p := parse.Score(c, parse.ScoreIn{Scale: m.Scale})
		return p == nil || !p.Holds()
	case parse.FieldHatchedNo, parse.FieldEggsSet, parse.FieldEggCount:
		return k.number
	case parse.FieldParasite:
		_, p := parse.Finding(c, parse.FindingIn{Parasite: m.Parasite})
		return p == nil || !p.Holds() || p.Class == parse.UnknownValue
	}
	return k.text
}

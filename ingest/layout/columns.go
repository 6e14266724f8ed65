package layout

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// band is a run of fields that makes one table; several lie side by side.
type band struct{ lo, hi int }

// bands parts a heading where an empty column or a repeated heading shows that another table begins beside
// the first: the part must have its own date or bird.
func (s *scan) bands(h header) []band {
	var cuts []int // fields that begin a new part
	mean := func(f int) parse.Field {
		if l := s.words.look(s.v, h.last, f); l.known() {
			return l.means.Field
		}
		return ""
	}
	begun := h.fields[0]
	for i := 1; i < len(h.fields); i++ {
		f := h.fields[i]
		gap := f-h.fields[i-1] > 1
		if s.again(h, begun, f) || s.againUnder(h, begun, f) {
			cuts = append(cuts, f)
			begun = f
			continue
		}
		repeats := keys(mean(f)) && slices.ContainsFunc(h.fields[:i], func(g int) bool { return g >= begun && mean(g) == mean(f) })
		if gap && s.emptyBetween(h, h.fields[i-1]+1, f-1) && s.complete(h, f, s.v.Fields()) && s.complete(h, begun, f) || repeats && s.complete(h, f, s.v.Fields()) && s.complete(h, begun, f) {
			cuts = append(cuts, f)
			begun = f
		}
	}
	if len(cuts) == 0 {
		lo := h.fields[0]
		for lo > 0 && s.usedBelow(h, lo-1) {
			lo--
		}
		hi := h.fields[len(h.fields)-1]
		for s.usedBelow(h, hi+1) {
			hi++
		}
		return []band{{lo, hi}}
	}
	var out []band
	lo := h.fields[0]
	if s.v.Blank(h.last, lo-1) && s.usedBelow(h, lo-1) {
		lo-- // names without a heading
	}
	for _, c := range cuts {
		out = append(out, band{lo, h.fields[slices.Index(h.fields, c)-1]})
		if lo = c; s.againUnder(h, h.fields[0], c) {
			lo--
		}
	}
	return append(out, band{lo, h.fields[len(h.fields)-1]})
}

// again reports whether a field begins the heading of the table to the left once more: "Chick | wk 2 | wk 4 | Chick |
// wk 2 | wk 4", with or without a blank column between.
func (s *scan) again(h header, begun, f int) bool {
	first, c := s.v.Cell(h.last, begun), s.v.Cell(h.last, f)
	l := s.words.look(s.v, h.last, f)
	if f == begun || c.Kind != sheet.Text || parse.Fold(first.Raw) != parse.Fold(c.Raw) || l.date || l.age || l.number || l.known() && !keys(l.means.Field) || l.means.Field != "" && !keys(l.means.Field) && l.means.Confidence >= 0.6 && valued(l.means.Field) {
		return false
	}
	over := func(from, to int) bool { // dates, ages or numbers over values, and nothing else that could be a key
		n := 0
		for _, g := range h.fields {
			if g <= from || g >= to {
				continue
			}
			k := s.words.look(s.v, h.last, g)
			switch {
			case k.date, k.age, k.number:
				n++
			case parse.Fold(s.v.Cell(h.last, g).Raw) == parse.Fold(c.Raw):
				return n > 0
			}
		}
		return n > 0
	}
	return over(begun, f) && over(f, s.v.Fields())
}

// againUnder is again where the names have no heading: the same dates come again after a column without one.
func (s *scan) againUnder(h header, begun, f int) bool {
	l := s.words.look(s.v, h.last, f)
	return f > begun+2 && (l.date || l.age || l.number) && begun > 0 && s.v.Cell(h.last, f).Raw == s.v.Cell(h.last, begun).Raw &&
		s.v.Blank(h.last, f-1) && s.usedBelow(h, f-1) && s.v.Blank(h.last, begun-1) && s.usedBelow(h, begun-1)
}

// usedBelow reports whether a column without a heading holds anything in the first lines below it.
func (s *scan) usedBelow(h header, field int) bool {
	if field < 0 || field >= s.v.Fields() {
		return false
	}
	for l := h.last + 1; l < min(h.last+9, s.v.Lines()); l++ {
		if !s.v.Blank(l, field) {
			return true
		}
		if len(s.v.filled(l, 0, s.v.Fields()-1)) == 0 {
			break // what follows may be another table
		}
	}
	return false
}

func (s *scan) emptyBetween(h header, lo, hi int) bool {
	for f := lo; f <= hi; f++ {
		if s.usedBelow(h, f) {
			return false
		}
	}
	return true
}

// keys reports whether a field says when or which bird.
func keys(f parse.Field) bool {
	switch f {
	case parse.FieldDate, parse.FieldAge, parse.FieldBird, parse.FieldRing, parse.FieldName:
		return true
	}
	return false
}

// complete reports whether the headings from a field on, up to another or to the next gap, have a key and a
// value.
func (s *scan) complete(h header, from, to int) bool {
	key, value, facts := false, false, 0
	for i, f := range h.fields {
		if f < from || f >= to {
			continue
		}
		if i > 0 && h.fields[i-1] >= from && f-h.fields[i-1] > 1 {
			break
		}
		l := s.words.look(s.v, h.last, f)
		key = key || keys(l.means.Field)
		value = value || valued(l.means.Field) || l.date || l.age
		switch l.means.Field {
		case parse.FieldBreed, parse.FieldSex, parse.FieldHatched, parse.FieldVariety, parse.FieldLine, parse.FieldClass:
			facts++
		}
	}
	return key && (value || facts >= 2)
}

// valued reports whether a field holds looks at a bird, or what was done to it.
func valued(f parse.Field) bool {
	switch f {
	case parse.FieldWeight, parse.FieldPoundPart, parse.FieldOuncePart, parse.FieldCondition, parse.FieldFeather, parse.FieldLeg, parse.FieldComb,
		parse.FieldParasite, parse.FieldWormEggs, parse.FieldTreatment, parse.FieldEggCount, parse.FieldEggsSet, parse.FieldClear, parse.FieldFertile,
		parse.FieldDeadEarly, parse.FieldDeadShell, parse.FieldHatchedNo, parse.FieldResult, parse.FieldOut, parse.FieldMoult, parse.FieldMoved:
		return true
	}
	return false
}

// beside reports whether a field stands beside values of the same line.
func beside(f parse.Field) bool {
	switch f {
	case parse.FieldUnit, parse.FieldNote, parse.FieldDose, parse.FieldAgainst, parse.FieldWithdrawal, parse.FieldBy, parse.FieldScorer,
		parse.FieldReason, parse.FieldStored, parse.FieldSetting, parse.FieldShow, parse.FieldShowNote, parse.FieldWeekday, parse.FieldSession:
		return true
	}
	return false
}

// build gives the columns of a band their meaning. The facts of a card above hold for all its lines.
func (s *scan) build(h header, b band, facts []Fixed) *Table {
	t := &Table{View: s.v, Shape: Long, Head: [2]int{h.first, h.last}, Fields: [2]int{b.lo, b.hi}, Fixed: facts}
	for f := b.lo; f <= b.hi; f++ {
		t.Columns = append(t.Columns, s.column(h, f))
	}
	s.overBand(t, h)
	s.periods(t, h)
	s.within(t, h)
	s.shortDates(t, h)
	s.week(t)
	s.names(t, h)
	s.resolve(t, h)
	s.counter(t, h)
	s.birdless(t, h)
	t.sites()
	for i := range t.Columns {
		c := &t.Columns[i]
		switch {
		case c.Means.Field == parse.FieldDerived || c.Means.Field == parse.FieldTotal:
			c.Fate = Derived
		case c.When != nil:
			c.Fate, t.Shape = Value, Wide
		case c.Means.Field == "":
			c.Fate = Other
		case valued(c.Means.Field):
			c.Fate = Value
		case beside(c.Means.Field):
			c.Fate = Beside
		default:
			c.Fate = Key
		}
	}
	return t
}

// column reads the heading of one field over all its levels.
func (s *scan) column(h header, f int) Column {
	c := Column{Field: f}
	var levels []string
	for l := h.first; l <= h.last; l++ {
		if !s.v.Blank(l, f) {
			c.Head = append(c.Head, s.v.Ref(l, f))
		}
		text := ""
		if l < h.last {
			if s.v.Blank(h.last, f) {
				if !s.v.Blank(l, f) {
					text = s.v.Cell(l, f).Raw
				}
			} else {
				text = s.above(l, f)
			}
		} else if l0, _ := s.v.Origin(l, f); l0 == l && !s.v.Blank(l, f) {
			text = s.v.Cell(l, f).Raw
		}
		if text = strings.TrimSpace(text); text != "" && (len(levels) == 0 || levels[len(levels)-1] != text) {
			levels = append(levels, text)
		}
	}
	c.Text = strings.Join(levels, " ")
	c.Could = meanings(levels)
	if len(c.Could) > 0 {
		c.Means = c.Could[0]
	}
	return c
}

// sites settles where on the bird or in the house a column of findings looks.
func (t *Table) sites() {
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Means.Field != parse.FieldParasite {
			continue
		}
		c.Site = site(c.Means.Rest)
		if c.Means.Parasite == record.Mites && OffBird(c.Site) {
			c.Means.Parasite = record.RedMite // the mite that leaves the bird by day
		}
	}
}

// site is the part of a heading that says where was looked, without the words for how.
func site(rest string) string {
	var out []string
	for _, w := range strings.Fields(rest) {
		switch w = strings.Trim(w, "().,:?#/"); w {
		case "", "count", "counts", "score", "number", "no", "nr", "found", "seen", "level", "anzahl", "per", "bird", "check", "checked", "y", "n":
		default:
			out = append(out, w)
		}
	}
	return strings.Join(out, " ")
}

// OffBird reports whether a site is a part of the house: what is found there says nothing of one bird.
func OffBird(site string) bool {
	for _, w := range strings.Fields(site) {
		switch strings.TrimSuffix(w, "es") {
		case "perch", "house", "hous", "coop", "nest", "nests", "nestbox", "trap", "traps", "crack", "cracks", "roost", "roosts", "shed":
			return true
		}
	}
	return false
}

func first(texts ...string) string {
	for _, t := range texts {
		if t != "" {
			return t
		}
	}
	return ""
}

// counter finds a column that only counts the lines, 1, 2, 3, beside one of birds that come again.
func (s *scan) counter(t *Table, h header) {
	var names []*Column
	for i := range t.Columns {
		switch t.Columns[i].Means.Field {
		case parse.FieldBird, parse.FieldRing, parse.FieldName:
			names = append(names, &t.Columns[i])
		}
	}
	if len(names) < 2 {
		return
	}
	again := func(c *Column) bool {
		seen := map[string]bool{}
		for l := h.last + 1; l < min(h.last+200, s.v.Lines()); l++ {
			raw := s.v.Cell(l, c.Field).Raw
			if raw != "" && seen[raw] {
				return true
			}
			seen[raw] = true
		}
		return false
	}
	for _, c := range names {
		n, next := 0, ""
		for l := h.last + 1; l < min(h.last+200, s.v.Lines()); l++ {
			raw := strings.TrimRight(strings.TrimSpace(s.v.Cell(l, c.Field).Raw), ".")
			if raw == "" {
				continue
			}
			v, err := strconv.Atoi(raw)
			if err != nil || n > 0 && raw != next {
				n = 0
				break
			}
			n, next = n+1, strconv.Itoa(v+1)
		}
		if n >= 3 && slices.ContainsFunc(names, func(o *Column) bool { return o != c && again(o) }) {
			c.Means, c.Could = parse.Meaning{Field: parse.FieldTotal, Confidence: 0.7}, nil
			return
		}
	}
}

// birdless looks for the column of birds where no heading names one: the first column of words that has no
// heading, or, over dates, one whose heading is not understood.
func (s *scan) birdless(t *Table, h header) {
	for i := range t.Columns {
		if f := t.Columns[i].Means.Field; f == parse.FieldBird || f == parse.FieldRing || f == parse.FieldName {
			return
		}
	}
	if t.Fact(parse.FieldBird, parse.FieldRing, parse.FieldName) != nil {
		return
	}
	wide := slices.ContainsFunc(t.Columns, func(c Column) bool { return c.When != nil })
	for i := range t.Columns {
		if c := &t.Columns[i]; wide && (c.Means.Field == parse.FieldHen || c.Means.Field == parse.FieldMale) && len(c.Head) > 0 { // "Hen | 13/4 | 20/4"
			t.Fixed = append(t.Fixed, Fixed{parse.Meaning{Field: parse.FieldSex}, parse.T(c.Text), c.Head[0]})
			c.Means = parse.Meaning{Field: parse.FieldBird, Confidence: 0.6}
			return
		}
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.When != nil || c.Who != nil || c.Means.Field != "" && !(wide && (c.Means.Field == parse.FieldDate || topical(c.Means.Field)) && s.wordy(h, c.Field)) {
			continue
		}
		if (c.Text == "" || wide) && s.wordy(h, c.Field) && !(s.sparse(t, c.Field) && slices.ContainsFunc(t.Columns[i+1:], func(o Column) bool {
			return o.Text == "" && o.When == nil && !s.sparse(t, o.Field) && s.wordy(h, o.Field)
		})) {
			c.Means = parse.Meaning{Field: parse.FieldBird, Confidence: 0.6}
			s.out.Notes = append(s.out.Notes, fmt.Sprintf("the column at %s is read as birds: it holds words and no other column names a bird", cellName(s.v.Ref(h.last, c.Field))))
			return
		}
	}
}

// sparse reports whether a column is empty in four of ten of its table's first lines or more, as one of groups is.
func (s *scan) sparse(t *Table, field int) bool {
	n, blank := 0, 0
	for l := t.Head[1] + 1; l < min(t.Head[1]+40, s.v.Lines()); l++ {
		if len(s.v.filled(l, t.Fields[0], t.Fields[1])) == 0 {
			break
		}
		n++
		if s.v.Blank(l, field) {
			blank++
		}
	}
	return blank*10 >= n*4
}

// wordy reports whether most of a column's first cells are words or short marks that differ.
func (s *scan) wordy(h header, field int) bool {
	n, words := 0, 0
	seen := map[string]bool{}
	for l := h.last + 1; l < min(h.last+40, s.v.Lines()); l++ {
		if s.v.Blank(l, field) {
			continue
		}
		n++
		if c := s.v.Cell(l, field); c.Kind == sheet.Text && !s.words.look(s.v, l, field).date && len(c.Raw) <= 60 {
			words++
			seen[c.Raw] = true
		}
	}
	return n > 0 && words*2 > n && len(seen) > 1 || n == 1 && words == 1
}

func cellName(r record.Ref) string { return r.Cell() }

package layout

import (
	"path/filepath"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// Subject says how surely a sheet or table is about a keeper's birds.
type Subject uint8

// The subjects. A list of other things may have names, dates and weights too: only words of the trade, rings, sexes
// and the like tell them apart.
const (
	Foreign  Subject = iota // nothing in it speaks of birds
	Doubtful                // it could be about birds: worth one question
	OfBirds
)

// Marks for and against: common practice, no source. Three make a sheet of birds, two are worth a question.
const (
	surely  = 3
	perhaps = 2
)

// judge weighs, for each table and for the sheet, whether it is about birds.
func (s *Sheet) judge() {
	around := s.around()
	for _, t := range s.Tables {
		if t.Shape == Diary {
			t.Marks = diaryMarks(t)
		} else {
			t.Marks = t.marks()
		}
		t.Subject = subject(t.Marks + around)
		s.Subject = max(s.Subject, t.Subject)
	}
}

func subject(marks int) Subject {
	switch {
	case marks >= surely:
		return OfBirds
	case marks >= perhaps:
		return Doubtful
	}
	return Foreign
}

// around is what the sheet's titles, its name and its file's name say.
func (s *Sheet) around() int {
	g := s.View.grid
	texts := append([]string{g.Sheet, strings.TrimSuffix(g.File, filepath.Ext(g.File))}, s.Titles...)
	trade, foreign, topic := 0, 0, 0
	for _, text := range texts {
		b := parse.Subject(strings.ReplaceAll(text, "_", " "))
		switch {
		case parse.Parasite(text) != "":
			trade = surely
		case b.Trade:
			trade = max(trade, 2)
		}
		if b.Foreign || b.Feed {
			foreign = 2
		}
		if m, _ := Topic(text); m.Field != "" {
			topic = 1
		}
	}
	return max(trade, topic) - foreign
}

// judged is how many lines of a table are looked at.
const judged = 60

// marks weighs the headings and cells of a table.
func (t *Table) marks() int {
	trade, foreign, plain, name := 0, 0, 0, 0
	cells, could, sexes, looks := 0, 0, 0, 0
	for i := range t.Columns {
		c := &t.Columns[i]
		head := parse.Subject(c.Text)
		if head.Trade || c.Fate != Other && tradeField(c.Means) {
			trade++
		}
		if head.Foreign {
			foreign++
		}
		switch f := c.Means.Field; {
		case c.Fate == Other || c.Fate == Derived:
		case f == parse.FieldWeight, f == parse.FieldPoundPart, f == parse.FieldOuncePart, c.When != nil && f == "":
			n, fit := t.plausible(c)
			cells, could = cells+n, could+fit
		case f == parse.FieldName || f == parse.FieldBird && (headsBirds(c.Text) || t.View.turned && headsDates(c.Text)) || f == parse.FieldMale || f == parse.FieldHen:
			name = 1
		case f == parse.FieldSex || f == parse.FieldClass:
			sexes = max(sexes, t.sexes(c))
		case f == parse.FieldEggCount:
			looks = 2
		case f == parse.FieldCondition, f == parse.FieldComb, f == parse.FieldLeg, f == parse.FieldPen && penned(c.Text), f == parse.FieldTreatment, f == parse.FieldHatched, f == parse.FieldVariety:
			plain++
		}
		if c.Who != nil && name == 0 {
			name = 1
		}
	}
	for i := range t.Fixed {
		f := &t.Fixed[i]
		switch {
		case tradeField(f.Means) || f.Means.Field == parse.FieldBreed:
			trade++
		case f.Means.Field == parse.FieldName || f.Means.Field == parse.FieldBird:
			name = 1
		case f.Means.Field == parse.FieldSex || f.Means.Field == parse.FieldHatched:
			plain++
		}
		if parse.Subject(f.Cell.Text).Trade {
			trade++
		}
	}
	marks := surely*min(trade, 2) + name + sexes + min(plain, 2) + looks
	if could > 0 && could*4 >= cells*3 {
		marks += t.weighsMarks()
		if name == 0 && t.underName() {
			marks++
		}
	}
	if could > 0 && t.days() >= 2 || t.again() {
		marks++
	}
	if foreign > 0 && trade > 0 {
		marks -= surely
	} else if foreign > 0 {
		marks -= surely + min(foreign-1, 2)
	}
	return marks + t.cellMarks()
}

// underName reports whether a table without a column of birds stands under a name: as its title, or on a sheet of its own.
func (t *Table) underName() bool {
	if t.Column(parse.FieldBird, parse.FieldRing, parse.FieldName) != nil {
		return false
	}
	for _, text := range []string{t.Title, t.View.grid.Sheet} {
		if n := len(strings.Fields(text)); n > 0 && n <= 3 && len(text) <= 40 && !PlainTitle(text) && !parse.Subject(text).Foreign {
			return true
		}
	}
	return false
}

// days counts the days that stand over a table's values; months are not counted, accounts have them too.
func (t *Table) days() int {
	n := 0
	for i := range t.Columns {
		w := t.Columns[i].When
		if w == nil || w.Means.Field != parse.FieldDate || w.Cell.Stored == parse.Number {
			continue
		}
		if when, p := parse.Date(w.Cell, parse.DateIn{Order: parse.DMY, Year: 2000}); p == nil && when.On.Exact() || p != nil && p.Class == parse.DateOrderConflict {
			n++
		}
	}
	return n
}

// again reports whether a list without a heading over its birds names each about twice or more, under dates.
func (t *Table) again() bool {
	b, d := t.Column(parse.FieldBird), t.Column(parse.FieldDate)
	if b == nil || b.Text != "" || d == nil || t.Shape != Long {
		return false
	}
	seen := map[string]bool{}
	for _, l := range t.Lines[:min(len(t.Lines), judged)] {
		seen[t.View.Cell(l, b.Field).Raw] = true
	}
	return len(seen)*2 <= min(len(t.Lines), judged)
}

// penned reports whether a heading of places is one of pens; a house or a row may be of people.
func penned(heading string) bool {
	for _, w := range strings.Fields(parse.Fold(heading)) {
		switch strings.Trim(w, ".:#") {
		case "pen", "pens", "run", "coop", "ark", "aviary", "cage", "stall", "voliere", "poulailler", "parquet", "hok", "ren", "gallinero", "jaula":
			return true
		}
	}
	return false
}

// headsBirds reports whether a heading itself may stand over birds.
func headsBirds(text string) bool {
	for _, m := range parse.Heading(text) {
		if m.Confidence >= 0.5 && (m.Field == parse.FieldBird || m.Field == parse.FieldName || m.Field == parse.FieldRing) {
			return true
		}
	}
	return false
}

// headsDates reports whether a heading stands over dates: in the corner of a sheet on its side, birds stand beside it.
func headsDates(text string) bool {
	m := parse.Heading(text)
	return len(m) > 0 && m[0].Field == parse.FieldDate
}

// weighsMarks is 2 where a column is headed as weights or writes its units, 1 where numbers only stand under dates.
func (t *Table) weighsMarks() int {
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Fate == Value && (c.Means.Field == parse.FieldWeight || c.Means.Field == parse.FieldPoundPart || c.Means.Field == parse.FieldOuncePart) {
			return 2
		}
	}
	for i := range t.Columns {
		if t.Columns[i].When != nil && t.united(&t.Columns[i]) {
			return 2
		}
	}
	return 1
}

// united reports whether most cells of a column write a unit of weight.
func (t *Table) united(c *Column) bool {
	n, fit := 0, 0
	for _, l := range t.Lines[:min(len(t.Lines), judged)] {
		if t.View.Blank(l, c.Field) {
			continue
		}
		n++
		if parse.UnitIn(t.View.Cell(l, c.Field).Raw) != "" || endsWithUnit(t.View.Cell(l, c.Field).Raw) {
			fit++
		}
	}
	return n > 0 && fit*2 > n
}

func endsWithUnit(raw string) bool {
	m, p := parse.Weight(parse.T(raw), parse.WeightIn{})
	return p == nil && m.Unit != ""
}

// tradeField reports whether only keepers of fowl head a column so.
func tradeField(m parse.Meaning) bool {
	if m.Confidence < 0.8 {
		return false
	}
	switch m.Field {
	case parse.FieldRing, parse.FieldRingColour, parse.FieldParasite, parse.FieldWormEggs, parse.FieldFeather, parse.FieldMoult,
		parse.FieldEggsSet, parse.FieldFertile, parse.FieldDeadEarly, parse.FieldDeadShell, parse.FieldHatchedNo:
		return true
	}
	return false
}

// plausible counts a column's cells and those that could be weights of fowl, in some unit.
func (t *Table) plausible(c *Column) (n, fit int) {
	for _, l := range t.Lines[:min(len(t.Lines), judged)] {
		if t.View.Blank(l, c.Field) || parse.Missing(t.View.Cell(l, c.Field).Raw) {
			continue
		}
		n++
		cell := t.View.Stored(l, c.Field)
		if c.Means.Field == parse.FieldPoundPart || c.Means.Field == parse.FieldOuncePart {
			fit++
			continue
		}
		_, p := parse.Weight(cell, parse.WeightIn{Unit: c.Means.Unit})
		switch {
		case p == nil || !p.Holds():
			fit++
		case p.Class == parse.UnitUnknown, p.Class == parse.PoundsAmbiguous, p.Class == parse.DateInWeight, p.Class == parse.WeightAmbiguous, p.Class == parse.NoCache, p.Class == parse.OuncesTooMany, p.Class == parse.Doubtful:
			fit++
		}
	}
	return n, fit
}

// sexes is 3 where a column of sexes speaks of hens and cocks, 1 where it says male and female only.
func (t *Table) sexes(c *Column) int {
	n, fit, trade := 0, 0, 0
	for _, l := range t.Lines[:min(len(t.Lines), judged)] {
		if t.View.Blank(l, c.Field) {
			continue
		}
		n++
		cell := t.View.Stored(l, c.Field)
		if _, class, p := parse.Sex(cell); p == nil {
			if fit++; class != "" || parse.Subject(cell.Text).Trade {
				trade++
			}
		}
	}
	switch {
	case n == 0 || fit*2 < n:
		return 0
	case trade*2 >= fit:
		return surely
	}
	return 1
}

// cellMarks weighs the cells: rings, breeds and remarks of the trade for, goods against.
func (t *Table) cellMarks() int {
	rings, marks, feed, speaks := false, 0, false, false
	for i := range t.Columns {
		c := &t.Columns[i]
		n, ring, trade, goods, foreign := 0, 0, 0, 0, 0
		for _, l := range t.Lines[:min(len(t.Lines), judged)] {
			cell := t.View.Cell(l, c.Field)
			if cell.Kind != sheet.Text || strings.TrimSpace(cell.Raw) == "" {
				continue
			}
			n++
			b := parse.Subject(cell.Raw)
			if b.Trade {
				trade++
			}
			if b.Foreign && !b.Trade {
				foreign++
				goods++
			} else if b.Feed && (c.Means.Field == "" || len(strings.Fields(cell.Raw)) > 1) { // Sugar and Coal are names too
				goods++
			}
			if ringlike(cell.Raw) {
				ring++
			}
		}
		switch c.Means.Field {
		case parse.FieldRing, parse.FieldBird, parse.FieldName:
			rings = rings || ring*2 > n && ring > 0
			feed = feed || goods*3 >= n && (goods > 1 || foreign > 0)
		case parse.FieldNote, parse.FieldTreatment, parse.FieldOut:
			speaks = speaks || trade > 0
		case "":
			feed = feed || goods*3 >= n && goods > 1
			speaks = speaks || trade*3 >= n && trade > 0
		case parse.FieldBreed, parse.FieldVariety:
			speaks = speaks || trade > 0
		}
	}
	if rings {
		marks += 2
	}
	if speaks {
		marks += 2
	}
	if feed {
		marks -= surely
	}
	return marks
}

// PlainTitle reports whether a sheet's name or title says what the sheet is about rather than which bird.
func PlainTitle(text string) bool {
	if _, ok := parse.YearIn(text); ok {
		return true
	}
	if scope, _ := parse.Scope(text); scope != record.OneBird {
		return true
	}
	if _, p := parse.Date(parse.T(text), parse.DateIn{Year: 2000, Order: parse.DMY}); p == nil || p.Class == parse.DateDayMissing {
		return true
	}
	if m, _ := Topic(text); m.Field != "" {
		return true
	}
	folded := parse.Fold(text)
	for _, word := range []string{"sheet", "tabelle", "feuil", "blad", "hoja", "table", "data", "log", "records", "book", "birds", "flock", "notes", "list", "page"} {
		if strings.HasPrefix(folded, word) {
			return true
		}
	}
	return parse.UnitIn(text) != ""
}

// ringlike reports whether a text looks as rings do: a colour or one to four letters with figures.
func ringlike(raw string) bool {
	folded := strings.TrimSpace(parse.Fold(raw))
	if len(folded) > 16 || !strings.ContainsAny(folded, "0123456789") {
		return false
	}
	letters := strings.TrimRight(strings.TrimRight(folded, "0123456789"), " -/.")
	if letters == folded || letters == "" {
		return false
	}
	return parse.Colour(letters) != "" || len(letters) <= 4 && strings.Trim(letters, "abcdefghijklmnopqrstuvwxyz") == ""
}

// diaryMarks weighs lines of words: a weight with its unit that a fowl may have, and words of the trade.
func diaryMarks(t *Table) int {
	weights, trade, foreign, handled, rings, numbers := 0, 0, 0, 0, 0, 0
	names := map[string]bool{}
	for _, l := range t.Lines {
		raw := ""
		for _, f := range t.View.filled(l, t.Fields[0], t.Fields[1]) {
			raw += " " + t.View.Cell(l, f).Raw
		}
		b := parse.Subject(raw)
		if b.Trade {
			trade++
		}
		if b.Foreign || b.Feed {
			foreign++
		}
		if weighsIn(raw) {
			weights++
		}
		words := strings.Fields(raw)
		if len(words) > 1 && endsWithNumber(raw) && len(words[len(words)-1]) >= 3 {
			numbers++
			names[strings.ToLower(words[len(words)-2])] = true
		}
		if len(words) > 1 && endsWithNumber(raw) && (ringlike(words[0]) || len(words) > 2 && ringlike(words[0]+" "+words[1])) {
			rings++
		}
		for _, w := range []string{"weighed", "weigh", "gasping", "isolated", "sneezing", "limping", "lame", "rung", "gewogen", "pese", "gewogen", "pesado"} {
			if strings.Contains(parse.Fold(raw), w) {
				handled = 1
			}
		}
	}
	marks := handled
	if numbers > 1 && numbers*2 >= len(t.Lines) {
		marks++
		if len(names) < numbers {
			marks++
		}
	}
	if rings > 1 {
		marks += 2
	}
	if weights > 0 {
		marks += 2
	}
	if weights > 1 {
		marks++
	}
	if trade > 0 {
		marks += 2
	}
	if trade > 1 {
		marks++
	}
	if foreign*2 > len(t.Lines) {
		marks -= surely
	}
	return marks
}

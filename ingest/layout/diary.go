package layout

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"keelmark/ingest/parse"
)

// diary reads a sheet without headings whose lines begin with a date.
func diary(v *View, w *words) *Sheet {
	s := &scan{v: v, words: w, out: &Sheet{}}
	t := &Table{View: v, Shape: Diary, Head: [2]int{0, -1}, Fields: [2]int{0, v.Fields() - 1}}
	dated, weighed, words := 0, 0, 0
	for l := 0; l < v.Lines(); l++ {
		filled := v.filled(l, 0, v.Fields()-1)
		if len(filled) == 0 {
			continue
		}
		if k := w.look(v, l, filled[0]); len(filled) <= 3 && (k.date || k.text) {
			words++
			if k.date || startsWithDate(v.Cell(l, filled[0]).Raw) {
				dated++
			} else if raw := v.Cell(l, filled[len(filled)-1]).Raw; endsWithWeight(raw) || endsWithNumber(raw) {
				weighed++
			}
			t.Lines = append(t.Lines, l)
			continue
		}
		s.titles = append(s.titles, l)
	}
	for len(t.Lines) > 0 && dated >= 1 { // what stands before the first date is a title
		first := v.filled(t.Lines[0], 0, v.Fields()-1)
		if raw := v.Cell(t.Lines[0], first[0]).Raw; w.look(v, t.Lines[0], first[0]).date || startsWithDate(raw) || weighsIn(v.Cell(t.Lines[0], first[len(first)-1]).Raw) {
			break
		}
		s.titles = append(s.titles, t.Lines[0])
		t.Lines = t.Lines[1:]
		words--
	}
	if dated < 1 || dated < 2 && weighed < 2 || dated*2 < words && (weighed*2 < words-dated || !startsWithDate(v.Cell(t.Lines[0], v.filled(t.Lines[0], 0, v.Fields()-1)[0]).Raw)) {
		return nil
	}
	if len(s.titles) > 0 {
		t.Title = v.Cell(s.titles[0], v.filled(s.titles[0], 0, v.Fields()-1)[0]).Raw
	}
	s.asideTitles("title")
	for f := 0; f < v.Fields(); f++ {
		m := parse.Meaning{Field: parse.FieldNote}
		if f == 0 {
			m.Field = parse.FieldDate
		}
		t.Columns = append(t.Columns, Column{Field: f, Means: m, Fate: Beside})
	}
	s.out.Tables = []*Table{t}
	s.out.Notes = append(s.out.Notes, fmt.Sprintf("%d of %d lines begin with a date and have no heading: read as a diary", dated, words))
	return s.out
}

// beforeDate reports whether a word may stand before the date of a line: "Weighed 4.10.25".
func beforeDate(word string) bool {
	switch strings.Trim(parse.Fold(word), " .:-") {
	case "weighed", "weigh", "weighing", "weigh-in", "date", "on", "datum", "gewogen", "am", "wt", "weights", "weight", "checked":
		return true
	}
	return false
}

// endsWithNumber reports whether a line is a name and a number that a bird may weigh: "Red 1 - 850".
func endsWithNumber(raw string) bool {
	i := strings.LastIndexAny(raw, " =:-")
	if i <= 0 {
		return false
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(raw[i+1:]), 64)
	return err == nil && x >= 15 && x <= 8000 && strings.ContainsFunc(raw[:i], unicode.IsLetter)
}

// endsWithWeight reports whether a text holds a weight with its unit behind its first word: "Bess 850g".
func endsWithWeight(raw string) bool {
	words := strings.Fields(raw)
	for i := 1; i < min(4, len(words)); i++ {
		for j := i + 1; j <= min(i+4, len(words)); j++ {
			if m, p := parse.Weight(parse.T(strings.Join(words[i:j], " ")), parse.WeightIn{}); p == nil && m.Unit != "" {
				return true
			}
		}
	}
	return false
}

// weighsIn reports whether a text holds a weight with its unit anywhere.
func weighsIn(raw string) bool {
	words := strings.FieldsFunc(raw, func(r rune) bool { return strings.ContainsRune(" ;,\n\t()", r) })
	for i := range words {
		if strings.ContainsAny(words[i], "0123456789½¼¾") && (endsWithWeight("x "+words[i]) || i+1 < len(words) && endsWithWeight("x "+words[i]+" "+words[i+1])) {
			return true
		}
	}
	return false
}

// told makes a diary of a table whose headings are a date and what happened: no birds, no values, and words in every
// column but that of the dates.
func (s *scan) told(t *Table) {
	d := t.Column(parse.FieldDate)
	if t.Shape != Long || d == nil || len(t.Fixed) > 0 || len(t.Lines) == 0 || len(t.Columns) > 3 {
		return
	}
	dates, texts, words := 0, 0, 0
	for i := range t.Columns {
		c := &t.Columns[i]
		if f := c.Means.Field; c.Fate == Value || c.Fate == Derived || f == parse.FieldBird || f == parse.FieldRing || f == parse.FieldName || c.When != nil || c.Who != nil {
			return
		}
		for _, l := range t.Lines {
			if s.v.Blank(l, c.Field) {
				continue
			}
			k := s.words.look(s.v, l, c.Field)
			switch {
			case c == d && k.date:
				dates++
			case c != d && k.text:
				texts++
				words += len(strings.Fields(s.v.Cell(l, c.Field).Raw))
			case c != d:
				return
			}
		}
	}
	if dates*5 < len(t.Lines)*4 && (dates < 2 || !s.v.Blank(t.Lines[0], d.Field)) || words < 2*texts || texts == 0 {
		return
	}
	t.Shape = Diary
	for i := range t.Columns {
		if c := &t.Columns[i]; c != d {
			c.Means, c.Fate = parse.Meaning{Field: parse.FieldNote, Confidence: 0.7}, Beside
		}
	}
	s.out.Notes = append(s.out.Notes, fmt.Sprintf("%d lines hold a date and words, and no column names a bird: read as a diary", len(t.Lines)))
}

func startsWithDate(raw string) bool {
	words := strings.Fields(raw)
	for len(words) > 1 && beforeDate(words[0]) {
		words = words[1:]
	}
	for n := min(4, len(words)); n > 0; n-- {
		if isDate(strings.TrimRight(strings.Join(words[:n], " "), ":,;-–")) {
			return true
		}
	}
	return false
}

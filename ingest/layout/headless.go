package layout

import (
	"fmt"
	"slices"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// headless reads a list without headings whose columns say by their cells what they hold: one of dates, one
// of weights that write their unit, one of birds. Beside rings, bare numbers that a bird may weigh are weights too, and
// dates may be missing.
func headless(v *View, w *words) *Sheet {
	s := &scan{v: v, words: w, out: &Sheet{}}
	var lines []int
	for l := 0; l < v.Lines(); l++ {
		if len(v.filled(l, 0, v.Fields()-1)) >= 2 {
			lines = append(lines, l)
		} else if len(v.filled(l, 0, v.Fields()-1)) > 0 {
			s.titles = append(s.titles, l)
		}
	}
	if len(lines) < 3 {
		return nil
	}
	t := &Table{View: v, Shape: Long, Head: [2]int{0, -1}, Fields: [2]int{0, v.Fields() - 1}, Lines: lines}
	dates, weights, birds := 0, 0, 0
	rings := s.ringColumn(lines)
	for f := 0; f < v.Fields(); f++ {
		c := Column{Field: f, Fate: Other}
		n, date, weight, bare, words := 0, 0, 0, 0, map[string]bool{}
		for _, l := range lines[:min(len(lines), 200)] {
			if v.Blank(l, f) {
				continue
			}
			n++
			k := w.look(v, l, f)
			if k.date {
				date++
			}
			cell := v.Stored(l, f)
			if m, p := parse.Weight(cell, parse.WeightIn{}); p == nil && m.Unit != "" {
				weight++
			} else if x, ok := number(v.Cell(l, f)); ok && x > 10 && (p == nil || p.Class == parse.UnitUnknown) {
				bare++
			}
			if v.Cell(l, f).Kind == sheet.Text && !k.date {
				words[v.Cell(l, f).Raw] = true
			}
		}
		switch {
		case n*5 < len(lines[:min(len(lines), 200)]):
		case date*5 >= n*4 && dates == 0:
			c.Means, c.Fate, dates = parse.Meaning{Field: parse.FieldDate, Confidence: 0.7}, Key, dates+1
		case weight*5 >= n*4 && weights == 0:
			c.Means, c.Fate, weights = parse.Meaning{Field: parse.FieldWeight, Confidence: 0.7}, Value, weights+1
		case f == rings:
			c.Means, c.Fate, birds = parse.Meaning{Field: parse.FieldRing, Confidence: 0.7}, Key, birds+1
		case rings >= 0 && bare*5 >= n*4 && weights == 0:
			c.Means, c.Fate, weights = parse.Meaning{Field: parse.FieldWeight, Confidence: 0.6}, Value, weights+1
		case rings < 0 && birds == 0 && len(words) > 0 && len(words)*2 <= n+1:
			c.Means, c.Fate, birds = parse.Meaning{Field: parse.FieldBird, Confidence: 0.6}, Key, birds+1
		case len(words) > 0:
			c.Means, c.Fate = parse.Meaning{Field: parse.FieldNote, Confidence: 0.6}, Beside
		}
		t.Columns = append(t.Columns, c)
	}
	if weights == 0 || birds == 0 || dates == 0 && rings < 0 {
		return nil
	}

	s.titles = slices.DeleteFunc(s.titles, func(l int) bool { return slices.Contains(lines, l) })
	s.asideTitles("title")
	s.out.Tables = []*Table{t}
	s.out.Notes = append(s.out.Notes, fmt.Sprintf("no line of headings: %d lines hold a bird and a weight%s", len(lines), map[bool]string{true: ", under a date", false: ""}[dates > 0]))
	return s.out
}

// ringColumn is the first column of which four in five cells look as rings do, -1 where there is none.
func (s *scan) ringColumn(lines []int) int {
	for f := 0; f < s.v.Fields(); f++ {
		n, fit := 0, 0
		for _, l := range lines[:min(len(lines), 200)] {
			if s.v.Blank(l, f) {
				continue
			}
			n++
			k := s.words.look(s.v, l, f)
			_, p := parse.Weight(s.v.Stored(l, f), parse.WeightIn{})
			if ringlike(s.v.Cell(l, f).Raw) && !k.date && !k.age && p != nil {
				fit++
			}
		}
		if n*2 > len(lines[:min(len(lines), 200)]) && fit*5 >= n*4 {
			return f
		}
	}
	return -1
}

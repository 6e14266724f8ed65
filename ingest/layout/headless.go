package layout

import (
	"fmt"
	"slices"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// headless reads a list without headings whose columns say by their cells what they hold: one of dates, one
// of weights that write their unit, one of birds. Bare numbers say nothing, so such a list is not read.
func headless(v *View, w *words) *Sheet {
	s := &scan{v: v, words: w, out: &Sheet{}}
	var lines []int
	for l := 0; l < v.Lines(); l++ {
		if len(v.filled(l, 0, v.Fields()-1)) >= 3 {
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
	for f := 0; f < v.Fields(); f++ {
		c := Column{Field: f, Fate: Other}
		n, date, weight, words := 0, 0, 0, map[string]bool{}
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
		case birds == 0 && len(words) > 0 && len(words)*2 <= n+1:
			c.Means, c.Fate, birds = parse.Meaning{Field: parse.FieldBird, Confidence: 0.6}, Key, birds+1
		case len(words) > 0:
			c.Means, c.Fate = parse.Meaning{Field: parse.FieldNote, Confidence: 0.6}, Beside
		}
		t.Columns = append(t.Columns, c)
	}
	if dates == 0 || weights == 0 || birds == 0 {
		return nil
	}
	s.titles = slices.DeleteFunc(s.titles, func(l int) bool { return slices.Contains(lines, l) })
	s.asideTitles("title")
	s.out.Tables = []*Table{t}
	s.out.Notes = append(s.out.Notes, fmt.Sprintf("no line of headings: %d lines hold a date, a bird and a weight with its unit", len(lines)))
	return s.out
}

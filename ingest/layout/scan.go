package layout

import (
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
		if s.told(t); t.Shape == Diary {
			s.out.Tables = append(s.out.Tables, t)
			continue
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

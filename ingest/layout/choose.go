package layout

import (
	"fmt"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// Way says how a sheet is looked at.
type Way string

// The ways. The words are those that answers.toml keeps.
const (
	EitherWay Way = ""        // the better one
	ByRows    Way = "rows"    // lines are rows
	ByColumns Way = "columns" // lines are columns
)

// Read finds the layout of a sheet. Both ways of looking at it are tried, lines as rows and lines as columns,
// unless the keeper has said which it is.
func Read(g *sheet.Grid, way Way) *Sheet {
	v := Of(g)
	s := read(v, way)
	s.View = v
	s.judge()
	return s
}

// closeScores is how near the scores of two layouts lie that are both worth the keeper's word; and the better one must
// leave half as much unexplained as the other, or more: one that explains all leaves no doubt.
const closeScores = 0.15

func (s *Sheet) closeTo(o *Sheet) bool {
	return o.Score > 0.5 && s.Score-o.Score < closeScores && 2*(1-s.Score) >= 1-o.Score
}

func read(v *View, way Way) *Sheet {
	w := newWords()
	if way == ByColumns {
		return scanView(v.Turn(), w)
	}
	upright := scanView(v, w)
	if way == EitherWay && upright.Score < 0.9 && !upright.tidy() && v.Fields() <= 400 && v.Lines() <= 400 {
		if turned := scanView(v.Turn(), w); turned.Score >= max(0.5, upright.Score+0.1) {
			turned.Notes = append(turned.Notes, fmt.Sprintf("read with the columns as lines: that explains %.0f %% of the cells, rows as lines %.0f %%", 100*turned.Score, 100*upright.Score))
			if turned.closeTo(upright) {
				turned.Doubt = "the sheet reads nearly as well with its rows as lines"
			}
			return turned
		}
	}
	if len(upright.Tables) == 0 {
		if h := headless(v, w); h != nil {
			return h
		}
		if d := diary(v, w); d != nil {
			return d
		}
	}
	return upright
}

// tidy reports whether a sheet is one table whose headings are known, most of them and each once, over a column of
// dates, or several such tables. They are what they seem, however little their cells look like their columns.
func (s *Sheet) tidy() bool {
	if len(s.Tables) == 0 {
		return false
	}
	for _, t := range s.Tables {
		if !t.tidy() {
			return false
		}
	}
	return true
}

func (t *Table) tidy() bool {
	if t.Shape != Long && (t.Shape != Cards || len(t.Lines) == 0) {
		return false
	}
	seen := map[[3]string]bool{}
	headed, strange := 0, 0
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Text == "" || c.Field < t.Fields[0] {
			continue
		}
		m := [3]string{string(c.Means.Field), c.Means.Parasite, c.Means.Rest}
		if m[0] == "" || c.Means.Confidence < 0.8 && !(c.Means.Field == parse.FieldWeight && c.Means.Unit != "") {
			strange++
			continue
		}
		if seen[m] {
			return false
		}
		seen[m] = true
		headed++
	}
	d := t.Column(parse.FieldDate)
	if headed < 2 || headed+strange < 3 && t.Column(parse.FieldWeight) == nil || strange > headed || d == nil {
		return false
	}
	dates := 0
	w := newWords()
	for _, l := range t.Lines {
		if w.look(t.View, l, d.Field).date {
			dates++
		}
	}
	return dates > 0 && dates*10 >= len(t.Lines)*9
}

// score sets the share of filled cells that the tables explain: headings that are known, and cells below
// them that are of the heading's kind. A table without values or birds explains nothing.
func (s *scan) score() {
	total, explained := 0, 0.0
	limit := min(s.v.Lines(), 400)
	for l := 0; l < limit; l++ {
		total += len(s.v.filled(l, 0, s.v.Fields()-1))
	}
	for _, t := range s.out.Tables {
		if t.Shape == Diary {
			for _, l := range t.Lines {
				explained += float64(len(s.v.filled(l, t.Fields[0], t.Fields[1])))
			}
			explained += float64(len(s.v.filled(t.Head[1], t.Fields[0], t.Fields[1])))
			continue
		}
		if t.Shape == Cards && len(t.Lines) == 0 {
			explained += 2 * float64(len(t.Fixed))
			continue
		}
		if len(t.Lines) == 0 {
			continue
		}
		values := 0
		for i := range t.Columns {
			if t.Columns[i].Fate == Value {
				values++
			}
		}
		if values == 0 && t.Column(parse.FieldRing, parse.FieldName, parse.FieldBird) == nil {
			continue
		}
		if values == 0 && t.Column(parse.FieldSex, parse.FieldBreed, parse.FieldHatched, parse.FieldPen, parse.FieldVariety, parse.FieldOut) == nil {
			continue
		}
		explained += 2 * float64(len(t.Fixed))
		for i := range t.Columns {
			c := &t.Columns[i]
			if c.Fate != Other {
				explained += float64(len(c.Head))
			} else if c.Text != "" {
				explained += 0.3 * float64(len(c.Head))
			}
			for _, l := range t.Lines {
				if l >= limit {
					break
				}
				if s.v.Blank(l, c.Field) {
					continue
				}
				explained += s.fits(c, l)
			}
		}
		for _, l := range t.Total {
			explained += float64(len(s.v.filled(l, t.Fields[0], t.Fields[1])))
		}
	}
	if total > 0 {
		s.out.Score = max(0, min(1, explained/float64(total)))
	}
}

// fits is how well a cell suits its column: 1 of its kind, 0 of another, 0.3 where the column is not
// understood.
func (s *scan) fits(c *Column, line int) float64 {
	l := s.words.look(s.v, line, c.Field)
	kind := s.v.Cell(line, c.Field).Kind
	ok := true
	date := l.date && (kind != sheet.Text || wholeDate(s.v.Cell(line, c.Field).Raw)) // "3-5" may be pounds and ounces
	switch c.Means.Field {
	case "":
		if c.When == nil {
			return 0.3
		}
		ok = !date
	case parse.FieldDate, parse.FieldHatched:
		ok = l.date || l.number
	case parse.FieldWeight, parse.FieldCondition, parse.FieldEggCount, parse.FieldEggsSet:
		ok = !date && !l.known()
	case parse.FieldName:
		ok = kind == sheet.Text && !l.date
	case parse.FieldBird, parse.FieldRing:
		if scope, _ := parse.Scope(s.v.Cell(line, c.Field).Raw); scope != record.OneBird {
			break // "pen A", "all"
		}
		if ok = !l.date; l.known() {
			return -1 // a heading where a bird should stand
		}
	case parse.FieldSex:
		_, _, p := parse.Sex(s.v.Stored(line, c.Field))
		ok = p == nil
	}
	if ok {
		return 1
	}
	return 0
}

// Topic guesses what the values of a table are about from the words around it, by the words that are known
// headings of values. The nearest text wins.
func Topic(texts ...string) (parse.Meaning, string) {
	for _, text := range texts {
		var hit parse.Meaning
		for _, word := range phrases(text) {
			for _, m := range parse.Heading(word) {
				if m.Confidence >= 0.9 && topical(m.Field) && m.Confidence > hit.Confidence {
					hit = m
				}
			}
		}
		if hit.Field != "" {
			if hit.Unit == "" {
				hit.Unit = parse.UnitIn(text)
			}
			if sc, ok := parse.ScaleIn(text); ok && hit.Scale.Name == "" {
				hit.Scale = sc
			}
			return hit, text
		}
	}
	return parse.Meaning{}, ""
}

// topical reports whether a whole sheet may be about a field.
func topical(f parse.Field) bool {
	switch f {
	case parse.FieldWeight, parse.FieldCondition, parse.FieldFeather, parse.FieldLeg, parse.FieldComb, parse.FieldParasite, parse.FieldWormEggs, parse.FieldEggCount:
		return true
	}
	return false
}

// phrases lists a text, its pairs of words and its words.
func phrases(text string) []string {
	words := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" \t\n-–:,;.()/", r) })
	if len(words) > 40 {
		words = words[:40]
	}
	out := []string{text}
	for i := 0; i+1 < len(words); i++ {
		out = append(out, words[i]+" "+words[i+1])
	}
	return append(out, words...)
}

package reading

import (
	"fmt"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// dittos finds the cells that repeat the one above by a mark. Marks of dates and birds are followed where those are
// read; a mark in the first line repeats nothing.
func (l *lines) dittos() {
	for i := range l.t.Columns {
		c := &l.t.Columns[i]
		if c == l.date || c == l.ring || c == l.name || c == l.bird || c.Fate == layout.Other || c.Fate == layout.Derived || c.Means.Field == parse.FieldTotal {
			continue
		}
		last := -1
		for _, n := range l.t.Lines {
			raw := l.v.Cell(n, c.Field).Raw
			switch {
			case raw == "":
			case raw[0] <= '9' && raw[0] >= '0': // spares the common cell
				last = n
			case parse.Ditto(raw):
				if last < 0 {
					continue
				}
				if l.copied(c, n, last) {
					continue
				}
				if l.same == nil {
					l.same = map[[2]int]int{}
				}
				l.same[[2]int{n, c.Field}] = last
			default:
				last = n
			}
		}
	}
}

// from is the line whose cell a cell repeats: itself but for a ditto mark.
func (l *lines) from(n, field int) int {
	if l.same == nil {
		return n
	}
	if src, ok := l.same[[2]int{n, field}]; ok {
		return src
	}
	return n
}

// stored is a cell as package parse reads it, followed where it is a ditto mark.
func (l *lines) stored(n, field int) parse.Cell {
	if l.unsaid[[2]int{n, field}] {
		return parse.T("")
	}
	return l.v.Stored(l.from(n, field), field)
}

// copied asks whether a ditto mark under another bird's weight, score or count repeats it: two birds rarely weigh the same,
// and a mark that slipped a column is not to make a weight. Words such as "none" are repeated without a question. It
// returns whether the cell holds nothing.
func (l *lines) copied(c *layout.Column, n, src int) bool {
	above := l.v.Stored(src, c.Field)
	if f := c.Means.Field; f != parse.FieldPoundPart && f != parse.FieldOuncePart && !measured(f) && c.When == nil || !strings.ContainsAny(above.Text, "0123456789½¼¾") {
		return false
	}
	at, raw := l.v.Ref(n, c.Field), l.v.Cell(n, c.Field).Raw
	q := record.Question{Class: "ditto_in_values", At: at, Raw: raw, Key: ask.CellKey("ditto_in_values", at),
		Message:  fmt.Sprintf("%s: does %q repeat the %s of %s above it? Until you say so, the cell counts as empty", at, parse.Shown(raw), parse.Shown(above.Text), l.v.Ref(src, c.Field).Cell()),
		Readings: []record.Reading{{Label: "yes, " + parse.Shown(above.Text) + " again", Value: "same"}, {Label: "leave it empty", Value: ""}}}
	a, answered := l.replies.Cell(q.Key, raw)
	if answered && a == "same" {
		return false
	}
	if !answered {
		l.flockOf(n).Ask.Add(q)
		l.mark(at, record.AsQuestion)
	}
	if l.unsaid == nil {
		l.unsaid = map[[2]int]bool{}
	}
	l.unsaid[[2]int{n, c.Field}] = true
	return true
}

// repeated is the trace of a ditto mark, "" where a cell is none.
func (l *lines) repeated(n, field int) string {
	if l.same == nil {
		return ""
	}
	if src := l.from(n, field); src != n {
		return "ditto: as " + l.v.Ref(src, field).Cell()
	}
	return ""
}

// penRuns fills a column of pens down where something besides the empty cells shows that it is written once for the
// rows below: a merged cell, dates or birds that are written once on the same rows, or rows of one bird. Where only
// the empty cells do, it is asked once, and they stay empty until then.
func (l *lines) penRuns() {
	if l.pen == nil {
		return
	}
	l.pens = map[int]int{}
	last, runs, blank := -1, 0, 0
	written := map[string]int{}
	block, block2 := l.fillDate, l.fillBird
	for i, n := range l.t.Lines {
		if ol, of := l.v.Origin(n, l.pen.Field); of == l.pen.Field && ol != n && !l.v.Blank(ol, l.pen.Field) {
			l.pens[n] = ol
			blank++
			continue
		}
		if !l.v.Blank(n, l.pen.Field) {
			last = n
			runs++
			written[parse.PenKey(l.text(l.pen, n))]++
			continue
		}
		if i == 0 {
			last = -1
		}
		blank++
		block = block && l.date != nil && l.v.Blank(n, l.date.Field)
		block2 = block2 && l.birdBlank(n)
		if last >= 0 && (l.birdBlank(n) || l.sameBird(last, n)) {
			l.pens[n] = last // a further row of the bird in that pen
		}
	}
	if blank == len(l.pens) || blank*10 < 3*len(l.t.Lines) || last < 0 || l.v.Blank(l.t.Lines[0], l.pen.Field) {
		return
	}
	down := block || block2
	if !down {
		for _, n := range written {
			if n > 1 || runs < 2 {
				return // a pen that comes again was written where it changed, or where someone thought of it
			}
		}
		q := record.Question{Class: "pen_goes_on", At: l.v.Ref(l.t.Lines[0], l.pen.Field), Raw: l.text(l.pen, l.t.Lines[0]),
			Key: ask.ColumnKey("pen_goes_on", l.Name, l.page.Grid.Sheet+" "+l.pen.Text)}
		q.Message = fmt.Sprintf("%s: below %q the column %q is empty; does each pen hold for the rows below it?", q.At, parse.Shown(q.Raw), parse.Shown(l.pen.Text))
		q.Readings = []record.Reading{{Label: "yes, until the next pen", Value: "yes"}, {Label: "no, only where it is written", Value: "no"}}
		a, ok := l.answer(q.Key)
		if !ok {
			l.Flock("").Ask.Add(q)
		}
		if a != "yes" {
			return
		}
	}
	last = -1
	for _, n := range l.t.Lines {
		if !l.v.Blank(n, l.pen.Field) {
			last = n
		} else if _, ok := l.pens[n]; !ok && last >= 0 {
			l.pens[n] = last
		}
	}
}

// birdBlank reports whether a line names no bird of its own.
func (l *lines) birdBlank(n int) bool {
	for _, c := range []*layout.Column{l.ring, l.name, l.bird} {
		if c != nil && !l.v.Blank(n, c.Field) {
			return false
		}
	}
	return l.ring != nil || l.name != nil || l.bird != nil
}

// sameBird reports whether two lines write the same bird.
func (l *lines) sameBird(a, b int) bool {
	any := false
	for _, c := range []*layout.Column{l.ring, l.name, l.bird} {
		if c == nil {
			continue
		}
		if l.v.Cell(a, c.Field).Raw != l.v.Cell(b, c.Field).Raw {
			return false
		}
		any = true
	}
	return any
}

// penOf is the pen of a line, and the trace of how it came there.
func (l *lines) penOf(n int) (pen, step string) {
	if pen = l.text(l.pen, n); pen != "" {
		if l.repeated(n, l.pen.Field) != "" {
			step = "pen as " + l.v.Ref(l.from(n, l.pen.Field), l.pen.Field).Cell()
		}
		return pen, step
	}
	if src, ok := l.pens[n]; ok {
		return l.text(l.pen, src), "pen filled down from " + l.v.Ref(src, l.pen.Field).Cell()
	}
	return "", ""
}

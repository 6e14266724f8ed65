package reading

import (
	"fmt"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// columnAsides sets the columns aside that are not understood or computed from others.
func (l *lines) columnAsides() {
	for i := range l.t.Columns {
		c := &l.t.Columns[i]
		why := "other column"
		if c.Fate == layout.Derived {
			why = "derived"
		}
		if c.Fate != layout.Other && c.Fate != layout.Derived || len(l.t.Lines) == 0 {
			continue
		}
		if l.askColumn(c) {
			continue
		}
		any := false
		for _, n := range l.t.Lines {
			if !l.v.Blank(n, c.Field) {
				l.mark(l.v.Ref(n, c.Field), record.AsAside)
				any = true
			}
		}
		if any && c.Fate == layout.Other && c.Text != "" {
			l.Note(l.page, fmt.Sprintf("the column %q is not understood and is set aside; name it in flock.toml if it matters", parse.Shown(c.Text)))
		}
		if any {
			l.asideBlock(layout.Block{View: l.v, Line1: l.t.Lines[0], Field1: c.Field, Line2: l.t.Lines[len(l.t.Lines)-1], Field2: c.Field, Why: why})
		}
	}
}

// askColumn asks what a column of numbers is, where its table of dates would otherwise give no look at all, and names the cells of a
// column about which that is asked already. It returns false where the column is rather to be set aside.
func (l *lines) askColumn(c *layout.Column) bool {
	if c.When != nil && l.page.Values != nil {
		for _, line := range l.t.Lines {
			if !l.v.Blank(line, c.Field) {
				l.Flock("").Ask.Also(c.When.At, l.v.Ref(line, c.Field))
				l.mark(l.v.Ref(line, c.Field), record.AsQuestion)
			}
		}
		return true
	}
	if c.Text == "" || c.When != nil || l.date == nil {
		return false
	}
	for i := range l.t.Columns {
		if l.t.Columns[i].Fate == layout.Value {
			return false
		}
	}
	var cells []record.Ref
	n := 0
	for _, line := range l.t.Lines {
		if l.v.Blank(line, c.Field) {
			continue
		}
		n++
		if strings.ContainsAny(l.v.Cell(line, c.Field).Raw, "0123456789") {
			cells = append(cells, l.v.Ref(line, c.Field))
		}
	}
	if len(cells) < 2 || len(cells)*2 < n || len(c.Head) == 0 {
		return false
	}
	q := record.Question{Class: "column_unknown", At: c.Head[0], Raw: c.Text, More: cells, Key: ask.ColumnKey("column_unknown", l.Name, c.Text),
		Message: fmt.Sprintf("%s: the heading %q is not understood; what does the column hold?", c.Head[0], parse.Shown(c.Text))}
	for _, f := range []parse.Field{parse.FieldWeight, parse.FieldCondition, parse.FieldFeather, parse.FieldParasite, parse.FieldEggCount, parse.FieldNote} {
		q.Readings = append(q.Readings, record.Reading{Label: strings.ReplaceAll(string(f), "_", " "), Value: string(f)})
	}
	l.Flock("").Ask.Add(q)
	for _, line := range l.t.Lines {
		if !l.v.Blank(line, c.Field) {
			l.mark(l.v.Ref(line, c.Field), record.AsQuestion)
		}
	}
	return true
}

func (l *lines) asideBlock(b layout.Block) { l.work.asideBlock(b) }

func (w *work) asideBlock(b layout.Block) {
	first, last := b.View.Ref(b.Line1, b.Field1), b.View.Ref(b.Line2, b.Field2)
	a := record.Aside{File: first.File, Sheet: first.Sheet, Rows: [2]int32{first.Row, last.Row}, Cols: [2]int32{first.Col, last.Col}, Why: b.Why}
	f := w.Flock("")
	if n := len(f.Asides); n > 0 {
		if o := &f.Asides[n-1]; o.File == a.File && o.Sheet == a.Sheet && o.Why == a.Why && o.Cols == a.Cols && o.Rows[1]+1 == a.Rows[0] {
			o.Rows[1] = a.Rows[1]
			return
		}
	}
	f.Asides = append(f.Asides, a)
}

// aside sets aside what belongs to no table, so that every cell has a fate.
func (w *work) aside(p *evidence.Page, ledger *record.Ledger) {
	v := p.Layout.View
	for _, b := range p.Layout.Aside {
		any := false
		for l := b.Line1; l <= b.Line2; l++ {
			for f := b.Field1; f <= b.Field2; f++ {
				if r := b.View.Ref(l, f); !b.View.Blank(l, f) && ledger.At(r.Row, r.Col) == record.Blank {
					ledger.Mark(r.Row, r.Col, record.AsAside)
					any = true
				}
			}
		}
		if any {
			w.asideBlock(b)
		}
	}
	for n := 0; n < v.Lines(); n++ {
		first, last := -1, -1
		for f := 0; f < v.Fields(); f++ {
			if ledger.At(int32(n)+1, int32(f)+1) != record.Blank || v.Blank(n, f) {
				continue
			}
			ledger.Mark(int32(n)+1, int32(f)+1, record.AsAside)
			if first < 0 {
				first = f
			}
			last = f
		}
		if first >= 0 {
			w.asideBlock(layout.Block{View: v, Line1: n, Field1: first, Line2: n, Field2: last, Why: "not understood"})
		}
	}
}

package reading

import (
	"fmt"

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

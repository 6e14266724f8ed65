package cell

import (
	"fmt"

	"go.starlark.net/starlark"

	"keelmark/analysis/frame"
	"keelmark/notebooks/render"
)

// mostRows is how many rows of a table are shown when a cell shows it without saying how.
const mostRows = 50

// page returns the block that shows a value on a page, where it is more than text.
func (e *Engine) page(v starlark.Value) (render.Block, bool) {
	switch v := v.(type) {
	case block:
		return v.Block, true
	case figure:
		return render.Figure{Plot: v.Figure}, true
	case *table:
		return e.tableBlock(v.Frame), true
	case *claim:
		return v.block(), true
	case *result:
		return e.resultBlock(v), true
	case *starlark.List:
		return e.listBlock(v)
	}
	return nil, false
}

func (e *Engine) tableBlock(f *frame.Frame) render.Block {
	b := render.TableOf(f.Slice(0, mostRows).Table("", ""), e.units())
	if more := f.Len() - mostRows; more > 0 {
		b.Note = fmt.Sprintf("%d rows of %d; [50:100] shows the next ones, where(...) chooses", mostRows, f.Len())
	}
	if f.Len() == 0 {
		b.Note = "no rows"
	}
	return b
}

func (e *Engine) resultBlock(r *result) render.Block {
	blocks := append(r.cautions(), render.ClaimsOf(r.spec.Title, r.claims(), r.flock.look()))
	for _, t := range r.tables() {
		blocks = append(blocks, render.TableOf(t, e.units()))
	}
	for _, f := range r.figures() {
		blocks = append(blocks, render.Figure{Plot: f})
	}
	return render.Group{Blocks: blocks}
}

// listBlock shows a list of things that are more than text as one output.
func (e *Engine) listBlock(l *starlark.List) (render.Block, bool) {
	var blocks render.Blocks
	for i := range l.Len() {
		if _, nested := l.Index(i).(*starlark.List); nested {
			return nil, false
		}
		b, ok := e.page(l.Index(i))
		if !ok {
			return nil, false
		}
		blocks = append(blocks, b)
	}
	return render.Group{Blocks: blocks}, len(blocks) > 0
}

// bundle makes a notebook output of a value.
func (e *Engine) bundle(v starlark.Value) (Bundle, error) {
	if p, ok := v.(picture); ok {
		return p.bundle()
	}
	if b, ok := e.page(v); ok {
		out, err := render.Bundle(b)
		return Bundle(out), err
	}
	if length(v, largestText) < 0 {
		return nil, errTooLong
	}
	return Bundle{"text/plain": v.String()}, nil
}

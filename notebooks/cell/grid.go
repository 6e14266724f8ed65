package cell

import (
	"errors"
	"fmt"

	"go.starlark.net/starlark"

	"keelmark/analysis"
	"keelmark/notebooks/render"
)

// gridCell is a cell of a grid that is no plain text or number.
type gridCell struct{ render.Cell }

// makeGrid builds a table row by row, with cells that may hold a small figure, a sign, a line or a box.
func makeGrid(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var heads, rows starlark.Value
	var caption, note string
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "heads", &heads, "rows", &rows, "caption?", &caption, "note?", &note); err != nil {
		return nil, err
	}
	names, err := texts("grid: heads", heads)
	if err != nil {
		return nil, err
	}
	out := render.Table{Caption: caption, Note: note}
	for i, name := range names {
		out.Columns = append(out.Columns, render.Column{Head: name, RowHead: i == 0})
	}
	lines, err := listOf(rows)
	if err != nil {
		return nil, fmt.Errorf("grid: rows: %w", err)
	}
	for i, line := range lines {
		cells, err := listOf(line)
		if err != nil {
			return nil, fmt.Errorf("grid: row %d: %w", i+1, err)
		}
		if len(cells) != len(names) {
			return nil, fmt.Errorf("grid: row %d has %d cells for %d heads", i+1, len(cells), len(names))
		}
		var row []render.Cell
		for j, v := range cells {
			if _, ok := number(v); ok {
				out.Columns[j].Align = render.Right
			}
			row = append(row, cellOf(v))
		}
		out.Rows = append(out.Rows, row)
	}
	return block{out}, nil
}

func cellOf(v starlark.Value) render.Cell {
	switch v := v.(type) {
	case gridCell:
		return v.Cell
	case figure:
		f := v.Figure
		return render.Cell{Figure: &f}
	case *bird:
		return render.Cell{Text: v.Label()}
	}
	return render.Cell{Text: shown(v)}
}

// makeSigned is a text with the sign of a side before it.
func makeSigned(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var side, text string
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "side", &side, "text", &text); err != nil {
		return nil, err
	}
	switch s := analysis.Stands(side); s {
	case analysis.For, analysis.Against, analysis.Open, analysis.Stop:
		return gridCell{render.Cell{Stands: s, Text: text}}, nil
	}
	return nil, fmt.Errorf("signed: side is %q; use for, against, open or stop", side)
}

// makeBlank is a line to write on, or a box to tick.
func makeBlank(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	box, text := false, ""
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "text?", &text, "box?", &box); err != nil {
		return nil, err
	}
	return gridCell{render.Cell{Text: text, Tick: box, Line: !box}}, nil
}

// String implements starlark.Value.
func (c gridCell) String() string { return c.Text }

// Type implements starlark.Value.
func (gridCell) Type() string { return "grid_cell" }

// Freeze implements starlark.Value.
func (gridCell) Freeze() {}

// Truth implements starlark.Value.
func (gridCell) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (gridCell) Hash() (uint32, error) { return 0, errors.New("a cell of a grid cannot be a key") }

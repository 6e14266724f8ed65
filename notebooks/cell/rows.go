package cell

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"go.starlark.net/starlark"

	"keelmark/analysis/frame"
)

// rows is what all rows of a table share: its columns by name, each fetched once it is asked for.
type rows struct {
	frame   *frame.Frame
	columns map[string]*frame.Column
}

func newRows(f *frame.Frame) *rows { return &rows{f, map[string]*frame.Column{}} }

func (r *rows) column(name string) *frame.Column {
	if c, ok := r.columns[name]; ok {
		return c
	}
	var c *frame.Column
	if slices.Contains(r.frame.Names(), name) {
		c, _ = r.frame.Column(name)
	}
	r.columns[name] = c
	return c
}

// row is one row of a table, with an attribute a column.
type row struct {
	rows *rows
	i    int
}

var (
	_ starlark.HasAttrs = (*row)(nil)
	_ starlark.Mapping  = (*row)(nil)
)

// Attr implements starlark.HasAttrs.
func (r *row) Attr(name string) (starlark.Value, error) {
	if c := r.rows.column(name); c != nil {
		return valueAt(c, r.i), nil
	}
	if name == "cells" {
		var list []starlark.Value
		for _, ref := range r.rows.frame.RowRefs(r.i) {
			list = append(list, starlark.String(ref.Key()))
		}
		return starlark.NewList(list), nil
	}
	return nil, nil
}

// AttrNames implements starlark.HasAttrs.
func (r *row) AttrNames() []string { return append(r.rows.frame.Names(), "cells") }

// Get implements starlark.Mapping, for columns whose names hold blanks.
func (r *row) Get(key starlark.Value) (starlark.Value, bool, error) {
	name, ok := starlark.AsString(key)
	if !ok {
		return nil, false, fmt.Errorf("a row is asked for a column by its name, not by a %s", key.Type())
	}
	c := r.rows.column(name)
	if c == nil {
		_, err := r.rows.frame.Column(name)
		return nil, false, (&table{r.rows.frame}).explain(err)
	}
	return valueAt(c, r.i), true, nil
}

// String implements starlark.Value.
func (r *row) String() string {
	var parts []string
	for _, name := range r.rows.frame.Names() {
		if c := r.rows.column(name); !c.IsMissing(r.i) {
			parts = append(parts, name+" = "+valueAt(c, r.i).String())
		}
	}
	return "row(" + strings.Join(parts, ", ") + ")"
}

// Type implements starlark.Value.
func (*row) Type() string { return "row" }

// Freeze implements starlark.Value.
func (*row) Freeze() {}

// Truth implements starlark.Value.
func (*row) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (*row) Hash() (uint32, error) {
	return 0, errors.New("a row cannot be a key; use one of its columns")
}

// group implements table.group.
func group(thread *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	by, err := textsOf("group", args)
	if err != nil {
		return nil, err
	}
	g, err := t.GroupBy(by...)
	if err != nil {
		return nil, t.explain(err)
	}
	var plain []frame.Summary
	for _, k := range kwargs {
		name := string(k[0].(starlark.String))
		switch v := k[1].(type) {
		case starlark.String:
			plain = append(plain, frame.Summary{Column: name, Of: string(v)})
		case starlark.Callable: // below
		case starlark.Iterable:
			for item := range starlark.Elements(v) {
				of, ok := starlark.AsString(item)
				if !ok {
					return nil, fmt.Errorf("group: %s = takes names of summaries in quotes, not a %s", name, item.Type())
				}
				plain = append(plain, frame.Summary{Column: name, Of: of})
			}
		default:
			return nil, fmt.Errorf(`group: %s = takes a summary such as "mean", not a %s`, name, v.Type())
		}
	}
	f, err := g.Summarise(plain...)
	if err != nil {
		return nil, t.explain(err)
	}
	for _, k := range kwargs {
		if of, ok := k[1].(starlark.Callable); ok {
			c, err := summarised(thread, t, g, string(k[0].(starlark.String)), of)
			if err != nil {
				return nil, err
			}
			if f, err = f.With(c); err != nil {
				return nil, err
			}
		}
	}
	return &table{f}, nil
}

// summarised asks a function of the cell for the summary of each group's known values.
func summarised(thread *starlark.Thread, t *table, g *frame.Groups, name string, of starlark.Callable) (frame.Column, error) {
	var out []starlark.Value
	for i := range g.Len() {
		c, err := g.Rows(i).Column(name)
		if err != nil {
			return frame.Column{}, t.explain(err)
		}
		var known []starlark.Value
		for j := range c.Len() {
			if !c.IsMissing(j) {
				known = append(known, valueAt(c, j))
			}
		}
		v, err := starlark.Call(thread, of, starlark.Tuple{starlark.NewList(known)}, nil)
		if err != nil {
			return frame.Column{}, err
		}
		out = append(out, v)
	}
	return columnOf(name, out)
}

// groups implements table.groups.
func groups(_ *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	if len(kwargs) > 0 {
		return nil, errors.New(`groups takes names of columns in quotes, such as groups("bird")`)
	}
	by, err := textsOf("groups", args)
	if err != nil {
		return nil, err
	}
	g, err := t.GroupBy(by...)
	if err != nil {
		return nil, t.explain(err)
	}
	var out []starlark.Value
	for i := range g.Len() {
		rows := g.Rows(i)
		var key starlark.Tuple
		for _, name := range by {
			c, err := rows.Column(name)
			if err != nil {
				return nil, err
			}
			key = append(key, valueAt(c, 0))
		}
		var k starlark.Value = key
		if len(key) == 1 {
			k = key[0]
		}
		out = append(out, starlark.Tuple{k, &table{rows}})
	}
	return starlark.NewList(out), nil
}

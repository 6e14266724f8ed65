package cell

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"go.starlark.net/starlark"

	"keelmark/analysis/frame"
)

// table is a frame in a cell. Its methods give new tables; only t["name"] = column changes it.
type table struct{ *frame.Frame }

var (
	_ starlark.Sequence  = (*table)(nil)
	_ starlark.Sliceable = (*table)(nil)
	_ starlark.HasSetKey = (*table)(nil)
	_ starlark.HasAttrs  = (*table)(nil)
)

func tableFunctions() []binding {
	return []binding{{Entry{"Tables", "frame", "(columns)", "A table of your own, from a dictionary of columns.",
		"frame({\"bird\": [\"R12\", \"R13\"], \"weight\": [640, 655]})"}, makeFrame}}
}

func makeFrame(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var columns *starlark.Dict
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "columns", &columns); err != nil {
		return nil, err
	}
	var list []frame.Column
	for _, item := range columns.Items() {
		name, ok := starlark.AsString(item[0])
		if !ok {
			return nil, fmt.Errorf("frame: the name of a column is a text, not a %s", item[0].Type())
		}
		values, err := listOf(item[1])
		if err != nil {
			return nil, fmt.Errorf("column %s: %w", name, err)
		}
		c, err := columnOf(name, values)
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	f, err := frame.New(list, nil)
	return &table{f}, err
}

func listOf(v starlark.Value) ([]starlark.Value, error) {
	items, ok := v.(starlark.Iterable)
	if !ok {
		return nil, fmt.Errorf("a list or a column is wanted, not a %s", v.Type())
	}
	return slices.Collect(starlark.Elements(items)), nil
}

// Attr implements starlark.HasAttrs: the methods, then the columns.
func (t *table) Attr(name string) (starlark.Value, error) {
	if m, ok := find(tableMethods(), name); ok {
		return m.bound(t), nil
	}
	if slices.Contains(t.Names(), name) {
		c, err := t.Column(name)
		return &column{c}, err
	}
	return nil, nil
}

// AttrNames implements starlark.HasAttrs.
func (t *table) AttrNames() []string { return append(names(tableMethods()), t.Names()...) }

// Get implements starlark.Mapping: t["age days"] is a column, t[0] a row.
func (t *table) Get(key starlark.Value) (starlark.Value, bool, error) {
	switch k := key.(type) {
	case starlark.String:
		if !slices.Contains(t.Names(), string(k)) {
			_, err := t.Column(string(k))
			return nil, false, t.explain(err)
		}
		c, err := t.Column(string(k))
		return &column{c}, true, err
	case starlark.Int:
		i, ok := k.Int64()
		if i < 0 {
			i += int64(t.Len())
		}
		if !ok || i < 0 || i >= int64(t.Len()) {
			return nil, false, fmt.Errorf("there is no row %s; the table has %d, counted from 0", k, t.Len())
		}
		return &row{newRows(t.Frame), int(i)}, true, nil
	case starlark.Bool:
		return nil, false, fmt.Errorf(bareComparison, k)
	case *column:
		v, err := where(nil, t, starlark.Tuple{k}, nil)
		return v, err == nil, err
	}
	return nil, false, fmt.Errorf("a table is asked for a column by its name or a row by its number, not by a %s", key.Type())
}

// SetKey implements starlark.HasSetKey: t["kg"] = t.weight / 1000.
func (t *table) SetKey(key, v starlark.Value) error {
	name, ok := starlark.AsString(key)
	if !ok {
		return errors.New(`only columns can be set, by name: t["kg"] = t.weight / 1000`)
	}
	if _, isFunction := v.(starlark.Callable); isFunction {
		return fmt.Errorf("t[%q] = takes values; for a lambda write t = t.add(%s = lambda r: ...)", name, name)
	}
	c, err := newColumn(nil, t.Frame, name, v)
	if err != nil {
		return err
	}
	f, err := t.With(c)
	if err == nil {
		t.Frame = f
	}
	return err
}

// Index implements starlark.Indexable.
func (t *table) Index(i int) starlark.Value { return &row{newRows(t.Frame), i} }

// Slice implements starlark.Sliceable.
func (t *table) Slice(start, end, step int) starlark.Value {
	var at []int
	for i := start; step > 0 && i < end || step < 0 && i > end; i += step {
		at = append(at, i)
	}
	f, err := t.Take(at)
	if err != nil { // the interpreter keeps the bounds
		return starlark.None
	}
	return &table{f}
}

// Iterate implements starlark.Iterable, row by row.
func (t *table) Iterate() starlark.Iterator {
	rows := newRows(t.Frame)
	return &counter{n: t.Len(), at: func(i int) starlark.Value { return &row{rows, i} }}
}

// String implements starlark.Value.
func (t *table) String() string {
	return fmt.Sprintf("table of %d rows: %s", t.Len(), strings.Join(t.Names(), ", "))
}

// Type implements starlark.Value.
func (*table) Type() string { return "table" }

// Freeze implements starlark.Value.
func (*table) Freeze() {}

// Truth implements starlark.Value.
func (t *table) Truth() starlark.Bool { return t.Len() > 0 }

// Hash implements starlark.Value.
func (*table) Hash() (uint32, error) { return 0, errors.New("a table cannot be a key") }

package cell

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"go.starlark.net/starlark"
	"go.starlark.net/syntax"

	"keelmark/analysis/frame"
)

// column is one column of a table: a sequence of values, None where one is missing.
type column struct{ *frame.Column }

var (
	_ starlark.Sequence   = (*column)(nil)
	_ starlark.Sliceable  = (*column)(nil)
	_ starlark.HasBinary  = (*column)(nil)
	_ starlark.HasAttrs   = (*column)(nil)
	_ starlark.Comparable = (*column)(nil)
)

// valueAt is row i as a value of the language.
func valueAt(c *frame.Column, i int) starlark.Value {
	switch {
	case c.IsMissing(i):
		return starlark.None
	case c.Kind == frame.Text:
		return starlark.String(c.Text[i])
	case c.Kind == frame.Number:
		x := c.Number[i]
		if x == math.Trunc(x) && math.Abs(x) < 1<<53 {
			return starlark.MakeInt64(int64(x))
		}
		return starlark.Float(x)
	}
	return starlark.Bool(c.Bool[i])
}

// columnOf makes a column of values that are all texts or dates, all numbers, or all True or False; None is
// missing.
func columnOf(name string, values []starlark.Value) (frame.Column, error) {
	c := frame.Column{Name: name}
	seen := false
	for _, v := range values {
		if v == starlark.None {
			continue
		}
		kind, err := kindOf(v)
		if err != nil {
			return c, fmt.Errorf("column %s: %w", name, err)
		}
		if seen && kind != c.Kind {
			return c, fmt.Errorf("column %s: %s stands among %v; a column holds values of one kind, and None where one is missing",
				name, shorten(v.String(), 40), c.Kind)
		}
		c.Kind, seen = kind, true
	}
	c.Missing = make([]bool, len(values))
	for i, v := range values {
		c.Missing[i] = v == starlark.None
		switch c.Kind {
		case frame.Text:
			t := ""
			if d, ok := v.(date); ok {
				t = d.String()
			} else if s, ok := v.(starlark.String); ok {
				t = string(s)
			}
			c.Text = append(c.Text, t)
		case frame.Number:
			x, known := number(v)
			if !known {
				x = math.NaN()
			}
			c.Number = append(c.Number, x)
		case frame.Bool:
			c.Bool = append(c.Bool, v == starlark.True)
		}
	}
	return c, nil
}

func kindOf(v starlark.Value) (frame.Kind, error) {
	switch v.(type) {
	case starlark.String, date:
		return frame.Text, nil
	case starlark.Int, starlark.Float:
		return frame.Number, nil
	case starlark.Bool:
		return frame.Bool, nil
	}
	return 0, fmt.Errorf("a %s cannot stand in a table; texts, numbers, dates, True, False and None can", v.Type())
}

// numbers are the known numbers of the column, for the function named.
func (c *column) numbers(name string) ([]float64, error) {
	if c.Kind != frame.Number {
		return nil, fmt.Errorf("%s takes numbers; the column %s holds %v", name, c.Name, c.Kind)
	}
	var out []float64
	for _, x := range c.Number {
		if !math.IsNaN(x) {
			out = append(out, x)
		}
	}
	return out, nil
}

func columnMethods() []method[*column] {
	e := func(name, args, doc, example string) Entry {
		return Entry{Name: name, Args: args, Doc: doc, Example: example}
	}
	compare := func(name string, op syntax.Token) func(*starlark.Thread, *column, starlark.Tuple, []starlark.Tuple) (starlark.Value, error) {
		return func(_ *starlark.Thread, c *column, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
			var v starlark.Value
			if err := starlark.UnpackArgs(name, args, kwargs, "x", &v); err != nil {
				return nil, err
			}
			return c.compare(op, v)
		}
	}
	const other = "weights = flock.weights\nweights.where(weights.weight.%s)"
	return []method[*column]{
		{e("eq", "(x)", "For each row whether it is equal to x, for use in where. A missing value is equal to nothing.", fmt.Sprintf(other, "eq(640)")), compare("eq", syntax.EQL)},
		{e("ne", "(x)", "For each row whether it is known and differs from x.", fmt.Sprintf(other, "ne(640)")), compare("ne", syntax.NEQ)},
		{e("lt", "(x)", "For each row whether it is less than x.", fmt.Sprintf(other, "lt(640)")), compare("lt", syntax.LT)},
		{e("le", "(x)", "For each row whether it is x or less.", fmt.Sprintf(other, "le(640)")), compare("le", syntax.LE)},
		{e("gt", "(x)", "For each row whether it is more than x.", fmt.Sprintf(other, "gt(640)")), compare("gt", syntax.GT)},
		{e("ge", "(x)", "For each row whether it is x or more.", fmt.Sprintf(other, "ge(640)")), compare("ge", syntax.GE)},
		{e("missing", "()", "For each row whether its value is missing.", "flock.weights.age_days.missing()"),
			func(_ *starlark.Thread, c *column, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
				if err := starlark.UnpackArgs("missing", args, kwargs); err != nil {
					return nil, err
				}
				out := make([]bool, c.Len())
				for i := range out {
					out[i] = c.IsMissing(i)
				}
				f := frame.Flags(c.Name, out)
				return &column{&f}, nil
			}},
		{e("unique", "()", "The different known values, in the order in which they first appear.", "flock.weights.bird.unique()"),
			func(_ *starlark.Thread, c *column, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
				if err := starlark.UnpackArgs("unique", args, kwargs); err != nil {
					return nil, err
				}
				seen := map[any]bool{}
				var out []starlark.Value
				for i := range c.Len() {
					if v := c.Column.At(i); v != nil && !seen[v] {
						seen[v] = true
						out = append(out, valueAt(c.Column, i))
					}
				}
				return starlark.NewList(out), nil
			}},
	}
}

func (c *column) compare(op syntax.Token, y starlark.Value) (starlark.Value, error) {
	out := make([]bool, c.Len())
	for i := range out {
		x := valueAt(c.Column, i)
		if x == starlark.None {
			continue
		}
		if d, ok := y.(date); ok {
			y = starlark.String(d.String())
		}
		if kind, err := kindOf(y); err != nil || kind != c.Kind {
			return nil, fmt.Errorf("column %s holds %v; %s cannot be compared with them", c.Name, c.Kind, shorten(y.String(), 40))
		}
		yes, err := starlark.Compare(op, x, y)
		if err != nil {
			return nil, err
		}
		out[i] = yes
	}
	f := frame.Flags(c.Name, out)
	return &column{&f}, nil
}

// Binary implements starlark.HasBinary: arithmetic row by row with a number or a column of the same length,
// and & and | between columns of True and False. A row in which a value is missing stays missing.
func (c *column) Binary(op syntax.Token, y starlark.Value, side starlark.Side) (starlark.Value, error) {
	if op == syntax.IN || op == syntax.NOT_IN {
		return nil, nil
	}
	other, isColumn := y.(*column)
	if isColumn && other.Len() != c.Len() {
		return nil, fmt.Errorf("the columns have %d and %d rows; they must come from the same table", c.Len(), other.Len())
	}
	if op == syntax.AMP || op == syntax.PIPE {
		return c.logic(op, other)
	}
	if _, single := number(y); !isColumn && !single {
		return nil, nil
	}
	values := make([]starlark.Value, c.Len())
	for i := range values {
		a, b := valueAt(c.Column, i), y
		if isColumn {
			b = valueAt(other.Column, i)
		}
		if a == starlark.None || b == starlark.None {
			values[i] = starlark.None
			continue
		}
		if side == starlark.Right {
			a, b = b, a
		}
		v, err := starlark.Binary(op, a, b)
		if err != nil {
			return nil, fmt.Errorf("row %d: %w", i, err)
		}
		values[i] = v
	}
	out, err := columnOf(c.Name, values)
	if err != nil {
		return nil, err
	}
	return &column{&out}, nil
}

func (c *column) logic(op syntax.Token, other *column) (starlark.Value, error) {
	if other == nil || c.Kind != frame.Bool || other.Kind != frame.Bool {
		return nil, errors.New(`& and | join columns of True and False, such as weights.sex.eq("F") & weights.weight.gt(500)`)
	}
	out := make([]bool, c.Len())
	for i := range out {
		a, b := c.Bool[i] && !c.IsMissing(i), other.Bool[i] && !other.IsMissing(i)
		out[i] = op == syntax.AMP && a && b || op == syntax.PIPE && (a || b)
	}
	f := frame.Flags(c.Name, out)
	return &column{&f}, nil
}

// CompareSameType implements starlark.Comparable, to explain that it does not help.
func (c *column) CompareSameType(syntax.Token, starlark.Value, int) (bool, error) {
	return false, errors.New("whole columns are not compared; write table.where(lambda r: r.weight > r.low), or column.gt(x) with a single value")
}

// Attr implements starlark.HasAttrs.
func (c *column) Attr(name string) (starlark.Value, error) {
	switch name {
	case "name":
		return starlark.String(c.Name), nil
	case "unit":
		return starlark.String(c.Unit), nil
	}
	if m, ok := find(columnMethods(), name); ok {
		return m.bound(c), nil
	}
	if slices.Contains([]string{"mean", "median", "sum", "sd", "min", "max", "count", "quantile"}, name) {
		return nil, fmt.Errorf("write %s(column) for column.%s()", name, name)
	}
	return nil, nil
}

// AttrNames implements starlark.HasAttrs.
func (c *column) AttrNames() []string {
	return append([]string{"name", "unit"}, names(columnMethods())...)
}

// Index implements starlark.Indexable.
func (c *column) Index(i int) starlark.Value { return valueAt(c.Column, i) }

// Slice implements starlark.Sliceable.
func (c *column) Slice(start, end, step int) starlark.Value {
	var out []starlark.Value
	for i := start; step > 0 && i < end || step < 0 && i > end; i += step {
		out = append(out, valueAt(c.Column, i))
	}
	return starlark.NewList(out)
}

// Iterate implements starlark.Iterable.
func (c *column) Iterate() starlark.Iterator {
	return &counter{n: c.Len(), at: func(i int) starlark.Value { return valueAt(c.Column, i) }}
}

// counter iterates over something that has rows.
type counter struct {
	i, n int
	at   func(int) starlark.Value
}

// Next implements starlark.Iterator.
func (c *counter) Next(p *starlark.Value) bool {
	if c.i >= c.n {
		return false
	}
	*p = c.at(c.i)
	c.i++
	return true
}

// Done implements starlark.Iterator.
func (*counter) Done() {}

// String implements starlark.Value.
func (c *column) String() string {
	s := fmt.Sprintf("column %s of %d", c.Name, c.Len())
	for i := range min(c.Len(), 8) {
		if i == 0 {
			s += ": "
		} else {
			s += ", "
		}
		s += valueAt(c.Column, i).String()
	}
	if c.Len() > 8 {
		s += ", ..."
	}
	return s
}

// Type implements starlark.Value.
func (*column) Type() string { return "column" }

// Freeze implements starlark.Value.
func (*column) Freeze() {}

// Truth implements starlark.Value.
func (c *column) Truth() starlark.Bool { return c.Len() > 0 }

// Hash implements starlark.Value.
func (*column) Hash() (uint32, error) { return 0, errors.New("a column cannot be a key") }

package frame

import (
	"fmt"
	"slices"
	"strings"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"
)

// Condition is something that a row must meet. Make one with Equals, AnyOf, Between, IsMissing or Known.
type Condition struct {
	Column string
	test   func(c *column) (series.Comparator, any, error)
	more   *Condition // a second test of the same column
}

// Equals asks for one value: a string, a float64 or int, or a bool, as the column holds.
func Equals(name string, value any) Condition {
	return Condition{Column: name, test: func(c *column) (series.Comparator, any, error) {
		v, err := c.operand(value)
		return series.Eq, v, err
	}}
}

// AnyOf asks for one of several values.
func AnyOf(name string, values ...any) Condition {
	return Condition{Column: name, test: func(c *column) (series.Comparator, any, error) {
		wanted := map[any]bool{}
		for _, value := range values {
			v, err := c.operand(value)
			if err != nil {
				return "", nil, err
			}
			wanted[v] = true
		}
		return series.CompFunc, func(e series.Element) bool { return !e.IsNA() && wanted[e.Val()] }, nil
	}}
}

// Between asks for low <= value <= high. A bound that is nil is open. Texts are compared letter by letter,
// which is right for dates in the form 2025-03-01.
func Between(name string, low, high any) Condition {
	bound := func(op series.Comparator, value any) func(*column) (series.Comparator, any, error) {
		return func(c *column) (series.Comparator, any, error) {
			if c.kind == Bool {
				return "", nil, fmt.Errorf("column %s holds true or false, which have no range; ask for one of them", c.name)
			}
			v, err := c.operand(value)
			return op, v, err
		}
	}
	switch {
	case low == nil && high == nil:
		return Known(name)
	case low == nil:
		return Condition{Column: name, test: bound(series.LessEq, high)}
	case high == nil:
		return Condition{Column: name, test: bound(series.GreaterEq, low)}
	}
	upper := Condition{Column: name, test: bound(series.LessEq, high)}
	return Condition{Column: name, test: bound(series.GreaterEq, low), more: &upper}
}

// IsMissing asks for no value.
func IsMissing(name string) Condition {
	return Condition{Column: name, test: func(*column) (series.Comparator, any, error) {
		return series.CompFunc, func(e series.Element) bool { return e.IsNA() }, nil
	}}
}

// Known asks for any value.
func Known(name string) Condition {
	return Condition{Column: name, test: func(*column) (series.Comparator, any, error) {
		return series.CompFunc, func(e series.Element) bool { return !e.IsNA() }, nil
	}}
}

// operand checks that a value can be compared with a column, since gota would turn one into the other without
// a word.
func (c *column) operand(value any) (any, error) {
	switch v := value.(type) {
	case string:
		if c.kind == Text {
			return inside(v), nil
		}
	case float64:
		if c.kind == Number && v == v {
			return v, nil
		}
	case int:
		if c.kind == Number {
			return float64(v), nil
		}
	case bool:
		if c.kind == Bool {
			return v, nil
		}
	}
	if s, ok := value.(string); ok {
		value = fmt.Sprintf("%q", s)
	}
	return nil, fmt.Errorf("column %s holds %v; %v cannot be compared with them", c.name, c.kind, value)
}

// Where returns the rows that meet all conditions.
func (f *Frame) Where(conditions ...Condition) (*Frame, error) {
	if len(conditions) == 0 {
		return f, nil
	}
	var columns []*column
	var filters []dataframe.F
	for _, cond := range conditions {
		c, err := f.get(cond.Column)
		if err != nil {
			return nil, err
		}
		at := slices.Index(columns, c)
		if at < 0 {
			at, columns = len(columns), append(columns, c)
		}
		for part := &cond; part != nil; part = part.more {
			op, value, err := part.test(c)
			if err != nil {
				return nil, err
			}
			filters = append(filters, dataframe.F{Colidx: at, Comparator: op, Comparando: value})
		}
	}
	at, err := positions(f.withPositions(columns).FilterAggregation(dataframe.And, filters...))
	if err != nil {
		return nil, err
	}
	return f.take(at), nil
}

// WhereRow returns the rows for which keep says so. An error of keep ends the work.
func (f *Frame) WhereRow(keep func(row int) (bool, error)) (*Frame, error) {
	var at []int
	for i := range f.Len() {
		ok, err := keep(i)
		if err != nil {
			return nil, err
		}
		if ok {
			at = append(at, i)
		}
	}
	return f.take(at), nil
}

// Order is a column to sort by.
type Order struct {
	Column string
	Down   bool // largest first
}

// Sort orders the rows by the columns given, the first counting most. Rows that are equal in all of them keep
// their order; missing values come last either way.
func (f *Frame) Sort(by ...Order) (*Frame, error) {
	if len(by) == 0 {
		return f, nil
	}
	var columns []*column
	var orders []dataframe.Order
	for i, o := range by {
		c, err := f.get(o.Column)
		if err != nil {
			return nil, err
		}
		columns = append(columns, c)
		orders = append(orders, dataframe.Order{Colname: fmt.Sprintf("c%d", i), Reverse: o.Down})
	}
	at, err := positions(f.withPositions(columns).Arrange(orders...))
	if err != nil {
		return nil, err
	}
	return f.take(at), nil
}

// Slice returns the rows from (included) to (excluded); bounds beyond the ends are moved to them.
func (f *Frame) Slice(from, to int) *Frame {
	from = min(max(from, 0), f.Len())
	to = min(max(to, from), f.Len())
	return f.take(upTo(to)[from:])
}

// Take returns the rows at the positions given, in that order. Each must be between 0 and Len()-1.
func (f *Frame) Take(at []int) (*Frame, error) {
	for _, i := range at {
		if i < 0 || i >= f.Len() {
			return nil, fmt.Errorf("there is no row %d; the table has %d", i, f.Len())
		}
	}
	return f.take(slices.Clone(at)), nil
}

// Select returns the columns named, in that order.
func (f *Frame) Select(names ...string) (*Frame, error) {
	out := &Frame{rows: f.rows, origin: f.origin}
	for _, name := range names {
		c, err := f.get(name)
		if err != nil {
			return nil, err
		}
		if out.find(name) != nil {
			return nil, fmt.Errorf("the column %s stands twice; name it once", name)
		}
		out.columns = append(out.columns, c)
	}
	if len(out.columns) == 0 {
		return nil, fmt.Errorf("no column is named; the columns are: %s", strings.Join(f.Names(), ", "))
	}
	return out, nil
}

// Drop returns all columns but those named.
func (f *Frame) Drop(names ...string) (*Frame, error) {
	for _, name := range names {
		if _, err := f.get(name); err != nil {
			return nil, err
		}
	}
	var left []string
	for _, name := range f.Names() {
		if !slices.Contains(names, name) {
			left = append(left, name)
		}
	}
	if len(left) == 0 {
		return nil, fmt.Errorf("a table needs a column; leave one of: %s", strings.Join(f.Names(), ", "))
	}
	return f.Select(left...)
}

// Rename gives a column another name.
func (f *Frame) Rename(from, to string) (*Frame, error) {
	if _, err := f.get(from); err != nil {
		return nil, err
	}
	if strings.TrimSpace(to) == "" {
		return nil, fmt.Errorf("column %s cannot be renamed to nothing", from)
	}
	if from != to && f.find(to) != nil {
		return nil, fmt.Errorf("the column %s is there already; drop it first", to)
	}
	out := &Frame{columns: slices.Clone(f.columns), rows: f.rows, origin: f.origin}
	for i, c := range out.columns {
		if c.name == from {
			v := *c.gather()
			v.Name = to
			out.columns[i] = &column{name: to, kind: c.kind, unit: c.unit, values: &v}
		}
	}
	return out, nil
}

// With returns the frame with a column added, or replaced where one has its name.
func (f *Frame) With(c Column) (*Frame, error) {
	if len(f.columns) > 0 && c.Len() != f.Len() {
		return nil, fmt.Errorf("column %s has %d values; the table has %d rows", c.Name, c.Len(), f.Len())
	}
	if strings.TrimSpace(c.Name) == "" {
		return nil, fmt.Errorf("a new column needs a name")
	}
	added := &column{name: c.Name, kind: c.Kind, unit: c.Unit, values: &c}
	out := &Frame{columns: slices.Clone(f.columns), rows: f.rows, origin: f.origin}
	for i, old := range out.columns {
		if old.name == c.Name {
			out.columns[i] = added
			return out, nil
		}
	}
	out.columns = append(out.columns, added)
	return out, nil
}

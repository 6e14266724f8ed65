package cell

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"go.starlark.net/starlark"

	"keelmark/analysis/frame"
)

type tableMethod func(t *starlark.Thread, self *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error)

func tableMethods() []method[*table] {
	e := func(name, args, doc, example string) Entry {
		return Entry{Name: name, Args: args, Doc: doc, Example: example}
	}
	return []method[*table]{
		{e("where", "(test, column = value, ...)", "The rows that meet every condition. A value must be equal; [a, b] means one of them; (low, high) from low to high, both included, None for an open end; None means missing. "+
			"The test, where there is one, is a lambda over a row, or a column of True and False.",
			"flock.weights.where(sex = \"F\", weight = (500, None))\nflock.weights.where(lambda r: r.weight > 500)"), where},
		{e("sort", "(column, ..., down = False)", "The rows in order of the columns named; missing values come last.", "flock.weights.sort(\"weight\", down = True)"), sortRows},
		{e("select", "(column, ...)", "Only the columns named, in that order.", "flock.weights.select(\"bird\", \"date\", \"weight\")"), listing("select", (*frame.Frame).Select)},
		{e("drop", "(column, ...)", "All columns but those named.", "flock.weights.drop(\"note\", \"cell\")"), listing("drop", (*frame.Frame).Drop)},
		{e("rename", "(new = \"old\", ...)", "The same table with other names of columns.", "flock.weights.rename(grams = \"weight\")"), rename},
		{e("add", "(column = values, ...)", "The table with new columns: a list or column, one value for all rows, or a lambda over a row.",
			"flock.weights.add(kg = lambda r: r.weight / 1000)"), add},
		{e("group", "(column, ..., column = summary)", "One row for each different value of the columns named, with n, the number of rows, and the summaries asked for: "+
			strings.Join(frame.Summaries(), ", ")+", several in a list, or a lambda over the list of known values.",
			"flock.weights.group(\"bird\", weight = [\"mean\", \"sd\"], date = \"max\")"), group},
		{e("groups", "(column, ...)", "A list of pairs, the value (or values) and the table of its rows, to loop over.",
			"for bird, rows in flock.weights.groups(\"bird\"):\n    print(bird, len(rows))"), groups},
		{e("join", "(other, column, ..., keep = False)", "Beside each row the rows of the other table that are equal in the columns named. With keep, rows without a partner stay.",
			"flock.weights.join(flock.birds.select(\"bird\", \"hatched\"), \"bird\")"), join},
		{e("head", "(n = 5)", "The first rows.", "flock.weights.head(3)"), ends("head", func(f *frame.Frame, n int) *frame.Frame { return f.Slice(0, n) })},
		{e("tail", "(n = 5)", "The last rows.", "flock.weights.tail(3)"), ends("tail", func(f *frame.Frame, n int) *frame.Frame { return f.Slice(f.Len()-n, f.Len()) })},
		{e("describe", "()", "What each column holds: how many values, how many missing, and of numbers their spread.", "flock.weights.describe()"),
			plainMethod("describe", func(t *table) (starlark.Value, error) {
				f, err := t.Describe()
				return &table{f}, err
			})},
		{e("columns", "()", "The names of the columns.", "flock.weights.columns()"),
			plainMethod("columns", func(t *table) (starlark.Value, error) {
				var list []starlark.Value
				for _, n := range t.Names() {
					list = append(list, starlark.String(n))
				}
				return starlark.NewList(list), nil
			})},
		{e("cells", "()", "The places in the keeper's files that the rows came from.", "flock.weights.head(2).cells()"),
			plainMethod("cells", func(t *table) (starlark.Value, error) {
				var list []starlark.Value
				for _, r := range t.Refs() {
					list = append(list, starlark.String(r.Key()))
				}
				return starlark.NewList(list), nil
			})},
		{e("csv", "()", "The table as comma-separated text.", "print(flock.weights.head(2).csv())"),
			plainMethod("csv", func(t *table) (starlark.Value, error) {
				data, err := t.CSV()
				return starlark.String(data), err
			})},
	}
}

func plainMethod(name string, of func(*table) (starlark.Value, error)) tableMethod {
	return func(_ *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		if err := starlark.UnpackArgs(name, args, kwargs); err != nil {
			return nil, err
		}
		return of(t)
	}
}

func ends(name string, cut func(*frame.Frame, int) *frame.Frame) tableMethod {
	return func(_ *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		n := 5
		if err := starlark.UnpackArgs(name, args, kwargs, "n?", &n); err != nil {
			return nil, err
		}
		return &table{cut(t.Frame, max(n, 0))}, nil
	}
}

func listing(name string, of func(*frame.Frame, ...string) (*frame.Frame, error)) tableMethod {
	return func(_ *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		if len(kwargs) > 0 {
			return nil, fmt.Errorf("%s takes names of columns in quotes, such as %s(\"bird\")", name, name)
		}
		columns, err := textsOf(name, args)
		if err != nil {
			return nil, err
		}
		return t.result(of(t.Frame, columns...))
	}
}

// textsOf reads names of columns, given one by one or in a list.
func textsOf(name string, args starlark.Tuple) ([]string, error) {
	var out []string
	for _, a := range args {
		switch v := a.(type) {
		case starlark.String:
			out = append(out, string(v))
		case *column:
			out = append(out, v.Name)
		case starlark.Iterable:
			inner, err := textsOf(name, slices.Collect(starlark.Elements(v)))
			if err != nil {
				return nil, err
			}
			out = append(out, inner...)
		default:
			return nil, fmt.Errorf("%s takes names of columns in quotes, not a %s", name, a.Type())
		}
	}
	return out, nil
}

// result wraps a new frame. An unknown column gets the likeliest name.
func (t *table) result(f *frame.Frame, err error) (starlark.Value, error) {
	if err != nil {
		return nil, t.explain(err)
	}
	return &table{f}, nil
}

func (t *table) explain(err error) error {
	name, found := strings.CutPrefix(err.Error(), "there is no column ")
	if name, _, ok := strings.Cut(name, "; "); found && ok {
		if near := Nearest(name, t.Names()); near != "" {
			return fmt.Errorf("there is no column %s; did you mean %s?", name, near)
		}
	}
	return err
}

const bareComparison = `this compares the whole column with one value, which is %v before where sees it; write where(sex = "F"), where(lambda r: r.sex == "F") or where(weights.sex.eq("F"))`

func where(thread *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var conditions []frame.Condition
	for _, k := range kwargs {
		c, err := t.condition(string(k[0].(starlark.String)), k[1])
		if err != nil {
			return nil, t.explain(err)
		}
		conditions = append(conditions, c)
	}
	f, err := t.Where(conditions...)
	if err != nil {
		return nil, t.explain(err)
	}
	for _, test := range args {
		switch test := test.(type) {
		case starlark.Bool:
			return nil, fmt.Errorf(bareComparison, test)
		case *column:
			if test.Kind != frame.Bool {
				return nil, fmt.Errorf("where takes a column of True and False; %s holds %v", test.Name, test.Kind)
			}
			if test.Len() != t.Len() || len(kwargs) > 0 || len(args) > 1 {
				return nil, errors.New("where takes a column of the same table alone; filter step by step: t = t.where(...), then t.where(t.sex.eq(\"F\"))")
			}
			f, err = f.WhereRow(func(i int) (bool, error) { return test.Bool[i] && !test.IsMissing(i), nil })
		case starlark.Callable:
			f, err = whereTrue(thread, f, test)
		default:
			return nil, fmt.Errorf(`where takes conditions such as sex = "F", or a lambda over a row, not a %s`, test.Type())
		}
		if err != nil {
			return nil, err
		}
	}
	return &table{f}, nil
}

func whereTrue(thread *starlark.Thread, f *frame.Frame, test starlark.Callable) (*frame.Frame, error) {
	rows := newRows(f)
	args := make(starlark.Tuple, 1)
	return f.WhereRow(func(i int) (bool, error) {
		args[0] = &row{rows, i}
		v, err := starlark.Call(thread, test, args, nil)
		if err != nil {
			return false, err
		}
		yes, ok := v.(starlark.Bool)
		if !ok && v != starlark.None {
			return false, fmt.Errorf("the lambda of where answers with a %s; let it answer True or False", v.Type())
		}
		return bool(yes), nil
	})
}

// condition reads column = value.
func (t *table) condition(name string, v starlark.Value) (frame.Condition, error) {
	if v == starlark.None {
		return frame.IsMissing(name), nil
	}
	if pair, ok := v.(starlark.Tuple); ok {
		if len(pair) != 2 {
			return frame.Condition{}, fmt.Errorf("%s = (low, high) takes two bounds; write [a, b, c] for one of several values", name)
		}
		low, errLow := plainValue(pair[0])
		high, errHigh := plainValue(pair[1])
		return frame.Between(name, low, high), errors.Join(errLow, errHigh)
	}
	if items, ok := v.(starlark.Iterable); ok {
		var values []any
		for item := range starlark.Elements(items) {
			x, err := plainValue(item)
			if err != nil {
				return frame.Condition{}, err
			}
			values = append(values, x)
		}
		return frame.AnyOf(name, values...), nil
	}
	if _, ok := v.(starlark.Callable); ok {
		return frame.Condition{}, fmt.Errorf("%s = takes a value; a lambda stands alone and sees the row: where(lambda r: r.%s > 500)", name, name)
	}
	x, err := plainValue(v)
	return frame.Equals(name, x), err
}

// plainValue turns a value into what a frame compares with; None is an open bound.
func plainValue(v starlark.Value) (any, error) {
	switch v := v.(type) {
	case starlark.NoneType:
		return nil, nil
	case starlark.String:
		return string(v), nil
	case date:
		return v.String(), nil
	case starlark.Bool:
		return bool(v), nil
	case starlark.Int, starlark.Float:
		x, _ := number(v)
		return x, nil
	case *bird:
		return v.ID, nil
	}
	return nil, fmt.Errorf("a %s cannot be compared with the values of a column", v.Type())
}

func sortRows(_ *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	down := false
	if err := starlark.UnpackArgs("sort", nil, kwargs, "down?", &down); err != nil {
		return nil, err
	}
	columns, err := textsOf("sort", args)
	if err != nil {
		return nil, err
	}
	if len(columns) == 0 {
		return nil, errors.New(`sort takes names of columns in quotes, such as sort("weight")`)
	}
	var by []frame.Order
	for _, c := range columns {
		by = append(by, frame.Order{Column: c, Down: down})
	}
	return t.result(t.Sort(by...))
}

func rename(_ *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	if len(args) > 0 {
		return nil, errors.New(`rename takes new = "old", such as rename(grams = "weight")`)
	}
	f := t.Frame
	for _, k := range kwargs {
		old, ok := starlark.AsString(k[1])
		if !ok {
			return nil, errors.New(`rename takes new = "old", such as rename(grams = "weight")`)
		}
		var err error
		if f, err = f.Rename(old, string(k[0].(starlark.String))); err != nil {
			return nil, t.explain(err)
		}
	}
	return &table{f}, nil
}

func add(thread *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	if len(args) > 0 {
		return nil, errors.New("add takes name = values, such as add(kg = lambda r: r.weight / 1000)")
	}
	f := t.Frame
	for _, k := range kwargs {
		c, err := newColumn(thread, f, string(k[0].(starlark.String)), k[1])
		if err != nil {
			return nil, err
		}
		if f, err = f.With(c); err != nil {
			return nil, err
		}
	}
	return &table{f}, nil
}

func newColumn(thread *starlark.Thread, f *frame.Frame, name string, v starlark.Value) (frame.Column, error) {
	values := make([]starlark.Value, f.Len())
	switch v := v.(type) {
	case *column:
		c := *v.Column
		c.Name = name
		return c, nil
	case starlark.Callable:
		rows := newRows(f)
		for i := range values {
			x, err := starlark.Call(thread, v, starlark.Tuple{&row{rows, i}}, nil)
			if err != nil {
				return frame.Column{}, err
			}
			values[i] = x
		}
	case starlark.Iterable:
		values = slices.Collect(starlark.Elements(v))
	default:
		for i := range values {
			values[i] = v
		}
	}
	return columnOf(name, values)
}

func join(_ *starlark.Thread, t *table, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	keep := false
	if err := starlark.UnpackArgs("join", nil, kwargs, "keep?", &keep); err != nil {
		return nil, err
	}
	var other *table
	if len(args) > 0 {
		other, _ = args[0].(*table)
	}
	if other == nil {
		return nil, errors.New(`join takes another table and the columns to join by, such as join(flock.birds, "bird")`)
	}
	on, err := textsOf("join", args[1:])
	if err != nil {
		return nil, err
	}
	f, err := t.Join(other.Frame, keep, on...)
	return t.result(f, err)
}

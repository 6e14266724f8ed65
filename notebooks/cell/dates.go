package cell

import (
	"fmt"

	"go.starlark.net/starlark"
	"go.starlark.net/syntax"

	"keelmark/ingest/record"
)

// date is a civil day. Days are added and taken away as whole numbers; two dates differ by days.
type date record.Day

var (
	_ starlark.HasBinary      = date(0)
	_ starlark.TotallyOrdered = date(0)
	_ starlark.HasAttrs       = date(0)
)

func dateFunctions() []binding {
	e := func(name, args, doc, example string) Entry { return Entry{"Dates", name, args, doc, example} }
	return []binding{
		{e("date", "(text)", "A day, from a text such as \"2025-03-01\". Add or take away days as whole numbers; one date less another gives days.",
			"date(\"2025-03-01\") + 21"), makeDate},
		{e("weeks", "(n)", "So many weeks in days.", "today - weeks(6)"), makeWeeks},
	}
}

func makeDate(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var v starlark.Value
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "text", &v); err != nil {
		return nil, err
	}
	d, err := dayOf(v)
	return date(d), err
}

// dayOf reads a date, or a text that is one.
func dayOf(v starlark.Value) (record.Day, error) {
	switch v := v.(type) {
	case date:
		return record.Day(v), nil
	case starlark.String:
		return record.ParseDay(string(v))
	}
	return 0, fmt.Errorf("a date is wanted, such as date(\"2025-03-01\"), not a %s", v.Type())
}

func makeWeeks(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var n int
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "n", &n); err != nil {
		return nil, err
	}
	return starlark.MakeInt(n * 7), nil
}

// furthest bounds days so that no sum of them leaves the calendar: the years 1 to 9999.
// Source: ISO 8601 writes years with four digits; days counted from 1970-01-01.
const (
	firstDay = -719162
	lastDay  = 2932896
)

func dayFrom(d record.Day, n starlark.Int, sign int64) (starlark.Value, error) {
	days, ok := n.Int64()
	to := int64(d) + sign*days
	if !ok || days > lastDay || days < -lastDay || to < firstDay || to > lastDay {
		return nil, fmt.Errorf("%s and %s days leave the calendar", d, n)
	}
	return date(to), nil
}

// Binary implements starlark.HasBinary.
func (d date) Binary(op syntax.Token, y starlark.Value, side starlark.Side) (starlark.Value, error) {
	switch y := y.(type) {
	case starlark.Int:
		switch {
		case op == syntax.PLUS:
			return dayFrom(record.Day(d), y, 1)
		case op == syntax.MINUS && side == starlark.Left:
			return dayFrom(record.Day(d), y, -1)
		}
	case date:
		if op == syntax.MINUS {
			if side == starlark.Right {
				d, y = y, d
			}
			return starlark.MakeInt(int(d - y)), nil
		}
	}
	return nil, nil
}

// Cmp implements starlark.TotallyOrdered.
func (d date) Cmp(y starlark.Value, _ int) (int, error) { return int(d - y.(date)), nil }

func dateMethods() []method[date] {
	e := func(name, args, doc, example string) Entry {
		return Entry{Name: name, Args: args, Doc: doc, Example: example}
	}
	return []method[date]{
		{e("add_months", "(n)", "The same day so many months later; a day that the month lacks becomes its last.", "date(\"2025-01-31\").add_months(1)"),
			func(_ *starlark.Thread, d date, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
				var n int
				if err := starlark.UnpackArgs("add_months", args, kwargs, "n", &n); err != nil {
					return nil, err
				}
				if n < -120000 || n > 120000 {
					return nil, fmt.Errorf("%d months leave the calendar", n)
				}
				to := record.Day(d).AddMonths(n)
				if to < firstDay || to > lastDay {
					return nil, fmt.Errorf("%d months leave the calendar", n)
				}
				return date(to), nil
			}},
	}
}

// Attr implements starlark.HasAttrs.
func (d date) Attr(name string) (starlark.Value, error) {
	year, month, day := record.Day(d).Date()
	switch name {
	case "year":
		return starlark.MakeInt(year), nil
	case "month":
		return starlark.MakeInt(int(month)), nil
	case "day":
		return starlark.MakeInt(day), nil
	case "weekday":
		return starlark.String(record.Day(d).Weekday().String()), nil
	case "year_day":
		return starlark.MakeInt(record.Day(d).YearDay()), nil
	}
	if m, ok := find(dateMethods(), name); ok {
		return m.bound(d), nil
	}
	return nil, nil
}

// AttrNames implements starlark.HasAttrs.
func (d date) AttrNames() []string {
	return append([]string{"day", "month", "weekday", "year", "year_day"}, names(dateMethods())...)
}

// String implements starlark.Value.
func (d date) String() string { return record.Day(d).String() }

// Type implements starlark.Value.
func (date) Type() string { return "date" }

// Freeze implements starlark.Value.
func (date) Freeze() {}

// Truth implements starlark.Value.
func (date) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (d date) Hash() (uint32, error) { return uint32(d), nil }

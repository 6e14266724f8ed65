package cell

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"go.starlark.net/starlark"
	"go.starlark.net/starlarkstruct"

	"keelmark/analysis/stat"
)

// numberFunctions are the helpers for reckoning. All of them leave missing values (None) out and answer None
// where too few are left.
func numberFunctions() []binding {
	e := func(name, args, doc, example string) Entry { return Entry{"Numbers", name, args, doc, example} }
	return []binding{
		{e("count", "(x)", "How many values of a list or column are known.", "count(flock.weights.weight)"), countKnown},
		{e("sum", "(x)", "The sum of the known values; 0 where there are none.", "sum([1, 2, None, 3])"), overNumbers("sum", 0, func(xs []float64) (float64, error) {
			var s float64
			for _, x := range xs {
				s += x
			}
			return s, nil
		})},
		{e("mean", "(x)", "The mean of the known values.", "mean(flock.weights.weight)"), overNumbers("mean", 1, stat.Mean)},
		{e("median", "(x)", "The middle of the known values.", "median([3, 1, 2])"), overNumbers("median", 1, stat.Median)},
		{e("sd", "(x)", "The standard deviation of the known values, with n - 1; it needs two.", "sd([1, 2, 3])"), overNumbers("sd", 2, stat.SD)},
		{e("quantile", "(x, p)", "The value below which a share p (0 to 1) of the known values lies, interpolated between neighbours (definition 7 of Hyndman and Fan).",
			"quantile(flock.weights.weight, 0.9)"), quantileOf},
		{e("min", "(x, ...)", "The smallest of several values, or of the known values of a list or column.", "min(flock.weights.weight)"), extreme("min")},
		{e("max", "(x, ...)", "The largest of several values, or of the known values of a list or column.", "max(3, 7)"), extreme("max")},
		{e("mean_interval", "(x, level = 0.9)", "The mean with its interval (Student's t): .value, .low, .high, .level, .n. It needs two known values, which should be independent: one a bird, not many of one.",
			"mean_interval([610, 640, 655, 600])"), meanInterval},
		{e("share", "(x, n, level = 0.9)", "The share x of n with its interval (Wilson): .value, .low, .high, .level, .n.", "share(31, 48)"), shareOf},
		{e("round", "(x, digits = 0)", "A number rounded to so many digits after the point. To print it use fixed.", "round(612.456, 1)"), roundTo},
		{e("fixed", "(x, digits = 0)", "A number as a text with exactly so many digits after the point; a missing one is –.", "fixed(612, 1)"), fixed},
		{e("sqrt", "(x)", "The square root.", "sqrt(2)"), float1("sqrt", math.Sqrt)},
		{e("exp", "(x)", "e to the power x.", "exp(1)"), float1("exp", math.Exp)},
		{e("log", "(x)", "The natural logarithm.", "log(10)"), float1("log", math.Log)},
		{e("log10", "(x)", "The logarithm to base 10.", "log10(1000)"), float1("log10", math.Log10)},
		{e("floor", "(x)", "The next whole number below.", "floor(2.7)"), whole("floor", math.Floor)},
		{e("ceil", "(x)", "The next whole number above.", "ceil(2.1)"), whole("ceil", math.Ceil)},
		{e("pow", "(x, y)", "x to the power y.", "pow(2, 10)"), power},
	}
}

// numbersIn reads the known numbers of a list, tuple, set or column.
func numbersIn(name string, v starlark.Value) ([]float64, error) {
	if c, ok := v.(*column); ok {
		return c.numbers(name)
	}
	items, ok := v.(starlark.Iterable)
	if !ok {
		return nil, fmt.Errorf("%s takes a list or a column, not a %s", name, v.Type())
	}
	var out []float64
	for item := range starlark.Elements(items) {
		if item == starlark.None {
			continue
		}
		x, ok := number(item)
		if !ok {
			return nil, fmt.Errorf("%s takes numbers; item %d is a %s: %s", name, len(out)+1, item.Type(), shorten(item.String(), 40))
		}
		out = append(out, x)
	}
	return out, nil
}

func number(v starlark.Value) (float64, bool) {
	switch v := v.(type) {
	case starlark.Float:
		return float64(v), true
	case starlark.Int:
		return float64(v.Float()), true
	}
	return 0, false
}

// tidyNumber gives a whole number as an int, so that sum([1, 2]) is 3 and not 3.0.
func tidyNumber(x float64, whole bool) starlark.Value {
	if whole && x == math.Trunc(x) && math.Abs(x) < 1<<53 {
		return starlark.MakeInt64(int64(x))
	}
	return starlark.Float(x)
}

func overNumbers(name string, least int, of func([]float64) (float64, error)) builtin {
	return func(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		var v starlark.Value
		if err := starlark.UnpackArgs(name, args, kwargs, "x", &v); err != nil {
			return nil, err
		}
		xs, err := numbersIn(name, v)
		if err != nil {
			return nil, err
		}
		if len(xs) < least {
			return starlark.None, nil
		}
		x, err := of(xs)
		if err != nil {
			return nil, err
		}
		return tidyNumber(x, name == "sum"), nil
	}
}

func countKnown(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var items starlark.Iterable
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x", &items); err != nil {
		return nil, err
	}
	n := 0
	for item := range starlark.Elements(items) {
		if item != starlark.None {
			n++
		}
	}
	return starlark.MakeInt(n), nil
}

func quantileOf(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var v starlark.Value
	var p starlark.Float
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x", &v, "p", (*real)(&p)); err != nil {
		return nil, err
	}
	xs, err := numbersIn(b.Name(), v)
	if err != nil || len(xs) == 0 {
		return starlark.None, err
	}
	x, err := stat.Quantile(xs, float64(p))
	return starlark.Float(x), err
}

// real is a parameter that takes whole numbers as well.
type real starlark.Float

// Unpack implements starlark.Unpacker.
func (f *real) Unpack(v starlark.Value) error {
	x, ok := number(v)
	if !ok {
		return fmt.Errorf("got %s, want a number", v.Type())
	}
	*f = real(x)
	return nil
}

// extreme is the language's own min or max, except that missing values of a single list or column are left out.
func extreme(name string) builtin {
	own := starlark.Universe[name].(*starlark.Builtin)
	return func(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		if len(args) == 1 {
			if items, ok := args[0].(starlark.Iterable); ok {
				var known []starlark.Value
				for item := range starlark.Elements(items) {
					if item != starlark.None {
						known = append(known, item)
					}
				}
				if len(known) == 0 {
					return starlark.None, nil
				}
				args = starlark.Tuple{starlark.NewList(known)}
			}
		}
		return own.CallInternal(t, args, kwargs)
	}
}

func meanInterval(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var v starlark.Value
	level := real(0.9)
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x", &v, "level?", &level); err != nil {
		return nil, err
	}
	xs, err := numbersIn(b.Name(), v)
	if err != nil {
		return nil, err
	}
	i, err := stat.MeanInterval(xs, float64(level))
	return interval(i), err
}

func shareOf(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var x, n int
	level := real(0.9)
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x", &x, "n", &n, "level?", &level); err != nil {
		return nil, err
	}
	i, err := stat.Wilson(x, n, float64(level))
	return interval(i), err
}

func interval(i stat.Interval) starlark.Value {
	return starlarkstruct.FromStringDict(starlark.String("interval"), starlark.StringDict{
		"value": starlark.Float(i.Value), "low": starlark.Float(i.Low), "high": starlark.Float(i.High),
		"level": starlark.Float(i.Level), "n": starlark.MakeInt(i.N)})
}

const mostDigits = 15

func roundTo(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	v, digits, err := numberAndDigits(b, args, kwargs)
	if err != nil || v == starlark.None {
		return starlark.None, err
	}
	if i, ok := v.(starlark.Int); ok {
		return i, nil
	}
	x, _ := number(v)
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return v, nil
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'f', digits, 64), 64)
	return tidyNumber(rounded, digits == 0), err
}

func fixed(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	v, digits, err := numberAndDigits(b, args, kwargs)
	if err != nil {
		return nil, err
	}
	x, known := number(v)
	if !known || math.IsNaN(x) || math.IsInf(x, 0) {
		return starlark.String("–"), nil
	}
	s := strconv.FormatFloat(x, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return starlark.String(s), nil
}

func numberAndDigits(b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, int, error) {
	var v starlark.Value
	digits := 0
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x", &v, "digits?", &digits); err != nil {
		return nil, 0, err
	}
	if _, ok := number(v); !ok && v != starlark.None {
		return nil, 0, fmt.Errorf("%s takes a number, not a %s", b.Name(), v.Type())
	}
	if digits < 0 || digits > mostDigits {
		return nil, 0, fmt.Errorf("%s: digits is %d; use 0 to %d", b.Name(), digits, mostDigits)
	}
	return v, digits, nil
}

func float1(name string, of func(float64) float64) builtin {
	return func(_ *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		var x real
		if err := starlark.UnpackArgs(name, args, kwargs, "x", &x); err != nil {
			return nil, err
		}
		y := of(float64(x))
		if math.IsNaN(y) || math.IsInf(y, 0) {
			return nil, fmt.Errorf("%s(%v) has no value", name, float64(x))
		}
		return starlark.Float(y), nil
	}
}

func whole(name string, of func(float64) float64) builtin {
	return func(_ *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		var x real
		if err := starlark.UnpackArgs(name, args, kwargs, "x", &x); err != nil {
			return nil, err
		}
		return starlark.NumberToInt(starlark.Float(of(float64(x))))
	}
}

func power(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var x, y starlark.Value
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x", &x, "y", &y); err != nil {
		return nil, err
	}
	a, okA := number(x)
	c, okC := number(y)
	if !okA || !okC {
		return nil, fmt.Errorf("pow takes two numbers, not a %s and a %s", x.Type(), y.Type())
	}
	p := math.Pow(a, c)
	if math.IsNaN(p) || math.IsInf(p, 0) {
		return nil, fmt.Errorf("pow(%v, %v) has no value", a, c)
	}
	_, wholeX := x.(starlark.Int)
	_, wholeY := y.(starlark.Int)
	return tidyNumber(p, wholeX && wholeY && c >= 0), nil
}

func shorten(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}

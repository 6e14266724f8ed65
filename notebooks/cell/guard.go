package cell

import (
	"errors"
	"fmt"
	"strings"

	"go.starlark.net/starlark"
	"go.starlark.net/syntax"
)

// Bounds on what one step may make. The memory watcher sees what many steps make together.
const (
	largestText = 64 << 20 // bytes of one text
	largestList = 8 << 20  // items of one list, tuple or range
	largestDict = 1 << 20  // entries of a dictionary or set that one step adds to another
	largestInt  = 1 << 20  // bits of one whole number
)

var errTooLong = errors.New("this would make a text of more than 64 MB; make it in smaller parts")

// The guards stand in rewritten code where one step could take memory without bound: x*y becomes
// x*$times(y), x+y becomes x+$plus(y), x|y likewise, x[a:b] becomes $slice(x)[a:b], x%y becomes $format(x)%y, x.join
// becomes $text(x).join, and x.extend becomes $list(x).extend. They return numbers as they are.
var (
	guardTimes  = starlark.NewBuiltin(timesName, timesGuard)
	guardPlus   = starlark.NewBuiltin(plusName, plus)
	guardSlice  = starlark.NewBuiltin(sliceName, sliced)
	guardList   = starlark.NewBuiltin(listName, guarded(asList))
	guardFormat = starlark.NewBuiltin(formatName, guarded(formatted))
	guardText   = starlark.NewBuiltin(textName, guarded(asText))
)

func guarded(wrap func(starlark.Value) starlark.Value) builtin {
	return func(_ *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, _ []starlark.Tuple) (starlark.Value, error) {
		return wrap(args[0]), nil
	}
}

// operand is the right side of a guarded operator. It behaves as the value that it wraps.
type operand struct{ starlark.Value }

var _ starlark.HasBinary = operand{}

func timesGuard(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, _ []starlark.Tuple) (starlark.Value, error) {
	return times(args[0]), spare(t, args[0])
}

func times(y starlark.Value) starlark.Value {
	switch v := y.(type) {
	case starlark.Float:
		return y
	case starlark.Int:
		if n, ok := v.Int64(); ok && n <= 8 {
			return y
		}
		return operand{y}
	case starlark.Sequence, starlark.String, starlark.Bytes:
		return operand{y}
	}
	return y
}

// Binary implements starlark.HasBinary.
func (o operand) Binary(op syntax.Token, x starlark.Value, side starlark.Side) (starlark.Value, error) {
	if side != starlark.Right {
		return nil, nil
	}
	switch op {
	case syntax.STAR:
		if err := repeatable(x, o.Value); err != nil {
			return nil, err
		}
		if err := repeatable(o.Value, x); err != nil {
			return nil, err
		}
		return starlark.Binary(op, x, o.Value)
	}
	return nil, nil
}

// plus refuses to add half of what one step may make, so that nothing can double beyond it.
func plus(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, _ []starlark.Tuple) (starlark.Value, error) {
	if err := addable(args[0]); err != nil {
		return nil, err
	}
	return args[0], spare(t, args[0])
}

// sliced is a value of which a part is about to be copied.
func sliced(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, _ []starlark.Tuple) (starlark.Value, error) {
	return args[0], spare(t, args[0])
}

// cancellation is the reason of a step that ends its cell, said as the interpreter says it.
type cancellation string

func (c cancellation) Error() string { return cancelled + string(c) }

// many is how many items a step makes that asks for memory first.
const many = 1 << 12

// spare refuses a step by which a value would be added or repeated where no memory is left for it. A number
// counts as often as it repeats.
func spare(t *starlark.Thread, y starlark.Value) error {
	n := starlark.Len(y)
	if i, ok := y.(starlark.Int); ok {
		if times, fits := i.Int64(); fits {
			n = int(min(times, many))
		}
	}
	if n >= many && running(t).engine.memory.over() {
		return cancellation(stopMemory)
	}
	return nil
}

func addable(y starlark.Value) error {
	switch v := y.(type) {
	case starlark.String:
		if len(v) > largestText/2 {
			return errTooLong
		}
	case starlark.Bytes:
		if len(v) > largestText/2 {
			return errTooLong
		}
	case *starlark.List, starlark.Tuple:
		return addingAtMost(largestList/2, v)
	case *starlark.Dict, *starlark.Set:
		return addingAtMost(largestDict, v)
	}
	return nil
}

func addingAtMost(most int, v starlark.Value) error {
	if n := starlark.Len(v); n > most {
		return fmt.Errorf("this would add %d items to others, more than the %d that one step may add", n, most)
	}
	return nil
}

// guardedList is a list whose extend is bounded.
type guardedList struct{ *starlark.List }

func asList(x starlark.Value) starlark.Value {
	if l, ok := x.(*starlark.List); ok {
		return guardedList{l}
	}
	return x
}

// Attr implements starlark.HasAttrs.
func (l guardedList) Attr(name string) (starlark.Value, error) {
	method, err := l.List.Attr(name)
	if err != nil || method == nil {
		return method, err
	}
	return starlark.NewBuiltin(name, func(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		if len(args) == 1 {
			if err := addable(args[0]); err != nil {
				return nil, err
			}
		}
		return method.(*starlark.Builtin).CallInternal(t, args, kwargs)
	}), nil
}

// template is a text on the left of %.
type template struct{ starlark.Value }

var _ starlark.HasBinary = template{}

func formatted(x starlark.Value) starlark.Value {
	if s, ok := x.(starlark.String); ok {
		return template{s}
	}
	return x
}

// Binary implements starlark.HasBinary.
func (t template) Binary(op syntax.Token, y starlark.Value, side starlark.Side) (starlark.Value, error) {
	if op != syntax.PERCENT || side != starlark.Left {
		return nil, nil
	}
	if length(y, largestText-len(t.Value.(starlark.String))) < 0 {
		return nil, errTooLong
	}
	return starlark.Binary(op, t.Value, y)
}

// repeatable refuses items*n that would be too large, and products of huge numbers.
func repeatable(items, n starlark.Value) error {
	count, ok := n.(starlark.Int)
	if !ok {
		return nil
	}
	if x, ok := items.(starlark.Int); ok {
		if bits(x)+bits(count) > largestInt {
			return errors.New("this product has more than 300,000 digits; use decimal numbers (2.0 for 2)")
		}
		return nil
	}
	var size, limit int
	what := "items"
	switch v := items.(type) {
	case starlark.String:
		size, limit, what = v.Len(), largestText, "letters"
	case starlark.Bytes:
		size, limit, what = v.Len(), largestText, "bytes"
	case *starlark.List:
		size, limit = v.Len(), largestList
	case starlark.Tuple:
		size, limit = v.Len(), largestList
	default:
		return nil
	}
	if n, fits := count.Int64(); size > 0 && (!fits || n > int64(limit/size)) && count.Sign() > 0 {
		return fmt.Errorf("this would make %d times %s %s, more than the %d that one step may make", size, count, what, limit)
	}
	return nil
}

func bits(i starlark.Int) int {
	if _, small := i.Int64(); small {
		return 64
	}
	return i.BigInt().BitLen()
}

// length returns about how much of the room the text of a value leaves, negative where there is too little.
// It stops looking as soon as it is, so that a small value which holds itself many times over costs little.
func length(v starlark.Value, room int) int {
	if room < 0 {
		return -1
	}
	switch v := v.(type) {
	case starlark.String:
		return room - len(v)
	case starlark.Bytes:
		return room - len(v)
	case starlark.Int:
		return room - bits(v)/3
	case *starlark.Dict:
		for _, item := range v.Items() {
			if room = length(item, room-2); room < 0 {
				return room
			}
		}
	case *starlark.List:
		for i := 0; i < v.Len() && room >= 0; i++ {
			room = length(v.Index(i), room-2)
		}
	case starlark.Tuple:
		for i := 0; i < len(v) && room >= 0; i++ {
			room = length(v[i], room-2)
		}
	case *starlark.Set:
		for item := range starlark.Elements(v) {
			if room = length(item, room-2); room < 0 {
				return room
			}
		}
	default:
		return room - 32
	}
	return room
}

// guardedText is a text whose methods join, replace and format are bounded.
type guardedText struct{ starlark.Value }

func asText(x starlark.Value) starlark.Value {
	if s, ok := x.(starlark.String); ok {
		return guardedText{s}
	}
	return x
}

// AttrNames implements starlark.HasAttrs.
func (s guardedText) AttrNames() []string { return s.Value.(starlark.String).AttrNames() }

// Attr implements starlark.HasAttrs.
func (s guardedText) Attr(name string) (starlark.Value, error) {
	method, err := s.Value.(starlark.String).Attr(name)
	if err != nil || method == nil {
		return method, err
	}
	b := method.(*starlark.Builtin)
	return starlark.NewBuiltin(name, func(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		if !s.fits(name, args, kwargs) {
			return nil, errTooLong
		}
		if s.parts(name, args) > largestList {
			return nil, fmt.Errorf("%s would make a list of more than %d texts", name, largestList)
		}
		return b.CallInternal(t, args, kwargs)
	}), nil
}

// parts is at most how many texts a method makes of this one.
func (s guardedText) parts(name string, args starlark.Tuple) int {
	text := string(s.Value.(starlark.String))
	if len(text) <= largestList {
		return 0
	}
	switch name {
	case "splitlines":
		return strings.Count(text, "\n") + strings.Count(text, "\r")
	case "split", "rsplit":
		if len(args) > 0 {
			if sep, ok := args[0].(starlark.String); ok && sep != "" {
				return strings.Count(text, string(sep))
			}
		}
		return len(strings.Fields(text))
	}
	return 0
}

func (s guardedText) fits(name string, args starlark.Tuple, kwargs []starlark.Tuple) bool {
	size := len(s.Value.(starlark.String))
	switch name {
	case "join":
		if len(args) != 1 {
			return true
		}
		if items, ok := args[0].(starlark.Sequence); ok {
			if items.Len() > 0 && size > largestText/items.Len() {
				return false
			}
			return length(args[0], largestText-size*items.Len()) >= 0
		}
	case "replace":
		if len(args) >= 2 {
			with, ok := args[1].(starlark.String)
			return !ok || len(with) == 0 || size+1 <= largestText/len(with)
		}
	case "format":
		room := largestText
		for _, a := range args {
			room = min(room, length(a, largestText))
		}
		for _, k := range kwargs {
			room = min(room, length(k[1], largestText))
		}
		longest := largestText - room
		return longest == 0 || size/2 <= largestText/longest
	}
	return true
}

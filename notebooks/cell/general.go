package cell

import (
	"errors"
	"fmt"
	"strings"

	"go.starlark.net/starlark"
	"go.starlark.net/starlarkstruct"
)

// generalFunctions speak to whoever reads the notebook, and replace those of the language's own functions that
// could make a text or a list without bound.
func generalFunctions() []binding {
	e := func(name, args, doc, example string) Entry { return Entry{"General", name, args, doc, example} }
	return []binding{
		{e("print", "(x, ..., sep = \" \")", "Prints values as text.", "print(\"weight\", 640)"), bounded("print")},
		{e("warn", "(x, ...)", "Prints values as a warning, which notebook programs set apart from the rest.", "warn(\"two weighings on one day\")"), warn},
		{e("display", "(x, ...)", "Shows tables, figures, claims and blocks, one after the other. The last line of a cell is shown without it.", "display(flock.weights.head(2), para(\"two rows\"))"), display},
		{e("help", "(x = None)", "This manual: of everything, or of one name.", "help(mean)"), help},
		{e("input", "(question = \"\")", "Asks the person at the notebook and answers with the text that was typed. A run without a person stops here.", ""), input},
		{e("clear", "(wait = False)", "Removes what the cell has shown so far; with wait, when the next output comes.", "clear()"), clearOutput},
		{e("struct", "(name = value, ...)", "Several named values as one: s = struct(ring = \"R12\"), then s.ring.", "struct(ring = \"R12\").ring"), starlarkstruct.Make},
		{e("str", "(x)", "A value as text.", "str(640) + \" g\""), bounded("str")},
		{e("repr", "(x)", "A value as a cell would write it.", "repr(\"R12\")"), bounded("repr")},
		{e("fail", "(message, ...)", "Stops the cell with a message.", ""), bounded("fail")},
		{e("range", "(start, stop, step)", "The whole numbers from start (0 where only stop is given) up to but not including stop.", "[i for i in range(3)]"), boundedRange},
		{e("list", "(x)", "The items of x as a list.", "list(range(3))"), sized("list")},
		{e("tuple", "(x)", "The items of x as a tuple, which cannot be changed.", "tuple([1, 2])"), sized("tuple")},
		{e("set", "(x)", "The different items of x.", "len(set([1, 2, 2]))"), sized("set")},
		{e("sorted", "(x, key = None, reverse = False)", "The items of x in order.", "sorted([3, 1, 2], reverse = True)"), sized("sorted")},
		{e("reversed", "(x)", "The items of x from the last to the first.", "reversed([1, 2, 3])"), sized("reversed")},
		{e("enumerate", "(x, start)", "The items of x, each with its number, from start on (0 where none is given).", "for i, bird in enumerate([\"R12\", \"R13\"]):\n    print(i, bird)"), sized("enumerate")},
		{e("zip", "(x, y, ...)", "The first items of all together, then the second ones, and so on.", "zip([1, 2], [\"a\", \"b\"])"), sized("zip")},
	}
}

// bounded is a function of the language that refuses to make a huge text of a small value.
func bounded(name string) builtin {
	own := starlark.Universe[name].(*starlark.Builtin)
	return func(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		if length(args, largestText) < 0 {
			return nil, errTooLong
		}
		return own.CallInternal(t, args, kwargs)
	}
}

// sized is a function of the language that makes a list, and refuses to make a huge one in one step.
func sized(name string) builtin {
	own := starlark.Universe[name].(*starlark.Builtin)
	each := 1 // values for each item
	if name == "enumerate" {
		each = 2
	}
	return func(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		n := 0
		for _, a := range args {
			if size := starlark.Len(a); size > 0 {
				n += size * each
			}
		}
		if n > largestList {
			return nil, fmt.Errorf("%s would make a list of %d values, more than the %d that one step may make", name, n, largestList)
		}
		for _, a := range args {
			if err := spare(t, a); err != nil {
				return nil, err
			}
		}
		return own.CallInternal(t, args, kwargs)
	}
}

func boundedRange(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	v, err := starlark.Universe["range"].(*starlark.Builtin).CallInternal(t, args, kwargs)
	if err != nil {
		return nil, err
	}
	if n := starlark.Len(v); n < 0 || n > largestList {
		return nil, fmt.Errorf("range makes %d numbers, more than the %d that one step may make; a while loop has no such bound", n, largestList)
	}
	return v, nil
}

func warn(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	if len(kwargs) > 0 {
		return nil, errors.New("warn takes values only")
	}
	if length(args, largestText) < 0 {
		return nil, errTooLong
	}
	var texts []string
	for _, v := range args {
		if s, ok := v.(starlark.String); ok {
			texts = append(texts, string(s))
		} else {
			texts = append(texts, v.String())
		}
	}
	running(t).print("stderr", strings.Join(texts, " ")+"\n")
	return starlark.None, nil
}

func display(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	if len(kwargs) > 0 {
		return nil, errors.New("display takes values only")
	}
	r := running(t)
	for _, v := range args {
		b, err := r.engine.bundle(v)
		if err != nil {
			return nil, err
		}
		r.sink.Display(b)
	}
	return starlark.None, nil
}

func clearOutput(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	wait := false
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "wait?", &wait); err != nil {
		return nil, err
	}
	running(t).sink.Clear(wait)
	return starlark.None, nil
}

func input(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var question string
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "question?", &question); err != nil {
		return nil, err
	}
	r := running(t)
	if r.engine.options.Input == nil {
		return nil, errors.New("this run has nobody to ask; set the value in a cell tagged parameters, and give it with -p name=value")
	}
	answer, err := r.engine.options.Input(r.ctx, question)
	return starlark.String(answer), err
}

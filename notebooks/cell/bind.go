package cell

import (
	"fmt"

	"go.starlark.net/starlark"

	"keelmark/analysis/frame"
)

// Entry is one line of the manual of the cell language. It stands beside the function that it describes, so
// that neither can go without the other.
type Entry struct {
	Group   string // "Numbers", "Tables", ...
	Name    string // as a cell writes it; a method begins with its owner: "table.where"
	Args    string // as in the call: "(x, digits = 0)"; "" for a value
	Doc     string
	Example string // one line or more that run as they stand, given a flock
}

// builtin is a function as the interpreter calls it.
type builtin = func(*starlark.Thread, *starlark.Builtin, starlark.Tuple, []starlark.Tuple) (starlark.Value, error)

// binding is a function with its manual.
type binding struct {
	Entry
	fn builtin
}

// bind makes the names that Keelmark adds to the language.
func (e *Engine) bind() error {
	e.api = starlark.StringDict{}
	e.manual = nil
	var all []binding
	for _, list := range [][]binding{e.values(), e.analyses(), tableFunctions(), blockFunctions(), numberFunctions(), dateFunctions(), generalFunctions(), saveFunctions()} {
		all = append(all, list...)
	}
	for _, b := range all {
		if _, taken := e.api[b.Name]; taken {
			return fmt.Errorf("the cell language has two meanings for %s; rename one", b.Name)
		}
		if b.fn != nil {
			e.api[b.Name] = starlark.NewBuiltin(b.Name, b.fn)
		}
		e.manual = append(e.manual, b.Entry)
	}
	for _, s := range e.options.Specs {
		if err := s.Validate(); err != nil {
			return err
		}
	}
	for _, m := range methods() {
		e.manual = append(e.manual, m...)
	}
	e.api["standards"] = &table{frame.Standards(e.options.Context.Standards)}
	e.api["today"] = date(e.options.Context.Today)
	if e.options.Flock != nil {
		e.api["flock"] = newFlock(e.options.Flock, e.options.Context)
	}
	if e.options.Compared != nil {
		e.api["compared"] = e.compared()
		e.manual = append(e.manual, comparedEntry())
	}
	return nil
}

// Manual is the whole cell language beyond the language itself, in order of groups.
func (e *Engine) Manual() []Entry { return e.manual }

// values are the names that are no functions.
func (e *Engine) values() []binding {
	return []binding{
		{Entry: Entry{Group: "Flock", Name: "flock", Doc: "The flock that the notebook was started on: its records as tables, and its settings.",
			Example: "flock.weights.head(5)"}},
		{Entry: Entry{Group: "Flock", Name: "today", Doc: "The day of the report, as a date. It is set when the notebook is started, so that a run can be repeated.",
			Example: "today - date(\"2025-03-01\")"}},
		{Entry: Entry{Group: "Flock", Name: "standards", Doc: "The published weights that are known, one row for each class, with the source of each, in grams. They disagree, and are shown so.",
			Example: "standards.where(age_class = \"hen\").head(5)"}},
	}
}

// method is a function of a kind of value, with its manual.
type method[T any] struct {
	Entry
	fn func(t *starlark.Thread, self T, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error)
}

// bound makes the method a value of one receiver.
func (m method[T]) bound(self T) starlark.Value {
	return starlark.NewBuiltin(m.Name, func(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		return m.fn(t, self, args, kwargs)
	})
}

// methods are the manuals of all kinds of values.
func methods() [][]Entry {
	return [][]Entry{manualOf("Flock", "flock", flockMethods()), manualOf("Tables", "table", tableMethods()),
		manualOf("Tables", "column", columnMethods()), manualOf("Dates", "date", dateMethods()),
		manualOf("Analyses", "result", resultMethods())}
}

func manualOf[T any](group, owner string, list []method[T]) []Entry {
	var out []Entry
	for _, m := range list {
		e := m.Entry
		e.Group, e.Name = group, owner+"."+m.Name
		out = append(out, e)
	}
	return out
}

func find[T any](list []method[T], name string) (method[T], bool) {
	for _, m := range list {
		if m.Name == name {
			return m, true
		}
	}
	return method[T]{}, false
}

func names[T any](list []method[T]) []string {
	var out []string
	for _, m := range list {
		out = append(out, m.Name)
	}
	return out
}

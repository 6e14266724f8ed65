package cell

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.starlark.net/starlark"

	"keelmark/analysis"
	"keelmark/analysis/frame"
	"keelmark/ingest/record"
	"keelmark/notebooks/render"
	"keelmark/plots"
)

// analyses makes one function of each analysis of the catalogue.
func (e *Engine) analyses() []binding {
	var out []binding
	for _, s := range e.options.Specs {
		args := "(flock"
		doc := s.Title + ".\n\n" + strings.TrimSpace(s.Doc)
		if len(s.Params) > 0 {
			doc += "\n\nOptions:"
		}
		for _, p := range s.Params {
			args += ", " + p.Name + " = " + literal(p.Default)
			unit := ""
			if p.Unit != "" {
				unit = " [" + p.Unit + "]"
			}
			doc += fmt.Sprintf("\n  %s%s: %s (default %s)", p.Name, unit, p.Doc, literal(p.Default))
		}
		doc += "\n\nThe result has .claims, .tables, .figures, .cautions, and each of its tables by name."
		out = append(out, binding{Entry{"Analyses", s.Name, args + ")", doc, s.Name + "(flock)"}, e.analysis(s)})
	}
	return out
}

// literal is a default as a cell would write it.
func literal(v any) string {
	switch v := v.(type) {
	case string:
		return strconv.Quote(v)
	case bool:
		if v {
			return "True"
		}
		return "False"
	case record.Day:
		if v == 0 {
			return "None"
		}
		return strconv.Quote(v.String())
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return fmt.Sprint(v)
}

func (e *Engine) analysis(s analysis.Spec) builtin {
	return func(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		f, err := e.flockFor(s.Name, args)
		if err != nil {
			return nil, err
		}
		options := map[string]any{}
		for _, k := range kwargs {
			name := string(k[0].(starlark.String))
			if name == "flock" && len(args) == 0 {
				var ok bool
				if f, ok = k[1].(*flockValue); !ok {
					return nil, fmt.Errorf("%s: flock = takes a flock, not a %s", s.Name, k[1].Type())
				}
				continue
			}
			v, err := option(s, name, k[1])
			if err != nil {
				return nil, err
			}
			if v != nil {
				options[name] = v
			}
		}
		if f == nil {
			return nil, fmt.Errorf("%s: %s", s.Name, e.options.NoFlock)
		}
		r := running(t)
		found, err := s.Run(r.ctx, f.context, f.data, options)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name, err)
		}
		return &result{spec: s, found: found, flock: f, engine: e}, nil
	}
}

// flockFor is the flock of a call: the first argument, or else the one that the notebook was started on.
func (e *Engine) flockFor(name string, args starlark.Tuple) (*flockValue, error) {
	if len(args) == 0 {
		f, _ := e.api["flock"].(*flockValue)
		return f, nil
	}
	f, ok := args[0].(*flockValue)
	if !ok || len(args) > 1 {
		return nil, fmt.Errorf("%s takes the flock first, then options by name, such as %s(flock, option = value)", name, name)
	}
	return f, nil
}

// option turns a value into what the analysis takes. None leaves the default.
func option(s analysis.Spec, name string, v starlark.Value) (any, error) {
	at := slices.IndexFunc(s.Params, func(p analysis.Param) bool { return p.Name == name })
	if at < 0 {
		var known []string
		for _, p := range s.Params {
			known = append(known, p.Name)
		}
		if near := Nearest(name, known); near != "" {
			return nil, fmt.Errorf("%s has no option %s; did you mean %s?", s.Name, name, near)
		}
		if len(known) == 0 {
			return nil, fmt.Errorf("%s has no option %s; it takes none", s.Name, name)
		}
		return nil, fmt.Errorf("%s has no option %s; it has: %s", s.Name, name, strings.Join(known, ", "))
	}
	if v == starlark.None {
		return nil, nil
	}
	p := s.Params[at]
	wrong := func(want string) error {
		return fmt.Errorf("%s: option %s takes %s, not %s", s.Name, name, want, shorten(v.String(), 40))
	}
	switch p.Default.(type) {
	case string:
		switch v := v.(type) {
		case starlark.String:
			return string(v), nil
		case *bird:
			return v.ID, nil
		case date:
			return v.String(), nil
		}
		return nil, wrong("a text in quotes")
	case float64:
		if x, ok := number(v); ok {
			return x, nil
		}
		return nil, wrong("a number")
	case int:
		if i, ok := v.(starlark.Int); ok {
			if n, fits := i.Int64(); fits && n == int64(int(n)) {
				return int(n), nil
			}
		}
		return nil, wrong("a whole number")
	case bool:
		if b, ok := v.(starlark.Bool); ok {
			return bool(b), nil
		}
		return nil, wrong("True or False")
	case record.Day:
		d, err := dayOf(v)
		if err != nil {
			return nil, wrong("a date such as \"2025-03-01\"")
		}
		return d, nil
	}
	return nil, fmt.Errorf("%s: option %s is of a type that cells cannot give", s.Name, name)
}

// result is what an analysis found, or the part of it that is about one bird.
type result struct {
	spec   analysis.Spec
	found  analysis.Result
	flock  *flockValue
	engine *Engine
	bird   string // Bird.ID; "" for the whole
}

var _ starlark.HasAttrs = (*result)(nil)

func resultMethods() []method[*result] {
	return []method[*result]{
		{Entry{Name: "of", Args: "(bird)", Doc: "The part of the result that is about one bird: its claims, its rows of the tables, its figures.",
			Example: "growth(flock).of(flock.birds[0].bird).claims"}, ofBird},
	}
}

func ofBird(t *starlark.Thread, r *result, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var about starlark.Value
	if err := starlark.UnpackArgs("of", args, kwargs, "bird", &about); err != nil {
		return nil, err
	}
	b, ok := about.(*bird)
	if !ok {
		found, err := flockBird(t, r.flock, starlark.Tuple{about}, nil)
		if err != nil {
			return nil, err
		}
		b = found.(*bird)
	}
	part := *r
	part.bird = b.ID
	return &part, nil
}

func (r *result) claims() []analysis.Claim {
	all := r.found.Claims()
	if r.bird == "" {
		return all
	}
	var own []analysis.Claim
	for _, c := range all {
		if c.Subject.Bird == r.bird {
			own = append(own, c)
		}
	}
	return own
}

// tables are the tables of the result; of one bird, the rows whose column bird names it.
func (r *result) tables() []analysis.Table {
	all := r.found.Tables()
	if r.bird == "" {
		return all
	}
	b, _ := r.flock.data.Bird(r.bird)
	var own []analysis.Table
	for _, t := range all {
		at := slices.IndexFunc(t.Columns, func(c analysis.Column) bool { return c.Name == "bird" })
		if at < 0 {
			continue
		}
		t.Rows = slices.DeleteFunc(slices.Clone(t.Rows), func(row []any) bool { return row[at] != r.bird && row[at] != b.Label() })
		if len(t.Rows) > 0 {
			own = append(own, t)
		}
	}
	return own
}

// cautions are what comes with the result wherever it is shown, also where it is shown of one bird.
func (r *result) cautions() render.Blocks {
	if with, ok := r.found.(analysis.Cautioned); ok {
		return render.CautionsOf(with.Cautions())
	}
	return nil
}

func (r *result) figures() []plots.Figure {
	switch o := r.engine.options; {
	case r.bird == "" && o.Figures != nil:
		return o.Figures(r.found)
	case r.bird != "" && o.BirdFigures != nil:
		return o.BirdFigures(r.found, r.bird)
	}
	return nil
}

// Attr implements starlark.HasAttrs.
func (r *result) Attr(name string) (starlark.Value, error) {
	switch name {
	case "claims":
		var list []starlark.Value
		for _, c := range r.claims() {
			list = append(list, &claim{c, r.flock})
		}
		return starlark.NewList(list), nil
	case "tables":
		var list []starlark.Value
		for _, t := range r.tables() {
			f, err := frame.FromTable(t)
			if err != nil {
				return nil, err
			}
			list = append(list, &table{f})
		}
		return starlark.NewList(list), nil
	case "figures":
		var list []starlark.Value
		for _, f := range r.figures() {
			list = append(list, figure{f})
		}
		return starlark.NewList(list), nil
	case "cautions":
		var list []starlark.Value
		for _, c := range r.cautions() {
			list = append(list, block{c})
		}
		return starlark.NewList(list), nil
	case "name":
		return starlark.String(r.spec.Name), nil
	case "title":
		return starlark.String(r.spec.Title), nil
	}
	for _, t := range r.tables() {
		if t.Name == name {
			f, err := frame.FromTable(t)
			return &table{f}, err
		}
	}
	if m, ok := find(resultMethods(), name); ok {
		return m.bound(r), nil
	}
	return nil, nil
}

// AttrNames implements starlark.HasAttrs.
func (r *result) AttrNames() []string {
	list := []string{"cautions", "claims", "figures", "name", "of", "tables", "title"}
	for _, t := range r.tables() {
		list = append(list, t.Name)
	}
	return list
}

// String implements starlark.Value.
func (r *result) String() string {
	return fmt.Sprintf("%s: %d claims, %d tables", r.spec.Title, len(r.claims()), len(r.tables()))
}

// Type implements starlark.Value.
func (r *result) Type() string { return r.spec.Name + "_result" }

// Freeze implements starlark.Value.
func (*result) Freeze() {}

// Truth implements starlark.Value.
func (*result) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (*result) Hash() (uint32, error) { return 0, errors.New("a result cannot be a key") }

package cell

import (
	"errors"
	"fmt"
	"strings"

	"go.starlark.net/starlark"
	"go.starlark.net/starlarkstruct"

	"keelmark/analysis"
	"keelmark/analysis/frame"
	"keelmark/ingest/record"
	"keelmark/notebooks/render"
)

// flockValue is a flock in a cell: its records as tables, and what its settings say.
type flockValue struct {
	data    *record.Dataset
	context analysis.Context
	tables  map[string]*frame.Frame // made once asked for

	evidence render.Look // made once asked for
}

var _ starlark.HasAttrs = (*flockValue)(nil)

func newFlock(d *record.Dataset, c analysis.Context) *flockValue {
	return &flockValue{data: d, context: c, tables: map[string]*frame.Frame{}}
}

// flockTables are the tables of a flock, in the order of the manual.
func flockTables() []struct {
	name, doc string
	of        func(*record.Dataset) *frame.Frame
} {
	return []struct {
		name, doc string
		of        func(*record.Dataset) *frame.Frame
	}{
		{"birds", "One row a bird.", frame.Birds},
		{"weights", "One row a weighing, in grams.", frame.Weights},
		{"observations", "One row a look at a trait: weights, scores, parasites, eggs.", func(d *record.Dataset) *frame.Frame { return frame.Observations(d) }},
		{"events", "One row an event: hatchings, moves, treatments, shows, deaths.", frame.Events},
		{"questions", "The cells that only the keeper can settle.", frame.Questions},
		{"rejects", "The cells that could not become a record, with the reason.", frame.Rejects},
	}
}

func flockMethods() []method[*flockValue] {
	list := []method[*flockValue]{
		{Entry{Name: "bird", Args: "(key)", Doc: "One bird by its ring, name or other spelling: .id, .label, .ring, .name, .sex, .breed, .size, .line, .pen, .hatched, .weights.",
			Example: "flock.bird(flock.birds[0].bird).label"}, flockBird},
		{Entry{Name: "only", Args: "(table)", Doc: "The same flock with only the observations that the rows of a table came from, to analyse a part of it.",
			Example: "flock.only(flock.weights.where(sex = \"F\"))"}, only},
	}
	for _, t := range flockTables() {
		list = append(list, method[*flockValue]{Entry: Entry{Name: t.name, Doc: t.doc, Example: "flock." + t.name + ".head(3)"}})
	}
	for _, e := range []Entry{
		{Name: "name", Doc: "The flock's name."},
		{Name: "today", Doc: "The day of the report."},
		{Name: "files", Doc: "The files that were read, with what became of each and what was decided for it."},
		{Name: "settings", Doc: "What flock.toml says: .flock, .show, .units."},
	} {
		e.Example = "flock." + e.Name
		list = append(list, method[*flockValue]{Entry: e})
	}
	return list
}

func flockBird(_ *starlark.Thread, f *flockValue, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var key string
	if err := starlark.UnpackArgs("bird", args, kwargs, "key", &key); err != nil {
		return nil, err
	}
	b, ok := f.data.Bird(key)
	if !ok {
		var known []string
		for _, b := range f.data.Birds {
			known = append(known, b.ID, b.Name)
		}
		if near := Nearest(key, known); near != "" {
			return nil, fmt.Errorf("no single bird is known as %q; did you mean %q?", key, near)
		}
		return nil, fmt.Errorf("no single bird is known as %q; flock.birds lists them", key)
	}
	return &bird{Bird: b, flock: f}, nil
}

func only(_ *starlark.Thread, f *flockValue, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var t *table
	if err := starlark.UnpackArgs("only", args, kwargs, "table", &t); err != nil {
		return nil, err
	}
	wanted := map[record.Ref]bool{}
	for _, at := range t.Refs() {
		wanted[at] = true
	}
	part := *f.data
	part.Observations = nil
	for _, o := range f.data.Observations {
		if wanted[o.At] {
			part.Observations = append(part.Observations, o)
		}
	}
	return newFlock(&part, f.context), nil
}

// Attr implements starlark.HasAttrs.
func (f *flockValue) Attr(name string) (starlark.Value, error) {
	for _, t := range flockTables() {
		if t.name == name {
			if f.tables[name] == nil {
				f.tables[name] = t.of(f.data)
			}
			return &table{f.tables[name]}, nil
		}
	}
	switch name {
	case "name":
		return starlark.String(f.name()), nil
	case "today":
		return date(f.context.Today), nil
	case "files":
		return f.files()
	case "settings":
		return settings(f.data.Settings), nil
	}
	if m, ok := find(flockMethods(), name); ok && m.fn != nil {
		return m.bound(f), nil
	}
	return nil, nil
}

func (f *flockValue) name() string {
	if f.data.Settings.Flock.Name != "" {
		return f.data.Settings.Flock.Name
	}
	return f.data.Name
}

func (f *flockValue) files() (starlark.Value, error) {
	n := len(f.data.Files)
	name, outcome, reason, notes := make([]string, n), make([]string, n), make([]string, n), make([]string, n)
	for i, file := range f.data.Files {
		name[i], outcome[i], reason[i], notes[i] = file.Name, string(file.Outcome), file.Reason, strings.Join(file.Notes, "; ")
	}
	t, err := frame.New([]frame.Column{frame.Texts("file", name), frame.Texts("outcome", outcome), frame.Texts("reason", reason), frame.Texts("notes", notes)}, nil)
	return &table{t}, err
}

func textOrNone(s string) starlark.Value {
	if s == "" {
		return starlark.None
	}
	return starlark.String(s)
}

// dateValue is a date in a cell: a date where the very day is known, else the text as far as it is known.
func dateValue(d record.Date) starlark.Value {
	if d.Exact() {
		return date(d.First)
	}
	return textOrNone(d.String())
}

func settings(s record.Settings) starlark.Value {
	part := func(name string, fields starlark.StringDict) starlark.Value {
		return starlarkstruct.FromStringDict(starlark.String(name), fields)
	}
	return part("settings", starlark.StringDict{
		"flock": part("flock", starlark.StringDict{"name": textOrNone(s.Flock.Name), "code": textOrNone(s.Flock.Code), "country": textOrNone(s.Flock.Country),
			"hemisphere": textOrNone(s.Flock.Hemisphere), "breed": textOrNone(s.Flock.Breed), "size": textOrNone(string(s.Flock.Size)),
			"standard": textOrNone(s.Flock.Standard), "units": textOrNone(s.Flock.Units)}),
		"show": part("show", starlark.StringDict{"name": textOrNone(s.Show.Name), "date": dateValue(s.Show.Date),
			"class_rule": textOrNone(s.Show.ClassRule), "paper": textOrNone(s.Show.Paper)}),
		"units": part("units", starlark.StringDict{"weight": textOrNone(s.Units.Weight), "age": textOrNone(s.Units.Age)}),
	})
}

// AttrNames implements starlark.HasAttrs.
func (f *flockValue) AttrNames() []string { return names(flockMethods()) }

// String implements starlark.Value.
func (f *flockValue) String() string {
	return fmt.Sprintf("flock %s: %d birds, %d observations, %d events, %d questions open, %d cells refused",
		f.name(), len(f.data.Birds), len(f.data.Observations), len(f.data.Events), len(f.data.Questions), len(f.data.Rejects))
}

// Type implements starlark.Value.
func (*flockValue) Type() string { return "flock" }

// Freeze implements starlark.Value.
func (*flockValue) Freeze() {}

// Truth implements starlark.Value.
func (*flockValue) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (*flockValue) Hash() (uint32, error) { return 0, errors.New("a flock cannot be a key") }

// bird is one bird in a cell.
type bird struct {
	record.Bird
	flock *flockValue
}

var _ starlark.HasAttrs = (*bird)(nil)

// Attr implements starlark.HasAttrs.
func (b *bird) Attr(name string) (starlark.Value, error) {
	switch name {
	case "id":
		return starlark.String(b.ID), nil
	case "label":
		return starlark.String(b.Label()), nil
	case "ring":
		return textOrNone(b.Ring), nil
	case "name":
		return textOrNone(b.Name), nil
	case "sex":
		return textOrNone(string(b.Sex)), nil
	case "breed":
		return textOrNone(b.Breed), nil
	case "variety":
		return textOrNone(b.Variety), nil
	case "size":
		return textOrNone(string(b.Size)), nil
	case "line":
		return textOrNone(b.Line), nil
	case "pen":
		return textOrNone(b.Pen), nil
	case "hatched":
		return dateValue(b.Hatched), nil
	case "weights", "observations", "events":
		all, err := b.flock.Attr(name)
		if err != nil {
			return nil, err
		}
		f, err := all.(*table).Where(frame.Equals("bird", b.ID))
		return &table{f}, err
	}
	return nil, nil
}

// AttrNames implements starlark.HasAttrs.
func (b *bird) AttrNames() []string {
	return []string{"id", "label", "ring", "name", "sex", "breed", "variety", "size", "line", "pen", "hatched", "weights", "observations", "events"}
}

// String implements starlark.Value.
func (b *bird) String() string { return "bird " + b.Label() }

// Type implements starlark.Value.
func (*bird) Type() string { return "bird" }

// Freeze implements starlark.Value.
func (*bird) Freeze() {}

// Truth implements starlark.Value.
func (*bird) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (b *bird) Hash() (uint32, error) { return starlark.String(b.ID).Hash() }

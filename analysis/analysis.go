// Package analysis holds the shapes that every analysis shares: Spec and Define, by which an analysis is
// known to the command line, the notebook and the help from one declaration, and Claim, Estimate and Table,
// in which it answers.
//
// An analysis works on a *record.Dataset in memory. It opens no file, asks no clock (today is a field of
// Context), logs nothing, and gives no verdict: it answers with claims, and where the data are too few with
// a refusal that names the cheapest next observation.
package analysis

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"keelmark/ingest/record"
)

// Context is what an analysis knows beside the records of the flock.
type Context struct {
	Today     record.Day
	Standards []record.PublishedWeight
	Settings  record.Settings
}

// Result is what an analysis found. The concrete types carry more; these are what every caller can show.
type Result interface {
	Claims() []Claim
	Tables() []Table
}

// Param describes one option of an analysis.
type Param struct {
	Name    string
	Doc     string
	Unit    string // "" where it has none
	Default any    // string, float64, int, bool or record.Day
}

// Spec is an analysis as the rest of the house sees it. Make one with Define.
type Spec struct {
	Name   string // one word, lower case: the command and the notebook function
	Title  string // one line
	Doc    string // plain text: what it answers, what it needs, its method and "Source:"
	Params []Param
	run    func(context.Context, Context, *record.Dataset, any) (Result, error)
	fresh  func() any
}

// Define declares an analysis. Options is a struct whose exported fields carry tags `name:"ring"
// doc:"ring of one bird"` and, where they have one, `unit:"d"`; fields are string, float64, int, bool or
// record.Day. The value passed is the default.
func Define[O any, R Result](name, title, doc string, defaults O,
	run func(context.Context, Context, *record.Dataset, O) (R, error)) Spec {
	return Spec{
		Name: name, Title: title, Doc: doc, Params: params(defaults),
		fresh: func() any { o := defaults; return &o },
		run: func(ctx context.Context, c Context, d *record.Dataset, options any) (Result, error) {
			r, err := run(ctx, c, d, *options.(*O))
			if err != nil {
				return nil, err // a typed nil must not hide behind the interface
			}
			return r, nil
		},
	}
}

// Run runs the analysis with its defaults changed by options, keyed by parameter name. An unknown name or a
// value of the wrong type is an error that lists what there is.
func (s Spec) Run(ctx context.Context, c Context, d *record.Dataset, options map[string]any) (Result, error) {
	o := s.fresh()
	for name, value := range options {
		if err := s.set(o, name, value); err != nil {
			return nil, err
		}
	}
	return s.run(ctx, c, d, o)
}

var wellFormed = regexp.MustCompile(`^[a-z][a-z_]*$`)

// Validate reports what a Spec lacks: a well-formed name, a title, documentation with a "Source:" line, and
// documented options.
func (s Spec) Validate() error {
	var errs []error
	if !wellFormed.MatchString(s.Name) {
		errs = append(errs, fmt.Errorf("analysis name %q: use lower-case letters and _", s.Name))
	}
	if s.Title == "" || strings.Contains(s.Title, "\n") {
		errs = append(errs, fmt.Errorf("analysis %s: the title must be one line", s.Name))
	}
	if !strings.Contains(s.Doc, "Source:") {
		errs = append(errs, fmt.Errorf("analysis %s: the doc has no \"Source:\" line", s.Name))
	}
	for _, p := range s.Params {
		if !wellFormed.MatchString(p.Name) || p.Doc == "" {
			errs = append(errs, fmt.Errorf("analysis %s: option %q needs a name and a doc tag", s.Name, p.Name))
		}
	}
	return errors.Join(errs...)
}

func params(defaults any) []Param {
	v := reflect.ValueOf(defaults)
	var out []Param
	for i := range v.NumField() {
		f := v.Type().Field(i)
		out = append(out, Param{
			Name: f.Tag.Get("name"), Doc: f.Tag.Get("doc"), Unit: f.Tag.Get("unit"),
			Default: v.Field(i).Interface(),
		})
	}
	return out
}

func (s Spec) set(options any, name string, value any) error {
	v := reflect.ValueOf(options).Elem()
	var known []string
	for i := range v.NumField() {
		tag := v.Type().Field(i).Tag.Get("name")
		known = append(known, tag)
		if tag != name {
			continue
		}
		in, field := reflect.ValueOf(value), v.Field(i)
		if !in.IsValid() {
			return fmt.Errorf("%s: option %s has no value", s.Name, name)
		}
		switch {
		case in.Type() == field.Type():
		case field.Kind() == reflect.Float64 && in.Kind() == reflect.Int:
			in = in.Convert(field.Type())
		default:
			return fmt.Errorf("%s: option %s takes %s, not %v", s.Name, name, kindName(field), value)
		}
		field.Set(in)
		return nil
	}
	return fmt.Errorf("%s has no option %q; it has: %s", s.Name, name, strings.Join(known, ", "))
}

func kindName(v reflect.Value) string {
	if v.Type() == reflect.TypeFor[record.Day]() {
		return "a date such as 2025-03-01"
	}
	switch v.Kind() {
	case reflect.Float64:
		return "a number"
	case reflect.Int:
		return "a whole number"
	case reflect.Bool:
		return "true or false"
	}
	return "a text"
}

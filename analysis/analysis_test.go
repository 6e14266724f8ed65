package analysis

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

type answer struct{ ring string }

func (answer) Claims() []Claim { return nil }
func (answer) Tables() []Table { return nil }

type options struct {
	Ring  string     `name:"ring" doc:"ring of one bird"`
	UpTo  float64    `name:"up_to_age" unit:"d" doc:"use weighings up to this age"`
	Least int        `name:"least" doc:"fewest weighings"`
	From  record.Day `name:"from" doc:"first day to use"`
	Full  bool       `name:"full" doc:"show all rows"`
}

func spec() Spec {
	return Define("growth", "A curve for each bird", "Fits a curve.\n\nSource: invented for this test.",
		options{UpTo: 365, Least: 5},
		func(_ context.Context, _ Context, _ *record.Dataset, o options) (*answer, error) {
			if o.Least < 1 {
				return nil, errors.New("least must be 1 or more")
			}
			if o.UpTo != 365 || o.From != 0 || o.Full {
				return &answer{"changed"}, nil
			}
			return &answer{o.Ring}, nil
		})
}

func TestOptionsAreSetByNameAndChecked(t *testing.T) {
	s := spec()
	if err := s.Validate(); err != nil {
		t.Error(err)
	}
	run := func(o map[string]any) (Result, error) {
		return s.Run(context.Background(), Context{}, &record.Dataset{}, o)
	}
	r, err := run(map[string]any{"ring": "R12"})
	if err != nil || r.(*answer).ring != "R12" {
		t.Errorf("ring: %v %v", r, err)
	}
	if r, err := run(map[string]any{"up_to_age": 100}); err != nil || r.(*answer).ring != "changed" {
		t.Errorf("a whole number for a number: %v %v", r, err)
	}
	if r, _ := run(nil); r.(*answer).ring != "" {
		t.Error("the options of an earlier run were kept")
	}
	for name, bad := range map[string]map[string]any{
		`no option "rign"; it has: ring, up_to_age, least, from, full`: {"rign": "R12"},
		"takes a whole number, not 1.5":                                {"least": 1.5},
		"takes a text, not 12":                                         {"ring": 12},
		"takes a date such as 2025-03-01, not soon":                    {"from": "soon"},
		"takes true or false, not 1":                                   {"full": 1},
		"takes a number, not many":                                     {"up_to_age": "many"},
		"has no value":                                                 {"ring": nil},
		"least must be 1 or more":                                      {"least": 0},
	} {
		if r, err := run(bad); err == nil || !strings.Contains(err.Error(), name) || r != nil {
			t.Errorf("%v: %v, %v", bad, r, err)
		}
	}
}

func TestASpecMustBeWhole(t *testing.T) {
	type undocumented struct {
		A string `name:"a"`
	}
	bad := Define("Growth Curves", "two\nlines", "no origin", undocumented{},
		func(context.Context, Context, *record.Dataset, undocumented) (*answer, error) { return nil, nil })
	err := bad.Validate()
	for _, want := range []string{"lower-case", "one line", "Source:", `option "a"`} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q is missing from %v", want, err)
		}
	}
}

func TestAClaimIsWrittenWithItsCells(t *testing.T) {
	c := Claim{
		ID: "forecast.band/R12", Subject: Subject{Bird: "R12"}, Topic: "weight", Stands: For, Text: "about 640 g",
		Estimate: &Estimate{Value: 640, Low: math.Inf(-1), High: math.NaN(), Level: 0.9, Unit: "g"},
		N:        Counts{Records: 9, Birds: 1},
		RestsOn:  []record.Ref{{File: "weights.xlsx", Sheet: "2026", Row: 14, Col: 4}},
	}
	got, err := json.Marshal(c)
	want := `{"id":"forecast.band/R12","subject":{"bird":"R12"},"topic":"weight","stands":"for","text":"about 640 g",` +
		`"value":640,"unit":"g","level":0.9,"n":{"records":9,"birds":1},"rests_on":["weights.xlsx!2026!D14"]}`
	if err != nil || string(got) != want {
		t.Errorf("got  %s\nwant %s\n%v", got, want, err)
	}
	empty, err := json.Marshal(Claim{})
	if err != nil || !strings.Contains(string(empty), `"rests_on":[]`) {
		t.Errorf("a claim without cells: %s %v", empty, err)
	}
}

func TestCellsAreListedOnceAndInOrder(t *testing.T) {
	at := func(row int32) record.Ref { return record.Ref{File: "a.csv", Row: row, Col: 1} }
	refs := Refs([]record.Observation{
		{At: at(3), More: &record.Detail{Also: []record.Ref{at(2)}}}, {At: at(1)}, {At: at(3)},
	})
	if len(refs) != 3 || refs[0] != at(1) || refs[1] != at(2) || refs[2] != at(3) {
		t.Errorf("refs %v", refs)
	}
}

func TestWeightsPrintInTheKeepersUnits(t *testing.T) {
	for _, c := range []struct {
		grams float64
		want  string
	}{{14.2, "½ oz"}, {453.59237, "1 lb"}, {737, "1 lb 10 oz"}, {1021, "2 lb 4 oz"}, {980, "2 lb 2½ oz"}, {4082, "9 lb"}} {
		if got := PoundsOz.Weight(c.grams); got != c.want {
			t.Errorf("%v g is %q, want %q", c.grams, got, c.want)
		}
	}
	if got := Grams.About(643.2) + ", " + Grams.AboutRange(598.7, 2343); got != "645 g, 600 to 2340 g" {
		t.Error(got)
	}
}

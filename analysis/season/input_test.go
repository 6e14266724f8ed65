package season

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// The rule of the design: bad input leads to a sentence, never to a crash or a p-value.
func TestBadInputIsToldInASentence(t *testing.T) {
	steady := func(found func(i int) int) []Round {
		var out []Round
		for i := range 39 {
			out = append(out, Round{On: newYear(2020) + record.Day(28*i), Looked: 10, Found: found(i)})
		}
		return out
	}
	cases := map[string]struct {
		data func() *record.Dataset
		want string // in the claim on recurrence, its caveats or the counted sentence
	}{
		"nothing":    {func() *record.Dataset { return &record.Dataset{Name: "Home"} }, "no dated look is recorded"},
		"one check":  {func() *record.Dataset { return recorded(steady(func(int) int { return 3 })[:1], 10, record.Lice) }, "all clear looks are of one day"},
		"all found":  {func() *record.Dataset { return recorded(steady(func(int) int { return 10 }), 10, record.Lice) }, "something was found at every look"},
		"none found": {func() *record.Dataset { return recorded(steady(func(int) int { return 0 }), 10, record.Lice) }, "none were found on any of 39 days"},
		"two checks": {func() *record.Dataset { return recorded(steady(func(i int) int { return i })[:2], 10, record.Lice) }, "no year is usable"},
		"unknown scale": {func() *record.Dataset {
			d := recorded(nil, 10, record.Lice)
			for i := range 39 {
				d.Observations = append(d.Observations, record.Observation{Bird: id(i % 10), On: record.On(newYear(2020) + record.Day(28*i)), Trait: record.Parasite, Parasite: record.Lice,
					Form: record.LessThan, Hi: 5, Text: "<5", At: record.Ref{File: "a.csv", Row: int32(i + 2), Col: 2}})
			}
			return d
		}, "no look gives a clear answer"},
		"looks before the hatch": {func() *record.Dataset {
			d := recorded(steady(func(i int) int { return i % 4 }), 10, record.Lice)
			for i := range d.Birds {
				d.Birds[i].Hatched = record.On(newYear(2021))
			}
			return d
		}, "dated before the bird hatched and left out"},
		"a pen renamed": {func() *record.Dataset {
			d := recorded(steady(func(i int) int { return i % 4 }), 10, record.Lice)
			for i := range d.Observations {
				o := &d.Observations[i]
				o.More = &record.Detail{Pen: "East"}
				if o.On.First >= newYear(2021)+100 {
					o.More = &record.Detail{Pen: "Old stable"}
				}
			}
			return d
		}, "if they were renamed"},
		"years only": {func() *record.Dataset {
			d := recorded(nil, 3, record.Lice)
			for y := range 5 {
				look(d, "R01", record.Lice, record.InYear(2018+y), y%2 == 0)
			}
			return d
		}, "left out"},
		"all in one month of each year": {func() *record.Dataset {
			var rs []Round
			for y := range 6 {
				rs = append(rs, Round{On: newYear(2018+y) + 200, Looked: 10, Found: y})
			}
			return recorded(rs, 10, record.Lice)
		}, "no year is usable"},
	}
	for name, c := range cases {
		r := result(t, c.data(), day(t, "2024-01-01"))
		var all []string
		for _, x := range r.Claims() {
			for _, slip := range x.Lint() {
				t.Errorf("%s, %s: %s in %q", name, x.ID, slip, x.Text)
			}
			all = append(all, x.Text)
			all = append(all, x.Caveats...)
			if strings.Contains(x.Text, "show a season") {
				t.Errorf("%s: %q", name, x.Text)
			}
			if e := x.Estimate; e != nil && (math.IsNaN(e.Value) || math.IsNaN(e.Low)) {
				t.Errorf("%s: %+v", name, e)
			}
		}
		text := strings.Join(all, "\n")
		if name == "all found" && (strings.Contains(text, "were not found") || !strings.Contains(text, "found on 39 of 39 days")) {
			t.Errorf("%s", text)
		}
		if !strings.Contains(text, c.want) {
			t.Errorf("%s: %q is missing from\n%s", name, c.want, text)
		}
		if _, err := json.Marshal(r.Claims()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, table := range r.Tables() {
			for _, row := range table.Rows {
				if len(row) != len(table.Columns) {
					t.Errorf("%s, table %s: a row of %d cells", name, table.Name, len(row))
				}
			}
		}
	}
}

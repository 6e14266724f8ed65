package plots

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/forecast"
	"keelmark/analysis/growth"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

func d(t *testing.T, iso string) record.Day {
	t.Helper()
	day, err := record.ParseDay(iso)
	if err != nil {
		t.Fatal(err)
	}
	return day
}

// flock is invented: ten pullets of one line weighed every four weeks, one of them without a hatch date and
// one never weighed; some looks for lice, one of them unclear, and one treatment.
func flock(t *testing.T) (analysis.Context, *record.Dataset) {
	hatched := d(t, "2025-03-01")
	data := &record.Dataset{Name: "Low Barn"}
	row := int32(1)
	at := func() record.Ref { row++; return record.Ref{File: "w.xlsx", Sheet: "2025", Row: row, Col: 4} }
	for i, name := range []string{"Žofie", "Łatka", "Ærø", "Pía", "Käthe", "Ōkubo", "Nguyệt", "Dot", "Dash", "Dab"} {
		b := record.Bird{ID: "R" + string(rune('A'+i)), Name: name, Sex: record.Female, Breed: "Sussex", Size: record.Large, Line: "Low Barn", Hatched: record.On(hatched)}
		b.Ring = b.ID
		if name == "Dab" {
			b.Hatched = record.Date{}
		}
		data.Birds = append(data.Birds, b)
		if name == "Dash" {
			continue
		}
		for k := range 8 {
			age := 14 + 26*k
			grams := math.Round((2700 + 60*float64(i)) * math.Exp(-4.2*math.Exp(-0.022*float64(age))) * (1 + 0.02*math.Sin(float64(7*i+3*k*k))))
			o := record.Observation{Bird: b.ID, On: record.On(hatched + record.Day(age)), Trait: record.Weight, Value: grams, At: at()}
			if b.Hatched.Known() {
				o.Age = record.AgeDays(age)
			}
			data.Observations = append(data.Observations, o)
		}
		for k, iso := range []string{"2025-07-01", "2025-09-03"} {
			o := record.Observation{Bird: b.ID, On: record.On(d(t, iso)), Trait: record.Parasite, Parasite: record.Lice, Form: record.Present, At: at()}
			if k == 1 && i%2 == 0 {
				o.Value = 1
			}
			data.Observations = append(data.Observations, o)
		}
	}
	data.Observations = append(data.Observations, record.Observation{Bird: "RA", On: record.On(d(t, "2025-10-01")), Trait: record.Parasite, Parasite: record.Lice,
		Form: record.LessThan, Hi: 5, Text: "<5", At: at()})
	data.Events = append(data.Events, record.Event{Kind: record.Treated, Scope: record.WholeFlock, On: record.On(d(t, "2025-09-05")), At: at(),
		Treatment: &record.Treatment{Product: "product as labelled", Against: "lice"}})
	c := analysis.Context{Today: d(t, "2025-10-15"), Standards: []record.PublishedWeight{{
		Breed: "Sussex", Size: record.Large, SizeText: "large", Country: "GB", Standard: "an invented standard", Edition: "not stated", Unit: "g",
		Weights: map[record.Class]record.WeightRange{record.Pullet: {Low: 2500, High: 3000, Printed: "2500-3000"}}, SourceKind: "club page", Source: "invented for this test",
	}}}
	c.Settings.Flock = record.FlockSettings{Name: "Low Barn", Country: "GB", Hemisphere: "north", Breed: "Sussex", Size: record.Large}
	c.Settings.Show = record.ShowSettings{Name: "Show", Date: record.On(d(t, "2025-11-08")), ClassRule: "birthday"}
	data.Settings = c.Settings
	return c, data
}

func TestForResults(t *testing.T) {
	c, data := flock(t)
	wants := map[string][]string{ // figures of the flock, then of RA, by the beginnings of their names
		"growth":   {"growth-line", "growth-birds", "growth-bird-RA"},
		"standard": {"standing", "standing-RA"},
		"forecast": {"forecast", "forecast-RA"},
		"parasite": {"calendar-lice", "looks-RA"},
	}
	for name, spec := range map[string]analysis.Spec{"growth": growth.Spec(), "standard": standard.Spec(), "forecast": forecast.Spec(), "parasite": parasite.Spec()} {
		r, err := spec.Run(context.Background(), c, data, nil)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		all := append(For(r), ForBird(r, "RA")...)
		var names []string
		for _, f := range all {
			if slices.Contains(names, f.Name) {
				t.Errorf("%s: two figures are named %s", name, f.Name)
			}
			names = append(names, f.Name)
			if err := f.Validate(); err != nil {
				t.Error(err)
			}
			if f.Title == "" || f.Caption == "" || strings.Contains(f.Alt+f.Caption, "NaN") {
				t.Errorf("%s: title %q, caption %q, alternative %q", f.Name, f.Title, f.Caption, f.Alt)
			}
			for _, word := range []string{"cull", "keep", "healthy", "best", "worst"} { // a figure gives no verdict
				if strings.Contains(strings.ToLower(f.Title+" "+f.Caption+" "+f.Alt), word) {
					t.Errorf("%s says %q: %s %s %s", f.Name, word, f.Title, f.Caption, f.Alt)
				}
			}
		}
		for _, want := range wants[name] {
			if !slices.ContainsFunc(names, func(n string) bool { return strings.HasPrefix(n, want) }) {
				t.Errorf("%s: no figure %s in %q", name, want, names)
			}
		}
		if f := ForBird(r, "nobody"); len(f) > 0 {
			t.Errorf("%s: a bird that is not there has figures", name)
		}
		if _, ok := GlyphFor(r, "RA"); ok != (name == "standard" || name == "forecast") {
			t.Errorf("%s: glyph %v", name, ok)
		}
	}
	if f := For(nil); f != nil {
		t.Error("nothing has a figure")
	}
}

// What the calendar of a flock shows is what the looks found: nothing seen in July, lice on 4 of 9 in September
// with a treatment, an unclear look in October that is not none, and nobody looked in August.
func TestCalendarOfLooks(t *testing.T) {
	c, data := flock(t)
	r, err := parasite.Spec().Run(context.Background(), c, data, nil)
	if err != nil {
		t.Fatal(err)
	}
	k := For(r)[0].Panel.(Calendar)
	cells := k.Rows[0].Cells
	for month, want := range map[int]CalendarCell{
		7: {Looked: true, Text: "0/9"}, 8: {}, 9: {Looked: true, Grade: 2, Text: "4/9", Treated: true}, 10: {Looked: true, Unclear: true, Text: "?"},
	} {
		if cells[month-1] != want {
			t.Errorf("month %d: %+v, want %+v", month, cells[month-1], want)
		}
	}
	own := ForBird(r, "RA")[0].Panel.(Calendar)
	want := []CalendarCell{{Looked: true, Text: "none"}, {Looked: true, Grade: 2, Text: "found"}, {Treated: true}, {Looked: true, Unclear: true, Text: "?"}}
	if !slices.Equal(own.Rows[0].Cells, want) {
		t.Errorf("looks at RA: %+v", own.Rows[0].Cells)
	}
}

// A bird without a class or a weighing keeps its row and says what is missing.
func TestMissingIsSaid(t *testing.T) {
	c, data := flock(t)
	r, err := standard.Spec().Run(context.Background(), c, data, nil)
	if err != nil {
		t.Fatal(err)
	}
	rows := For(r)[0].Panel.(Weights).Rows
	if len(rows) != 11 { // Dab has no hatch date and stands in two classes
		t.Fatalf("%d rows for 10 birds", len(rows))
	}
	for _, row := range rows {
		missing := strings.HasSuffix(row.Label, "Dash") || strings.HasPrefix(row.Class, "hen")
		if missing != (row.Missing != "") {
			t.Errorf("%s: missing %q", row.Label, row.Missing)
		}
		if !missing && (row.StdLow != 2500 || row.StdHigh != 3000 || row.Low >= row.Value || row.High <= row.Value) {
			t.Errorf("%s: %+v", row.Label, row)
		}
	}
}

// A curve is drawn no further than it is told.
func TestCurveEndsWhereItIsTold(t *testing.T) {
	c, data := flock(t)
	r, err := growth.Curves(context.Background(), c, data, growth.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, curve := range r.Birds {
		figures := ForBird(r, curve.Key)
		if len(figures) == 0 {
			continue
		}
		g := figures[0].Panel.(Growth)
		_, last := curve.Ages()
		switch {
		case !curve.Fitted() && len(g.Curve) > 0:
			t.Errorf("%s has a curve that was not fitted", curve.Label)
		case curve.Fitted() && !curve.Told() && g.Curve[len(g.Curve)-1].Day > last:
			t.Errorf("%s: a curve that is not told goes beyond the weighings", curve.Label)
		case curve.Told() && g.Curve[len(g.Curve)-1].Day > last+growth.SolidDays+1e-9:
			t.Errorf("%s: drawn to day %g", curve.Label, g.Curve[len(g.Curve)-1].Day)
		}
	}
}

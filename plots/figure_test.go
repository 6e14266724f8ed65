package plots

import (
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"reflect"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"keelmark/analysis"
)

func TestFigureGoesToJSONAndBack(t *testing.T) {
	for _, f := range sampleFigures() {
		data, err := json.Marshal(f)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		var back Figure
		if err := json.Unmarshal(data, &back); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if !reflect.DeepEqual(f, back) {
			t.Errorf("%s changed on its way through JSON", f.Name)
		}
	}
	var f Figure
	if err := json.Unmarshal([]byte(`{"name":"x","kind":"dial","panel":{}}`), &f); err == nil {
		t.Error("an unknown kind of panel was read without an error")
	}
}

// A figure that would make the plotting library panic, or that would mislead, is refused with its name.
func TestValidate(t *testing.T) {
	ok := sampleFigures()[0]
	growth := func(change func(*Growth)) func(*Figure) {
		return func(f *Figure) {
			g := sampleGrowth("R1", 3000)
			change(&g)
			f.Panel = g
		}
	}
	calendar := func(c CalendarCell) func(*Figure) {
		return func(f *Figure) {
			f.Panel = Calendar{Columns: []string{"Jan"}, Rows: []CalendarRow{{Label: "2025", Cells: []CalendarCell{c}}}}
		}
	}
	weights := func(r WeightRow) func(*Figure) {
		return func(f *Figure) { f.Panel = Weights{Rows: []WeightRow{r}} }
	}
	for name, change := range map[string]func(*Figure){
		"no name":             func(f *Figure) { f.Name = " " },
		"no alternative text": func(f *Figure) { f.Alt = "" },
		"no width":            func(f *Figure) { f.Width = 0 },
		"a width of NaN":      func(f *Figure) { f.Width = math.NaN() },
		"no panel":            func(f *Figure) { f.Panel = nil },
		"empty growth":        func(f *Figure) { f.Panel = Growth{} },
		"NaN weight":          growth(func(g *Growth) { g.Weighings[0].Grams = math.NaN() }),
		"infinite day":        growth(func(g *Growth) { g.Weighings[0].Day = math.Inf(1) }),
		"negative weight":     growth(func(g *Growth) { g.Curve[3].Low = -1 }),
		"falling days":        growth(func(g *Growth) { g.Curve[3].Day = 0 }),
		"band beside curve":   growth(func(g *Growth) { g.Curve[3].Low = g.Curve[3].Grams + 1 }),
		"bad day 0":           growth(func(g *Growth) { g.Zero = "1 March" }),
		"dates without day 0": growth(func(g *Growth) { g.Zero, g.ByDate = "", true }),
		"unknown units":       growth(func(g *Growth) { g.Units = "stone" }),
		"standard unbounded":  growth(func(g *Growth) { g.Standards[0].Low, g.Standards[0].High = 0, 0 }),
		"no birds":            func(f *Figure) { f.Panel = Multiples{Columns: 3} },
		"no columns":          func(f *Figure) { f.Panel = Multiples{Birds: []Growth{sampleGrowth("R1", 3000)}} },
		"mixed units": func(f *Figure) {
			a, b := sampleGrowth("R1", 3000), sampleGrowth("R2", 3000)
			b.Units = analysis.PoundsOz
			f.Panel = Multiples{2, []Growth{a, b}}
		},
		"no rows":               func(f *Figure) { f.Panel = Weights{} },
		"weight without reason": weights(WeightRow{Label: "R1", StdLow: 1000, StdHigh: 1000}),
		"interval beside value": weights(WeightRow{Label: "R1", StdLow: 1000, StdHigh: 1000, Value: 900, Low: 950, High: 990}),
		"standard turned round": weights(WeightRow{Label: "R1", StdLow: 1100, StdHigh: 1000, Value: 900}),
		"finding without look":  calendar(CalendarCell{Grade: 2, Text: "3"}),
		"look without figure":   calendar(CalendarCell{Looked: true}),
		"grade off the ramp":    calendar(CalendarCell{Looked: true, Grade: 4, Text: "9"}),
		"short row": func(f *Figure) {
			f.Panel = Calendar{Columns: []string{"Jan", "Feb"}, Rows: []CalendarRow{{Label: "2025"}}}
		},
	} {
		f := ok
		change(&f)
		if err := f.Validate(); err == nil {
			t.Errorf("%s: was accepted", name)
		}
		if err := f.SVG(io.Discard, Print(), "x"); err == nil {
			t.Errorf("%s: was drawn", name)
		}
	}
	if err := ok.Validate(); err != nil {
		t.Error(err)
	}
}

func TestSVG(t *testing.T) {
	for _, f := range sampleFigures() {
		var b strings.Builder
		if err := f.SVG(&b, Print(), "fig-"+f.Name); err != nil {
			t.Fatal(err)
		}
		svg := b.String()
		if !strings.HasPrefix(svg, "<svg ") {
			t.Errorf("%s: starts with %q", f.Name, svg[:20])
		}
		ids := map[string]bool{}
		titles, descriptions := 0, 0
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
			start, ok := token.(xml.StartElement)
			if !ok {
				continue
			}
			switch start.Name.Local {
			case "title":
				titles++
			case "desc":
				descriptions++
			}
			for _, a := range start.Attr {
				if a.Name.Local == "id" {
					if ids[a.Value] || !strings.HasPrefix(a.Value, "fig-"+f.Name) {
						t.Errorf("%s: id %q twice or without its prefix", f.Name, a.Value)
					}
					ids[a.Value] = true
				}
				if strings.Contains(a.Value, "http") && a.Name.Local != "xmlns" {
					t.Errorf("%s: %s=%q", f.Name, a.Name.Local, a.Value)
				}
			}
		}
		if titles != 1 || descriptions != 1 || !strings.Contains(svg, `role="img"`) {
			t.Errorf("%s: %d titles, %d descriptions", f.Name, titles, descriptions)
		}
		if strings.Contains(svg, "font-family:Liberation Sans;") {
			t.Errorf("%s: an element has a font of its own that no page could override", f.Name)
		}
		var again strings.Builder
		if err := f.SVG(&again, Print(), "fig-"+f.Name); err != nil || again.String() != svg {
			t.Errorf("%s: two runs differ (%v)", f.Name, err)
		}
	}
}

// written returns every text that a figure draws.
func written(t *testing.T, f Figure) []string {
	t.Helper()
	var r recorder.Canvas
	w, h := f.Size()
	if err := f.Draw(draw.NewCanvas(&r, w, h), Print()); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, a := range r.Actions {
		if s, ok := a.(*recorder.FillString); ok {
			out = append(out, s.String)
		}
	}
	return out
}

func count(list []string, what string) int {
	n := 0
	for _, s := range list {
		if s == what {
			n++
		}
	}
	return n
}

// A cell that was not looked at is never drawn as zero: it has a dash, and a zero has its digit.
func TestCalendarTellsNotLookedFromZero(t *testing.T) {
	k := Calendar{Measure: "lice", RowHead: "year", Columns: []string{"Jan", "Feb", "Mar"}, Grades: [4]string{"none", "some"},
		Rows: []CalendarRow{{"2025", []CalendarCell{{Looked: true, Text: "0"}, {}, {Looked: true, Grade: 1, Text: "7", Treated: true}}}}}
	f := Figure{Name: "k", Alt: "a", Width: 100, Height: 30, Panel: k}
	texts := written(t, f)
	if count(texts, "0") != 1 || count(texts, "7") != 1 || count(texts, "–") != 2 { // one in the cell, one in the key
		t.Errorf("drawn: %q", texts)
	}
	for _, word := range []string{"not looked", "treated", "none", "some"} {
		if count(texts, word) != 1 {
			t.Errorf("the key does not say %q: %q", word, texts)
		}
	}
	row := f.DataTable().Rows[0]
	if want := []any{"2025", "0", "not looked", "7, treated"}; !reflect.DeepEqual(row, want) {
		t.Errorf("table row %v, want %v", row, want)
	}
}

func TestWeightsSaysTheNumbers(t *testing.T) {
	w := Weights{Level: 0.9, Rows: []WeightRow{
		{Label: "R1 Žofie", Class: "pullet", StdLow: 2800, StdHigh: 3200, Value: 2910, Low: 2750, High: 3050},
		{Label: "R2", StdLow: 1000, StdHigh: 1000, Value: 1000},
		{Label: "R3", Missing: "no weight published"},
	}}
	f := Figure{Name: "w", Alt: "a", Width: 180, Height: w.HeightFor(3), Panel: w}
	texts := written(t, f)
	// 2910 is 3 % below the middle of 2800 and 3200.
	for _, want := range []string{"R1 Žofie", "pullet", "2910 g", "−3 %", "1000 g", "no weight published", "−40 %", "+40 %"} {
		if count(texts, want) == 0 {
			t.Errorf("%q is not drawn: %q", want, texts)
		}
	}
	if got, want := w.Rows[0].Glyph("g", analysis.Grams, 0.9).Alt, "R1 Žofie: 2910 g (2750 to 3050 g in 90 of 100 cases), published range 2800 to 3200 g"; got != want {
		t.Errorf("the glyph says %q, want %q", got, want)
	}
}

func TestReference(t *testing.T) {
	for _, c := range []struct{ low, high, want float64 }{
		{2800, 3200, 3000}, {3600, 3600, 3600}, {0, 1000, 1000}, {2000, 0, 2000}, {0, 0, 0},
	} {
		if got := (WeightRow{StdLow: c.low, StdHigh: c.high}).Reference(); got != c.want {
			t.Errorf("reference of %g to %g is %g, want %g", c.low, c.high, got, c.want)
		}
	}
}

func TestDataTables(t *testing.T) {
	for _, f := range sampleFigures() {
		table := f.DataTable()
		if table.Name != f.Name || table.Caption == "" || len(table.Rows) == 0 {
			t.Errorf("%s: table %q, %q, %d rows", f.Name, table.Name, table.Caption, len(table.Rows))
		}
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Fatalf("%s: a row of %d cells for %d columns", f.Name, len(row), len(table.Columns))
			}
		}
	}
	rows := sampleGrowth("R12", 3000).Table().Rows
	if n := countRows(rows, "weighing"); n != 9 {
		t.Errorf("%d weighings in the table, want all 9", n)
	}
	if n := countRows(rows, "own curve"); n != 16 {
		t.Errorf("%d points of the curve in the table, want 16", n)
	}
	last := sampleGrowth("R12", 3000).Curve[57]
	if row := rows[9+15]; row[2] != last.Day || row[1] != "2025-12-11" || row[8] != "extrapolated" { // day 285 after 1 March
		t.Errorf("last row of the curve: %v", row)
	}
}

func countRows(rows [][]any, what string) int {
	n := 0
	for _, r := range rows {
		if r[0] == what {
			n++
		}
	}
	return n
}

// The curve is solid up to the last weighing, dashed beyond, and has no gap between the two.
func TestCurveIsSplitAtTheLastWeighing(t *testing.T) {
	g := Growth{Reliable: 15, Curve: []CurvePoint{{Day: 0, Grams: 100}, {Day: 10, Grams: 200}, {Day: 20, Grams: 300}}}
	at := func(d, grams float64) vg.Point { return vg.Point{X: vg.Length(d), Y: vg.Length(grams)} }
	solid, dashed := growthPlotter{g, Print()}.split(at)
	want := vg.Point{X: 15, Y: 250}
	if len(solid) != 3 || len(dashed) != 2 || solid[2] != want || dashed[0] != want {
		t.Errorf("solid %v, dashed %v", solid, dashed)
	}
}

// Any label goes through every writer without a panic, and the SVG stays well-formed.
func FuzzLabels(f *testing.F) {
	for _, s := range []string{"", "Žofie", "🐓 Henny", "日本", "مرحبا", "a\x00b\tc\n\nd", "\xff\xfe", "e\u0301\u0301", strings.Repeat("long ", 80), "\u202eRLO"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		g := sampleGrowth(s, 3000)
		g.Standards[0].Label, g.Show.Label, g.CurveName = s, s, s
		cell := CalendarCell{Looked: true, Text: s + "0", Mark: s, Treated: true}
		for _, p := range []Panel{
			Multiples{1, []Growth{g}},
			Weights{Rows: []WeightRow{{Label: s, Class: s, Missing: s + "?"}}},
			Calendar{Measure: s, RowHead: s, Columns: []string{s, s}, Rows: []CalendarRow{{s, []CalendarCell{cell, {}}}}, Grades: [4]string{s}},
		} {
			fig := Figure{Name: "x", Title: s, Alt: s + ".", Width: 60, Height: 50, Panel: p}
			var b strings.Builder
			if err := fig.SVG(&b, Print(), "x"); err != nil {
				t.Fatal(err)
			}
			d := xml.NewDecoder(strings.NewReader(b.String()))
			for {
				if _, err := d.Token(); err == io.EOF {
					break
				} else if err != nil {
					t.Fatalf("%q: %v", s, err)
				}
			}
			if err := fig.PNG(io.Discard, Print(), 20); err != nil {
				t.Fatal(err)
			}
		}
	})
}

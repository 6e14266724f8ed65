package standards

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"keelmark/datasets"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// The tables of these tests are invented.

func read(t testing.TB, text string) ([]record.PublishedWeight, error) {
	t.Helper()
	book, err := sheet.Open(context.Background(), "own.csv", strings.NewReader(text), int64(len(text)), sheet.Limits{})
	if err != nil {
		return nil, err
	}
	return Read(book)
}

func TestBothShapesGiveTheSameRows(t *testing.T) {
	for name, text := range map[string]string{
		"wide": "breed,size,unit,cock,hen,cockerel,pullet,standard,edition\n" +
			"Sussex,bantam,g,1100-1300,1000,1.0 kg max,800 min,Hill Club,2019\n",
		"wide, metric comma": "Breed;Size;cock (kg);Hen kg;cockerel (g);pullet (g);standard;edition\n" +
			"Sussex;Bantam;1,1-1,3;1,0;max 1000;min. 800;Hill Club;2019\n",
		"long": "breed,size,class,low,high,unit,standard,edition\n" +
			"Sussex,bantam,cock,1100,1300,g,Hill Club,2019\nSussex,bantam,hens,1000,1000,g,Hill Club,2019\n" +
			"Sussex,bantam,cockerel,,1000,g,Hill Club,2019\nSussex,bantam,pullet,800,,g,Hill Club,2019\n",
		"long, units beside": "breed\tsize\tclass\tweight\tstandard\tedition\n" +
			"Sussex\tbantam\tcock\t1.1–1.3 kg\tHill Club\t2019\nSussex\tbantam\then\t1 kg\tHill Club\t2019\n\n" +
			"Sussex\tbantam\tcockerel\t1 kg max\tHill Club\t2019\nSussex\tbantam\tpullet\t800 g min\tHill Club\t2019\n",
	} {
		rows, err := read(t, text)
		if err != nil || len(rows) != 1 {
			t.Errorf("%s: %v %v", name, rows, err)
			continue
		}
		w := rows[0]
		if w.Breed != "Sussex" || w.Size != record.Bantam || w.Standard != "Hill Club" || w.Edition != "2019" || w.SourceKind != record.OwnTable || w.Source != "own.csv, row 2" {
			t.Errorf("%s: %+v", name, w)
		}
		for c, want := range map[record.Class][2]float64{record.Cock: {1100, 1300}, record.Hen: {1000, 1000}, record.Cockerel: {0, 1000}, record.Pullet: {800, 0}} {
			if got := w.Weights[c]; math.Abs(got.Low-want[0]) > 1e-9 || math.Abs(got.High-want[1]) > 1e-9 || got.Printed == "" {
				t.Errorf("%s: %s is %+v, want %v", name, c, got, want)
			}
		}
	}
}

// 1 lb = 453.59237 g, 1 oz = 28.349523125 g (international pound of 1959).
func TestPoundsAndOunces(t *testing.T) {
	for _, c := range []struct {
		text, unit, figure string
		low, high          float64
	}{
		{"8", "lb", "8 lb", 3628.739, 3628.739},
		{"7-8", "lb-oz", "7 lb 8 oz", 3401.943, 3401.943},
		{"7-8", "lb", "7 to 8 lb", 3175.147, 3628.739},
		{"7-8 to 8-4", "lb-oz", "7 lb 8 oz to 8 lb 4 oz", 3401.943, 3742.137},
		{"26 oz", "", "26 oz", 737.088, 737.088},
		{"8 lb 8 oz", "", "8 lb 8 oz", 3855.535, 3855.535},
		{"2.0-2.5 kg", "", "2.0 to 2.5 kg", 2000, 2500},
		{"1.7 max", "kg", "1.7 kg at most", 0, 1700},
	} {
		rows, err := read(t, "breed,size,unit,hen\nWren,large,"+c.unit+","+c.text+"\n")
		if err != nil || len(rows) != 1 {
			t.Errorf("%s %s: %v", c.text, c.unit, err)
			continue
		}
		w := rows[0].Weights[record.Hen]
		if math.Abs(w.Low-c.low) > 0.01 || math.Abs(w.High-c.high) > 0.01 || rows[0].Figure(record.Hen) != c.figure {
			t.Errorf("%s %s: %+v %q", c.text, c.unit, w, rows[0].Figure(record.Hen))
		}
	}
}

// The shape of the table of published weights is taken as it stands.
func TestThePublishedTableIsTaken(t *testing.T) {
	breeds, err := datasets.Breeds()
	if err != nil {
		t.Fatal(err)
	}
	b := breeds[0]
	text := "breed,variety,size,country,standard,edition,unit,cock,hen,cockerel,pullet,source_kind,source,note\n" +
		fmt.Sprintf("%s,%s,%s,%s,%s,%s,%s,%s,%s,%s,%s,club page,\"a, b\",\n", b.Breed, b.Variety, b.SizeText, b.Country, b.Standard, b.Edition, b.Unit,
			b.Weights[record.Cock].Printed, b.Weights[record.Hen].Printed, b.Weights[record.Cockerel].Printed, b.Weights[record.Pullet].Printed)
	rows, err := read(t, text)
	if err != nil || len(rows) != 1 || rows[0].SourceKind != record.OwnTable || rows[0].Source != "own.csv, row 2 (a, b)" {
		t.Fatalf("%+v %v", rows, err)
	}
	for _, c := range record.Classes() {
		if got, want := rows[0].Weights[c], b.Weights[c]; math.Abs(got.Low-want.Low) > 1e-6 || math.Abs(got.High-want.High) > 1e-6 {
			t.Errorf("%s: %+v, want %+v", c, got, want)
		}
	}
}

func TestEveryBadRowIsNamedWithItsCure(t *testing.T) {
	wide := "breed,size,unit,cock,hen\n"
	for _, c := range []struct{ text, want string }{
		{wide + ",large,kg,3,2\n", "own.csv, row 2, column breed: is empty; write the breed"},
		{wide + "Wren,,kg,3,2\n", "row 2, column size: is empty; write large or bantam"},
		{wide + "Wren,tiny,kg,3,2\n", `"tiny" is no size; write large or bantam`},
		{wide + "Wren,large,stone,3,2\n", `row 2, column unit: "stone" is no unit; write g, kg, lb, oz or lb-oz`},
		{wide + "Wren,large,,3,2\n", `row 2, column cock: "3" has no unit`},
		{wide + "Wren,large,kg,,\n", "row 2: Wren has no weight for any class"},
		{wide + "Wren,large,kg,heavy,2\n", `row 2, column cock: "heavy" is no weight`},
		{wide + "Wren,large,kg,-3,2\n", `column cock: `},
		{wide + "Wren,large,kg,NaN,2\n", `"NaN" is no weight`},
		{wide + "Wren,large,kg,Inf,2\n", `"Inf" is no weight`},
		{wide + "Wren,large,kg,1e3,2\n", `column cock: `},
		{wide + "Wren,large,kg,0,2\n", `column cock: `},
		{wide + "Wren,large,kg,3500,2\n", `column cock: `},
		{wide + "Wren,large,g,3.5,2000\n", `column cock: `},
		{wide + "Wren,large,oz,3.5,90\n", `"3.5" is 99 g, less than any grown fowl weighs; check the unit`},
		{wide + "Wren,large,kg,4-3,2\n", "4 to 3 kg ends below where it begins"},
		{wide + "Wren,large,kg,1-6,2\n", "1 to 6 kg is wider than any standard's range"},
		{wide + "Wren,large,kg,=1+2,2\n", `column cock: `},
		{wide + "Wren,large,kg,3,2\nWren,large,kg,4,\n", "row 3: Wren large cock stands in row 2 as well"},
		{wide, "holds no weights; write a line of headings"},
		{"breed,size,unit,cock,weigth\nWren,large,kg,3,2\n", "row 1, column weigth: this heading is not known; known are breed, "},
		{"breed,size,cock,cock\nWren,large,3,2\n", `a second column of cock, beside "cock"; keep one`},
		{"size,unit,cock\nlarge,kg,3\n", "no heading says breed"},
		{"breed,unit,cock\nWren,kg,3\n", "no heading says size; add a column size"},
		{"breed,size,unit\nWren,large,kg\n", "no heading says whose weights these are"},
		{"breed,size,class,unit\nWren,large,cock,kg\n", "no heading says weight; beside class"},
		{"breed,size,class,cock,low\nWren,large,cock,3,2\n", "keep one of the two shapes"},
		{"breed,size,class,low,high,unit\nWren,large,rooster,3,4,kg\n", `row 2, column class: "rooster" is no class; write cock, hen, cockerel or pullet`},
		{"breed,size,class,low,high,unit\nWren,large,cock,4,3,kg\n", "4 to 3 kg ends below where it begins"},
		{"breed,size,class,low,weight,unit\nWren,large,cock,4,3,kg\n", "keep one of the two"},
		{"breed,size,class,high,unit\nWren,large,cock,x,kg\n", `"x" is no weight`},
		{"ring,date,weight g\nA1,2025-05-01,520\n", "column ring: this heading is not known"},
	} {
		rows, err := read(t, c.text)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v %v; want %q", c.text, rows, err, c.want)
		}
		if rows != nil {
			t.Errorf("%q: rows in spite of faults", c.text)
		}
	}
}

func TestAllFaultsComeAtOnceAndNotTooMany(t *testing.T) {
	_, err := read(t, "breed,size,unit,cock,hen\nWren,large,kg,x,y\n,large,kg,3,2\n")
	if faults, ok := err.(Faults); !ok || len(faults) != 3 {
		t.Errorf("%v", err)
	}
	_, err = read(t, "breed,size,unit,cock,hen\n"+strings.Repeat("Wren,large,kg,x,y\n", 300))
	if faults, ok := err.(Faults); !ok || len(faults) != mostFaults+1 || !strings.Contains(err.Error(), "and 580 more") {
		t.Errorf("%v", err)
	}
	_, err = read(t, "breed,size,unit,cock\n"+strings.Repeat(",,,\nWren,large,kg,3\n", mostRows))
	if err == nil || !strings.Contains(err.Error(), "at most 5000 rows") && !strings.Contains(err.Error(), "as well") {
		t.Errorf("%.200v", err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add("breed,size,unit,cock,hen\nWren,large,kg,3,2\n")
	f.Add("breed;size;class;low;high;unit\nWren;bantam;hen;1,0;1,2;kg\n")
	f.Add("breed,size,cock (lb-oz)\nWren,large,7-8 to 8-4\n")
	f.Add("\xff\xfeb\x00r\x00")
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := read(t, text)
		if (err == nil) == (len(rows) == 0) {
			t.Errorf("%d rows and %v", len(rows), err)
		}
		for _, w := range rows {
			for c, r := range w.Weights {
				if !(r.Low >= 0 && r.High >= 0 && r.Published() && r.Low < 9000 && r.High < 9000) || r.High > 0 && r.Low > r.High || r.Printed == "" {
					t.Errorf("%s: %+v", c, r)
				}
			}
		}
	})
}

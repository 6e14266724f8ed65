package workbook

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

func write(t *testing.T, sheets ...Sheet) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, sheets); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func open(t *testing.T, data []byte) *excelize.File {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// part returns one file of the package.
func part(t *testing.T, data []byte, name string) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func day(t *testing.T, s string) record.Day {
	t.Helper()
	d, err := record.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestCellsKeepTheirTypes(t *testing.T) {
	data := write(t, Sheet{Name: "Weights", Rows: [][]Cell{
		{Title("Weights of 2025", 4)},
		{},
		{Heading("ring"), Heading("date"), Heading("g"), Heading("shown")},
		{Text("007"), Date(day(t, "2025-03-01")), Number(1021.4, 0), Bool(true)},
		{Text("Žofie Nguyệt Ærø 🐓"), {}, Formula("SUM(C4:C4)", 1021.4, 1), Bool(false)},
		{Text("a\x00b"), Date(day(t, "1899-12-31")), Number(-0.5, 1)},
	}})
	f := open(t, data)
	for _, test := range []struct{ cell, raw, shown string }{
		{"A1", "Weights of 2025", "Weights of 2025"},
		{"A4", "007", "007"},
		// 45717 is the serial of 2025-03-01: 25569 days to 1970-01-01 and 20148 from there.
		{"B4", "45717", "2025-03-01"},
		{"C4", "1021.4", "1021"},
		{"D4", "1", "TRUE"},
		{"A5", "Žofie Nguyệt Ærø 🐓", "Žofie Nguyệt Ærø 🐓"},
		{"B5", "", ""},
		{"C5", "1021.4", "1021.4"},
		{"D5", "0", "FALSE"},
		{"A6", "a\ufffdb", "a\ufffdb"},
		{"B6", "1899-12-31", "1899-12-31"},
		{"C6", "-0.5", "-0.5"},
	} {
		raw, err := f.GetCellValue("Weights", test.cell, excelize.Options{RawCellValue: true})
		if err != nil || raw != test.raw {
			t.Errorf("%s is stored as %q, %v; want %q", test.cell, raw, err, test.raw)
		}
		if shown, err := f.GetCellValue("Weights", test.cell); err != nil || shown != test.shown {
			t.Errorf("%s shows %q, %v; want %q", test.cell, shown, err, test.shown)
		}
	}
	if got, _ := f.GetCellFormula("Weights", "C5"); got != "SUM(C4:C4)" {
		t.Errorf("C5 holds the formula %q", got)
	}
	merged, err := f.GetMergeCells("Weights")
	if err != nil || len(merged) != 1 || merged[0].GetStartAxis() != "A1" || merged[0].GetEndAxis() != "D1" {
		t.Errorf("merged %v, %v; want A1:D1", merged, err)
	}
	// A cached number must not be typed as text, or readers take it for a word.
	if xml := part(t, data, "xl/worksheets/sheet1.xml"); !strings.Contains(xml, "<f>SUM(C4:C4)</f><v>1021.4</v>") || strings.Contains(xml, `t="str"`) {
		t.Errorf("the formula's value is not stored as a number: %s", xml)
	}
}

func TestTextNeverRuns(t *testing.T) {
	dangerous := []string{
		"=1+1", "+1", "-1", "@SUM(A1)", "=cmd|' /C calc'!A0", "\t=1", "\r=1", "\n=1", " =1", "'=1", "\"=1\"",
		"＝1+1", "＋1", "－1", "＠x", "|calc", "=HYPERLINK(\"x\")", "++", "-",
	}
	var rows [][]Cell
	for _, s := range dangerous {
		rows = append(rows, []Cell{Text(s), Heading(s), Title(s, 1), Text(s).Bold().Shaded()})
	}
	data := write(t, Sheet{Name: "x", Rows: rows}, Table("t", "=title", []string{"=h"}, rows))
	for _, sheet := range []string{"xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"} {
		if xml := part(t, data, sheet); strings.Contains(xml, "<f") {
			t.Errorf("%s holds a formula", sheet)
		}
	}
	f := open(t, data)
	for i, s := range dangerous {
		for j := range 4 {
			at, _ := excelize.CoordinatesToCellName(j+1, i+1)
			got, err := f.GetCellValue("x", at)
			// XML reads a bare carriage return as a line feed.
			if err != nil || strings.ReplaceAll(got, "\r", "\n") != strings.ReplaceAll(s, "\r", "\n") {
				t.Errorf("%s: %q came back as %q, %v", at, s, got, err)
			}
			id, err := f.GetCellStyle("x", at)
			if err != nil {
				t.Fatal(err)
			}
			if q := f.Styles.CellXfs.Xf[id].QuotePrefix; q == nil || !*q {
				t.Errorf("%s: %q is not marked as text", at, s)
			}
		}
	}
	// Plain text carries no mark, in whatever order the two looks come.
	f = open(t, write(t, Sheet{Name: "x", Rows: [][]Cell{{Text("=1").Bold(), Text("plain").Bold()}}}))
	id, _ := f.GetCellStyle("x", "B1")
	if q := f.Styles.CellXfs.Xf[id].QuotePrefix; q != nil && *q {
		t.Error("plain text is marked like dangerous text")
	}
	if id == 0 {
		t.Error("plain bold text has lost its look")
	}
}

func TestSameSheetsSameBytes(t *testing.T) {
	sheets := func() []Sheet {
		return []Sheet{
			Table("Weights", "Weights", []string{"ring", "g"}, [][]Cell{{Text("R1"), Number(612, 0)}, {Text("=1"), Date(20148)}}),
			{Name: "Other", Rows: [][]Cell{{Text("a").Struck(), Text("b").Italic().Centred()}}},
		}
	}
	first := write(t, sheets()...)
	for range 5 {
		if !bytes.Equal(first, write(t, sheets()...)) {
			t.Fatal("the same sheets gave other bytes")
		}
	}
	z, err := zip.NewReader(bytes.NewReader(first), int64(len(first)))
	if err != nil {
		t.Fatal(err)
	}
	if z.File[0].Name != "[Content_Types].xml" {
		t.Errorf("the first entry is %s", z.File[0].Name)
	}
	for _, e := range z.File {
		if y := e.Modified.UTC().Year(); y != 1980 {
			t.Errorf("%s carries the year %d", e.Name, y)
		}
	}
	if props := part(t, first, "docProps/core.xml"); !strings.Contains(props, "2000-01-01") || strings.Contains(props, "xuri") {
		t.Errorf("document properties: %s", props)
	}
}

func TestSheetNames(t *testing.T) {
	long := strings.Repeat("Ž", 40)
	var sheets []Sheet
	for _, n := range []string{"a/b:c", "A b c", "", "'quoted'", long, long, "History", strings.Repeat("🐓", 20)} {
		sheets = append(sheets, Sheet{Name: n})
	}
	want := []string{
		"a b c", "A b c 2", "sheet 3", "quoted", strings.Repeat("Ž", 31), strings.Repeat("Ž", 29) + " 2",
		"History sheet 7", strings.Repeat("🐓", 15), // two UTF-16 units each
	}
	got := open(t, write(t, sheets...)).GetSheetList()
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("sheet %d is named %q, want %q", i+1, got[i], want[i])
		}
	}
}

func TestErrorsNameThePlace(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		err := Write(io.Discard, []Sheet{{Name: "Weights", Rows: [][]Cell{{}, {{}, Number(v, 0)}}}})
		if err == nil || !strings.Contains(err.Error(), "sheet Weights: B2") {
			t.Errorf("%v: error %v does not name the place", v, err)
		}
	}
	if err := Write(io.Discard, nil); err == nil {
		t.Error("a workbook without sheets was written")
	}
}

func TestLongTextIsCutVisibly(t *testing.T) {
	f := open(t, write(t, Sheet{Name: "x", Rows: [][]Cell{{Text(strings.Repeat("ž", 40000)), Text(strings.Repeat("ž", 32767))}}}))
	got, _ := f.GetCellValue("x", "A1")
	if n := utf8.RuneCountInString(got); n != 32767 || !strings.HasSuffix(got, "[cut]") {
		t.Errorf("%d characters, ending in %q", n, got[len(got)-8:])
	}
	if got, _ := f.GetCellValue("x", "B1"); utf8.RuneCountInString(got) != 32767 || strings.HasSuffix(got, "[cut]") {
		t.Error("the longest text that fits was cut")
	}
}

func TestTableKeepsHeadingsInView(t *testing.T) {
	f := open(t, write(t, Table("T", "Title", []string{"ring", "a rather long heading"}, [][]Cell{{Text("R1"), Number(1, 0)}})))
	panes, err := f.GetPanes("T")
	if err != nil || !panes.Freeze || panes.YSplit != 3 {
		t.Errorf("panes %+v, %v; want 3 frozen rows", panes, err)
	}
	if w, _ := f.GetColWidth("T", "B"); w < 22 {
		t.Errorf("column B is %v wide, its heading needs 22", w)
	}
	if v, _ := f.GetCellValue("T", "A4"); v != "R1" {
		t.Errorf("A4 holds %q", v)
	}
}

// FuzzText: any text comes back as itself, never as a formula.
func FuzzText(f *testing.F) {
	for _, s := range []string{"=1", "Žofie", "_x0041_", "a\x01b", "<b>&amp;", "\xff", " lead", "\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		data := write(t, Sheet{Name: s, Rows: [][]Cell{{Text(s), Heading(s)}}})
		if strings.Contains(part(t, data, "xl/worksheets/sheet1.xml"), "<f") {
			t.Fatalf("%q became a formula", s)
		}
		book := open(t, data)
		got, err := book.GetCellValue(book.GetSheetName(0), "A1")
		if err != nil {
			t.Fatal(err)
		}
		if want := storable(s); got != want {
			t.Errorf("%q came back as %q, want %q", s, got, want)
		}
	})
}

// storable is s with what XML cannot hold replaced (XML 1.0, production Char) and line ends as XML reads them.
func storable(s string) string {
	s = string([]rune(s)) // each byte that is not UTF-8
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r' || r >= 0x20 && r <= 0xD7FF || r >= 0xE000 && r <= 0xFFFD || r >= 0x10000:
			return r
		}
		return '\ufffd'
	}, s)
}

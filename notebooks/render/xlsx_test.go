package render

import (
	"archive/zip"
	"bytes"
	"io"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/plots"
)

// An invented report: a table with a ring of zeros and a name that would run, a page each of two birds, a curve.
func TestTheReportAsAWorkbook(t *testing.T) {
	curve := plots.Figure{Name: "growth-R1", Title: "Weight of 007", Alt: "a curve", Width: 100, Height: 50, Panel: plots.Growth{Zero: "2025-06-01",
		Weighings: []plots.Weighing{{Day: 14, Grams: 100}, {Day: 28, Grams: 210}}, Curve: []plots.CurvePoint{{Day: 14, Grams: 102}, {Day: 28, Grams: 205}}}}
	looks := func(text string) Table {
		return Table{Columns: []Column{{Head: "date"}, {Head: "looks"}}, Rows: [][]Cell{{{Text: "2025-11-01"}, {Text: text}}}}
	}
	d := Document{Title: "Before the show: =cmd", Running: "w.csv", Blocks: Blocks{
		Caution{Topic: "withdrawal", Title: "Caution: Withdrawal", Lines: []string{"unknown - do not assume none"}},
		Table{Caption: "One line a bird", Columns: []Column{{Head: "ring", RowHead: true}, {Head: "weight", Unit: "g", Align: Right}, {Head: "weighed"}},
			Rows: [][]Cell{{{Text: "007"}, {Text: "1020"}, {Text: "2025-11-01"}}, {{Text: "@SUM(1+1)"}, {Text: "–"}, {Text: "–"}}}},
		Group{Blocks{Heading{Text: "007"}, looks("lice: none"), Claims{Claims: []Claim{{ID: "a", Topic: "weight", Stands: analysis.For, Text: "About 1000 g (900 to 1100 g).", N: analysis.Counts{Records: 2}}}}}},
		Group{Blocks{Heading{Text: "008"}, looks("mites: found"), Figure{curve}}},
	}}
	var first, second bytes.Buffer
	if err := d.XLSX(&first); err != nil {
		t.Fatal(err)
	}
	if err := d.XLSX(&second); err != nil || !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Errorf("two runs differ: %v", err)
	}
	parts := unzipped(t, first.Bytes())
	// in the order in which they are written: read first, sentences, the table, the looks of all pages, the curves
	for part, wants := range map[string][]string{
		"xl/workbook.xml":          {`name="Read first"`, `name="Sentences"`, `name="One line a bird"`, `name="looks"`, `name="Weighings and curves"`},
		"xl/worksheets/sheet1.xml": {"unknown - do not assume none", "=cmd"},
		"xl/worksheets/sheet2.xml": {"About 1000 g (900 to 1100 g).", "speaks for"},
		"xl/worksheets/sheet3.xml": {">007</t>", "<v>1020</v>", ">@SUM(1+1)</t>"},
		"xl/worksheets/sheet4.xml": {">007</t>", ">008</t>", "lice: none", "mites: found"},
		"xl/worksheets/sheet5.xml": {"<v>100</v>", "<v>205</v>", "drawing"},
		"xl/charts/chart1.xml":     {"&#39;Weighings and curves&#39;!$D$3:$D$4", "&#39;Weighings and curves&#39;!$D$5:$D$6", "Weight of 007"},
	} {
		for _, want := range wants {
			if !strings.Contains(parts[part], want) {
				t.Errorf("%s lacks %q", part, want)
			}
		}
	}
	for part, text := range parts {
		if strings.HasPrefix(part, "xl/worksheets/sheet") && strings.Contains(text, "<f>") {
			t.Errorf("%s holds a formula", part)
		}
	}
	if _, more := parts["xl/charts/chart2.xml"]; more {
		t.Error("a chart too many")
	}
}

func unzipped(t *testing.T, file []byte) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out[f.Name] = string(data)
	}
	return out
}

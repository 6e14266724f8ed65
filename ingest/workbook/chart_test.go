package workbook_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/workbook"
)

func TestChartsPointAtTheirCells(t *testing.T) {
	s := workbook.Table("It's weights", "", []string{"day", "weight"}, [][]workbook.Cell{{workbook.Number(1, 0), workbook.Number(100, 0)}, {workbook.Number(8, 0), workbook.Number(180, 0)}})
	s.Charts = []workbook.Chart{{Title: "=cmd", YTitle: "g", Row: 1, Col: 4, Series: []workbook.Series{{X: 1, Y: 2, First: 2, Last: 3, NameRow: 1, NameCol: 2, Line: true}}}}
	var b, again bytes.Buffer
	if err := workbook.Write(&b, []workbook.Sheet{s}); err != nil {
		t.Fatal(err)
	}
	if err := workbook.Write(&again, []workbook.Sheet{s}); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("two runs differ: %v", err)
	}
	f, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	part, ok := f.Pkg.Load("xl/charts/chart1.xml")
	if !ok {
		t.Fatal("no chart")
	}
	for _, want := range []string{`&#39;It&#39;&#39;s weights&#39;!$B$2:$B$3`, "$A$2:$A$3", "=cmd"} {
		if text := string(part.([]byte)); !strings.Contains(text, want) && !strings.Contains(text, strings.ReplaceAll(want, "&#39;", "'")) {
			t.Errorf("the chart lacks %s", want)
		}
	}
	if sheet, ok := f.Pkg.Load("xl/worksheets/sheet1.xml"); !ok || !strings.Contains(string(sheet.([]byte)), "<drawing ") {
		t.Error("the sheet does not show its chart")
	}
	if v, err := f.GetCellValue("It's weights", "B3"); err != nil || v != "180" {
		t.Errorf("the cells of a sheet with a chart: %q, %v", v, err)
	}
}

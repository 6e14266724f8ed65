package sheet

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

const benchRows = 100_000

// longTable is a workbook of 100,000 rows of ring, date, age, weight, condition and note; shared texts or not.
func longTable(b *testing.B, shared bool) []byte {
	var rows, texts strings.Builder
	text := func(at, s string, n int) string {
		if shared {
			return fmt.Sprintf(`<c r="%s" t="s"><v>%d</v></c>`, at, n)
		}
		return fmt.Sprintf(`<c r="%s" t="inlineStr"><is><t>%s</t></is></c>`, at, s)
	}
	for i := range 2000 {
		fmt.Fprintf(&texts, `<si><t>R%05d</t></si>`, i)
	}
	texts.WriteString(`<si><t>ok</t></si>`)
	rows.WriteString(`<sheetData>`)
	for i := range benchRows {
		n := i + 1
		fmt.Fprintf(&rows, `<row r="%d">%s<c r="B%d" s="1"><v>%d</v></c><c r="C%d"><v>%d</v></c><c r="D%d"><v>%d</v></c><c r="E%d"><v>%d</v></c>%s</row>`, n,
			text(fmt.Sprint("A", n), fmt.Sprintf("R%05d", i%2000), i%2000), n, 44927+i%900, n, i%900, n, 800+i*7919%60, n, i%4, text(fmt.Sprint("F", n), "ok", 2000))
	}
	rows.WriteString(`</sheetData>`)
	return xlsx(b, rows.String(), part{"xl/sharedStrings.xml", `<sst ` + mainNS + `>` + texts.String() + `</sst>`})
}

func benchmarkOpen(b *testing.B, name string, data []byte, rows int) {
	b.ReportAllocs()
	for b.Loop() {
		book, err := Open(context.Background(), name, bytes.NewReader(data), int64(len(data)), Limits{})
		if err != nil || len(book.Grids[0].Rows) != rows {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkXLSX(b *testing.B)       { benchmarkOpen(b, "a.xlsx", longTable(b, false), benchRows) }
func BenchmarkXLSXShared(b *testing.B) { benchmarkOpen(b, "a.xlsx", longTable(b, true), benchRows) }

// BenchmarkExcelizeRows is the measure to compare with: excelize's row stream, text only.
func BenchmarkExcelizeRows(b *testing.B) {
	data := longTable(b, false)
	b.ReportAllocs()
	for b.Loop() {
		f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true})
		if err != nil {
			b.Fatal(err)
		}
		rows, err := f.Rows("A")
		if err != nil {
			b.Fatal(err)
		}
		n := 0
		for rows.Next() {
			if _, err := rows.Columns(excelize.Options{RawCellValue: true}); err != nil {
				b.Fatal(err)
			}
			n++
		}
		if n != benchRows || rows.Close() != nil || f.Close() != nil {
			b.Fatal(n)
		}
	}
}

func BenchmarkCSV(b *testing.B) {
	var text strings.Builder
	for i := range 5 * benchRows {
		fmt.Fprintf(&text, "R%05d,2025-03-%02d,%d,%d,%d,ok\n", i%2000, 1+i%28, i%900, 800+i*7919%60, i%4)
	}
	benchmarkOpen(b, "a.csv", []byte(text.String()), 5*benchRows)
}

func BenchmarkODS(b *testing.B) {
	var rows strings.Builder
	rows.WriteString(`<table:table table:name="A">`)
	for i := range benchRows {
		fmt.Fprintf(&rows, `<table:table-row><table:table-cell office:value-type="string" calcext:value-type="string"><text:p>R%05d</text:p></table:table-cell>`+
			`<table:table-cell office:value-type="date" office:date-value="2025-03-%02d" calcext:value-type="date"><text:p>x</text:p></table:table-cell>`, i%2000, 1+i%28)
		for _, v := range []int{i % 900, 800 + i*7919%60, i % 4} {
			fmt.Fprintf(&rows, `<table:table-cell office:value-type="float" office:value="%d" calcext:value-type="float"><text:p>%d</text:p></table:table-cell>`, v, v)
		}
		rows.WriteString(`<table:table-cell office:value-type="string" calcext:value-type="string"><text:p>ok</text:p></table:table-cell></table:table-row>`)
	}
	rows.WriteString(`</table:table>`)
	benchmarkOpen(b, "a.ods", ods(b, "", rows.String()), benchRows)
}

package sheet

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// A workbook as a spreadsheet program writes it, with everything that a keeper uses as data.
func TestWorkbook(t *testing.T) {
	f := excelize.NewFile()
	do := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	style := func(s *excelize.Style) int {
		id, err := f.NewStyle(s)
		do(err)
		return id
	}
	kg, elapsed := `0.00" kg"`, `[h]:mm`
	dated, own := style(&excelize.Style{NumFmt: 14}), style(&excelize.Style{CustomNumFmt: &kg})
	percent, gone := style(&excelize.Style{NumFmt: 10}), style(&excelize.Style{Font: &excelize.Font{Strike: true}})
	hours := style(&excelize.Style{CustomNumFmt: &elapsed})
	for at, v := range map[string]any{"A1": "Ring", "M2": "=cmd|' /C calc'!A0", "C1": "Two\nLines", "A2": "007", "B2": 45717, "C2": 1.1, "D2": 0.25, "E2": true,
		"F2": "gone", "G2": 965.0, "H2": 1.5, "A4": " edge "} {
		do(f.SetCellValue("Sheet1", at, v))
	}
	do(f.SetCellFormula("Sheet1", "I2", "G2*2"))
	for at, id := range map[string]int{"B2": dated, "C2": own, "D2": percent, "F2": gone, "H2": hours, "J2": gone} {
		do(f.SetCellStyle("Sheet1", at, at, id))
	}
	do(f.SetCellRichText("Sheet1", "K2", []excelize.RichTextRun{{Text: "R12", Font: &excelize.Font{Strike: true}}, {Text: " R13"}}))
	do(f.SetCellRichText("Sheet1", "L2", []excelize.RichTextRun{{Text: "R12", Font: &excelize.Font{Strike: true}}}))
	do(f.AddComment("Sheet1", excelize.Comment{Cell: "A2", Author: "Jo", Text: "Jo:\nwet when weighed"}))
	do(f.AddComment("Sheet1", excelize.Comment{Cell: "C7", Author: "Jo", Text: "nothing here"}))
	do(f.SetRowVisible("Sheet1", 4, false))
	do(f.SetColVisible("Sheet1", "C:D", false))
	do(f.MergeCell("Sheet1", "A1", "B1"))
	do(f.MergeCell("Sheet1", "D4", "P30"))
	do(f.MergeCell("Sheet1", "A8", "B9"))
	_, err := f.NewSheet("old 2019")
	do(err)
	do(f.SetCellValue("old 2019", "B3", "x"))
	do(f.SetSheetVisible("old 2019", false))
	yes := true
	do(f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
	var buf bytes.Buffer
	do(f.Write(&buf))

	b := mustOpen(t, "a.xlsx", buf.Bytes())
	if len(b.Grids) != 2 || b.Grids[0].Hidden || !b.Grids[1].Hidden || b.Grids[1].Sheet != "old 2019" || !b.Grids[0].Date1904 {
		t.Fatalf("sheets: %+v", b.Grids)
	}
	g := b.Grids[0]
	checkCells(t, g, map[string]Cell{
		"A1": {Raw: "Ring", Kind: Text},
		"M2": {Raw: "=cmd|' /C calc'!A0", Kind: Text},
		"C1": {Raw: "Two\nLines", Kind: Text},
		"A2": {Raw: "007", Kind: Text, Comment: "wet when weighed"},
		"B2": {Raw: "45717", Kind: Date, Format: "mm-dd-yy"},
		"C2": {Raw: "1.1", Kind: Number, Format: `0.00" kg"`},
		"D2": {Raw: "0.25", Kind: Percent, Format: "0.00%"},
		"E2": {Raw: "1", Kind: Bool},
		"F2": {Raw: "gone", Kind: Text, Struck: true},
		"G2": {Raw: "965", Kind: Number},
		"H2": {Raw: "1.5", Kind: Date, Format: "[h]:mm"},
		"I2": {Formula: true},
		"J2": {},
		"K2": {Raw: "R12 R13", Kind: Text},
		"L2": {Raw: "R12", Kind: Text, Struck: true},
		"A4": {Raw: " edge ", Kind: Text},
		"C7": {Comment: "nothing here"},
	})
	if !reflect.DeepEqual(g.HiddenCols, []int32{3, 4}) {
		t.Errorf("hidden columns: %v", g.HiddenCols)
	}
	if want := []Span{{1, 1, 1, 2}, {4, 4, 4, 13}}; !reflect.DeepEqual(g.Merged, want) {
		t.Errorf("merged: %v, want %v", g.Merged, want)
	}
	var rows []int32
	for _, r := range g.Rows {
		rows = append(rows, r.N)
		if r.Hidden != (r.N == 4) {
			t.Errorf("row %d hidden: %v", r.N, r.Hidden)
		}
	}
	if !reflect.DeepEqual(rows, []int32{1, 2, 4, 7}) {
		t.Errorf("rows: %v", rows)
	}
}

func firstGrid(t *testing.T, inSheet string, more ...part) Grid {
	t.Helper()
	return mustOpen(t, "a.xlsx", xlsx(t, inSheet, more...)).Grids[0]
}

// Cells as other programs than the usual ones write them.
func TestCells(t *testing.T) {
	g := firstGrid(t, `<dimension ref="A1:XFD1048576"/><sheetData>
		<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="C1"><v>1.1000000000000001</v></c><c r="D1"><v>1.23456789012E+11</v></c><c r="E1"><v>-0.5</v></c></row>
		<row><c><v>1</v></c><c t="inlineStr"><is><t>Z&#x6f;&#235; &amp; <![CDATA[<b>]]></t><rPh sb="0" eb="1"><t>no</t></rPh></is></c><c r="E2" s="1"><v>45717</v></c></row>
		<row r="4"><c r="C4" t="str"><f>A1</f><v>x</v></c><c r="A4" t="str"><f>""</f><v></v></c><c r="B4"><f>1+1</f></c><c r="D4" t="e"><f>1/0</f><v>#DIV/0!</v></c><c r="E4" t="b"><v>0</v></c><c r="F4" t="b"><f>TRUE()</f><v>1</v></c></row>
		<row r="6"><c r="A6" t="d" s="1"><v>2025-03-01T00:00:00</v></c><c r="B6" t="d"><v>2025-03-01T07:30:00Z</v></c><c r="C6"><v>abc</v></c><c r="D6" s="2"><v>0.5</v></c><c r="E6" s="2"/><c r="F6"><v> 7 </v></c><c r="G6" t="inlineStr"><is><t>_x005F_x0041__x0042__x000D_</t></is></c></row>
		<row r="8" hidden="1"><c r="A8" s="1"/><c r="B8" t="s"></c></row>
	</sheetData>`)
	checkCells(t, g, map[string]Cell{
		"A1": {Raw: "Tansy", Kind: Text},
		"B1": {Raw: "Old Rook", Kind: Text, Struck: true},
		"C1": {Raw: "1.1", Kind: Number},
		"D1": {Raw: "123456789012", Kind: Number},
		"E1": {Raw: "-0.5", Kind: Number},
		"A2": {Raw: "1", Kind: Number},
		"B2": {Raw: "Zoë & <b>", Kind: Text},
		"E2": {Raw: "45717", Kind: Date, Format: "mm-dd-yy"},
		"A4": {Kind: Text, Formula: true},
		"B4": {Formula: true},
		"C4": {Raw: "x", Kind: Text, Formula: true},
		"D4": {Raw: "#DIV/0!", Kind: Error, Formula: true},
		"E4": {Raw: "0", Kind: Bool},
		"F4": {Raw: "1", Kind: Bool},
		"A6": {Raw: "2025-03-01", Kind: Date, Format: "mm-dd-yy"},
		"B6": {Raw: "2025-03-01T07:30:00", Kind: Date},
		"C6": {Raw: "abc", Kind: Text},
		"D6": {Raw: "0.5", Kind: Percent, Format: "0%", Struck: true},
		"F6": {Raw: "7", Kind: Number},
		"G6": {Raw: "_x0041_B\r", Kind: Text},
	})
	if n := len(g.Rows); n != 4 || g.Rows[3].N != 6 {
		t.Errorf("%d rows, the last %d: rows of blanks are to be left out", n, g.Rows[n-1].N)
	}
}

func TestRowsOutOfOrder(t *testing.T) {
	g := firstGrid(t, `<sheetData><row r="9"><c r="A9"><v>9</v></c></row><row r="2"><c r="B2"><v>2</v></c><c r="A2"><v>1</v></c></row></sheetData>`)
	if len(g.Rows) != 2 || g.Rows[0].N != 2 || g.Rows[0].Cells[0].Raw != "1" || g.Rows[1].N != 9 {
		t.Errorf("%+v", g.Rows)
	}
}

// The strict form of the standard has other namespaces, and dates as ISO text.
// Source: ECMA-376 part 1, annex A.
func TestStrictWorkbook(t *testing.T) {
	strict := strings.NewReplacer("http://schemas.openxmlformats.org/spreadsheetml/2006/main", "http://purl.oclc.org/ooxml/spreadsheetml/main",
		"http://schemas.openxmlformats.org/officeDocument/2006/relationships", "http://purl.oclc.org/ooxml/officeDocument/relationships")
	parts := xlsxParts(`<sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="d" s="1"><v>2025-03-01</v></c></row></sheetData>`)
	for i := range parts {
		parts[i].body = strict.Replace(parts[i].body)
	}
	g := mustOpen(t, "a.xlsx", zipped(t, parts...)).Grids[0]
	checkCells(t, g, map[string]Cell{"A1": {Raw: "Tansy", Kind: Text}, "B1": {Raw: "2025-03-01", Kind: Date, Format: "mm-dd-yy"}})
}

// Some programs write every element with a prefix, names with backslashes, or parts in UTF-16.
func TestUnusualWriters(t *testing.T) {
	prefixed := `<x:worksheet xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><x:sheetData><x:row r="1"><x:c r="A1" t="inlineStr"><x:is><x:t>a</x:t></x:is></x:c></x:row></x:sheetData></x:worksheet>`
	utf16 := "\xff\xfe"
	for _, c := range []byte(`<?xml version="1.0" encoding="UTF-16"?><worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>a</t></is></c></row></sheetData></worksheet>`) {
		utf16 += string([]byte{c, 0})
	}
	latin := `<?xml version="1.0" encoding="ISO-8859-1"?><worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>a</t></is></c></row></sheetData></worksheet>`
	for _, body := range []string{prefixed, utf16, latin, "\xef\xbb\xbf" + prefixed} {
		g := firstGrid(t, "", part{"xl/worksheets/sheet1.xml", body})
		checkCells(t, g, map[string]Cell{"A1": {Raw: "a", Kind: Text}})
	}
	parts := xlsxParts(`<sheetData><row r="1"><c r="A1"><v>5</v></c></row></sheetData>`)
	for i := range parts {
		parts[i].name = strings.ReplaceAll(parts[i].name, "/", `\`)
	}
	checkCells(t, mustOpen(t, "a.xlsx", zipped(t, parts...)).Grids[0], map[string]Cell{"A1": {Raw: "5", Kind: Number}})
}

func TestSheetsWithoutCells(t *testing.T) {
	rels := strings.Replace(bookRels, "</Relationships>", `<Relationship Id="r9" Type="`+relKind+`chartsheet" Target="chartsheets/sheet1.xml"/>`+
		`<Relationship Id="r8" Type="`+relKind+`externalLink" Target="externalLinks/externalLink1.xml"/></Relationships>`, 1)
	book := strings.Replace(bookXML, "<sheets>", `<sheets><sheet name="Chart" sheetId="2" r:id="r9"/>`, 1)
	b := mustOpen(t, "a.xlsx", xlsx(t, `<sheetData/>`, part{"xl/_rels/workbook.xml.rels", rels}, part{"xl/workbook.xml", book}))
	if notes := strings.Join(b.Notes, "\n"); len(b.Grids) != 1 || !strings.Contains(notes, "Chart") || !strings.Contains(notes, "other workbooks") {
		t.Errorf("%d sheets, notes %q", len(b.Grids), b.Notes)
	}
}

func TestLostStyles(t *testing.T) {
	cells := `<sheetData><row r="1"><c r="A1" s="7"><v>45717</v></c></row></sheetData>`
	unstyled := strings.Replace(bookRels, "styles.xml", "none.xml", 1)
	unstyled = strings.Replace(unstyled, relKind+"styles", relKind+"other", 1)
	for _, more := range []part{{"xl/_rels/workbook.xml.rels", unstyled}, {"xl/styles.xml", stylesXML}} {
		b := mustOpen(t, "a.xlsx", xlsx(t, cells, more))
		if len(b.Notes) == 0 || !strings.Contains(b.Notes[0], "styles") {
			t.Errorf("dates may be lost and no note says it: %q", b.Notes)
		}
	}
}

// Expected kinds by reading each code as a spreadsheet program's manual explains it.
func TestKindOf(t *testing.T) {
	for code, want := range map[string]Kind{
		"General": Number, "0": Number, "0.00": Number, "#,##0": Number, `0.0" kg"`: Number, `0\ \g`: Number, `0 "days"`: Number, "@": Number, "": Number,
		"# ?/?": Number, "0.00E+00": Number, `[Red]0`: Number, `_-* #,##0_-`: Number, `General" g"`: Number, `"dd/mm/yy"`: Number,
		"0%": Percent, "0.0 %": Percent, `0"%"`: Number,
		"dd/mm/yyyy": Date, "d-mmm": Date, "mmm-yy": Date, "h:mm AM/PM": Date, "[h]:mm": Date, "[mm]:ss": Date, "mm:ss.0": Date, "[$-809]dd mmmm yyyy;@": Date, `yyyy"年"m"月"`: Date, `[$-F800]dddd\,\ mmmm\ dd\,\ yyyy`: Date,
		"[": Number, `"`: Number, `\`: Number,
	} {
		if got := kindOf(code); got != want {
			t.Errorf("%q: %d, want %d", code, got, want)
		}
	}
}

func TestPlainNumber(t *testing.T) {
	for in, want := range map[string]string{"1": "1", "-2.50": "-2.50", "1.1000000000000001": "1.1", "0.30000000000000004": "0.30000000000000004",
		"1.23E+11": "123000000000", "1E-3": "0.001", "1E+300": "1e+300", "12345678901234567": "12345678901234568", "+5": "5", ".5": ".5"} {
		if got, ok := plainNumber([]byte(in)); !ok || string(got) != want {
			t.Errorf("%q: %q, %v; want %q", in, got, ok, want)
		}
	}
	for _, in := range []string{"", "abc", "1,5", "NaN", "Inf", "1E999", "-", ".", "1.2.3", "0x1p4"} {
		if got, ok := plainNumber([]byte(in)); ok {
			t.Errorf("%q passes as the number %q", in, got)
		}
	}
}

func TestCommentText(t *testing.T) {
	for _, c := range []struct{ author, in, want string }{
		{"Jo", "Jo:\nwet", "wet"}, {"", "wet", "wet"}, {"Jo", "Joan has it", "Joan has it"},
		{"tc={1}", "[Threaded comment]\n\nYour version of the program allows you to read this.\n\nComment:\n    moulting", "moulting"},
	} {
		if got := commentText(c.author, c.in); got != c.want {
			t.Errorf("%q: %q, want %q", c.in, got, c.want)
		}
	}
}

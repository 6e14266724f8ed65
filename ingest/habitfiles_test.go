package ingest

import (
	"archive/zip"
	"bytes"
	"fmt"
	"html"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"keelmark/ingest/settings"
)

// drawnODS is an OpenDocument workbook of tabs, drawn as drawnXLSX draws them; of the signs it knows "#" for numbers, "@" for
// dates, "%" for percentages and "?" for yes and no.
func drawnODS(t testing.TB, tabs ...tab) []byte {
	t.Helper()
	var body strings.Builder
	for _, tb := range tabs {
		fmt.Fprintf(&body, `<table:table table:name="%s">`, html.EscapeString(tb.name))
		for r, line := range strings.Split(tb.rows, "\n") {
			row := "<table:table-row>"
			if slices.Contains(tb.hide, r+1) {
				row = `<table:table-row table:visibility="collapse">`
			}
			body.WriteString(row)
			for _, text := range strings.Split(line, "|") {
				body.WriteString(odsCell(text))
			}
			body.WriteString("</table:table-row>")
		}
		body.WriteString("</table:table>")
	}
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	for _, part := range [][2]string{{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"},
		{"content.xml", `<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>` +
			body.String() + `</office:spreadsheet></office:body></office:document-content>`}} {
		f, err := z.CreateHeader(&zip.FileHeader{Name: part[0], Method: zip.Store})
		if err == nil {
			_, err = f.Write([]byte(part[1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func odsCell(text string) string {
	if text == "" {
		return "<table:table-cell/>"
	}
	kinds := map[byte]string{'#': "float", '@': "date", '%': "percentage", '?': "boolean"}
	kind, rest := kinds[text[0]], text[1:]
	switch {
	case kind == "date":
		return fmt.Sprintf(`<table:table-cell office:value-type="date" office:date-value="%s"><text:p>%s</text:p></table:table-cell>`, rest, rest)
	case kind == "boolean":
		return fmt.Sprintf(`<table:table-cell office:value-type="boolean" office:boolean-value="%s"><text:p>%s</text:p></table:table-cell>`, strconv.FormatBool(rest == "1"), rest)
	case kind != "":
		return fmt.Sprintf(`<table:table-cell office:value-type="%s" office:value="%s"><text:p>%s</text:p></table:table-cell>`, kind, rest, rest)
	}
	return `<table:table-cell office:value-type="string"><text:p>` + html.EscapeString(text) + `</text:p></table:table-cell>`
}

// The habits of a keeper whose program writes ODS: a tab a year, a column a day, a card a bird. All are invented.
func TestHabitsInODS(t *testing.T) {
	data := drawnODS(t,
		tab{name: "2024", rows: "Weights 2024 (g)\nRing|@2024-04-13|@2024-05-11\nR1|#850|861 wet\nR2|#900|-\nAverage|#875|#861"},
		tab{name: "2025", hide: []int{4}, rows: "Date|Ring|Weight g|BCS 0-3|Lice\n@2025-04-13|R1|#910|#2|none\n@2025-04-13|R2|#2.5|#3|++\n@2025-04-20|R2|#940|#2|none"},
		tab{name: "Bess", rows: "Name:|Bess||Ring:|R9\nHatched:|3 April 2024||Sex:|hen\nDate|Weight|BCS (1-5)\n@2025-05-14|1 lb 4 oz|#3"})
	dir := write(t, map[string]string{"flock.ods": string(data)})
	sets := load(t, filepath.Join(dir, "flock.ods"))
	got, told := said(sets)
	want := []string{"2024!B3 R1 2024-04-13 weight 850", "2024!C3 R1 2024-05-11 weight 861 ?", "2024!B4 R2 2024-04-13 weight 900",
		"2025!C2 R1 2025-04-13 weight 910", "2025!D2 R1 2025-04-13 condition 2 of 0-3", "2025!E2 R1 2025-04-13 lice none",
		"2025!D3 R2 2025-04-13 condition 3 of 0-3", "2025!E3 R2 2025-04-13 lice 2 of plus 0-3",
		"2025!C4 R2 2025-04-20 weight 940 ?", "2025!D4 R2 2025-04-20 condition 2 of 0-3 ?", "2025!E4 R2 2025-04-20 lice none ?",
		"Bess!B4 R9 2025-05-14 weight 567", "Bess!C4 R9 2025-05-14 condition 3 of 1-5"}
	compare(t, "records", got, want)
	if want := []string{"2024!C3 note_with_number", "2025!C3 unit_slip_suspect", "2025!C4 hidden_row"}; !slices.Equal(told, want) {
		t.Errorf("asked %v, want %v", told, want)
	}
	checkFates(t, sets)
}

// An answer about a cell goes along when its sheet is given another name. Invented.
func TestAnswersFollowARenamedSheet(t *testing.T) {
	const rows = "Date|Ring|Weight g\n@2025-04-13|R1|#850\n@2025-04-20|R1|861?\n@2025-04-27|R2|#900"
	other := tab{name: "Notes", rows: "Date|Ring|Weight g\n@2024-04-13|R7|#700\n@2024-04-20|R7|#720"}
	dir := write(t, map[string]string{"w.xlsx": string(drawnXLSX(t, false, tab{name: "Log", rows: rows}, other))})
	a := &settings.Answers{}
	for _, q := range load(t, filepath.Join(dir, "w.xlsx"))[0].Questions {
		a.Set(settings.Answer{Key: q.Key, Value: "861 g", Cell: q.At.Key(), Raw: q.Raw, Row: RowText([]string{"2025-04-20", "R1", "861?"})})
	}
	if len(a.All()) != 1 {
		t.Fatalf("%d questions", len(a.All()))
	}
	for _, tabs := range [][]tab{{{name: "Log", rows: rows}, other}, {{name: "Weights 2025", rows: rows}, other}, {other, {name: "B", rows: rows}}} {
		dir := write(t, map[string]string{"w.xlsx": string(drawnXLSX(t, false, tabs...))})
		sets := load2(t, dir, a)
		if got := brief(sets); len(sets[0].Questions) > 0 || !slices.Contains(got, "C3 R1 2025-04-20 weight 861") {
			t.Errorf("%s: %v, asked %v, told %v", tabs[0].name, got, classes(sets), sets[0].Files[0].Notes)
		}
	}
	// Where the row stands on two sheets of other names, none is taken for the one.
	dir = write(t, map[string]string{"w.xlsx": string(drawnXLSX(t, false, tab{name: "A", rows: rows}, tab{name: "B", rows: rows}))})
	if sets := load2(t, dir, a); !slices.Contains(classes(sets), "approximate_value") && !slices.Contains(classes(sets), "doubtful_value") {
		t.Errorf("asked %v", classes(sets))
	}
}

// A column of formulas that were saved without their values is one question, whatever the number of its cells. Invented.
func TestFormulasWithoutValuesAreOneQuestion(t *testing.T) {
	rows := "Date|Ring|Gross|Net weight g|Second weight g\n"
	for i := 1; i <= 6; i++ {
		rows += fmt.Sprintf("@2025-04-%02d|R%d|#1250|=C%d-400:|=C%d-300:%d\n", i, i, i+1, i+1, 900+i)
	}
	dir := write(t, map[string]string{"w.xlsx": string(drawnXLSX(t, false, tab{name: "Log", rows: strings.TrimSuffix(rows, "\n")}))})
	sets := load(t, filepath.Join(dir, "w.xlsx"))
	var asked []string
	for _, q := range sets[0].Questions {
		if q.Class == "formula_no_cache" {
			asked = append(asked, fmt.Sprintf("%s and %d more", q.At.Cell(), len(q.More)))
			a := &settings.Answers{}
			a.Set(settings.Answer{Key: q.Key, Value: ""})
			if now := load2(t, dir, a); slices.Contains(classes(now), "formula_no_cache") {
				t.Error("one answer does not settle the column")
			}
		}
	}
	if !slices.Equal(asked, []string{"D2 and 5 more"}) {
		t.Errorf("asked %v, all %v", asked, classes(sets))
	}
	checkFates(t, sets)
}

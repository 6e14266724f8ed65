package sheet

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// readsSoundly reads the content and checks what every reader of a Book relies on. Small limits keep one input
// to milliseconds.
func readsSoundly(t *testing.T, name string, data []byte) {
	t.Helper()
	lim := Limits{File: 1 << 20, Growth: 4 << 20, Part: 1 << 20, Memory: 8 << 20, Entries: 100}
	b, err := Open(context.Background(), name, bytes.NewReader(data), int64(len(data)), lim)
	if err != nil {
		var r *Refusal
		if !errors.As(err, &r) || r.Reason == "" || r.What == "" || r.Cure == "" || r.File != name {
			t.Fatalf("an error without reason, sentence or cure: %v", err)
		}
		return
	}
	names := make(map[string]bool)
	for _, g := range b.Grids {
		if names[g.Sheet] {
			t.Fatalf("two sheets are called %q", g.Sheet)
		}
		names[g.Sheet] = true
		last := int32(0)
		for _, r := range g.Rows {
			if r.N <= last || len(r.Cells) == 0 || len(r.Cells) > maxCol {
				t.Fatalf("row %d with %d cells after row %d", r.N, len(r.Cells), last)
			}
			last = r.N
			for _, c := range r.Cells {
				if c.Kind == Blank && (c.Raw != "" || c.Struck || c.Format != "") || c.Kind > Error || c.Kind != Blank && c.Raw == "" && !c.Formula {
					t.Fatalf("row %d holds %+v", r.N, c)
				}
			}
		}
		rows, cols := g.extent()
		for _, m := range g.Merged {
			if m.Row1 < 1 || m.Col1 < 1 || m.Row2 < m.Row1 || m.Col2 < m.Col1 || m.Row2 > rows || m.Col2 > cols {
				t.Fatalf("a merged block %v in %d rows and %d columns", m, rows, cols)
			}
		}
	}
}

func FuzzOpen(f *testing.F) {
	paths, err := filepath.Glob("testdata/keeper/s[0-9]*[a-z]")
	if err != nil || len(paths) == 0 {
		f.Fatal(err)
	}
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		if len(data) < 10<<10 && filepath.Ext(path) != ".json" {
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) { readsSoundly(t, "fuzz.xlsx", data) })
}

// FuzzParts puts the XML into sound archives: a zip of its own making would hardly ever be sound.
func FuzzParts(f *testing.F) {
	for _, seed := range []string{oneCell + `<mergeCells><mergeCell ref="A1:C3"/></mergeCells><cols><col min="1" max="3" hidden="1"/></cols>`,
		`<sheetData><row r="3" hidden="1"><c t="s"><v>1</v></c><c r="D3" t="str" s="2"><f>A1</f><v>_x0041_&amp;</v></c></row></sheetData>`,
		`<sheetData><row><c t="inlineStr"><is><r><rPr><strike/></rPr><t>a<![CDATA[b]]></t></r><rPh><t>c</t></rPh></is></c></row></sheetData>`, stylesXML, textsXML, bookXML, bookRels,
		`<comments ` + mainNS + `><authors><author>Jo</author></authors><commentList><comment ref="B2" authorId="0"><text><r><t>Jo:</t></r><r><t>wet</t></r></text></comment></commentList></comments>`,
		`<table:table table:name="A"><table:table-column table:visibility="collapse"/><table:table-row table:number-rows-repeated="3"><table:table-cell office:value-type="date" office:date-value="2025-03-01" table:number-columns-repeated="2" table:number-rows-spanned="2"><office:annotation><text:p>x</text:p></office:annotation><text:p>a<text:s text:c="3"/></text:p></table:table-cell></table:table-row></table:table>`,
		`<style:style style:name="ce1" style:family="table-cell" style:parent-style-name="ce1" style:data-style-name="N1"/><number:date-style style:name="N1"><number:day/></number:date-style>`} {
		for kind := range byte(7) {
			f.Add(kind, seed)
		}
	}
	f.Fuzz(func(t *testing.T, kind byte, xml string) {
		styled := `<sheetData><row r="1"><c r="A1" s="1"><v>1</v></c><c r="B1" t="s"><v>0</v></c></row></sheetData>`
		rels := part{"xl/worksheets/_rels/sheet1.xml.rels", `<Relationships ` + relsNS + `><Relationship Id="r1" Type="` + relKind + `comments" Target="../comments1.xml"/></Relationships>`}
		name, data := "fuzz.xlsx", []byte(nil)
		switch kind % 7 {
		case 0:
			data = xlsx(t, xml)
		case 1:
			data = xlsx(t, styled, part{"xl/styles.xml", xml})
		case 2:
			data = xlsx(t, styled, part{"xl/sharedStrings.xml", xml})
		case 3:
			data = xlsx(t, styled, part{"xl/workbook.xml", xml})
		case 4:
			data = xlsx(t, styled, rels, part{"xl/comments1.xml", xml})
		case 5:
			data = ods(t, "", xml)
		case 6:
			data = ods(t, xml, `<table:table table:name="A"><table:table-row><table:table-cell table:style-name="ce1" office:value-type="float" office:value="1"/></table:table-row></table:table>`)
		}
		readsSoundly(t, name, data)
	})
}

func FuzzText(f *testing.F) {
	for _, seed := range []string{"ring,g\nR1,\"9\n65\"\n", "a;b\r1,5;2\r", "a  b  c\n1     3\n1  2  3\n", "sep=;\na;b", "\xff\xfea\x00,\x00", "K\xe4the\tx\n", "\"\"\"\n\"\"\"\n"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) { readsSoundly(t, "fuzz.csv", data) })
}

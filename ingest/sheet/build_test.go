package sheet

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
)

// part is one entry of a zip that a test builds.
type part struct{ name, body string }

func zipped(t testing.TB, parts ...part) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, p := range parts {
		f, err := w.Create(p.name)
		if err == nil {
			_, err = f.Write([]byte(p.body))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const (
	mainNS   = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"`
	relsNS   = `xmlns="http://schemas.openxmlformats.org/package/2006/relationships"`
	relKind  = `http://schemas.openxmlformats.org/officeDocument/2006/relationships/`
	rootRels = `<Relationships ` + relsNS + `><Relationship Id="r1" Type="` + relKind + `officeDocument" Target="xl/workbook.xml"/></Relationships>`
	bookRels = `<Relationships ` + relsNS + `><Relationship Id="r1" Type="` + relKind + `worksheet" Target="worksheets/sheet1.xml"/>` +
		`<Relationship Id="r2" Type="` + relKind + `styles" Target="styles.xml"/><Relationship Id="r3" Type="` + relKind + `sharedStrings" Target="sharedStrings.xml"/></Relationships>`
	bookXML   = `<workbook ` + mainNS + `><sheets><sheet name="A" sheetId="1" r:id="r1"/></sheets></workbook>`
	stylesXML = `<styleSheet ` + mainNS + `><fonts><font/><font><strike/></font></fonts><cellXfs><xf numFmtId="0" fontId="0"/><xf numFmtId="14" fontId="0"/><xf numFmtId="9" fontId="1"/></cellXfs></styleSheet>`
	textsXML  = `<sst ` + mainNS + `><si><t>Tansy</t></si><si><r><rPr><strike/></rPr><t>Old </t></r><r><rPr><strike/></rPr><t>Rook</t></r></si></sst>`
)

// xlsxParts is a workbook of one sheet with the given XML in <worksheet>; further parts replace those of the
// same name, or remove them where the body is "-".
func xlsxParts(inSheet string, more ...part) []part {
	parts := []part{
		{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>`},
		{"_rels/.rels", rootRels}, {"xl/workbook.xml", bookXML}, {"xl/_rels/workbook.xml.rels", bookRels},
		{"xl/styles.xml", stylesXML}, {"xl/sharedStrings.xml", textsXML},
		{"xl/worksheets/sheet1.xml", `<worksheet ` + mainNS + `>` + inSheet + `</worksheet>`},
	}
	for _, m := range more {
		done := false
		for i := range parts {
			if parts[i].name == m.name {
				parts[i], done = m, true
			}
		}
		if !done {
			parts = append(parts, m)
		}
	}
	var kept []part
	for _, p := range parts {
		if p.body != "-" {
			kept = append(kept, p)
		}
	}
	return kept
}

func xlsx(t testing.TB, inSheet string, more ...part) []byte {
	return zipped(t, xlsxParts(inSheet, more...)...)
}

const odsNS = `xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0" xmlns:number="urn:oasis:names:tc:opendocument:xmlns:datastyle:1.0" xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:draw="urn:oasis:names:tc:opendocument:xmlns:drawing:1.0"`

// ods is a spreadsheet with the given styles and tables.
func ods(t testing.TB, styles, tables string) []byte {
	return zipped(t, part{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"},
		part{"content.xml", `<?xml version="1.0" encoding="UTF-8"?><office:document-content ` + odsNS + `><office:automatic-styles>` + styles +
			`</office:automatic-styles><office:body><office:spreadsheet>` + tables + `</office:spreadsheet></office:body></office:document-content>`})
}

func open(name string, data []byte) (*Book, error) {
	return Open(context.Background(), name, bytes.NewReader(data), int64(len(data)), Limits{})
}

func mustOpen(t *testing.T, name string, data []byte) *Book {
	t.Helper()
	b, err := open(name, data)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// refused checks that the content is refused for the reason, in a sentence with its file and a cure.
func refused(t *testing.T, name string, data []byte, want Reason) {
	t.Helper()
	b, err := open(name, data)
	var r *Refusal
	switch {
	case err == nil:
		t.Errorf("%s: read as %d sheets; want %s", name, len(b.Grids), want)
	case !errors.As(err, &r):
		t.Errorf("%s: %v is no refusal; want %s", name, err, want)
	case r.Reason != want:
		t.Errorf("%s: refused as %s (%v); want %s", name, r.Reason, err, want)
	case !strings.HasPrefix(err.Error(), name) || r.Cure == "" || r.What == "":
		t.Errorf("%s: %q does not name the file and a cure", name, err)
	}
}

// cell is the cell of a grid by its name, blank where there is none.
func cell(t testing.TB, g Grid, name string) Cell {
	t.Helper()
	col, row, err := parseRef([]byte(name))
	if err != nil {
		t.Fatal(name)
	}
	for _, r := range g.Rows {
		if r.N == row && int(col) <= len(r.Cells) {
			return r.Cells[col-1]
		}
	}
	return Cell{}
}

func checkCells(t *testing.T, g Grid, want map[string]Cell) {
	t.Helper()
	for name, w := range want {
		if got := cell(t, g, name); got != w {
			t.Errorf("%s: got %+v, want %+v", name, got, w)
		}
	}
}

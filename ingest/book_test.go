package ingest

import (
	"archive/zip"
	"bytes"
	"fmt"
	"html"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// tab is one sheet of an invented workbook, drawn as text: a line a row, cells parted by "|". A cell begins with
// a sign where it is more than text: "#850" a number, "@2025-03-01" a true date, "&45717" a number that a date
// format shows as a date, "%0.5" a percentage, "?1" a yes or no, "=f:850" a formula with its stored value, "=f:"
// one without, "~text" text that is struck through. "{text}" at the end of a cell is a note hung on it.
type tab struct {
	name, rows string
	merged     []string // "A2:A4"
	hidden     bool
	hide       []int // rows that are hidden
}

var hung = regexp.MustCompile(`^(.*)\{([^}]*)\}$`)

// drawnXLSX is a workbook of tabs.
func drawnXLSX(t testing.TB, date1904 bool, tabs ...tab) []byte {
	t.Helper()
	const (
		ns   = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"`
		rels = `xmlns="http://schemas.openxmlformats.org/package/2006/relationships"`
		kind = `http://schemas.openxmlformats.org/officeDocument/2006/relationships/`
	)
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	put := func(name, body string) {
		f, err := z.Create(name)
		if err == nil {
			_, err = f.Write([]byte(body))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	put("[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>`)
	put("_rels/.rels", `<Relationships `+rels+`><Relationship Id="r1" Type="`+kind+`officeDocument" Target="xl/workbook.xml"/></Relationships>`)
	// cell formats: 0 general, 1 date, 2 percent, 3 struck through
	put("xl/styles.xml", `<styleSheet `+ns+`><fonts><font/><font><strike/></font></fonts><cellXfs><xf numFmtId="0" fontId="0"/><xf numFmtId="14" fontId="0"/><xf numFmtId="9" fontId="0"/><xf numFmtId="0" fontId="1"/></cellXfs></styleSheet>`)
	var sheets, links strings.Builder
	for i, tb := range tabs {
		state := ""
		if tb.hidden {
			state = ` state="hidden"`
		}
		fmt.Fprintf(&sheets, `<sheet name="%s" sheetId="%d" r:id="s%d"%s/>`, html.EscapeString(tb.name), i+1, i+1, state)
		fmt.Fprintf(&links, `<Relationship Id="s%d" Type="%sworksheet" Target="worksheets/sheet%d.xml"/>`, i+1, kind, i+1)
		body, notes := drawnSheet(t, tb, date1904)
		put(fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1), `<worksheet `+ns+`>`+body+`</worksheet>`)
		if notes != "" {
			put(fmt.Sprintf("xl/worksheets/_rels/sheet%d.xml.rels", i+1), fmt.Sprintf(`<Relationships %s><Relationship Id="c1" Type="%scomments" Target="../comments%d.xml"/></Relationships>`, rels, kind, i+1))
			put(fmt.Sprintf("xl/comments%d.xml", i+1), `<comments `+ns+`><authors><author/></authors><commentList>`+notes+`</commentList></comments>`)
		}
	}
	properties := ""
	if date1904 {
		properties = `<workbookPr date1904="1"/>`
	}
	put("xl/workbook.xml", `<workbook `+ns+`>`+properties+`<sheets>`+sheets.String()+`</sheets></workbook>`)
	put("xl/_rels/workbook.xml.rels", `<Relationships `+rels+`>`+links.String()+`<Relationship Id="st" Type="`+kind+`styles" Target="styles.xml"/></Relationships>`)
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func drawnSheet(t testing.TB, tb tab, date1904 bool) (body, notes string) {
	t.Helper()
	var b, hungOn strings.Builder
	b.WriteString("<sheetData>")
	for r, line := range strings.Split(tb.rows, "\n") {
		hide := ""
		for _, n := range tb.hide {
			if n == r+1 {
				hide = ` hidden="1"`
			}
		}
		fmt.Fprintf(&b, `<row r="%d"%s>`, r+1, hide)
		for c, text := range strings.Split(line, "|") {
			at := record.ColumnName(c+1) + strconv.Itoa(r+1)
			if m := hung.FindStringSubmatch(text); m != nil {
				text = m[1]
				fmt.Fprintf(&hungOn, `<comment ref="%s" authorId="0"><text><t>%s</t></text></comment>`, at, html.EscapeString(m[2]))
			}
			b.WriteString(drawnCell(t, at, text, date1904))
		}
		b.WriteString("</row>")
	}
	b.WriteString("</sheetData>")
	if len(tb.merged) > 0 {
		b.WriteString("<mergeCells>")
		for _, m := range tb.merged {
			fmt.Fprintf(&b, `<mergeCell ref="%s"/>`, m)
		}
		b.WriteString("</mergeCells>")
	}
	return b.String(), hungOn.String()
}

func drawnCell(t testing.TB, at, text string, date1904 bool) string {
	t.Helper()
	if text == "" {
		return ""
	}
	switch rest := text[1:]; text[0] {
	case '#':
		return fmt.Sprintf(`<c r="%s"><v>%s</v></c>`, at, rest)
	case '@':
		d, err := record.ParseDay(rest)
		if err != nil {
			t.Fatal(err)
		}
		serial := int(d) + 25569 // 1970-01-01 in the 1900 system
		if date1904 {
			serial -= 1462
		}
		return fmt.Sprintf(`<c r="%s" s="1"><v>%d</v></c>`, at, serial)
	case '&':
		return fmt.Sprintf(`<c r="%s" s="1"><v>%s</v></c>`, at, rest)
	case '%':
		return fmt.Sprintf(`<c r="%s" s="2"><v>%s</v></c>`, at, rest)
	case '?':
		if rest != "" {
			return fmt.Sprintf(`<c r="%s" t="b"><v>%s</v></c>`, at, rest)
		}
	case '=':
		if f, value, ok := strings.Cut(rest, ":"); ok {
			if value == "" {
				return fmt.Sprintf(`<c r="%s"><f>%s</f></c>`, at, html.EscapeString(f))
			}
			return fmt.Sprintf(`<c r="%s"><f>%s</f><v>%s</v></c>`, at, html.EscapeString(f), value)
		}
	case '~':
		return fmt.Sprintf(`<c r="%s" s="3" t="inlineStr"><is><t>%s</t></is></c>`, at, html.EscapeString(rest))
	}
	return fmt.Sprintf(`<c r="%s" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, at, html.EscapeString(text))
}

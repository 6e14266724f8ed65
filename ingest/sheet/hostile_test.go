package sheet

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"strings"
	"testing"
)

const oneCell = `<sheetData><row r="1"><c r="A1"><v>965</v></c></row></sheetData>`

func TestWhatIsNoSheet(t *testing.T) {
	for _, c := range []struct {
		name, data string
		want       Reason
	}{
		{"a.xlsx", "", EmptyFile},
		{"a.pdf", "%PDF-1.7\n...", NotASheet},
		{"a.png", "\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR", NotASheet},
		{"a.jpg", "\xff\xd8\xff\xe0\x00\x10JFIF\x00", NotASheet},
		{"a.heic", "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", NotASheet},
		{"a.bmp", "BM\x36\x00\x00\x00\x00\x00\x00\x00\x36\x00\x00\x00", NotASheet},
		{"a.webp", "RIFF\x10\x00\x00\x00WEBPVP8 ", NotASheet},
		{"a.rtf", `{\rtf1\ansi R12 965}`, NotASheet},
		{"a.gz", "\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03", NotASheet},
		{"a.db", "SQLite format 3\x00\x10\x00", NotASheet},
		{"a.xls", "\x09\x00\x04\x00\x02\x00\x10\x00", LegacyXLS},
		{"a.xls", `<?xml version="1.0"?><?mso-application progid="Excel.Sheet"?><Workbook xmlns="urn:schemas-microsoft-com:office:spreadsheet">`, LegacyXLS},
		{"a.xls", "\xef\xbb\xbf\r\n<HTML><body><table><tr><td>R12</td></tr></table></body></html>", HTML},
		{"a.xlsx", "<table border=1><tr><td>R12", HTML},
		{"a.xlsx", "<!-- x --><!DOCTYPE html><html>", HTML},
		{"a.xml", `<?xml version="1.0"?><birds/>`, NotASheet},
		{"a.csv", strings.Repeat("\x00\x01\x02\x03\xfe", 400), NotASheet},
		{"a.xlsx", "PK\x03\x04" + strings.Repeat("x", 4000), TruncatedZip},
		{"a.xlsx", string(zipped(t)), NotASheet},
		{"a.zip", string(zipped(t, part{"weights.xlsx", "x"})), NotASheet},
		{"a.docx", string(zipped(t, part{"[Content_Types].xml", "<Types/>"}, part{"word/document.xml", "<x/>"})), NotASheet},
		{"a.xlsb", string(zipped(t, part{"[Content_Types].xml", "<Types/>"}, part{"xl/workbook.bin", "x"})), NotASheet},
		{"a.numbers", string(zipped(t, part{"Index/Document.iwa", "x"})), NotASheet},
		{"a.odt", string(zipped(t, part{"mimetype", "application/vnd.oasis.opendocument.text"}, part{"content.xml", "<x/>"})), NotASheet},
		{"a.ods", string(zipped(t, part{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"}, part{"content.xml", "\x01\x02"},
			part{"META-INF/manifest.xml", `<manifest:manifest><manifest:file-entry><manifest:encryption-data/></manifest:file-entry></manifest:manifest>`})), Encrypted},
	} {
		refused(t, c.name, []byte(c.data), c.want)
	}
}

func TestDamagedWorkbooks(t *testing.T) {
	sheet1 := func(body string) []byte { return xlsx(t, "", part{"xl/worksheets/sheet1.xml", body}) }
	entity := `<!DOCTYPE x [<!ENTITY a "b"><!ENTITY c SYSTEM "file:///etc/hostname">]>`
	for _, c := range []struct {
		what string
		data []byte
		want Reason
	}{
		{"cut off in a row", sheet1(`<worksheet><sheetData><row r="1"><c r="A1"><v>965</v></c></row><row r="2"><c r="A2"><v>9`), DamagedXML},
		{"cut off between rows", sheet1(`<worksheet><sheetData><row r="1"><c r="A1"><v>965</v></c></row>`), DamagedXML},
		{"cut off in a tag", sheet1(`<worksheet><sheetData><row r="1"><c r="A1`), DamagedXML},
		{"an empty part", sheet1(""), DamagedXML},
		{"no XML", sheet1("\x00\x01 not XML"), DamagedXML},
		{"another root", sheet1(`<html></html>`), DamagedXML},
		{"two roots", sheet1(`<worksheet/><worksheet/>`), DamagedXML},
		{"crossed tags", sheet1(`<worksheet><sheetData><row r="1"></sheetData></row></worksheet>`), DamagedXML},
		{"an unknown entity", sheet1(`<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&nbsp;</t></is></c></row></sheetData></worksheet>`), DamagedXML},
		{"a malformed attribute", sheet1(`<worksheet><sheetData><row r=1></row></sheetData></worksheet>`), DamagedXML},
		{"deep nesting", sheet1(`<worksheet>` + strings.Repeat("<x>", 5000) + strings.Repeat("</x>", 5000) + `</worksheet>`), DamagedXML},
		{"invalid UTF-8", sheet1("<worksheet><sheetData><row r=\"1\"><c r=\"A1\" t=\"inlineStr\"><is><t>\xff\xfe</t></is></c></row></sheetData></worksheet>"), DamagedXML},
		{"an absurd text", sheet1(`<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>` + strings.Repeat("<![CDATA[abcdefgh]]>", 200_000) + `</t></is></c></row></sheetData></worksheet>`), DamagedXML},
		{"an endless tag", sheet1(`<worksheet x="` + strings.Repeat("ab", 1<<20) + `">`), DamagedXML},
		{"entities in the sheet", sheet1(entity + `<worksheet>&a;</worksheet>`), XMLEntity},
		{"entities late in the sheet", sheet1(`<worksheet>` + strings.Repeat("<!-- x -->", 50000) + `<!ENTITY a "b"></worksheet>`), XMLEntity},
		{"entities in the texts", xlsx(t, oneCell, part{"xl/sharedStrings.xml", entity + textsXML}), XMLEntity},
		{"entities in the styles", xlsx(t, oneCell, part{"xl/styles.xml", entity + stylesXML}), XMLEntity},
		{"entities in the workbook", xlsx(t, oneCell, part{"xl/workbook.xml", entity + bookXML}), XMLEntity},
		{"entities in the pointers", xlsx(t, oneCell, part{"xl/_rels/workbook.xml.rels", entity + bookRels}), XMLEntity},
		{"styles cut off", xlsx(t, oneCell, part{"xl/styles.xml", stylesXML[:len(stylesXML)-20]}), DamagedXML},
		{"the workbook cut off", xlsx(t, oneCell, part{"xl/workbook.xml", bookXML[:len(bookXML)-20]}), DamagedXML},
		{"no workbook", xlsx(t, oneCell, part{"xl/workbook.xml", "-"}), MissingPart},
		{"no sheet", xlsx(t, oneCell, part{"xl/worksheets/sheet1.xml", "-"}), MissingPart},
		{"no list of parts", xlsx(t, oneCell, part{"xl/_rels/workbook.xml.rels", "-"}), MissingPart},
		{"no styles", xlsx(t, oneCell, part{"xl/styles.xml", "-"}), MissingPart},
		{"no comments", xlsx(t, oneCell+`<legacyDrawing r:id="r1"/>`), MissingPart},
		{"no texts", xlsx(t, oneCell, part{"xl/sharedStrings.xml", "-"}), MissingPart},
		{"no sheets listed", xlsx(t, oneCell, part{"xl/workbook.xml", `<workbook ` + mainNS + `><sheets/></workbook>`}), MissingPart},
		{"no list of sheets", xlsx(t, oneCell, part{"xl/workbook.xml", `<workbook ` + mainNS + `></workbook>`}), MissingPart},
		{"a sheet listed twice", xlsx(t, oneCell, part{"xl/workbook.xml", strings.Replace(bookXML, "</sheets>", `<sheet name="B" sheetId="2" r:id="r1"/></sheets>`, 1)}), DamagedXML},
		{"a text that is not there", xlsx(t, `<sheetData><row r="1"><c r="A1" t="s"><v>2</v></c></row></sheetData>`), DamagedXML},
		{"a text number below zero", xlsx(t, `<sheetData><row r="1"><c r="A1" t="s"><v>-1</v></c></row></sheetData>`), DamagedXML},
		{"an unknown type", xlsx(t, `<sheetData><row r="1"><c r="A1" t="zz"><v>2</v></c></row></sheetData>`), DamagedXML},
		{"row 0", xlsx(t, `<sheetData><row r="0"/></sheetData>`), DamagedXML},
		{"row 1048577", xlsx(t, `<sheetData><row r="1048577"/></sheetData>`), DamagedXML},
		{"a row past the last", xlsx(t, `<sheetData><row r="1048576"/><row><c><v>1</v></c></row></sheetData>`), DamagedXML},
		{"an absurd row", xlsx(t, `<sheetData><row r="99999999999999999999"/></sheetData>`), DamagedXML},
		{"an absurd column", xlsx(t, `<sheetData><row r="1"><c r="XFE1"><v>1</v></c></row></sheetData>`), DamagedXML},
		{"a column past the last", xlsx(t, `<sheetData><row r="1"><c r="XFD1"><v>1</v></c><c><v>1</v></c></row></sheetData>`), DamagedXML},
		{"a cell in another row", xlsx(t, `<sheetData><row r="1"><c r="A2"><v>1</v></c></row></sheetData>`), DamagedXML},
		{"a cell twice", xlsx(t, `<sheetData><row r="1"><c r="A1"><v>1</v></c><c r="A1"><v>2</v></c></row></sheetData>`), DamagedXML},
		{"a row twice", xlsx(t, `<sheetData><row r="1"><c r="A1"><v>1</v></c></row><row r="1"><c r="A1"><v>2</v></c></row></sheetData>`), DamagedXML},
		{"overlapping merges", xlsx(t, `<sheetData><row r="4"><c r="D4"><v>1</v></c></row></sheetData><mergeCells><mergeCell ref="A1:C3"/><mergeCell ref="B2:D4"/></mergeCells>`), DamagedXML},
		{"a malformed merge", xlsx(t, oneCell+`<mergeCells><mergeCell ref="B2:A1"/></mergeCells>`), DamagedXML},
		{"an absurd merge", xlsx(t, `<sheetData><row r="1"><c r="XFD1"><v>1</v></c></row><row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData><mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>`), DamagedXML},
		{"the same name twice", zipped(t, append(xlsxParts(oneCell), part{"XL/Worksheets/sheet1.xml", `<worksheet/>`})...), DuplicateEntry},
		{"a name that climbs", xlsx(t, oneCell, part{"../x", "x"}), PathTraversal},
		{"a name that climbs back", xlsx(t, oneCell, part{`xl\..\..\x`, "x"}), PathTraversal},
		{"a name from the root", xlsx(t, oneCell, part{"/etc/x", "x"}), PathTraversal},
		{"a name with a drive", xlsx(t, oneCell, part{`C:\x`, "x"}), PathTraversal},
		{"an absurd name", xlsx(t, oneCell, part{strings.Repeat("a", 2000), "x"}), PathTraversal},
	} {
		t.Run(c.what, func(t *testing.T) { refused(t, "a.xlsx", c.data, c.want) })
	}
}

// zeros packs n zero bytes under a name: about a thousandth of that in the file.
func zeros(t *testing.T, w *zip.Writer, name string, n int64) {
	t.Helper()
	f, err := w.Create(name)
	if err == nil {
		_, err = io.CopyN(f, zeroReader{}, n)
	}
	if err != nil {
		t.Fatal(err)
	}
}

type zeroReader struct{}

func (zeroReader) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestBombs(t *testing.T) {
	build := func(fill func(*zip.Writer)) []byte {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		fill(w)
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	refused(t, "ratio.xlsx", build(func(w *zip.Writer) { zeros(t, w, "xl/worksheets/sheet1.xml", 6<<20) }), ZipBomb)
	refused(t, "many.xlsx", build(func(w *zip.Writer) {
		for i := range 25_000 {
			if _, err := w.CreateHeader(&zip.FileHeader{Name: fmt.Sprint(i)}); err != nil {
				t.Fatal(err)
			}
		}
	}), ZipBomb)
	// Many entries, each too small for the ratio to count, are caught by their sum.
	data := build(func(w *zip.Writer) {
		for i := range 8 {
			zeros(t, w, fmt.Sprintf("xl/media/%d.bin", i), 3<<20)
		}
	})
	_, err := Open(context.Background(), "sum.xlsx", bytes.NewReader(data), int64(len(data)), Limits{Growth: 16 << 20})
	if r, ok := err.(*Refusal); !ok || r.Reason != ZipBomb {
		t.Errorf("got %v, want %s", err, ZipBomb)
	}
}

// A small file may ask for many cells: a row that is as wide as a sheet can be takes forty bytes to write.
func TestCellBombs(t *testing.T) {
	var wide, comments strings.Builder
	wide.WriteString(`<sheetData>`)
	for i := 1; i <= 20_000; i++ {
		fmt.Fprintf(&wide, `<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, i, i)
		fmt.Fprintf(&comments, `<comment ref="XFD%d"><text><t>x</t></text></comment>`, i)
	}
	wide.WriteString(`</sheetData>`)
	refused(t, "wide.xlsx", xlsx(t, wide.String()), TooLarge)
	refused(t, "comments.xlsx", xlsx(t, oneCell,
		part{"xl/worksheets/_rels/sheet1.xml.rels", `<Relationships ` + relsNS + `><Relationship Id="r1" Type="` + relKind + `comments" Target="../comments1.xml"/></Relationships>`},
		part{"xl/comments1.xml", `<comments ` + mainNS + `><authors/><commentList>` + comments.String() + `</commentList></comments>`}), TooLarge)
	repeated := `<table:table table:name="A"><table:table-row table:number-rows-repeated="1048576"><table:table-cell table:number-columns-repeated="16384" office:value-type="float" office:value="1"/></table:table-row></table:table>`
	refused(t, "repeated.ods", ods(t, "", repeated), TooLarge)
	refused(t, "commas.csv", []byte(strings.Repeat("a,", 5<<20)), TooLarge)
}

// small is a workbook in which each part matters.
func small(t *testing.T) []byte {
	return xlsx(t, `<sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" s="1"><v>45717</v></c></row></sheetData><legacyDrawing r:id="r2"/>`,
		part{"xl/worksheets/_rels/sheet1.xml.rels", `<Relationships ` + relsNS + `><Relationship Id="r1" Type="` + relKind + `comments" Target="../comments1.xml"/></Relationships>`},
		part{"xl/comments1.xml", `<comments ` + mainNS + `><authors/><commentList><comment ref="A1"><text><t>wet</t></text></comment></commentList></comments>`})
}

// A workbook with any one byte damaged must be refused or read the same: never read as something else. (Some
// bytes, such as times of day, mean nothing to a reader.)
func TestDamageIsNeverSilent(t *testing.T) {
	data := small(t)
	whole := fmt.Sprint(mustOpen(t, "a.xlsx", data).Grids)
	refusals := 0
	for at := range data {
		damaged := bytes.Clone(data)
		damaged[at] ^= []byte{1, 0x20}[at%2] // the second turns large letters into small ones
		b, err := open("a.xlsx", damaged)
		var r *Refusal
		switch {
		case errors.As(err, &r):
			refusals++
		case err != nil:
			t.Fatalf("byte %d: %v", at, err)
		case fmt.Sprint(b.Grids) != whole:
			t.Errorf("byte %d of %d (%q) changed what was read", at, len(data), data[max(0, at-20):at+1])
		}
	}
	if refusals < len(data)/2 {
		t.Errorf("%d of %d damages were seen", refusals, len(data))
	}
}

func TestCutOffAnywhere(t *testing.T) {
	data := small(t)
	for n := 4; n < len(data); n++ {
		if _, err := open("a.xlsx", data[:n]); err == nil {
			t.Fatalf("the first %d of %d bytes are read as a workbook", n, len(data))
		}
	}
}

func TestEncryptedEntry(t *testing.T) {
	data := xlsx(t, oneCell)
	for at := 0; ; { // set the flag in each directory record
		n := bytes.Index(data[at:], []byte("PK\x01\x02"))
		if n < 0 {
			break
		}
		at += n + 4
		data[at+4] |= 1
	}
	refused(t, "a.xlsx", data, Encrypted)
}

// A header may lie about the unpacked size; the entry is read to its end all the same.
func TestLyingHeader(t *testing.T) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	body := []byte(strings.Repeat("x", 1000))
	f, err := w.CreateRaw(&zip.FileHeader{Name: "xl/workbook.xml", Method: zip.Store, CRC32: crc32.ChecksumIEEE(body), CompressedSize64: 1000, UncompressedSize64: 10})
	if err == nil {
		_, err = f.Write(body)
	}
	if err != nil || w.Close() != nil {
		t.Fatal(err)
	}
	refused(t, "a.xlsx", b.Bytes(), DamagedZip)
}

func TestCompoundFiles(t *testing.T) {
	compound := func(names ...string) []byte {
		out := make([]byte, 1024)
		copy(out, "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
		for _, name := range names {
			record := make([]byte, 128)
			for i, c := range name {
				binary.LittleEndian.PutUint16(record[2*i:], uint16(c))
			}
			binary.LittleEndian.PutUint16(record[64:], uint16(2*len(name)+2))
			record[66] = 2
			out = append(out, record...)
		}
		return out
	}
	refused(t, "a.xls", compound("Root Entry", "Workbook"), LegacyXLS)
	refused(t, "a.xls", compound("Root Entry", "Book"), LegacyXLS)
	refused(t, "a.xlsx", compound("EncryptionInfo", "EncryptedPackage"), Encrypted)
	refused(t, "a.doc", compound("Root Entry", "WordDocument"), NotASheet)
}

func TestLimits(t *testing.T) {
	data := xlsx(t, oneCell)
	for _, c := range []struct {
		lim  Limits
		want Reason
	}{{Limits{File: 100}, TooLarge}, {Limits{Part: 100}, TooLarge}, {Limits{Memory: 20}, TooLarge}, {Limits{Entries: 2}, ZipBomb}} {
		_, err := Open(context.Background(), "a.xlsx", bytes.NewReader(data), int64(len(data)), c.lim)
		if r, ok := err.(*Refusal); !ok || r.Reason != c.want {
			t.Errorf("%+v: %v, want %s", c.lim, err, c.want)
		}
	}
}

// stopping is a file whose reader ends the context after some reads.
type stopping struct {
	io.ReaderAt
	left   int
	cancel func()
}

func (s *stopping) ReadAt(p []byte, off int64) (int, error) {
	if s.left--; s.left < 0 {
		s.cancel()
	}
	return s.ReaderAt.ReadAt(p, off)
}

func TestStopsWithItsContext(t *testing.T) {
	var rows strings.Builder
	for i := 1; i <= 3000; i++ {
		fmt.Fprintf(&rows, `<row r="%d"><c r="A%d"><v>%d</v></c></row>`, i, i, i*7919%3001)
	}
	for name, data := range map[string][]byte{
		"a.xlsx": xlsx(t, "<sheetData>"+rows.String()+"</sheetData>"),
		"a.csv":  []byte(strings.Repeat("R12,965\n", 100_000)),
		"a.ods":  ods(t, "", `<table:table table:name="A"><table:table-row><table:table-cell office:value-type="float" office:value="1"/></table:table-row></table:table>`),
	} {
		reads := 0
		for stopped := true; stopped && reads < 1000; reads++ {
			ctx, cancel := context.WithCancel(context.Background())
			_, err := Open(ctx, name, &stopping{bytes.NewReader(data), reads, cancel}, int64(len(data)), Limits{})
			stopped = ctx.Err() != nil
			cancel()
			// The end may come while the last bytes are read, which is then a full reading.
			if stopped && err != nil && !errors.Is(err, context.Canceled) {
				t.Fatalf("%s, stopped at read %d: %v", name, reads, err)
			}
			if stopped && reads == 0 && err == nil {
				t.Fatalf("%s: read to the end after its context ended", name)
			}
		}
		if reads < 2 || reads == 1000 {
			t.Errorf("%s: %d reads", name, reads)
		}
	}
}

func TestOpenFile(t *testing.T) {
	if _, err := OpenFile(context.Background(), "testdata", Limits{}); err == nil || !strings.Contains(err.Error(), "is a folder") {
		t.Errorf("a folder: %v", err)
	}
	if _, err := OpenFile(context.Background(), "testdata/none.xlsx", Limits{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no file: %v", err)
	}
}

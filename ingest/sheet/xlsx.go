package sheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// How an xlsx is read. Excelize reads the frame of the workbook: its sheets, date system, styles and comments.
// The cells come from our own scanner, because excelize's row stream gives text without types, formats or
// formulas, drops read errors, and takes several times as long. Excelize is handed a copy of the archive
// without the bodies of the sheets, which it would unpack to temporary files.

// workbook is an xlsx with its frame read.
type workbook struct {
	*archive
	frame  *excelize.File
	sheets []sheetPart
	styles []style
	shared sharedList
}

// sheetPart is a sheet as the workbook lists it.
type sheetPart struct {
	name, part string
	hidden     bool
}

// sharedString is a text that cells refer to by its number.
type sharedString struct {
	text   string
	struck bool
}

// sharedList keeps such texts in blocks: one long list would be copied again and again as it grows.
type sharedList struct {
	blocks [][]sharedString
	n      int
}

const sharedBlock = 4096

func (l *sharedList) add(s sharedString) {
	if l.n%sharedBlock == 0 {
		l.blocks = append(l.blocks, make([]sharedString, 0, sharedBlock))
	}
	last := &l.blocks[l.n/sharedBlock]
	*last = append(*last, s)
	l.n++
}

func (l *sharedList) at(n int) sharedString { return l.blocks[n/sharedBlock][n%sharedBlock] }

func (a *archive) xlsxGrids() ([]Grid, error) {
	w := &workbook{archive: a}
	if err := w.readFrame(); err != nil {
		return nil, err
	}
	defer w.frame.Close()
	w.readStyles()
	date1904 := w.frame.WorkBook.WorkbookPr != nil && w.frame.WorkBook.WorkbookPr.Date1904
	var grids []Grid
	for _, sheet := range w.sheets {
		g := Grid{Sheet: sheet.name, Hidden: sheet.hidden, Date1904: date1904}
		if err := w.readSheet(&g, sheet.part); err != nil {
			return nil, err
		}
		if err := w.refuseXML("sheet "+sheet.name, w.hangComments(&g)); err != nil {
			return nil, err
		}
		grids = append(grids, g)
	}
	return grids, nil
}

// readFrame finds the parts of the workbook, proves their XML and hands the small ones to excelize.
func (w *workbook) readFrame() error {
	root, err := w.relations("")
	if err != nil {
		return err
	}
	main := "xl/workbook.xml"
	for _, r := range root {
		if r.kind == "officeDocument" {
			main = r.target
		}
	}
	if w.parts[strings.ToLower(main)] == nil {
		return &Refusal{Reason: MissingPart, What: "has lost the part that lists its sheets", Cure: cureCopy}
	}
	pointers, err := w.relations(main)
	if err != nil {
		return err
	}
	f := frame{archive: w.archive, room: 2 * w.limits.Part}
	f.zip = zip.NewWriter(&f.buf)
	f.copy("[Content_Types].xml", "[Content_Types].xml")
	f.copy("_rels/.rels", "_rels/.rels")
	f.copy(main, main)
	f.copy(relsOf(main), relsOf(main))
	targets := make(map[string]relation)
	for _, r := range pointers {
		targets[r.id] = r
		switch r.kind {
		case "styles":
			f.must(r.target, "xl/styles.xml")
		case "worksheet":
			f.stub(r.target)
			f.copy(relsOf(r.target), relsOf(r.target))
			beside, err := w.relations(r.target)
			if err != nil {
				return err
			}
			for _, b := range beside {
				if b.kind == "comments" {
					f.must(b.target, b.target)
				}
			}
		case "sharedStrings":
			if err := w.readShared(r.target); err != nil {
				return err
			}
		case "externalLink":
			f.linked = true
		}
	}
	if w.frame, err = f.open(); err != nil {
		return err
	}
	if f.linked {
		w.note("some formulas point to other workbooks, which were not opened; their values are as last saved")
	}
	return w.listSheets(targets)
}

// listSheets takes the sheets in the order of their tabs.
func (w *workbook) listSheets(targets map[string]relation) error {
	names, parts := map[string]bool{}, map[string]bool{}
	for _, s := range w.frame.WorkBook.Sheets.Sheet {
		place := "sheet " + s.Name
		r, ok := targets[s.ID]
		switch {
		case !ok:
			return &Refusal{Reason: MissingPart, Place: place, What: "is listed but not in the file", Cure: cureCopy}
		case r.kind != "worksheet":
			w.note("sheet %s holds no cells (%s) and was passed over", s.Name, r.kind)
			continue
		case names[strings.ToLower(s.Name)] || parts[strings.ToLower(r.target)]:
			return &Refusal{Reason: DamagedXML, Place: place, What: "is listed twice", Cure: cureResave}
		}
		names[strings.ToLower(s.Name)], parts[strings.ToLower(r.target)] = true, true
		w.sheets = append(w.sheets, sheetPart{s.Name, r.target, s.State == "hidden" || s.State == "veryHidden"})
	}
	if len(w.sheets) == 0 {
		return &Refusal{Reason: MissingPart, What: "has no sheet with cells", Cure: cureResave}
	}
	return nil
}

// frame is the archive that excelize is given.
type frame struct {
	*archive
	buf    bytes.Buffer
	zip    *zip.Writer
	room   int64
	done   map[string]bool
	linked bool
	err    error
}

func (f *frame) fresh(name string) bool {
	if f.done == nil {
		f.done = make(map[string]bool)
	}
	key := strings.ToLower(name)
	ok := f.err == nil && !f.done[key]
	f.done[key] = true
	return ok
}

// must copies a part that another points to.
func (f *frame) must(from, to string) {
	if f.err == nil && f.parts[strings.ToLower(from)] == nil {
		f.err = lost(from)
		return
	}
	f.copy(from, to)
}

// copy takes over one part, where there is one, after it is proved to be sound XML: excelize drops such errors.
func (f *frame) copy(from, to string) {
	if f.parts[strings.ToLower(from)] == nil || !f.fresh(to) {
		return
	}
	if f.err = f.scan(from, from, func(s *scanner) error {
		for {
			if t, err := s.next(); err != nil || t == tokenEOF {
				return err
			}
		}
	}); f.err != nil {
		return
	}
	var body []byte
	if body, f.err = f.small(from); f.err != nil {
		return
	}
	if f.room -= int64(len(body)); f.room < 0 {
		f.err = &Refusal{Reason: TooLarge, What: fmt.Sprintf("has more than %d MB of styles and comments, which no sheet of weights needs", 2*f.limits.Part>>20), Cure: "copy the tables into a new workbook and save that"}
		return
	}
	f.write(to, body)
}

// stub stands in for the body of a sheet.
func (f *frame) stub(name string) {
	if f.fresh(name) {
		f.write(name, []byte(`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData/></worksheet>`))
	}
}

func (f *frame) write(name string, body []byte) {
	var part interface{ Write([]byte) (int, error) }
	if part, f.err = f.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store}); f.err == nil {
		_, f.err = part.Write(body)
	}
}

// open hands the frame to excelize. A panic there is a refusal here: excelize trusts more than a hostile file
// deserves.
func (f *frame) open() (file *excelize.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			file, err = nil, &Refusal{Reason: DamagedXML, What: "is damaged inside", Cure: cureResave, Err: fmt.Errorf("%v", p)}
		}
	}()
	if f.err != nil {
		return nil, f.err
	}
	if err := f.zip.Close(); err != nil {
		return nil, err
	}
	file, err = excelize.OpenReader(&f.buf)
	if err != nil {
		return nil, &Refusal{Reason: DamagedXML, What: "is damaged inside", Cure: cureResave, Err: err}
	}
	if file.WorkBook == nil || file.Styles == nil {
		return nil, &Refusal{Reason: DamagedXML, What: "is damaged inside", Cure: cureResave}
	}
	return file, nil
}

// readStyles looks up number format and strike-through for every cell style, once.
func (w *workbook) readStyles() {
	sheet := w.frame.Styles
	codes := make(map[int]string)
	if sheet.NumFmts != nil {
		for _, n := range sheet.NumFmts.NumFmt {
			if n != nil {
				codes[n.NumFmtID] = n.FormatCode
			}
		}
	}
	if sheet.CellXfs == nil {
		w.note("the workbook has no styles: its dates may show as numbers")
		return
	}
	for _, xf := range sheet.CellXfs.Xf {
		st := style{kind: Number}
		if xf.NumFmtID != nil {
			if code, ok := codes[*xf.NumFmtID]; ok {
				st.format, st.kind = code, kindOf(code)
				if strings.EqualFold(code, "general") {
					st.format = ""
				}
			} else {
				st.format, st.kind = builtin(*xf.NumFmtID)
			}
		}
		if i := xf.FontID; i != nil && sheet.Fonts != nil && *i >= 0 && *i < len(sheet.Fonts.Font) {
			if font := sheet.Fonts.Font[*i]; font != nil && font.Strike != nil {
				st.struck = font.Strike.Value()
			}
		}
		w.styles = append(w.styles, st)
	}
}

// readShared reads the texts that cells refer to.
func (w *workbook) readShared(part string) error {
	var text []byte
	return w.scan(part, "the list of texts", func(s *scanner) error {
		for {
			t, err := s.next()
			switch {
			case err != nil || t == tokenEOF:
				return err
			case t != tokenStart || s.depth() != 2 || string(s.name) != "si":
				continue
			}
			item := sharedString{}
			if text, item.struck, err = s.richText(text[:0]); err != nil {
				return err
			}
			if item.text, err = w.store.keep(text); err != nil {
				return err
			}
			if err := w.store.take(24); err != nil {
				return err
			}
			w.shared.add(item)
		}
	})
}

// hangComments puts the notes of a sheet on its cells.
func (w *workbook) hangComments(g *Grid) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("its comments: %v", p)
		}
	}()
	comments, err := w.frame.GetComments(g.Sheet)
	if err != nil {
		return err
	}
	var found []hung
	for _, c := range comments {
		col, row, err := parseRef([]byte(c.Cell))
		if err != nil {
			return fmt.Errorf("a comment hangs on %q", c.Cell)
		}
		var text strings.Builder
		text.WriteString(c.Text)
		for _, run := range c.Paragraph {
			text.WriteString(run.Text)
		}
		if t := commentText(c.Author, text.String()); t != "" {
			found = append(found, hung{row, col, t})
		}
	}
	return w.store.hang(g, found)
}

// commentText is what somebody wrote, without the author's name and the boilerplate that programs put before it.
func commentText(author, text string) string {
	if strings.HasPrefix(text, "[Threaded comment]") {
		if _, written, ok := strings.Cut(text, "Comment:\n"); ok {
			text = written
		}
	}
	text = strings.TrimSpace(text)
	if author != "" {
		text = strings.TrimPrefix(text, author+":")
	}
	return strings.TrimSpace(text)
}

var errRef = errors.New("it holds a malformed cell name")

// parseRef reads a cell name such as "D14", within the size that a sheet can have.
func parseRef(b []byte) (col, row int32, err error) {
	i := 0
	for i < len(b) && i < 4 && b[i] >= 'A' && b[i] <= 'Z' {
		col = col*26 + int32(b[i]-'A'+1)
		i++
	}
	n, err := strconv.ParseUint(string(b[i:]), 10, 32)
	if err != nil || i == 0 || col > maxCol || n < 1 || n > maxRow {
		return 0, 0, errRef
	}
	return col, int32(n), nil
}

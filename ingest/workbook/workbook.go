// Package workbook writes spreadsheets: one or more sheets of typed cells to one xlsx file, the same bytes for
// the same sheets; and the blank recording workbook that a keeper fills in (blank.go its sheets, register.go the
// birds that are known, form.go how a sheet is built, marks.go what it checks, guide.go the guide and the legend,
// scale.go the scales).
//
// It refuses to let text run: text that a spreadsheet program would take for a formula is stored as text and
// marked so that it stays text when somebody edits the cell. A formula is written only where the caller asks
// for one by name. It refuses numbers that no cell can hold, and it reads nothing.
package workbook

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

// Sheet is one sheet to write. Rows need not have the same length.
type Sheet struct {
	Name   string    // cut and cleaned as spreadsheet programs demand; made unique within the file
	Rows   [][]Cell  // Rows[0] is row 1
	Widths []float64 // of columns, in characters; 0 or missing means fitted to the content
	Frozen int       // rows at the top that stay in view
	Charts []Chart
}

// Table makes a sheet of a title (none where ""), headings and rows, with the headings kept in view.
func Table(name, title string, headings []string, rows [][]Cell) Sheet {
	s := Sheet{Name: name}
	if title != "" {
		s.Rows = append(s.Rows, []Cell{Title(title, len(headings))}, nil)
	}
	var head []Cell
	for _, h := range headings {
		head = append(head, Heading(h))
	}
	s.Rows = append(s.Rows, head)
	s.Frozen = len(s.Rows)
	s.Rows = append(s.Rows, rows...)
	return s
}

// What a file can hold. Source: ECMA-376 as implemented by spreadsheet programs: 1,048,576 rows, 16,384
// columns, 32,767 characters in a cell, 31 in the name of a sheet.
const (
	maxRows      = 1 << 20
	maxColumns   = 1 << 14
	maxCellChars = 32767
	maxNameChars = 31
)

// Narrowest and widest fitted column, in characters. Common practice, no source: a longer text runs on into
// the next empty cell and is never cut.
const (
	minWidth = 7
	maxWidth = 48
)

// Write writes the sheets as one xlsx file. The file carries no time and no name of a person: the same sheets
// give the same bytes. An error names the sheet and the cell.
func Write(w io.Writer, sheets []Sheet) error {
	if len(sheets) == 0 {
		return fmt.Errorf("a workbook needs at least one sheet")
	}
	b := newBook()
	defer b.file.Close()
	for i, name := range sheetNames(sheets) {
		err := b.add(name)
		if err == nil {
			err = writeSheet(b.file, b.styles, name, sheets[i])
		}
		if err != nil {
			return fmt.Errorf("sheet %s: %w", name, err)
		}
	}
	return b.write(w)
}

// book is a file that is being made.
type book struct {
	file   *excelize.File
	styles styles
	sheets int
	flock  string // name for the head of printed pages; "" for none
}

func newBook() *book {
	f := excelize.NewFile()
	return &book{file: f, styles: styles{file: f, ids: make(map[style]int)}}
}

// add appends an empty sheet.
func (b *book) add(name string) error {
	b.sheets++
	if b.sheets == 1 {
		return b.file.SetSheetName(b.file.GetSheetName(0), name)
	}
	_, err := b.file.NewSheet(name)
	return err
}

// write packs the file.
func (b *book) write(w io.Writer) error {
	// Fixed on purpose: a date of writing would make every file differ.
	err := b.file.SetDocProps(&excelize.DocProperties{
		Creator: "Keelmark", LastModifiedBy: "Keelmark",
		Created: "2000-01-01T00:00:00Z", Modified: "2000-01-01T00:00:00Z",
	})
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	if err := b.file.Write(&packed); err != nil {
		return err
	}
	return repack(w, packed.Bytes())
}

func writeSheet(f *excelize.File, styles styles, name string, s Sheet) error {
	if len(s.Rows) > maxRows {
		return fmt.Errorf("%d rows are more than the %d that a sheet can hold", len(s.Rows), maxRows)
	}
	if err := setPage(f, name); err != nil {
		return err
	}
	for _, c := range s.Charts { // before the rows: what is streamed closes the sheet
		if err := c.draw(f, name); err != nil {
			return fmt.Errorf("chart %q: %w", c.Title, err)
		}
	}
	out, err := f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	if s.Frozen > 0 {
		err := out.SetPanes(&excelize.Panes{
			Freeze: true, YSplit: s.Frozen, ActivePane: "bottomLeft",
			TopLeftCell: fmt.Sprintf("A%d", s.Frozen+1),
		})
		if err != nil {
			return err
		}
	}
	for i, width := range widths(s) {
		if err := out.SetColWidth(i+1, i+1, width); err != nil {
			return err
		}
	}
	for i, row := range s.Rows {
		if len(row) > maxColumns {
			return fmt.Errorf("row %d: %d columns are more than the %d that a sheet can hold", i+1, len(row), maxColumns)
		}
		cells := make([]any, len(row))
		for j, c := range row {
			at := fmt.Sprintf("%s%d", record.ColumnName(j+1), i+1)
			if cells[j], err = c.stored(styles); err != nil {
				return fmt.Errorf("%s: %w", at, err)
			}
			if c.across > 1 {
				if err := out.MergeCell(at, fmt.Sprintf("%s%d", record.ColumnName(j+c.across), i+1)); err != nil {
					return fmt.Errorf("%s: %w", at, err)
				}
			}
		}
		if err := out.SetRow(fmt.Sprintf("A%d", i+1), cells); err != nil {
			return fmt.Errorf("row %d: %w", i+1, err)
		}
	}
	return out.Flush()
}

// setPage has the sheet printed across the page, as wide as the page and as long as need be.
func setPage(f *excelize.File, name string) error {
	landscape, fit, wide, long := "landscape", true, 1, 0
	if err := f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	return f.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &landscape, FitToWidth: &wide, FitToHeight: &long})
}

// widths fits each column to its longest cell, titles apart, which run over several.
func widths(s Sheet) []float64 {
	var out []float64
	for _, row := range s.Rows {
		for j, c := range row {
			for len(out) <= j {
				out = append(out, minWidth)
			}
			if c.across <= 1 {
				out[j] = max(out[j], min(maxWidth, float64(utf8.RuneCountInString(c.shown()))+2))
			}
		}
	}
	for j := range out {
		if j < len(s.Widths) && s.Widths[j] > 0 {
			out[j] = s.Widths[j]
		}
	}
	return out
}

// sheetNames cleans the names: no character that spreadsheet programs forbid, at most 31 characters, no two
// alike whatever the case of their letters.
func sheetNames(sheets []Sheet) []string {
	var names []string
	taken := make(map[string]bool)
	for i, s := range sheets {
		clean := strings.Map(func(r rune) rune {
			if strings.ContainsRune(`:\/?*[]`, r) || r < ' ' || r == utf8.RuneError {
				return ' '
			}
			return r
		}, s.Name)
		clean = strings.Trim(strings.TrimSpace(clean), "'")
		if clean == "" || strings.EqualFold(clean, "history") { // a name kept by one program for itself
			clean = strings.TrimSpace(fmt.Sprintf("%s sheet %d", clean, i+1))
		}
		name := cut(clean, maxNameChars)
		for n := 2; taken[strings.ToLower(name)]; n++ {
			suffix := fmt.Sprintf(" %d", n)
			name = cut(clean, maxNameChars-len(suffix)) + suffix
		}
		taken[strings.ToLower(name)] = true
		names = append(names, name)
	}
	return names
}

// cut shortens s to at most n UTF-16 units, in which spreadsheet programs count, without breaking a character.
func cut(s string, n int) string {
	units := 0
	for i, r := range s {
		units++
		if r > 0xFFFF {
			units++
		}
		if units > n {
			return strings.TrimRight(s[:i], " '")
		}
	}
	return s
}

// repack writes the zip again with fixed times, the content types first, the rest by name.
func repack(w io.Writer, packed []byte) error {
	in, err := zip.NewReader(bytes.NewReader(packed), int64(len(packed)))
	if err != nil {
		return err
	}
	const first = "[Content_Types].xml" // readers that stream the file want it first
	slices.SortFunc(in.File, func(a, b *zip.File) int {
		switch {
		case a.Name == first:
			return -1
		case b.Name == first:
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	out := zip.NewWriter(w)
	for _, entry := range in.File {
		from, err := entry.Open()
		if err != nil {
			return err
		}
		to, err := out.CreateHeader(&zip.FileHeader{
			Name: entry.Name, Method: zip.Deflate,
			Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC), // the earliest that a zip can say
		})
		var part []byte
		if err == nil {
			part, err = io.ReadAll(from)
		}
		from.Close()
		if err != nil {
			return err
		}
		if entry.Name == first {
			part = inOrder(part)
		}
		if _, err := to.Write(part); err != nil {
			return err
		}
	}
	return out.Close()
}

// inOrder sorts the file types that a workbook with charts declares: the library lists them in a random order.
func inOrder(contentTypes []byte) []byte {
	const open, shut = "<Default ", "</Default>"
	text := string(contentTypes)
	from, to := strings.Index(text, open), strings.LastIndex(text, shut)
	if from < 0 || to < from {
		return contentTypes
	}
	kinds := strings.SplitAfter(text[from:to+len(shut)], shut)
	slices.Sort(kinds)
	return []byte(text[:from] + strings.Join(kinds, "") + text[to+len(shut):])
}

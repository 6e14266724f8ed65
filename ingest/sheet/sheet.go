// Package sheet turns a keeper's file into grids of cells: xlsx, csv, tsv and other delimited text, ods.
//
// A cell keeps its text as stored, the type the file gives it, its number format and whether a formula made
// it; nothing is converted here. A file is proved sound before it is read: every zip entry is read to its end
// within limits, XML that declares entities is refused, and a damaged, protected or disguised file is refused
// with a sentence that says what it is and what to do.
//
// It refuses to guess what a cell means (package layout does), to follow anything outside the file, and to
// write.
package sheet

// Kind is the type that the file gives a cell.
type Kind uint8

// The kinds. Text files have only Blank and Text.
const (
	Blank   Kind = iota
	Text         // Raw is the text
	Number       // Raw is the number with a decimal point, at full precision
	Date         // a Number whose format shows a date or a time; Raw is the serial or an ISO date
	Percent      // a Number whose format is a percentage; Raw is the fraction
	Bool         // Raw is "1" or "0"
	Error        // Raw is the error's text, "#DIV/0!"
)

// Cell is one cell as stored.
type Cell struct {
	Raw     string
	Format  string // number format code, "" for general; not for text files
	Comment string // a note hung on the cell
	Kind    Kind
	Formula bool // made by a formula; Raw is then the cached value. Kind Blank means that the file holds none
	Struck  bool // struck through, which keepers use for birds that are gone
}

// Row is one row with its number as the spreadsheet shows it. Cells[0] is column A; trailing blanks may be
// missing. Rows without any cell may be missing. Rows that the file repeats may share their Cells, so these
// are to be read, not changed.
type Row struct {
	N      int32
	Hidden bool
	Cells  []Cell
}

// Span is a block of merged cells, ends included, counted from 1.
type Span struct{ Row1, Col1, Row2, Col2 int32 }

// Grid is one sheet, read whole. Sheet is "" for text files.
type Grid struct {
	File, Sheet string
	Hidden      bool // the whole sheet
	Date1904    bool
	HiddenCols  []int32 // rising, none beyond the last column that holds a cell
	Merged      []Span  // cut to the block that holds cells; they never overlap and cover a million cells at most
	Rows        []Row   // N rises
}

// Book is one file, read.
type Book struct {
	File  string
	Hash  string   // SHA-256 of the content, hexadecimal
	Notes []string // what was decided with its evidence: "read as Windows-1252, fields parted by ;"
	Grids []Grid
}

// The size of a sheet as OOXML, ODF and the spreadsheet programs bound it.
const (
	maxRow = 1 << 20
	maxCol = 1 << 14
)

// Limits bound what a file may ask of the machine. A field that is zero takes a default that fits any keeper's
// workbook.
type Limits struct {
	File    int64 // bytes of the file itself
	Growth  int64 // bytes that all zip entries together may gain by unpacking
	Ratio   int64 // unpacked to packed size of one entry, once it exceeds 4 MB
	Entries int   // entries of a zip
	Part    int64 // bytes of one small part of a workbook: its list of sheets, its styles, its comments
	Memory  int64 // bytes that the cells read may take; a text file may be half as large
}

// defaults leave room for half a million rows of six columns and keep a hostile file below 300 MB and some
// seconds. A sheet as spreadsheet programs write it shrinks 8- to 15-fold when packed.
func defaults() Limits {
	return Limits{
		File:    512 << 20,
		Growth:  192 << 20,
		Ratio:   100,
		Entries: 10_000,
		Part:    8 << 20,
		Memory:  224 << 20,
	}
}

package workbook

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

// Cell is one cell to write. The zero Cell is empty. Make others with Text, Number, Date, Bool, Formula,
// Heading and Title, and change their look with the methods, which return a changed copy.
type Cell struct {
	kind   kind
	text   string // of Text, and the expression of Formula
	number float64
	across int
	style  style
	runs   []excelize.RichTextRun // of Text in several faces
}

type kind uint8

const (
	empty kind = iota
	text
	number
	boolean
	formula
)

// style is the look of a cell; its zero value is the program's own.
type style struct {
	format  string // number format code
	bold    bool
	large   bool
	italic  bool
	shaded  bool
	centred bool
	left    bool
	struck  bool
	quoted  bool // keeps text as text when the cell is edited
	form    look // of the sheets of the blank workbook
}

// Text is a cell of text, whatever the text looks like. Control characters that no file can hold are shown as
// U+FFFD; text beyond 32,767 characters is cut and ends in "[cut]".
func Text(s string) Cell {
	if c := cut(s, maxCellChars); c != s {
		s = cut(s, maxCellChars-len(cutMark)) + cutMark
	}
	return Cell{kind: text, text: s, style: style{quoted: runs(s)}}
}

const cutMark = " [cut]"

// runs reports whether a spreadsheet program might take typed text for a formula or a command.
//
// Source: the characters named by OWASP's page on CSV injection: = + - @, tab, carriage return, line feed
// and the full-width forms of the four signs; and leading blanks or quotation marks before any of them.
func runs(s string) bool {
	s = strings.TrimLeft(s, " \u00a0'\"")
	return s != "" && strings.ContainsRune("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20|", []rune(s)[0])
}

// Number is a number shown with the given decimals (0 to 10). The number itself is stored whole.
func Number(v float64, decimals int) Cell {
	format := "0"
	if decimals > 0 {
		format += "." + strings.Repeat("0", min(decimals, 10))
	}
	return Cell{kind: number, number: v, style: style{format: format}}
}

// Date is a civil day, stored as spreadsheet programs store dates, shown as 2025-03-01 at the left of its cell. A
// day before March 1900, which programs count differently, is written as text.
func Date(d record.Day) Cell {
	const epoch = 25569 // serial of 1970-01-01 in the 1900 date system, ECMA-376 part 1, 18.17.4.1
	serial := float64(d) + epoch
	if serial < 61 {
		return Text(d.String())
	}
	return Cell{kind: number, number: serial, style: style{format: "yyyy-mm-dd", left: true}}
}

// Bool is TRUE or FALSE.
func Bool(v bool) Cell {
	c := Cell{kind: boolean}
	if v {
		c.number = 1
	}
	return c
}

// Formula is a formula, written without its equals sign, with the value that it has now, shown with the given
// decimals. It is the only way to write one; never pass it text that a file or a person brought.
func Formula(expression string, value float64, decimals int) Cell {
	c := Number(value, decimals)
	c.kind, c.text = formula, expression
	return c
}

// Heading is the heading of a column.
func Heading(s string) Cell {
	c := Text(s)
	c.style.bold, c.style.shaded = true, true
	return c
}

// Title is a large title that runs over the given number of columns.
func Title(s string, across int) Cell {
	c := Text(s).Across(across)
	c.style.bold, c.style.large = true, true
	return c
}

// Across merges the cell with those to its right, n columns in all. Cells given there are lost.
func (c Cell) Across(n int) Cell { c.across = n; return c }

// Bold prints the cell in bold.
func (c Cell) Bold() Cell { c.style.bold = true; return c }

// Italic prints the cell in italics.
func (c Cell) Italic() Cell { c.style.italic = true; return c }

// Shaded gives the cell the grey ground of a heading.
func (c Cell) Shaded() Cell { c.style.shaded = true; return c }

// Centred sets the cell in the middle of its column.
func (c Cell) Centred() Cell { c.style.centred = true; return c }

// Struck strikes the cell through.
func (c Cell) Struck() Cell { c.style.struck = true; return c }

// Format shows a number or date by a number format code of spreadsheet programs, such as "d mmm yy".
func (c Cell) Format(code string) Cell { c.style.format = code; return c }

// shown is about what the cell shows, for fitting its column.
func (c Cell) shown() string {
	switch c.kind {
	case text:
		line, _, _ := strings.Cut(c.text, "\n")
		return line
	case boolean:
		return "FALSE"
	case number, formula:
		if strings.ContainsAny(c.style.format, "dmy") {
			return c.style.format
		}
		_, decimals, _ := strings.Cut(c.style.format, ".")
		return strconv.FormatFloat(c.number, 'f', len(decimals), 64)
	}
	return ""
}

// stored is the cell as the writing library takes it; nil for an empty cell without a look of its own.
func (c Cell) stored(styles styles) (any, error) {
	if c.kind == empty && c.style == (style{}) {
		return nil, nil
	}
	id, err := styles.id(c.style)
	if err != nil {
		return nil, err
	}
	out := excelize.Cell{StyleID: id}
	switch c.kind {
	case text:
		out.Value = c.text
		if c.runs != nil {
			out.Value = c.runs
		}
	case boolean:
		out.Value = c.number == 1
	case number, formula:
		if math.IsNaN(c.number) || math.IsInf(c.number, 0) {
			return nil, fmt.Errorf("%v is not a number that a cell can hold; leave the cell empty", c.number)
		}
		out.Value = c.number
		if c.kind == formula {
			out.Formula = c.text
		}
	}
	return out, nil
}

// styles registers looks with the file, each once.
type styles struct {
	file *excelize.File
	ids  map[style]int
}

func (s styles) id(look style) (int, error) {
	if look == (style{}) {
		return 0, nil
	}
	if id, ok := s.ids[look]; ok {
		return id, nil
	}
	out := excelize.Style{Font: &excelize.Font{Bold: look.bold, Italic: look.italic, Strike: look.struck, Size: 11, Family: "Calibri"}}
	if look.large {
		out.Font.Size = 14
	}
	if look.format != "" {
		out.CustomNumFmt = &look.format
	}
	if look.shaded {
		out.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"E7E6E6"}}
		out.Border = []excelize.Border{{Type: "bottom", Style: 1, Color: "7F7F7F"}}
	}
	switch {
	case look.centred:
		out.Alignment = &excelize.Alignment{Horizontal: "center"}
	case look.left:
		out.Alignment = &excelize.Alignment{Horizontal: "left"}
	}
	look.form.dress(&out)
	id, err := s.file.NewStyle(&out)
	if err != nil {
		return 0, err
	}
	if look.quoted {
		// The library knows the mark but offers no way to set it, and would give this look the number of its
		// unmarked twin: so a marked copy is added.
		formats := s.file.Styles.CellXfs
		marked, yes := formats.Xf[id], true
		marked.QuotePrefix = &yes
		formats.Xf = append(formats.Xf, marked)
		formats.Count = len(formats.Xf)
		id = formats.Count - 1
	}
	s.ids[look] = id
	return id, nil
}

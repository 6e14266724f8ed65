package workbook

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

// form is one sheet of the blank workbook: headings in its first row, ruled lines below, and what each column
// offers, tells and checks.
type form struct {
	name     string
	portrait bool
	columns  []column
	rows     [][]Cell // known lines, in the order of the columns
	foot     string   // printed at the foot of each page
}

// column is one column of a form. The formulas mark and remind are those of the first line below the heading;
// they name a column by its heading, [Ring], their own as [.], and the whole line as [line].
type column struct {
	heading string
	width   float64 // in characters
	format  string  // number format; asTyped keeps text as text
	tip     string  // shown when a cell of the column is entered
	offer   []string
	named   string // a name in the workbook whose cells are offered
	limits  limits
	warning string // shown before something else is taken; "" lets anything pass
	mark    string // true where a cell asks for a second look: white on dark blue
	remind  string // true where a cell that is empty says something: pale blue
}

// limits bound what may be entered without a warning.
type limits struct {
	kind      excelize.DataValidationType // 0 for none
	low, high any
}

const (
	asTyped   = "@"
	lastLine  = 5000 // of the lines that are checked; far more than a season of a flock has
	lineUnits = 20.0 // height of a line in points: room for handwriting
	headUnits = 34.0 // height of the headings in points: two lines of words
)

// look is the dress of a cell of the blank workbook; all of it is in one typeface that every program has, or has
// one of the same widths for.
type look struct {
	plain bool // the typeface alone
	head  bool // a heading: bold on pale blue over a dark blue line
	ruled bool // hairlines around
	blue  bool // dark blue type
	wrap  bool // the text runs over several lines
	wide  bool // of a ruled cell: as wrap
	title bool // 18 point
}

const (
	typeface = "Arial"
	typeSize = 10.0
	darkBlue = "004D80"
	paleBlue = "BFDDEE"
	hairline = 7 // border style of ECMA-376 part 1, 18.18.3 as the writing library counts them
	thinLine = 1
	thick    = 2
)

// dress adds the look to a style.
func (l look) dress(s *excelize.Style) {
	if l == (look{}) {
		return
	}
	s.Font.Family, s.Font.Size = typeface, typeSize
	around := func(kind int, color string) []excelize.Border {
		var out []excelize.Border
		for _, side := range []string{"left", "right", "top", "bottom"} {
			out = append(out, excelize.Border{Type: side, Style: kind, Color: color})
		}
		return out
	}
	if l.head {
		s.Font.Bold = true
		s.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{paleBlue}}
		s.Border = append(around(hairline, darkBlue)[:3], excelize.Border{Type: "bottom", Style: thick, Color: darkBlue})
		s.Alignment = &excelize.Alignment{Vertical: "center", WrapText: true, Horizontal: "left", Indent: 1}
	}
	if l.ruled {
		s.Border = around(hairline, darkBlue)
		s.Alignment = &excelize.Alignment{Vertical: "center", Horizontal: "left", Indent: 1, WrapText: l.wide}
	}
	if l.plain {
		s.Alignment = &excelize.Alignment{Horizontal: "left", Indent: 1}
	}
	if l.wrap {
		s.Alignment = &excelize.Alignment{Vertical: "center", WrapText: true, Horizontal: "left", Indent: 1}
	}
	if l.blue {
		s.Font.Color = darkBlue
	}
	if l.title {
		s.Font.Size = 18
	}
}

// form writes a form as a sheet of its own.
func (b *book) form(f form, p page) error {
	if err := b.add(f.name); err != nil {
		return err
	}
	if err := b.paper(f, p); err != nil {
		return err
	}
	for i, c := range f.columns {
		if err := b.validate(f, c, i+1); err != nil {
			return fmt.Errorf("column %s: %w", c.heading, err)
		}
		if err := b.marks(f, c, i+1); err != nil {
			return fmt.Errorf("column %s: %w", c.heading, err)
		}
	}
	ruled := max(p.lines(f.portrait), len(f.rows)+5)
	if err := b.lateLines(f, ruled+2); err != nil {
		return err
	}
	return b.cells(f, ruled)
}

// cells writes headings, known lines and ruled empty lines.
func (b *book) cells(f form, ruled int) error {
	out, err := b.file.NewStreamWriter(f.name)
	if err != nil {
		return err
	}
	head := make([]Cell, len(f.columns))
	for i, c := range f.columns {
		if err := out.SetColWidth(i+1, i+1, c.width); err != nil {
			return err
		}
		plain, err := b.styles.id(style{format: c.format, form: look{plain: true}})
		if err != nil {
			return err
		}
		if err := out.SetColStyle(i+1, i+1, plain); err != nil {
			return err
		}
		head[i] = Text(c.heading)
		head[i].style.form.head = true
	}
	err = out.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, ActivePane: "bottomLeft", TopLeftCell: "A2"})
	if err != nil {
		return err
	}
	if err := b.row(out, 1, head, headUnits); err != nil {
		return err
	}
	for n := range ruled {
		line := make([]Cell, len(f.columns))
		if n < len(f.rows) {
			copy(line, f.rows[n])
		}
		for i, c := range f.columns {
			if line[i].style.format == "" {
				line[i].style.format = c.format
			}
			line[i].style.form.ruled = true
		}
		if err := b.row(out, n+2, line, lineUnits); err != nil {
			return err
		}
	}
	return out.Flush()
}

// row writes one row of a height in points; 0 leaves the height to the program that shows it.
func (b *book) row(out *excelize.StreamWriter, n int, cells []Cell, height float64) error {
	stored := make([]any, len(cells))
	for i, c := range cells {
		var err error
		if stored[i], err = c.stored(b.styles); err != nil {
			return fmt.Errorf("%s%d: %w", record.ColumnName(i+1), n, err)
		}
	}
	var opts []excelize.RowOpts
	if height > 0 {
		opts = append(opts, excelize.RowOpts{Height: height})
	}
	return out.SetRow(fmt.Sprintf("A%d", n), stored, opts...)
}

// lines is the range of a column's lines.
func lines(n int) string {
	name := record.ColumnName(n)
	return fmt.Sprintf("%s2:%s%d", name, name, lastLine)
}

// cell is the formula's name of a column in the first line below the headings.
func (f form) cell(heading string) (string, error) {
	for i, c := range f.columns {
		if c.heading == heading {
			return "$" + record.ColumnName(i+1) + "2", nil
		}
	}
	return "", fmt.Errorf("no column is headed %q", heading)
}

// resolve puts cells in the place of the headings that a formula of the n-th column names.
func (f form) resolve(formula string, n int) (string, error) {
	var out strings.Builder
	for {
		before, rest, ok := strings.Cut(formula, "[")
		out.WriteString(before)
		if !ok {
			return out.String(), nil
		}
		heading, after, ok := strings.Cut(rest, "]")
		if !ok {
			return "", fmt.Errorf("%q: a heading is not closed", formula)
		}
		switch heading {
		case "line":
			fmt.Fprintf(&out, "$A2:$%s2", record.ColumnName(len(f.columns)))
		case ".":
			fmt.Fprintf(&out, "$%s2", record.ColumnName(n))
		default:
			cell, err := f.cell(heading)
			if err != nil {
				return "", err
			}
			out.WriteString(cell)
		}
		formula = after
	}
}

// Paper sizes. Source: ECMA-376 part 1, 18.3.1.63.
const paperLetter, paperA4 = 1, 9

// page is the paper that the workbook prints on.
type page struct{ letter bool }

// Margins in inches. Common practice, no source.
const (
	sideMargin, topMargin, bottomMargin = 0.4, 0.75, 0.65
	runningMargin                       = 0.35
)

// lines is how many ruled lines fit below the headings of a page.
func (p page) lines(portrait bool) int {
	const pointsPerInch = 72
	short, long := 8.27, 11.69 // A4 in inches
	if p.letter {
		short, long = 8.5, 11
	}
	tall := short
	if portrait {
		tall = long
	}
	return int(((tall-topMargin-bottomMargin)*pointsPerInch - headUnits) / lineUnits)
}

// paper sets how the form prints: one page wide, headings on every page, its name and the flock's above, the
// caution below.
func (b *book) paper(f form, p page) error {
	orientation, size, wide, long := "landscape", paperA4, 1, 0
	if f.portrait {
		orientation = "portrait"
	}
	if p.letter {
		size = paperLetter
	}
	fit, height, custom, tab := true, lineUnits, true, paleBlue
	if err := b.file.SetSheetProps(f.name, &excelize.SheetPropsOptions{FitToPage: &fit, DefaultRowHeight: &height, CustomHeight: &custom, TabColorRGB: &tab}); err != nil {
		return err
	}
	if err := b.margins(f.name); err != nil {
		return err
	}
	if err := b.file.SetPageLayout(f.name, &excelize.PageLayoutOptions{Orientation: &orientation, Size: &size, FitToWidth: &wide, FitToHeight: &long}); err != nil {
		return err
	}
	if err := b.running(f.name, f.foot); err != nil {
		return err
	}
	return b.file.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: fmt.Sprintf("'%s'!$1:$1", f.name), Scope: f.name})
}

func (b *book) margins(sheet string) error {
	side, top, bottom, run := sideMargin, topMargin, bottomMargin, runningMargin
	return b.file.SetPageMargins(sheet, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &bottom, Header: &run, Footer: &run})
}

// running sets the lines above and below each page.
func (b *book) running(sheet, foot string) error {
	escape := func(s string) string { return strings.ReplaceAll(cut(s, 150), "&", "&&") }
	head := `&L&"-,Bold"&14 ` + escape(sheet)
	if b.flock != "" {
		head += `&R&11 ` + escape(b.flock)
	}
	return b.file.SetHeaderFooter(sheet, &excelize.HeaderFooterOptions{OddHeader: head, OddFooter: `&L&9 ` + escape(foot) + `&R&9Page &P of &N`})
}

// typeface sets the typeface by whose figures programs measure the widths of columns.
func (b *book) typeface() error {
	size := typeSize
	b.file.Styles.Fonts.Font[0].Sz.Val = &size
	return b.file.SetDefaultFont(typeface)
}

package sheet

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// sheetReader reads the body of one sheet of an xlsx.
type sheetReader struct {
	*workbook
	*scanner
	grid *Grid
	part string

	row  Row
	line []Cell // of the row at hand; used again for the next
	last int32  // column of the last cell, 0 at the start of a row
	text []byte // of the value at hand, never nil; used again

	formula []byte // at hand; used again

	sorted  bool
	merged  []Span
	hidden  [][2]int32
	unnamed bool // a cell refers to a style that the file does not hold
}

// readSheet reads the cells of a sheet, its hidden rows and columns and its merged blocks.
func (w *workbook) readSheet(g *Grid, part string) error {
	r := &sheetReader{workbook: w, grid: g, part: part, text: make([]byte, 0, 64), sorted: true}
	err := w.scan(part, "sheet "+g.Sheet, func(s *scanner) error {
		r.scanner = s
		if err := r.body(); err != nil {
			if r.row.N > 0 {
				return fmt.Errorf("near row %d: %w", r.row.N, err)
			}
			return err
		}
		return r.finish()
	})
	if r.unnamed {
		w.note("sheet %s: some cells refer to styles that the file has lost; their dates may show as numbers", g.Sheet)
	}
	return err
}

func (r *sheetReader) body() error {
	for {
		t, err := r.next()
		if err != nil || t == tokenEOF {
			return err
		}
		if t != tokenStart {
			continue
		}
		switch depth := r.depth(); {
		case depth == 1 && string(r.name) != "worksheet":
			return fmt.Errorf("it is no sheet but <%s>", r.name)
		case depth == 3 && string(r.name) == "row":
			err = r.readRow()
		case depth == 3 && string(r.name) == "col":
			err = r.readCol()
		case depth == 3 && string(r.name) == "mergeCell":
			err = r.readMerge()
		case depth == 2 && string(r.name) == "legacyDrawing" && r.parts[strings.ToLower(relsOf(r.part))] == nil:
			err = lost(relsOf(r.part)) // and the comments with it
		}
		if err != nil {
			return err
		}
	}
}

// readRow reads <row> to its end.
func (r *sheetReader) readRow() error {
	r.row = Row{N: r.row.N + 1}
	for rest := r.attrs; ; {
		name, value, more, err := cutAttr(rest)
		if err != nil {
			return err
		}
		if name == nil {
			break
		}
		switch string(name) {
		case "r":
			n, err := strconv.ParseUint(string(value), 10, 32)
			if err != nil || n < 1 || n > maxRow {
				return fmt.Errorf("it numbers a row %q; a sheet has 1 to %d", value, maxRow)
			}
			r.row.N = int32(n)
		case "hidden":
			r.row.Hidden = isTrue(value)
		}
		rest = more
	}
	if r.row.N > maxRow {
		return fmt.Errorf("it has more than %d rows", maxRow)
	}
	r.line, r.last = r.line[:0], 0
	for {
		t, err := r.next()
		switch {
		case err != nil:
			return err
		case t == tokenEnd && r.depth() < 3:
			return r.keepRow()
		case t == tokenStart && r.depth() == 4 && string(r.name) == "c":
			if err := r.readCell(); err != nil {
				return err
			}
		}
	}
}

func (r *sheetReader) keepRow() (err error) {
	if r.row.Cells, err = r.store.row(r.line); err != nil || r.row.Cells == nil {
		return err
	}
	if n := len(r.grid.Rows); n > 0 && r.grid.Rows[n-1].N >= r.row.N {
		r.sorted = false
	}
	r.grid.Rows = append(r.grid.Rows, r.row)
	return nil
}

// readCell reads <c> to its end.
func (r *sheetReader) readCell() error {
	col, kind, styled := r.last+1, byte('n'), style{kind: Number}
	for rest := r.attrs; ; {
		name, value, more, err := cutAttr(rest)
		if err != nil {
			return err
		}
		if name == nil {
			break
		}
		switch string(name) {
		case "r":
			var row int32
			if col, row, err = parseRef(value); err != nil {
				return fmt.Errorf("%w, %q", err, value)
			}
			if row != r.row.N {
				return fmt.Errorf("the cell named %s stands in row %d", value, r.row.N)
			}
		case "s":
			n, err := strconv.Atoi(string(value))
			if err != nil || n < 0 {
				return errMalformed
			}
			if n < len(r.styles) {
				styled = r.styles[n]
			} else if n > 0 {
				r.unnamed = true
			}
		case "t":
			switch string(value) {
			case "s", "b", "e", "d", "n":
				kind = value[0]
			case "str":
				kind = 't'
			case "inlineStr":
				kind = 'i'
			default:
				return fmt.Errorf("a cell is of the unknown type %q", value)
			}
		}
		rest = more
	}
	if col > maxCol {
		return fmt.Errorf("it has more than %d columns", maxCol)
	}
	cell := Cell{}
	text, struck, err := r.cellContent(&cell, &kind)
	if err != nil {
		return err
	}
	if text != nil {
		if err := r.typed(&cell, kind, text, styled); err != nil {
			return err
		}
		cell.Struck = cell.Kind != Blank && (styled.struck || struck || cell.Struck)
	}
	r.last = col
	if cell == (Cell{}) {
		return nil
	}
	for int32(len(r.line)) < col {
		r.line = append(r.line, Cell{})
	}
	if r.line[col-1] != (Cell{}) {
		return fmt.Errorf("the cell in column %d of row %d stands there twice", col, r.row.N)
	}
	r.line[col-1] = cell
	return nil
}

// cellContent reads the children of <c>: value, formula, inline text. The text is nil where there is no value.
func (r *sheetReader) cellContent(cell *Cell, kind *byte) (text []byte, struck bool, err error) {
	for {
		t, err := r.next()
		switch {
		case err != nil:
			return nil, false, err
		case t == tokenEnd && r.depth() < 4:
			return text, struck, nil
		case t != tokenStart:
			continue
		}
		switch string(r.name) {
		case "v":
			r.text, err = r.scanner.text(r.text[:0])
			text = r.text
		case "is":
			*kind = 'i'
			r.text, struck, err = r.richText(r.text[:0])
			text = r.text
		case "f":
			r.formula, err = r.scanner.text(r.formula[:0])
			cell.Formula = !isTruth(r.formula)
		default:
			err = r.skip()
		}
		if err != nil {
			return nil, false, err
		}
	}
}

// typed gives the cell its kind and text from the type letter of <c>.
func (r *sheetReader) typed(cell *Cell, kind byte, text []byte, styled style) (err error) {
	switch kind {
	case 's':
		n, err := strconv.Atoi(string(text))
		if err != nil || n < 0 || n >= r.shared.n {
			return fmt.Errorf("a cell refers to text number %q of %d", text, r.shared.n)
		}
		item := r.shared.at(n)
		cell.Raw, cell.Struck = item.text, item.struck
		if cell.Raw != "" || cell.Formula {
			cell.Kind, cell.Format = Text, styled.format
		}
		return nil
	case 't':
		text = unescape(text)
		cell.Kind, cell.Format = Text, styled.format
	case 'i':
		cell.Kind, cell.Format = Text, styled.format
	case 'b':
		truth := isTrue(text)
		if text = append(text[:0], '0'); truth {
			text[0] = '1'
		}
		cell.Kind = Bool
	case 'e':
		cell.Kind = Error
	case 'd':
		text = bytes.TrimSuffix(text, []byte("Z"))
		text = bytes.TrimSuffix(text, []byte("T00:00:00"))
		cell.Kind, cell.Format = Date, styled.format
	default:
		if text = bytes.TrimSpace(text); len(text) == 0 {
			return nil
		}
		number, ok := plainNumber(text)
		cell.Kind, cell.Format, text = styled.kind, styled.format, number
		if !ok {
			cell.Kind = Text
		}
	}
	if len(text) == 0 && !cell.Formula {
		*cell = Cell{}
		return nil
	}
	if !utf8.Valid(text) {
		return errUTF8
	}
	cell.Raw, err = r.store.keep(text)
	return err
}

func (r *sheetReader) readCol() error {
	var got [3][]byte
	for i, name := range []string{"min", "max", "hidden"} {
		var err error
		if got[i], err = r.attr(name); err != nil {
			return err
		}
	}
	if !isTrue(got[2]) {
		return nil
	}
	first, err1 := strconv.ParseUint(string(got[0]), 10, 31)
	last, err2 := strconv.ParseUint(string(got[1]), 10, 31)
	if err1 != nil || err2 != nil || first < 1 {
		return errMalformed
	}
	if len(r.hidden) == maxCol {
		return errMalformed
	}
	r.hidden = append(r.hidden, [2]int32{int32(first), int32(last)})
	return nil
}

func (r *sheetReader) readMerge() error {
	ref, err := r.attr("ref")
	if err != nil {
		return err
	}
	first, last, found := bytes.Cut(ref, []byte(":"))
	if !found {
		return nil // one cell
	}
	c1, r1, err1 := parseRef(first)
	c2, r2, err2 := parseRef(last)
	if err1 != nil || err2 != nil || c2 < c1 || r2 < r1 {
		return fmt.Errorf("it merges the block %q", ref)
	}
	if len(r.merged) == mostMerged {
		return errMerged
	}
	r.merged = append(r.merged, Span{r1, c1, r2, c2})
	return nil
}

// finish puts rows in order and cuts hidden columns and merged blocks to the cells that there are.
func (r *sheetReader) finish() error {
	g := r.grid
	if !r.sorted {
		slices.SortStableFunc(g.Rows, func(a, b Row) int { return int(a.N - b.N) })
		for i := 1; i < len(g.Rows); i++ {
			if g.Rows[i].N == g.Rows[i-1].N {
				return fmt.Errorf("row %d stands there twice", g.Rows[i].N)
			}
		}
	}
	return g.cut(r.hidden, r.merged)
}

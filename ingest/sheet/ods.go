package sheet

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"unicode/utf8"
)

// odsReader reads the tables of an OpenDocument spreadsheet.
// Source for all names: OpenDocument 1.3 part 3. Attributes are matched with the prefixes that the standard
// uses and all programs write.
type odsReader struct {
	*archive
	*scanner
	styles odsStyles

	grid    *Grid
	tableAt int // depth of the table at hand

	row      int32 // last row, 0 at the start of a table
	col      int32 // last column that was described
	defaults []columnStyle
	hidden   [][2]int32
	merged   []Span

	line    []Cell
	text    []byte
	comment []byte
	piece   []byte     // of a paragraph
	got     [12][]byte // by attributes
	values  []byte     // what got points to
}

// columnStyle is the style of the columns up to last whose cells name none.
type columnStyle struct {
	last  int32
	style style
}

func (a *archive) odsGrids() ([]Grid, error) {
	manifest, err := a.small("META-INF/manifest.xml")
	if err != nil {
		return nil, err
	}
	if bytes.Contains(manifest, []byte("encryption-data")) {
		return nil, &Refusal{Reason: Encrypted, What: "is protected by a password", Cure: "open it, remove the password and save it again"}
	}
	o := &odsReader{archive: a, styles: newODSStyles()}
	if a.parts["styles.xml"] != nil {
		if err := a.scan("styles.xml", "its styles", o.document(nil)); err != nil {
			return nil, err
		}
	}
	var grids []Grid
	if err := a.scan("content.xml", "its tables", o.document(&grids)); err != nil {
		return nil, err
	}
	if len(grids) == 0 {
		return nil, &Refusal{Reason: MissingPart, What: "has no sheet with cells", Cure: cureResave}
	}
	return grids, nil
}

// document walks styles.xml or content.xml: styles first, then tables, which are only read where grids is given.
func (o *odsReader) document(grids *[]Grid) func(*scanner) error {
	return func(s *scanner) error {
		o.scanner = s
		for {
			t, err := s.next()
			if err != nil || t == tokenEOF {
				return err
			}
			if t != tokenStart || s.depth() == 1 {
				continue
			}
			switch name := string(s.name); name {
			case "body", "spreadsheet":
			case "automatic-styles", "styles":
				err = o.styles.read(s, &o.store)
			case "table":
				if grids == nil {
					err = s.skip()
					break
				}
				var g Grid
				if g, err = o.table(); err == nil {
					*grids = append(*grids, g)
				}
			default:
				err = s.skip()
			}
			if err != nil {
				return err
			}
		}
	}
}

// table reads the table that was just opened.
func (o *odsReader) table() (Grid, error) {
	g := Grid{}
	name, err := o.attr("table:name")
	if err != nil {
		return g, err
	}
	styleName, err := o.attr("table:style-name")
	if err != nil {
		return g, err
	}
	g.Sheet, g.Hidden = string(name), o.styles.hiddenTables[string(styleName)]
	o.grid, o.row, o.col, o.tableAt = &g, 0, 0, o.depth()
	o.defaults, o.hidden, o.merged = nil, nil, nil
	fail := func(err error) (Grid, error) {
		return g, o.refuseXML(fmt.Sprintf("sheet %s, near row %d", g.Sheet, o.row), err)
	}
	for {
		t, err := o.next()
		if err != nil {
			return fail(err)
		}
		if t == tokenEnd && o.depth() < o.tableAt {
			break
		}
		if t != tokenStart {
			continue
		}
		switch string(o.name) {
		case "table-row-group", "table-rows", "table-header-rows", "table-columns", "table-column-group", "table-header-columns":
		case "table-column":
			err = o.column()
		case "table-row":
			err = o.tableRow()
		default:
			err = o.skip()
		}
		if err != nil {
			return fail(err)
		}
	}
	if err := g.cut(o.hidden, o.merged); err != nil {
		return fail(err)
	}
	return g, nil
}

// attributes gives the attributes wanted, in their order; nil where one is missing. They last until the next call.
func (o *odsReader) attributes(names ...string) ([][]byte, error) {
	clear(o.got[:])
	o.values = o.values[:0]
	for rest := o.scanner.attrs; ; {
		name, value, more, err := cutAttr(rest)
		if err != nil || name == nil {
			return o.got[:len(names)], err
		}
		if i := slices.Index(names, string(name)); i >= 0 {
			from := len(o.values)
			if o.values, err = appendText(o.values, value, false); err != nil {
				return nil, err
			}
			o.got[i] = o.values[from:len(o.values):len(o.values)]
		}
		rest = more
	}
}

// repeats reads a count of repetitions, which is 1 where it is not given, and at most most.
func repeats(b []byte, most int32) (int32, error) {
	if b == nil {
		return 1, nil
	}
	n, err := strconv.ParseUint(string(b), 10, 31)
	if err != nil || n < 1 {
		return 0, errMalformed
	}
	return min(int32(n), most), nil
}

func isCollapsed(visibility []byte) bool {
	return string(visibility) == "collapse" || string(visibility) == "filter"
}

func (o *odsReader) column() error {
	got, err := o.attributes("table:number-columns-repeated", "table:visibility", "table:default-cell-style-name")
	if err != nil {
		return err
	}
	n, err := repeats(got[0], maxCol)
	if err != nil {
		return err
	}
	first := o.col + 1
	if o.col = min(o.col+n, maxCol); first > o.col {
		return o.skip()
	}
	if isCollapsed(got[1]) {
		o.hidden = append(o.hidden, [2]int32{first, o.col})
	}
	o.defaults = append(o.defaults, columnStyle{o.col, o.styles.cell(string(got[2]))})
	return o.skip()
}

// tableRow reads the row that was just opened. Repeated rows share their cells, and are counted as if each had
// its own, so that what follows is bounded too.
func (o *odsReader) tableRow() error {
	got, err := o.attributes("table:number-rows-repeated", "table:visibility")
	if err != nil {
		return err
	}
	n, err := repeats(got[0], maxRow)
	if err != nil {
		return err
	}
	hidden := isCollapsed(got[1])
	o.line = o.line[:0]
	first := o.row + 1
	for depth, col := o.depth(), int32(0); ; {
		t, err := o.next()
		if err != nil {
			return err
		}
		if t == tokenEnd && o.depth() < depth {
			break
		}
		if t != tokenStart {
			continue
		}
		switch string(o.name) {
		case "table-cell", "covered-table-cell":
			if col, err = o.tableCell(first, col); err != nil {
				return err
			}
		default:
			if err := o.skip(); err != nil {
				return err
			}
		}
	}
	cells, err := o.store.row(o.line)
	if err != nil {
		return err
	}
	if cells == nil {
		o.row = min(o.row+n, maxRow)
		return nil
	}
	if int64(o.row)+int64(n) > maxRow {
		return fmt.Errorf("it has more than %d rows", maxRow)
	}
	if err := o.store.take(int64(n-1) * (rowSize + int64(len(cells))*cellSize)); err != nil {
		return err
	}
	for range n {
		o.row++
		o.grid.Rows = append(o.grid.Rows, Row{N: o.row, Hidden: hidden, Cells: cells})
	}
	return nil
}

// tableCell reads the cell that was just opened, after column col, and gives the column of its last repetition.
func (o *odsReader) tableCell(row, col int32) (int32, error) {
	got, err := o.attributes("table:number-columns-repeated", "office:value-type", "calcext:value-type", "office:value",
		"office:date-value", "office:time-value", "office:boolean-value", "office:string-value", "table:formula",
		"table:style-name", "table:number-columns-spanned", "table:number-rows-spanned")
	if err != nil {
		return 0, err
	}
	n, err := repeats(got[0], maxCol)
	if err != nil {
		return 0, err
	}
	wide, err := repeats(got[10], maxCol)
	if err != nil {
		return 0, err
	}
	high, err := repeats(got[11], maxRow)
	if err != nil {
		return 0, err
	}
	struck, err := o.cellText()
	if err != nil {
		return 0, err
	}
	if wide > 1 || high > 1 {
		if len(o.merged) == mostMerged {
			return 0, errMerged
		}
		o.merged = append(o.merged, Span{row, col + 1, min(row+high-1, maxRow), min(col+wide, maxCol)})
	}
	cell, kind := Cell{Formula: got[8] != nil}, string(got[1])
	switch {
	case isTruth(bytes.TrimPrefix(got[8], []byte("of:="))):
		cell.Formula, kind = false, "boolean"
		got[6] = []byte(strconv.FormatBool(bytes.HasSuffix(got[8], []byte("=TRUE()"))))
	case string(got[2]) == "error":
		kind = "error"
	}
	raw := odsValue(&cell, kind, got[3:8], o.text)
	if !utf8.Valid(raw) || !utf8.Valid(o.comment) {
		return 0, errUTF8
	}
	if cell.Raw, err = o.store.keep(raw); err != nil {
		return 0, err
	}
	if cell.Comment, err = o.store.keep(o.comment); err != nil {
		return 0, err
	}
	last := col + n
	if cell == (Cell{}) {
		return min(last, maxCol), nil
	}
	if last > maxCol {
		return 0, fmt.Errorf("it has more than %d columns", maxCol)
	}
	if cell.Kind != Blank {
		st := o.cellStyle(col+1, got[9])
		cell.Format, cell.Struck = st.format, st.struck || struck
	}
	for int32(len(o.line)) < col {
		o.line = append(o.line, Cell{})
	}
	for range n {
		o.line = append(o.line, cell)
	}
	return last, nil
}

// cellStyle is the style that a cell names, else that of its column.
func (o *odsReader) cellStyle(col int32, name []byte) style {
	if name != nil {
		return o.styles.cell(string(name))
	}
	i, _ := slices.BinarySearchFunc(o.defaults, col, func(c columnStyle, col int32) int { return int(c.last - col) })
	if i < len(o.defaults) {
		return o.defaults[i].style
	}
	return style{}
}

package sheet

import (
	"fmt"
	"strings"
)

// separator is what parts the fields of a text file.
type separator struct {
	char byte // 0: the lines are not parted
	name string
}

// separators in the order in which they win where the evidence is equal.
func separators() []separator {
	return []separator{{'\t', "tabs"}, {';', "semicolons"}, {'|', "vertical bars"}, {',', "commas"}}
}

// delimited parts a text into rows and says by what. A row is a record: a quoted line break does not begin a
// new one, an empty line is one.
func (r *reading) delimited(text string) (Grid, string, error) {
	sep, evidence := separator{}, ""
	if first, rest, ok := strings.Cut(text, "\n"); ok && len(strings.TrimSpace(first)) == 5 && strings.HasPrefix(first, "sep=") {
		// A spreadsheet program takes this line as an instruction and does not show it.
		sep, evidence, text = separator{first[4], fmt.Sprintf("%q", first[4:5])}, " (its first line says so)", rest
	} else if sep, evidence = findSeparator(text); sep.char == 0 {
		if s := newSpaced(text); s != nil {
			return r.spaced(s)
		}
	}
	p := &parser{text: text, sep: sep.char, width: commonWidth(text, sep.char)}
	g := r.textGrid(text)
	var fields []string
	var cells []Cell
	for n := 1; p.pos < len(text); n++ {
		if n&0xfff == 0 && r.ctx.Err() != nil {
			return g, "", r.ctx.Err()
		}
		if n > maxTextRow && strings.TrimSpace(text[p.pos:]) == "" {
			break
		}
		if fields = p.record(fields[:0]); len(fields) > maxCol {
			return g, "", tooWide(n)
		}
		cells = cells[:0]
		for _, f := range fields {
			cells = append(cells, textCell(f))
		}
		if err := r.addRow(&g, n, cells); err != nil {
			return g, "", err
		}
	}
	if p.stray > 0 {
		r.note("%d quotation marks that open a field and never close it were read as plain characters", p.stray)
	}
	parted := "one column: nothing parts its lines in a regular way"
	if sep.char != 0 {
		parted = "fields parted by " + sep.name + evidence
	}
	return g, parted, nil
}

func tooWide(line int) error {
	return &Refusal{Reason: TooLarge, Place: fmt.Sprintf("line %d", line), What: fmt.Sprintf("has more than %d fields", maxCol), Cure: "check that the file has line ends, and delete what is not part of the table"}
}

func textCell(s string) Cell {
	if s == "" {
		return Cell{}
	}
	return Cell{Raw: s, Kind: Text}
}

// textGrid is an empty grid with room for the lines of the text, so that the list of rows need not grow.
func (r *reading) textGrid(text string) Grid {
	lines := max(strings.Count(text, "\n"), strings.Count(text, "\r")) + 1
	most := r.store.left/(rowSize+cellSize) + 1
	return Grid{Rows: make([]Row, 0, min(int64(lines), most, maxTextRow))}
}

func (r *reading) addRow(g *Grid, n int, cells []Cell) error {
	kept, err := r.store.row(cells)
	if err != nil || kept == nil {
		return err
	}
	if n > maxTextRow {
		return errFull
	}
	g.Rows = append(g.Rows, Row{N: int32(n), Cells: kept})
	return nil
}

// maxTextRow is how many lines of text are read: twice as many as a spreadsheet program shows.
const maxTextRow = 2 * maxRow

// findSeparator weighs the separators over the first records: how many have the commonest number of fields,
// and how many fields that is. Prose has commas too, but not the same number in each line.
func findSeparator(text string) (separator, string) {
	best, bestScore, evidence := separator{}, 0.25, ""
	for _, sep := range separators() {
		counts, records := fieldCounts(text, sep.char)
		width, same, parted := 0, 0, 0
		for n, times := range counts {
			if n < 2 {
				continue
			}
			parted += times
			if times > same || times == same && n > width {
				width, same = n, times
			}
		}
		if width < 2 {
			continue
		}
		share := (float64(same) + float64(parted-same)/2) / float64(records)
		if (sep.char == ',' || sep.char == ';') && float64(same) < 0.8*float64(records) && isProse(text, sep.char) {
			continue
		}
		if score := share * (1 - 1/float64(width)); score > bestScore+0.02 {
			best, bestScore = sep, score
			if evidence = ""; sep.char != ',' || same < records {
				evidence = fmt.Sprintf(" (%d of the first %d lines have %d)", same, records, width)
			}
		}
	}
	return best, evidence
}

// sample is how many records are looked at to find what parts the fields.
const sample = 500

// fieldCounts counts the records of a sample by their number of fields; empty lines do not count.
func fieldCounts(text string, sep byte) (counts map[int]int, records int) {
	counts = make(map[int]int)
	p := &parser{text: text, sep: sep}
	var fields []string
	for tries := 0; p.pos < len(text) && tries < 2*sample && records < sample; tries++ {
		fields = p.record(fields[:0])
		if len(fields) == 1 && strings.TrimSpace(fields[0]) == "" {
			continue
		}
		records++
		counts[len(fields)]++
	}
	return counts, records
}

// commonWidth is the number of fields that most records of a sample have.
func commonWidth(text string, sep byte) int {
	if sep == 0 {
		return 1
	}
	width, most := 1, 0
	counts, _ := fieldCounts(text, sep)
	for n, times := range counts {
		if times > most || times == most && n > width {
			width, most = n, times
		}
	}
	return width
}

// isProse reports whether most marks are followed by a space, as in sentences.
func isProse(text string, mark byte) bool {
	text = text[:min(len(text), 64<<10)]
	all, spaced := 0, 0
	for i := 0; i+1 < len(text); i++ {
		if text[i] == mark {
			all++
			if text[i+1] == ' ' {
				spaced++
			}
		}
	}
	return spaced*10 > all*6
}

// parser reads records by the common rules of delimited text (RFC 4180), and forgives: bare quotes within a
// field, text after a closing quote, rows of any length, and line ends of all three kinds.
type parser struct {
	text  string
	pos   int
	sep   byte
	width int // fields of the usual record, 0 while unknown

	stray  int // opening quotes that were read as plain characters
	wasted int // bytes looked through for closing quotes in vain
}

// record appends the fields of the next record; one more than a sheet can be wide where it holds too many.
func (p *parser) record(dst []string) []string {
	for len(dst) <= maxCol {
		field, more := p.field()
		dst = append(dst, field)
		if !more {
			break
		}
	}
	return dst
}

// field reads one field; more says that another follows in the same record.
func (p *parser) field() (field string, more bool) {
	if p.pos < len(p.text) && p.text[p.pos] == '"' && p.sep != 0 {
		if field, ok := p.quoted(); ok {
			tail, more := p.plain()
			return field + tail, more
		}
	}
	return p.plain()
}

func (p *parser) plain() (field string, more bool) {
	from := p.pos
	for i := from; i < len(p.text); i++ {
		switch c := p.text[i]; c {
		case '\n':
			p.pos = i + 1
			return p.text[from:i], false
		case '\r':
			p.pos = i + 1
			if p.pos < len(p.text) && p.text[p.pos] == '\n' {
				p.pos++
			}
			return p.text[from:i], false
		default:
			if c == p.sep && p.sep != 0 {
				p.pos = i + 1
				return p.text[from:i], true
			}
		}
	}
	p.pos = len(p.text)
	return p.text[from:], false
}

// quoted reads a field in quotes up to its closing quote. It gives up, and moves nothing, where the quote
// seems to be a stray one: it never closes, or what it would enclose looks like whole rows.
func (p *parser) quoted() (field string, ok bool) {
	if p.wasted > 4*len(p.text) {
		return "", false
	}
	start := p.pos + 1
	doubled := false
	for i := start; ; i++ {
		n := strings.IndexByte(p.text[i:], '"')
		if n < 0 {
			p.stray++
			p.wasted += len(p.text) - start
			return "", false
		}
		if i += n; i+1 < len(p.text) && p.text[i+1] == '"' {
			doubled = true
			i++
			continue
		}
		field = p.text[start:i]
		if p.looksLikeRows(field, p.text[i+1:]) {
			p.stray++
			p.wasted += len(field)
			return "", false
		}
		p.pos = i + 1
		if doubled {
			field = strings.ReplaceAll(field, `""`, `"`)
		}
		return field, true
	}
}

// looksLikeRows judges a quoted field that spans lines: it is followed by text in place of a separator, or a
// line in it has as many separators as a row.
func (p *parser) looksLikeRows(field, after string) bool {
	if !strings.ContainsAny(field, "\r\n") {
		return false
	}
	after = strings.TrimLeft(after, " ")
	if after != "" && after[0] != p.sep && after[0] != '\n' && after[0] != '\r' {
		return true
	}
	if p.width < 3 {
		return false
	}
	lines := strings.FieldsFunc(field, func(c rune) bool { return c == '\r' || c == '\n' })
	for _, line := range lines[min(1, len(lines)):] {
		if strings.Count(line, string(rune(p.sep))) >= p.width-1 {
			return true
		}
	}
	return false
}

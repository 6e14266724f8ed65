package ask

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// rowMark parts the texts of a row as an answer keeps them.
const rowMark = " | "

// RowText is what a row holds, empty cells left out, as an answer remembers it.
func RowText(row []string) string {
	var out []string
	for _, t := range row {
		if t = plainText(t); t != "" {
			out = append(out, t)
		}
	}
	return strings.Join(out, rowMark)
}

func plainText(t string) string {
	return strings.ReplaceAll(strings.Join(strings.Fields(t), " "), rowMark, " / ")
}

// AboutOneCell reports whether an answer is about the one cell that it names, not about a column, sheet or file.
func AboutOneCell(a settings.Answer) bool {
	return a.Cell != "" && strings.Contains(a.Key+" ", " "+a.Cell+" ")
}

// Moved is the answer as it reads once its cell stands at another place: the key names the cell, so it changes too.
func Moved(a settings.Answer, to record.Ref) settings.Answer {
	a.Key = strings.TrimSuffix(strings.Replace(a.Key+" ", " "+a.Cell+" ", " "+to.Key()+" ", 1), " ")
	a.Cell = to.Key()
	return a
}

// Sheet is what the cells of one sheet show, for answers to follow their rows.
type Sheet struct {
	Name string
	Rows [][]string
}

// Follow lets the answers about cells of a file follow their rows: a row put in, taken out or sorted elsewhere takes
// its answers along, and so does a sheet that has another name now. A row counts as the same where it still holds all
// that it held when it was answered, in that order; what was written into it since does no harm. It is called before
// a file is read; sheets is called only where there is something to follow.
//
// An answer whose row is not there as it was is not used: the keeper is told, and asked again. So an answer
// never comes to lie on another row that happens to hold the same text.
func (r *Replies) Follow(file string, sheets func() []Sheet) {
	var mine []settings.Answer
	for _, a := range r.from.All() {
		if a.Row != "" && AboutOneCell(a) && cellOf(a.Cell, file) {
			mine = append(mine, a)
		}
	}
	if len(mine) == 0 {
		return
	}
	var pages []page
	for _, s := range sheets() {
		pages = append(pages, pageOf(s))
	}
	for _, a := range mine {
		r.from.Delete(a.Key)
	}
	for _, a := range mine {
		to, ok := follow(a, file, pages)
		if !ok {
			r.lost = append(r.lost, a)
			continue
		}
		if to.Key() != a.Cell {
			r.moved = append(r.moved, movedAnswer{a, to})
		}
		r.from.Set(Moved(a, to))
	}
}

// movedAnswer is an answer that has followed its row.
type movedAnswer struct {
	was settings.Answer
	to  record.Ref
}

func (m movedAnswer) String() string {
	return fmt.Sprintf("%s: your answer %q to %q has followed its row from %s", m.to, m.was.Value, parse.Shown(m.was.Raw), m.was.Cell)
}

// page is a sheet made ready for the search.
type page struct {
	name  string
	texts [][]string
	where map[string][]int // rows by their whole text
}

func pageOf(s Sheet) page {
	p := page{s.Name, make([][]string, len(s.Rows)), map[string][]int{}}
	for i, row := range s.Rows {
		p.texts[i] = make([]string, len(row))
		for c, t := range row {
			p.texts[i][c] = plainText(t)
		}
		key := RowText(row)
		p.where[key] = append(p.where[key], i)
	}
	return p
}

// follow finds the cell of an answer in its own sheet, or, where no sheet has that name, in the only one that holds its row.
func follow(a settings.Answer, file string, pages []page) (record.Ref, bool) {
	var found []record.Ref
	for _, own := range []bool{true, false} {
		named := false
		for _, p := range pages {
			if inSheet(a.Cell, record.Ref{File: file, Sheet: p.name}) != own {
				continue
			}
			named = true
			if row, col, ok := find(a, p.texts, p.where); ok {
				found = append(found, record.Ref{File: file, Sheet: p.name, Row: int32(row + 1), Col: int32(col + 1)})
			}
		}
		if named && own {
			break
		}
	}
	if len(found) != 1 {
		return record.Ref{}, false
	}
	return found[0], true
}

func inSheet(cell string, sheet record.Ref) bool {
	sheet.Row, sheet.Col = 1, 1
	stem := strings.TrimSuffix(sheet.Key(), "A1")
	return strings.HasPrefix(cell, stem) && !strings.Contains(cell[len(stem):], "!")
}

// place is the row and column of a cell's key, counted from 0.
func place(cell string) (row, col int) {
	for _, c := range cell[strings.LastIndex(cell, "!")+1:] {
		switch {
		case c >= 'A' && c <= 'Z':
			col = col*26 + int(c-'A') + 1
		case c >= '0' && c <= '9':
			row = row*10 + int(c-'0')
		}
	}
	return row - 1, col - 1
}

// find returns the row that an answer was given for, and the column of its cell.
func find(a settings.Answer, texts [][]string, where map[string][]int) (row, col int, ok bool) {
	atRow, atCol := place(a.Cell)
	held := strings.Split(a.Row, rowMark)
	same := slices.Clone(where[a.Row])
	if len(same) == 0 { // something was written into the row since
		for i := range texts {
			if within(held, texts[i]) {
				same = append(same, i)
			}
		}
		// Of several rows that hold it all, none can be told to be the one, unless it is where it was.
		if len(same) > 1 && !slices.Contains(same, atRow) {
			return 0, 0, false
		}
	}
	slices.SortStableFunc(same, func(x, y int) int { return max(x-atRow, atRow-x) - max(y-atRow, atRow-y) })
	for _, i := range same {
		if c := columnOf(a, held, texts[i], atCol); c >= 0 {
			return i, c, true
		}
	}
	return 0, 0, false
}

// within reports whether all texts stand in a row, in their order.
func within(texts, row []string) bool {
	for _, t := range row {
		if len(texts) > 0 && t == texts[0] {
			texts = texts[1:]
		}
	}
	return len(texts) == 0
}

// columnOf finds the answer's cell in its row: where it was, else the one cell with its text. A cell that was empty stays
// where it was, as nothing tells where else it would be.
func columnOf(a settings.Answer, held, row []string, was int) int {
	raw := plainText(a.Raw)
	if !slices.Contains(held, raw) { // an empty cell, or a date that shows otherwise than it is stored
		return was
	}
	if was < len(row) && row[was] == raw {
		return was
	}
	if was < len(row) && was < len(held) && row[was] == held[was] { // the question was about more than the text of its cell: a bird, by its breed
		return was
	}
	if i := slices.Index(row, raw); i >= 0 && !slices.Contains(row[i+1:], raw) {
		return i
	}
	return -1
}

// lostWords tells of an answer whose row is not there as it was.
func (r *Replies) lostWords(a settings.Answer) string {
	return fmt.Sprintf("%s: you answered %q to %q in the row %q; no row reads so any more, so the answer is not used; where its question comes up again, answer it anew (%s)",
		a.Cell, a.Value, parse.Shown(a.Raw), a.Row, r.lineOf(a))
}

// lineOf names the place of an answer in its file.
func (r *Replies) lineOf(a settings.Answer) string {
	if a.Line == 0 {
		return r.from.File()
	}
	return fmt.Sprintf("%s, line %d", r.from.File(), a.Line)
}

package sheet

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// piece is a field of a line in which spaces part the fields, with its place in characters.
type piece struct {
	text       string
	start, end int
}

// spaced is a text whose fields are parted by spaces.
type spaced struct {
	text  string
	gap   string // the spaces that part two fields, at least
	width int    // fields of a full line
	full  int    // lines of the sample that have as many
	busy  int    // lines of the sample that are not empty
}

// newSpaced reads a text as columns parted by two spaces or more, else by single spaces where nearly every line
// has the same number of fields and one of them is always a number; nil where neither fits.
func newSpaced(text string) *spaced {
	for _, gap := range []string{"  ", " "} {
		s := &spaced{text: text, gap: gap}
		counts := make(map[int]int)
		for n, line := range s.lines {
			if n > sample {
				break
			}
			if len(line) > 0 {
				s.busy++
				counts[len(line)]++
			}
		}
		for n, times := range counts {
			if n > 1 && (times > s.full || times == s.full && n > s.width) {
				s.width, s.full = n, times
			}
		}
		enough := s.full*10 >= s.busy*8 || s.width > 2 && s.full*10 >= s.busy*6
		if gap == " " {
			enough = s.width >= 3 && s.full >= 3 && s.full*20 >= s.busy*19 && s.hasNumbers() && !s.dated()
		}
		if s.width > 1 && s.full > 1 && enough {
			return s
		}
	}
	return nil
}

// dated reports whether most lines begin with a date in words, "4 Oct 2025" or "Sat 4 October": single spaces then part the
// words of a diary, and no columns.
func (s *spaced) dated() bool {
	n, months := 0, 0
	for i, line := range s.lines {
		if i > sample {
			break
		}
		if len(line) == 0 {
			continue
		}
		n++
		for _, p := range line[:min(len(line), 3)] {
			word := strings.ToLower(strings.Trim(p.text, ".,:"))
			if len(word) >= 3 && strings.Contains(" jan feb mar apr may jun jul aug sep oct nov dec mai okt dez ", " "+word[:3]+" ") && strings.Trim(word, "abcdefghijklmnopqrstuvwxyz") == "" {
				months++
				break
			}
		}
	}
	return months*2 > n
}

// lines yields the pieces of each line with its number, counted from 1. The slice is used again.
func (s *spaced) lines(yield func(int, []piece) bool) {
	var line []piece
	p := &parser{text: s.text}
	for n := 1; p.pos < len(s.text); n++ {
		raw, _ := p.plain()
		line = pieces(line[:0], raw, s.gap)
		if !yield(n, line) {
			return
		}
	}
}

// pieces parts a line at each run of spaces that holds gap, up to one piece more than a sheet can be wide.
func pieces(dst []piece, line, gap string) []piece {
	for at := 0; len(dst) <= maxCol; {
		blank := len(line) - len(strings.TrimLeft(line, " "))
		line, at = line[blank:], at+blank
		if line == "" {
			return dst
		}
		end := strings.Index(line, gap)
		if end < 0 {
			end = len(strings.TrimRight(line, " "))
		}
		n := utf8.RuneCountInString(line[:end])
		dst = append(dst, piece{line[:end], at, at + n})
		line, at = line[end:], at+n
	}
	return dst
}

// hasNumbers reports whether some column holds a number in every full line of the sample but one, the heading.
func (s *spaced) hasNumbers() bool {
	numbers, full := make([]int, s.width), 0
	for n, line := range s.lines {
		if n > sample {
			break
		}
		if len(line) != s.width {
			continue
		}
		full++
		for i, f := range line {
			if _, ok := plainNumber([]byte(f.text)); ok {
				numbers[i]++
			}
		}
	}
	for _, n := range numbers {
		if n >= full-1 {
			return true
		}
	}
	return false
}

// columns gives the characters that each column takes over all full lines, and whether these are apart, so
// that a shorter line can be put under them.
func (s *spaced) columns() (blocks []piece, apart bool) {
	for _, line := range s.lines {
		if len(line) != s.width {
			continue
		}
		if blocks == nil {
			blocks = append(blocks, line...)
		}
		for i, f := range line {
			blocks[i].start, blocks[i].end = min(blocks[i].start, f.start), max(blocks[i].end, f.end)
		}
	}
	for i := 1; i < len(blocks); i++ {
		if blocks[i].start < blocks[i-1].end {
			return blocks, false
		}
	}
	return blocks, true
}

// spaced makes rows of such a text. A line with fewer fields has an empty cell somewhere; which one shows only
// where the columns are lined up.
func (r *reading) spaced(s *spaced) (Grid, string, error) {
	g := r.textGrid(s.text)
	blocks, apart := s.columns()
	var cells []Cell
	var shifted []string
	for n, line := range s.lines {
		if n&0xfff == 0 && r.ctx.Err() != nil {
			return g, "", r.ctx.Err()
		}
		if len(line) > maxCol {
			return g, "", tooWide(n)
		}
		short := len(line) > 1 && len(line) < s.width
		var at []int
		if short && apart {
			at = under(line, blocks)
		}
		cells = append(cells[:0], make([]Cell, len(line))...)
		if at != nil {
			cells = append(cells, make([]Cell, s.width-len(line))...)
		} else if short && len(shifted) <= 10 {
			shifted = append(shifted, fmt.Sprint(n))
		}
		for i, f := range line {
			if at != nil {
				i = at[i]
			}
			cells[i] = textCell(f.text)
		}
		if err := r.addRow(&g, n, cells); err != nil {
			return g, "", err
		}
	}
	if len(shifted) > 0 {
		more := ""
		if len(shifted) > 10 {
			shifted, more = shifted[:10], " and others"
		}
		r.note("lines %s%s have fewer fields than the rest and spaces cannot show which cell is empty: check these, or save the file with commas", strings.Join(shifted, ", "), more)
	}
	return g, fmt.Sprintf("fields parted by spaces (%d of the first %d lines have %d)", s.full, s.busy, s.width), nil
}

// under finds the column below which each piece of a line stands; nil where one stands below none, below two,
// or two below the same.
func under(line []piece, blocks []piece) []int {
	at := make([]int, 0, len(line))
	for _, f := range line {
		found := -1
		for i, b := range blocks {
			if f.start < b.end && b.start < f.end {
				if found >= 0 {
					return nil
				}
				found = i
			}
		}
		if found < 0 || len(at) > 0 && found <= at[len(at)-1] {
			return nil
		}
		at = append(at, found)
	}
	return at
}

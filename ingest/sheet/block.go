package sheet

import (
	"cmp"
	"errors"
	"slices"
	"strings"
)

var (
	errOverlap = errors.New("its merged cells overlap")
	errMerged  = errors.New("it merges an absurd number of cells")
)

// mostMerged bounds the merged blocks of a sheet, and the cells in all of them once they are cut as below.
const mostMerged = 1 << 20

// extent is the last row and column that hold a cell.
func (g *Grid) extent() (row, col int32) {
	for _, r := range g.Rows {
		row, col = r.N, max(col, int32(len(r.Cells)))
	}
	return row, col
}

// cut sets hidden columns and merged blocks, cut to the block that holds cells, so that an absurd one costs
// nothing later. Blocks that are one cell wide and high by then, or lie outside, are dropped.
func (g *Grid) cut(hidden [][2]int32, merged []Span) error {
	lastRow, lastCol := g.extent()
	isHidden := make([]bool, lastCol+1)
	for _, h := range hidden {
		for c := h[0]; c <= min(h[1], lastCol); c++ {
			if isHidden[c] {
				break // given twice; the rest would only cost time
			}
			isHidden[c] = true
		}
	}
	for c, yes := range isHidden {
		if yes {
			g.HiddenCols = append(g.HiddenCols, int32(c))
		}
	}
	for _, m := range merged {
		m.Row2, m.Col2 = min(m.Row2, lastRow), min(m.Col2, lastCol)
		if m.Row1 > m.Row2 || m.Col1 > m.Col2 || m.Row1 == m.Row2 && m.Col1 == m.Col2 {
			continue
		}
		g.Merged = append(g.Merged, m)
	}
	return g.disjoint()
}

// disjoint checks that no two merged blocks overlap, by sweeping down the rows with the blocks that are open
// at each, kept by column.
func (g *Grid) disjoint() error {
	slices.SortFunc(g.Merged, func(a, b Span) int {
		if a.Row1 != b.Row1 {
			return int(a.Row1 - b.Row1)
		}
		return int(a.Col1 - b.Col1)
	})
	_, lastCol := g.extent()
	busy := make([]int32, lastCol+1) // last row of the block that is open in each column
	area := int64(0)
	for _, m := range g.Merged {
		if area += int64(m.Row2-m.Row1+1) * int64(m.Col2-m.Col1+1); area > mostMerged {
			return errMerged
		}
		for c := m.Col1; c <= m.Col2; c++ {
			if busy[c] >= m.Row1 {
				return errOverlap
			}
			busy[c] = m.Row2
		}
	}
	return nil
}

// hung is a comment with the place of its cell.
type hung struct {
	row, col int32
	text     string
}

// hang puts comments on their cells, making cells where there are none. Several on one cell are joined by line
// breaks in the order given.
func (s *store) hang(g *Grid, comments []hung) error {
	slices.SortStableFunc(comments, func(a, b hung) int { return cmp.Or(int(a.row-b.row), int(a.col-b.col)) })
	find := func(rows []Row, n int32) (int, bool) {
		return slices.BinarySearchFunc(rows, n, func(r Row, n int32) int { return int(r.N - n) })
	}
	present := g.Rows
	for i, c := range comments {
		if _, found := find(present, c.row); !found && (i == 0 || comments[i-1].row != c.row) {
			if err := s.take(rowSize); err != nil {
				return err
			}
			g.Rows = append(g.Rows, Row{N: c.row})
		}
	}
	slices.SortFunc(g.Rows, func(a, b Row) int { return int(a.N - b.N) })
	for len(comments) > 0 {
		at := comments[0]
		var texts []string
		for len(comments) > 0 && comments[0].row == at.row && comments[0].col == at.col {
			texts, comments = append(texts, comments[0].text), comments[1:]
		}
		text := strings.Join(texts, "\n")
		i, _ := find(g.Rows, at.row)
		r := &g.Rows[i]
		need := max(int(at.col)-len(r.Cells), 0)
		if err := s.take(int64(len(text)) + int64(len(r.Cells)+need)*cellSize); err != nil {
			return err
		}
		r.Cells = append(slices.Clone(r.Cells), make([]Cell, need)...) // the row's cells may be shared
		r.Cells[at.col-1].Comment = text
	}
	return nil
}

package sheet

import (
	"errors"
	"strings"
	"unsafe"
)

// store keeps the cells and texts of one file, and counts what they take. It hands out large blocks piece by
// piece: an allocation a cell would cost more time than reading it.
type store struct {
	left  int64 // bytes that may still be taken
	text  strings.Builder
	cells []Cell
}

var errFull = errors.New("it holds more cells than can be read at once")

const (
	cellSize  = int64(unsafe.Sizeof(Cell{}))
	rowSize   = int64(unsafe.Sizeof(Row{}))
	textBlock = 64 << 10
	cellBlock = 4 << 10
)

func (s *store) take(n int64) error {
	if s.left -= n; s.left < 0 {
		return errFull
	}
	return nil
}

// keep makes a string of b that lives as long as the book.
func (s *store) keep(b []byte) (string, error) {
	if len(b) == 0 {
		return "", nil
	}
	if err := s.take(int64(len(b))); err != nil {
		return "", err
	}
	if len(b) > textBlock/8 {
		return string(b), nil
	}
	if s.text.Cap()-s.text.Len() < len(b) {
		s.text = strings.Builder{}
		s.text.Grow(textBlock)
	}
	from := s.text.Len()
	s.text.Write(b)
	return s.text.String()[from:], nil
}

// row keeps a copy of cells without its trailing blanks; nil where all are blank.
func (s *store) row(cells []Cell) ([]Cell, error) {
	n := len(cells)
	for n > 0 && cells[n-1] == (Cell{}) {
		n--
	}
	if n == 0 {
		return nil, nil
	}
	if err := s.take(int64(n)*cellSize + rowSize); err != nil {
		return nil, err
	}
	if n > cellBlock/8 {
		return append([]Cell(nil), cells[:n]...), nil
	}
	if cap(s.cells)-len(s.cells) < n {
		s.cells = make([]Cell, 0, cellBlock)
	}
	from := len(s.cells)
	s.cells = append(s.cells, cells[:n]...)
	return s.cells[from:len(s.cells):len(s.cells)], nil
}

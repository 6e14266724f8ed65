// Package record holds what a keeper wrote, as typed values that know their cell.
//
// It is the leaf that every other package rests on: dates with their precision, birds, observations,
// events, and what was asked, refused or set aside on the way in. A value that is missing is an absent
// record, never a zero or a NaN.
//
// It refuses to do anything: it reads no file, asks no clock, prints nothing, judges nothing, and imports
// the standard library only.
package record

import (
	"cmp"
	"strconv"
	"strings"
)

// Ref is the place of one cell. Row and Col count from 1 as the spreadsheet shows them; Row 0 stands for
// the whole sheet, and Sheet is "" for text files. A quoted line break in a text file does not start a new row.
type Ref struct {
	File  string // base name
	Sheet string
	Row   int32
	Col   int32
}

// Cell returns the spreadsheet name of the cell, such as "D14", or "" for a whole sheet.
func (r Ref) Cell() string {
	if r.Row <= 0 || r.Col <= 0 {
		return ""
	}
	return ColumnName(int(r.Col)) + strconv.Itoa(int(r.Row))
}

// String is the place as a sentence names it: "weights.xlsx, sheet Flock A, D14".
func (r Ref) String() string {
	return r.join(", sheet ", ", ")
}

// Key is the place as claims and answers store it: "weights.xlsx!Flock A!D14".
func (r Ref) Key() string {
	return r.join("!", "!")
}

func (r Ref) join(beforeSheet, beforeCell string) string {
	var b strings.Builder
	b.WriteString(r.File)
	if r.Sheet != "" {
		b.WriteString(beforeSheet)
		b.WriteString(r.Sheet)
	}
	switch c := r.Cell(); {
	case c != "":
		b.WriteString(beforeCell)
		b.WriteString(c)
	case r.Row > 0:
		b.WriteString(beforeCell)
		b.WriteString("row " + strconv.Itoa(int(r.Row)))
	}
	return b.String()
}

// Compare orders places by file, sheet, row and column.
func (r Ref) Compare(o Ref) int {
	return cmp.Or(
		strings.Compare(r.File, o.File),
		strings.Compare(r.Sheet, o.Sheet),
		cmp.Compare(r.Row, o.Row),
		cmp.Compare(r.Col, o.Col),
	)
}

// ColumnName turns a column number, counted from 1, into its letters: 1 is "A", 28 is "AB". It returns ""
// below 1.
func ColumnName(n int) string {
	var letters []byte
	for ; n > 0; n = (n - 1) / 26 {
		letters = append(letters, byte('A'+(n-1)%26))
	}
	for i, j := 0, len(letters)-1; i < j; i, j = i+1, j-1 {
		letters[i], letters[j] = letters[j], letters[i]
	}
	return string(letters)
}

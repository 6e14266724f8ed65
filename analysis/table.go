package analysis

import "strings"

// Column describes one column of a table.
type Column struct {
	Name string // as a data frame would call it: "weight_g"
	Head string // as a page prints it: "weight"
	Unit string // "" where it has none
	Doc  string
	// Decimals is how many digits to print after the point; columns of text ignore it.
	Decimals int
}

// Table is a result laid out in rows. A cell is a string, a float64, an int, a bool, or nil where there is
// nothing to show. Every row has one cell for each column.
type Table struct {
	Name    string // one word
	Caption string
	Columns []Column
	Rows    [][]any
}

// Harmless is a text as every csv of ours writes it: one that a spreadsheet program would run as a formula gets an
// apostrophe before it. A number is written as a number and never passes here.
//
// Source: the characters that begin a formula in spreadsheet programs, as listed under "CSV Injection" by OWASP.
func Harmless(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

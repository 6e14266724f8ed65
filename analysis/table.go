package analysis

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

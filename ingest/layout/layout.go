// Package layout finds out which cell of a keeper's sheet is what: headings, dates, birds, values, titles,
// totals, legends.
//
// A layout is a hypothesis: header lines here, these columns with these meanings, lines down or columns
// across, and so on. Each is scored by the share of the sheet's cells that it explains, and says on which
// evidence; the best is taken, and where a second fits about as well with another outcome, the doubt is
// handed on to be asked.
//
// It refuses to read values (package parse reads them, ingest decides units and birds) and to lose a cell:
// what belongs to no table is set aside with a reason.
package layout

import (
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// Shape names what kind of table was found.
type Shape string

// The shapes.
const (
	Long  Shape = "long"  // one line a look, the date in its own column
	Wide  Shape = "wide"  // one line a bird, one column a date or age
	Cards Shape = "cards" // facts beside their labels, alone or above a table
	Diary Shape = "diary" // a date and what was done, in words
)

// Sheet is what was made of one sheet.
type Sheet struct {
	View    *View // with its rows as lines
	Tables  []*Table
	Aside   []Block // what belongs to no table
	Legend  []parse.Definition
	Titles  []string // texts above and beside the tables, for units and years
	Score   float64  // share of the cells that the tables explain
	Notes   []string // the evidence, one sentence each
	Doubt   string   // why another layout fits about as well; "" where none does
	Subject Subject  // of its tables, the surest
}

// Block is a block of cells that was set aside.
type Block struct {
	View                         *View
	Line1, Field1, Line2, Field2 int
	Why                          string // "title", "total", "legend", "derived", "header", "other column"
}

// Table is one table: lines of fields under headings.
type Table struct {
	View    *View
	Shape   Shape
	Head    [2]int      // first and last header line; the last is before the first where there is none
	Fields  [2]int      // first and last field
	Lines   []int       // the lines that hold data
	Columns []Column    // one a field; then those of the table to the left that name the birds, where this one names none
	Fixed   []Fixed     // facts that hold for every line
	Groups  []Group     // facts that hold from a line on
	Total   []int       // lines of sums, means and counts
	Title   string      // nearest title above
	Above   map[int]int // line -> the line above that names its bird and day, where lines of one bird were parted
	Subject Subject     // whether it is about birds
	Marks   int         // for its being about birds, without what the words around it say
}

// Column is one column with its meaning.
type Column struct {
	Field   int
	Text    string       // heading as typed, levels joined by a space
	Head    []record.Ref // heading cells
	Means   parse.Meaning
	Could   []parse.Meaning // what else the heading may mean
	Site    string          // part of the bird or of the house, where the heading says one
	When    *Fixed          // the date or age over a column of values
	Who     *Fixed          // the bird over a column of values
	Session string          // "AM", where a date has several columns of the same values
	Weekday string          // "Tue", where the days of a week stand side by side
	Fate    Fate
}

// Fate says how a column is used.
type Fate uint8

// The fates of columns.
const (
	Key     Fate = iota // says when, which bird, or what the bird is
	Value               // holds looks: weights, scores, findings, eggs, treatments
	Beside              // stands beside values: units, notes, doses
	Other               // not understood; kept, never lost
	Derived             // computed from other cells
)

// Fixed is a fact that stands in one cell and holds for many.
type Fixed struct {
	Means parse.Meaning
	Cell  parse.Cell
	At    record.Ref
}

// Group is a line within a table that says something of the lines below it: "Pen 3", "March".
type Group struct {
	Line  int
	Fixed Fixed
}

// Column returns the first column of one of the fields, or nil.
func (t *Table) Column(fields ...parse.Field) *Column {
	for i := range t.Columns {
		for _, f := range fields {
			if t.Columns[i].Means.Field == f && t.Columns[i].Fate != Other {
				return &t.Columns[i]
			}
		}
	}
	return nil
}

// Fact returns the fixed fact of one of the fields, or nil.
func (t *Table) Fact(fields ...parse.Field) *Fixed {
	for i := range t.Fixed {
		for _, f := range fields {
			if t.Fixed[i].Means.Field == f {
				return &t.Fixed[i]
			}
		}
	}
	return nil
}

// Rename gives a column the field that the keeper says it holds.
func (c *Column) Rename(f parse.Field) {
	c.Means = parse.Meaning{Field: f, Unit: parse.UnitIn(c.Text), Parasite: parse.Parasite(c.Text), Confidence: 1}
	c.Means.Scale, _ = parse.ScaleIn(c.Text)
	switch {
	case f == parse.FieldDerived || f == parse.FieldTotal:
		c.Fate = Derived
	case valued(f):
		c.Fate = Value
	case beside(f):
		c.Fate = Beside
	default:
		c.Fate = Key
	}
}

// Heading is the heading as questions name it: as typed, or what the values are where only a date or age
// stands over them.
func (c *Column) Heading() string {
	if c.When != nil && c.Text == "" {
		return string(c.Means.Field)
	}
	return c.Text
}

// Package frame is the table of the notebook user: named columns of text, numbers or yes/no over the records
// of a flock, to be filtered, sorted, grouped and joined at will.
//
// A hidden row number leads from each row back to the cells that it came from, through every operation:
// Refs names them. Missing values are missing: they equal nothing, lie in no range, are left out of every
// summary, and sort last.
//
// It is the one door to gota, whose Filter and Arrange do the filtering and sorting. Its grouping, joins,
// statistics, readers and writers are not used: they merge unlike keys, order groups at random, turn gaps into
// wrong numbers and lose dates (each was measured). Grouping and joining here use Go maps in first-seen order,
// and numbers come from analysis/stat. It reads no file and judges nothing.
package frame

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"

	"keelmark/ingest/record"
)

// Kind is what a column holds.
type Kind uint8

// The kinds. Dates are text in the form 2025-03-01, which sorts and compares as dates do.
const (
	Text Kind = iota
	Number
	Bool
)

// String names what a column of the kind holds, as messages do.
func (k Kind) String() string { return [...]string{"texts", "numbers", "true or false"}[k] }

// Column is one named column. Only the slice of its Kind is used. A missing text or yes/no is marked in
// Missing; a missing number is NaN. The slices are not to be changed once they are in a Frame.
type Column struct {
	Name    string
	Kind    Kind
	Unit    string // of numbers, "" where they have none
	Text    []string
	Number  []float64
	Bool    []bool
	Missing []bool // nil where nothing is missing
}

// Len is the number of rows.
func (c *Column) Len() int {
	switch c.Kind {
	case Text:
		return len(c.Text)
	case Number:
		return len(c.Number)
	}
	return len(c.Bool)
}

// IsMissing reports whether row i has no value.
func (c *Column) IsMissing(i int) bool {
	if c.Kind == Number {
		return math.IsNaN(c.Number[i])
	}
	return c.Missing != nil && c.Missing[i]
}

// At returns the value of row i: a string, a float64, a bool, or nil where it is missing.
func (c *Column) At(i int) any {
	switch {
	case c.IsMissing(i):
		return nil
	case c.Kind == Text:
		return c.Text[i]
	case c.Kind == Number:
		return c.Number[i]
	}
	return c.Bool[i]
}

// Texts makes a column of texts in which an empty text is a missing one.
func Texts(name string, values []string) Column {
	c := Column{Name: name, Kind: Text, Text: values}
	for i, v := range values {
		if v == "" {
			if c.Missing == nil {
				c.Missing = make([]bool, len(values))
			}
			c.Missing[i] = true
		}
	}
	return c
}

// Numbers makes a column of numbers; NaN is missing.
func Numbers(name, unit string, values []float64) Column {
	return Column{Name: name, Kind: Number, Unit: unit, Number: values}
}

// Flags makes a column of true and false.
func Flags(name string, values []bool) Column { return Column{Name: name, Kind: Bool, Bool: values} }

// Frame is a table. It is never changed: every operation returns a new one.
type Frame struct {
	columns []*column
	rows    []int // hidden: for each row its number in origin
	origin  origin
}

// origin leads from a hidden row number to the cells that the row came from.
type origin func(row int) []record.Ref

// column is a Column that may not have been gathered yet: filtering, sorting and joining choose rows at once,
// and values only when they are asked for.
type column struct {
	name   string
	kind   Kind
	unit   string
	values *Column
	from   *column // where values is nil: the rows at of another column; -1 is missing
	at     []int
	made   *series.Series // the same values as gota holds them, once needed
}

// New makes a frame of columns of one length. Cells names, for each row, the cells it came from; it may be
// nil. A name that is empty or stands twice is an error.
func New(columns []Column, cells func(row int) []record.Ref) (*Frame, error) {
	f := &Frame{origin: cells}
	if cells == nil {
		f.origin = func(int) []record.Ref { return nil }
	}
	for i := range columns {
		c := columns[i]
		if strings.TrimSpace(c.Name) == "" {
			return nil, fmt.Errorf("column %d has no name; give it one", i+1)
		}
		if c.Len() != columns[0].Len() || c.Missing != nil && len(c.Missing) != c.Len() {
			return nil, fmt.Errorf("column %s has %d values where %d are wanted", c.Name, c.Len(), columns[0].Len())
		}
		if f.find(c.Name) != nil {
			return nil, fmt.Errorf("the column %s stands twice; rename one", c.Name)
		}
		f.columns = append(f.columns, &column{name: c.Name, kind: c.Kind, unit: c.Unit, values: &c})
	}
	if len(columns) > 0 {
		f.rows = upTo(columns[0].Len())
	}
	return f, nil
}

func upTo(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}

// Len is the number of rows.
func (f *Frame) Len() int { return len(f.rows) }

// Names lists the columns in order.
func (f *Frame) Names() []string {
	names := make([]string, len(f.columns))
	for i, c := range f.columns {
		names[i] = c.name
	}
	return names
}

// Column returns a column, with an error that lists the names where there is none of the name.
func (f *Frame) Column(name string) (*Column, error) {
	c, err := f.get(name)
	if err != nil {
		return nil, err
	}
	return c.gather(), nil
}

func (f *Frame) find(name string) *column {
	for _, c := range f.columns {
		if c.name == name {
			return c
		}
	}
	return nil
}

func (f *Frame) get(name string) (*column, error) {
	if c := f.find(name); c != nil {
		return c, nil
	}
	return nil, fmt.Errorf("there is no column %s; the columns are: %s", name, strings.Join(f.Names(), ", "))
}

// gather makes the values of a column that has been chosen from another.
func (c *column) gather() *Column {
	if c.values != nil {
		return c.values
	}
	from := c.from.gather()
	out := &Column{Name: c.name, Kind: c.kind, Unit: c.unit}
	gaps := from.Missing != nil || c.kind != Number && slices.Contains(c.at, -1)
	switch c.kind {
	case Text:
		out.Text = pick(from.Text, c.at, "")
	case Number:
		out.Number = pick(from.Number, c.at, math.NaN())
	case Bool:
		out.Bool = pick(from.Bool, c.at, false)
	}
	if gaps && c.kind != Number {
		missing := from.Missing
		if missing == nil {
			missing = make([]bool, from.Len())
		}
		out.Missing = pick(missing, c.at, true)
	}
	c.values, c.from, c.at = out, nil, nil
	return out
}

func pick[T any](values []T, at []int, none T) []T {
	out := make([]T, len(at))
	for i, j := range at {
		if j < 0 {
			out[i] = none
		} else {
			out[i] = values[j]
		}
	}
	return out
}

// take returns the rows at the positions given, in that order.
func (f *Frame) take(at []int) *Frame {
	return &Frame{columns: taken(f.columns, at), rows: pick(f.rows, at, -1), origin: f.origin}
}

// taken chooses rows of columns. Of a column that is itself only chosen, it chooses from the same source, so
// that values are copied once in the end; columns that share their choice share the new one.
func taken(columns []*column, at []int) []*column {
	out := make([]*column, len(columns))
	chosen := map[*int][]int{}
	for i, c := range columns {
		from, rows := c, at
		if c.values == nil && len(c.at) > 0 {
			key := &c.at[0]
			if chosen[key] == nil {
				chosen[key] = pick(c.at, at, -1)
			}
			from, rows = c.from, chosen[key]
		}
		out[i] = &column{name: c.name, kind: c.kind, unit: c.unit, from: from, at: rows}
	}
	return out
}

// Refs lists the cells that the rows came from, in order of place and each once.
func (f *Frame) Refs() []record.Ref {
	var refs []record.Ref
	for _, row := range f.rows {
		refs = append(refs, f.origin(row)...)
	}
	slices.SortFunc(refs, record.Ref.Compare)
	return slices.Compact(refs)
}

// RowRefs lists the cells that one row came from.
func (f *Frame) RowRefs(i int) []record.Ref { return f.origin(f.rows[i]) }

// gota holds missing texts as the text NaN, so that this very text has to look different inside.
const (
	gotaMissing = "NaN"
	nanAsText   = "\u2060NaN"
)

func inside(s string) string {
	if s == gotaMissing {
		return nanAsText
	}
	return s
}

// series returns a column as gota holds it, built from typed slices only.
func (c *column) series(name string) series.Series {
	if c.made == nil {
		var s series.Series
		switch v := c.gather(); v.Kind {
		case Number:
			s = series.New(v.Number, series.Float, name)
		case Text:
			texts := make([]string, len(v.Text))
			for i, t := range v.Text {
				texts[i] = inside(t)
				if v.IsMissing(i) {
					texts[i] = gotaMissing
				}
			}
			s = series.New(texts, series.String, name)
		case Bool:
			if v.Missing == nil {
				s = series.New(v.Bool, series.Bool, name)
				break
			}
			texts := make([]string, len(v.Bool))
			for i, b := range v.Bool {
				texts[i] = fmt.Sprint(b)
				if v.Missing[i] {
					texts[i] = gotaMissing
				}
			}
			s = series.New(texts, series.Bool, name)
		}
		c.made = &s
	}
	s := *c.made
	s.Name = name
	return s
}

// position is the name of the hidden column of row positions inside gota.
const position = "row"

// withPositions makes the gota frame of some columns, named c0, c1, ..., and of the position of each row.
func (f *Frame) withPositions(columns []*column) dataframe.DataFrame {
	all := make([]series.Series, 0, len(columns)+1)
	for i, c := range columns {
		all = append(all, c.series(fmt.Sprintf("c%d", i)))
	}
	return dataframe.New(append(all, series.New(upTo(f.Len()), series.Int, position))...)
}

// positions reads the row positions that gota left.
func positions(df dataframe.DataFrame) ([]int, error) {
	if df.Err != nil {
		return nil, df.Err
	}
	if df.Nrow() == 0 {
		return []int{}, nil
	}
	at := df.Col(position)
	if at.Err != nil {
		return nil, at.Err
	}
	return at.Int()
}

package frame

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"

	"keelmark/analysis"
)

// Table is the frame as a result table. Whole numbers print without decimals, others with up to three.
func (f *Frame) Table(name, caption string) analysis.Table {
	t := analysis.Table{Name: name, Caption: caption}
	columns := make([]*Column, len(f.columns))
	for i, c := range f.columns {
		columns[i] = c.gather()
		t.Columns = append(t.Columns, analysis.Column{Name: c.name, Head: c.name, Unit: c.unit, Decimals: decimals(columns[i])})
	}
	for row := range f.Len() {
		cells := make([]any, len(columns))
		for i, c := range columns {
			cells[i] = c.At(row)
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}

// decimals is how many digits after the point tell the values of a column apart, at most three.
func decimals(c *Column) int {
	for d := range 3 {
		scale := math.Pow(10, float64(d))
		short := true
		for _, x := range c.Number {
			if !math.IsNaN(x) && math.Abs(x*scale-math.Round(x*scale)) > 1e-9*max(1, math.Abs(x*scale)) {
				short = false
				break
			}
		}
		if short {
			return d
		}
	}
	return 3
}

// FromTable makes a frame of a result table. A column becomes numbers where all its cells are numbers or
// empty, yes/no where all are bools or empty, else text.
func FromTable(t analysis.Table) (*Frame, error) {
	columns := make([]Column, len(t.Columns))
	for i, head := range t.Columns {
		columns[i] = fromCells(head, t.Rows, i)
	}
	return New(columns, nil)
}

func fromCells(head analysis.Column, rows [][]any, i int) Column {
	numbers, flags, some := true, true, false
	for _, row := range rows {
		switch row[i].(type) {
		case nil:
			continue
		case float64, int:
			flags = false
		case bool:
			numbers = false
		default:
			numbers, flags = false, false
		}
		some = true
	}
	c := Column{Name: head.Name, Unit: head.Unit, Missing: make([]bool, len(rows))}
	switch {
	case some && numbers:
		c.Kind, c.Missing = Number, nil
	case some && flags:
		c.Kind = Bool
	}
	for r, row := range rows {
		switch c.Kind {
		case Number:
			c.Number = append(c.Number, cellNumber(row[i]))
		case Bool:
			v, known := row[i].(bool)
			c.Bool, c.Missing[r] = append(c.Bool, v), !known
		case Text:
			v := cellText(row[i])
			c.Text, c.Missing[r] = append(c.Text, v), v == ""
		}
	}
	return c
}

func cellNumber(v any) float64 {
	switch v := v.(type) {
	case float64:
		return v
	case int:
		return float64(v)
	}
	return math.NaN()
}

// CSV is the frame as comma-separated values with a line of names. Numbers have all the digits that tell them
// apart; a missing value is empty; a text that a spreadsheet program would run is made harmless.
func (f *Frame) CSV() ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	line := make([]string, len(f.columns))
	for i, name := range f.Names() {
		line[i] = analysis.Harmless(name)
	}
	if err := w.Write(line); err != nil {
		return nil, err
	}
	for row := range f.Len() {
		for i, c := range f.columns {
			v := c.gather().At(row)
			if line[i] = cellText(v); isText(v) {
				line[i] = analysis.Harmless(line[i])
			}
		}
		if err := w.Write(line); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return out.Bytes(), w.Error()
}

func isText(v any) bool {
	_, ok := v.(string)
	return ok
}

// cellText is a cell as plain text.
func cellText(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case int:
		return strconv.Itoa(v)
	case bool:
		return strconv.FormatBool(v)
	}
	return ""
}

package render

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"keelmark/analysis"
)

// nothingToShow stands in a cell without a value, so that it is not taken for a zero or a slip.
const nothingToShow = "–"

// TableOf lays out an analysis's table. Weights in grams are printed in the keeper's units, as the settings of
// the flock name them: "g" or "lb-oz". The first column names the rows.
func TableOf(t analysis.Table, units string) Table {
	out := Table{Name: t.Name, Caption: t.Caption}
	for i, c := range t.Columns {
		col := Column{Head: c.Head, Unit: c.Unit, RowHead: i == 0}
		if col.Head == "" {
			col.Head = c.Name
		}
		if numeric(t.Rows, i) {
			col.Align, col.NoWrap = Right, true
		}
		if c.Unit == "g" && units == string(analysis.PoundsOz) {
			col.Unit = ""
		}
		out.Columns = append(out.Columns, col)
	}
	for _, row := range t.Rows {
		cells := make([]Cell, len(t.Columns))
		for i, c := range t.Columns {
			var v any
			if i < len(row) {
				v = row[i]
			}
			cells[i] = Cell{Text: printed(v, c, units)}
		}
		out.Rows = append(out.Rows, cells)
	}
	return out
}

func numeric(rows [][]any, col int) bool {
	found := false
	for _, r := range rows {
		if col >= len(r) || r[col] == nil {
			continue
		}
		switch r[col].(type) {
		case float64, int:
			found = true
		default:
			return false
		}
	}
	return found
}

func printed(v any, c analysis.Column, units string) string {
	switch v := v.(type) {
	case nil:
		return nothingToShow
	case string:
		return v
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case int:
		return minus(strconv.Itoa(v))
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nothingToShow
		}
		if c.Unit == "g" && units == string(analysis.PoundsOz) {
			return analysis.PoundsOz.Weight(v)
		}
		s := strconv.FormatFloat(v, 'f', c.Decimals, 64)
		if strings.Trim(s, "-0.") == "" {
			s = strings.TrimPrefix(s, "-")
		}
		return minus(s)
	case fmt.Stringer:
		return v.String()
	}
	return fmt.Sprint(v)
}

// minus sets a true minus sign, which is as wide as a digit.
func minus(s string) string {
	if strings.HasPrefix(s, "-") {
		return "−" + s[1:]
	}
	return s
}

// head is a column's heading with its unit.
func (c Column) head() string {
	if c.Unit == "" {
		return c.Head
	}
	return c.Head + " (" + c.Unit + ")"
}

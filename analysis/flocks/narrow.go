package flocks

import (
	"fmt"
	"math"

	"keelmark/analysis"
)

// Narrow holds the numbers of Tables in one small table a measure, for a terminal or a page: flocks in the order given.
func (r *Result) Narrow() []analysis.Table {
	var out []analysis.Table
	for _, c := range r.Comparisons {
		if c.Hidden != "" || len(c.Rows) < 2 {
			continue
		}
		what, counts, unit := c.Measure.Named()
		caption := analysis.Capital(counts)
		if c.Scale != "" {
			caption += " (" + c.Scale + ")"
		}
		t := analysis.Table{Name: string(c.Measure), Caption: caption, Columns: []analysis.Column{{Name: "flock", Head: "flock"}, {Name: "birds", Head: "birds"}, {Name: "n", Head: "counted of"}, {Name: "rate", Head: what}}}
		if c.Measure.Judged() {
			t.Columns = append(t.Columns, analysis.Column{Name: "points", Head: "points from the others, mix allowed for"}, analysis.Column{Name: "rank", Head: "could be ranked"}, analysis.Column{Name: "side", Head: "beside the others"})
		}
		for _, row := range c.Rows {
			rate := fmt.Sprintf("%.1f", row.Rate)
			switch {
			case c.Measure == Growth:
				rate = "" // the mean logarithm of weights of all ages says nothing by itself
			case unit == "%":
				rate = fmt.Sprintf("%.0f %%", c.Measure.Points(row.Rate))
			}
			cells := []any{row.Code, row.Cell.Birds, math.Round(row.Cell.N), rate}
			if c.Measure.Judged() {
				p := c.Measure.Points
				rank := ""
				if row.Ranks[1] > 0 {
					rank = fmt.Sprintf("%d to %d of %d", row.Ranks[0], row.Ranks[1], len(c.Rows))
				}
				cells = append(cells, fmt.Sprintf("%s (%s to %s)", signed(p(row.Difference.Value)), tenth(p(row.Difference.Low)), tenth(p(row.Difference.High))), rank, string(row.Side))
			}
			t.Rows = append(t.Rows, cells)
		}
		out = append(out, t)
	}
	return out
}

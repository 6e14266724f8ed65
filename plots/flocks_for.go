package plots

import (
	"fmt"
	"keelmark/analysis"
	"math"
	"slices"
	"strings"

	"keelmark/analysis/flocks"
)

const (
	mostFlocks  = 60 // beyond which flocks are shown in the funnels only, where they need no line of their own
	stripFlocks = 30 // lines of a calendar that fit a page
)

// flocksFigures draws a comparison: effort first, then a funnel and the shrunken values of each measure, all measures side by
// side, and findings by season. Flocks keep the order given.
func flocksFigures(r *flocks.Result) []Figure {
	var out []Figure
	few := len(r.Flocks) <= mostFlocks
	if few {
		out = append(out, effortStrips(r)...)
	}
	judged := 0
	for _, c := range r.Comparisons {
		if c.Hidden != "" || !c.Measure.Judged() || len(c.Rows) < 2 {
			continue
		}
		judged++
		if f, ok := funnelFigure(c); ok {
			out = append(out, f)
		}
		if few {
			out = append(out, shrunkenFigure(c))
		}
	}
	if few && judged > 1 {
		out = append(out, sideBySide(r))
	}
	if few {
		out = append(out, seasonStrips(r)...)
	}
	return out
}

// figureName makes a name of a measure and its scale.
func figureName(head string, c flocks.Comparison) string {
	name := head + "-" + string(c.Measure)
	if c.Scale != "" {
		name += "-" + c.Scale
	}
	return strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') }), "-")
}

func measured(c flocks.Comparison) string {
	what, _, _ := c.Measure.Named()
	if c.Scale != "" {
		what += " (" + c.Scale + ")"
	}
	return what
}

// told lists the flocks that lie clearly above or below, in words.
func told(c flocks.Comparison) string {
	var parts []string
	for _, row := range c.Rows {
		if row.Side == flocks.Above || row.Side == flocks.Below {
			parts = append(parts, row.Code+" "+string(row.Side))
		}
	}
	if len(parts) == 0 {
		return "no flock can be told apart from the others"
	}
	return strings.Join(parts, ", ") + "; the rest cannot be told apart"
}

func isTold(row flocks.Row) bool { return row.Side == flocks.Above || row.Side == flocks.Below }

func funnelFigure(c flocks.Comparison) (Figure, bool) {
	p := c.Measure.Points
	f := Funnel{Measure: "points from the others", Size: sizeWord(c.Measure), Level: 0.95}
	least, most := math.Inf(1), 0.0
	for _, row := range c.Rows {
		if row.Size <= 0 {
			continue
		}
		f.Points = append(f.Points, FunnelPoint{row.Code, row.Size, p(row.Difference.Value), isTold(row)})
		least, most = min(least, row.Size), max(most, row.Size)
	}
	if len(f.Points) < 2 {
		return Figure{}, false
	}
	least, most = 0.8*least, 1.08*most
	const steps = 60
	for i := range steps + 1 {
		size := least + (most-least)*math.Pow(float64(i)/steps, 2) // closer where the funnel bends
		half, mid := c.Limit(size), c.Usual.Value
		f.Limits = append(f.Limits, FunnelLimit{size, p(mid - half), p(mid + half)})
	}
	caption := fmt.Sprintf("%s. Each ring is a flock, its mix of size, sex, age and season allowed for; within the band, flocks of that size cannot be told apart.", analysis.Counted(len(f.Points), "flock"))
	if len(f.Points) > mostFlocks {
		caption += " Only flocks outside are named."
	}
	return Figure{Name: figureName("funnel", c), Title: analysis.Capital(measured(c)) + ": the smaller the flock, the wider chance ranges", Caption: caption,
		Alt: fmt.Sprintf("%s of %s over the number of %s: %s.", analysis.Capital(measured(c)), analysis.Counted(len(f.Points), "flock"), f.Size, told(c)), Width: pageWidth, Height: 95, Panel: f}, true
}

func sizeWord(m flocks.Measure) string {
	switch m {
	case flocks.Lice, flocks.Mites:
		return "looks, those of one outbreak counted as less"
	case flocks.Fertile:
		return "eggs set, those of one setting counted as less"
	}
	return "birds"
}

// shrunkenFigure is the caterpillar of the values drawn towards the others.
func shrunkenFigure(c flocks.Comparison) Figure {
	p := c.Measure.Points
	r := Ranges{Axis: "points from the others, the mix of birds allowed for", Level: rangeLevel, Value: "drawn towards the others by how little is known", Plain: "before that"}
	for _, row := range c.Rows {
		plain := p(row.Difference.Value)
		s := row.Shrunken
		r.Rows = append(r.Rows, RangesRow{Label: fmt.Sprintf("%s (%d)", row.Code, row.Cell.Birds), Cells: []RangesCell{{Value: p(s.Value), Low: p(s.Low), High: p(s.High), Plain: &plain, Told: isTold(row)}}})
	}
	return Figure{Name: figureName("shrunken", c), Title: analysis.Capital(measured(c)) + ": flocks in the order given, not by rank", Caption: "Birds in brackets. A small flock is drawn further towards the others, because less is known of it.",
		Alt: fmt.Sprintf("%s of %s with their ranges: %s.", analysis.Capital(measured(c)), analysis.Counted(len(c.Rows), "flock"), told(c)), Width: pageWidth, Height: r.HeightFor(len(r.Rows)), Panel: r}
}

// sideBySide are small multiples: one column a measure, one row a flock.
func sideBySide(r *flocks.Result) Figure {
	panel := Ranges{Axis: "points from the others, each column on its own scale", Level: rangeLevel, Value: "difference, the mix of birds allowed for"}
	var columns []flocks.Comparison
	for _, c := range r.Comparisons {
		if c.Hidden == "" && c.Measure.Judged() && len(c.Rows) > 1 && len(columns) < 5 {
			columns, panel.Columns = append(columns, c), append(panel.Columns, measured(c))
		}
	}
	for i, f := range r.Flocks {
		row := RangesRow{Label: f.Code}
		for _, c := range columns {
			at := slices.IndexFunc(c.Rows, func(row flocks.Row) bool { return row.Flock == i })
			if at < 0 {
				row.Cells = append(row.Cells, RangesCell{Missing: "not recorded"})
				continue
			}
			d, p := c.Rows[at].Difference, c.Measure.Points
			row.Cells = append(row.Cells, RangesCell{Value: p(d.Value), Low: p(d.Low), High: p(d.High), Told: isTold(c.Rows[at])})
		}
		panel.Rows = append(panel.Rows, row)
	}
	return Figure{Name: "side-by-side", Title: "All measures side by side", Caption: fmt.Sprintf("%s in the order given. Ranges of 90 %%; a flock may lie high in one measure and low in another.", analysis.Counted(len(panel.Rows), "flock")),
		Alt: fmt.Sprintf("Differences of %s from the others in %d measures, most ranges with 0 in them.", analysis.Counted(len(panel.Rows), "flock"), len(columns)), Width: pageWidth, Height: panel.HeightFor(len(panel.Rows)), Panel: panel}
}

// effortStrips show how often each flock is looked at, by half year: the more one looks, the more one finds.
func effortStrips(r *flocks.Result) []Figure {
	grades := [4]string{"none or less than one look in 10 bird-months", "less than one a month", "one a month or more", "one a week or more"}
	grade := func(x float64) int {
		switch {
		case x < 0.1:
			return 0
		case x < 0.95:
			return 1
		case x < 3.9:
			return 2
		}
		return 3
	}
	var halves []flocks.Half
	for _, f := range r.Flocks {
		for _, c := range f.Summary.Total {
			if c.Measure == flocks.Effort && !slices.Contains(halves, c.Half) {
				halves = append(halves, c.Half)
			}
		}
	}
	slices.SortFunc(halves, func(a, b flocks.Half) int { return (a.Year*2 + a.Second) - (b.Year*2 + b.Second) })
	if len(halves) > 20 {
		halves = halves[len(halves)-20:]
	}
	var columns []string
	for _, h := range halves {
		columns = append(columns, h.String())
	}
	return strips(r, flocks.Effort, "effort", "Looks for lice or mites, a bird and month", "How often one looks", columns, grades,
		"Looks a bird and month. Read this first: who looks more often records more, without having more.",
		func(s flocks.Summary, column int) (string, int, bool) {
			for _, c := range s.Total {
				if c.Measure == flocks.Effort && c.Half == halves[column] && c.N > 0 {
					return fmt.Sprintf("%.1f", c.Rate()), grade(c.Rate()), true
				}
			}
			return "", 0, false
		})
}

// seasonStrips show the share of looks that found lice in each sixth of the year from midsummer on, years together.
func seasonStrips(r *flocks.Result) []Figure {
	columns := []string{"0–2", "2–4", "4–6", "6–8", "8–10", "10–12"}
	return strips(r, flocks.Lice, "season", "Looks that found lice, of looks, by months after the local midsummer", "Lice by season, flock by flock", columns, shareGrades(),
		"Found of looked at. Seasons run from the local midsummer, so that north and south can be read together; flocks look at different times.",
		func(s flocks.Summary, column int) (string, int, bool) {
			var n, x float64
			for _, c := range s.Cells {
				if c.Measure == flocks.Lice && c.Season == column+1 {
					n, x = n+c.N, x+c.X
				}
			}
			return fmt.Sprintf("%.0f/%.0f", x, n), shareGrade(int(x), int(n)), n > 0
		})
}

// strips lays flocks by columns, some flocks a figure. It draws nothing where no flock has anything, or where the comparison
// hides the measure because too few flocks share it.
func strips(r *flocks.Result, of flocks.Measure, name, measure, title string, columns []string, grades [4]string, caption string, cell func(flocks.Summary, int) (text string, grade int, looked bool)) []Figure {
	if slices.ContainsFunc(r.Comparisons, func(c flocks.Comparison) bool { return c.Measure == of && c.Hidden != "" }) {
		return nil
	}
	var rows []CalendarRow
	some := 0
	for _, f := range r.Flocks {
		row := CalendarRow{Label: f.Code, Cells: make([]CalendarCell, len(columns))}
		any := false
		for i := range columns {
			if text, grade, looked := cell(f.Summary, i); looked {
				row.Cells[i], any = CalendarCell{Looked: true, Text: text, Grade: grade}, true
			}
		}
		if any {
			some++
		}
		rows = append(rows, row)
	}
	if some == 0 || len(columns) == 0 {
		return nil
	}
	var out []Figure
	for part := range slices.Chunk(rows, stripFlocks) {
		k := Calendar{Measure: measure, RowHead: "flock", Columns: columns, Grades: grades, Rows: part}
		f := Figure{Name: name, Title: title, Caption: caption, Width: pageWidth, Height: k.HeightFor(len(part)), Panel: k,
			Alt: fmt.Sprintf("%s: recorded by %d of %s.", measure, some, analysis.Counted(len(rows), "flock"))}
		if len(out) > 0 {
			f.Name = fmt.Sprintf("%s-from-%d", name, 1+stripFlocks*len(out))
		}
		out = append(out, f)
	}
	return out
}

// ownFigures draws one flock beside the band of all.
func ownFigures(o *flocks.Own) []Figure {
	r := Ranges{Axis: "points from the others, the mix of birds allowed for", Level: rangeLevel, Value: "your flock", Band: "where 9 of 10 flocks of your size would lie"}
	var outside []string
	for _, l := range o.Lines {
		if !l.Measure.Judged() {
			continue
		}
		p := l.Measure.Points
		what, _, _ := l.Measure.Named()
		if l.Measure == flocks.Condition {
			what += " (" + l.Scale + ")"
		}
		d := l.Row.Difference
		r.Rows = append(r.Rows, RangesRow{Label: what, Cells: []RangesCell{{Value: p(d.Value), Low: p(d.Low), High: p(d.High), BandLow: p(l.Band.Low), BandHigh: p(l.Band.High), Told: isTold(l.Row)}}})
		if isTold(l.Row) {
			outside = append(outside, what+" "+string(l.Row.Side))
		}
	}
	if len(r.Rows) == 0 {
		return nil
	}
	said := "Your flock cannot be told apart from the others in any measure shown."
	if len(outside) > 0 {
		said = "Your flock beside the others: " + strings.Join(outside, ", ") + "."
	}
	return []Figure{{Name: "own", Title: "Your flock beside the band", Caption: fmt.Sprintf("%s compared. The box is wide where flocks of your size differ by chance alone.", analysis.Counted(o.Among, "flock")), Alt: said,
		Width: pageWidth, Height: 24 + 9*float64(len(r.Rows)), Panel: r}}
}

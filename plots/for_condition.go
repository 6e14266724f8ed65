package plots

import (
	"fmt"
	"keelmark/analysis"
	"slices"

	"keelmark/analysis/condition"
	"keelmark/ingest/record"
)

// mostRounds is how many rounds of scores fit the width of a page with dates over them.
const mostRounds = 24

// scoreFigures draws, for each trait that is scored on a declared scale, the birds by the latest rounds: the score as a
// number, darker towards the bad end. A cell without a number was not scored.
func scoreFigures(r *condition.Result) []Figure {
	var out []Figure
	for _, spec := range record.Traits() {
		var own []condition.History
		for _, h := range r.Histories {
			if h.Trait == spec.Trait && h.Declared && len(h.Scores) > 0 {
				own = append(own, h)
			}
		}
		if len(own) == 0 {
			continue
		}
		days := roundDays(own)
		k := Calendar{Measure: spec.Label + " as scored", RowHead: "bird", Grades: [4]string{"good third of the scale", "middle", "bad third"}}
		for _, d := range days {
			k.Columns = append(k.Columns, d.String())
		}
		scores, bad := 0, 0
		for _, h := range own {
			row := CalendarRow{h.Bird.Label(), make([]CalendarCell, len(days))}
			for _, s := range h.Scores {
				i, ok := slices.BinarySearch(days, s.On.Middle())
				if !ok {
					continue
				}
				grade := badness(condition.Goodness(h.Scale, s.Value))
				row.Cells[i] = CalendarCell{Looked: true, Grade: grade, Text: fmt.Sprintf("%g", s.Value)}
				scores++
			}
			if badness(condition.Goodness(h.Scale, h.Scores[len(h.Scores)-1].Value)) == 2 {
				bad++
			}
			k.Rows = append(k.Rows, row)
		}
		out = append(out, Figure{
			Name: "scores-" + string(spec.Trait), Title: analysis.Capital(spec.Label) + ", bird by bird",
			Caption: fmt.Sprintf("%s on %s, the latest on the right. An empty cell was not scored.", analysis.Capital(analysis.Counted(scores, "score")), analysis.Counted(len(days), "day")),
			Alt:     fmt.Sprintf("Scores of %s for %s: at the last one %d of them stood in the bad third of the scale.", analysis.Counted(len(own), "bird"), spec.Label, bad),
			Width:   pageWidth, Height: Calendar{}.HeightFor(len(own)) + 12, Panel: k,
		})
	}
	return out
}

// roundDays are the latest days with a score, oldest first.
func roundDays(histories []condition.History) []record.Day {
	var days []record.Day
	for _, h := range histories {
		for _, s := range h.Scores {
			days = append(days, s.On.Middle())
		}
	}
	slices.Sort(days)
	days = slices.Compact(days)
	return days[max(0, len(days)-mostRounds):]
}

// badness is the third of the scale: 0 good, 1 middle, 2 bad.
func badness(goodness float64) int {
	switch {
	case goodness >= 2.0/3-1e-9:
		return 0
	case goodness > 1.0/3+1e-9:
		return 1
	}
	return 2
}

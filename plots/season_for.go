package plots

import (
	"fmt"
	"keelmark/analysis"
	"strconv"

	"keelmark/analysis/season"
)

// seasonFigures draws, for each parasite with a look, its year wheel and its calendar with the effort below.
func seasonFigures(r *season.Result) []Figure {
	var out []Figure
	for i := range r.Patterns {
		p := &r.Patterns[i]
		if len(p.Rounds) == 0 {
			continue
		}
		rows, effort := seasonRows(p)
		measure := fmt.Sprintf("%s: birds on which it was found / birds looked at", p.Parasite)
		if p.House {
			measure = fmt.Sprintf("%s: looks that found it / looks at the house", p.Parasite)
		}
		latest := rows[max(0, len(rows)-mostRings):]
		wheel := Wheel{Measure: measure, South: r.South, Grades: shareGrades(), Rings: latest, Effort: effort}
		alt := seasonAlt(p, rows)
		if p.Named && !p.Peak.Whole {
			at, low, high := p.Peak.Days()
			wheel.Worst = &WheelRange{At: at, Low: low, High: high, Level: p.Peak.Level}
			alt += fmt.Sprintf(" The worst time is compatible with %s to %s.", season.DayOfYear(low), season.DayOfYear(high))
		}
		caption := fmt.Sprintf("%s with a look. Empty dotted sectors were not looked at; that is not a clean look.", analysis.Capital(analysis.Counted(len(p.Rounds), "day")))
		if !r.Told {
			caption += " The settings name no hemisphere; the northern is drawn."
		}
		out = append(out, Figure{
			Name: "wheel-" + p.Parasite, Title: analysis.Capital(p.Parasite) + " round the year", Caption: caption, Alt: alt,
			Width: pageWidth, Height: 120, Panel: wheel,
		}, Figure{
			Name: "years-" + p.Parasite, Title: analysis.Capital(p.Parasite) + " by year and month",
			Caption: fmt.Sprintf("%s with a look; below, on how many days somebody looked. Who looks more finds more.", analysis.Capital(analysis.Counted(len(p.Rounds), "day"))),
			Alt:     seasonAlt(p, rows), Width: pageWidth, Height: Years{}.HeightFor(len(rows)),
			Panel: Years{Measure: measure, Grades: shareGrades(), Rows: rows, Effort: effort},
		})
	}
	return out
}

// seasonRows sorts a parasite's rounds into years by months.
func seasonRows(p *season.Pattern) (rows []CalendarRow, effort [12]int) {
	first, _, _ := p.Rounds[0].On.Date()
	last, _, _ := p.Rounds[len(p.Rounds)-1].On.Date()
	looked, found := make([][12]int, last-first+1), make([][12]int, last-first+1)
	for _, r := range p.Rounds {
		y, m, _ := r.On.Date()
		looked[y-first][m-1] += r.Looked
		found[y-first][m-1] += r.Found
		effort[m-1]++
	}
	for y := range looked {
		row := CalendarRow{strconv.Itoa(first + y), make([]CalendarCell, 12)}
		for m, n := range looked[y] {
			if n > 0 {
				k := found[y][m]
				row.Cells[m] = CalendarCell{Looked: true, Grade: shareGrade(k, n), Text: fmt.Sprintf("%d/%d", k, n)}
			}
		}
		rows = append(rows, row)
	}
	for _, d := range p.Treated {
		y, m, _ := d.Date()
		if y >= first && y <= last {
			rows[y-first].Cells[m-1].Treated = true
		}
	}
	return rows, effort
}

func seasonAlt(p *season.Pattern, rows []CalendarRow) string {
	looked, found := 0, 0
	for _, r := range rows {
		for _, c := range r.Cells {
			if c.Looked {
				looked++
				if c.Grade > 0 {
					found++
				}
			}
		}
	}
	said := fmt.Sprintf("%s: found in %d of the %d months of %s in which somebody looked.", analysis.Capital(p.Parasite), found, looked, analysis.Counted(len(rows), "year"))
	if w := p.Window; w != nil {
		said += fmt.Sprintf(" Most of it from %s to %s.", w.First, w.Last)
	}
	return said
}

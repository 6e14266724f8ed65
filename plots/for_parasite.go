package plots

import (
	"fmt"
	"keelmark/analysis"
	"slices"
	"strconv"
	"time"

	"keelmark/analysis/parasite"
)

func monthNames() []string {
	var out []string
	for m := time.January; m <= time.December; m++ {
		out = append(out, m.String()[:3])
	}
	return out
}

// shareGrades are what the shades of a calendar of shares stand for.
// Source: Keelmark's own steps; a quarter and a half are read at a glance.
func shareGrades() [4]string {
	return [4]string{"none found", "up to a quarter", "up to a half", "over a half"}
}

func shareGrade(found, looked int) int {
	switch {
	case found == 0:
		return 0
	case 4*found <= looked:
		return 1
	case 2*found <= looked:
		return 2
	}
	return 3
}

// monthFigures draws a calendar of years by months for each parasite that the records look for.
func monthFigures(r *parasite.Result) []Figure {
	var out []Figure
	for _, p := range r.Parasites {
		var months []parasite.Month
		for _, m := range r.Months {
			if m.Parasite == p {
				months = append(months, m)
			}
		}
		if len(months) == 0 {
			continue
		}
		k := Calendar{Measure: fmt.Sprintf("%s: birds on which it was found / birds looked at", p), RowHead: "year",
			Columns: monthNames(), Grades: shareGrades()}
		looked, found := 0, 0
		for y := months[0].Year; y <= months[len(months)-1].Year; y++ {
			k.Rows = append(k.Rows, CalendarRow{strconv.Itoa(y), make([]CalendarCell, 12)})
		}
		for _, m := range months {
			c := &k.Rows[m.Year-months[0].Year].Cells[m.Month-1]
			c.Looked, c.Grade = true, shareGrade(m.Seen, m.Birds)
			c.Text = fmt.Sprintf("%d/%d", m.Seen, m.Birds)
			switch {
			case m.Birds == 0 && m.HouseFound:
				c.Text, c.Grade = "house", 1
			case m.Birds == 0:
				c.Text = "none"
			}
			looked++
			if m.Seen > 0 || m.HouseFound {
				found++
			}
		}
		k.mark(r, p, months[0].Year)
		out = append(out, Figure{
			Name: "calendar-" + p, Title: analysis.Capital(p) + " by month",
			Caption: fmt.Sprintf("%s with a look, %d without. No look is not a clean look.", analysis.Counted(looked, "month"), 12*len(k.Rows)-looked),
			Alt:     fmt.Sprintf("%s: found in %d of the %d months in which somebody looked.", analysis.Capital(p), found, looked),
			Width:   pageWidth, Height: k.HeightFor(len(k.Rows)), Panel: k,
		})
	}
	return out
}

// mark enters treatments and unclear looks into a calendar of months that begins with a year.
func (k *Calendar) mark(r *parasite.Result, p string, year int) {
	at := func(y int, m time.Month) *CalendarCell {
		if y < year || y >= year+len(k.Rows) {
			return nil
		}
		return &k.Rows[y-year].Cells[m-1]
	}
	for _, c := range r.Courses {
		if c.Against != "" && c.Against != p {
			continue
		}
		y, m, _ := c.Event.On.Middle().Date()
		if cell := at(y, m); cell != nil {
			cell.Treated = true
		}
	}
	for _, l := range r.Looks {
		if l.Parasite != p || l.Finding != parasite.Unclear {
			continue
		}
		y, m, _ := l.On.Middle().Date()
		// A month in which nothing was found for certain, and one look is unclear, is not a month of none.
		if cell := at(y, m); cell != nil && cell.Looked && cell.Grade == 0 {
			cell.Unclear, cell.Text = true, unclearText
		}
	}
}

// mostDates is how many of a bird's latest looks one figure shows.
const mostDates = 8

// looksFigure draws the looks at one bird: parasites by dates.
func looksFigure(r *parasite.Result, bird string) []Figure {
	k := Calendar{Measure: "looks at the bird, by date", RowHead: "parasite", Grades: [4]string{"none seen", "", "found", ""}}
	label := bird
	for _, h := range r.Histories {
		if h.Bird.ID != bird {
			continue
		}
		label = h.Bird.Label()
		for _, l := range h.Looks {
			if on := l.On.String(); !slices.Contains(k.Columns, on) {
				k.Columns = append(k.Columns, on)
			}
		}
	}
	if len(k.Columns) == 0 {
		return nil
	}
	treated := map[string][]string{} // by date: what against, "" for not said
	for _, c := range r.Courses {
		if on := c.Event.On.String(); slices.Contains(c.Birds, bird) {
			treated[on] = append(treated[on], c.Against)
			if !slices.Contains(k.Columns, on) {
				k.Columns = append(k.Columns, on)
			}
		}
	}
	slices.Sort(k.Columns)
	left := max(0, len(k.Columns)-mostDates)
	k.Columns = k.Columns[left:]
	looks, found := 0, 0
	for _, h := range r.Histories {
		if h.Bird.ID != bird {
			continue
		}
		row := CalendarRow{h.Parasite, make([]CalendarCell, len(k.Columns))}
		for _, l := range h.Looks {
			i := slices.Index(k.Columns, l.On.String())
			if i < 0 {
				continue
			}
			looks++
			c := &row.Cells[i]
			switch {
			case l.Finding == parasite.Found:
				*c = CalendarCell{Looked: true, Grade: 2, Text: "found"}
				found++
			case c.Looked: // an earlier look of the day found it, or also did not
			case l.Finding == parasite.Unclear:
				*c = CalendarCell{Looked: true, Unclear: true, Text: unclearText}
			default:
				*c = CalendarCell{Looked: true, Text: "none"}
			}
		}
		for i, on := range k.Columns {
			against := treated[on]
			row.Cells[i].Treated = slices.Contains(against, "") || slices.Contains(against, h.Parasite)
		}
		k.Rows = append(k.Rows, row)
	}
	caption := fmt.Sprintf("%s, %s with a look or a treatment.", analysis.Capital(analysis.Counted(looks, "look")), analysis.Counted(len(k.Columns), "date"))
	if left > 0 {
		caption += fmt.Sprintf(" %d earlier dates are not shown.", left)
	}
	return []Figure{{Name: "looks-" + bird, Title: "Looks at " + label, Caption: caption,
		Alt:   fmt.Sprintf("%s: something was found in %d of %d looks.", label, found, looks),
		Width: pageWidth, Height: k.HeightFor(len(k.Rows)), Panel: k}}
}

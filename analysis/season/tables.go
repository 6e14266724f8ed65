package season

import (
	"fmt"

	"keelmark/analysis"
)

// Tables are the months with years as units, the years, the tests, and what is published of seasons elsewhere.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.monthTable(), r.yearTable(), r.testTable(), publishedTable()}
}

func (r *Result) monthTable() analysis.Table {
	t := analysis.Table{Name: "months_of_year", Caption: "What the years show of each month; years are the units, and no year looked is not a clear year", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "month", Head: "month"}, {Name: "days", Head: "days with a look"}, {Name: "looks", Head: "looks"},
		{Name: "years_looked", Head: "years looked"}, {Name: "years_found", Head: "years found", Doc: "years in which the mark of the counted sentence was reached"},
		{Name: "low_pct", Head: "of years, from", Unit: "%"}, {Name: "high_pct", Head: "to", Unit: "%"},
		{Name: "share_pct", Head: "mean share found", Unit: "%", Doc: "mean over years of found / looked"},
	}}
	for _, p := range r.Patterns {
		for _, m := range p.Months {
			row := []any{p.Parasite, m.Month.String(), m.Rounds, m.Birds, len(m.Looked), len(m.Found), nil, nil, nil}
			if len(m.Looked) > 0 {
				row[6], row[7], row[8] = 100*m.OfYears.Low, 100*m.OfYears.High, 100*m.Share
			} else {
				row[5] = nil
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

func (r *Result) yearTable() analysis.Table {
	t := analysis.Table{Name: "years", Caption: "The years as they were cut; a usable one has a look in at least 8 of 13 four-week slots", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "year", Head: "year"}, {Name: "days", Head: "days with a look"}, {Name: "slots", Head: "slots with a look"},
		{Name: "usable", Head: "usable"}, {Name: "worst", Head: "its own worst time", Doc: "peak of the year's own wave; one year's is weak"},
	}}
	for _, p := range r.Patterns {
		for _, y := range p.Years {
			row := []any{p.Parasite, y.Name(), len(y.Rounds), y.Slots, "no", nil}
			if y.Usable() {
				row[4] = "yes"
				if y.Cos != 0 || y.Sin != 0 {
					row[5] = dayAndMonth(y.peak())
				}
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

func (r *Result) testTable() analysis.Table {
	t := analysis.Table{Name: "tests", Caption: "The tests. Only the evidence decides; what is marked as not used is how the usual regressions would have judged", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "what", Head: "what"}, {Name: "value", Head: "value", Decimals: 3}, {Name: "says", Head: "says"},
	}}
	for _, p := range r.Patterns {
		if p.refused != "" {
			t.Rows = append(t.Rows, []any{p.Parasite, "refused", nil, p.refused})
			continue
		}
		t.Rows = append(t.Rows,
			[]any{p.Parasite, "year-rotation p-value", p.Rotation.P, "does the bad time fall alike in each year"},
			[]any{p.Parasite, "its floor", p.Rotation.Floor, "1 in 13 to the number of years less one"},
			[]any{p.Parasite, "likelihood ratio of the yearly wave", p.Wander.Ratio, "beside a deviation that wanders"},
			[]any{p.Parasite, "likelihood ratio of a second wave beside it", p.Wander.Second, "large: the bad time is sharper than one wave; decides nothing"},
			[]any{p.Parasite, "days over which the deviation is remembered", p.Wander.Days, "about as long as outbreaks last"},
			[]any{p.Parasite, "evidence", p.Evidence, fmt.Sprintf("ratio less the logarithm of the p-value; a season above %.4g", Cut)})
		if n, ok := naive(p.Rounds); ok {
			t.Rows = append(t.Rows,
				[]any{p.Parasite, "p-value, birds taken to be independent", n.PBirds, "not used: cries season in most flocks without one"},
				[]any{p.Parasite, "p-value, days taken to be independent (quasi-binomial)", n.PDays, "not used: outbreaks last longer than from look to look"},
				[]any{p.Parasite, "dispersion", n.Dispersion, "1 if birds of a day were independent"},
				[]any{p.Parasite, "p-value of a second wave (quasi-binomial)", n.PSecond, "small: the rise is sharper than one wave"})
		}
	}
	return t
}

// publishedTable lists what is published of seasons. It is context and enters nothing.
//
// Source: each row; as read for Keelmark's domain notes 3.4.
func publishedTable() analysis.Table {
	t := analysis.Table{Name: "published", Caption: "Published seasons contradict each other, so no month is assumed", Columns: []analysis.Column{
		{Name: "finding", Head: "finding"}, {Name: "place", Head: "place"},
	}}
	for _, row := range [][2]string{
		{"lice of six species more frequent in summer than in winter (478 birds)", "Kashmir"},
		{"lice more frequent in winter (192 birds)", "Oran, Algeria"},
		{"ectoparasites 20 to 24 % more in autumn, spring and winter than in summer (512 birds)", "north-east Tunisia"},
		{"lice most seen in autumn and winter", "extension text, USA"},
		{"lice and fowl mite at any time of the year", "extension texts, North Carolina and Georgia"},
		{"northern fowl mite rises in the cooler months", "New York; California"},
		{"red mite denser in summer than in winter", "Sweden, 1994-97"},
		{"red mite up by about a fifth for each degree of warmth inside the house", "Netherlands, 17 flocks"},
	} {
		t.Rows = append(t.Rows, []any{row[0], row[1]})
	}
	return t
}

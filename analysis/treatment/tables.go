package treatment

import (
	"math"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/stat"
	"keelmark/analysis/story"
)

// Tables are the comparisons, the courses with what is due, the returns, the birds to look at, what looks can miss, and
// the trial to print.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.effectTable(), r.courseTable(), r.returnTable(), r.unseenTable(), r.missedTable(), r.Trial.table()}
}

func (r *Result) effectTable() analysis.Table {
	t := analysis.Table{Name: "effects", Caption: "The same birds before and after each product, beside untreated birds", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "product", Head: "product as written"}, {Name: "courses", Head: "courses"},
		{Name: "treated", Head: "treated birds"}, {Name: "treated_before", Head: "found before"}, {Name: "treated_after", Head: "found after"},
		{Name: "untreated", Head: "untreated birds"}, {Name: "untreated_before", Head: "found before"}, {Name: "untreated_after", Head: "found after"},
		{Name: "fewer", Head: "fewer by", Unit: "%"}, {Name: "fewer_low", Head: "from", Unit: "%"}, {Name: "fewer_high", Head: "to", Unit: "%"},
		{Name: "abbott", Head: "after, against untreated (Abbott)", Unit: "%"}, {Name: "henderson_tilton", Head: "before and after, against untreated (Henderson and Tilton)", Unit: "%"},
		{Name: "chance", Head: "chance without an effect", Decimals: 4}, {Name: "units", Head: "compared by"}, {Name: "doubts", Head: "doubts"},
	}}
	for _, j := range r.Parasites {
		for _, e := range j.Effects {
			row := []any{j.Parasite, e.Product, len(e.Occasions), e.Treated, e.TreatedBefore, e.TreatedAfter, e.Untreated, e.UntreatedBefore, e.UntreatedAfter,
				nil, nil, nil, nil, nil, nil, nil, strings.Join(append(nonEmpty(e.Missing), e.Warnings...), "; ")}
			if e.Lower.Level > 0 {
				row[9], row[10], row[11] = e.Lower.Value, e.Lower.Low, e.Lower.High
			}
			if e.Unit != "" {
				row[12], row[13] = e.formulas()
				row[14], row[15] = e.P, e.Unit
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

// formulas are the published percentages on numbers of birds with findings; nil where they are not defined.
func (e Effect) formulas() (abbott, hendersonTilton any) {
	n1, n0 := float64(e.Treated), float64(e.Untreated)
	if x, err := stat.Abbott(float64(e.UntreatedAfter)/n0, float64(e.TreatedAfter)/n1); err == nil {
		abbott = x
	}
	c := stat.Counts{CB: float64(e.UntreatedBefore), CA: float64(e.UntreatedAfter), TB: float64(e.TreatedBefore), TA: float64(e.TreatedAfter)}
	if x, err := stat.HendersonTilton(c); err == nil {
		hendersonTilton = x
	}
	return abbott, hendersonTilton
}

func nonEmpty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

func (r *Result) courseTable() analysis.Table {
	t := analysis.Table{Name: "courses", Caption: "Courses of treatment, what is due and what was seen after", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "first", Head: "first"}, {Name: "second", Head: "second"}, {Name: "product", Head: "product as written"},
		{Name: "birds", Head: "birds"}, {Name: "again_from", Head: "second due from"}, {Name: "again_to", Head: "to"}, {Name: "look_from", Head: "look from"},
		{Name: "look_to", Head: "to"}, {Name: "withdrawal", Head: "withdrawal as entered"}, {Name: "looked", Head: "looked at after"}, {Name: "found", Head: "found"},
		{Name: "story", Head: "compatible with"},
	}}
	for _, j := range r.Parasites {
		for _, o := range j.Occasions {
			row := []any{j.Parasite, o.First.String(), nil, o.Product, len(o.Birds), nil, nil, (o.Last + 14).String(), (o.Last + 28).String(), withdrawal(o.Withdrawal), o.Story.Birds, o.Story.Found, nil}
			if o.Second != 0 {
				row[2] = o.Second.String()
			}
			if o.Again[0] != 0 {
				row[5], row[6] = o.Again[0].String(), o.Again[1].String()
			}
			switch {
			case o.Story.Told:
				row[12] = story.Name(o.Story.Best)
			case o.Story.Found > 0:
				row[12] = "cannot tell"
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

func (r *Result) returnTable() analysis.Table {
	t := analysis.Table{Name: "returns", Caption: "Pens after a course, until the parasite was seen again", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "product", Head: "product as written"}, {Name: "pen", Head: "pen"}, {Name: "treated", Head: "last treated"},
		{Name: "clear_until", Head: "none seen until"}, {Name: "seen", Head: "seen again"}, {Name: "after_d", Head: "after more than", Unit: "d"}, {Name: "by_d", Head: "by", Unit: "d"},
	}}
	for _, j := range r.Parasites {
		for _, x := range j.Returns {
			for _, s := range x.Spells {
				row := []any{j.Parasite, x.Product, s.Pen, s.After.String(), s.Clear.String(), nil, s.within.After, nil}
				if !math.IsInf(s.within.By, 1) {
					row[5], row[7] = s.Seen.String(), s.within.By
				}
				t.Rows = append(t.Rows, row)
			}
		}
	}
	return t
}

func (r *Result) unseenTable() analysis.Table {
	t := analysis.Table{Name: "look_next", Caption: "Whom to look at next: the chance of carrying the parasite today. It says nothing else of a bird", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "bird", Head: "bird"}, {Name: "last_look", Head: "last look"}, {Name: "age_d", Head: "ago", Unit: "d"},
		{Name: "chance", Head: "chance", Unit: "%"}, {Name: "low", Head: "from", Unit: "%"}, {Name: "high", Head: "to", Unit: "%"},
	}}
	for _, j := range r.Parasites {
		for _, b := range j.Carriers.Birds {
			row := []any{j.Parasite, b.Bird.Label(), nil, nil, nil, nil, nil}
			if b.Last != 0 {
				row[2], row[3] = b.Last.String(), int(r.Today-b.Last)
			}
			if b.Chance.Level > 0 {
				row[4], row[5], row[6] = 100*b.Chance.Value, 100*b.Chance.Low, 100*b.Chance.High
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

func (r *Result) missedTable() analysis.Table {
	t := analysis.Table{Name: "missed", Caption: "What looks with none seen in the last 28 days can have missed", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "looked", Head: "birds looked at"}, {Name: "flock", Head: "of"}, {Name: "infested", Head: "if so many carried it"},
		{Name: "missed", Head: "chance of having missed it", Unit: "%"}, {Name: "sensitivity", Head: "a look sees", Unit: "%"},
	}}
	for _, j := range r.Parasites {
		for _, m := range j.Freedom.Missed {
			t.Rows = append(t.Rows, []any{j.Parasite, j.Freedom.Looked, j.Freedom.Flock, m.Infested, 100 * m.Chance, 100 * j.Freedom.Sensitivity})
		}
	}
	return t
}

func (t Trial) table() analysis.Table {
	out := analysis.Table{Name: "trial", Caption: "A fair trial to print: groups as the lot fell. Product, amount and repeats as the label or a vet says. " +
		"A bird with a heavy load, or unwell, is treated at once: note it here",
		Columns: []analysis.Column{{Name: "treat", Head: "treat on"}, {Name: "group", Head: "group"}, {Name: "pen", Head: "pen"}, {Name: "birds", Head: "birds"},
			{Name: "look_1", Head: "seen on the first day"}, {Name: "look_2", Head: "seen on day 14"}, {Name: "note", Head: "treated at once, and why"}}}
	for _, r := range t.Rows {
		group := "later"
		if r.Early {
			group = "first"
		}
		var names []string
		for _, b := range r.Birds {
			names = append(names, b.Label())
		}
		out.Rows = append(out.Rows, []any{r.Treat.String(), group, r.Pen, strings.Join(names, ", "), nil, nil, nil})
	}
	return out
}

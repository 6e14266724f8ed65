package parasite

import "keelmark/analysis"

// Tables are the effort by month, the last look at each bird, the treatments and the life cycles in use.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.monthTable(), r.lookTable(), r.courseTable(), lifeCycleTable()}
}

func (r *Result) monthTable() analysis.Table {
	t := analysis.Table{Name: "months", Caption: "Looks and findings by month; months without a look are missing", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "year", Head: "year"}, {Name: "month", Head: "month"},
		{Name: "present", Head: "birds in the flock"}, {Name: "birds", Head: "birds looked at"}, {Name: "looks", Head: "looks"},
		{Name: "found", Head: "birds with findings"},
	}}
	for _, m := range r.Months {
		t.Rows = append(t.Rows, []any{m.Parasite, m.Year, m.Month, m.Present, m.Birds, m.Looks, m.Seen})
	}
	return t
}

func (r *Result) lookTable() analysis.Table {
	t := analysis.Table{Name: "last_looks", Caption: "The last look at each bird", Columns: []analysis.Column{
		{Name: "bird", Head: "bird"}, {Name: "parasite", Head: "parasite"}, {Name: "last_look", Head: "last look"},
		{Name: "age_d", Head: "ago", Unit: "d"}, {Name: "finding", Head: "finding"}, {Name: "written", Head: "as written"},
		{Name: "looks", Head: "looks in all"}, {Name: "findings", Head: "findings in all"},
	}}
	for _, h := range r.Histories {
		row := []any{h.Bird.Label(), h.Parasite, nil, nil, "not looked", nil, len(h.Looks), len(h.Findings)}
		if h.Last != nil {
			row[2], row[3], row[4], row[5] = h.Last.On.String(), h.Age, h.Last.Finding.String(), h.Last.Text
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (r *Result) courseTable() analysis.Table {
	t := analysis.Table{Name: "treatments", Caption: "Treatments as entered", Columns: []analysis.Column{
		{Name: "date", Head: "date"}, {Name: "product", Head: "product as written"}, {Name: "against", Head: "against"},
		{Name: "scope", Head: "given to"}, {Name: "birds", Head: "birds"}, {Name: "withdrawal", Head: "withdrawal as entered"},
		{Name: "cell", Head: "cell"},
	}}
	for _, c := range r.Courses {
		t.Rows = append(t.Rows, []any{c.Event.On.String(), c.Product, c.Against, string(c.Event.Scope), len(c.Birds), c.Withdrawal, c.Event.At.Key()})
	}
	return t
}

func lifeCycleTable() analysis.Table {
	t := analysis.Table{Name: "life_cycles", Caption: "Published life cycles; sources disagree, so ranges", Columns: []analysis.Column{
		{Name: "parasite", Head: "parasite"}, {Name: "egg_d", Head: "egg", Unit: "d"}, {Name: "cycle_d", Head: "egg to egg", Unit: "d"},
		{Name: "off_bird_d", Head: "off the bird", Unit: "d"}, {Name: "where", Head: "where"}, {Name: "source", Head: "source"},
	}}
	for _, l := range LifeCycles() {
		t.Rows = append(t.Rows, []any{l.Parasite, l.Egg.text(), l.Whole.text(), l.OffHost.text(), l.Where, l.Source})
	}
	return t
}

package condition

import "keelmark/analysis"

// Tables are the last score of each bird and trait, the changes of the flock and the agreement of scorers.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.lastTable(), r.changeTable(), r.scorerTable()}
}

func (r *Result) lastTable() analysis.Table {
	t := analysis.Table{Name: "last_scores", Caption: "The last score of each bird", Columns: []analysis.Column{
		{Name: "bird", Head: "bird"}, {Name: "trait", Head: "trait"}, {Name: "on", Head: "last score"}, {Name: "age_d", Head: "ago", Unit: "d"},
		{Name: "score", Head: "score", Decimals: 1}, {Name: "written", Head: "as written"}, {Name: "scale", Head: "scale"}, {Name: "scores", Head: "scores in all"},
	}}
	for _, h := range r.Histories {
		row := []any{h.Bird.Label(), traitLabel(h.Trait), nil, nil, nil, "not scored", nil, len(h.Scores)}
		if n := len(h.Scores); n > 0 {
			last := h.Scores[n-1]
			row[2], row[3], row[4], row[5], row[6] = last.On.String(), h.Age, last.Value, last.Text, "not declared"
			if h.Declared {
				row[6] = describe(h.Scale)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (r *Result) changeTable() analysis.Table {
	t := analysis.Table{Name: "changes", Caption: "The same birds at the last round and at one before it", Columns: []analysis.Column{
		{Name: "trait", Head: "trait"}, {Name: "before", Head: "before"}, {Name: "after", Head: "after"}, {Name: "birds", Head: "birds at both"},
		{Name: "higher", Head: "higher"}, {Name: "lower", Head: "lower"}, {Name: "p", Head: "chance of as much", Decimals: 3},
	}}
	for _, c := range r.Changes {
		if c.Refusal != "" {
			t.Rows = append(t.Rows, []any{c.Trait.Label, nil, nil, len(c.Birds), nil, nil, nil})
			continue
		}
		t.Rows = append(t.Rows, []any{c.Trait.Label, c.Before.To.String(), c.After.To.String(), len(c.Birds), c.Ups, c.Downs, c.P})
	}
	return t
}

func (r *Result) scorerTable() analysis.Table {
	t := analysis.Table{Name: "scorers", Caption: "Birds scored twice on one day", Columns: []analysis.Column{
		{Name: "trait", Head: "trait"}, {Name: "first", Head: "first"}, {Name: "second", Head: "second"}, {Name: "birds", Head: "double scores"},
		{Name: "exact", Head: "alike", Unit: "%"}, {Name: "within_one", Head: "within one step", Unit: "%"}, {Name: "kappa", Head: "weighted kappa", Decimals: 2},
	}}
	for _, s := range r.Scorers {
		row := []any{s.Trait.Label, s.First, s.Second, len(s.Pairs), nil, nil, nil}
		if s.Refusal == "" {
			row[4], row[5] = 100*s.Agreement.Exact, 100*s.Agreement.WithinOne
		}
		if s.Weighted {
			row[6] = s.Agreement.Kappa
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

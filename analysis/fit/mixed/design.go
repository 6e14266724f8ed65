package mixed

import (
	"slices"
)

// Factor is what a fixed effect may differ by: sex, line, hatch season. It has one label an observation.
type Factor struct {
	Name   string
	Labels []string
	Base   string // the label that the constant stands for; "": the first in alphabetical order
}

// Design returns the rows of a fixed-effects design for n observations: a constant, and for every factor one column for
// each label beside its base, 1 where the observation has it. A column is named "sex.male", the constant "". A factor
// of a single label is an error, because nothing can be said of it: leave it out.
//
// Source: treatment contrasts, Chambers & Hastie 1992, Statistical Models in S, section 2.3.2.
func Design(n int, factors ...Factor) (rows [][]float64, columns []string, err error) {
	columns = []string{""}
	for range n {
		rows = append(rows, []float64{1})
	}
	for _, f := range factors {
		if len(f.Labels) != n {
			return nil, nil, badInput("%d labels of %s for %d observations", len(f.Labels), f.Name, n)
		}
		levels := slices.Compact(slices.Sorted(slices.Values(f.Labels)))
		if len(levels) < 2 {
			return nil, nil, badInput("%s has %d label: there is nothing to compare; leave it out", f.Name, len(levels))
		}
		base := f.Base
		if base == "" {
			base = levels[0]
		}
		at := slices.Index(levels, base)
		if at < 0 {
			return nil, nil, badInput("%s has no label %q; it has %q", f.Name, base, levels)
		}
		levels = slices.Delete(levels, at, at+1)
		for _, level := range levels {
			columns = append(columns, f.Name+"."+level)
		}
		for i, label := range f.Labels {
			for _, level := range levels {
				v := 0.0
				if label == level {
					v = 1
				}
				rows[i] = append(rows[i], v)
			}
		}
	}
	return rows, columns, nil
}

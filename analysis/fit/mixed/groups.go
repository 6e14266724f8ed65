package mixed

import "slices"

// groups says which rows belong together. Rows stand group by group, within a group in order of time.
type groups struct {
	names []string // in order of first appearance
	start []int    // first row of each group; one more holds the number of rows
	order []int    // observation of each row
}

func (g *groups) count() int { return len(g.names) }

// group sorts observations by label and, where times are given, by time within a label.
func group(labels []string, time []float64) *groups {
	g := &groups{}
	at := make(map[string]int)
	of := make([]int, len(labels))
	for i, label := range labels {
		k, seen := at[label]
		if !seen {
			k = len(g.names)
			at[label] = k
			g.names = append(g.names, label)
		}
		of[i] = k
		g.order = append(g.order, i)
	}
	slices.SortStableFunc(g.order, func(a, b int) int {
		if of[a] != of[b] {
			return of[a] - of[b]
		}
		switch {
		case time == nil || time[a] == time[b]:
			return 0
		case time[a] < time[b]:
			return -1
		}
		return 1
	})
	for row, i := range g.order {
		if row == 0 || of[i] != of[g.order[row-1]] {
			g.start = append(g.start, row)
		}
	}
	g.start = append(g.start, len(labels))
	return g
}

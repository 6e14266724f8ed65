package flocks

import (
	"fmt"
	"slices"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Withheld is something of a flock that a release leaves out.
type Withheld struct {
	Key Key
	Why string
}

// Account lists what a release of the whole summary left out, and why, in order of keys. It holds small numbers: it is
// for the keeper and leaves with nobody.
func Account(whole, released Summary, today record.Day, earlier *Summary) []Withheld {
	var out []Withheld
	now := HalfOf(today)
	for _, t := range whole.Total {
		at := slices.IndexFunc(released.Total, func(c Cell) bool { return c.Key == t.Key })
		old := earlier != nil && slices.ContainsFunc(earlier.Total, func(c Cell) bool { return c.Half == t.Half })
		switch {
		case at < 0 && t.Half == (Half{}) && t.Measure != HatchDay:
			out = append(out, Withheld{t.Key, "its dates are not known, so that it belongs to no half year"})
		case at < 0 && t.Half != (Half{}) && !t.Half.Before(now):
			out = append(out, Withheld{t.Key, "the half year is not over; it can be shared after its end"})
		case at < 0 && old:
			out = append(out, Withheld{t.Key, "an earlier share held this half year without it; adding it now would tell what was entered since"})
		case at < 0:
			out = append(out, Withheld{t.Key, fmt.Sprintf("only %s behind it; fewer than %d tell of single birds", analysis.Counted(t.Birds, "bird", "birds"), SmallGroup)})
		case old:
			if released.Total[at] != t {
				out = append(out, Withheld{t.Key, "what was changed since the earlier share: the share repeats the earlier numbers, because the difference would tell of the birds that were corrected"})
			}
		default:
			if why := groupsHidden(whole, released, t); why != "" {
				out = append(out, Withheld{t.Key, why})
			}
		}
	}
	return out
}

// groupsHidden says how the groups of a total were made coarser or hidden; "" where all are shown.
func groupsHidden(whole, released Summary, t Cell) string {
	groups, small, shown, visible := 0, 0, 0, 0.0
	for _, c := range whole.Cells {
		if c.Key == t.Key {
			groups++
			if c.Birds < SmallGroup {
				small++
			}
		}
	}
	for _, c := range released.Cells {
		if c.Key == t.Key {
			shown++
			visible += c.N
		}
	}
	switch {
	case groups < 2 || shown == groups:
		return ""
	case shown == 0:
		return fmt.Sprintf("no group by size, sex, age or season: %d of %d hold fewer than %d birds; the total is shared", small, groups, SmallGroup)
	case visible < t.N:
		return fmt.Sprintf("%d groups for %d: the others hold fewer than %d birds, or would give such a group away", shown, groups, SmallGroup)
	}
	return fmt.Sprintf("%d groups for %d: groups of fewer than %d birds are added to their like", shown, groups, SmallGroup)
}

// Contents are the tables of all numbers in a summary, for its keeper to see before it leaves.
func (s Summary) Contents() []analysis.Table {
	columns := func(more ...analysis.Column) []analysis.Column {
		return append(append([]analysis.Column{{Name: "measure", Head: "measure"}, {Name: "scale", Head: "scale"}, {Name: "half", Head: "half year"}}, more...),
			analysis.Column{Name: "birds", Head: "birds"}, analysis.Column{Name: "n", Head: "counted of"}, analysis.Column{Name: "x", Head: "sum", Decimals: 3})
	}
	half := func(h Half) string {
		if h == (Half{}) {
			return ""
		}
		return h.String()
	}
	totals := analysis.Table{Name: "totals", Caption: "Totals", Columns: append(columns(), analysis.Column{Name: "clusters", Head: "units"}, analysis.Column{Name: "spread", Head: "spread", Decimals: 4})}
	for _, c := range s.Total {
		totals.Rows = append(totals.Rows, []any{string(c.Measure), c.Scale, half(c.Half), c.Birds, c.N, c.X, c.Clusters, c.Spread})
	}
	cells := analysis.Table{Name: "cells", Caption: fmt.Sprintf("Groups, each of at least %d birds; season 1 begins at midsummer", SmallGroup), Columns: columns(
		analysis.Column{Name: "size", Head: "size"}, analysis.Column{Name: "sex", Head: "sex"}, analysis.Column{Name: "age", Head: "age"}, analysis.Column{Name: "season", Head: "season"})}
	for _, c := range s.Cells {
		var season any
		if c.Season > 0 {
			season = c.Season
		}
		cells.Rows = append(cells.Rows, []any{string(c.Measure), c.Scale, half(c.Half), string(c.Size), string(c.Sex), c.Age, season, c.Birds, c.N, c.X})
	}
	return []analysis.Table{totals, cells}
}

// Counts says in words what the sums of a measure count.
func (m Measure) Counts() string {
	switch m {
	case Effort:
		return "looks for lice or mites (sum), of bird-months"
	case Lice, Mites:
		return "looks that found " + string(m) + " (sum), of looks"
	case Weight:
		return "percent of the listed weight added over birds (sum), of birds"
	case Growth:
		return "logarithms of weights in grams added over birds (sum), of birds"
	case Condition:
		return "birds in the good third of the scale (sum), of birds scored"
	case Fertile:
		return "eggs not clear (sum), of eggs set"
	case Verified:
		return "treatments with a look two to four weeks later (sum), of treatments"
	case Treated:
		return "birds treated, each time (sum)"
	}
	return "birds with a known hatch date (sum), of birds"
}

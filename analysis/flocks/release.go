package flocks

import (
	"slices"

	"keelmark/ingest/record"
)

// SmallGroup is how many birds must stand behind a released number, and flocks behind a printed group. Source: domain notes
// 7 (cells below 5 suppressed); common practice in disclosure control.
const SmallGroup = 5

// coverage is the share of N that a level of strata must show to be released; else a coarser level is.
const coverage = 0.8

// Release hides what could tell of single birds. Of each measure and half year only complete halves before today are kept;
// the total where at least SmallGroup birds stand behind it; and the cells of the finest level of strata of which the
// visible ones hold most of N. Cells of fewer birds are hidden, and with them the next smallest ones, until the hidden ones
// together hold at least SmallGroup birds and are at least two: what is left when the visible cells are taken from the total
// then never tells of fewer. It must be given a Summary made from rows by Summarise.
//
// A half year that an earlier release of the same code held stays as it was there: a correction made since, set against the
// earlier numbers, would tell of the bird that was corrected. Source: complementary suppression as in Willenborg & de Waal
// 2001, Elements of Statistical Disclosure Control, section 1.3.
func Release(s Summary, today record.Day, earlier *Summary) Summary {
	out := Summary{Code: s.Code, Released: true}
	now := HalfOf(today)
	var keys []Key
	for _, t := range s.Total {
		if t.Half != (Half{}) && t.Half.Before(now) || t.Half == (Half{}) && t.Measure == HatchDay {
			keys = append(keys, t.Key)
		}
	}
	for _, k := range keys {
		if earlier != nil && slices.ContainsFunc(earlier.Total, func(c Cell) bool { return c.Half == k.Half }) {
			continue // carried over below, or it was hidden then and stays hidden
		}
		total := s.Total[slices.IndexFunc(s.Total, func(c Cell) bool { return c.Key == k })]
		if total.Birds < SmallGroup {
			continue
		}
		out.Total = append(out.Total, total)
		out.Cells = append(out.Cells, visible(s, k, total)...)
	}
	if earlier != nil {
		out.Total, out.Cells = append(out.Total, earlier.Total...), append(out.Cells, earlier.Cells...)
	}
	out.sort()
	for _, t := range out.Total {
		out.Birds = max(out.Birds, t.Birds)
	}
	return out
}

func (s *Summary) sort() {
	slices.SortStableFunc(s.Total, func(a, b Cell) int { return a.Key.compare(b.Key) })
	slices.SortStableFunc(s.Cells, func(a, b Cell) int {
		if c := a.Key.compare(b.Key); c != 0 {
			return c
		}
		return a.Stratum.compare(b.Stratum)
	})
}

// visible are the released cells of one key: those of the finest level that shows most of N, or none.
func visible(s Summary, k Key, total Cell) []Cell {
	for _, level := range levels() {
		cells, members := coarsened(s, k, level)
		if len(cells) < 2 {
			continue // one cell is the total again
		}
		for i := range cells {
			cells[i].Birds = s.birdsOf(k, members[i])
		}
		order := make([]int, len(cells)) // smallest first
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return cells[a].Birds - cells[b].Birds })
		hide := 0
		for hide < len(order) && cells[order[hide]].Birds < SmallGroup {
			hide++
		}
		for hide > 0 && hide < len(order) && (hide < 2 || s.birdsOf(k, union(members, order[:hide])) < SmallGroup) {
			hide++
		}
		var out []Cell
		shown := 0.0
		for i, c := range cells {
			if !slices.Contains(order[:hide], i) {
				c.Clusters, c.Spread = 0, 0 // only the total needs them
				c.X = k.Measure.rounded(c.X)
				out = append(out, c)
				shown += c.N
			}
		}
		if len(out) > 0 && shown >= coverage*total.N {
			return out
		}
	}
	return nil
}

// birdsOf counts the different birds of some strata.
func (s Summary) birdsOf(k Key, strata []Stratum) int {
	birds := map[string]bool{}
	for _, t := range strata {
		for b := range s.members[k][t] {
			birds[b] = true
		}
	}
	return len(birds)
}

func union(members [][]Stratum, which []int) []Stratum {
	var out []Stratum
	for _, i := range which {
		out = append(out, members[i]...)
	}
	return out
}

// coarsened adds the cells of a key that a level does not tell apart; members are the finest strata in each.
func coarsened(s Summary, k Key, level func(Stratum) Stratum) (cells []Cell, members [][]Stratum) {
	at := map[Stratum]int{}
	for _, c := range s.Cells {
		if c.Key != k {
			continue
		}
		t := level(c.Stratum)
		i, ok := at[t]
		if !ok {
			i = len(cells)
			at[t] = i
			cells, members = append(cells, Cell{Key: k, Stratum: t}), append(members, nil)
		}
		cells[i].add(c)
		members[i] = append(members[i], c.Stratum)
	}
	return cells, members
}

package intake

import (
	"cmp"
	"slices"
	"strings"
)

// pairing is which lines of the older state are which of the newer one, counted from 0.
type pairing struct {
	of   []int // by line of the newer state: line of the older one, -1 for none
	from []int // the other way round
}

func unpaired(olds, news int) pairing {
	return pairing{slices.Repeat([]int{-1}, news), slices.Repeat([]int{-1}, olds)}
}

func (p pairing) join(o, n int) { p.of[n], p.from[o] = o, n }

// Beyond these sizes lines are paired by their numbers: no keeper's sheet comes near.
const (
	columnWork = 20_000_000 // columns × columns × rows
	rowWork    = 4_000_000  // rows without their like × the same
)

// likeness below which two columns, or two rows, are not the same line edited.
const likeness = 0.5

// pairColumns pairs columns in their order by what they share, so that a column put in or taken out moves none of
// the others (a longest common subsequence weighted by likeness).
func pairColumns(old, now [][]string) pairing {
	a, b := width(old), width(now)
	p := unpaired(a, b)
	if a*b*max(len(old), len(now)) > columnWork {
		for i := range min(a, b) {
			p.join(i, i)
		}
		return p
	}
	olds, news := make([]map[string]int, a), make([]map[string]int, b)
	for i := range olds {
		olds[i] = bag(column(old, i))
	}
	for j := range news {
		news[j] = bag(column(now, j))
	}
	best := make([][]float64, a+1) // of columns from i and from j on
	gain := make([][]float64, a)
	for i := range best {
		best[i] = make([]float64, b+1)
	}
	for i := a - 1; i >= 0; i-- {
		gain[i] = make([]float64, b)
		for j := b - 1; j >= 0; j-- {
			best[i][j] = max(best[i+1][j], best[i][j+1])
			s := shared(olds[i], news[j])
			if sameHead := s > 0 && firstText(old, i) == firstText(now, j); s < likeness && !sameHead {
				continue
			}
			gain[i][j] = s
			best[i][j] = max(best[i][j], s+best[i+1][j+1])
		}
	}
	for i, j := 0, 0; i < a && j < b; {
		switch {
		case gain[i][j] > 0 && best[i][j] == gain[i][j]+best[i+1][j+1]:
			p.join(i, j)
			i, j = i+1, j+1
		case best[i][j] == best[i+1][j]:
			i++
		default:
			j++
		}
	}
	return p
}

// firstText is what stands first in a column: mostly its heading.
func firstText(rows [][]string, c int) string {
	for _, r := range rows {
		if t := at(r, c); t != "" {
			return t
		}
	}
	return ""
}

func bag(line []string) map[string]int {
	m := map[string]int{}
	for _, t := range line {
		if t != "" {
			m[t]++
		}
	}
	return m
}

// shared is how much two bags have in common: 1 for equal ones (Dice 1945).
func shared(a, b map[string]int) float64 {
	both, all := 0, 0
	for t, n := range a {
		both += min(n, b[t])
		all += n
	}
	for _, n := range b {
		all += n
	}
	if all == 0 {
		return 1
	}
	return 2 * float64(both) / float64(all)
}

// pairRows pairs rows that say the same, wherever they stand, then those that were edited in their place.
func pairRows(old, now [][]string, cols pairing) pairing {
	p := unpaired(len(old), len(now))
	var oldCols, newCols []int
	for c, o := range cols.of {
		if o >= 0 {
			newCols, oldCols = append(newCols, c), append(oldCols, o)
		}
	}
	cells := func(row []string, cols []int) []string {
		out := make([]string, len(cols))
		for i, c := range cols {
			out[i] = at(row, c)
		}
		return out
	}
	waiting := map[string][]int{}
	olds, news := make([][]string, len(old)), make([][]string, len(now))
	for i, r := range old {
		olds[i] = cells(r, oldCols)
		key := strings.Join(olds[i], "\x00")
		waiting[key] = append(waiting[key], i)
	}
	for i, r := range now {
		news[i] = cells(r, newCols)
		key := strings.Join(news[i], "\x00")
		if w := waiting[key]; len(w) > 0 {
			p.join(w[0], i)
			waiting[key] = w[1:]
		}
	}
	var left, free []int // rows of either state without their like
	for i := range old {
		if p.from[i] < 0 && len(texts(old[i])) > 0 {
			left = append(left, i)
		}
	}
	for i := range now {
		if p.of[i] < 0 && len(texts(now[i])) > 0 {
			free = append(free, i)
		}
	}
	pairEdited(p, left, free, olds, news)
	return p
}

// pairEdited pairs the rows that were edited. Rows that say the same and kept their order (the longest such run) are
// anchors: an edited row stands between the same anchors as before, so that a row that was taken out is never taken for
// one of the same day or bird that was put in elsewhere. In a sheet that was sorted anew few anchors are left; there a
// row is paired only with one that differs in a single cell, and only where neither has another such partner.
func pairEdited(p pairing, left, free []int, olds, news [][]string) {
	if len(left)*len(free) > rowWork {
		for _, o := range left {
			if o < len(p.of) && p.of[o] < 0 {
				p.join(o, o)
			}
		}
		return
	}
	gapOld, gapNew, kept := gaps(p, olds)
	type couple struct {
		o, n int
		like float64
	}
	var all []couple
	for _, o := range left {
		for _, n := range free {
			if gapOld[o] != gapNew[n] {
				continue
			}
			if s := alike(olds[o], news[n]); s >= likeness {
				all = append(all, couple{o, n, s})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b couple) int {
		return cmp.Or(cmp.Compare(b.like, a.like), cmp.Compare(apart(a.o, a.n), apart(b.o, b.n)))
	})
	for _, c := range all {
		if p.from[c.o] < 0 && p.of[c.n] < 0 {
			p.join(c.o, c.n)
		}
	}
	if kept {
		return
	}
	mine, theirs := map[int][]int{}, map[int][]int{}
	for _, o := range left {
		for _, n := range free {
			if p.from[o] < 0 && p.of[n] < 0 && differ(olds[o], news[n]) == 1 && alike(olds[o], news[n]) >= likeness {
				mine[o], theirs[n] = append(mine[o], n), append(theirs[n], o)
			}
		}
	}
	for _, o := range left {
		if m := mine[o]; len(m) == 1 && len(theirs[m[0]]) == 1 {
			p.join(o, m[0])
		}
	}
}

// gaps numbers the gaps between anchors in which the rows of both states stand, and says whether the sheet kept its order:
// whether at most one in ten of the rows that say the same has moved.
func gaps(p pairing, olds [][]string) (gapOld, gapNew []int, kept bool) {
	var run []int // rows of the newer state whose like is not empty, in their order
	for n, o := range p.of {
		if o >= 0 && len(texts(olds[o])) > 0 {
			run = append(run, n)
		}
	}
	anchors := rising(run, p.of)
	gapOld, gapNew = make([]int, len(p.from)), make([]int, len(p.of))
	for _, n := range anchors {
		gapNew[n]++
		gapOld[p.of[n]]++
	}
	for _, g := range [][]int{gapOld, gapNew} {
		sum := 0
		for i := range g {
			sum += g[i]
			g[i] = sum
		}
	}
	return gapOld, gapNew, 10*len(anchors) >= 9*len(run)
}

// rising is a longest part of a list whose values rise (Schensted 1961).
func rising(list, value []int) []int {
	var tails []int // positions in list: the end of the best run of each length
	before := make([]int, len(list))
	for i, x := range list {
		k, _ := slices.BinarySearchFunc(tails, value[x], func(t, v int) int { return cmp.Compare(value[list[t]], v) })
		before[i] = -1
		if k > 0 {
			before[i] = tails[k-1]
		}
		if k == len(tails) {
			tails = append(tails, i)
		} else {
			tails[k] = i
		}
	}
	out := make([]int, len(tails))
	if len(tails) > 0 {
		for i, k := tails[len(tails)-1], len(tails)-1; k >= 0; i, k = before[i], k-1 {
			out[k] = list[i]
		}
	}
	return out
}

// differ counts the cells in which two rows differ.
func differ(a, b []string) int {
	n := 0
	for i := range a {
		if a[i] != b[i] {
			n++
		}
	}
	return n
}

func apart(a, b int) int { return max(a-b, b-a) }

// alike is the share of cells that two rows have in common, of those that either fills.
func alike(a, b []string) float64 {
	same, filled := 0, 0
	for i := range a {
		if a[i] == "" && b[i] == "" {
			continue
		}
		filled++
		if a[i] == b[i] {
			same++
		}
	}
	if filled == 0 {
		return 0
	}
	return float64(same) / float64(filled)
}

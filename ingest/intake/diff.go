package intake

import (
	"cmp"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

// SheetDiff is what is different between two states of one sheet. Rows count by what they hold, not by their
// number: a sheet that was sorted anew, or got a row in the middle, differs in nothing else.
type SheetDiff struct {
	Sheet   string
	State   Action // Add and Skip for a sheet that is new or gone as a whole, Replace for one that is compared
	Cells   []CellDiff
	NewRows []Line
	Gone    []Line
	NewCols []Line // columns that the older state does not have
	GoneCol []Line
}

// CellDiff is one cell that says something else. An empty text means an empty cell.
type CellDiff struct {
	At       record.Ref // in the newer state
	Was      record.Ref // in the older one
	Old, New string
}

// Line is a row or a column with its number and the texts of its cells that are not empty.
type Line struct {
	N     int
	Texts []string
}

// Empty reports whether nothing is different.
func (d SheetDiff) Empty() bool {
	return d.State == Replace && len(d.Cells)+len(d.NewRows)+len(d.Gone)+len(d.NewCols)+len(d.GoneCol) == 0
}

// diffFile compares the sheets of one file before and after, by their names. A file with one sheet then and now is
// compared even if the sheet was renamed.
func diffFile(file string, before, after []*record.Dataset) []SheetDiff {
	old, now := sheets(file, before), sheets(file, after)
	if len(old) == 1 && len(now) == 1 {
		return differing(compare(old[0], now[0]))
	}
	var out []SheetDiff
	for _, n := range now {
		i := slices.IndexFunc(old, func(o *record.Ledger) bool { return o.Sheet == n.Sheet })
		if i < 0 {
			out = append(out, SheetDiff{Sheet: n.Sheet, State: Add})
			continue
		}
		out = append(out, differing(compare(old[i], n))...)
	}
	for _, o := range old {
		if !slices.ContainsFunc(now, func(n *record.Ledger) bool { return n.Sheet == o.Sheet }) {
			out = append(out, SheetDiff{Sheet: o.Sheet, State: Skip})
		}
	}
	return out
}

func differing(d SheetDiff) []SheetDiff {
	if d.Empty() {
		return nil
	}
	return []SheetDiff{d}
}

func sheets(file string, flocks []*record.Dataset) []*record.Ledger {
	var out []*record.Ledger
	for _, d := range flocks {
		for i := range d.Ledgers {
			l := &d.Ledgers[i]
			if l.File == file && !slices.ContainsFunc(out, func(o *record.Ledger) bool { return o.Sheet == l.Sheet }) {
				out = append(out, l)
			}
		}
	}
	return out
}

// pairing is which lines of the older state are which of the newer one, counted from 0.
type pairing struct {
	of   []int // by line of the newer state: line of the older one, -1 for none
	from []int // the other way round
}

func unpaired(olds, news int) pairing {
	return pairing{slices.Repeat([]int{-1}, news), slices.Repeat([]int{-1}, olds)}
}

func (p pairing) join(o, n int) { p.of[n], p.from[o] = o, n }

func compare(old, now *record.Ledger) SheetDiff {
	d := SheetDiff{Sheet: now.Sheet, State: Replace}
	cols := pairColumns(old.Texts, now.Texts)
	rows := pairRows(old.Texts, now.Texts, cols)
	for n, o := range rows.of {
		switch line := texts(now.Texts[n]); {
		case o >= 0:
			d.Cells = append(d.Cells, cellDiffs(old, now, o, n, cols)...)
		case len(line) > 0:
			d.NewRows = append(d.NewRows, Line{n + 1, line})
		}
	}
	for o, n := range rows.from {
		if line := texts(old.Texts[o]); n < 0 && len(line) > 0 {
			d.Gone = append(d.Gone, Line{o + 1, line})
		}
	}
	for c, o := range cols.of {
		if line := texts(column(now.Texts, c)); o < 0 && len(line) > 0 {
			d.NewCols = append(d.NewCols, Line{c + 1, line})
		}
	}
	for c, n := range cols.from {
		if line := texts(column(old.Texts, c)); n < 0 && len(line) > 0 {
			d.GoneCol = append(d.GoneCol, Line{c + 1, line})
		}
	}
	return d
}

func cellDiffs(old, now *record.Ledger, o, n int, cols pairing) []CellDiff {
	var out []CellDiff
	for c, oc := range cols.of {
		if oc < 0 {
			continue
		}
		was, is := at(old.Texts[o], oc), at(now.Texts[n], c)
		if was != is {
			out = append(out, CellDiff{
				At:  record.Ref{File: now.File, Sheet: now.Sheet, Row: int32(n + 1), Col: int32(c + 1)},
				Was: record.Ref{File: old.File, Sheet: old.Sheet, Row: int32(o + 1), Col: int32(oc + 1)}, Old: was, New: is})
		}
	}
	return out
}

func at(row []string, c int) string {
	if c >= len(row) {
		return ""
	}
	return strings.TrimSpace(row[c])
}

func texts(line []string) []string {
	var out []string
	for _, t := range line {
		if t = strings.TrimSpace(t); t != "" {
			out = append(out, t)
		}
	}
	return out
}

func column(rows [][]string, c int) []string {
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = at(r, c)
	}
	return out
}

func width(rows [][]string) int {
	w := 0
	for _, r := range rows {
		w = max(w, len(r))
	}
	return w
}

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

// pairRows pairs rows that say the same, wherever they stand, then those that share most of their cells.
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
	var free []int // rows of the newer state without their like
	for i, r := range now {
		news[i] = cells(r, newCols)
		key := strings.Join(news[i], "\x00")
		if w := waiting[key]; len(w) > 0 {
			p.join(w[0], i)
			waiting[key] = w[1:]
		} else if len(texts(r)) > 0 {
			free = append(free, i)
		}
	}
	var left []int
	for i := range old {
		if p.from[i] < 0 && len(texts(old[i])) > 0 {
			left = append(left, i)
		}
	}
	pairEdited(p, left, free, olds, news)
	return p
}

// pairEdited pairs the rows that were edited, the most alike first, the nearest among equals.
func pairEdited(p pairing, left, free []int, olds, news [][]string) {
	if len(left)*len(free) > rowWork {
		for _, o := range left {
			if o < len(p.of) && p.of[o] < 0 {
				p.join(o, o)
			}
		}
		return
	}
	type couple struct {
		o, n int
		like float64
	}
	var all []couple
	for _, o := range left {
		for _, n := range free {
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

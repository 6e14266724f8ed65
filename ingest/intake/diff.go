package intake

import (
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

// sheetPair is one sheet in both states; nil where a state does not have it.
type sheetPair struct{ old, now *record.Ledger }

// pairSheets pairs the sheets of one file before and after, by their names, those that are there now first. A file with
// one sheet then and now is compared even if the sheet was renamed; so is a sheet that took the place of the only one
// that is gone, where the two say mostly the same.
func pairSheets(file string, before, after []*record.Dataset) []sheetPair {
	old, now := sheets(file, before), sheets(file, after)
	named := func(in []*record.Ledger, name string) int {
		return slices.IndexFunc(in, func(l *record.Ledger) bool { return l.Sheet == name })
	}
	var gone, fresh []*record.Ledger
	for _, o := range old {
		if named(now, o.Sheet) < 0 {
			gone = append(gone, o)
		}
	}
	for _, n := range now {
		if named(old, n.Sheet) < 0 {
			fresh = append(fresh, n)
		}
	}
	renamed := len(old) == 1 && len(now) == 1 && len(gone) == 1 || len(gone) == 1 && len(fresh) == 1 && sameRows(gone[0], fresh[0]) >= likeness
	var out []sheetPair
	for _, n := range now {
		switch i := named(old, n.Sheet); {
		case i >= 0:
			out = append(out, sheetPair{old[i], n})
		case renamed:
			out = append(out, sheetPair{gone[0], n})
		default:
			out = append(out, sheetPair{nil, n})
		}
	}
	if !renamed {
		for _, o := range gone {
			out = append(out, sheetPair{o, nil})
		}
	}
	return out
}

// sameRows is how much two sheets have in common, row by row: 1 for the same rows in any order.
func sameRows(a, b *record.Ledger) float64 {
	rows := func(l *record.Ledger) map[string]int {
		m := map[string]int{}
		for _, r := range l.Texts {
			if t := texts(r); len(t) > 0 {
				m[strings.Join(t, "\x00")]++
			}
		}
		return m
	}
	return shared(rows(a), rows(b))
}

// diffFile compares the sheets of one file before and after.
func diffFile(file string, before, after []*record.Dataset) []SheetDiff {
	var out []SheetDiff
	for _, p := range pairSheets(file, before, after) {
		switch {
		case p.old == nil:
			out = append(out, SheetDiff{Sheet: p.now.Sheet, State: Add})
		case p.now == nil:
			out = append(out, SheetDiff{Sheet: p.old.Sheet, State: Skip})
		default:
			out = append(out, differing(compare(p.old, p.now))...)
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

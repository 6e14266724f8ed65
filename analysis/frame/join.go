package frame

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

// Join puts beside each row the rows of another frame that have the same values in the columns named, in
// order: by this frame's rows, then by the other's. A missing value is equal to none. Rows without a partner
// are dropped, or, where keep is set, kept with the other's columns missing. A column of the other frame whose
// name is taken gets _2 after it.
func (f *Frame) Join(other *Frame, keep bool, on ...string) (*Frame, error) {
	if len(on) == 0 {
		return nil, fmt.Errorf("name the column to join by; both tables have: %s", strings.Join(shared(f, other), ", "))
	}
	keys, partners, err := match(f, other, on)
	if err != nil {
		return nil, err
	}
	rows := 0
	for _, key := range keys {
		if key >= 0 && key < len(partners) {
			rows += len(partners[key])
		}
		if rows > largestJoin {
			return nil, fmt.Errorf("the joined table would have more than %d rows, because %s holds the same value in many rows of both; join by more columns, or group first",
				largestJoin, strings.Join(on, ", "))
		}
	}
	left, right := make([]int, 0, f.Len()), make([]int, 0, f.Len())
	for row, key := range keys {
		if key >= 0 && key < len(partners) && len(partners[key]) > 0 {
			for _, r := range partners[key] {
				left, right = append(left, row), append(right, r)
			}
		} else if keep {
			left, right = append(left, row), append(right, -1)
		}
	}
	out := &Frame{columns: slices.Clone(f.columns), rows: upTo(len(left))}
	if !slices.Equal(left, out.rows) || len(left) != f.Len() { // else each row has one partner and stays as it is
		out.columns = taken(f.columns, left)
	}
	var others []*column
	for _, c := range other.columns {
		if !slices.Contains(on, c.name) {
			others = append(others, c)
		}
	}
	for _, c := range taken(others, right) {
		for out.find(c.name) != nil {
			c.name += "_2"
		}
		out.columns = append(out.columns, c)
	}
	out.origin = func(row int) []record.Ref {
		refs := slices.Clone(f.RowRefs(left[row]))
		if right[row] >= 0 {
			refs = append(refs, other.RowRefs(right[row])...)
		}
		slices.SortFunc(refs, record.Ref.Compare)
		return slices.Compact(refs)
	}
	return out, nil
}

// largestJoin is the most rows that a join may make: beyond, it joined by a column that tells few rows apart.
const largestJoin = 10_000_000

func shared(f, other *Frame) []string {
	var names []string
	for _, name := range f.Names() {
		if other.find(name) != nil {
			names = append(names, name)
		}
	}
	return names
}

// match numbers the keys of f's rows, with -1 where a value is missing, and lists for each key the rows of
// other that have it.
func match(f, other *Frame, on []string) (keys []int, partners [][]int, err error) {
	var theirs []int // keys of other's rows in the same numbering; -1 where f has no such key
	for i, name := range on {
		a, err := f.get(name)
		if err != nil {
			return nil, nil, err
		}
		b, err := other.get(name)
		if err != nil {
			return nil, nil, fmt.Errorf("the other table: %w", err)
		}
		if a.kind != b.kind {
			return nil, nil, fmt.Errorf("column %s holds %v in one table and %v in the other; make them the same first", name, a.kind, b.kind)
		}
		own, their := paired(a.gather(), b.gather())
		if i == 0 {
			keys, theirs = own, their
			continue
		}
		seen := map[[2]int]int{}
		for row, k := range own {
			if keys[row] < 0 || k < 0 {
				keys[row] = -1
				continue
			}
			keys[row] = number(seen, [2]int{keys[row], k})
		}
		for row, k := range their {
			n, ok := seen[[2]int{theirs[row], k}]
			if !ok {
				n = -1
			}
			theirs[row] = n
		}
	}
	most := -1
	for _, k := range theirs {
		most = max(most, k)
	}
	partners = make([][]int, most+1)
	for row, k := range theirs {
		if k >= 0 {
			partners[k] = append(partners[k], row)
		}
	}
	return keys, partners, nil
}

// paired numbers the values of two columns of one kind alike: equal values have equal numbers; missing values,
// and values of b that a lacks, have -1.
func paired(a, b *Column) (as, bs []int) {
	switch a.Kind {
	case Text:
		return pairedValues(a, b, a.Text, b.Text)
	case Number:
		return pairedValues(a, b, a.Number, b.Number)
	}
	return pairedValues(a, b, a.Bool, b.Bool)
}

func pairedValues[K comparable](a, b *Column, av, bv []K) (as, bs []int) {
	seen := map[K]int{}
	as, bs = make([]int, len(av)), make([]int, len(bv))
	for i, v := range av {
		if a.IsMissing(i) {
			as[i] = -1
			continue
		}
		as[i] = number(seen, v)
	}
	for i, v := range bv {
		n, ok := seen[v]
		if !ok || b.IsMissing(i) {
			n = -1
		}
		bs[i] = n
	}
	return as, bs
}

package frame

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Summary is what to tell of one column in each group.
type Summary struct {
	Column string
	Of     string // one of Summaries
	As     string // name of the new column; "" means COLUMN_OF, such as weight_mean
}

// summaries are the ways to put many values into one. Each gets the values that are not missing and returns
// NaN where they are too few. Quantities have the unit of the column.
//
// Source: analysis/stat names the formula and source of each.
var summaries = []struct {
	name string
	of   func([]float64) (float64, error)
}{
	{"n", func(xs []float64) (float64, error) { return float64(len(xs)), nil }},
	{"sum", sum},
	{"mean", atLeast(1, stat.Mean)},
	{"median", atLeast(1, stat.Median)},
	{"sd", atLeast(2, stat.SD)},
	{"min", atLeast(1, func(xs []float64) (float64, error) { return slices.Min(xs), nil })},
	{"max", atLeast(1, func(xs []float64) (float64, error) { return slices.Max(xs), nil })},
}

// Summaries lists the names of the summaries. For texts there are n, min and max; for yes/no n.
func Summaries() []string {
	var names []string
	for _, s := range summaries {
		names = append(names, s.name)
	}
	return names
}

func atLeast(n int, of func([]float64) (float64, error)) func([]float64) (float64, error) {
	return func(xs []float64) (float64, error) {
		if len(xs) < n {
			return math.NaN(), nil
		}
		return of(xs)
	}
}

// sum adds up, carrying the lost digits along.
//
// Source: Neumaier 1974, ZAMM 54:39, the improved Kahan-Babuska summation (from memory).
func sum(xs []float64) (float64, error) {
	var s, lost float64
	for _, x := range xs {
		t := s + x
		if math.Abs(s) >= math.Abs(x) {
			lost += (s - t) + x
		} else {
			lost += (x - t) + s
		}
		s = t
	}
	return s + lost, nil
}

// Groups are the rows of a frame that share their values in some columns. Groups stand in the order in which
// they first appear; rows in which a value is missing form a group of their own.
type Groups struct {
	frame *Frame
	by    []*column
	code  []int // group of each row
	first []int // first row of each group
	count []int

	list, start []int // of members, once asked for
}

// GroupBy groups the rows by the columns named.
func (f *Frame) GroupBy(names ...string) (*Groups, error) {
	if len(names) == 0 {
		return nil, fmt.Errorf("name a column to group by; the columns are: %s", strings.Join(f.Names(), ", "))
	}
	g := &Groups{frame: f}
	for _, name := range names {
		c, err := f.get(name)
		if err != nil {
			return nil, err
		}
		g.by = append(g.by, c)
	}
	g.code = codes(f.Len(), g.by)
	for i, code := range g.code {
		if code == len(g.first) {
			g.first, g.count = append(g.first, i), append(g.count, 0)
		}
		g.count[code]++
	}
	return g, nil
}

// codes numbers the rows by their values in some columns, in first-seen order. Each column is numbered by
// itself and the numbers are paired, so that no two different rows can share a key.
func codes(rows int, columns []*column) []int {
	code := make([]int, rows)
	for i, c := range columns {
		own := c.gather().codes()
		if i == 0 {
			copy(code, own)
			continue
		}
		seen := map[[2]int]int{}
		for r := range code {
			code[r] = number(seen, [2]int{code[r], own[r]})
		}
	}
	return code
}

// number returns the number of a key, giving the next one to a key that is new.
func number[K comparable](seen map[K]int, key K) int {
	n, ok := seen[key]
	if !ok {
		n = len(seen)
		seen[key] = n
	}
	return n
}

func (c *Column) codes() []int {
	switch c.Kind {
	case Text:
		return c.textCodes()
	case Number:
		keys := make([]uint64, len(c.Number))
		for i, x := range c.Number {
			switch {
			case math.IsNaN(x):
				keys[i] = math.MaxUint64 // a NaN no computation gives: all gaps are one key
			case x != 0:
				keys[i] = math.Float64bits(x) // and 0 for both zeros
			}
		}
		return numbered(keys, c.IsMissing, false)
	}
	return numbered(c.Bool, c.IsMissing, c.Missing != nil)
}

// textCodes numbers texts as numbered does. Before it asks the map it looks at the last text of the same length
// and end letters: where the groups are few, that is nearly always the text itself.
func (c *Column) textCodes() []int {
	type recent struct {
		text string
		code int
	}
	var cache [256]recent
	out := make([]int, len(c.Text))
	seen := map[string]int{}
	gap, next := -1, 0
	for i, v := range c.Text {
		if c.Missing != nil && c.Missing[i] {
			if gap < 0 {
				gap, next = next, next+1
			}
			out[i] = gap
			continue
		}
		slot := 0
		if n := len(v); n > 1 {
			slot = (int(v[n-1]) + 31*int(v[n-2]) + 7*n) & 255
		}
		last := &cache[slot]
		if last.text != v || v == "" {
			n, ok := seen[v]
			if !ok {
				n, next = next, next+1
				seen[v] = n
			}
			*last = recent{v, n}
		}
		out[i] = last.code
	}
	return out
}

// numbered numbers values in first-seen order; where gaps is set, missing ones get a number of their own.
func numbered[K comparable](values []K, missing func(int) bool, gaps bool) []int {
	out := make([]int, len(values))
	seen := map[K]int{}
	gap := -1
	next := 0
	for i, v := range values {
		if gaps && missing(i) {
			if gap < 0 {
				gap, next = next, next+1
			}
			out[i] = gap
			continue
		}
		n, ok := seen[v]
		if !ok {
			n, next = next, next+1
			seen[v] = n
		}
		out[i] = n
	}
	return out
}

// Len is the number of groups.
func (g *Groups) Len() int { return len(g.first) }

// Rows returns the rows of group i, in order.
func (g *Groups) Rows(i int) *Frame {
	list, start := g.members()
	return g.frame.take(list[start[i]:start[i+1]])
}

// members lists the rows group by group: those of group i are list[start[i]:start[i+1]].
func (g *Groups) members() (list, start []int) {
	if g.list != nil {
		return g.list, g.start
	}
	start = make([]int, len(g.count)+1)
	for i, n := range g.count {
		start[i+1] = start[i] + n
	}
	list = make([]int, len(g.code))
	next := slices.Clone(start)
	for row, code := range g.code {
		list[next[code]] = row
		next[code]++
	}
	g.list, g.start = list, start
	return list, start
}

// Summarise returns one row a group: the columns grouped by, n (the rows of the group), and the summaries.
// A summary leaves missing values out and is missing where too few are left.
func (g *Groups) Summarise(wanted ...Summary) (*Frame, error) {
	members, start := g.members()
	parent := g.frame
	out := &Frame{columns: taken(g.by, g.first), rows: upTo(g.Len()), origin: func(group int) []record.Ref {
		var refs []record.Ref
		for _, row := range members[start[group]:start[group+1]] {
			refs = append(refs, parent.RowRefs(row)...)
		}
		slices.SortFunc(refs, record.Ref.Compare)
		return slices.Compact(refs)
	}}
	n := make([]float64, g.Len())
	for i, c := range g.count {
		n[i] = float64(c)
	}
	add := func(c Column) error {
		if out.find(c.Name) != nil {
			return fmt.Errorf("the column %s would stand twice; rename it before grouping, or name the summary otherwise", c.Name)
		}
		out.columns = append(out.columns, &column{name: c.Name, kind: c.Kind, unit: c.Unit, values: &c})
		return nil
	}
	if err := add(Numbers("n", "", n)); err != nil {
		return nil, err
	}
	for _, s := range wanted {
		c, err := g.summary(s, members, start)
		if err != nil {
			return nil, err
		}
		if err := add(c); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (g *Groups) summary(s Summary, members, start []int) (Column, error) {
	source, err := g.frame.get(s.Column)
	if err != nil {
		return Column{}, err
	}
	at := slices.Index(Summaries(), s.Of)
	if at < 0 {
		return Column{}, fmt.Errorf("%q is no summary; there are: %s", s.Of, strings.Join(Summaries(), ", "))
	}
	as := s.As
	if as == "" {
		as = s.Column + "_" + s.Of
	}
	v := source.gather()
	switch {
	case v.Kind == Number:
		return numbersOf(v, as, s.Of, summaries[at].of, members, start)
	case s.Of == "n":
		n := make([]float64, len(start)-1)
		for i := range n {
			for _, row := range members[start[i]:start[i+1]] {
				if !v.IsMissing(row) {
					n[i]++
				}
			}
		}
		return Numbers(as, "", n), nil
	case v.Kind == Text && (s.Of == "min" || s.Of == "max"):
		return textsOf(v, as, s.Of == "max", members, start), nil
	}
	return Column{}, fmt.Errorf("column %s holds %v; they have no %s", s.Column, v.Kind, s.Of)
}

func numbersOf(v *Column, as, name string, of func([]float64) (float64, error), members, start []int) (Column, error) {
	unit := v.Unit
	if name == "n" {
		unit = ""
	}
	out := make([]float64, len(start)-1)
	var known []float64
	for i := range out {
		known = known[:0]
		for _, row := range members[start[i]:start[i+1]] {
			if x := v.Number[row]; !math.IsNaN(x) {
				known = append(known, x)
			}
		}
		x, err := of(known)
		if err != nil {
			return Column{}, fmt.Errorf("%s of column %s: %w", name, v.Name, err)
		}
		out[i] = x
	}
	return Numbers(as, unit, out), nil
}

func textsOf(v *Column, as string, largest bool, members, start []int) Column {
	out := make([]string, len(start)-1)
	for i := range out {
		for _, row := range members[start[i]:start[i+1]] {
			if t := v.Text[row]; !v.IsMissing(row) && (out[i] == "" || largest && t > out[i] || !largest && t < out[i]) {
				out[i] = t
			}
		}
	}
	return Texts(as, out)
}

// Describe tells of each column how many values it has, how many are missing and how many differ, and of
// numbers their mean, SD, smallest, quartiles and largest.
func (f *Frame) Describe() (*Frame, error) {
	n := len(f.columns)
	text := map[string][]string{"column": make([]string, n), "holds": make([]string, n), "unit": make([]string, n)}
	heads := []string{"n", "missing", "different", "mean", "sd", "min", "q25", "median", "q75", "max"}
	num := map[string][]float64{}
	for _, h := range heads {
		num[h] = make([]float64, n)
	}
	for i, c := range f.columns {
		v := c.gather()
		text["column"][i], text["holds"][i], text["unit"][i] = c.name, c.kind.String(), c.unit
		var known []float64
		missing := 0
		for row := range f.Len() {
			if v.IsMissing(row) {
				missing++
			} else if v.Kind == Number {
				known = append(known, v.Number[row])
			}
		}
		different := 0
		for _, code := range v.codes() {
			different = max(different, code+1)
		}
		if missing > 0 {
			different--
		}
		num["n"][i], num["missing"][i], num["different"][i] = float64(f.Len()-missing), float64(missing), float64(different)
		for _, h := range heads[3:] {
			x, err := describe(h, known)
			if err != nil {
				return nil, fmt.Errorf("column %s: %w", c.name, err)
			}
			num[h][i] = x
		}
	}
	columns := []Column{Texts("column", text["column"]), Texts("holds", text["holds"]), Texts("unit", text["unit"])}
	for _, h := range heads {
		columns = append(columns, Numbers(h, "", num[h]))
	}
	return New(columns, nil)
}

func describe(head string, known []float64) (float64, error) {
	switch head {
	case "q25":
		return atLeast(1, func(xs []float64) (float64, error) { return stat.Quantile(xs, 0.25) })(known)
	case "q75":
		return atLeast(1, func(xs []float64) (float64, error) { return stat.Quantile(xs, 0.75) })(known)
	}
	return summaries[slices.Index(Summaries(), head)].of(known)
}

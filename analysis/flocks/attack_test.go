package flocks

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// attacker knows what a release says of one key: which finest strata stand behind each number.
type attacker struct {
	strata  []Cell // the finest strata, their sums unknown to it
	known   [][]float64
	sums    []float64 // of N
	echelon [][]float64
}

func (a *attacker) learn(is func(Stratum) bool, n float64) {
	row := make([]float64, len(a.strata))
	for i, c := range a.strata {
		if is(c.Stratum) {
			row[i] = 1
		}
	}
	a.known, a.sums = append(a.known, row), append(a.sums, n)
}

// attack builds the equations of a key. The level at which the cells were shown is taken as known.
func attack(t *testing.T, truth, released Summary, k Key) *attacker {
	t.Helper()
	a := &attacker{}
	for _, c := range truth.Cells {
		if c.Key == k {
			a.strata = append(a.strata, c)
		}
	}
	for _, c := range released.Total {
		if c.Key == k {
			a.learn(func(Stratum) bool { return true }, c.N)
		}
	}
	var shown []Cell
	for _, c := range released.Cells {
		if c.Key == k {
			shown = append(shown, c)
		}
	}
	for _, level := range levels() {
		fits := true
		for _, c := range shown {
			n := 0.0
			for _, f := range a.strata {
				if level(f.Stratum) == c.Stratum {
					n += f.N
				}
			}
			fits = fits && n == c.N
		}
		if fits {
			for _, c := range shown {
				a.learn(func(s Stratum) bool { return level(s) == c.Stratum }, c.N)
			}
			return a
		}
	}
	t.Fatalf("%s: the shown cells fit no level", k)
	return nil
}

// tells reports whether some combination of the known numbers is the sum over exactly these strata: whether its indicator lies
// in the space of the equations' rows, which reduce has brought to echelon form.
func (a *attacker) tells(which []int) bool {
	target := make([]float64, len(a.strata))
	for _, i := range which {
		target[i] = 1
	}
	for _, row := range a.echelon {
		lead := slices.IndexFunc(row, func(x float64) bool { return x != 0 })
		if f := target[lead]; f != 0 {
			for j := range target {
				target[j] -= f * row[j]
			}
		}
	}
	return !slices.ContainsFunc(target, func(x float64) bool { return math.Abs(x) > 1e-9 })
}

// reduce brings the equations to reduced echelon form by Gauss and Jordan's elimination.
func (a *attacker) reduce() {
	var m [][]float64
	for _, row := range a.known {
		m = append(m, slices.Clone(row))
	}
	r := 0
	for col := range a.strata {
		p := slices.IndexFunc(m[r:], func(row []float64) bool { return math.Abs(row[col]) > 1e-9 })
		if p < 0 {
			continue
		}
		m[r], m[r+p] = m[r+p], m[r]
		lead := m[r][col]
		for j := range m[r] {
			m[r][j] /= lead
		}
		for i := range m {
			if f := m[i][col]; i != r && f != 0 {
				for j := range m[i] {
					m[i][j] -= f * m[r][j]
				}
			}
		}
		if r++; r == len(m) {
			break
		}
	}
	a.echelon = m[:r]
}

// pinned reports whether bounds alone fix N of a stratum: no number below it may be negative.
func (a *attacker) pinned(stratum int) bool {
	low, high := make([]float64, len(a.strata)), make([]float64, len(a.strata))
	for i := range high {
		high[i] = math.Inf(1)
	}
	equations, sums := slices.Clone(a.known), slices.Clone(a.sums)
	rest, left := slices.Clone(a.known[0]), a.sums[0] // what the total leaves beside the shown ones
	for e := 1; e < len(a.known); e++ {
		for i, x := range a.known[e] {
			rest[i] -= x
		}
		left -= a.sums[e]
	}
	equations, sums = append(equations, rest), append(sums, left)
	for range 20 { // bounds through bounds, until they stand
		for e, row := range equations {
			for i, x := range row {
				if x == 0 {
					continue
				}
				least, most := sums[e], sums[e]
				for j, y := range row {
					if j != i && y != 0 {
						least, most = least-high[j], most-low[j]
					}
				}
				low[i], high[i] = max(low[i], least), min(high[i], most)
			}
		}
	}
	return high[stratum]-low[stratum] < 1e-9
}

// smallGroups lists the sets of one to three strata behind which fewer than SmallGroup birds stand.
func smallGroups(truth Summary, k Key, strata []Cell) [][]int {
	few := func(which ...int) bool {
		var list []Stratum
		for _, i := range which {
			list = append(list, strata[i].Stratum)
		}
		return truth.birdsOf(k, list) < SmallGroup
	}
	var out [][]int
	for i := range strata {
		if !few(i) {
			continue
		}
		out = append(out, []int{i})
		for j := range i {
			if !few(i, j) {
				continue
			}
			out = append(out, []int{i, j})
			for l := range j {
				if few(i, j, l) {
					out = append(out, []int{i, j, l})
				}
			}
		}
	}
	return out
}

// leaks lists what an attacker learns of small groups from one release.
func leaks(t *testing.T, truth, released Summary) []string {
	t.Helper()
	var out []string
	for _, c := range slices.Concat(released.Total, released.Cells) {
		if c.Birds < SmallGroup {
			out = append(out, fmt.Sprintf("%s: %d birds shown", c.Key, c.Birds))
		}
	}
	for _, total := range released.Total {
		a := attack(t, truth, released, total.Key)
		a.reduce()
		for _, group := range smallGroups(truth, total.Key, a.strata) {
			if a.tells(group) {
				out = append(out, fmt.Sprintf("%s: strata %v can be worked out", total.Key, group))
			}
			if len(group) == 1 && a.pinned(group[0]) {
				out = append(out, fmt.Sprintf("%s: stratum %v is fixed by bounds", total.Key, group))
			}
		}
	}
	return out
}

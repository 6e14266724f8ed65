package evidence

import (
	"fmt"
	"math"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// Bare numbers of one column that lie this far apart are hardly of one unit: no bird's weight in kilograms or pounds
// reaches fifty, none in grams is below five (common practice, no source).
const (
	smallWeights = 5.0
	largeWeights = 50.0
)

// The names of the groups of a column whose bare numbers are of two kinds.
const (
	below = "below 5"
	above = "above 50"
)

// bare is the number of a cell that has no unit of its own.
func (k *Pool) bare(c parse.Cell) (float64, bool) {
	in := k.Weight
	in.Unit = ""
	if _, p := parse.Weight(c, in); p == nil || p.Class != parse.UnitUnknown {
		return 0, false
	}
	in.Unit = parse.Grams
	m, _ := parse.Weight(c, in)
	return max(m.Grams, m.Lo, m.Hi), true
}

// Group is the group of a bare number where those of its column are of two kinds, small and large, with nothing between:
// such a column is asked about by group. It is "" in any other column.
func (k *Pool) Group(c parse.Cell) string {
	if k.groups == nil {
		small, large, between := false, false, false
		for _, cell := range k.cells {
			v, ok := k.bare(cell)
			switch {
			case !ok:
			case v < smallWeights:
				small = true
			case v > largeWeights:
				large = true
			default:
				between = true
			}
		}
		two := small && large && !between
		k.groups = &two
	}
	if v, ok := k.bare(c); ok && *k.groups {
		if v < smallWeights {
			return below
		}
		return above
	}
	return ""
}

// UnitReadings offers every unit in which a bare number of the column, or of one of its groups, could be a bird's weight,
// with what the column would become.
func (k *Pool) UnitReadings(group string) []record.Reading {
	var out []record.Reading
	for _, u := range []string{parse.Grams, parse.Kilos, parse.Pounds, parse.PoundOz, parse.Ounces} {
		in := k.Weight
		if in.Unit = u; in.Point == parse.PointUnknown {
			in.Point = map[string]parse.Point{parse.Pounds: parse.PointDecimal, parse.PoundOz: parse.PointOunces}[u]
		}
		lo, hi, fits, all := math.Inf(1), 0.0, 0, 0
		for _, c := range k.cells {
			if _, ok := k.bare(c); !ok || k.Group(c) != group {
				continue
			}
			all++
			m, p := parse.Weight(c, in)
			if g := max(m.Grams, m.Lo, m.Hi); g > 0 && (p == nil || !p.Holds()) {
				lo, hi = min(lo, g), max(hi, g)
				fits++
			}
		}
		if fits == 0 {
			continue
		}
		label := fmt.Sprintf("%s: %.0f to %.0f g", u, lo, hi)
		if math.Round(lo) == math.Round(hi) {
			label = fmt.Sprintf("%s: %.0f g", u, hi)
		}
		if no := all - fits; no > 0 {
			label += fmt.Sprintf("; %d of %d would still be asked", no, all)
		}
		out = append(out, record.Reading{Label: label, Value: u})
	}
	return out
}

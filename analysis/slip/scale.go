package slip

import (
	"math"
	"slices"

	"keelmark/ingest/record"
)

const gramsPerOunce = 28.349523125 // exactly, by the international avoirdupois pound of 1959

// Scale is how finely the weights of one sheet were read.
type Scale struct {
	File, Sheet string
	N           int
	Step        float64 // grams to which most weights are rounded; 0 where no step shows
	Text        string  // the step in words: "5 g", "half an ounce"
	Share       float64 // of the weights that are rounded to it, beyond those that lie there by chance
	First       record.Ref
}

// minHeaped is the fewest weights that show to what they are rounded.
const minHeaped = 20

// step is what scales and eyes round to.
type step struct {
	grams      float64
	unit, text string
}

// steps are finest first within each unit.
func steps() []step {
	return []step{{1, "g", "1 g"}, {2, "g", "2 g"}, {5, "g", "5 g"}, {10, "g", "10 g"}, {20, "g", "20 g"}, {25, "g", "25 g"}, {50, "g", "50 g"}, {100, "g", "100 g"},
		{gramsPerOunce / 4, "oz", "a quarter of an ounce"}, {gramsPerOunce / 2, "oz", "half an ounce"}, {gramsPerOunce, "oz", "an ounce"},
		{0.16 * gramsPerOunce, "lb", "a hundredth of a pound"}, {1.6 * gramsPerOunce, "lb", "a tenth of a pound"}}
}

// readScales finds the resolution of each sheet: the largest step that at least half of its weights are rounded to,
// beyond what lies there by chance.
func (s *search) readScales() {
	values := map[sheetName][]float64{}
	var names []sheetName
	first := map[sheetName]record.Ref{}
	for _, id := range s.order {
		for _, o := range s.own[id] {
			n := sheetOf(o.At)
			if values[n] == nil {
				names = append(names, n)
				first[n] = o.At
			}
			if o.At.Compare(first[n]) < 0 {
				first[n] = o.At
			}
			values[n] = append(values[n], o.Value)
		}
	}
	slices.SortFunc(names, func(a, b sheetName) int { return first[a].Compare(first[b]) })
	for _, n := range names {
		out := Scale{File: n.file, Sheet: n.sheet, N: len(values[n]), First: first[n]}
		if out.N >= minHeaped {
			unit := ""
			for _, t := range steps() {
				share, chance := 0.0, min(1, 0.2/t.grams)
				for _, v := range values[n] {
					if k := v / t.grams; math.Abs(k-math.Round(k))*t.grams < 0.1 {
						share += 1 / float64(out.N)
					}
				}
				if t.unit == unit {
					chance = out.Step / t.grams
				}
				if beyond := (share - chance) / (1 - chance); t.grams > out.Step && beyond >= 0.5 {
					out.Step, out.Text, out.Share, unit = t.grams, t.text, beyond, t.unit
				}
			}
		}
		s.scales = append(s.scales, out)
		s.sheets[n] = out
	}
}

// step is the resolution of a cell's sheet, in grams; 0 where none shows.
func (s *search) step(at record.Ref) float64 {
	return s.sheets[sheetOf(at)].Step
}

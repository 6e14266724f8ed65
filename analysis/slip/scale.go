package slip

import (
	"math"
	"slices"

	"keelmark/analysis/stat"
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
	Typical     float64 // median weight in grams
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
// beyond what lies there by chance. A sheet of few weights is taken to be as its file, a file of few as the whole flock.
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
	files := map[string][]float64{}
	var flock []float64
	for _, n := range names {
		files[n.file] = append(files[n.file], values[n]...)
		flock = append(flock, values[n]...)
	}
	for _, n := range names {
		out := Scale{File: n.file, Sheet: n.sheet, N: len(values[n]), First: first[n]}
		out.Typical, _ = stat.Median(values[n]) // of one finite value at least
		out.read(values[n])
		s.scales = append(s.scales, out)
		for _, more := range [][]float64{files[n.file], flock} {
			if len(values[n]) < minHeaped {
				out.read(more)
			}
		}
		if s.sheets[n] = out.Step; len(flock) < minHeaped {
			s.sheets[n] = unknownStep
		}
	}
}

// read finds the step of weights; too few leave it as it is.
func (out *Scale) read(weights []float64) {
	if len(weights) < minHeaped || out.Step > 0 {
		return
	}
	unit := ""
	for _, t := range steps() {
		near := 0.1
		if t.unit != "g" && unit == "g" {
			near = 0.51 // read in ounces and written in whole grams
		}
		hits := 0
		for _, v := range weights {
			if k := v / t.grams; math.Abs(k-math.Round(k))*t.grams < near {
				hits++
			}
		}
		share, chance := float64(hits)/float64(len(weights)), min(1, 2*near/t.grams)
		if t.unit == unit {
			chance = out.Step / t.grams
		}
		if beyond := (share - chance) / max(1-chance, 1e-9); t.grams > out.Step && beyond >= 0.5 {
			out.Step, out.Text, out.Share, unit = t.grams, t.text, beyond, t.unit
		}
	}
}

// unknownStep is the resolution of a flock of too few weights to show one. Source: common practice, no source: kitchen
// scales and eyes.
const unknownStep = 10

// step is the resolution of a cell's sheet, in grams; 0 where its weights show none.
func (s *search) step(at record.Ref) float64 {
	return s.sheets[sheetOf(at)]
}

package plots

import (
	"math"
	"strings"
	"testing"

	"keelmark/analysis/growth"
)

func TestReliabilityRefusesWhatCannotBe(t *testing.T) {
	for name, bins := range map[string][]ReliabilityBin{
		"nothing":        nil,
		"above one":      {{0.5, 1.2, 0.4, 1.3, 10}},
		"NaN":            {{0.5, math.NaN(), 0.4, 0.6, 10}},
		"outside":        {{0.5, 0.5, 0.6, 0.7, 10}},
		"no case":        {{0.5, 0.5, 0.4, 0.6, 0}},
		"falling stated": {{0.5, 0.5, 0.4, 0.6, 9}, {0.4, 0.4, 0.3, 0.5, 9}},
	} {
		if (Reliability{Bins: bins}).Validate() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestResidualsRefuseWhatCannotBe(t *testing.T) {
	for name, points := range map[string][]Residual{
		"nothing": nil, "NaN": {{1, math.NaN(), "a"}}, "before hatching": {{-1, 1, "a"}}, "less than nothing": {{1, -100, "a"}},
	} {
		if (Residuals{Points: points}).Validate() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Every weighing of a bird with a curve is drawn, at its own distance; the middle is the median of five or more of one
// fortnight.
func TestResidualsOfAFlock(t *testing.T) {
	c, data := flock(t)
	r, err := growth.Spec().Run(t.Context(), c, data, nil)
	if err != nil {
		t.Fatal(err)
	}
	f, ok := residualFigure(r.(*growth.Result))
	if !ok {
		t.Fatal("no figure")
	}
	points := 0
	for _, b := range r.(*growth.Result).Birds {
		if b.Fitted() {
			points += len(b.Points)
			p := b.Points[0]
			want := 100 * (p.Weight/b.Weight(p.Age) - 1)
			found := false
			for _, q := range f.Panel.(Residuals).Points {
				found = found || q.Label == b.Label && q.Day == p.Age && math.Abs(q.Percent-want) < 1e-9
			}
			if !found {
				t.Errorf("%s: the first weighing is not %v %% from its curve in the figure", b.Label, want)
			}
		}
	}
	if n := len(f.Panel.(Residuals).Points); n != points || !strings.Contains(f.Alt, "Half of the weighings lie within") {
		t.Errorf("%d points of %d: %s", n, points, f.Alt)
	}
	var seven []Residual
	for i := range 7 {
		seven = append(seven, Residual{Day: 14 + float64(i), Percent: float64(i)})
	}
	got := middles(append(seven, Residual{Day: 40, Percent: 9}))
	if len(got) != 1 || got[0].Day != 17 || got[0].Percent != 3 {
		t.Errorf("%+v", got)
	}
}

// One bird and sixty, with long names, keep their ink within the figure.
func TestFewAndManyBirdsFit(t *testing.T) {
	long := "R16 Großmutter Käthe von der langen Wiese, hatched from the second clutch of the old hen"
	for _, n := range []int{1, 60} {
		var birds []Growth
		var rows []WeightRow
		for range n {
			birds = append(birds, sampleGrowth(long, 3000))
			rows = append(rows, WeightRow{Label: long, Class: "pullet until the day, weighed 2025-10-01", StdLow: 2800, StdHigh: 3200, Value: 2900, Low: 2750, High: 3050})
		}
		for _, f := range []Figure{
			{Name: "m", Alt: "a", Width: pageWidth, Height: 20 + 40*float64((min(n, 20)+3)/4), Panel: Multiples{4, birds[:min(n, 20)]}},
			{Name: "w", Alt: "a", Width: pageWidth, Height: Weights{}.HeightFor(n), Panel: Weights{Level: 0.9, Rows: rows}},
		} {
			img := drawn(t, f, 40, 20)
			b := img.Bounds()
			edge := 20 * 40 / 72
			for y := range b.Dy() {
				for x := range b.Dx() {
					r, _, _, _ := img.At(x, y).RGBA()
					if (x < edge-1 || x > b.Dx()-edge || y < edge-1 || y > b.Dy()-edge) && r < 0xF000 {
						t.Fatalf("%s of %d birds: ink at %d, %d", f.Name, n, x, y)
					}
				}
			}
		}
	}
}

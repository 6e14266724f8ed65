package plots

import (
	"context"
	"encoding/json"
	"fmt"
	"image/color"
	"math"
	"reflect"
	"strings"
	"testing"

	"keelmark/analysis/flocks"
	"keelmark/ingest/record"
)

// inventedFlocks are summaries of flocks of 10 to 60 birds; the fourth is lousier and heavier than any could be by chance.
func inventedFlocks(t *testing.T, n int, code func(int) string) *flocks.Result {
	t.Helper()
	var list []flocks.Summary
	for i := range n {
		birds := 10 + i*7%51
		s := flocks.Summary{Code: code(i), Birds: birds}
		wave := math.Sin(float64(i) * 2.4)
		share := 0.2 + 0.05*wave
		percent := 98 + 2*wave
		if i == 3 {
			share, percent = 0.85, 135
		}
		for h := range 3 {
			half := flocks.Half{Year: 2024 + h/2, Second: h % 2}
			looks := float64(birds * (3 + i%3))
			add := func(m flocks.Measure, scale string, n, x, spread float64) {
				k := flocks.Key{Measure: m, Scale: scale, Half: half}
				s.Total = append(s.Total, flocks.Cell{Key: k, Birds: birds, Clusters: birds, N: n, X: x, Spread: spread})
				for season := 1; season <= 3; season++ {
					s.Cells = append(s.Cells, flocks.Cell{Key: k, Stratum: flocks.Stratum{Size: record.Large, Season: season + 3*(h%2)}, Birds: birds, N: n / 3, X: x / 3})
				}
			}
			add(flocks.Effort, "", float64(birds*6), looks, 0)
			add(flocks.Lice, "", looks, math.Round(looks*share), 1.5)
			add(flocks.Weight, "invented", float64(birds), float64(birds)*percent, 64)
			if i%2 == 0 {
				add(flocks.Condition, "0-3 high-good", float64(birds), math.Round(float64(birds)*(0.6+0.1*wave)), 1)
			}
		}
		list = append(list, s)
	}
	r, err := flocks.Compare(context.Background(), list, flocks.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func shortCode(i int) string { return fmt.Sprintf("K%d", i+1) }

func longCode(i int) string { return fmt.Sprintf("the-long-code-of-flock-%02d", i+1) }

func figuresByName(list []Figure) map[string]Figure {
	out := map[string]Figure{}
	for _, f := range list {
		out[f.Name] = f
	}
	return out
}

func TestFiguresOfFlocksShowTheirNumbers(t *testing.T) {
	r := inventedFlocks(t, 12, shortCode)
	figures := figuresByName(For(r))
	for _, want := range []string{"effort", "funnel-lice", "shrunken-lice", "funnel-weight-invented", "shrunken-weight-invented", "shrunken-condition-0-3-high-good", "side-by-side", "season"} {
		if _, ok := figures[want]; !ok {
			t.Errorf("there is no figure %s", want)
		}
	}
	for _, c := range r.Comparisons {
		if c.Measure != flocks.Lice {
			continue
		}
		funnel := figures["funnel-lice"].Panel.(Funnel)
		caterpillar := figures["shrunken-lice"].Panel.(Ranges)
		outside := 0
		for i, row := range c.Rows {
			p, s := funnel.Points[i], caterpillar.Rows[i].Cells[0]
			if p.Label != row.Code || p.Value != 100*row.Difference.Value || p.Size != row.Size || s.Value != 100*row.Shrunken.Value || s.Low != 100*row.Shrunken.Low {
				t.Errorf("%s: the figures say %+v and %+v, the comparison %+v", row.Code, p, s, row)
			}
			if mean := 100 * c.Mean.Value; math.Abs(*s.Plain-mean) < math.Abs(s.Value-mean)-1e-9 {
				t.Errorf("%s is drawn away from the others: %g to %g", row.Code, *s.Plain, s.Value)
			}
			low, high := funnel.at(p.Size)
			if p.Value < low || p.Value > high {
				outside++
			}
		}
		if !funnel.Points[3].Told || outside == 0 {
			t.Errorf("the flock that differs is not told apart (%+v), or the band holds all", funnel.Points[3])
		}
		first, last := funnel.Limits[0], funnel.Limits[len(funnel.Limits)-1]
		if first.High-first.Low <= last.High-last.Low {
			t.Errorf("the funnel does not narrow: %+v to %+v", first, last)
		}
	}
	effort := figures["effort"].Panel.(Calendar)
	if len(effort.Rows) != 12 || effort.Columns[0] != "2024-H1" || effort.Rows[0].Cells[0].Text != "0.5" { // 10 birds, 30 looks, 60 bird-months
		t.Errorf("effort strip: %+v", effort.Rows[0])
	}
	side := figures["side-by-side"].Panel.(Ranges)
	if got := side.Rows[1].Cells[2].Missing; got == "" {
		t.Errorf("a flock without scores is shown with one: %+v", side.Rows[1])
	}
}

func TestFiguresOfFlocksAtAllNumbers(t *testing.T) {
	const margin, dpi = 20, 60
	for _, n := range []int{1, 2, 5, 12, 60, 75} {
		for _, code := range []func(int) string{shortCode, longCode} {
			r := inventedFlocks(t, n, code)
			figures := For(r)
			own, err := r.Own(code(0))
			if err != nil {
				t.Fatal(err)
			}
			figures = append(figures, For(own)...)
			names := map[string]bool{}
			for i, f := range figures {
				if names[f.Name] {
					t.Errorf("%d flocks: two figures are called %s", n, f.Name)
				}
				names[f.Name] = true
				if err := f.Validate(); err != nil {
					t.Errorf("%d flocks: %v", n, err)
					continue
				}
				if f.Height > 245 || f.Caption == "" || strings.Contains(f.Alt+f.Caption+f.Title, "1 flocks") {
					t.Errorf("%d flocks: %s is %g mm high, captioned %q, alt %q", n, f.Name, f.Height, f.Caption, f.Alt)
				}
				data, err := json.Marshal(f)
				if err != nil {
					t.Fatal(err)
				}
				var back Figure
				if err := json.Unmarshal(data, &back); err != nil || !reflect.DeepEqual(f, back) {
					t.Errorf("%s does not come back from JSON: %v", f.Name, err)
				}
				if n != 12 && n != 60 || i > 3 && n == 60 {
					continue // drawing is slow
				}
				img := drawn(t, f, dpi, margin)
				edge, b := margin*dpi/72, img.Bounds()
				for y := range b.Dy() {
					for x := range b.Dx() {
						inside := x >= edge-1 && x <= b.Dx()-edge && y >= edge-1 && y <= b.Dy()-edge
						if !inside && color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y < 250 {
							t.Fatalf("%d flocks, %s: ink at %d, %d, outside its margin", n, f.Name, x, y)
						}
					}
				}
			}
			if n == 1 && len(figures) > 2 {
				t.Errorf("one flock is set beside itself in %d figures", len(figures))
			}
		}
	}
}

func TestAKeepersFigureNamesNobodyElse(t *testing.T) {
	r := inventedFlocks(t, 12, longCode)
	own, err := r.Own(longCode(0))
	if err != nil {
		t.Fatal(err)
	}
	list := For(own)
	if len(list) != 1 {
		t.Fatalf("%d figures", len(list))
	}
	data, err := json.Marshal(list[0])
	if err != nil {
		t.Fatal(err)
	}
	for i := 1; i < 12; i++ {
		if strings.Contains(string(data), longCode(i)) {
			t.Errorf("the figure of %s names %s", longCode(0), longCode(i))
		}
	}
}

func TestFewSharedFlocksAreNotDrawn(t *testing.T) {
	r := inventedFlocks(t, 4, shortCode)
	var list []flocks.Summary
	for _, f := range r.Flocks {
		f.Summary.Released = true
		list = append(list, f.Summary)
	}
	few, err := flocks.Compare(context.Background(), list, flocks.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range For(few) {
		t.Errorf("%s is drawn of 4 flocks that came as summaries", f.Name)
	}
}

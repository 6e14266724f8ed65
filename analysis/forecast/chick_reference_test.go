//go:build reference

package forecast

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"keelmark/analysis/forecast/pooled"
)

// Day 21 of the chicks of Crowder & Hand 1990, Analysis of Repeated Measures, Example 5.3 (R's ChickWeight), from
// their weighings of days 0 to 12 alone: 45 chicks lived to be weighed then. The process noise, a growth rate that
// wanders and returns, is fitted to days 0 to 12; nothing is calibrated on day 21. 38 chicks lie inside the 90 %
// range; those outside fell behind after day 12, as no earlier weighing of theirs foretold. One chick is 2.2 points.
func TestChicksAtDay21(t *testing.T) {
	root := os.Getenv("KEELMARK_REFERENCE")
	if root == "" {
		t.Fatal("KEELMARK_REFERENCE is not set: set it to the folder that holds reference/")
	}
	f, err := os.Open(filepath.Join(root, "reference", "growth", "ChickWeight.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(name string) int {
		for i, head := range rows[0] {
			if head == name {
				return i
			}
		}
		t.Fatalf("no column %s in %v", name, rows[0])
		return 0
	}
	weight, time, chick := column("weight"), column("Time"), column("Chick")
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var order []string
	ages, logs, day21 := map[string][]float64{}, map[string][]float64{}, map[string]float64{}
	for _, r := range rows[1:] {
		id, day, grams := r[chick], number(r[time]), number(r[weight])
		if _, seen := ages[id]; !seen {
			order = append(order, id)
		}
		if day <= 12 {
			ages[id], logs[id] = append(ages[id], day/7), append(logs[id], math.Log(grams))
		}
		if day == 21 {
			day21[id] = grams
		}
	}
	var tracks []pooled.Track
	for _, id := range order {
		var days []float64
		for _, a := range ages[id] {
			days = append(days, 7*a)
		}
		tracks = append(tracks, pooled.Track{Ages: ages[id], Logs: logs[id], Days: days})
	}
	p := pooled.Integrate(2000, openSD, tracks)
	var inside [3]int
	width, n := 0.0, 0
	for i, id := range order {
		truth, weighed := day21[id]
		if !weighed {
			continue
		}
		n++
		w := p.Weighing(i, 3, true, 1)
		u := w.CDF(truth)
		for k, level := range []float64{0.5, 0.8, 0.9} {
			if math.Abs(u-0.5) <= level/2 {
				inside[k]++
			}
		}
		width += math.Log(w.Quantile(0.95) / w.Quantile(0.05))
	}
	t.Logf("%d chicks: %d, %d, %d inside 50, 80, 90 %%; mean width %.2f; %.0f draws", n, inside[0], inside[1], inside[2], width/float64(n), p.Draws)
	if share := float64(inside[2]) / float64(n); n != 45 || share < 0.84 || share > 0.96 {
		t.Errorf("%d of %d chicks lie inside the 90 %% range, %.0f %%; 84 to 96 %% are asked for", inside[2], n, 100*share)
	}
}

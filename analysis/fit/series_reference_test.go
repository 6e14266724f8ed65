//go:build reference

package fit

import (
	"encoding/csv"
	"os"
	"slices"
	"strconv"
	"testing"
)

// BenchmarkSeriesOfFile fits a Gompertz curve to each bird of the file that KEELMARK_GROWTH names (columns bird,
// age_d, weight_g), from the start that the comparison with SciPy takes: 1.1 times the heaviest weighing, 0.03, 60.
func BenchmarkSeriesOfFile(b *testing.B) {
	file, err := os.Open(os.Getenv("KEELMARK_GROWTH"))
	if err != nil {
		b.Fatal("KEELMARK_GROWTH names the file of weighings: ", err)
	}
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	if err != nil {
		b.Fatal(err)
	}
	var x, y [][]float64
	last := ""
	for _, line := range lines[1:] {
		if line[0] != last {
			last = line[0]
			x, y = append(x, nil), append(y, nil)
		}
		age, err := strconv.ParseFloat(line[1], 64)
		if err != nil {
			b.Fatal(err)
		}
		weight, err := strconv.ParseFloat(line[2], 64)
		if err != nil {
			b.Fatal(err)
		}
		k := len(x) - 1
		x[k], y[k] = append(x[k], age), append(y[k], weight)
	}
	s, err := NewSeries(gompertzCurve, 3)
	if err != nil {
		b.Fatal(err)
	}
	start := make([]float64, 3)
	failed := 0
	for b.Loop() {
		failed = 0
		for k := range x {
			start[0], start[1], start[2] = 1.1*slices.Max(y[k]), 0.03, 60
			if s.Fit(x[k], y[k], start) != Converged {
				failed++
			}
		}
	}
	b.ReportMetric(float64(len(x))*float64(b.N)/b.Elapsed().Seconds(), "fits/s")
	b.ReportMetric(float64(failed), "failed")
}

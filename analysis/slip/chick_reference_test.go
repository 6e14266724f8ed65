//go:build reference

package slip

import (
	"context"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// The 578 weighings of 50 chicks of Crowder & Hand 1990, Analysis of Repeated Measures, Example 5.3 (R's ChickWeight), in
// which no slip is known: real growth, with a chick that stood still and some that died, must raise about no question; a
// weighing written in ounces, or with a digit lost, must.
func TestRealChicks(t *testing.T) {
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
	ds := &record.Dataset{}
	seen := map[string]bool{}
	for i, row := range rows[1:] {
		grams, err := strconv.ParseFloat(row[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		age, err := strconv.Atoi(row[1])
		if err != nil {
			t.Fatal(err)
		}
		if !seen[row[2]] {
			seen[row[2]] = true
			ds.Birds = append(ds.Birds, record.Bird{ID: row[2], Ring: row[2]})
		}
		ds.Observations = append(ds.Observations, record.Observation{Bird: row[2], Age: record.AgeDays(age), Trait: record.Weight, Value: grams,
			Text: row[0], At: record.Ref{File: "chicks.csv", Row: int32(i + 2), Col: 1}})
	}
	r, err := Find(context.Background(), analysis.Context{}, ds, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Weighings != 578 || len(r.Findings) > 1 {
		t.Errorf("%d weighings, asked about: %+v", r.Weighings, r.Findings)
	}
	t.Logf("asked about %d of %d, scatter %.2f", len(r.Findings), r.Weighings, r.Scatter)
	tried, caught := 0, 0
	for i := 5; i < len(ds.Observations); i += 7 {
		o := &ds.Observations[i]
		was := *o
		o.Value = math.Round(o.Value/gramsPerOunce*100) / 100
		if i%2 == 0 {
			o.Value = math.Trunc(was.Value / 10)
		}
		o.Text = strconv.FormatFloat(o.Value, 'f', -1, 64)
		r, err := Find(context.Background(), analysis.Context{}, ds, Options{Ring: o.Bird}, nil)
		if err != nil {
			t.Fatal(err)
		}
		tried++
		if at(r, o.At.Row) != nil {
			caught++
		}
		*o = was
	}
	if float64(caught) < 0.95*float64(tried) {
		t.Errorf("%d of %d planted slips caught", caught, tried)
	}
	t.Logf("%d of %d planted slips caught", caught, tried)
}

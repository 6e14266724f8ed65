//go:build reference

package growth

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// readCSV returns the rows of a file of the reference folder below their heading; the test fails without it.
func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	dir := os.Getenv("KEELMARK_REFERENCE")
	if dir == "" {
		t.Fatal("KEELMARK_REFERENCE is not set: it names the folder that holds reference/")
	}
	f, err := os.Open(filepath.Join(dir, "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func weighing(bird string, days, grams float64, row int) record.Observation {
	return record.Observation{Bird: bird, Age: record.AgeDays(int(days)), Trait: record.Weight, Value: grams,
		At: record.Ref{File: "data.csv", Row: int32(row + 2), Col: 4}}
}

// TestMekongFlocks: weekly samples of 11 small-scale flocks (ViParc project, data/age_weight.csv) name no bird. Each
// flock has its curve and no bird has one.
func TestMekongFlocks(t *testing.T) {
	flocks := make(map[string]*record.Dataset)
	var names []string
	for i, row := range readCSV(t, "real/mekong_flocks_age_weight.csv") {
		name := "flock " + row[0]
		if flocks[name] == nil {
			flocks[name] = &record.Dataset{Name: name}
			names = append(names, name)
		}
		kg, err := strconv.ParseFloat(row[3], 64)
		if err != nil {
			continue // not weighed
		}
		d := flocks[name]
		d.Observations = append(d.Observations, weighing("", 7*number(t, row[2]), 1000*kg, i))
	}
	if len(names) != 11 {
		t.Fatalf("%d flocks", len(names))
	}
	for _, name := range names {
		r, err := Curves(context.Background(), analysis.Context{}, flocks[name], Defaults())
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(r.Birds) != 0 || len(r.Samples) != 1 || !r.Samples[0].Fitted() {
			t.Errorf("%s: %d birds, %d samples", name, len(r.Birds), len(r.Samples))
		}
		for _, c := range r.Claims() {
			t.Log(c.Text)
		}
	}
}

// TestChickWeight: 50 chicks to 21 days (Crowder & Hand 1990). Every chick has a curve or a refusal in words; no
// mature weight is claimed for a curve that has hardly bent.
func TestChickWeight(t *testing.T) {
	d := &record.Dataset{Name: "ChickWeight"}
	seen := make(map[string]bool)
	for i, row := range readCSV(t, "growth/ChickWeight.csv") {
		d.Observations = append(d.Observations, weighing(row[2], number(t, row[1]), number(t, row[0]), i))
		if !seen[row[2]] {
			seen[row[2]] = true
			d.Birds = append(d.Birds, record.Bird{ID: row[2], Ring: row[2]})
		}
	}
	for _, errors := range []string{"proportional", "constant"} {
		o := Defaults()
		o.Errors = errors
		r, err := Curves(context.Background(), analysis.Context{}, d, o)
		if err != nil {
			t.Fatal(err)
		}
		rules := make(map[Rule]int)
		told := 0
		var logLik float64
		for i := range r.Birds {
			c := &r.Birds[i]
			if c.Refusal != nil {
				rules[c.Refusal.Rule]++
			} else {
				told++
			}
			if c.fit != nil {
				logLik += c.fit.LogLik
			}
		}
		t.Log(errors, "told", told, "refused", rules, "log-likelihood", logLik)
		for _, c := range r.Claims()[:12] {
			t.Log(c.ID, c.Text)
		}
		for i := range r.Lines {
			t.Log("pooled log-likelihood", r.Lines[i].fit.LogLik, r.of(&r.Lines[i])[0].Text)
		}
		if len(r.Birds) != 50 || len(r.Lines) != 1 {
			t.Errorf("%d birds, %d lines", len(r.Birds), len(r.Lines))
		}
	}
}

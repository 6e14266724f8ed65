//go:build reference

package ingest

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"keelmark/ingest/record"
)

func reference(t *testing.T, path string) string {
	t.Helper()
	dir := os.Getenv("KEELMARK_REFERENCE")
	if dir == "" {
		t.Fatal("set KEELMARK_REFERENCE to the folder that holds the reference data")
	}
	return filepath.Join(dir, path)
}

// ChickWeight: 578 weights of 50 chicks at 12 ages in days, as documented in R's package datasets. R wrote
// its 5 weights of 100 g as "1e+02".
func TestChickWeight(t *testing.T) {
	o := Options{Today: today(), Settings: record.Settings{Units: record.UnitSettings{Weight: "g", Age: "d"}}}
	sets, err := Load(context.Background(), []string{reference(t, "reference/growth/ChickWeight.csv")}, o)
	if err != nil {
		t.Fatal(err)
	}
	d := sets[0]
	if len(d.Observations) != 578 || len(d.Questions) != 0 || len(d.Birds) != 50 {
		t.Errorf("%d weights and %d questions of %d chicks, want 578, none and 50", len(d.Observations), len(d.Questions), len(d.Birds))
	}
	first := d.Of("1", record.Weight)
	if n, ok := first[len(first)-1].Age.Days(); len(first) != 12 || first[0].Value != 42 || first[11].Value != 205 || n != 21 || !ok {
		t.Errorf("chick 1: %d weights from %v to %v at day %d", len(first), first[0].Value, first[len(first)-1].Value, n)
	}
	// without units both are asked, once each, and nothing is guessed
	sets, err = Load(context.Background(), []string{reference(t, "reference/growth/ChickWeight.csv")}, Options{Today: today()})
	if err != nil {
		t.Fatal(err)
	}
	if got := classes(sets); !slices.Contains(got, "age_unit_unknown") || len(sets[0].Observations) != 0 {
		t.Errorf("without units: %d records, asked %v", len(sets[0].Observations), got)
	}
}

// The Mekong flocks: 10 birds weighed a week in each of 11 flocks, numbered 1 to 10 each week anew.
func TestMekongFlocks(t *testing.T) {
	sets := load(t, reference(t, "reference/real/mekong_flocks_age_weight.csv"))
	if len(sets) != 11 {
		t.Fatalf("%d flocks, want 11", len(sets))
	}
	for _, d := range sets {
		if len(d.Birds) != 0 {
			t.Errorf("flock %s: %d birds, want none: the numbers are samples", d.Name, len(d.Birds))
		}
		for _, o := range d.Observations {
			if n, ok := o.Age.Days(); o.Bird != "" || !ok || n%7 != 0 {
				t.Fatalf("%s: bird %q, age %d", o.At, o.Bird, n)
			}
		}
	}
	if got := classes(sets); !slices.Contains(got, "sample_numbers") {
		t.Errorf("asked %v", got)
	}
}

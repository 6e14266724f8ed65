//go:build reference

package datasets

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// TestBreedsAgainstReference compares every figure and every gram with the gathered tables: each verified row
// there is here once, with the same grams, and nothing else is.
func TestBreedsAgainstReference(t *testing.T) {
	root := os.Getenv("KEELMARK_REFERENCE")
	if root == "" {
		t.Fatal("set KEELMARK_REFERENCE to the folder that holds the reference data")
	}
	var want []string
	for _, name := range []string{"standard_weights.csv", "standard_weights_more.csv", "usda_standard_weights.csv"} {
		f, err := os.Open(filepath.Join(root, "reference", "breeds", name))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		column := make(map[string]int)
		for i, h := range rows[0] {
			column[h] = i
		}
		for _, r := range rows[1:] {
			if r[column["status"]] != "verified" {
				continue
			}
			if s, ok := column["standard"]; ok && strings.HasPrefix(r[s], "historic 1899") {
				continue // stands again, page by page, in the bulletin's own table
			}
			breed, _, _ := strings.Cut(r[column["breed"]], " (")
			line := breed + "|" + r[column["size"]] + "|" + r[column["unit"]]
			for _, class := range record.Classes() {
				line += "|" + r[column[string(class)]]
				for _, bound := range []string{"_low_g", "_high_g"} {
					g, _ := strconv.ParseFloat(r[column[string(class)+bound]], 64)
					line += fmt.Sprintf(" %.0f", g)
				}
			}
			want = append(want, line)
		}
	}
	var got []string
	for _, r := range breeds(t) {
		line := r.Breed + "|" + r.SizeText + "|" + r.Unit
		for _, class := range record.Classes() {
			w := r.Weights[class]
			line += fmt.Sprintf("|%s %.0f %.0f", w.Printed, math.Round(w.Low), math.Round(w.High))
		}
		got = append(got, line)
	}
	slices.Sort(want)
	slices.Sort(got)
	for i := range max(len(want), len(got)) {
		if i >= len(want) || i >= len(got) || want[i] != got[i] {
			t.Fatalf("from row %d on (%d here, %d there):\nhere  %s\nthere %s", i, len(got), len(want), got[min(i, len(got)-1)], want[min(i, len(want)-1)])
		}
	}
}

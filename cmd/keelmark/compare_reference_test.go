//go:build reference

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestRealFlocksAreComparedByAge compares 11 small-scale flocks of the Mekong delta, ten birds weighed a week: ViParc project,
// public repository viparc/amu_metrics, data/age_weight.csv; read in place.
func TestRealFlocksAreComparedByAge(t *testing.T) {
	root := os.Getenv("KEELMARK_REFERENCE")
	if root == "" {
		t.Fatal("KEELMARK_REFERENCE must name the folder that holds reference/")
	}
	code, out, errs := compared(t, filepath.Join(root, "reference", "real", "mekong_flocks_age_weight.csv"))
	if !done(code) {
		t.Fatalf("exit %d: %s", code, errs)
	}
	for _, want := range []string{
		"11 flocks side by side, in the order given",
		"Weight for age, 11 flocks, 110 birds: beside birds of the same age in all flocks",
		"weighings in 11 flocks name no bird",
		"which errs on the side of saying too little; growth of a bird, and who was missed, cannot be told",
		"The records do not tell the sex in 100 %, the size class in 100 %",
		"look every bird over once a month",
		// At week 8 its ten birds weigh 0.31 kg on average, those of the other flocks 0.78 kg.
		"flock 7 lies clearly below the others for weight for age",
	} {
		if !says(out, want) {
			t.Errorf("%q is not said:\n%s", want, out)
		}
	}
	if n := strings.Count(out, " lies clearly "); n != 1 {
		t.Errorf("%d flocks are told apart by ten birds each", n)
	}
}

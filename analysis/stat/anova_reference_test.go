//go:build reference

package stat

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var anovaRow = regexp.MustCompile(`(?m)^(Between|Within) \w+ +\d+ +(\d\S*\d)`)

// TestOneWayAgainstNISTFiles reads the certified sums of squares and the data from reference/nist/linear_anova.
func TestOneWayAgainstNISTFiles(t *testing.T) {
	dir := os.Getenv("KEELMARK_REFERENCE")
	if dir == "" {
		t.Fatal("KEELMARK_REFERENCE is not set: it names the folder that holds reference/")
	}
	for name, digits := range map[string]float64{"SiRstv": 12, "SmLs01": 13, "SmLs04": 9} {
		raw, err := os.ReadFile(filepath.Join(dir, "reference", "nist", "linear_anova", name+".dat"))
		if err != nil {
			t.Fatal(err)
		}
		certified := map[string]float64{}
		for _, m := range anovaRow.FindAllStringSubmatch(string(raw), -1) {
			if certified[m[1]], err = strconv.ParseFloat(m[2], 64); err != nil {
				t.Fatal(err)
			}
		}
		data := string(raw)[strings.LastIndex(string(raw), "Data:"):]
		groups := make([][]float64, 0, 9)
		for _, line := range strings.Split(data, "\n")[1:] {
			f := strings.Fields(line)
			if len(f) != 2 {
				continue
			}
			treatment, err := strconv.Atoi(f[0])
			if err != nil {
				t.Fatal(err)
			}
			y, err := strconv.ParseFloat(f[1], 64)
			if err != nil {
				t.Fatal(err)
			}
			if treatment > len(groups) {
				groups = append(groups, nil)
			}
			groups[treatment-1] = append(groups[treatment-1], y)
		}
		a, err := OneWay(groups...)
		if err != nil {
			t.Fatal(err)
		}
		for what, got := range map[string]float64{"Between": a.Between, "Within": a.Within} {
			if d := -math.Log10(math.Abs(got-certified[what])/certified[what] + 1e-16); !(d >= digits) {
				t.Errorf("%s: %s %v, certified %v", name, what, got, certified[what])
			}
		}
	}
}

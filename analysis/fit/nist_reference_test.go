//go:build reference

package fit

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// reference returns the folder of reference data; a test that needs it fails without.
func reference(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("KEELMARK_REFERENCE")
	if dir == "" {
		t.Fatal("KEELMARK_REFERENCE is not set: it names the folder that holds reference/")
	}
	return filepath.Join(dir, "reference")
}

// TestNISTAll fits every nonlinear set in reference/nist, from both published starts, by the one exported
// procedure. Lanczos1 is generated to 14 digits: its residuals, and so its standard errors, are rounding.
func TestNISTAll(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(reference(t), "nist", "*.dat"))
	if err != nil || len(files) < 14 {
		t.Fatalf("%d sets, %v", len(files), err)
	}
	var table strings.Builder
	for _, file := range files {
		set := readNIST(t, file)
		model := nistModels[set.name]
		if model == nil {
			t.Errorf("no model for %s", set.name)
			continue
		}
		checkNIST(t, &table, set, set.start1, 1, model, set.name != "Lanczos1")
		checkNIST(t, &table, set, set.start2, 2, model, set.name != "Lanczos1")
	}
	t.Log("agreeing digits, worst of each set\n" + table.String())
}

var (
	nistParam = regexp.MustCompile(`^\s*b\d+\s*=`)
	nistRSS   = regexp.MustCompile(`^Residual Sum of Squares:\s+(\S+)`)
)

// readNIST reads one file of the collection in its published layout: a line a parameter with two starts, value
// and standard deviation; data after the last line that begins with "Data:", response first.
func readNIST(t *testing.T, file string) certified {
	t.Helper()
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	set := certified{name: strings.TrimSuffix(filepath.Base(file), ".dat")}
	lines := strings.Split(string(raw), "\n")
	data := 0
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		return x
	}
	for i, line := range lines {
		switch {
		case strings.HasPrefix(line, "Data:"):
			data = i
		case nistParam.MatchString(line):
			f := strings.Fields(line[strings.Index(line, "=")+1:])
			set.start1 = append(set.start1, number(f[0]))
			set.start2 = append(set.start2, number(f[1]))
			set.params = append(set.params, number(f[2]))
			set.errs = append(set.errs, number(f[3]))
		default:
			if m := nistRSS.FindStringSubmatch(line); m != nil {
				set.rss = number(m[1])
			}
		}
	}
	for _, line := range lines[data+1:] {
		f := strings.Fields(line)
		if len(f) < 2 {
			continue
		}
		row := make([]float64, 0, len(f)-1)
		for _, s := range f[1:] {
			row = append(row, number(s))
		}
		set.y = append(set.y, number(f[0]))
		set.x = append(set.x, row)
	}
	return set
}

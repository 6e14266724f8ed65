package reports

import (
	"regexp"
	"testing"
)

func TestReportsOverFlocksReadNoFlock(t *testing.T) {
	flock := regexp.MustCompile(`\bflock\.|\(flock\b`)
	for _, name := range []string{"flocks", "keeper"} {
		nb, err := Compared(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := nb.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, c := range nb.Cells {
			if len(c.Outputs) > 0 || c.Count != nil {
				t.Errorf("%s: cell %s is shipped with an output", name, c.ID)
			}
			if flock.MatchString(c.Source) {
				t.Errorf("%s: cell %s reads a flock's records", name, c.ID)
			}
		}
	}
	if _, err := Compared("ranking"); err == nil {
		t.Error("an unknown report is found")
	}
}

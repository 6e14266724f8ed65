package intake

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// An edited copy under another name is not counted beside its original; a sheet that goes on from it is. Invented rows.
func TestEditedCopies(t *testing.T) {
	const rows = "Ring,Date,Weight g\nR1,2025-03-01,850\nR2,2025-03-01,910\nR3,2025-03-01,870\nR4,2025-03-01,905\nR1,2025-03-15,861\nR2,2025-03-15,915\n"
	for name, c := range map[string]struct {
		text string
		want Action
	}{
		"edited": {strings.Replace(rows, "870", "780", 1), Skip},
		"longer": {rows + "R3,2025-03-15,881\n", Add},
		"other":  {strings.ReplaceAll(rows, "2025-03", "2025-09"), Add},
	} {
		t.Run(name, func(t *testing.T) {
			dir, given := t.TempDir(), t.TempDir()
			put(t, dir, "weights.csv", rows)
			path := filepath.Join(given, "weights (copy).csv")
			if err := os.WriteFile(path, []byte(c.text), 0o644); err != nil {
				t.Fatal(err)
			}
			for _, anyway := range []bool{false, true} {
				p, err := Prepare(context.Background(), dir, []string{path}, Options{Anyway: anyway})
				if err != nil {
					t.Fatal(err)
				}
				it := p.Items[0]
				if want := map[bool]Action{false: c.want, true: Add}[anyway]; it.Action != want || want == Skip && !strings.Contains(it.Reason, "edited copy of weights.csv") {
					t.Errorf("anyway %v: %s %q", anyway, it.Action, it.Reason)
				}
				if err := p.Close(); err != nil {
					t.Error(err)
				}
			}
		})
	}
}

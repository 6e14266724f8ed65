package ingest

import (
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/settings"
)

// The answer about a column follows it when its heading is changed; where it cannot, the keeper is told why. Invented.
func TestAnswersOfAColumnWhoseHeadingChanged(t *testing.T) {
	a := &settings.Answers{}
	a.Set(settings.Answer{Key: "unit_unknown w.csv Weight", Value: "lb", Cell: "w.csv!C2", Raw: "2.4"})
	for name, c := range map[string]struct {
		text, note string
		read       int
	}{
		"as it was":            {"Ring;Date;Weight\nR1;13/4/2025;2.4\nR2;13/4/2025;2.6\n", "", 2},
		"renamed":              {"Ring;Date;Wt\nR1;13/4/2025;2.4\nR2;13/4/2025;2.6\n", `your answer "lb" about the column "Weight" is used for "Wt"`, 2},
		"another column there": {"Ring;Date;Wt\nR1;13/4/2025;2.5\nR2;13/4/2025;2.7\n", `about "Weight" is not used: nothing asks for it now`, 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := load2(t, write(t, map[string]string{"w.csv": c.text}), a)[0]
			if len(d.Observations) != c.read {
				t.Errorf("read %v, asked %v", d.Observations, d.Questions)
			}
			if notes := d.Files[0].Notes; c.note != "" && !slices.ContainsFunc(notes, func(n string) bool { return strings.Contains(n, c.note) }) {
				t.Errorf("notes %q", notes)
			}
		})
	}
}

// A row that stands twice is counted once, and nothing is asked about the cell that was refused.
func TestARowPastedTwiceIsAskedOnce(t *testing.T) {
	d := load2(t, write(t, map[string]string{"w.csv": "Ring;Date;Weight g\nR1;13/4/2025;~850\nR2;13/4/2025;910\nR1;13/4/2025;~850\nR2;13/4/2025;910\n"}), &settings.Answers{})[0]
	if len(d.Observations) != 2 || len(d.Rejects) != 2 || len(d.Questions) != 1 || d.Questions[0].At.Cell() != "C2" {
		t.Errorf("%d looks, rejects %v, questions %v", len(d.Observations), d.Rejects, d.Questions)
	}
}

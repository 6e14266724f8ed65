package decision

import (
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// hen is one invented Sussex hen with weighings in grams, so many days ago each.
func hen(t *testing.T, weighings map[int]float64) string {
	t.Helper()
	c, d := home(t)
	d.Birds, d.Observations = d.Birds[:1], nil
	row := int32(1)
	for _, ago := range []int{120, 90, 60, 30, 2} {
		if g, ok := weighings[ago]; ok {
			row++
			d.Observations = append(d.Observations, record.Observation{Bird: "R1", On: record.On(c.Today - record.Day(ago)), Trait: record.Weight,
				Value: g, At: record.Ref{File: "w.csv", Row: row, Col: 3}})
		}
	}
	for _, claim := range gathered(t, c, d, nil).Sheets[0].Claims {
		if strings.HasPrefix(claim.ID, "forecast.band/") {
			return string(claim.Stands) + ": " + strings.Join(claim.Caveats, "; ")
		}
	}
	return ""
}

// The American Standard's 7 lb hen less and plus a fifth is 2540 to 3810 g (notice of November 2023).
func TestOneWrongWeighingIsTold(t *testing.T) {
	steady := hen(t, map[int]float64{120: 3180, 90: 3210, 60: 3190, 30: 3200, 2: 3200})
	if !strings.HasPrefix(steady, string(analysis.For)) || !strings.Contains(steady, "no single weighing decides this: without any one of 5") {
		t.Errorf("a steady hen well inside: %s", steady)
	}
	edge := hen(t, map[int]float64{120: 2640, 90: 2660, 60: 2645, 30: 2650, 2: 2810})
	if !strings.HasPrefix(edge, string(analysis.For)) || !strings.Contains(edge, "flips if one weighing is wrong: 2810 g") || !strings.Contains(edge, "C6") {
		t.Errorf("a hen that only her last weighing holds inside: %s", edge)
	}
}

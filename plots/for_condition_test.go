package plots

import (
	"context"
	"fmt"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/condition"
	"keelmark/ingest/record"
)

func TestScoresAreDrawnByBirdAndRound(t *testing.T) {
	// Invented: two birds on a scale of which low is good, one of them not scored at the second of 30 rounds.
	data := &record.Dataset{Name: "Low Barn", Birds: []record.Bird{{ID: "R1", Ring: "R1"}, {ID: "R2", Ring: "R2"}, {ID: "R3", Ring: "R3"}}}
	today := d(t, "2025-11-20")
	for round := range 30 {
		for i, bird := range []string{"R1", "R2"} {
			if round == 28 && bird == "R2" {
				continue
			}
			data.Observations = append(data.Observations, record.Observation{Bird: bird, Trait: record.Feather, Form: record.Ordinal, Value: float64(2 * i), Scale: "feather",
				Text: fmt.Sprint(2 * i), On: record.On(today - record.Day(7*(30-round))), At: record.Ref{File: "a.csv", Row: int32(round + 2), Col: int32(i + 2)}})
		}
	}
	c := analysis.Context{Today: today}
	c.Settings.Scales = map[string]record.Scale{"feather": {Name: "feather", Min: 0, Max: 2, Direction: "high-bad"}}
	r, err := condition.Spec().Run(context.Background(), c, data, nil)
	if err != nil {
		t.Fatal(err)
	}
	figures := For(r)
	if len(figures) != 1 {
		t.Fatalf("%d figures", len(figures))
	}
	if err := figures[0].Validate(); err != nil {
		t.Fatal(err)
	}
	k := figures[0].Panel.(Calendar)
	if len(k.Columns) != mostRounds || len(k.Rows) != 2 {
		t.Errorf("%d rounds of %d birds; a bird that was never scored has no row", len(k.Columns), len(k.Rows))
	}
	last := len(k.Columns) - 1
	if k.Rows[0].Cells[last].Grade != 0 || k.Rows[1].Cells[last].Grade != 2 || k.Rows[1].Cells[last].Text != "2" {
		t.Errorf("low is good here: %+v %+v", k.Rows[0].Cells[last], k.Rows[1].Cells[last])
	}
	if k.Rows[1].Cells[last-1].Looked || !k.Rows[0].Cells[last-1].Looked {
		t.Error("a round without a score is drawn as scored")
	}
}

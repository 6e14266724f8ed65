package slip

import (
	"context"
	"math"
	"slices"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Influence is how much one weighing alone says of its bird.
type Influence struct {
	Of    record.Observation
	Shift float64 // of the log of the expected weight, were the weighing left out
}

// Influences tell, for each bird, how far each of its weighings alone moves what it is expected to weigh on a day, all that
// other birds say held fixed. Weighings that wait for the keeper's answer, and those that do not fit the others, move
// nothing and are left out, as are birds with fewer than MinWeighings. The error is that of ctx.
//
// Source: Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eq. 5.12 (leave one out).
func Influences(ctx context.Context, c analysis.Context, d *record.Dataset, on record.Day) (map[string][]Influence, error) {
	sure := *d
	sure.Observations = slices.DeleteFunc(slices.Clone(d.Observations), func(o record.Observation) bool {
		return o.Trait != record.Weight || o.Flagged || o.On.Known() && o.On.First > c.Today
	})
	s := newSearch(c, &sure, nil)
	s.gather()
	if err := s.judge(ctx); err != nil {
		return nil, err
	}
	out := map[string][]Influence{}
	for _, h := range s.all {
		if len(h.w) < MinWeighings || math.IsNaN(h.start) {
			continue
		}
		var mine []Influence // of the latest part of a long record, or of the latest wearer of a ring
		day := float64(on) - h.start
		with := h.e.on(day)
		for i, w := range h.w {
			if h.e.doubted[i] {
				continue
			}
			h.e.doubt(i)
			mine = append(mine, Influence{w.obs, h.e.on(day) - with})
			h.e.believe(i)
		}
		out[h.bird.ID] = mine
	}
	return out, nil
}

package carriage

import (
	"math"

	"keelmark/analysis/stat"
)

// Chances returns, for each bird of the flock, the chance that it carries the parasite at the end of the records, with
// the range that the records (and, where the sensitivity is not told, the assumed sensitivities) leave; Level 0.9. A bird
// that has left has N 0.
//
// Source: filtered chances under the fitted parameters and under draws around them.
func (m *Model) Chances() []stat.Interval {
	f := m.timeline.filter()
	all := make([][]float64, len(m.timeline.birds))
	for _, r := range m.draws {
		f.run(r, nil, nil)
		for i, in := range f.in {
			if in {
				all[i] = append(all[i], f.p[i])
			}
		}
	}
	out := make([]stat.Interval, len(all))
	for i, ps := range all {
		if len(ps) == 0 {
			continue
		}
		low, _ := stat.Quantile(ps, (1-level)/2) // finite by construction
		high, _ := stat.Quantile(ps, (1+level)/2)
		value := min(max(ps[0], low), high)
		out[i] = stat.Interval{Value: value, Low: low, High: high, Level: level, N: len(m.timeline.birds[i].Looks)}
	}
	return out
}

// Course is the chance of one bird through time, from what was seen of it and its flock up to each day.
type Course struct{ Days, Chance []float64 }

// Courses returns the course of each bird under the best parameters, at steps of at most a week.
//
// Source: as for Chances.
func (m *Model) Courses() []Course {
	f := m.timeline.filter()
	out := make([]Course, len(m.timeline.birds))
	f.run(m.draws[0], nil, func(k tick, f *filter) {
		for i, in := range f.in {
			if in && !math.IsNaN(f.p[i]) {
				out[i].Days = append(out[i].Days, k.day)
				out[i].Chance = append(out[i].Chance, f.p[i])
			}
		}
	})
	return out
}

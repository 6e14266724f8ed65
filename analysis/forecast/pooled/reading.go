package pooled

import "keelmark/analysis/forecast/outlier"

// reading is one way to tell a bird's good weighings from its bad ones. The chance of a bird's weighings is the
// sum over its readings: with errors that are mostly small and seldom wide the likelihood has one hill for each.
type reading struct {
	bad  []bool
	log  float64   // log prior probability of so many bad weighings
	mode []float64 // where the fit begins
}

func newReading(bad []bool) reading {
	return reading{bad: bad, log: outlier.LogPrior(bad), mode: make([]float64, effects)}
}

// read finds the readings of a bird that matter under a pool.
func (w *workspace) read(p *pool, t *Track) []reading {
	w.prepare(p, t)
	var out []reading
	for _, bad := range outlier.Ways(len(t.Ages), func(bad []bool) float64 {
		l, _ := w.fit(p, t, bad, make([]float64, effects))
		return l
	}) {
		out = append(out, newReading(bad))
	}
	return out
}

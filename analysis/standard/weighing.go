package standard

import (
	"fmt"
	"math"
	"slices"

	"keelmark/ingest/record"
)

const (
	// AssumedCV is the within-bird coefficient of variation of one weighing (crop fill, time of day, wet
	// feather) where the flock's own records cannot tell. Source: common practice, no source; 2 to 4 % is the
	// range that Keelmark's planning took.
	AssumedCV = 0.03
	// PairsForCV is how many pairs of weighings of one bird, at most PairDays apart, replace AssumedCV.
	PairsForCV = 10
	// PairDays is the greatest distance of such a pair.
	PairDays = 3
	// PairAge in days: younger birds grow too fast for a pair to show weighing error alone.
	PairAge = 20 * 7
	// leastCV keeps weights that were rounded or copied from passing for a perfect scale.
	leastCV = 0.01
	// LastWeighingDays is the age in days beyond which a last weighing is expired.
	LastWeighingDays = 28
)

// WeighingError is the error of one weighing as a coefficient of variation.
type WeighingError struct {
	CV    float64
	Pairs int // pairs seen, used only where there are PairsForCV
}

// Estimated reports whether the flock's own pairs gave the figure.
func (w WeighingError) Estimated() bool { return w.Pairs >= PairsForCV }

// String says where the figure comes from.
func (w WeighingError) String() string {
	if w.Estimated() {
		return fmt.Sprintf("weighing error %.1f %%, from %d pairs of weighings at most %d days apart", 100*w.CV, w.Pairs, PairDays)
	}
	return fmt.Sprintf("weighing error %.0f %% assumed (%d of the %d pairs of close weighings that would tell)", 100*w.CV, w.Pairs, PairsForCV)
}

// SmallestChange returns the least relative change between two single weighings that weighing error alone
// seldom makes: 1.96 √2 CV.
//
// Source: normal theory, repeatability limit as in ISO 5725-1 (from memory).
func (w WeighingError) SmallestChange() float64 { return 1.96 * math.Sqrt2 * w.CV }

// WeighingErrorOf estimates the weighing error from consecutive weighings of one bird at most PairDays apart,
// of birds at least PairAge old on the later one. With fewer than PairsForCV pairs it is AssumedCV. Single bad
// weighings do not move it: it rests on the median distance, scaled for a normal error, and is never below 1 %.
//
// Source: median absolute difference of pairs, MAD/0.6745/√2 (Hampel 1974, J. Am. Stat. Assoc. 69:383).
func WeighingErrorOf(d *record.Dataset) WeighingError {
	var distances []float64
	weights := d.ByBird(record.Weight)
	for _, b := range d.Birds {
		var before record.Observation
		for i, o := range weights[b.ID] {
			if i > 0 && o.On.Exact() && before.On.Exact() && o.On.First-before.On.First <= PairDays && usable(o) && usable(before) && grown(b, o) {
				distances = append(distances, math.Abs(math.Log(o.Value/before.Value)))
			}
			before = o
		}
	}
	out := WeighingError{CV: AssumedCV, Pairs: len(distances)}
	if out.Estimated() {
		slices.Sort(distances)
		n := len(distances)
		middle := (distances[(n-1)/2] + distances[n/2]) / 2
		out.CV = max(middle/0.6745/math.Sqrt2, leastCV)
	}
	return out
}

// usable reports whether an observation is one measured weight that does not wait for the keeper's confirmation.
func usable(o record.Observation) bool { return o.Form == record.Measured && o.Value > 0 && !o.Flagged }

// grown reports whether a bird is known to be past its fast growth at a weighing.
func grown(b record.Bird, o record.Observation) bool {
	if days, ok := o.Age.Days(); ok {
		return days >= PairAge
	}
	return b.Hatched.Known() && int(o.On.First-b.Hatched.Last) >= PairAge
}

// Last returns the latest dated weighing of a bird, on or before a day. Its age in days is counted from the
// last day it may have been made.
func Last(weights []record.Observation, today record.Day) (record.Observation, bool) {
	var last record.Observation
	found := false
	for _, o := range weights {
		if o.On.Known() && o.On.First <= today && usable(o) && (!found || o.On.Last >= last.On.Last) {
			last, found = o, true
		}
	}
	return last, found
}

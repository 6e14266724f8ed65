package ingest

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// Numbers of four figures that may be a year in a column of grams, and how far the bird's other weights must lie from
// one for it to be asked about. Common practice, no source.
const (
	firstYear = 1900
	farApart  = 1.5
)

// yearLike holds out weights that read as a calendar year, "2025" in a column of grams, where every other weight of the
// bird is less than two thirds of it, or more than half as much again: the year may have been typed for the weight.
func (s *settling) yearLike() {
	lastYear := 0
	if s.today != 0 {
		lastYear, _, _ = s.today.Date()
	}
	var doubted []int
	for i := range s.flock.Looks {
		o := &s.flock.Looks[i]
		if o.Trait != record.Weight || o.Form != record.Measured || o.Value < firstYear || o.Value > float64(lastYear) || s.flock.Links[i].Bird < 0 {
			continue
		}
		if n, err := strconv.Atoi(strings.TrimSpace(o.Text)); err == nil && o.Value == float64(n) {
			doubted = append(doubted, i)
		}
	}
	if len(doubted) == 0 {
		return
	}
	others := map[int32][]float64{} // weights by bird, those in doubt left out
	for i := range s.flock.Looks {
		o := &s.flock.Looks[i]
		if o.Trait == record.Weight && o.Form == record.Measured && !slices.Contains(doubted, i) {
			others[s.flock.Links[i].Bird] = append(others[s.flock.Links[i].Bird], o.Value)
		}
	}
	drop := map[int]bool{}
	for _, i := range doubted {
		o := &s.flock.Looks[i]
		if alone(o.Value, others[s.flock.Links[i].Bird]) {
			drop[i] = !s.isWeight(o)
		}
	}
	s.flock.Keep(func(i int) bool { return !drop[i] })
}

// alone reports whether a weight is far from all others, of which there is one at least.
func alone(value float64, others []float64) bool {
	for _, g := range others {
		if value < farApart*g && g < farApart*value {
			return false
		}
	}
	return len(others) > 0
}

// isWeight asks whether a number is a weight or a year, or takes the keeper's answer: false where it is no weight, or not
// known to be one.
func (s *settling) isWeight(o *record.Observation) bool {
	whole := fmt.Sprintf("%.0f g", o.Value)
	q := record.Question{Class: "weight_like_year", At: o.At, Raw: o.Text,
		Message: fmt.Sprintf("%s: is %q a weight, or the year typed for it? The other weights of %s are far from it; until you say so it is not used", o.At, parse.Shown(o.Text), o.Bird),
		Readings: []record.Reading{{Label: "it weighed " + whole, Value: whole},
			{Label: "it is no weight: leave it empty", Value: ""}}}
	a, ok := s.replies.Cell(ask.CellKey(q.Class, o.At), o.Text)
	switch m, p := parse.Weight(parse.T(a), parse.WeightIn{Unit: parse.Grams}); {
	case ok && strings.TrimSpace(a) == "":
		s.mark(o.At, record.AsContext)
		return false
	case ok && (p == nil || !p.Holds()) && m.Form == record.Measured:
		if o.Value != m.Grams {
			d := o.Detail()
			d.Steps = append(slices.Clone(d.Steps), fmt.Sprintf("%q answered as %s", parse.Shown(o.Text), a))
			o.More, o.Value = &d, m.Grams
		}
		return true
	case ok:
		s.replies.Refuse(ask.CellKey(q.Class, o.At))
	}
	s.flock.Ask.Add(q)
	s.mark(o.At, record.AsQuestion)
	return false
}

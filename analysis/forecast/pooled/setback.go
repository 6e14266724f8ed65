package pooled

import (
	"math"
	"slices"

	"keelmark/analysis/forecast/dense"
)

// Setback is a day from which on the whole line weighed less, or more, than its curves can follow: a setback shared
// by the flock, or a change of scale. No curve forecasts past one.
type Setback struct {
	Day   float64 // on the track's own clock
	Share float64 // lasting shift of log weight, negative where weights fell
	Z     float64 // shift in standard errors
}

// The size of a setback that is told from chance.
//
// Source: Keelmark's own simulations: of flocks of 10 to 30 birds without one, about 1 in 100 passes the limit.
const (
	SetbackZ     = 3.6
	SetbackShare = 0.025
	SetbackBirds = 5 // weighed both before and after
	// surely is the normal quantile of the chance, 95 %, that a setback of the size told as unseen would be found.
	surely = 1.645
	// setbackDays is how many days are tried at most.
	setbackDays = 12
)

// setback tests, for each day of weighing, whether a lasting shift of all later weighings of the birds weighed before
// would make the records likelier, all else fitted. It leaves the strongest that passes the limits, and the size below
// which a shift on some day might not pass; +Inf where the records tell of none.
//
// Source: Rao's efficient score test, Rao 1948, Proc. Camb. Phil. Soc. 44:50, with observed information.
func (s *sampler) setback(mode []float64, root dense.Factor) (found *Setback, blind float64) {
	own := make([][]float64, len(s.birds))
	for i := range s.birds {
		own[i] = s.birds[i].Logs
		s.birds[i].Logs = slices.Clone(own[i])
	}
	defer func() {
		for i := range s.birds {
			s.birds[i].Logs = own[i]
		}
	}()
	shift := func(day, by float64) {
		for i := range s.birds {
			copy(s.birds[i].Logs, own[i])
			if !s.birds[i].spans(day) {
				continue // not yet there, or no longer
			}
			for j, d := range s.birds[i].Days {
				if d >= day {
					s.birds[i].Logs[j] += by
				}
			}
		}
	}
	p := slices.Clone(mode)
	days := s.candidates()
	if len(days) == 0 {
		blind = math.Inf(1)
	}
	for _, day := range days {
		shifted := func(by float64) float64 {
			shift(day, by)
			return s.target(p)
		}
		const h, k = 0.01, 0.05
		still, up, down := shifted(0), shifted(h), shifted(-h)
		score, information := (up-down)/(2*h), (2*still-up-down)/(h*h)
		cross := make([]float64, unknowns)
		for i := range cross {
			p[i] = mode[i] + k
			ahead := shifted(h) - shifted(-h)
			p[i] = mode[i] - k
			cross[i] = (shifted(h) - shifted(-h) - ahead) / (4 * h * k)
			p[i] = mode[i]
		}
		root.Forward(cross)
		information -= dense.Dot(cross, cross)
		if !(information > 1) {
			blind = math.Inf(1)
			continue // the records cannot tell a shift from another curve
		}
		blind = max(blind, (SetbackZ+surely)/math.Sqrt(information), SetbackShare)
		z, share := score/math.Sqrt(information), -score/information
		if math.Abs(z) > SetbackZ && math.Abs(share) > SetbackShare && (found == nil || math.Abs(z) > math.Abs(found.Z)) {
			found = &Setback{Day: day, Share: share, Z: -z}
		}
	}
	if found != nil && !s.confirmed(found, mode, shift) {
		found = nil
	}
	return found, blind
}

// confirmed reports whether undoing the shift, all else fitted again, really makes the records as much likelier as
// a shift of SetbackZ standard errors would, and by how much. The score alone trusts that the log density is quadratic,
// and overshoots where the shift is large.
func (s *sampler) confirmed(found *Setback, mode []float64, shift func(day, by float64)) bool {
	shift(found.Day, 0)
	before := s.target(mode)
	for _, part := range []float64{1, 0.5, 0.25} {
		shift(found.Day, -part*found.Share)
		again := slices.Clone(mode)
		inverse := dense.Square(unknowns)
		for i := range inverse {
			inverse[i][i] = 0.1
		}
		s.climb(again, inverse, 0.05)
		if s.target(again)-before > SetbackZ*SetbackZ/2 {
			found.Share *= part
			return true
		}
	}
	return false
}

// candidates are days of weighing with enough birds weighed before and on or after, thinned where there are many.
func (s *sampler) candidates() []float64 {
	var days []float64
	for i := range s.birds {
		days = append(days, s.birds[i].Days...)
	}
	slices.Sort(days)
	days = slices.Compact(days)
	days = slices.DeleteFunc(days, func(day float64) bool {
		spanning := 0
		for i := range s.birds {
			if s.birds[i].spans(day) {
				spanning++
			}
		}
		return spanning < SetbackBirds
	})
	if len(days) <= setbackDays {
		return days
	}
	var some []float64
	for i := range setbackDays {
		some = append(some, days[i*(len(days)-1)/(setbackDays-1)])
	}
	return some
}

// spans reports whether the bird was weighed both before and on or after a day.
func (t *Track) spans(day float64) bool { return slices.Min(t.Days) < day && slices.Max(t.Days) >= day }

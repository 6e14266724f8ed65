package season

import (
	"fmt"
	"math"
	"slices"

	"keelmark/ingest/record"
)

// Minimum data.
const (
	// SlotsOfYear four-week slots make a year; LeastSlots of them must hold a look for the year to count.
	// Source: Keelmark's domain notes 4.5.
	SlotsOfYear = 13
	LeastSlots  = 8
	// LeastYears usable years are needed before anything is called a season: with two, chance alone puts both bad
	// times together once in 13. Source: domain notes 4.5 and 4.9.
	LeastYears = 3
)

// Year is one year of looks.
type Year struct {
	From, To record.Day // To is the first day of the next
	Rounds   []Round
	Slots    int // four-week slots with a look
	// Cos and Sin are the year's own wave on the logit scale; only where the year is Usable.
	Cos, Sin float64
}

// Usable reports whether enough of the year was looked at.
func (y Year) Usable() bool { return y.Slots >= LeastSlots }

// Name is "2024", or "Sep 2023 to Aug 2024" where the years do not begin in January.
func (y Year) Name() string {
	fy, fm, _ := y.From.Date()
	ly, lm, _ := (y.To - 1).Date()
	if fy == ly {
		return fmt.Sprint(fy)
	}
	return fmt.Sprintf("%s %d to %s %d", fm.String()[:3], fy, lm.String()[:3], ly)
}

// years cuts rounds, oldest first, into years. They begin on 1 January unless another beginning, in steps of four
// weeks, makes more of them usable: a choice that depends on when the keeper looked and not on what was found.
func years(rounds []Round) []Year {
	var best []Year
	most := -1
	for k := range SlotsOfYear {
		ys := cut(rounds, record.Day(28*k))
		n := 0
		for _, y := range ys {
			if y.Usable() {
				n++
			}
		}
		if n > most {
			best, most = ys, n
		}
	}
	return best
}

func cut(rounds []Round, offset record.Day) []Year {
	var out []Year
	for _, r := range rounds {
		if n := len(out); n == 0 || r.On >= out[n-1].To {
			y, _, _ := (r.On - offset).Date()
			out = append(out, Year{From: newYear(y) + offset, To: newYear(y+1) + offset})
		}
		y := &out[len(out)-1]
		y.Rounds = append(y.Rounds, r)
	}
	for i := range out {
		y := &out[i]
		var seen [SlotsOfYear]bool
		for _, r := range y.Rounds {
			s := min(SlotsOfYear-1, int(float64(r.On-y.From)*SlotsOfYear/yearDays))
			if !seen[s] {
				seen[s] = true
				y.Slots++
			}
		}
		if y.Usable() {
			y.Cos, y.Sin = y.wave()
		}
	}
	return out
}

// halfWeight is the number of birds of a round at which its binomial noise is as large as what birds of one day share.
// Source: Keelmark's choice; binomial variance of a logit near 20 % is about 6 divided by the birds.
const halfWeight = 6

// wave fits level, cosine and sine to the year's logits by weighted least squares.
//
// Source: harmonic regression, Stolwijk, Straatman & Zielhuis 1999, J. Epidemiol. Community Health 53:235.
func (y Year) wave() (cosine, sine float64) {
	s := normal{k: 3}
	for _, r := range y.Rounds {
		z, _ := r.logit()
		n := float64(r.Looked)
		a := phase(r.On)
		s.add(n/(n+halfWeight), columns{1, math.Cos(a), math.Sin(a)}, z)
	}
	b, ok := s.solve()
	if !ok {
		return 0, 0
	}
	return b[1], b[2]
}

func usable(ys []Year) []Year {
	return slices.DeleteFunc(slices.Clone(ys), func(y Year) bool { return !y.Usable() })
}

// peak is the angle at which the year's own wave is highest.
func (y Year) peak() float64 { return wrap(math.Atan2(y.Sin, y.Cos)) }

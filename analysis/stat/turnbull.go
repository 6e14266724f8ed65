package stat

import (
	"cmp"
	"math"
	"slices"
)

// Censored is a time that is known to lie after After and not after By: after the last look without, by the first look
// with. By +Inf leaves it open; After equal to By is a time known exactly.
type Censored struct{ After, By float64 }

// Mass is the share of the events that falls into an interval; where inside the interval is not known. By may be +Inf.
type Mass struct {
	After, By float64
	Share     float64
}

// Turnbull is the nonparametric curve of times that are known to intervals only.
type Turnbull struct {
	Masses []Mass // oldest first, of shares that sum to 1
	LogLik float64
	N      int
}

// FitTurnbull estimates the distribution of times known to intervals, without assuming any shape. It needs one interval;
// times are 0 or more.
//
// Source: Turnbull 1976, J. R. Stat. Soc. B 38:290 (self-consistency); conditions of the maximum Gentleman & Geyer 1994,
// Biometrika 81:618.
func FitTurnbull(times []Censored) (Turnbull, error) {
	if len(times) == 0 {
		return Turnbull{}, tooFew("a curve of intervals", 0, 1)
	}
	for i, c := range times {
		if !(c.After >= 0 && c.By >= c.After) || math.IsInf(c.After, 0) {
			return Turnbull{}, domain("interval %d of %d runs from %v to %v", i+1, len(times), c.After, c.By)
		}
	}
	places := innermost(times)
	holds := make([][]int, len(times)) // the places inside each interval
	for i, c := range times {
		for j, p := range places {
			if c.holds(p) {
				holds[i] = append(holds[i], j)
			}
		}
	}
	share := make([]float64, len(places))
	for j := range share {
		share[j] = 1 / float64(len(share))
	}
	n := float64(len(times))
	next := make([]float64, len(share))
	for range 200_000 {
		clear(next)
		for i := range times {
			var sum float64
			for _, j := range holds[i] {
				sum += share[j]
			}
			for _, j := range holds[i] {
				next[j] += share[j] / sum / n
			}
		}
		moved, settled := 0.0, true
		for j := range share {
			moved = max(moved, math.Abs(next[j]-share[j]))
			// A share that falls away slowly for ever is none; its multiplier below 1 shows it.
			if next[j] > 0 && next[j] < 1e-7 && next[j] < share[j] {
				next[j] = 0
			}
			settled = settled && (next[j] == 0 || math.Abs(next[j]/share[j]-1) < 1e-9)
		}
		copy(share, next)
		if settled || moved < 1e-13 {
			break
		}
	}
	out := Turnbull{N: len(times)}
	for i := range times {
		var sum float64
		for _, j := range holds[i] {
			sum += share[j]
		}
		out.LogLik += math.Log(sum)
	}
	for j, p := range places {
		if share[j] > 1e-6 {
			out.Masses = append(out.Masses, Mass{p.After, p.By, share[j]})
		}
	}
	return out, nil
}

// holds reports whether an innermost interval lies inside c.
func (c Censored) holds(p Censored) bool {
	if p.After == p.By { // an exact time: inside (After, By], or itself
		return c.After < p.By && p.By <= c.By || c == p
	}
	return c.After <= p.After && p.By <= c.By
}

// innermost are the intervals that can hold mass: from a left end to the next right end with no other end between.
func innermost(times []Censored) []Censored {
	type end struct {
		at   float64
		rank int // at one time: the beginning of an exact time, then ends, then beginnings that exclude their time
	}
	var ends []end
	for _, c := range times {
		left := end{c.After, 2}
		if c.After == c.By {
			left.rank = 0
		}
		ends = append(ends, left, end{c.By, 1})
	}
	slices.SortFunc(ends, func(a, b end) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.rank, b.rank)) })
	ends = slices.Compact(ends)
	var out []Censored
	for i := 1; i < len(ends); i++ {
		if ends[i].rank == 1 && ends[i-1].rank != 1 {
			out = append(out, Censored{ends[i-1].at, ends[i].at})
		}
	}
	return out
}

// Left returns bounds for the share still without the event at a time: the mass of an interval that the time cuts may
// lie on either side.
func (t Turnbull) Left(at float64) (low, high float64) {
	low, high = 1, 1
	for _, m := range t.Masses {
		if m.By <= at {
			low, high = low-m.Share, high-m.Share
		} else if m.After < at {
			low -= m.Share
		}
	}
	return max(0, low), max(0, min(1, high))
}

// Quantile returns the interval in which a share p of the events has happened; an end may be +Inf.
func (t Turnbull) Quantile(p float64) (after, by float64, err error) {
	if !(p > 0 && p < 1) {
		return 0, 0, domain("a probability must lie between 0 and 1, not %v", p)
	}
	sum := 0.0
	for _, m := range t.Masses {
		sum += m.Share
		if sum >= p-1e-9 {
			return m.After, m.By, nil
		}
	}
	return math.Inf(1), math.Inf(1), nil
}

package carriage

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrTooFew says that the records hold too little for the model.
var ErrTooFew = errors.New("too few looks for the hidden-state model")

// Look is one look at one bird.
type Look struct {
	Day   float64 // any origin, shared by the flock
	Found bool
}

// Bird is what is recorded of one bird.
type Bird struct {
	Pen     int     // 0 to the number of pens less 1
	From    float64 // first day in the flock
	To      float64 // last day; +Inf while it is there
	Hatched bool    // it hatched on From and began clean; else it began as the flock did
	Looks   []Look
	Treated []float64 // days on which a treatment against the parasite covered it
}

// Flock is what the model is fitted to. YearStart is the Day of some 1 January, so that the season has a phase.
type Flock struct {
	Birds     []Bird
	YearStart float64
}

// Minimum data. Source: the recovery runs of this package; with less the estimates did not settle.
const (
	LeastLooks    = 40 // looks at single birds
	LeastFindings = 8  // of which so many found something
	LeastBirds    = 5
)

const (
	yearDays = 365.25
	stepDays = 7.0 // longest step of the filter, days: rates and the pen's prevalence are held constant within it
)

// tick is a moment of the filter: time passes up to Day, then looks, then treatments.
type tick struct {
	day, gap float64
	cos, sin float64 // of the season at the middle of the gap
	rounds   []round
	treated  []int32
	enter    []int32
	leave    []int32
}

// round is all looks of one day in one pen. Fresh is how much of the pen's common swing is new since its round before.
type round struct {
	pen   int32
	fresh float64
	looks []seen
}

type seen struct {
	bird  int32
	found bool
}

// swingDays is how fast a pen's common swing is renewed. Source: our own choice, between a quick repeat and a month.
const swingDays = 28.0

// timeline lays the records of a flock out in time, once for all evaluations.
type timeline struct {
	ticks   []tick
	pens    int
	birds   []Bird
	penOf   []int32
	members [][]int32 // birds of each pen
	looks   int
	found   int
	treated int
	last    float64
}

func newTimeline(f Flock, until float64) (*timeline, error) {
	t := &timeline{birds: f.Birds, last: until}
	days := map[float64]*tick{}
	at := func(day float64) *tick {
		if days[day] == nil {
			days[day] = &tick{day: day}
		}
		return days[day]
	}
	first := math.Inf(1)
	for i, b := range f.Birds {
		if b.Pen < 0 || b.Pen > len(f.Birds) || math.IsNaN(b.From) || math.IsInf(b.From, 0) || math.IsNaN(b.To) || b.To < b.From {
			return nil, fmt.Errorf("carriage: bird %d is in pen %d from %v to %v", i, b.Pen, b.From, b.To)
		}
		t.pens = max(t.pens, b.Pen+1)
		t.penOf = append(t.penOf, int32(b.Pen))
		for _, l := range b.Looks {
			if l.Day > until || l.Day > b.To {
				continue
			}
			first = min(first, l.Day)
			t.looks++
			if l.Found {
				t.found++
			}
			at(l.Day).see(int32(b.Pen), seen{int32(i), l.Found})
		}
	}
	if math.IsInf(first, 1) {
		return nil, fmt.Errorf("%w: it has none", ErrTooFew)
	}
	for i, b := range f.Birds {
		for _, d := range b.Treated {
			if d >= first && d <= until && d <= b.To {
				k := at(d)
				k.treated = append(k.treated, int32(i))
				t.treated++
			}
		}
		if b.From <= until {
			k := at(max(b.From, first))
			k.enter = append(k.enter, int32(i))
			if b.To < until && b.To >= first {
				k = at(b.To)
				k.leave = append(k.leave, int32(i))
			}
		}
	}
	at(until)
	for d := first; d < until; d += stepDays {
		at(d)
	}
	for _, k := range days {
		t.ticks = append(t.ticks, *k)
	}
	slices.SortFunc(t.ticks, func(a, b tick) int {
		if a.day < b.day {
			return -1
		}
		return 1
	})
	t.members = make([][]int32, t.pens)
	for i, pen := range t.penOf {
		t.members[pen] = append(t.members[pen], int32(i))
	}
	before := make([]float64, t.pens)
	for pen := range before {
		before[pen] = math.Inf(-1)
	}
	for i := range t.ticks {
		for k := range t.ticks[i].rounds {
			x := &t.ticks[i].rounds[k]
			x.fresh = math.Sqrt(1 - math.Exp((before[x.pen]-t.ticks[i].day)/swingDays))
			before[x.pen] = t.ticks[i].day
		}
		if i > 0 {
			t.ticks[i].gap = t.ticks[i].day - t.ticks[i-1].day
		}
		middle := t.ticks[i].day - t.ticks[i].gap/2
		t.ticks[i].sin, t.ticks[i].cos = math.Sincos(2 * math.Pi * (middle - f.YearStart) / yearDays)
	}
	return t, nil
}

// see adds a look to the round of its pen. Of two looks at a bird on one day a finding wins.
func (t *tick) see(pen int32, l seen) {
	i := slices.IndexFunc(t.rounds, func(r round) bool { return r.pen == pen })
	if i < 0 {
		i = len(t.rounds)
		t.rounds = append(t.rounds, round{pen: pen})
	}
	r := &t.rounds[i]
	if k := slices.IndexFunc(r.looks, func(o seen) bool { return o.bird == l.bird }); k >= 0 {
		r.looks[k].found = r.looks[k].found || l.found
		return
	}
	r.looks = append(r.looks, l)
}

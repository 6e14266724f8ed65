package slip

import (
	"context"
	"fmt"
	"math"
	"slices"

	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Limits of what is asked about.
//
// Source: Keelmark's own simulations of clean flocks, which raise at most about one question in 500 weighings.
const (
	siftZ      = 3.2  // SDs off at which a weighing no longer speaks for the others
	suspectZ   = 3.4  // SDs off at which a slip is looked for
	suspectLog = 0.08 // least log ratio to what is expected
	aloneZ     = 8.0  // SDs off at which a weighing is asked about that no slip explains
	aloneLog   = 0.36 // 30 % less or 43 % more
	pairZ      = 2.5  // SDs off of each of two exchanged birds
	pairGain   = 14   // log likelihood by which exchanging them explains both better
	dayZ       = 3.5  // SDs off at which a day's common offset is asked about
	dayLog     = 0.05
	dayBirds   = 4
	dayShare   = 0.8   // of its birds that are off to the same side
	usualDays  = 6     // days from which what they usually differ by is known
	leastSwing = 0.012 // SD by which days differ at least: feed, weather, hour
	sameSlip   = 3     // unit slips of one day or bird from which one question asks about all
)

// judge compares every weighing with what the bird's others say, first day by day, then by pairs of birds, then singly.
func (s *search) judge(ctx context.Context) error {
	for _, h := range s.all {
		if err := ctx.Err(); err != nil {
			return err
		}
		for i, w := range h.w {
			if s.repeats[w.obs.At] && h.e.count() < (len(h.w)-1)/2 {
				h.held[i] = true
				h.e.doubt(i)
			}
		}
		h.doubtBlock()
		h.e.sift(siftZ, h.isHeld)
	}
	s.scatter = s.spread()
	for _, h := range s.all {
		if err := ctx.Err(); err != nil {
			return err
		}
		h.e.sift(siftZ*s.scatter, h.isHeld)
	}
	s.offsets()
	s.pairs()
	s.singles()
	return nil
}

// doubtBlock begins with the shorter part of a record doubted where all weights from one weighing on, or up to one, are off
// by the ratio of two units: one by one they would hold each other up. Those that fit after all are taken back.
func (h *history) doubtBlock() {
	n := len(h.w)
	for i := 2; i < n-1; i++ {
		jump := h.middle(i, min(n, i+3)) - h.middle(max(0, i-3), i)
		if _, unit := nearUnit(jump); !unit || math.Abs(h.w[i].log-h.w[i-1].log-jump) > 2*unitTolerance {
			continue
		}
		from, to := 0, i
		if i > n-i {
			for from, to = i, i+1; to < n && math.Abs(h.w[to].log-h.w[i].log) < math.Abs(jump)/2; to++ {
			}
		}
		for j := from; j < to && h.e.count() < (n-1)/2; j++ {
			h.e.doubt(j)
		}
		return
	}
}

func (h *history) isHeld(i int) bool { return h.held[i] }

// z is how many SDs weighing i lies off, by the scatter that the flock shows.
func (s *search) z(h *history, i int) float64 { return h.e.z(i) / s.scatter }

// off is the log ratio of weighing i to what is expected.
func (h *history) off(i int) float64 {
	mean, _ := h.e.at(i)
	return h.w[i].log - mean
}

// spread compares how believed weighings scatter with what the method assumes. A flock with few weighings is taken to be
// as assumed.
func (s *search) spread() float64 {
	var zs []float64
	for _, h := range s.all {
		for i := range h.w {
			if len(h.w) > MinWeighings && !h.e.doubted[i] {
				zs = append(zs, math.Abs(h.e.z(i)))
			}
		}
	}
	m, err := stat.Median(zs)
	if err != nil {
		return 1
	}
	const asIf = 20 // weighings that say 1
	n := float64(len(zs))
	return min(max((asIf+n*m*stat.MADToSD)/(asIf+n), 0.7), 2.5)
}

// place is weighing i of a history.
type place struct {
	h *history
	i int
}

func (p place) obs() record.Observation { return p.h.w[p.i].obs }

// singles judges what is left one by one, and asks once about the same unit slip of one day or of one bird.
func (s *search) singles() {
	type doubtful struct {
		place
		z, expected float64
		readings    []candidate
		days        []repair
	}
	var all []doubtful
	for _, h := range s.all {
		for i, w := range h.w {
			mean, sd := h.e.at(i)
			sd *= s.scatter
			z := (w.log - mean) / sd
			if h.held[i] || math.Abs(z) < suspectZ || math.Abs(w.log-mean) < suspectLog || s.repeats[w.obs.At] || len(h.w) == 1 && h.prior.sd > 1 {
				continue
			}
			d := doubtful{place{h, i}, z, mean, likely(w.obs, mean, sd, z), s.otherDays(h, i, sd)}
			if len(d.readings)+len(d.days) > 0 || math.Abs(z) > aloneZ && math.Abs(w.log-mean) > aloneLog {
				all = append(all, d)
			}
		}
	}
	// Unit slips of one day, or one bird, with one factor are one question.
	groups := map[string][]int{}
	for k, d := range all {
		if len(d.readings) > 0 && d.readings[0].class == UnitSlip {
			o := d.obs()
			to := fmt.Sprintf("%s|%s|%s|%.3g", o.At.File, o.At.Sheet, d.readings[0].unit.name, d.readings[0].factor)
			groups["day "+o.On.String()+to] = append(groups["day "+o.On.String()+to], k)
			groups["bird "+o.Bird+to] = append(groups["bird "+o.Bird+to], k)
		}
	}
	done := make([]bool, len(all))
	for k, d := range all {
		if done[k] {
			continue
		}
		if len(d.readings) > 0 && d.readings[0].class == UnitSlip {
			o := d.obs()
			to := fmt.Sprintf("%s|%s|%s|%.3g", o.At.File, o.At.Sheet, d.readings[0].unit.name, d.readings[0].factor)
			var best []int
			for _, by := range []string{"day " + o.On.String(), "bird " + o.Bird} {
				open := slices.DeleteFunc(slices.Clone(groups[by+to]), func(i int) bool { return done[i] })
				if len(open) > len(best) {
					best = open
				}
			}
			if len(best) >= sameSlip {
				var places []place
				for _, i := range best {
					done[i] = true
					places = append(places, all[i].place)
				}
				s.sameUnit(places, d.readings[0])
				continue
			}
		}
		done[k] = true
		if s.settledWeight(d.obs()) {
			continue
		}
		s.single(d.place, d.z, d.expected, d.readings, d.days)
	}
}

// sameUnit asks once about several weights that were perhaps written in another unit.
func (s *search) sameUnit(places []place, c candidate) {
	slices.SortStableFunc(places, func(a, b place) int { return a.obs().At.Compare(b.obs().At) })
	first := places[0].obs()
	f := found{Finding: Finding{Class: UnitSlip, At: first.At, More: moreOf(places), Raw: first.Text}, birds: birdsOf(places)}
	if len(f.birds) == 1 {
		f.Bird = f.birds[0]
	}
	f.Message = fmt.Sprintf("%s: this and %d more weights fit the birds' other weighings only as %s; were they written in %s?", first.At, len(places)-1, c.unit.plural, c.unit.plural)
	f.Readings = []record.Reading{{Label: fmt.Sprintf("all %d in %s", len(places), c.unit.plural), Value: c.unit.name}, {Label: "leave them empty", Value: LeaveEmpty}, asItIs("they are right as they stand")}
	f.effect = func() string { return s.effectOf(places) }
	s.add(f)
}

// single asks about one weighing.
func (s *search) single(p place, z, expected float64, readings []candidate, days []repair) {
	o := p.obs()
	f := found{Finding: Finding{Class: Unexplained, Bird: o.Bird, At: o.At, Raw: o.Text, Expected: math.Exp(expected), Off: z}, birds: []string{o.Bird}}
	others := fmt.Sprintf("its %d other weighings", len(p.h.w)-1)
	switch len(p.h.w) {
	case 1:
		others = "the rest of the flock"
	case 2:
		others = "its other weighing, " + p.h.w[1-p.i].obs.At.Cell() + ", and the rest of the flock"
	}
	f.Message = fmt.Sprintf("%s: %s on %s for %s, but %s point to about %s", o.At, quoted(o, s.units), whenOf(o), p.h.bird.Label(), others, weightText(f.Expected, s.units))
	switch {
	case len(readings) > 0:
		f.Class = readings[0].class
		f.Message += "; perhaps " + readings[0].label + "?"
	case len(days) > 0:
		f.Class = DateSwap
		f.Message += fmt.Sprintf("; it would fit on %s (%s). Which is right?", days[0].on, days[0].why)
	default:
		f.Message += ", and no slip of unit or digits explains it. Is it right? If it is, look at the bird."
	}
	for _, c := range readings {
		if c.value != "" {
			f.Readings = append(f.Readings, record.Reading{Label: c.label, Value: c.value})
		}
	}
	for _, r := range days {
		f.Readings = append(f.Readings, record.Reading{Label: "weighed on " + r.on.String() + ": " + r.why, Value: r.on.String()})
	}
	if p.i > 1 && p.h.w[p.i].day-p.h.w[p.i-1].day >= reuseGap && p.h.off(p.i) < math.Log(reuseStill) && p.h.off(p.i-1) > math.Log(reuseStill) {
		if f.Class == Unexplained {
			f.Class = RingReuse
		}
		f.Readings = append(f.Readings, record.Reading{Label: "the ring is on another bird from " + whenOf(o), Value: "two"})
	}
	f.Readings = append(f.Readings, record.Reading{Label: "leave it empty", Value: LeaveEmpty}, asItIs(quoted(o, s.units)+" is right"))
	f.effect = func() string { return s.effectOf([]place{p}) }
	f.Readings = s.withEffects(f.Readings, func(value string) (float64, bool) { return p.h.estimateIf(p.i, o, value) })
	s.add(f)
}

func asItIs(label string) record.Reading { return record.Reading{Label: label, Value: AsItIs} }

func birdsOf(places []place) []string {
	var out []string
	for _, p := range places {
		if !slices.Contains(out, p.h.bird.ID) {
			out = append(out, p.h.bird.ID)
		}
	}
	return out
}

// moreOf are the cells of all but the first place.
func moreOf(places []place) []record.Ref {
	var out []record.Ref
	for _, p := range places[1:] {
		out = append(out, p.obs().At)
	}
	slices.SortFunc(out, record.Ref.Compare)
	return out
}

func whenOf(o record.Observation) string {
	if o.On.Known() {
		return o.On.String()
	}
	n, _ := o.Age.Days()
	return fmt.Sprintf("day %d of age", n)
}

package slip

import (
	"cmp"
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
	siftZ      = 3.5  // SDs off at which a weighing no longer speaks for the others
	suspectZ   = 4.0  // SDs off at which a slip is looked for
	suspectLog = 0.08 // least log ratio to what is expected
	aloneZ     = 8.0  // SDs off at which a weighing is asked about that no slip explains
	aloneLog   = 0.36 // 30 % less or 43 % more
	pairZ      = 2.5  // SDs off of each of two exchanged birds
	pairGain   = 14   // log likelihood by which exchanging them explains both better
	dayZ       = 4.5  // SDs off at which a day's common offset is asked about
	dayLog     = 0.05
	dayBirds   = 4
	dayShare   = 0.8 // of its birds that are off to the same side
	sameSlip   = 3   // unit slips of one day or bird from which one question asks about all
)

// judge compares every weighing with what the bird's others say, first day by day, then by pairs of birds, then singly.
func (s *search) judge(ctx context.Context) error {
	for _, h := range s.all {
		if err := ctx.Err(); err != nil {
			return err
		}
		h.e.sift(siftZ, h.isHeld)
	}
	s.scatter = s.spread()
	for _, h := range s.all {
		if err := ctx.Err(); err != nil {
			return err
		}
		h.e.sift(siftZ*s.scatter, h.isHeld)
	}
	s.days()
	s.pairs()
	s.singles()
	return nil
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

// session is what was weighed on one day in one sheet.
type session struct {
	sheet  sheetName
	day    record.Day
	places []place
}

// sessions collects the weighings of exact days, in the order of sheets and days.
func (s *search) sessions() []session {
	type on struct {
		sheet sheetName
		day   record.Day
	}
	at := map[on]int{}
	var out []session
	for _, h := range s.all {
		for i, w := range h.w {
			if !w.obs.On.Exact() {
				continue
			}
			k := on{sheetOf(w.obs.At), w.obs.On.First}
			j, ok := at[k]
			if !ok {
				j = len(out)
				at[k] = j
				out = append(out, session{sheet: k.sheet, day: k.day})
			}
			out[j].places = append(out[j].places, place{h, i})
		}
	}
	for _, x := range out {
		slices.SortStableFunc(x.places, func(a, b place) int { return a.obs().At.Compare(b.obs().At) })
	}
	slices.SortStableFunc(out, func(a, b session) int { return a.places[0].obs().At.Compare(b.places[0].obs().At) })
	return out
}

// common is how far the weighings of one day lie off together.
type common struct {
	shift, z float64 // log ratio; SDs
	grams    float64 // the same as grams on each
	inGrams  bool    // the birds agree better in grams than in proportion
	places   []place
}

// days finds days on which all birds are off alike, the worst first: each bends the records of the days beside it.
func (s *search) days() {
	all := s.sessions()
	for range len(all) {
		worst, at := common{}, -1
		for j, x := range all {
			if c, ok := s.common(x); ok && math.Abs(c.z) > math.Abs(worst.z) {
				worst, at = c, j
			}
		}
		if at < 0 {
			return
		}
		s.offset(all[at], worst)
		for _, p := range worst.places {
			p.h.e.doubt(p.i)
			p.h.held[p.i] = true
		}
		for _, p := range worst.places {
			p.h.e.sift(siftZ*s.scatter, p.h.isHeld)
		}
		all = slices.Delete(all, at, at+1)
	}
}

func (s *search) common(x session) (common, bool) {
	var out common
	var offs, grams, shared []float64
	for _, p := range x.places {
		if len(p.h.w) < MinWeighings || p.h.held[p.i] {
			continue
		}
		mean, sd := p.h.e.at(p.i)
		own := p.h.e.cov[p.i][p.i] - p.h.prior.covariance(p.h.w[p.i].day, p.h.w[p.i].day) // weighing error
		offs = append(offs, p.h.w[p.i].log-mean)
		grams = append(grams, p.obs().Value-math.Exp(mean))
		shared = append(shared, max(0, sd*sd-own))
		out.places = append(out.places, p)
	}
	n := len(offs)
	if n < dayBirds {
		return out, false
	}
	out.shift, _ = stat.Median(offs)
	out.grams, _ = stat.Median(grams)
	spread, _ := stat.MAD(offs)
	inGrams, _ := stat.MAD(grams)
	wobble, _ := stat.Median(shared)
	out.inGrams = inGrams/math.Abs(out.grams) < 0.8*spread/math.Abs(out.shift)
	same := 0
	for _, o := range offs {
		if o*out.shift > 0 {
			same++
		}
	}
	each := max(stat.MADToSD*spread, noiseSD*s.scatter)
	if out.inGrams {
		each = max(math.Abs(out.shift)*stat.MADToSD*inGrams/math.Abs(out.grams), noiseSD*s.scatter)
	}
	// The median of n scatters by 1.2533 times the SE of the mean. Swings that the birds share stay.
	out.z = out.shift / math.Sqrt(1.2533*1.2533*each*each/float64(n)+s.scatter*s.scatter*wobble)
	return out, math.Abs(out.shift) > dayLog && math.Abs(out.z) > dayZ && float64(same) >= dayShare*float64(n)
}

// offset reports a day's common offset.
func (s *search) offset(x session, c common) {
	first := c.places[0].obs()
	f := found{Finding: Finding{Class: SessionOffset, At: first.At, Raw: x.day.String()}, birds: birdsOf(c.places)}
	f.More = moreOf(c.places)
	n := len(c.places)
	much := fmt.Sprintf("about %.0f %%", 100*math.Abs(math.Expm1(c.shift)))
	if c.inGrams {
		much = "about " + weightText(math.Abs(c.grams), s.units) + " each"
	}
	side := "heavier"
	if c.shift < 0 {
		side = "lighter"
	}
	if u, ok := s.sharedUnit(c); ok {
		f.Class = UnitSlip
		f.Message = fmt.Sprintf("%s: the %d weights of %s fit the birds' other weighings only as %s; were they written in %s?", first.At, n, x.day, u.plural, u.plural)
		f.Readings = []record.Reading{{Label: "all " + fmt.Sprint(n) + " in " + u.plural, Value: u.name}}
	} else {
		f.Message = fmt.Sprintf("%s: on %s the %d birds weighed are %s than their other weighings say by %s; was a cage weighed in or not taken off, were they wet or unfed, or was it another scale?",
			first.At, x.day, n, side, much)
		f.Readings = []record.Reading{{Label: "the day's weights are off; leave them out", Value: LeaveEmpty}}
	}
	f.Readings = append(f.Readings, asItIs("they are right as they stand"))
	f.effect = func() string { return s.effectOf(c.places) }
	s.add(f)
}

// sharedUnit is the unit that the numbers of a whole day were in instead, if there is one.
func (s *search) sharedUnit(c common) (unit, bool) {
	for _, cand := range candidates(c.places[0].obs(), 0) {
		if cand.class == UnitSlip && math.Abs(math.Log(cand.factor)+c.shift) < unitTolerance {
			return cand.unit, true
		}
	}
	return unit{}, false
}

// pairs finds two birds of one day whose weights fit each other's records and not their own.
func (s *search) pairs() {
	for _, x := range s.sessions() {
		var off []place
		for _, p := range x.places {
			if len(p.h.w) >= MinWeighings && !p.h.held[p.i] && math.Abs(s.z(p.h, p.i)) > pairZ && math.Abs(p.h.off(p.i)) > suspectLog {
				off = append(off, p)
			}
		}
		type pair struct {
			a, b place
			gain float64
		}
		var all []pair
		for k, a := range off {
			for _, b := range off[k+1:] {
				if a.h.bird.ID == b.h.bird.ID {
					continue
				}
				za, zb := s.z(a.h, a.i), s.z(b.h, b.i)
				ab, ba := s.exchanged(a, b), s.exchanged(b, a)
				if g := (za*za + zb*zb - ab*ab - ba*ba) / 2; math.Abs(ab) < fits && math.Abs(ba) < fits && g > pairGain {
					all = append(all, pair{a, b, g})
				}
			}
		}
		slices.SortStableFunc(all, func(a, b pair) int { return cmp.Compare(b.gain, a.gain) })
		for _, q := range all {
			if q.a.h.held[q.a.i] || q.b.h.held[q.b.i] {
				continue
			}
			s.exchange(q.a, q.b)
		}
	}
}

// exchanged is how many SDs the weight of b lies off what is expected of a.
func (s *search) exchanged(a, b place) float64 {
	mean, sd := a.h.e.at(a.i)
	return (b.h.w[b.i].log - mean) / sd / s.scatter
}

func (s *search) exchange(a, b place) {
	x, y := a.obs(), b.obs()
	f := found{Finding: Finding{Class: Exchanged, At: x.At, More: []record.Ref{y.At}, Raw: x.Text}, birds: []string{x.Bird, y.Bird}}
	f.Message = fmt.Sprintf("%s and %s: on %s %s is written at %s and %s at %s, and each fits the other's record and not its own; were the two birds exchanged?",
		x.At, y.At.Cell(), x.On, a.h.bird.Label(), quoted(x, s.units), b.h.bird.Label(), quoted(y, s.units))
	f.Readings = []record.Reading{{Label: "exchange the two", Value: "exchange"}, {Label: "leave both empty", Value: LeaveEmpty}, asItIs("both are right as they stand")}
	for _, p := range []place{a, b} {
		p.h.held[p.i] = true
		p.h.e.doubt(p.i)
	}
	if s.settledWeight(x) || s.settledWeight(y) {
		return
	}
	f.effect = func() string { return s.effectOf([]place{a, b}) }
	s.add(f)
}

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
			if h.held[i] || math.Abs(z) < suspectZ || math.Abs(w.log-mean) < suspectLog || s.settledWeight(w.obs) || len(h.w) == 1 && h.prior.sd > 1 {
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
	f.Readings = append(f.Readings, record.Reading{Label: "leave it empty", Value: LeaveEmpty}, asItIs(quoted(o, s.units)+" is right"))
	f.effect = func() string { return s.effectOf([]place{p}) }
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

package slip

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

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
	se       float64 // of shift, from birds that differ
	swing    float64 // SD of what is not known of each bird's own swings
	same     float64 // share of the birds that are off to the same side
	grams    float64 // the same as grams on each
	inGrams  bool    // the birds agree better in grams than in proportion
	places   []place
}

// offsets finds days on which all birds are off alike, the worst first: each bends the records of the days beside it.
func (s *search) offsets() {
	all := s.sessions()
	for range len(all) {
		worst, at := common{}, -1
		days := make([]common, len(all))
		var shifts []float64
		for j, x := range all {
			if days[j] = s.common(x.places); len(days[j].places) >= dayBirds {
				shifts = append(shifts, math.Abs(days[j].shift))
			}
		}
		usual := 0.0 // what days differ by in this flock
		if m, err := stat.Median(shifts); err == nil && len(shifts) >= usualDays {
			usual = m * stat.MADToSD
		}
		for j, c := range days {
			c = c.against(usual)
			if c.stands() && math.Abs(c.z) > math.Abs(worst.z) {
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

// common compares the weighings of one day with what is expected of each bird.
func (s *search) common(places []place) common {
	var out common
	var offs, grams, shared []float64
	for _, p := range places {
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
		return common{}
	}
	out.shift, _ = stat.Median(offs) // of four finite values at least, as the rest
	out.grams, _ = stat.Median(grams)
	spread, _ := stat.MAD(offs)
	inGrams, _ := stat.MAD(grams)
	swing, _ := stat.Median(shared)
	each := stat.MADToSD * spread
	if inGrams/math.Abs(out.grams) < 0.8*spread/math.Abs(out.shift) {
		out.inGrams = true
		each = stat.MADToSD * inGrams / math.Abs(out.grams) * math.Abs(out.shift)
	}
	same := 0
	for _, o := range offs {
		if o*out.shift > 0 {
			same++
		}
	}
	out.same = float64(same) / float64(n)
	out.se = 1.2533 * max(each, noiseSD*s.scatter) / math.Sqrt(float64(n)) // of a median, by the SE of a mean
	out.swing = s.scatter * math.Sqrt(swing)
	return out
}

// against compares the shift with chance, with what days usually differ by in the flock, and with swings that half of the
// birds' own could share.
func (c common) against(usual float64) common {
	c.z = c.shift / math.Hypot(c.se, max(usual, c.swing/2, leastSwing))
	return c
}

func (c common) stands() bool {
	return len(c.places) >= dayBirds && math.Abs(c.shift) > dayLog && math.Abs(c.z) > dayZ && c.same >= dayShare
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

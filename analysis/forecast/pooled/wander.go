package pooled

import "math"

// A bird's growth rate wanders: its log weight leaves its curve by a deviation that grows at a rate of its own. That
// rate is pushed about at random and returns, as a bird that fell behind catches up. The deviation adds up in growing
// time: in proportion to time until the inflection, in units of 1/k; after it, it fades with growth itself, so that no
// wandering moves a grown bird.
//
// Source: integrated Ornstein-Uhlenbeck process, Taylor, Cumberland & Sy 1994, J. Am. Stat. Assoc. 89:727 (from
// memory); the fading is Keelmark's own. The filter is that of Kalman 1960, J. Basic Eng. 82:35; its smoother for one
// fixed point carries the point along as a third state (Anderson & Moore 1979, Optimal Filtering, section 7.2, from
// memory).

// path is what happens to the deviation and its rate between two ages.
type path struct {
	keep float64 // share of the rate that is left
	run  float64 // growing time that the rate at the start adds up over
	rate float64 // variance that the rate gains
	both float64 // its covariance with what the deviation gains
	own  float64 // variance that the deviation gains
}

// path between two ages in weeks.
func (p *pool) path(from, to float64) path {
	a, b := p.mean.k*(from-p.mean.ti), p.mean.k*(to-p.mean.ti)
	if a >= 0 {
		return p.fading(a, b)
	}
	early := p.steady(min(b, 0) - a)
	if b <= 0 {
		return early
	}
	return early.then(p.fading(0, b))
}

// steady is before the inflection, for a time h in units of 1/k.
func (p *pool) steady(h float64) path {
	l, v := p.settle, p.wander*p.wander
	once, twice := gone(l, h), gone(2*l, h)
	return path{keep: math.Exp(-l * h), run: once, rate: v * twice, both: v * once * once / 2, own: v / (l * l) * max(0, h-2*once+twice)}
}

// fading is after the inflection, between times from it in units of 1/k.
func (p *pool) fading(a, b float64) path {
	l, v, h := p.settle, p.wander*p.wander, b-a
	end, twice, mixed := math.Exp(-b)/(l+1), gone(2*l, h), gone(l-1, h)
	return path{
		keep: math.Exp(-l * h), run: math.Exp(-a) * gone(l+1, h), rate: v * twice,
		both: v * end * (mixed - twice), own: v * end * end * max(0, gone(-2, h)-2*mixed+twice),
	}
}

// gone is the integral of exp(-c r) over r from 0 to h.
func gone(c, h float64) float64 {
	if math.Abs(c*h) < 1e-9 {
		return h
	}
	return -math.Expm1(-c*h) / c
}

// then joins two paths.
func (a path) then(b path) path {
	return path{
		keep: a.keep * b.keep,
		run:  a.run + a.keep*b.run,
		rate: b.keep*b.keep*a.rate + b.rate,
		both: b.keep*(a.both+b.run*a.rate) + b.both,
		own:  a.own + 2*b.run*a.both + b.run*b.run*a.rate + b.own,
	}
}

// gain is how a weighing corrects what is thought of the deviation and its rate.
type gain struct {
	deviation, rate, point  float64 // share of the news that each takes
	precision, logPrecision float64 // of the news
}

// drift is the expected deviation, its rate, and the deviation at one fixed point.
type drift struct{ deviation, rate, point float64 }

// news moves along a path and takes in what is seen at its end; it returns what was not expected of it.
func (d *drift) news(along *path, g *gain, seen float64) float64 {
	d.deviation += along.run * d.rate
	d.rate *= along.keep
	news := seen - d.deviation
	d.deviation += g.deviation * news
	d.rate += g.rate * news
	d.point += g.point * news
	return news
}

// spread is the covariance of a drift.
type spread struct {
	deviation, both, rate            float64
	pointDeviation, pointRate, point float64
}

func (s *spread) along(p *path) {
	s.deviation += 2*p.run*s.both + p.run*p.run*s.rate + p.own
	s.both = p.keep*(s.both+p.run*s.rate) + p.both
	s.rate = p.keep*p.keep*s.rate + p.rate
	s.pointDeviation += p.run * s.pointRate
	s.pointRate *= p.keep
}

// see takes in a weighing of a variance.
func (s *spread) see(variance float64) gain {
	news := s.deviation + variance
	g := gain{deviation: s.deviation / news, rate: s.both / news, point: s.pointDeviation / news, precision: 1 / news, logPrecision: -math.Log(news)}
	s.point -= g.point * s.pointDeviation
	s.pointRate -= g.point * s.both
	s.pointDeviation -= g.point * s.deviation
	s.rate -= g.rate * s.both
	s.both -= g.rate * s.deviation
	s.deviation -= g.deviation * s.deviation
	return g
}

// filter fills the gains of a bird's weighings, given which of them are bad.
func (w *workspace) filter(p *pool, bad []bool) {
	var s spread
	for j, is := range bad {
		s.along(&w.paths[j])
		w.gains[j] = s.see(p.variance(is))
	}
}

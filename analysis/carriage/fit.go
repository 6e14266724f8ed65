package carriage

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"keelmark/analysis/stat"
)

// level is the stated chance of every interval.
const level = 0.90

// When the sensitivity of looks is told. Source: the recovery runs of this package.
const (
	RepeatDays   = 14   // two looks at a bird at most so far apart, without a treatment between, are a repeat
	LeastRepeats = 20   // repeats of which a look found something
	WidestTold   = 0.35 // of the interval of the sensitivity
)

// widen stretches the standard errors of all estimates. Collapsing the swing of a pen to its mean after each round forgets
// that pen mates stay alike, and so counts an outbreak as a little more news than it is: unwidened, nominal 90 % intervals
// held the truth in 88 % of recovery runs over all parameters, with this in 93 %.
// Source: TestRecover of this package.
const widen = 1.1

// The sensitivities over which chances range where the records cannot tell it.
// Source: an assumption, Keelmark's statistics C; trained observers underestimate (Mullens, Hinkle & Szijj 2000).
const (
	LeastSee = 0.5
	UsualSee = 0.8
	MostSee  = 0.9
)

// Model is a fitted model. Intervals have the level 0.9; hazards are per day. Sensitivity, hazards and clearance hold
// together: they are given only where Told.
type Model struct {
	Told     bool
	See      stat.Interval // sensitivity of one look, by profile likelihood
	Why      string        // why the sensitivity is not told
	Take     stat.Interval // hazard of taking it up from outside the pen, at the middle of the year
	Spread   stat.Interval // what a pen full of carriers adds to it
	Lose     stat.Interval // hazard of losing it without treatment
	Clear    stat.Interval // chance that a treatment clears a bird that carries it; Treatments 0: not in the model
	Seasonal float64       // largest over least hazard within the year, as fitted; 1 without a full year of looks
	LogLik   float64

	Looks, Found, Birds, Treatments, Repeats int

	timeline *timeline
	draws    []rates // parameters compatible with the records; the first is the best
}

// prior is a weak normal prior on each parameter: it holds what the records leave open near values that have been seen
// in flocks, and gives way to a few dozen looks.
//
// Source: our own choice: outbreaks of weeks to months (Keelmark's domain notes 4.5), sensitivity 0.8 (see UsualSee).
func prior() (mean, sd [parameters]float64) {
	mean = [parameters]float64{math.Log(0.003), 0, 0, math.Log(0.03), math.Log(0.01), 1, logit(UsualSee), -1, math.Log(0.7)}
	sd = [parameters]float64{2, 1, 1, 1.5, 1.2, 2, 2, 1.5, 0.7}
	return mean, sd
}

// Fit fits the model to all looks and treatments up to a day. It needs LeastLooks looks at LeastBirds birds with
// LeastFindings findings and as many looks that found none, else ErrTooFew.
//
// Source: maximum likelihood with weak priors; interval of the sensitivity by profile likelihood, Venzon & Moolgavkar 1988,
// Appl. Stat. 37:87; other intervals by the curvature on the logarithmic or logit scale.
func Fit(ctx context.Context, f Flock, until float64) (*Model, error) {
	t, err := newTimeline(f, until)
	if err != nil {
		return nil, err
	}
	m := &Model{timeline: t, Looks: t.looks, Found: t.found, Treatments: t.treated, Repeats: repeats(f)}
	for _, b := range f.Birds {
		if len(b.Looks) > 0 {
			m.Birds++
		}
	}
	if m.Looks < LeastLooks || m.Found < LeastFindings || m.Looks-m.Found < LeastFindings || m.Birds < LeastBirds {
		return nil, fmt.Errorf("%w: %d looks at %d birds, %d of them with a finding; it needs %d, %d, and %d of either kind", ErrTooFew, m.Looks, m.Birds, m.Found, LeastLooks, LeastBirds, LeastFindings)
	}
	s := m.search()
	best, err := s.best(ctx)
	if err != nil {
		return nil, err
	}
	full := s.fill(best.At)
	m.LogLik = t.filter().run(natural(full), nil, nil)
	m.Seasonal = math.Exp(2 * math.Hypot(full[seasonCos], full[seasonSin]))
	var see stat.Interval
	if m.Repeats >= LeastRepeats {
		if see, err = s.profile(ctx, best); err != nil {
			return nil, err
		}
	}
	m.judge(see, best)
	if m.Told {
		m.intervals(s, best)
		m.draws = s.draw(best)
		return m, nil
	}
	// Without it the chances are those under each sensitivity of the assumed range.
	for i, v := range []float64{UsualSee, LeastSee, MostSee} {
		held := *s
		held.see = logit(v)
		held.free = slices.DeleteFunc(slices.Clone(s.free), func(k int) bool { return k == logitSee })
		at, err := held.best(ctx)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			m.draws = append(m.draws, natural(held.fill(at.At)))
		}
		m.draws = append(m.draws, held.draw(at)...)
	}
	return m, nil
}

func (m *Model) judge(see stat.Interval, best stat.Maximum) {
	switch {
	case m.Repeats < LeastRepeats:
		m.Why = fmt.Sprintf("only %d pairs of looks at the same bird lie within %d days of each other without a treatment between and with a finding; it takes %d", m.Repeats, RepeatDays, LeastRepeats)
	case best.Cov == nil || see.High-see.Low > WidestTold:
		m.Why = fmt.Sprintf("anything from %.0f to %.0f in 100 fits these looks", 100*see.Low, 100*see.High)
	default:
		m.Told, m.See = true, see
	}
}

// repeats counts pairs of looks that can tell how often a look misses.
func repeats(f Flock) int {
	n := 0
	for _, b := range f.Birds {
		for i := 1; i < len(b.Looks); i++ {
			x, y := b.Looks[i-1], b.Looks[i]
			between := slices.ContainsFunc(b.Treated, func(d float64) bool { return d >= x.Day && d < y.Day })
			if y.Day-x.Day <= RepeatDays && y.Day > x.Day && !between && (x.Found || y.Found) {
				n++
			}
		}
	}
	return n
}

// search climbs the likelihood over the parameters that are free.
type search struct {
	f    *filter
	free []int
	see  float64 // the logit of the sensitivity where it is held
	held [parameters]float64
	n    int
}

func (m *Model) search() *search {
	mean, _ := prior()
	s := &search{f: m.timeline.filter(), held: mean, see: mean[logitSee], n: m.Looks}
	for k := range parameters {
		switch k {
		case seasonCos, seasonSin: // a season needs a year
			if m.timeline.ticks[len(m.timeline.ticks)-1].day-m.timeline.ticks[0].day < yearDays {
				continue
			}
		case logitClear:
			if m.Treatments == 0 {
				continue
			}
		}
		s.free = append(s.free, k)
	}
	return s
}

func (s *search) fill(at []float64) []float64 {
	p := append([]float64(nil), s.held[:]...)
	p[logitSee] = s.see
	for i, k := range s.free {
		p[k] = at[i]
	}
	return p
}

// value is the log likelihood and the log prior of the free parameters.
func (s *search) value(at, slope []float64) float64 {
	mean, sd := prior()
	p := s.fill(at)
	var all *slopes
	if slope != nil {
		all = new(slopes)
	}
	v := s.f.run(natural(p), all, nil)
	for i, k := range s.free {
		z := (p[k] - mean[k]) / sd[k]
		v -= z * z / 2
		if slope != nil {
			slope[i] = all[k] - z/sd[k]
		}
	}
	return v
}

// best climbs from the middle of the priors.
func (s *search) best(ctx context.Context) (stat.Maximum, error) {
	if err := ctx.Err(); err != nil {
		return stat.Maximum{}, err
	}
	mean, _ := prior()
	start := make([]float64, len(s.free))
	for j, k := range s.free {
		start[j] = mean[k]
	}
	at, err := stat.Maximise(s.value, start)
	if err != nil {
		return at, fmt.Errorf("carriage: %w", err)
	}
	return at, nil
}

// profile returns the interval of the sensitivity in which the profile likelihood stays within half a quantile of
// chi-squared of its top.
func (s *search) profile(ctx context.Context, best stat.Maximum) (stat.Interval, error) {
	chi, err := stat.ChiSquared(1)
	if err != nil {
		return stat.Interval{}, err
	}
	q, err := chi.Quantile(level)
	if err != nil {
		return stat.Interval{}, err
	}
	q *= widen * widen
	at := slices.Index(s.free, logitSee)
	out := stat.Interval{Value: expit(best.At[at]), Level: level, N: s.n}
	held := *s
	held.free = slices.Delete(slices.Clone(s.free), at, at+1)
	step := 0.3
	if best.Cov != nil {
		step = math.Sqrt(best.Cov[at][at])
	}
	for _, side := range []float64{-1, 1} {
		if err := ctx.Err(); err != nil {
			return out, err
		}
		nuisance := slices.Delete(slices.Clone(best.At), at, at+1)
		drop := func(x float64) float64 {
			held.see = x
			top, err := stat.Climb(held.value, nuisance)
			if err != nil {
				return math.Inf(1)
			}
			nuisance = top.At
			return 2*(best.Value-top.Value) - q
		}
		low, high := best.At[at], best.At[at]+side*1.6*widen*step
		fLow, fHigh := -q, drop(high)
		for n := 0; fHigh < 0 && n < 6 && math.Abs(high) < 6; n++ {
			low, fLow = high, fHigh
			high += side * step
			fHigh = drop(high)
		}
		for range 5 { // the root lies between; the square root of the drop is nearly straight
			if math.Abs(expit(high)-expit(low)) < 0.01 || fHigh < 0 || math.IsInf(fHigh, 1) {
				break
			}
			a, b, c := math.Sqrt(max(0, fLow+q)), math.Sqrt(fHigh+q), math.Sqrt(q)
			x := low + (high-low)*min(0.95, max(0.05, (c-a)/(b-a)))
			if v := drop(x); v < 0 {
				low, fLow = x, v
			} else {
				high, fHigh = x, v
			}
			if math.Abs(fLow) < 0.02 || math.Abs(fHigh) < 0.02 {
				break
			}
		}
		end := high
		if math.Abs(fLow) < math.Abs(fHigh) {
			end = low
		}
		if side < 0 {
			out.Low = expit(end)
		} else {
			out.High = expit(end)
		}
	}
	return out, nil
}

// intervals of all parameters but the sensitivity, by the curvature.
func (m *Model) intervals(s *search, best stat.Maximum) {
	z, err := stat.Multiplier(level, math.Inf(1))
	if err != nil {
		return
	}
	p := s.fill(best.At)
	of := func(k int, back func(float64) float64) stat.Interval {
		half := math.Inf(1)
		if i := slices.Index(s.free, k); i >= 0 && best.Cov != nil {
			half = z * widen * math.Sqrt(best.Cov[i][i])
		}
		return stat.Interval{Value: back(p[k]), Low: back(p[k] - half), High: back(p[k] + half), Level: level, N: m.Looks}
	}
	m.Take, m.Spread, m.Lose = of(logTake, math.Exp), of(logSpread, math.Exp), of(logLose, math.Exp)
	if m.Treatments > 0 {
		m.Clear = of(logitClear, expit)
	}
}

// draw returns parameters as likely as the records leave them: the best, and normal draws by the curvature.
func (s *search) draw(best stat.Maximum) []rates {
	out := []rates{natural(s.fill(best.At))}
	if best.Cov == nil {
		return out
	}
	root := cholesky(best.Cov)
	rng := rand.New(rand.NewPCG(7, uint64(s.n)))
	for range 40 {
		at := append([]float64(nil), best.At...)
		z := make([]float64, len(at))
		for i := range z {
			z[i] = rng.NormFloat64()
			for j := range i + 1 {
				at[i] += widen * root[i][j] * z[j]
			}
		}
		out = append(out, natural(s.fill(at)))
	}
	return out
}

// cholesky factors a covariance that the search has found positive.
func cholesky(a [][]float64) [][]float64 {
	out := make([][]float64, len(a))
	for i := range a {
		out[i] = make([]float64, len(a))
		for j := range i + 1 {
			sum := a[i][j]
			for k := range j {
				sum -= out[i][k] * out[j][k]
			}
			if i == j {
				out[i][i] = math.Sqrt(max(sum, 0))
			} else if out[j][j] > 0 {
				out[i][j] = sum / out[j][j]
			}
		}
	}
	return out
}

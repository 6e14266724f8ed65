package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// coverage counts how often truths lie inside stated ranges.
type coverage struct {
	inside [3]int // of 50, 80, 90 %
	n      int
	errors []float64 // relative error of the median
}

func (c *coverage) add(cdf, median, truth float64) {
	c.n++
	for k, level := range []float64{0.5, 0.8, 0.9} {
		if math.Abs(cdf-0.5) <= level/2 {
			c.inside[k]++
		}
	}
	c.errors = append(c.errors, math.Abs(median/truth-1))
}

func (c *coverage) percent(k int) float64 { return 100 * float64(c.inside[k]) / float64(c.n) }

func (c *coverage) worst10() float64 {
	slices.Sort(c.errors)
	return 100 * c.errors[len(c.errors)*9/10]
}

// calibrate forecasts simulated flocks four weeks ahead and to maturity. A flock in which a setback is found gives
// no mature forecast.
func calibrate(d flockDesign, seed uint64, flocks int, sizes ...int) (later, mature coverage, setbacks int) {
	for k := range flocks {
		d.birds = sizes[k%len(sizes)]
		s := simulate(rand.New(rand.NewPCG(seed, uint64(k))), d)
		p := integrate(priorFor(800, tableSD), s.tracks)
		if p.setback != nil {
			setbacks++
		}
		for i := range d.birds {
			w := p.weighing(s.tracks, i, d.last+4, true, 1)
			later.add(w.CDF(math.Exp(s.later[i])), w.Median(), math.Exp(s.later[i]))
			if p.setback == nil {
				w = p.weighing(s.tracks, i, MatureWeeks, false, 1)
				mature.add(w.CDF(math.Exp(s.adult[i])), w.Median(), math.Exp(s.adult[i]))
			}
		}
	}
	return later, mature, setbacks
}

// Ranges hold as often as they say, on invented flocks whose truth is known. With 10 flocks of 8 birds the standard
// error of a share, birds of a flock going together, is about 4 points at 90 and 8 at 50; the allowance is three of
// these. BenchmarkCalibration gives the figures on more flocks.
func TestRangesHoldAsOftenAsTheySay(t *testing.T) {
	for _, d := range []flockDesign{
		{last: 12, step: 2, noise: 0.03, bad: 0.05},
		{last: 16, step: 4, noise: 0.03, bad: 0.05, shape: 0.5},
	} {
		later, mature, _ := calibrate(d, 3, 10, 8)
		for name, c := range map[string]coverage{"four weeks ahead": later, "mature": mature} {
			if got := c.percent(2); got < 78 {
				t.Errorf("%+v %s: %.0f %% inside the 90 %% range", d, name, got)
			}
			if got := c.percent(0); got < 26 || got > 74 {
				t.Errorf("%+v %s: %.0f %% inside the 50 %% range", d, name, got)
			}
		}
	}
}

// BenchmarkCalibration prints, for each design, the shares inside the 80 and 90 % ranges four weeks ahead and of the
// mature weight, and the error that nine birds of ten stay below. Run it with -benchtime 1x.
func BenchmarkCalibration(b *testing.B) {
	for _, d := range []flockDesign{
		{last: 8, step: 2, noise: 0.03, bad: 0.05},
		{last: 12, step: 2, noise: 0.03, bad: 0.05},
		{last: 12, step: 4, noise: 0.03, bad: 0.05},
		{last: 16, step: 2, noise: 0.03, bad: 0.05},
		{last: 20, step: 6, noise: 0.03, bad: 0.05},
		{last: 12, step: 2, noise: 0.03, bad: 0.05, relatives: 12},
		{last: 16, step: 4, noise: 0.03, bad: 0.05, relatives: 12},
		{last: 16, step: 2, noise: 0.03, bad: 0.05, shape: -0.1},
		{last: 12, step: 2, noise: 0.03, bad: 0.05, shape: 0.5},
		{last: 16, step: 2, noise: 0.03, bad: 0.05, shape: 1},
		{last: 16, step: 2, noise: 0.03, bad: 0.05, shape: 1, relatives: 12},
		{last: 12, step: 2, noise: 0.03, bad: 0.05, setback: 0.08},
		{last: 16, step: 2, noise: 0.03, bad: 0.05, setback: 0.08},
		{last: 20, step: 2, noise: 0.03, bad: 0.05, setback: 0.08},
	} {
		b.Run(fmt.Sprintf("to%v/every%v/shape%v/relatives%d/setback%v", d.last, d.step, d.shape, d.relatives, d.setback), func(b *testing.B) {
			for b.Loop() {
				later, mature, setbacks := calibrate(d, 5, 30, 10, 20, 30)
				b.ReportMetric(later.percent(1), "%in80-4wk")
				b.ReportMetric(later.percent(2), "%in90-4wk")
				b.ReportMetric(mature.percent(1), "%in80-mature")
				b.ReportMetric(mature.percent(2), "%in90-mature")
				b.ReportMetric(mature.worst10(), "%error-mature")
				b.ReportMetric(float64(setbacks), "setbacks/30")
			}
		})
	}
}

// A lasting setback of the whole line is found and the mature weight refused; without one it is not.
func TestASetbackOfTheWholeLineIsFound(t *testing.T) {
	d := flockDesign{birds: 16, last: 20, step: 2, noise: 0.02}
	p := integrate(priorFor(800, tableSD), simulate(rand.New(rand.NewPCG(1, 1)), d).tracks)
	if p.setback != nil {
		t.Errorf("a setback where there is none: %+v", p.setback)
	}
	d.setback = 0.12
	p = integrate(priorFor(800, tableSD), simulate(rand.New(rand.NewPCG(1, 1)), d).tracks)
	if s := p.setback; s == nil || s.Share > -SetbackShare || s.Day < 9*7 || s.Day > 12*7 {
		t.Errorf("setback of 12 %% at weeks 9 to 11: %+v", s)
	}
}

// The same records give the same figures to the last digit.
func TestIntegrationIsDeterministic(t *testing.T) {
	s := simulate(rand.New(rand.NewPCG(2, 2)), flockDesign{birds: 5, last: 12, step: 3, noise: 0.03, bad: 0.05})
	a := integrate(priorFor(800, tableSD), s.tracks).weighing(s.tracks, 0, 16, true, 1)
	b := integrate(priorFor(800, tableSD), s.tracks).weighing(s.tracks, 0, 16, true, 1)
	if !slices.Equal(a.Parts, b.Parts) {
		t.Error("two runs differ")
	}
}

// One weighing off by 40 % is recognised and hardly moves the forecast.
func TestOneBadWeighingCountsLittle(t *testing.T) {
	s := simulate(rand.New(rand.NewPCG(4, 4)), flockDesign{birds: 10, last: 16, step: 2, noise: 0.02})
	before := integrate(priorFor(800, tableSD), s.tracks).weighing(s.tracks, 0, 20, true, 1).Median()
	s.tracks[0].logs[5] += math.Log(1.4)
	p := integrate(priorFor(800, tableSD), s.tracks)
	after := p.weighing(s.tracks, 0, 20, true, 1).Median()
	if math.Abs(after/before-1) > 0.03 {
		t.Errorf("the forecast moves from %.0f to %.0f g", before, after)
	}
	bad := p.bad(&s.tracks[0], 0)
	if bad[5] < 0.9 || bad[4] > 0.3 {
		t.Errorf("chances of being bad: %.2f", bad)
	}
}

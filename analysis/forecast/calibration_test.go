package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"keelmark/analysis/forecast/invent"
	"keelmark/analysis/forecast/pooled"
	"keelmark/analysis/standard"
)

// coverage counts how often truths lie inside stated ranges.
type coverage struct {
	inside [3]int // of 50, 80, 90 %
	n      int
}

func (c *coverage) add(cdf float64) {
	c.n++
	for k, level := range []float64{0.5, 0.8, 0.9} {
		if math.Abs(cdf-0.5) <= level/2 {
			c.inside[k]++
		}
	}
}

func (c *coverage) percent(k int) float64 { return 100 * float64(c.inside[k]) / float64(c.n) }

// calibrate forecasts simulated flocks four weeks ahead and to maturity. A flock in which a setback is found gives
// no mature forecast.
func calibrate(d invent.Design, seed uint64, flocks int, sizes ...int) (later, mature coverage, setbacks int) {
	for k := range flocks {
		d.Birds = sizes[k%len(sizes)]
		s := simulate(rand.New(rand.NewPCG(seed, uint64(k))), d)
		p := pooled.Integrate(800, tableSD, s.tracks)
		if p.Setback != nil {
			setbacks++
		}
		for i := range d.Birds {
			w := p.Weighing(i, d.Last+4, true, 1)
			later.add(w.CDF(math.Exp(s.later[i])))
			if p.Setback == nil {
				w = p.Weighing(i, MatureWeeks, false, 1)
				mature.add(w.CDF(math.Exp(s.adult[i])))
			}
		}
	}
	return later, mature, setbacks
}

// Ranges hold as often as they say, on invented flocks whose truth is known. With 10 flocks of 8 birds the standard
// error of a share, birds of a flock going together, is about 4 points at 90 and 8 at 50; the allowance is three of
// these. The program in calibrate gives the figures on many more flocks.
func TestRangesHoldAsOftenAsTheySay(t *testing.T) {
	for _, d := range []invent.Design{
		{Last: 12, Step: 2, Noise: 0.03, Bad: 0.05},
		{Last: 16, Step: 4, Noise: 0.03, Bad: 0.05, Shape: 0.5},
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

// A lasting setback of the whole line is found and the mature weight refused; without one it is not.
func TestASetbackOfTheWholeLineIsFound(t *testing.T) {
	d := invent.Design{Birds: 16, Last: 20, Step: 2, Noise: 0.02}
	p := pooled.Integrate(800, tableSD, simulate(rand.New(rand.NewPCG(1, 1)), d).tracks)
	if p.Setback != nil {
		t.Errorf("a setback where there is none: %+v", p.Setback)
	}
	d.Setback = 0.12
	flock := simulate(rand.New(rand.NewPCG(1, 1)), d)
	p = pooled.Integrate(800, tableSD, flock.tracks)
	week2 := flock.tracks[0].Days[0]
	if s := p.Setback; s == nil || s.Share > -pooled.SetbackShare || s.Day < week2+7*7 || s.Day > week2+10*7 {
		t.Errorf("setback of 12 %% at weeks 9 to 11: %+v", s)
	}
}

// The same records give the same figures to the last digit.
func TestIntegrationIsDeterministic(t *testing.T) {
	s := simulate(rand.New(rand.NewPCG(2, 2)), invent.Design{Birds: 5, Last: 12, Step: 3, Noise: 0.03, Bad: 0.05})
	foresee := func() standard.Predictive {
		p := pooled.Integrate(800, tableSD, s.tracks)
		return p.Weighing(0, 16, true, 1)
	}
	a := foresee()
	b := foresee()
	if !slices.Equal(a.Parts, b.Parts) {
		t.Error("two runs differ")
	}
}

// One weighing off by 40 % is recognised and hardly moves the forecast.
func TestOneBadWeighingCountsLittle(t *testing.T) {
	d := invent.Design{Birds: 10, Last: 16, Step: 2, Noise: 0.02}
	s := simulate(rand.New(rand.NewPCG(4, 4)), d)
	unspoilt := pooled.Integrate(800, tableSD, s.tracks)
	before := unspoilt.Weighing(0, 20, true, 1).Median()
	s = simulate(rand.New(rand.NewPCG(4, 4)), d)
	s.tracks[0].Logs[5] += math.Log(1.4)
	p := pooled.Integrate(800, tableSD, s.tracks)
	after := p.Weighing(0, 20, true, 1).Median()
	if math.Abs(after/before-1) > 0.03 {
		t.Errorf("the forecast moves from %.0f to %.0f g", before, after)
	}
	bad := p.Bad(0)
	if bad[5] < 0.9 || bad[4] > 0.3 {
		t.Errorf("chances of being Bad: %.2f", bad)
	}
}

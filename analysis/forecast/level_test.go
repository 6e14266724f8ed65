package forecast

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/forecast/dense"
	"keelmark/ingest/record"
)

// grownFlock is invented: hens whose log weights swing by 4 % about their own level with a correlation time of 90 days
// and a weighing error of 3 %, weighed every so many days.
func grownFlock(seed uint64, birds, weighings int, every float64) (levels []level, later []float64) {
	r := rand.New(rand.NewPCG(seed, 5))
	for range birds {
		own := math.Log(850) + 0.15*r.NormFloat64()
		var l level
		swing, decay := 0.04*r.NormFloat64(), math.Exp(-every/90)
		for j := range weighings + 1 {
			reading := own + swing + 0.03*r.NormFloat64()
			if j < weighings {
				l.days, l.logs = append(l.days, float64(j)*every), append(l.logs, reading)
			} else {
				later = append(later, reading)
			}
			swing = decay*swing + math.Sqrt(1-decay*decay)*0.04*r.NormFloat64()
		}
		levels = append(levels, l)
	}
	return levels, later
}

// Standard error of a share of 240 birds in 12 flocks: about 2 points at 90.
func TestGrownRangesHoldAsOftenAsTheySay(t *testing.T) {
	var c coverage
	for k := range 12 {
		levels, later := grownFlock(uint64(k), 20, 6, 28)
		priors := make([]ownLevel, len(levels))
		for i := range priors {
			priors[i] = ownLevel{math.Log(850), levelSD}
		}
		m := newLevelModel(levels, priors, false)
		for i := range levels {
			p := m.predictor(i)(6 * 28)
			c.add(p.CDF(math.Exp(later[i])))
		}
	}
	if got := c.percent(2); got < 84 || got > 96 {
		t.Errorf("%.0f %% inside the 90 %% range", got)
	}
	if got := c.percent(0); got < 40 || got > 60 {
		t.Errorf("%.0f %% inside the 50 %% range", got)
	}
}

// One swing and no doubt about it: the prediction is that of a normal with known variances, here by hand. Level SD
// 0.25, no correlation left between far days, noise 0.03: shrinkage 0.0625/(0.0625+s²/3), s² = sd² + noise².
func TestPredictorIsExactForFarWeighings(t *testing.T) {
	l := level{days: []float64{0, 1e5, 2e5}, logs: []float64{6.0, 6.1, 6.2}}
	m := newLevelModel([]level{l}, []ownLevel{{6.5, 0.25}}, false)
	s := swing{sd: 0.04, days: 90, noise: 0.03}
	m.common = []common{{mean: make([]float64, sharedParts), root: dense.Factor{{1e9}, {0, 1e9}, {0, 0, 1e9}}}}
	m.swings, m.grid, m.weights, m.readings = []swing{s}, []float64{1}, [][][]float64{{{1}}}, [][][]bool{{{false, false, false}}}
	part := m.predictor(0)(1e6).Parts[0]
	s2 := 0.04*0.04 + 0.03*0.03
	share := 0.0625 / (0.0625 + s2/3)
	near(t, "mean", part.Mean, 6.5+share*(6.1-6.5), 1e-9)
	near(t, "variance", part.SD*part.SD, 0.0625*(1-share)+s2, 1e-9)
}

func hens(t *testing.T, n int) *record.Dataset {
	t.Helper()
	d := &record.Dataset{}
	levels, _ := grownFlock(3, n, 5, 21)
	for i, l := range levels {
		id := "H" + string(rune('1'+i))
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: record.Female, Breed: "Sussex", Size: record.Bantam, Hatched: record.InYear(2023)})
		for j := range l.days {
			d.Observations = append(d.Observations, weight(id, today-84+record.Day(l.days[j]), math.Exp(l.logs[j]), i, j))
		}
	}
	return d
}

func TestAHenIsForecastFromHerOwnLevel(t *testing.T) {
	d := hens(t, 4)
	d.Observations[4].Value *= 1.5 // H1's last weighing
	r := foreseen(t, situation(t, today+20), d)
	f := r.Birds[0]
	if f.Kind != Grown || f.Refusal != nil || len(f.Weighings) != 5 || f.Mature != nil || len(r.Lines) != 0 {
		t.Fatalf("%+v", f)
	}
	c := claimOf(t, r, "forecast.band/H1")
	if !strings.Contains(c.Text, "H1, hen on 2025-07-29") || !has(c.Caveats, "moult") || !has(c.Caveats, "likely off and counts little") || c.Pool != nil {
		t.Errorf("%s %v", c.Text, c.Caveats)
	}
	if f.Weighings[4].Bad < 0.5 || r.Birds[1].Weighings[4].Bad > 0.5 {
		t.Errorf("bad: %v, %v", f.Weighings[4].Bad, r.Birds[1].Weighings[4].Bad)
	}
	if f.Weight.Value > 1.1*f.Weighings[0].Grams {
		t.Errorf("one bad weighing moved the level to %.0f g", f.Weight.Value)
	}
}

func TestAHenNeedsThreeWeighings(t *testing.T) {
	for n, refused := range map[int]bool{MinWeights - 1: true, MinWeights: false} {
		d := hens(t, 1)
		d.Observations = d.Observations[5-n:]
		c := claimOf(t, foreseen(t, situation(t, today), d), "forecast.band/H1")
		if (c.Refusal != nil) != refused {
			t.Errorf("%d weighings: %s", n, c.Text)
		}
		if !refused && c.Stands == analysis.Stop {
			t.Error(c.Stands)
		}
	}
}

func TestGrownFromAYear(t *testing.T) {
	for age, kind := range map[int]Kind{GrownDays: Grown, GrownDays - 1: Growing} {
		d := hens(t, 1)
		// The third-last weighing is made at this age, so that there are just three of a grown bird, or two.
		d.Birds[0].Hatched = record.On(d.Observations[2].On.First - record.Day(age))
		if got := foreseen(t, situation(t, today), d).Birds[0].Kind; got != kind {
			t.Errorf("three weighings from day %d on: %s", age, got)
		}
	}
}

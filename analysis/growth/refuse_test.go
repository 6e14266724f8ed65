package growth

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/fit"
	"keelmark/ingest/record"
)

// All birds of this file are invented: Gompertz curves with a wiggle of about 1 %.

// layer is a layer-like line: 1,000 g, half grown at about 12 weeks.
var layer = []float64{1000, 0.028, 62}

func wiggle(i int) float64 { return 1 + 0.012*math.Sin(2.3*float64(i)+1) }

// weigh makes weighings of one bird of a curve at the given ages, in one column of an invented sheet.
func weigh(bird string, p []float64, ages ...float64) []record.Observation {
	var out []record.Observation
	for i, age := range ages {
		out = append(out, record.Observation{Bird: bird, Age: record.AgeDays(int(age)), Trait: record.Weight,
			Value: math.Round(gompertz().Weight(p, age) * wiggle(i+len(bird))), Text: "typed",
			At: record.Ref{File: "w.xlsx", Sheet: "2026", Row: int32(i + 2), Col: int32(2 + len(bird))}})
	}
	return out
}

func every(step, from, to float64) []float64 {
	var ages []float64
	for a := from; a <= to; a += step {
		ages = append(ages, a)
	}
	return ages
}

func run(t *testing.T, d *record.Dataset, change func(*Options)) *Result {
	t.Helper()
	o := Defaults()
	if change != nil {
		change(&o)
	}
	r, err := Curves(context.Background(), analysis.Context{Settings: d.Settings}, d, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func one(t *testing.T, obs []record.Observation) *Curve {
	t.Helper()
	r := run(t, &record.Dataset{Name: "invented", Observations: obs}, nil)
	if len(r.Birds) != 1 {
		t.Fatalf("%d birds", len(r.Birds))
	}
	return &r.Birds[0]
}

// expect checks which rule refused; "" means that the curve is told.
func expect(t *testing.T, what string, c *Curve, want Rule) {
	t.Helper()
	var got Rule
	if c.Refusal != nil {
		got = c.Refusal.Rule
		if c.Refusal.Text == "" || c.Refusal.Needs == "" || c.Refusal.Next == "" {
			t.Errorf("%s: a refusal without words: %+v", what, c.Refusal)
		}
	}
	if got != want {
		t.Errorf("%s: rule %q, want %q (maturity %.3f, %+v)", what, got, want, c.Maturity, c.Params)
	}
	if (want == "") != c.Told() || (want == "") != (len(c.Derived) > 0) {
		t.Errorf("%s: told %v, %d derived", what, c.Told(), len(c.Derived))
	}
}

func TestRuleWeights(t *testing.T) {
	expect(t, "5 weighings", one(t, weigh("a", layer, 30, 60, 90, 130, 200)), "")
	expect(t, "4 weighings", one(t, weigh("a", layer, 30, 60, 130, 200)), TooFewWeights)
	expect(t, "5 weighings on 4 days", one(t, weigh("a", layer, 30, 60, 130, 130, 200)), TooFewWeights)
	expect(t, "1 weighing", one(t, weigh("a", layer, 30)), TooFewWeights)
	expect(t, "all of one age", one(t, weigh("a", layer, 90, 90, 90, 90, 90, 90)), TooFewWeights)
}

func TestRuleMaturity(t *testing.T) {
	// At 98 d the invented bird is at 69 % of its mature weight, at 112 d at 78 %.
	young := one(t, weigh("a", layer, every(14, 14, 98)...))
	expect(t, "last at 14 weeks", young, Immature)
	if !young.Fitted() || !(young.Maturity < MinMaturity && young.Maturity > 0.6) {
		t.Errorf("maturity %.3f", young.Maturity)
	}
	if _, err := young.Band(60, 0.9); err != nil {
		t.Errorf("within the ages seen there is a curve: %v", err)
	}
	old := one(t, weigh("a", layer, every(14, 14, 112)...))
	expect(t, "last at 16 weeks", old, "")
	if old.Maturity < MinMaturity || old.Maturity > 0.85 {
		t.Errorf("maturity %.3f", old.Maturity)
	}
}

func TestRuleAge(t *testing.T) {
	quick := []float64{1000, 0.09, 20} // levels off within weeks, as after a check
	expect(t, "levels off, last at 83 days", one(t, weigh("a", quick, 7, 14, 28, 42, 60, 83)), TooYoung)
	expect(t, "levels off, last at 84 days", one(t, weigh("a", quick, 7, 14, 28, 42, 60, 84)), "")
}

func TestRuleAsymptote(t *testing.T) {
	m := Curve{Of: OfBird, Label: "a", Points: []Point{{Age: 100, Weight: 200}}, Params: []Estimate{
		{Parameter: matureWeight, Value: 1001, SE: 1}, {Parameter: rate, Value: 1, SE: 0.1}}, Maturity: 0.9, values: []float64{1001}}
	method{family: gompertz(), level: 0.9}.judge(&m, nil)
	if m.Refusal == nil || m.Refusal.Rule != WildAsymptote || len(m.Params) != 0 {
		t.Errorf("5.005 times the heaviest: %+v", m.Refusal)
	}
	// A bird that grows as an exponential to the end: the curve runs off.
	var obs []record.Observation
	for i, age := range every(10, 10, 100) {
		w := weigh("a", layer, age)[0]
		w.Value, w.At.Row = math.Round(40*math.Exp(0.03*age)*wiggle(i)), int32(i)
		obs = append(obs, w)
	}
	wild := one(t, obs)
	if wild.Refusal == nil || wild.Refusal.Rule != WildAsymptote && wild.Refusal.Rule != NoCurve || len(wild.Params) != 0 {
		t.Errorf("exponential growth: %+v", wild.Refusal)
	}
}

// judged is a fitted curve as judge sees it, with another mature weight; its heaviest weighing is about 1,000 g.
func judged(t *testing.T, mature, se float64) *Curve {
	t.Helper()
	r := one(t, weigh("a", layer, every(14, 14, 196)...))
	r.Refusal, r.Derived = nil, nil
	r.Params[0].Value, r.Params[0].SE = mature, se
	return r
}

func TestRuleLooseEstimate(t *testing.T) {
	heaviest := 0.0
	for _, p := range judged(t, 1000, 1).Points {
		heaviest = max(heaviest, p.Weight)
	}
	for _, row := range []struct {
		mature, se float64
		want       Rule
	}{
		{1000, 999, ""}, {1000, 1001, LooseEstimate}, {4800, 10, ""}, {5200, 10, WildAsymptote}, {5 * heaviest, 10, WildAsymptote}, {5*heaviest - 1, 10, ""},
	} {
		c := judged(t, row.mature, row.se)
		method{family: gompertz(), level: 0.9}.judge(c, nil)
		expect(t, fmt.Sprintf("mature weight %v, standard error %v", row.mature, row.se), c, row.want)
	}
}

func TestRuleGrowth(t *testing.T) {
	still := weigh("a", layer, every(14, 14, 140)...)
	for i := range still {
		still[i].Value = 900 + float64(i%3)
	}
	expect(t, "no growth", one(t, still), NoGrowthSeen)
	for i := range still {
		still[i].Value = 900
	}
	expect(t, "constant weights", one(t, still), NoGrowthSeen)
	late := one(t, weigh("a", layer, every(14, 117, 230)...)) // from 810 g to 991 g
	expect(t, "less than a quarter gained", late, NoGrowthSeen)
	expect(t, "more than a quarter gained", one(t, weigh("a", layer, every(14, 89, 230)...)), "")
}

func TestRuleTwoBirds(t *testing.T) {
	obs := weigh("a", layer, every(14, 14, 196)...)
	again := obs[5]
	again.Value, again.At.Row = again.Value*1.24, 99
	expect(t, "24 % apart on one day", one(t, append(obs[:len(obs):len(obs)], again)), "")
	again.Value = obs[5].Value * 1.26
	c := one(t, append(obs[:len(obs):len(obs)], again))
	expect(t, "26 % apart on one day", c, TwoBirds)
	if !strings.Contains(c.Refusal.Text, again.At.String()) {
		t.Errorf("the refusal does not name %s: %s", again.At, c.Refusal.Text)
	}
}

func TestRuleAgeKnown(t *testing.T) {
	hatch, _ := record.ParseDay("2026-03-01")
	dated := func(hatched record.Date) *Curve {
		obs := weigh("a", layer, every(14, 14, 196)...)
		for i := range obs {
			days, _ := obs[i].Age.Days()
			obs[i].Age, obs[i].On = record.Age{}, record.On(hatch+record.Day(days))
		}
		r := run(t, &record.Dataset{Name: "invented", Birds: []record.Bird{{ID: "a", Hatched: hatched}}, Observations: obs}, nil)
		if len(r.Claims()) == 0 {
			t.Error("no claim")
		}
		return &r.Birds[0]
	}
	expect(t, "hatch day known", dated(record.On(hatch)), "")
	expect(t, "no hatch date", dated(record.Date{}), NoAge)
	expect(t, "hatched within 14 days", dated(record.Between(hatch-7, hatch+7)), "")
	expect(t, "hatched within 15 days", dated(record.Between(hatch-7, hatch+8)), NoAge)
	within := dated(record.Between(hatch-7, hatch+7))
	if caveats := strings.Join(within.caveats(), "; "); !strings.Contains(caveats, "within 14 days") {
		t.Errorf("caveats %q", caveats)
	}
}

// lineage makes a flock of pullets of one line, each on its own curve, weighed to the given last ages.
func lineage(sex record.Sex, lasts ...float64) *record.Dataset {
	d := &record.Dataset{Name: "invented"}
	for i, last := range lasts {
		id := fmt.Sprintf("p%02d", i)
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Breed: "Sussex", Size: record.Bantam, Sex: sex})
		p := []float64{layer[0] * (1 + 0.04*float64(i%5-2)), layer[1], layer[2]}
		for j, w := range weigh(id, p, every(14, 14, last)...) {
			w.Value = math.Round(w.Value * wiggle(3*i+j))
			w.At.Row = int32(100*i + j)
			d.Observations = append(d.Observations, w)
		}
	}
	return d
}

func repeat(x float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = x
	}
	return out
}

func TestRuleLine(t *testing.T) {
	of := func(d *record.Dataset) *Curve {
		r := run(t, d, nil)
		if len(r.Lines) != 1 {
			t.Fatalf("%d lines", len(r.Lines))
		}
		return &r.Lines[0]
	}
	eight := of(lineage(record.Female, repeat(168, 8)...))
	expect(t, "8 birds to 24 weeks", eight, "")
	if m, _ := eight.Quantity("mature_weight"); math.Abs(m.Value-985) > 40 || !(m.Low < m.Value && m.Value < m.High) {
		t.Errorf("mature weight %+v", m)
	}
	expect(t, "7 birds to 24 weeks", of(lineage(record.Female, repeat(168, 7)...)), ThinLine)
	expect(t, "8 birds, one short of 24 weeks", of(lineage(record.Female, append(repeat(168, 7), 154)...)), ThinLine)
	expect(t, "sex not stated", of(lineage("", repeat(168, 8)...)), SexUnknown)
	expect(t, "4 birds", of(lineage(record.Female, repeat(168, 4)...)), ThinLine)
	expect(t, "3 birds", of(lineage(record.Female, repeat(168, 3)...)), TooFewPooled)
	expect(t, "young birds", of(lineage(record.Female, repeat(98, 9)...)), Immature)
}

// TestRuleShape: shapes that run off refuse once they are as likely as minShapeWeight. The curve is one and the
// same; what runs off is decided by the heaviest weighing it is held against.
func TestRuleShape(t *testing.T) {
	m, err := newMethod(gompertz(), fit.LogNormal, fit.NotRobust, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if m.shapes, err = shapeMethods(fit.LogNormal, fit.NotRobust, 0.9); err != nil {
		t.Fatal(err)
	}
	c := one(t, weigh("a", layer, 30, 60, 90, 130, 200))
	expect(t, "with its own heaviest weighing", c, "")
	if !c.ShapeOpen || !(c.Mature.Low < c.Params[0].Value && c.Params[0].Value < c.Mature.High) {
		t.Errorf("mature weight %+v beside %+v", c.Mature, c.Params[0])
	}
	c.Mature = Estimate{}
	m.openShape(c, nil, c.Params[0].Value/MaxAsymptote*1.5)
	if c.Refusal != nil {
		t.Errorf("no shape runs off: %+v", c.Refusal)
	}
	m.openShape(c, nil, c.Params[0].Value/MaxAsymptote) // about half of the shapes lie above
	if c.Refusal == nil || c.Refusal.Rule != ShapeUnknown {
		t.Errorf("many shapes run off: %+v", c.Refusal)
	}
}

// Whatever is typed, a bird gets a claim or a refusal in words, and no number beyond what a bird can weigh.
func TestBadInputGivesWordsAndNoWildNumbers(t *testing.T) {
	good := weigh("a", layer, every(14, 14, 196)...)
	changed := func(change func(i int, o *record.Observation)) []record.Observation {
		obs := append([]record.Observation(nil), good...)
		for i := range obs {
			change(i, &obs[i])
		}
		return obs
	}
	for what, obs := range map[string][]record.Observation{
		"constant weights":   changed(func(_ int, o *record.Observation) { o.Value = 640 }),
		"two weighings":      good[:2],
		"one weighing":       good[:1],
		"all one age":        changed(func(_ int, o *record.Observation) { o.Age = record.AgeDays(70) }),
		"one age and weight": changed(func(_ int, o *record.Observation) { o.Age, o.Value = record.AgeDays(70), 640 }),
		"NaN":                changed(func(i int, o *record.Observation) { o.Value = math.NaN() }),
		"some NaN": changed(func(i int, o *record.Observation) {
			o.Value = map[bool]float64{true: math.NaN(), false: o.Value}[i%2 == 0]
		}),
		"infinite":            changed(func(i int, o *record.Observation) { o.Value = math.Inf(1) }),
		"negative and zero":   changed(func(i int, o *record.Observation) { o.Value = float64(-i) }),
		"ages unknown":        changed(func(_ int, o *record.Observation) { o.Age = record.Age{} }),
		"heavier than any":    changed(func(_ int, o *record.Observation) { o.Value *= 40 }),
		"one slip of ten":     changed(func(i int, o *record.Observation) { o.Value *= []float64{1, 10}[i/8] }),
		"falling":             changed(func(i int, o *record.Observation) { o.Value = 2000 - 100*float64(i) }),
		"straight line":       changed(func(i int, o *record.Observation) { o.Value = 100 + 50*float64(i) }),
		"one age and another": changed(func(i int, o *record.Observation) { o.Age = record.AgeDays(70 + i/7) }),
	} {
		for _, sex := range []record.Sex{"", record.Female} {
			d := &record.Dataset{Name: "invented", Birds: []record.Bird{{ID: "a", Ring: "a", Sex: sex}}, Observations: obs}
			r := run(t, d, nil)
			heaviest := 0.0
			for _, o := range obs {
				if o.Value > heaviest && !math.IsInf(o.Value, 0) {
					heaviest = o.Value
				}
			}
			claims := r.Claims()
			if len(claims) == 0 {
				t.Errorf("%s: no claim", what)
			}
			for _, c := range claims {
				if c.Text == "" || strings.Contains(c.Text, "NaN") || strings.Contains(c.Text, "Inf") {
					t.Errorf("%s: %s", what, c.Text)
				}
				if c.Refusal != nil && (c.Refusal.Needs == "" || c.Refusal.Next == "") {
					t.Errorf("%s: a refusal without words: %+v", what, c)
				}
				if e := c.Estimate; e != nil && e.Unit == "g" && !(e.Value > 0 && e.Value < MaxAsymptote*heaviest && e.Low <= e.Value && e.Value <= e.High) {
					t.Errorf("%s: %+v of a bird of at most %.0f g", what, *e, heaviest)
				}
			}
		}
	}
}

package growth

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/fit"
	"keelmark/ingest/record"
)

func TestSpec(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
	r, err := Spec().Run(context.Background(), analysis.Context{}, lineage(record.Female, 168), map[string]any{"bird": "p00", "level": 0.5})
	if err != nil {
		t.Fatal(err)
	}
	if got := r.(*Result); len(got.Birds) != 1 || len(got.Lines) != 0 || got.Birds[0].Params[0].Level != 0.5 {
		t.Errorf("one bird at level 0.5: %+v", got)
	}
}

func TestOptionsThatMakeNoSense(t *testing.T) {
	for name, options := range map[string]map[string]any{
		"family": {"family": "straight"}, "errors": {"errors": "none"}, "level": {"level": 1.0}, "age": {"up_to_age": -3.0},
		"bird": {"bird": "nobody"},
	} {
		if _, err := Spec().Run(context.Background(), analysis.Context{}, lineage(record.Female, 168), options); err == nil {
			t.Errorf("%s: %v was accepted", name, options)
		}
	}
	if _, err := Curves(context.Background(), analysis.Context{}, &record.Dataset{Name: "empty"}, Defaults()); err == nil ||
		!strings.Contains(err.Error(), "empty holds no weighings") {
		t.Errorf("a flock without weighings: %v", err)
	}
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Curves(stopped, analysis.Context{}, lineage(record.Female, 168), Defaults()); err == nil {
		t.Error("a cancelled run went on")
	}
}

// TestAgainstR: chick 3 of ChickWeight (Crowder & Hand 1990, Example 5.3; R datasets) with constant errors. Expected:
// R 4.2.2 nls, Gompertz Asym exp(-b2 b3^t) and logistic Asym/(1 + exp((xmid-t)/scal)).
func TestAgainstR(t *testing.T) {
	var obs []record.Observation
	days := []int{0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 21}
	for i, w := range []float64{43, 39, 55, 67, 84, 99, 115, 138, 163, 187, 198, 202} {
		obs = append(obs, record.Observation{Bird: "3", Age: record.AgeDays(days[i]), Trait: record.Weight, Value: w, At: record.Ref{File: "c.csv", Row: int32(i + 2), Col: 1}})
	}
	d := &record.Dataset{Name: "chicks", Observations: obs}
	of := func(family string) *Curve {
		return &run(t, d, func(o *Options) { o.Family, o.Errors = family, "constant" }).Birds[0]
	}
	l := of("logistic")
	close(t, "Asym", l.Params[0].Value, 297.09358119, 1e-7)
	close(t, "its SE", l.Params[0].SE, 30.13384999, 1e-6)
	close(t, "xmid", l.Params[2].Value, 14.902403592, 1e-7)
	close(t, "its SE", l.Params[2].SE, 1.6553044679, 1e-6)
	close(t, "scal", 1/l.Params[1].Value, 7.3334421073, 1e-7)
	close(t, "sigma", l.Sigma, 4.8841512852, 1e-7)
	g := of("gompertz")
	v := g.Family.Textbook.Values(g.values)
	close(t, "Asym", v[0], 549.67003231, 1e-7)
	close(t, "b2", v[1], 2.804547867, 1e-7)
	close(t, "b3", math.Exp(-v[2]), 0.95062932403, 1e-7)
	close(t, "SE of Asym", g.Params[0].SE, 186.53953009, 1e-6)
	close(t, "SE of b3", g.Params[1].SE*math.Exp(-v[2]), 0.011141436267, 1e-6) // d b3/d k = -b3
	expect(t, "chick 3", g, Immature)
}

// TestQuickPath: the quick path ends where the blind procedure ends, on curves that are hard to tell as well.
func TestQuickPath(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for _, errors := range []fit.Errors{fit.LogNormal, fit.Additive} {
		for _, f := range []Family{gompertz(), logistic(), vonBertalanffy()} {
			quick, err := newMethod(f, errors, fit.NotRobust, 0.9)
			if err != nil {
				t.Fatal(err)
			}
			slow := quick
			slow.quick = nil
			for range 60 {
				var ages, weights []float64
				p := []float64{1000 * math.Exp(0.12*rng.NormFloat64()), 0.028 * math.Exp(0.12*rng.NormFloat64()), 62 * math.Exp(0.1*rng.NormFloat64())}
				for i := range 5 + rng.IntN(8) {
					age := float64(14 * (i + 1))
					ages = append(ages, age)
					weights = append(weights, gompertz().Weight(p, age)*math.Exp(0.05*rng.NormFloat64()))
				}
				a, errA := quick.curve(ages, weights)
				b, errB := slow.curve(ages, weights)
				if errA != nil || errB != nil || b.Status != fit.Converged {
					continue
				}
				if a.RSS > b.RSS*(1+1e-9) {
					t.Errorf("%s: quick path ended at %v, %v; the blind procedure at %v, %v", f.Name, a.RSS, a.Params, b.RSS, b.Params)
				}
			}
		}
	}
}

// TestFamiliesFit: each family finds its own curve again from invented weighings of 1 % scatter.
func TestFamiliesFit(t *testing.T) {
	for _, f := range Families() {
		p := typical(f)
		var obs []record.Observation
		for i, age := range every(10, 10, 300) {
			obs = append(obs, record.Observation{Bird: "a", Age: record.AgeDays(int(age)), Trait: record.Weight,
				Value: f.Weight(p, age) * wiggle(i), At: record.Ref{File: "w.csv", Row: int32(i + 2), Col: 1}})
		}
		c := &run(t, &record.Dataset{Name: "invented", Observations: obs}, func(o *Options) { o.Family = f.Name }).Birds[0]
		if !c.Told() {
			t.Errorf("%s: %+v", f.Name, c.Refusal)
			continue
		}
		for i, e := range c.Params {
			if math.Abs(e.Value-p[i]) > 4*e.SE+0.02*math.Abs(p[i]) {
				t.Errorf("%s: %s %v +- %v, truth %v", f.Name, e.Name, e.Value, e.SE, p[i])
			}
		}
		if half, ok := c.Quantity(AgeHalf); !ok || math.Abs(c.Weight(half.Value)-c.Params[0].Value/2) > 1e-6*c.Params[0].Value {
			t.Errorf("%s: age at half weight %+v", f.Name, half)
		}
	}
}

// TestSamples: weighings that name no bird give a curve of their pen or flock, never of a bird.
func TestSamples(t *testing.T) {
	d := &record.Dataset{Name: "Low Barn"}
	for i, age := range every(7, 7, 140) {
		for k := range 10 {
			w := weigh("", layer, age)[0]
			w.Value *= 1 + 0.02*float64(k-5)
			w.At.Row, w.At.Col = int32(i), int32(k+1)
			if k < 5 {
				w.More = &record.Detail{Pen: "3"}
			}
			d.Observations = append(d.Observations, w)
		}
	}
	r := run(t, d, nil)
	if len(r.Birds) != 0 || len(r.Lines) != 0 || len(r.Samples) != 2 {
		t.Fatalf("%d birds, %d lines, %d samples", len(r.Birds), len(r.Lines), len(r.Samples))
	}
	pen, flock := r.Samples[0], r.Samples[1]
	if pen.Of != OfPen || pen.Key != "3" || flock.Of != OfFlock || flock.Key != "Low Barn" || !pen.Told() || !flock.Told() {
		t.Errorf("pen %+v, flock %+v", pen.Refusal, flock.Refusal)
	}
	refused := false
	for _, c := range r.Claims() {
		if c.Refusal != nil && strings.Contains(c.Text, "Cannot draw a curve of single birds from 200 weighings that name no bird") {
			refused = len(c.RestsOn) == 200
		}
	}
	if !refused {
		t.Error("curves of single birds were not refused in words")
	}
}

// TestLeftOut: what a curve does not use is kept with its reason and said.
func TestLeftOut(t *testing.T) {
	obs := weigh("a", layer, every(14, 14, 196)...)
	flagged, zero, count, adult, before := obs[3], obs[4], obs[5], obs[0], obs[1]
	flagged.Flagged = true
	zero.Value = 0
	count.Form = record.MoreThan
	adult.Age = record.AgeDays(366)
	before.Age = record.AgeDays(-4)
	c := one(t, append(obs, flagged, zero, count, adult, before))
	if len(c.Points) != len(obs) || len(c.LeftOut) != 5 {
		t.Fatalf("%d points, %d left out", len(c.Points), len(c.LeftOut))
	}
	want := "5 weighings left out: "
	caveats := strings.Join(c.caveats(), "; ")
	for _, s := range []string{want, "1 waits for the keeper's confirmation", "1 not a weight", "1 not a measured weight", "1 after growth", "1 dated before hatch"} {
		if !strings.Contains(caveats, s) {
			t.Errorf("caveats lack %q: %s", s, caveats)
		}
	}
	with := run(t, &record.Dataset{Name: "invented", Observations: append(obs, flagged)}, func(o *Options) { o.Unconfirmed = true })
	if n := len(with.Birds[0].Points); n != len(obs)+1 {
		t.Errorf("with unconfirmed weighings %d points", n)
	}
	onlyFlagged := one(t, []record.Observation{flagged})
	if onlyFlagged.Refusal == nil || !strings.Contains(onlyFlagged.Refusal.Next, "confirm") {
		t.Errorf("only an unconfirmed weighing: %+v", onlyFlagged.Refusal)
	}
	// A bird weighed only when grown is asked for nothing, and its ages are known.
	r := run(t, &record.Dataset{Name: "invented", Observations: []record.Observation{adult}}, nil)
	claim := r.Claims()[0]
	for _, false := range []string{"confirm", "no age", "scale of age", "unknown"} {
		if strings.Contains(claim.Text+claim.Refusal.Next, false) {
			t.Errorf("a grown bird's claim says %q: %s; %s", false, claim.Text, claim.Refusal.Next)
		}
	}
	if !strings.Contains(claim.Text, "1 after growth") || claim.N.Records != 1 || len(claim.RestsOn) != 1 {
		t.Errorf("%+v", claim)
	}
}

// TestBand: half of new weighings lie in the 50 % band within the ages seen; the curve's own band is narrower; ages
// past four weeks are dashed.
func TestBand(t *testing.T) {
	c := one(t, weigh("a", layer, every(14, 14, 196)...))
	for _, age := range []float64{20, 90, 180} {
		b, err := c.Band(age, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		if !(b.Low < b.CurveLow && b.CurveLow < b.Weight && b.Weight < b.CurveHigh && b.CurveHigh < b.High) || b.Weight != c.Weight(age) && math.Abs(b.Weight-c.Weight(age)) > 1e-9*b.Weight {
			t.Errorf("band at %v: %+v", age, b)
		}
	}
	if _, err := c.Band(90, 1.5); err == nil {
		t.Error("a chance of 1.5 was accepted")
	}
	none := one(t, weigh("a", layer, 14))
	if _, err := none.Band(14, 0.9); err == nil || !math.IsNaN(none.Weight(14)) || !math.IsNaN(none.Gain(14)) {
		t.Errorf("a band without a curve: %v", err)
	}
	if !c.Solid(196+SolidDays) || c.Solid(196+SolidDays+1) || c.Solid(13) {
		t.Error("solid outside the ages seen and four weeks")
	}
}

// TestPooledKnowsItsBirds: a pooled curve takes weighings of one bird as going together, so its range is wider than
// that of independent weighings.
func TestPooledKnowsItsBirds(t *testing.T) {
	c := &run(t, lineage(record.Female, repeat(196, 10)...), nil).Lines[0]
	if plain := c.fit.StdErr[0]; !(c.Params[0].SE > 1.3*plain) {
		t.Errorf("SE of mature weight %v, of independent weighings %v", c.Params[0].SE, plain)
	}
	if c.Birds != 10 || c.counts().Birds != 10 {
		t.Errorf("birds %d", c.Birds)
	}
}

var forbidden = regexp.MustCompile(`(?i)\b(cull|healthy|cured|guaranteed|disqualified|diseased|inferior|score|NaN|Inf)\b`)

// TestClaims: every claim has a sentence, cells, counts and a unique ID, nothing forbidden in it, and two runs
// give the same bytes.
func TestClaims(t *testing.T) {
	d := lineage(record.Female, append(repeat(168, 8), 60, 14)...)
	d.Birds = append(d.Birds, record.Bird{ID: "X", Name: "Žofie"})
	for i, w := range weigh("X", layer, every(14, 14, 196)...) {
		w.Age, w.At.Col = record.Age{}, 99
		w.At.Row = int32(i)
		d.Observations = append(d.Observations, w)
	}
	var first []byte
	for range 2 {
		r := run(t, d, nil)
		claims := r.Claims()
		ids := make(map[string]bool)
		for _, c := range claims {
			if ids[c.ID] || c.ID == "" || c.Text == "" || len(c.RestsOn) == 0 || c.N.Records == 0 || c.Source == "" || c.Method == "" {
				t.Errorf("incomplete claim %+v", c)
			}
			ids[c.ID] = true
			if bad := forbidden.FindString(c.Text); bad != "" {
				t.Errorf("%q in %q", bad, c.Text)
			}
			if c.Refusal == nil && c.Estimate == nil {
				t.Errorf("neither number nor refusal: %+v", c)
			}
		}
		for _, want := range []string{"growth.mature/p00", "growth.pace/p00", "growth.mature/p09", "growth.mature/X", "growth.mature/line-Sussex-bantam-F"} {
			if !ids[want] {
				t.Errorf("no claim %s", want)
			}
		}
		for _, table := range r.Tables() {
			for _, row := range table.Rows {
				if len(row) != len(table.Columns) {
					t.Fatalf("table %s: %d cells for %d columns", table.Name, len(row), len(table.Columns))
				}
				for i, cell := range row {
					if x, ok := cell.(float64); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
						t.Errorf("table %s, %s: %v", table.Name, table.Columns[i].Name, x)
					}
				}
			}
		}
		out, err := json.Marshal([]any{claims, r.Tables()})
		if err != nil {
			t.Fatal(err)
		}
		if first != nil && !bytes.Equal(first, out) {
			t.Error("two runs differ")
		}
		first = out
	}
}

// TestSentences shows the sentences themselves. The birds are invented.
func TestSentences(t *testing.T) {
	d := lineage(record.Female, append(repeat(168, 8), 60)...)
	texts := make(map[string]string)
	for _, c := range run(t, d, nil).Claims() {
		texts[c.ID] = c.Text
	}
	for id, want := range map[string]string{
		"growth.mature/p01": `^p01: 12 weighings on 12 days are compatible with a mature weight of about \d+ g \(\d+ to \d+ g, 90 % range with the shape of the curve left open\); the last, at 24 weeks, stands at about 9\d % of it\.$`,
		"growth.pace/p01":   `^p01: growth was fastest at about 6\d days \(\d+ to \d+ days\), at about 1?\d(\.\d)? g a day \(.*\); half of the mature weight at about 1[01] weeks, 95 % of it at about 2\d weeks`,
		"growth.mature/p08": `^p08: cannot say what the mature weight is, because a curve of one bird needs weighings on 5 days of age and there are 4\. Records show 4 weighings on 4 days, from \d+ g at 14 days to \d+ g at 56 days\.$`,
	} {
		if !regexp.MustCompile(want).MatchString(texts[id]) {
			t.Errorf("%s: %s", id, texts[id])
		}
	}
	d.Settings.Flock.Units = "lb-oz"
	for _, c := range run(t, d, nil).Claims() {
		if c.ID == "growth.mature/p01" && !regexp.MustCompile(`about (2 lb|2 lb \d½? oz|1 lb \d+½? oz|2 lb ½ oz) \(`).MatchString(c.Text) {
			t.Errorf("in pounds: %s", c.Text)
		}
	}
}

// BenchmarkFlock fits the curves of 2,000 invented birds, 10 weighings each.
func BenchmarkFlock(b *testing.B) {
	d := &record.Dataset{Name: "invented"}
	rng := rand.New(rand.NewPCG(3, 4))
	for k := range 2000 {
		id := fmt.Sprintf("b%04d", k)
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Breed: "Sussex", Sex: record.Female})
		p := []float64{1000 * math.Exp(0.12*rng.NormFloat64()), 0.028 * math.Exp(0.12*rng.NormFloat64()), 62 * math.Exp(0.1*rng.NormFloat64())}
		for i := range 10 {
			age := 18 * (i + 1)
			d.Observations = append(d.Observations, record.Observation{Bird: id, Age: record.AgeDays(age), Trait: record.Weight,
				Value: gompertz().Weight(p, float64(age)) * math.Exp(0.03*rng.NormFloat64())})
		}
	}
	for b.Loop() {
		if _, err := Curves(context.Background(), analysis.Context{}, d, Defaults()); err != nil {
			b.Fatal(err)
		}
	}
}

// TestShapeLeftOpen: where growth is not quite Gompertz (Richards shape 0.3, invented), ranges that take Gompertz's
// shape for certain miss most birds, and ranges with the shape left open hold about what they say. 150 birds a
// row: one binomial standard error is 2.5 points.
func TestShapeLeftOpen(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	m, err := newMethod(gompertz(), fit.LogNormal, fit.NotRobust, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if m.shapes, err = shapeMethods(fit.LogNormal, fit.NotRobust, 0.9); err != nil {
		t.Fatal(err)
	}
	for _, nu := range []float64{0, 0.3} {
		told, open, certain := 0, 0, 0
		for range 150 {
			p := []float64{1000 * math.Exp(0.12*rng.NormFloat64()), 0.028 * math.Exp(0.12*rng.NormFloat64()), 62 * math.Exp(0.1*rng.NormFloat64()), nu}
			c := Curve{Of: OfBird, Key: "a", Label: "a", Birds: 1}
			for _, age := range every(14, 14, 168) {
				c.Points = append(c.Points, Point{Age: age, Weight: richards().Weight(p, age) * math.Exp(0.03*rng.NormFloat64())})
			}
			if m.bird(&c); !c.Told() {
				continue
			}
			told++
			if c.Mature.Low <= p[0] && p[0] <= c.Mature.High {
				open++
			}
			if c.Params[0].Low <= p[0] && p[0] <= c.Params[0].High {
				certain++
			}
		}
		t.Logf("shape %v: of %d birds %d in the open range, %d in the certain one", nu, told, open, certain)
		if share := float64(open) / float64(told); told < 140 || share < 0.83 || share > 0.97 {
			t.Errorf("shape %v: %d of %d birds in their 90 %% range", nu, open, told)
		}
		if nu == 0.3 && float64(certain) > 0.6*float64(told) {
			t.Errorf("shape %v: %d of %d birds in the range that takes the shape for certain: it was expected to fail", nu, certain, told)
		}
	}
}

// TestOnEdge: a Weibull curve through weighings that start from nothing ends at a hatch weight of 0, and says so.
func TestOnEdge(t *testing.T) {
	p := []float64{2000, 0, 70, 2.2}
	var obs []record.Observation
	for i, age := range every(10, 10, 300) {
		obs = append(obs, record.Observation{Bird: "a", Age: record.AgeDays(int(age)), Trait: record.Weight,
			Value: weibull().Weight(p, age) * (1 + 0.002*math.Sin(float64(i*i))) * (1 - 0.3*math.Exp(-age/8)), At: record.Ref{File: "w.csv", Row: int32(i + 2), Col: 1}})
	}
	c := &run(t, &record.Dataset{Name: "invented", Observations: obs}, func(o *Options) { o.Family = "weibull" }).Birds[0]
	if w0, ok := c.Quantity("hatch_weight"); !ok || w0.Value > 0.5 || !strings.Contains(strings.Join(c.caveats(), ";"), "weight at hatch ran to the edge") {
		t.Errorf("hatch weight %+v, caveats %v, %+v", w0, c.caveats(), c.Refusal)
	}
}

// A range whose ends print alike is given in days, and one of no width as one age.
func TestAgeRange(t *testing.T) {
	for want, r := range map[string][2]float64{
		"11 to 13 weeks": {77, 91}, "76 to 79 days": {76, 79}, "34 to 53 days": {34.2, 53.4}, "0 to 5 days": {-3, 5},
		"77 days": {77, 77.3}, "69 to 70 days": {69, 70}, "1 day": {0.9, 1.1}, "9 to 12 weeks": {65, 84},
	} {
		if got := ageRange(r[0], r[1]); got != want {
			t.Errorf("%v: %q, want %q", r, got, want)
		}
	}
}

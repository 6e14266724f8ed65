package flocks

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// shares makes a summary whose only measure is one of shares.
func shares(code string, m Measure, scale string, birds int, n, x float64) Summary {
	k := Key{Measure: m, Scale: scale, Half: Half{Year: 2025}}
	return Summary{Code: code, Birds: birds, Total: []Cell{{Key: k, Birds: birds, Clusters: birds, N: n, X: x, Spread: 1}}}
}

func sayOf(t *testing.T, list []Summary) string {
	t.Helper()
	r, err := Compare(context.Background(), list, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, c := range r.Claims() {
		b.WriteString(c.Text + "\n" + strings.Join(c.Caveats, "\n") + "\n")
		for _, word := range []string{"NaN", "Inf", "cull", "healthy", "rank", "best", "worst", "1 flocks", "1 birds"} {
			if strings.Contains(strings.ReplaceAll(c.Text, "middle-best", ""), word) {
				t.Errorf("a sentence holds %q: %s", word, c.Text)
			}
		}
	}
	return b.String()
}

func TestWhatCannotBeComparedIsSaid(t *testing.T) {
	scored := func(scale string) Summary { return shares("S"+scale[:3], Condition, scale, 20, 40, 20) }
	weighed := func(standard string) Summary { return shares("W"+standard, Weight, standard, 20, 20, 1990) }
	for name, c := range map[string]struct {
		list []Summary
		want string
	}{
		"no flock":              {nil, "0 flocks are given"},
		"one flock":             {[]Summary{shares("A", Lice, "", 20, 40, 4)}, "a comparison needs two flocks"},
		"flocks of one bird":    {[]Summary{shares("A", Lice, "", 1, 3, 3), shares("B", Lice, "", 1, 4, 0)}, "fewer than 10 birds in A, B"},
		"scales that differ":    {[]Summary{scored("0-3 high-good"), scored("1-5 middle-best")}, "different scales, which are not set beside each other"},
		"no shared standard":    {[]Summary{weighed("north"), weighed("south")}, "only Wnorth has it; there is nothing to set it beside"},
		"nothing at all":        {[]Summary{{Code: "A"}, {Code: "B"}}, "nothing that can be compared"},
		"nobody found anything": {[]Summary{shares("A", Lice, "", 20, 40, 0), shares("B", Lice, "", 20, 40, 0), shares("C", Lice, "", 20, 40, 0)}, "no more than chance"},
		"all found everywhere":  {[]Summary{shares("A", Lice, "", 20, 40, 40), shares("B", Lice, "", 20, 40, 40)}, "no more than chance"},
	} {
		if said := sayOf(t, c.list); !strings.Contains(said, c.want) {
			t.Errorf("%s: %q is not said:\n%s", name, c.want, said)
		}
	}
	if _, err := Compare(context.Background(), []Summary{{Code: "A"}, {Code: "A"}}, Options{}); err == nil || !strings.Contains(err.Error(), `the code "A"`) {
		t.Errorf("two flocks of one code: %v", err)
	}
}

// Seasons are counted from the local midsummer: the same flock half a year later in the south is in the same seasons.
func TestNorthAndSouthAreSetBesideEachOther(t *testing.T) {
	list := map[string]Summary{}
	for hemisphere, shift := range map[string]record.Day{"north": 0, "south": 183} {
		c := mixedContext(simulatedToday + 400)
		c.Settings.Flock.Hemisphere = hemisphere
		d := mixed(rand.New(rand.NewPCG(1, 1)), simulatedToday-300+shift, simulatedToday+shift)
		s, err := Summarise(context.Background(), c, d)
		if err != nil {
			t.Fatal(err)
		}
		list[hemisphere] = s
	}
	bySeason := func(s Summary) map[int]float64 {
		out := map[int]float64{}
		for _, c := range s.Cells {
			if c.Measure == Lice {
				out[c.Season] += c.N
			}
		}
		return out
	}
	north, south := bySeason(list["north"]), bySeason(list["south"])
	if len(north) < 4 || fmt.Sprint(north) != fmt.Sprint(south) {
		t.Errorf("looks by season: north %v, south %v", north, south)
	}
	// Without a hemisphere seasons are not told apart, and it is said.
	c := mixedContext(simulatedToday + 400)
	c.Settings.Flock.Hemisphere = ""
	var unknown []Summary
	for i := range 2 {
		c.Settings.Flock.Code = fmt.Sprint("U", i)
		s, err := Summarise(context.Background(), c, mixed(rand.New(rand.NewPCG(1, 1)), simulatedToday-300, simulatedToday))
		if err != nil {
			t.Fatal(err)
		}
		unknown = append(unknown, s)
	}
	if said := sayOf(t, unknown); !strings.Contains(said, "season (hemisphere = in flock.toml) in 100 %") {
		t.Errorf("nothing is said of the seasons:\n%s", said)
	}
}

func TestExactIntervalsOfCountedOverExpected(t *testing.T) {
	// Exact Poisson limits at 90 %, out of the chi-squared distribution (R: qchisq(.05, 2*x)/2, qchisq(.95, 2*(x+1))/2).
	for _, c := range []struct{ x, low, high float64 }{{0, 0, 2.995732}, {1, 0.05129329, 4.743865}, {5, 1.970150, 10.51303}, {10, 5.425406, 16.96222}} {
		got := exactRatio(c.x, 2)
		if math.Abs(got.Low-c.low/2) > 1e-5 || math.Abs(got.High-c.high/2) > 1e-5 {
			t.Errorf("%v of 2 expected: %v to %v, want %v to %v", c.x, got.Low, got.High, c.low/2, c.high/2)
		}
	}
}

func TestSmallGroupsOfFlocksAreNotPrinted(t *testing.T) {
	released := shares("R", Lice, "", 20, 40, 9)
	released.Released = true
	list := []Summary{released, shares("A", Lice, "", 20, 40, 3), shares("B", Lice, "", 20, 40, 4)}
	r, err := Compare(context.Background(), list, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if c, _ := r.measure(Lice); c.Hidden == "" || len(c.Rows) > 0 {
		t.Errorf("three flocks, one of them a share, are printed: %+v", c)
	}
	for _, table := range r.Tables() {
		if len(table.Rows) > 0 {
			t.Errorf("table %s: %v", table.Name, table.Rows)
		}
	}
	if _, err := r.Own("nobody"); err == nil || !strings.Contains(err.Error(), "there are: R, A, B") {
		t.Errorf("an unknown flock: %v", err)
	}
	own, err := r.Own("A")
	if err != nil {
		t.Fatal(err)
	}
	if claims := own.Claims(); len(own.Lines) > 0 || claims[0].Refusal == nil {
		t.Errorf("a band of three flocks is shown: %+v", claims)
	}
}

// A small flock is drawn further towards the others than a large one that lies as far from them.
func TestSmallFlocksAreDrawnFurther(t *testing.T) {
	list := []Summary{shares("small", Condition, "s", 10, 10, 9), shares("large", Condition, "s", 60, 200, 180)}
	for i := range 6 {
		list = append(list, shares(fmt.Sprint("K", i), Condition, "s", 30, 100, float64(50+4*i)))
	}
	r, err := Compare(context.Background(), list, Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, _ := r.measure(Condition)
	kept := func(row Row) float64 {
		return (row.Shrunken.Value - c.Mean.Value) / (row.Difference.Value - c.Mean.Value)
	}
	if small, large := kept(c.Rows[0]), kept(c.Rows[1]); small >= large || small <= 0 || large >= 1 {
		t.Errorf("the small flock keeps %.2f of its distance, the large one %.2f", small, large)
	}
}

func TestUnnamedWeighingsCountForAsManyBirdsAsASampleHolds(t *testing.T) {
	d := &record.Dataset{}
	for week := range 6 {
		for k := range 10 {
			d.Observations = append(d.Observations, record.Observation{Age: record.AgeDays(7 * (week + 1)), Trait: record.Weight, Form: record.Measured,
				Value: 100*float64(week+1) + float64(k), At: record.Ref{File: "x.csv", Row: int32(10*week + k), Col: 1}})
		}
	}
	s := summarised(t, d, simulatedToday)
	if len(s.Total) == 0 || s.Total[0].Birds != 10 || s.Total[0].Clusters != 60 || s.Unnamed != 60 {
		t.Errorf("%+v, %d unnamed", s.Total, s.Unnamed)
	}
	if again := Growth.again(s.Total[0]); again != 6 {
		t.Errorf("each bird is taken to come %v times, want 6", again)
	}
}

var _ analysis.Cautioned = (*Result)(nil)

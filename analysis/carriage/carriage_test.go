package carriage

import (
	"context"
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"keelmark/analysis/stat"
)

// The flocks of this file are simulated: birds in pens that infect each other by their true states, in daily steps. One
// command runs the large recovery study:
//
//	go test ./analysis/carriage -run Recover -v -flocks 300 -timeout 30m
var flocks = flag.Int("flocks", 0, "simulated flocks for each cell of the recovery study; 0 for the small run")

type habit struct {
	birds, pens, years int
	every              int // days between rounds
	recheck            int // days after each round for a second look at a third of the birds; 0 for none
	treat              bool
}

// truth is what the flocks follow; other has quicker outbreaks, keener eyes and a poorer product.
var (
	truth = rates{take: 0.002, cos: 0.8, sin: 0.5, spread: 0.03, lose: 0.012, clear: 0.8, see: 0.7, began: 0.2}
	other = rates{take: 0.001, cos: -0.5, sin: 0.9, spread: 0.06, lose: 0.02, clear: 0.5, see: 0.85, began: 0.1}
)

func simulate(rng *rand.Rand, r rates, h habit) (Flock, []bool) {
	f := Flock{Birds: make([]Bird, h.birds)}
	state := make([]bool, h.birds)
	for i := range f.Birds {
		f.Birds[i] = Bird{Pen: i % h.pens, To: math.Inf(1)}
		state[i] = rng.Float64() < r.began
	}
	end := int(float64(h.years) * yearDays)
	look := func(i, day int) bool {
		found := state[i] && rng.Float64() < r.see
		f.Birds[i].Looks = append(f.Birds[i].Looks, Look{float64(day), found})
		return found
	}
	sum, n := make([]float64, h.pens), make([]float64, h.pens)
	for day := range end {
		if day > 0 {
			clear(sum)
			clear(n)
			for i, s := range state {
				n[i%h.pens]++
				if s {
					sum[i%h.pens]++
				}
			}
			sin, cos := math.Sincos(2 * math.Pi * float64(day) / yearDays)
			base := r.take * math.Exp(r.cos*cos+r.sin*sin)
			for i := range state {
				hazard := base + r.spread*sum[i%h.pens]/n[i%h.pens]
				if state[i] {
					hazard = r.lose
				}
				if rng.Float64() < 1-math.Exp(-hazard) {
					state[i] = !state[i]
				}
			}
		}
		switch {
		case day%h.every == 0:
			found := 0
			for i := range state {
				if look(i, day) {
					found++
				}
			}
			if h.treat && 3*found > h.birds {
				for i := range state {
					f.Birds[i].Treated = append(f.Birds[i].Treated, float64(day))
					if state[i] && rng.Float64() < r.clear {
						state[i] = false
					}
				}
			}
		case h.recheck > 0 && day%h.every == h.recheck:
			for i := range state {
				if (i+day)%3 == 0 {
					look(i, day)
				}
			}
		}
	}
	return f, state
}

type recovery struct {
	runs, told                     int
	see, take, spread, lose, clear int
	score, naive                   float64 // squared error of the chances today; of the flock's mean
	expected, carried, birds       float64
	meanSee, meanLose              float64
}

func recoverFrom(t *testing.T, truth rates, h habit, n int, seed uint64) recovery {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 2))
	var out recovery
	for range n {
		f, state := simulate(rng, truth, h)
		m, err := Fit(context.Background(), f, math.Floor(float64(h.years)*yearDays)-1)
		if errors.Is(err, ErrTooFew) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		out.runs++
		count := func(to *int, i stat.Interval, v float64) {
			if i.Low <= v && v <= i.High {
				*to++
			}
		}
		if m.Told {
			out.told++
			count(&out.see, m.See, truth.see)
			out.meanSee += m.See.Value
			out.meanLose += m.Lose.Value
			count(&out.take, m.Take, truth.take)
			count(&out.spread, m.Spread, truth.spread)
			count(&out.lose, m.Lose, truth.lose)
			count(&out.clear, m.Clear, truth.clear)
		}
		var mean float64
		chances := m.Chances()
		for i := range state {
			mean += chances[i].Value / float64(len(state))
		}
		for i, s := range state {
			y := 0.0
			if s {
				y = 1
			}
			out.birds++
			out.carried += y
			out.expected += chances[i].Value
			out.score += (y - chances[i].Value) * (y - chances[i].Value)
			out.naive += (y - mean) * (y - mean)
		}
	}
	return out
}

func TestRecover(t *testing.T) {
	n := *flocks
	if n == 0 {
		n = 3
	}
	for _, c := range []struct {
		name  string
		truth rates
		habit habit
	}{
		{"24 birds, 3 pens, 3 years, 28 d + recheck", truth, habit{24, 3, 3, 28, 7, true}},
		{"60 birds, 3 pens, 3 years, 28 d + recheck", truth, habit{60, 3, 3, 28, 7, true}},
		{"60 birds, 4 pens, 3 years, 28 d + recheck, quick outbreaks", other, habit{60, 4, 3, 28, 7, true}},
		{"60 birds, 4 pens, 3 years, 28 d, no repeats", truth, habit{60, 4, 3, 28, 0, true}},
	} {
		r := recoverFrom(t, c.truth, c.habit, n, 11)
		share := func(x, n int) float64 { return 100 * float64(x) / float64(n) }
		t.Logf("%s: %d runs; sensitivity told in %.0f %%, covered %.0f %%; take %.0f, spread %.0f, lose %.0f, clear %.0f %%; carriers %.0f expected %.0f; Brier %.3f, flock mean %.3f; mean sensitivity %.3f, lose %.4f",
			c.name, r.runs, share(r.told, r.runs), share(r.see, max(r.told, 1)), share(r.take, max(r.told, 1)), share(r.spread, max(r.told, 1)), share(r.lose, max(r.told, 1)), share(r.clear, max(r.told, 1)),
			r.carried, r.expected, r.score/r.birds, r.naive/r.birds, r.meanSee/float64(max(r.told, 1)), r.meanLose/float64(max(r.told, 1)))
		if c.habit.recheck == 0 && r.told > 0 {
			t.Errorf("%s: a sensitivity is told without repeat looks", c.name)
		}
		if c.habit.recheck > 0 {
			// Five intervals a flock, nominal 90 %; the five of one flock hang together, so the slack is that of one.
			inside := float64(r.see+r.take+r.spread+r.lose+r.clear) / float64(5*r.told)
			if slack := 2.5 * math.Sqrt(0.9*0.1/float64(r.told)); inside < 0.9-slack {
				t.Errorf("%s: intervals hold the truth in %.0f %%", c.name, 100*inside)
			}
			if bias := math.Abs(r.meanSee/float64(r.told) - c.truth.see); bias > 0.05 {
				t.Errorf("%s: the sensitivity is off by %.3f in the mean", c.name, bias)
			}
		}
		if r.score > 0.8*r.naive {
			t.Errorf("%s: chances say little more than the flock's mean: %.3f, %.3f", c.name, r.score/r.birds, r.naive/r.birds)
		}
	}
}

func BenchmarkFit(b *testing.B) {
	f, _ := simulate(rand.New(rand.NewPCG(1, 2)), truth, habit{80, 4, 3, 28, 7, true})
	for b.Loop() {
		m, err := Fit(context.Background(), f, 3*yearDays+20)
		if err != nil {
			b.Fatal(err)
		}
		m.Chances()
	}
}

// The derivatives that the climb uses are those of the likelihood.
func TestSlopes(t *testing.T) {
	f, _ := simulate(rand.New(rand.NewPCG(3, 2)), truth, habit{12, 3, 1, 28, 7, true})
	line, err := newTimeline(f, 380)
	if err != nil {
		t.Fatal(err)
	}
	run := line.filter()
	p := []float64{-6, 0.3, -0.2, -3.2, -4.5, 0.8, 0.6, -1, -0.4}
	var got slopes
	run.run(natural(p), &got, nil)
	for k := range p {
		h := 1e-5
		q := append([]float64(nil), p...)
		q[k] += h
		up := run.run(natural(q), nil, nil)
		q[k] -= 2 * h
		if want := (up - run.run(natural(q), nil, nil)) / (2 * h); math.Abs(got[k]-want) > 1e-5*max(1, math.Abs(want)) {
			t.Errorf("parameter %d: slope %v, want %v", k, got[k], want)
		}
	}
}

func TestTooLittleIsRefused(t *testing.T) {
	few := Flock{Birds: []Bird{{To: math.Inf(1), Looks: []Look{{1, true}, {9, false}}}}}
	for name, f := range map[string]Flock{"no bird": {}, "no look": {Birds: []Bird{{To: math.Inf(1)}}}, "two looks": few} {
		if _, err := Fit(context.Background(), f, 30); !errors.Is(err, ErrTooFew) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Fit(context.Background(), Flock{Birds: []Bird{{From: 5, To: 3}}}, 30); err == nil || errors.Is(err, ErrTooFew) {
		t.Errorf("a bird that left before it came: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	f, _ := simulate(rand.New(rand.NewPCG(1, 2)), truth, habit{20, 2, 1, 28, 7, true})
	if _, err := Fit(ctx, f, 365); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled fit: %v", err)
	}
}

// A bird on which lice were just found carries them; one cleared for certain and looked at since hardly does; findings on
// pen mates raise the chance of a bird that was not looked at.
func TestChancesFollowTheLooks(t *testing.T) {
	f, _ := simulate(rand.New(rand.NewPCG(5, 2)), truth, habit{24, 3, 2, 28, 7, true})
	end := 740.0
	last := func(bird int, found bool) {
		f.Birds[bird].Looks = append(f.Birds[bird].Looks, Look{end, found})
	}
	for i := range f.Birds { // pen 0 full of findings, pen 1 of none; birds 0 and 1 not looked at
		if i > 1 && i%3 < 2 {
			last(i, i%3 == 0)
		}
	}
	m, err := Fit(context.Background(), f, end)
	if err != nil {
		t.Fatal(err)
	}
	c := m.Chances()
	if c[3].Value < 0.999 || c[4].Value > 0.3 || c[0].Value < c[1].Value+0.2 {
		t.Errorf("found %v, none %v, unseen beside findings %v, unseen beside none %v", c[3].Value, c[4].Value, c[0].Value, c[1].Value)
	}
	for i, x := range c {
		if !(x.Low <= x.Value && x.Value <= x.High && x.Low >= 0 && x.High <= 1) {
			t.Errorf("bird %d: %+v", i, x)
		}
	}
	if k := m.Courses(); len(k) != 24 || len(k[0].Days) < 100 || k[0].Days[len(k[0].Days)-1] != end {
		t.Errorf("%d courses", len(k))
	}
}

package season

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"keelmark/ingest/record"
)

// The flocks of this file are simulated. The generators follow Keelmark's statistics B: G0 is the two-state chain in
// four-week steps of its domain notes 4.5; G1 outbreaks of about 10 weeks at random; G2 birds that infect each other in
// three pens, with a collapse after high loads; G3 long outbreaks; G4 regular gaps. One command runs the whole grid:
//
//	go test ./analysis/season -run Grid -v -flocks 1000 -timeout 60m
var flocks = flag.Int("flocks", 0, "simulated flocks for each cell of the grid; 0 for the small run")

// truth is how a flock's parasite follows the year. Strength 0 has no season.
type truth struct {
	generator string
	sharp     float64 // exponent of the season; 0 for none
	phase     float64 // of the worst time, radians
}

// season is 1 at the worst time and falls to 0 half a year away.
func (t truth) season(d float64) float64 {
	return math.Pow((1+math.Cos(2*math.Pi*d/yearDays-t.phase))/2, t.sharp)
}

// mean of the season over the year, so that hazards keep their yearly mean.
func (t truth) mean() float64 {
	var s float64
	for i := range 52 {
		s += t.season(float64(i) * yearDays / 52)
	}
	return s / 52
}

// habit is how a keeper looks and treats.
type habit struct {
	irregular bool
	birds     int
	detection float64
	poor      bool // the product does nothing
}

// simulate makes the rounds of a flock over whole years from day 0 of a record that begins at start.
func simulate(rng *rand.Rand, t truth, h habit, years int, start record.Day) []Round {
	end := int(float64(years) * yearDays)
	show := rng.IntN(365) // of the keeper's yearly show
	f := newFlock(rng, t, h.birds)
	var out []Round
	next, recheck := 0.0, -1.0
	if h.irregular {
		next = rng.Float64() * 35
	}
	for day := 0; day < end; day++ {
		if day%7 == 0 {
			f.week(float64(day))
		}
		toShow := ((show-day)%365 + 365) % 365
		looking := float64(day) >= next || recheck > 0 && float64(day) >= recheck
		n := h.birds
		if h.irregular && toShow <= 56 && toShow%7 == 0 {
			looking = true
		}
		if h.irregular && toShow <= 56 && rng.IntN(2) == 0 {
			n = min(n, 10)
		}
		if !looking {
			continue
		}
		recheck = -1
		next = float64(day) + 28
		if h.irregular {
			next = float64(day) + 24.5 + 21*rng.Float64()
		}
		found := f.look(n, h.detection)
		out = append(out, Round{On: start + record.Day(day), Looked: n, Found: found})
		if h.irregular && 4*found >= n {
			recheck = float64(day) + 14
			if works := 0.8; !h.poor && rng.Float64() < works || h.poor && rng.Float64() < 0.3 {
				f.treat()
			}
		}
	}
	return out
}

// simulated is a flock of one generator.
type simulated struct {
	rng  *rand.Rand
	t    truth
	mean float64
	n    int
	on   bool
	left int // weeks to the next change, for G4
	bird []int
	worn []int // G2: weeks of resistance of a pen
}

func newFlock(rng *rand.Rand, t truth, birds int) *simulated {
	f := &simulated{rng: rng, t: t, mean: t.mean(), n: birds, bird: make([]int, birds), worn: make([]int, 3)}
	if t.generator == "G4" {
		f.left = rng.IntN(34)
		f.on = f.left > 24
	}
	for w := -156; w < 0; w++ { // forget the beginning
		f.week(float64(7 * w))
	}
	return f
}

func (f *simulated) rate(base, day float64) float64 {
	if f.t.sharp == 0 {
		return base
	}
	return base * f.t.season(day) / f.mean
}

func (f *simulated) week(day float64) {
	switch f.t.generator {
	case "G0":
		if int(math.Round(day/7))%4 != 0 {
			return
		}
		start, stay := 0.15, 0.6
		if f.t.sharp > 0 {
			w := f.t.season(day)
			start, stay = 0.01+0.5*w*w, 0.3+0.4*w // w squared in the domain notes: sharp 1 is theirs
		}
		if f.on {
			f.on = f.rng.Float64() < stay
		} else {
			f.on = f.rng.Float64() < start
		}
	case "G1", "G3":
		long, gap := 10.0, 24.0
		if f.t.generator == "G3" {
			long, gap = 28, 36
		}
		if f.on {
			f.on = f.rng.Float64() >= 1/long
		} else {
			f.on = f.rng.Float64() < 1-math.Exp(-f.rate(1/gap, day))
		}
	case "G4":
		f.left--
		if f.left <= 0 {
			f.on = !f.on
			f.left = 24 + f.rng.IntN(5) - 2
			if f.on {
				f.left = 10 + f.rng.IntN(5) - 2
			}
		}
	case "G2":
		f.spread(day)
	}
}

// spread moves infection between birds and pens for a week.
func (f *simulated) spread(day float64) {
	var sick [3]int
	for i, b := range f.bird {
		sick[i%3] += b
	}
	pen := float64(f.n) / 3
	for p := range 3 {
		if f.worn[p] > 0 {
			f.worn[p]--
		} else if float64(sick[p]) > 0.6*pen && f.rng.Float64() < 0.35 {
			f.worn[p] = 4 + int(6*f.rng.ExpFloat64())
		}
	}
	for i := range f.bird {
		p := i % 3
		if f.bird[i] == 1 {
			leave := 0.1
			if f.worn[p] > 0 {
				leave = 0.5
			}
			if f.rng.Float64() < leave {
				f.bird[i] = 0
			}
			continue
		}
		others := float64(sick[0]+sick[1]+sick[2]-sick[p]) / (2 * pen)
		h := f.rate(0.6*float64(sick[p])/pen+0.1*others+0.003, day)
		if f.worn[p] > 0 {
			h /= 10
		}
		if f.rng.Float64() < 1-math.Exp(-h) {
			f.bird[i] = 1
		}
	}
}

func (f *simulated) look(n int, detection float64) int {
	found := 0
	if f.t.generator == "G2" {
		for _, i := range f.rng.Perm(f.n)[:n] {
			if f.bird[i] == 1 && f.rng.Float64() < detection {
				found++
			}
		}
		return found
	}
	p := 0.05
	if f.on {
		p = 0.5
	}
	for range n {
		if f.rng.Float64() < p*detection {
			found++
		}
	}
	return found
}

func (f *simulated) treat() {
	f.on = false
	if f.t.generator == "G4" {
		f.left = 24 + f.rng.IntN(5) - 2
	}
	for i := range f.bird {
		if f.rng.Float64() < 0.9 {
			f.bird[i] = 0
		}
	}
}

func drawHabit(rng *rand.Rand, irregular bool) habit {
	if !irregular {
		return habit{birds: 30, detection: 1}
	}
	return habit{true, 20 + rng.IntN(21), 0.8, rng.Float64() < 0.3}
}

// cell counts what the analysis says of the flocks of one cell.
type cell struct {
	flocks, usable, rotation, ratio, named int
	peaks, covered, coveredNamed           int
	width                                  float64 // radians, summed over peaks
}

// lag is how far behind the worst time for catching them the long-run wave of the flock's logits lies: the truth that
// a peak is meant to find. It depends on how outbreaks last, on treatment and on looking.
func lag(generator string, sharp float64, irregular, poor bool, flocks int) float64 {
	rng := rand.New(rand.NewPCG(101, uint64(generator[1])*1000+uint64(sharp*10)))
	var c, s float64
	for range flocks {
		t := truth{generator, sharp, 0}
		h := drawHabit(rng, irregular)
		h.poor = poor
		for _, y := range usable(years(simulate(rng, t, h, 8, newYear(2015)))) {
			c, s = c+y.Cos, s+y.Sin
		}
	}
	return math.Atan2(s, c)
}

// grid simulates n flocks of a generator over 8 years and returns a cell for each number of their first years.
func grid(seed uint64, generator string, sharp float64, irregular bool, n int, spans []int) map[int]*cell {
	rng := rand.New(rand.NewPCG(seed, uint64(generator[1])*1000+uint64(sharp*10)))
	out := map[int]*cell{}
	for _, y := range spans {
		out[y] = &cell{}
	}
	var lags [2]float64
	if sharp > 0 {
		few := min(60, max(10, n))
		lags = [2]float64{lag(generator, sharp, irregular, false, few), lag(generator, sharp, irregular, true, few)}
	}
	start := newYear(2015) // day 0 of a truth is 1 January
	for range n {
		t := truth{generator, sharp, 2 * math.Pi * rng.Float64()}
		h := drawHabit(rng, irregular)
		all := simulate(rng, t, h, 8, start)
		worst := t.phase + lags[0]
		if h.poor {
			worst = t.phase + lags[1]
		}
		for _, y := range spans {
			end := newYear(2015 + y)
			until := slices.IndexFunc(all, func(r Round) bool { return r.On >= end })
			if until < 0 {
				until = len(all)
			}
			out[y].add(all[:until], worst)
		}
	}
	return out
}

func (c *cell) add(rounds []Round, worst float64) {
	c.flocks++
	ys := years(rounds)
	r := rotate(ys)
	if r.Years < LeastYears {
		if r.P < 1 {
			c.named++ // must never be
		}
		return
	}
	c.usable++
	w, _ := wander(rounds)
	named := evidence(w, r) > Cut
	count := func(n *int, yes bool) {
		if yes {
			*n++
		}
	}
	count(&c.rotation, r.P < 0.05)
	count(&c.ratio, w.Ratio > 8.5)
	count(&c.named, named)
	if p, ok := peak(ys, level); ok {
		c.peaks++
		c.width += p.High - p.Low
		count(&c.covered, p.covers(worst))
		count(&c.coveredNamed, named && p.covers(worst))
	}
}

func percent(a, b int) float64 { return 100 * float64(a) / float64(max(b, 1)) }

// seasonal are the cells with a season: sharp 1 of G0 is that of the domain notes.
var seasonal = []struct {
	generator string
	sharp     float64
}{{"G0", 1}, {"G0", 2}, {"G1", 1}, {"G1", 3}, {"G2", 1}, {"G2", 3}}

// TestGrid holds the analysis to its chances. Without -flocks it runs few flocks against bars that chance alone would
// seldom break; with -flocks 1000 against the bars themselves.
func TestGrid(t *testing.T) {
	n, slack, spans, seasons := *flocks, 0.0, []int{2, 3, 4, 5, 6, 7, 8}, seasonal
	if n == 0 {
		n, slack, spans, seasons = 25, 1, []int{2, 3, 5, 8}, seasonal[:1]
	}
	sd := func(p float64, n int) float64 { return slack * 3.5 * math.Sqrt(p*(100-p)/float64(max(n, 1))) }
	var all float64
	cells := 0
	for _, irregular := range []bool{false, true} {
		for _, g := range []string{"G0", "G1", "G2", "G3", "G4"} {
			byYears := grid(11, g, 0, irregular, n, spans)
			for _, y := range spans {
				c := byYears[y]
				t.Logf("no season %s irregular=%-5v %d years: usable %5.1f %%; rotation alone %4.1f, model alone %4.1f, named %4.1f",
					g, irregular, y, percent(c.usable, c.flocks), percent(c.rotation, c.usable), percent(c.ratio, c.usable), percent(c.named, c.usable))
				if y == 2 {
					if c.named > 0 || c.usable > 0 {
						t.Errorf("%s: two years concluded", g)
					}
					continue
				}
				all, cells = all+percent(c.named, c.usable), cells+1
				if p := percent(c.named, c.usable); p > 7+sd(7, c.usable) {
					t.Errorf("%s irregular %v, %d years: %.1f %% false alarms", g, irregular, y, p)
				}
			}
		}
	}
	t.Logf("no season, mean of %d cells: %.2f %%", cells, all/float64(cells))
	if all/float64(cells) > 5+2*slack {
		t.Errorf("false alarms average %.2f %%", all/float64(cells))
	}
	bars := map[bool]map[int]float64{false: {3: 31, 4: 46, 5: 66, 6: 79}, true: {3: 33, 4: 48, 5: 60, 6: 72}}
	var covered, peaks int
	for _, irregular := range []bool{false, true} {
		for _, g := range seasons {
			byYears := grid(12, g.generator, g.sharp, irregular, n, spans)
			for _, y := range spans[1:] {
				c := byYears[y]
				t.Logf("season %s^%g irregular=%-5v %d years: usable %5.1f %%; rotation alone %4.1f, model alone %4.1f, named %4.1f; peak covered %4.1f (%.0f weeks wide), where named %4.1f",
					g.generator, g.sharp, irregular, y, percent(c.usable, c.flocks), percent(c.rotation, c.usable), percent(c.ratio, c.usable), percent(c.named, c.usable),
					percent(c.covered, c.peaks), c.width/float64(max(c.peaks, 1))/(2*math.Pi)*52.18, percent(c.coveredNamed, c.named))
				covered, peaks = covered+c.covered, peaks+c.peaks
				// Looking that follows the same show every year bends the wave a little: where years are many and the range
				// narrow, it shows. The bar is on all flocks, below.
				if p := percent(c.covered, c.peaks); p < 77-sd(77, c.peaks) {
					t.Errorf("%s^%g irregular %v, %d years: the peak's range covers %.1f %%", g.generator, g.sharp, irregular, y, p)
				}
				if bar, held := bars[irregular][y]; held && g.generator == "G0" && g.sharp == 1 {
					if p := percent(c.named, c.usable); p < bar-sd(bar, c.usable) {
						t.Errorf("irregular %v, %d years: a season is named in %.1f %%, at least %g wanted", irregular, y, p, bar)
					}
				}
			}
		}
	}
	t.Logf("season, all flocks: the peak's range covers %.1f %% of %d", percent(covered, peaks), peaks)
	if p := percent(covered, peaks); p < 85-8*slack || p > 95+8*slack {
		t.Errorf("the peak's range covers %.1f %% of all flocks with a season", p)
	}
}

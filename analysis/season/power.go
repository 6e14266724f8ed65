package season

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"keelmark/ingest/record"
)

// Prospect is how often so many years of looks like the keeper's would name a strong season, if there were one.
type Prospect struct {
	Years  int
	Chance float64 // 0 to 1, by the year-rotation test alone: the analysis as a whole finds a little more
}

// Outlook is what further years would settle.
type Outlook struct {
	OutbreakDays, GapDays float64 // of the flock's own outbreaks, or the usual ones where it has none
	Own                   bool    // they are the flock's own
	Prospects             []Prospect
	// Settles is the first number of years with a chance of SettlesAt; 0 where 8 do not reach it.
	Settles int
}

const (
	// SettlesAt is the chance at which a number of years is said to settle the question.
	SettlesAt = 0.8
	// Outbreaks of the domain notes' simulation, in days, for a flock that has shown none of its own.
	// Source: Keelmark's domain notes 4.5 and statistics B, generator G1.
	usualOutbreak, usualGap = 70.0, 168.0
	outlookFlocks           = 120
	mostYears               = 8
)

// outlook simulates flocks with a strong season, outbreaks as long as the flock's own and looks on the days of the year
// on which the keeper looked, and counts how often 3 to 8 years of them pass the year-rotation test.
//
// Source: Monte Carlo power; season as in Keelmark's domain notes 4.5: the chance of an outbreak follows the fourth power
// of a cosine.
func outlook(ctx context.Context, rounds []Round, ys []Year, m Mark) (Outlook, error) {
	o := lengths(rounds, m)
	habit := habits(ys)
	rng := rand.New(rand.NewPCG(8, 13))
	passed := map[int]int{}
	for range outlookFlocks {
		if err := ctx.Err(); err != nil {
			return o, err
		}
		var years []Year
		on := false
		worst := 2 * math.Pi * rng.Float64()
		for y := range mostYears {
			pattern := habit[rng.IntN(len(habit))]
			one := Year{Slots: LeastSlots}
			next := 0
			for week := range 52 {
				day := float64(7 * week)
				s := math.Pow((1+math.Cos(2*math.Pi*day/yearDays-worst))/2, 4) / 0.2734375 // mean 1 over the year
				if on {
					on = rng.Float64() >= math.Min(0.9, 7/o.OutbreakDays)
				} else {
					on = rng.Float64() < 1-math.Exp(-7/o.GapDays*s)
				}
				for ; next < len(pattern) && float64(pattern[next].day) < day+7; next++ {
					p := 0.04 // shares found inside and outside an outbreak, detection included: domain notes 4.5
					if on {
						p = 0.4
					}
					r := Round{On: newYear(2001+y) + record.Day(pattern[next].day), Looked: pattern[next].birds}
					r.Found = binomial(rng, r.Looked, p)
					one.Rounds = append(one.Rounds, r)
				}
			}
			one.Cos, one.Sin = one.wave()
			years = append(years, one)
			if n := len(years); n >= LeastYears && turn(years, rng, 99).P <= 0.05 {
				passed[n]++
			}
		}
	}
	for y := LeastYears; y <= mostYears; y++ {
		p := Prospect{y, float64(passed[y]) / outlookFlocks}
		o.Prospects = append(o.Prospects, p)
		if o.Settles == 0 && p.Chance >= SettlesAt {
			o.Settles = y
		}
	}
	return o, nil
}

func binomial(rng *rand.Rand, n int, p float64) int {
	k := 0
	for range min(n, 60) { // beyond, counting more birds of one day tells nothing more
		if rng.Float64() < p {
			k++
		}
	}
	return k * n / max(1, min(n, 60))
}

// lengths estimates outbreaks and gaps from runs of rounds above and below the mark, each round standing for half the
// time to its neighbours. It is a planning figure and never claimed.
func lengths(rounds []Round, m Mark) Outlook {
	var inside, outside float64
	runs := 0
	for i, r := range rounds {
		var share float64
		if i > 0 {
			share += math.Min(45, float64(r.On-rounds[i-1].On)/2)
		}
		if i+1 < len(rounds) {
			share += math.Min(45, float64(rounds[i+1].On-r.On)/2)
		}
		if m.reached(r) {
			inside += share
			if i == 0 || !m.reached(rounds[i-1]) {
				runs++
			}
		} else {
			outside += share
		}
	}
	if runs < 2 {
		return Outlook{OutbreakDays: usualOutbreak, GapDays: usualGap}
	}
	return Outlook{OutbreakDays: math.Max(7, inside/float64(runs)), GapDays: math.Max(14, outside/float64(runs)), Own: true}
}

// planned is a look of a year: its day from 0 and how many birds.
type planned struct{ day, birds int }

// habits are the looks of the usable years, each a plan for a year to come; without one, a look every four weeks at as
// many birds as the keeper looks at.
func habits(ys []Year) [][]planned {
	var out [][]planned
	var birds []int
	for _, y := range ys {
		var plan []planned
		for _, r := range y.Rounds {
			plan = append(plan, planned{min(363, int(r.On-y.From)), r.Looked})
			birds = append(birds, r.Looked)
		}
		if y.Usable() {
			out = append(out, plan)
		}
	}
	if len(out) > 0 {
		return out
	}
	n := 10
	if len(birds) > 0 {
		slices.Sort(birds)
		n = birds[len(birds)/2]
	}
	var plan []planned
	for slot := range SlotsOfYear {
		plan = append(plan, planned{28*slot + 1, n})
	}
	return [][]planned{plan}
}

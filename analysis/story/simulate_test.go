package story

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// Everything in this file is simulated. One command runs the full study:
//
//	go test ./analysis/story -run Simulated -v -runs 400 -timeout 30m
var runs = flag.Int("runs", 0, "simulated treatments for each cell; 0 for the small run")

// odds is from where the analysis of treatments prints a story: above 5 to 1.
const odds = 5.0

// told is one truth of the stories: sensitivity, and the share of carriers that outlast a treatment.
type told struct{ grown, young, survive float64 }

// afterwards lives through one story, louse by louse: eggs of all ages hatch one by one, nymphs grow up, arrivals spread.
func afterwards(rng *rand.Rand, story, n int, second float64, stage bool, truth told) []Bird {
	uniform := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	egg, grow := uniform(4, 7), uniform(10, 14)
	arrival, pace := uniform(1, 26), uniform(3, 15)
	reach := uniform(0.4, 1)
	var out []Bird
	for range n {
		c := Bird{Carried: 1}
		// Live lice of the bird, by the day on which they hatched (or came, grown) and end.
		type brood struct{ from, to, grownAt float64 }
		var live []brood
		kill := func(day float64) {
			for i := range live {
				if live[i].from <= day {
					live[i].to = min(live[i].to, day)
				}
			}
		}
		switch story {
		case Survivors:
			if rng.Float64() < truth.survive {
				live = append(live, brood{-30, 99, -20})
				if second > 0 && rng.Float64() >= (1+truth.survive)/2 {
					kill(second)
				}
			}
		case Hatch:
			if rng.Float64() < 0.85 {
				for range 1 + rng.IntN(12) {
					h := uniform(0, egg)
					live = append(live, brood{h, 99, h + grow})
				}
				if second > 0 {
					kill(second)
				}
			}
		case Arrival:
			if rng.Float64() < reach {
				live = append(live, brood{arrival + pace*rng.ExpFloat64(), 99, 0})
				if second > 0 && live[0].from < second {
					kill(second)
				}
			}
		}
		for _, day := range []float64{7, 14, 28} {
			l := After{Day: day}
			var any, grownOnes bool
			for _, b := range live {
				if b.from <= day && day < b.to || day == second && b.from <= day && b.to == second { // the look comes before the treatment of the day
					any, grownOnes = true, grownOnes || b.grownAt <= day
				}
			}
			p := 0.0
			if any {
				p = truth.young
				if grownOnes {
					p = truth.grown
				}
			}
			if rng.Float64() < p {
				l.Found = true
				if stage {
					l.Stage = Young
					if grownOnes != (rng.Float64() < 0.1) {
						l.Stage = Grown
					}
				}
			}
			c.Looks = append(c.Looks, l)
		}
		out = append(out, c)
	}
	return out
}

// Printed odds must go wrong at most once in six, also where looks see less than they are thought to.
func TestSimulatedoddsKeepTheirWord(t *testing.T) {
	n := *runs
	if n == 0 {
		n = 25
	}
	cycle, ok := parasite.LifeCycleOf(record.Lice)
	if !ok {
		t.Fatal("no life cycle of lice")
	}
	for _, truth := range []struct {
		name string
		told
	}{
		{"as assumed", told{0.8, 0.5, 0.6}},
		{"looks see less, fewer survivors", told{0.6, 0.3, 0.35}},
	} {
		for _, birds := range []int{5, 10, 20} {
			rng := rand.New(rand.NewPCG(uint64(birds), 5))
			var table [Kinds]string
			printed, wrong := 0, 0
			for story := range Kinds {
				right, bad, open := 0, 0, 0
				for range n {
					second := float64(7 + rng.IntN(4))
					list := afterwards(rng, story, birds, second, true, truth.told)
					if !slices.ContainsFunc(list, func(c Bird) bool { return slices.ContainsFunc(c.Looks, func(l After) bool { return l.Found }) }) {
						continue
					}
					chances := Weigh(list, second, cycle)
					best := 0
					for k, p := range chances {
						if p > chances[best] {
							best = k
						}
					}
					switch {
					case chances[best]/(1-chances[best]+1e-9) <= odds:
						open++
					case best == story:
						right++
					default:
						bad++
					}
				}
				printed, wrong = printed+right+bad, wrong+bad
				table[story] = fmt.Sprintf("%d/%d/%d", 100*right/n, 100*bad/n, 100*open/n)
			}
			share := float64(wrong) / float64(max(printed, 1))
			t.Logf("%-32s %2d birds: survivors %s, hatch %s, arrival %s (right/wrong/cannot tell %%); printed odds wrong %.1f %%", truth.name, birds, table[0], table[1], table[2], 100*share)
			if share > 1./6+2*math.Sqrt(1./6*5/6/float64(max(printed, 1))) {
				t.Errorf("%s, %d birds: printed odds are wrong in %.0f %%", truth.name, birds, 100*share)
			}
		}
	}
}

package slip

import (
	"fmt"
	"math"
	"slices"

	"keelmark/ingest/record"
)

const (
	copiedRun    = 3    // identical weights in a row from which copying is thought of
	copiedChance = 1e-3 // chance of such a run, from weighing error and the scale's step, below which it is asked about
	copiedBirds  = 4    // birds with the weights of the day before from which a whole day was perhaps copied
	dayChance    = 1e-6
)

// copied finds weights repeated so often that chance and the scale's step hardly explain it: whole days first, then birds.
func (s *search) copied() {
	s.copiedDays()
	for _, id := range s.order {
		obs := slices.DeleteFunc(slices.Clone(s.own[id]), func(o record.Observation) bool { return s.undated[o.At] })
		for i := 0; i < len(obs); {
			j := i + 1
			for j < len(obs) && obs[j].Value == obs[i].Value && !sameTime(obs[j], obs[j-1]) {
				j++
			}
			if run := obs[i:j]; len(run) >= copiedRun && s.runChance(run) < copiedChance && !s.repeats[run[1].At] {
				s.copiedBird(run)
			}
			i = j
		}
	}
}

func sameTime(a, b record.Observation) bool { return a.On == b.On && a.Age == b.Age }

// same is the chance that two weighings of a bird read alike, from their error and the scale's step.
func (s *search) same(o record.Observation) float64 {
	step := max(s.step(o.At), 1)
	return min(1, step/(2*math.Sqrt(math.Pi)*noiseSD*s.scatter*o.Value))
}

// runChance is the chance that a run of weighings reads alike: the integral of a normal density to the power of the run.
func (s *search) runChance(run []record.Observation) float64 {
	n := float64(len(run))
	one := max(s.step(run[0].At), 1) / (math.Sqrt(2*math.Pi) * noiseSD * s.scatter * run[0].Value)
	return min(1, math.Pow(one, n-1)/math.Sqrt(n))
}

func (s *search) copiedBird(run []record.Observation) {
	o := run[1]
	f := found{Finding: Finding{Class: CopiedForward, Bird: o.Bird, At: o.At, Raw: o.Text}, birds: []string{o.Bird}}
	s.repeats[o.At] = true
	for _, r := range run[2:] {
		f.More = append(f.More, r.At)
		s.repeats[r.At] = true
	}
	f.Message = fmt.Sprintf("%s: %s has exactly %s %d times in a row, from %s to %s, where weighings vary by about %.0f %%; was it weighed each time, or was the first weight (%s) carried on?",
		o.At, s.birds[o.Bird].Label(), quoted(o, s.units), len(run), whenOf(run[0]), whenOf(run[len(run)-1]), 100*noiseSD*s.scatter, run[0].At.Cell())
	f.Readings = []record.Reading{{Label: "carried on; leave all but the first empty", Value: LeaveEmpty}, asItIs("weighed each time")}
	s.add(f)
}

// copiedDays finds days on which most birds have exactly the weight of the day before.
func (s *search) copiedDays() {
	type on struct {
		sheet sheetName
		day   record.Day
	}
	pairs := map[on][][2]record.Observation{}
	var order []on
	for _, id := range s.order {
		obs := s.own[id]
		for i := 1; i < len(obs); i++ {
			a, b := obs[i-1], obs[i]
			if !a.On.Exact() || !b.On.Exact() || a.On == b.On || s.undated[a.At] || s.undated[b.At] {
				continue
			}
			k := on{sheetOf(b.At), b.On.First}
			if pairs[k] == nil {
				order = append(order, k)
			}
			pairs[k] = append(pairs[k], [2]record.Observation{a, b})
		}
	}
	slices.SortFunc(order, func(a, b on) int {
		return pairs[a][0][1].At.Compare(pairs[b][0][1].At)
	})
	for _, k := range order {
		var alike []record.Observation
		chance := 0.0
		for _, p := range pairs[k] {
			chance += s.same(p[1]) / float64(len(pairs[k]))
			if p[0].Value == p[1].Value {
				alike = append(alike, p[1])
			}
		}
		if len(alike) < copiedBirds || 2*len(alike) < len(pairs[k]) || tail(len(pairs[k]), len(alike), chance) > dayChance {
			continue
		}
		slices.SortFunc(alike, func(a, b record.Observation) int { return a.At.Compare(b.At) })
		f := found{Finding: Finding{Class: CopiedForward, At: alike[0].At, Raw: k.day.String()}}
		for i, o := range alike {
			s.repeats[o.At] = true
			f.birds = append(f.birds, o.Bird)
			if i > 0 {
				f.More = append(f.More, o.At)
			}
		}
		f.Message = fmt.Sprintf("%s: on %s, %d of %d birds have exactly their weight of the time before; were they weighed, or were the weights copied?",
			alike[0].At, k.day, len(alike), len(pairs[k]))
		f.Readings = []record.Reading{{Label: "copied; leave these empty", Value: LeaveEmpty}, asItIs("weighed")}
		s.add(f)
	}
}

// tail is the chance of k or more of n.
func tail(n, k int, p float64) float64 {
	sum := 0.0
	for i := k; i <= n; i++ {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(i + 1))
		c, _ := math.Lgamma(float64(n - i + 1))
		if p >= 1 {
			return 1
		}
		sum += math.Exp(a - b - c + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return sum
}

package treatment

import (
	"math"
	"slices"
	"strings"

	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// When the odds of a story are printed. Source: Keelmark's statistics C: with fewer birds, without a dated second treatment or
// without the stage seen, printed odds would be wrong too often or hardly ever be reached.
const (
	LeastStoryBirds = 5
	StoryOdds       = 5.0
	StoryDays       = 42 // looks so long after the first treatment count
)

// The stories.
const (
	Survivors = iota // live ones outlasted the treatment
	Hatch            // eggs that no treatment reaches hatched after it
	Arrival          // new ones came in after it
	stories
)

func storyName(k int) string {
	return [stories]string{"survivors of the treatment", "the expected hatch of eggs laid before it", "a new arrival after it"}[k]
}

// Stage is what a note says of the live ones that were seen.
type Stage uint8

// The stages.
const (
	StageNotSaid Stage = iota
	Young              // only pale, small ones
	Grown              // full-grown ones among them
)

// After is one look after a treatment.
type After struct {
	Day   float64 // after the first treatment
	Found bool
	Stage Stage
}

// Checked is one treated bird and the looks at it afterwards.
type Checked struct {
	Carried float64 // chance that it carried the parasite when treated: 1 where it was found
	Looks   []After
}

// Story is what the looks after one occasion say.
type Story struct {
	Birds, Found int              // birds looked at within StoryDays, birds on which something was found
	Staged       int              // findings that say the stage
	Findings     int              // looks that found something
	Chances      [stories]float64 // with equal chances before; all 0 where nothing was found
	Told         bool             // odds may be printed
	Best         int              // the likeliest story
	Why          []string         // why they are not: what to note next time
	At           []record.Ref     // cells of the looks
	FirstSeen    record.Day       // first finding
}

// odds of the likeliest story against the others together.
func (s Story) odds() float64 { return s.Chances[s.Best] / max(1-s.Chances[s.Best], 1e-9) }

// story gathers what was seen after an occasion and weighs it.
func (v *view) story(o Occasion) Story {
	var s Story
	var birds []Checked
	found, looked := 0, 0
	for _, i := range o.birds {
		if l, ok := last(v.looks[i], o.First-BeforeDays, o.First); ok {
			looked++
			found += one(l.Finding == parasite.Found)
		}
	}
	before := min(1, (float64(found)+0.5)/(float64(looked)+1)/parasite.Sensitivity)
	for _, i := range o.birds {
		c := Checked{Carried: before}
		if l, ok := last(v.looks[i], o.First-BeforeDays, o.First); ok {
			c.Carried = before * (1 - parasite.Sensitivity) / (1 - before*parasite.Sensitivity + 1e-9)
			if l.Finding == parasite.Found {
				c.Carried = 1
			}
		}
		any := false
		for _, l := range v.looks[i] {
			day := l.On.First - o.First
			if day <= 0 || day > StoryDays || v.treatedIn(i, max(o.Last, o.First)+1, l.On.First) {
				continue
			}
			a := After{Day: float64(day), Found: l.Finding == parasite.Found}
			if a.Found {
				a.Stage = v.stage(l)
				s.Findings++
				s.Staged += one(a.Stage != StageNotSaid)
				any = true
				if s.FirstSeen == 0 || l.On.First < s.FirstSeen {
					s.FirstSeen = l.On.First
				}
			}
			s.At = append(s.At, l.At)
			c.Looks = append(c.Looks, a)
		}
		if len(c.Looks) > 0 {
			birds = append(birds, c)
			s.Birds++
			s.Found += one(any)
		}
	}
	if s.Found == 0 {
		return s
	}
	second := 0.0
	if o.Second != 0 {
		second = float64(o.Second - o.First)
	}
	s.Chances = Weigh(birds, second, v.cycle)
	for k, p := range s.Chances {
		if p > s.Chances[s.Best] {
			s.Best = k
		}
	}
	if s.Birds < LeastStoryBirds {
		s.Why = append(s.Why, "look at five or more of the treated birds")
	}
	if o.Second == 0 {
		s.Why = append(s.Why, "write down the day of the second treatment")
	}
	if 2*s.Staged < s.Findings {
		s.Why = append(s.Why, "note whether the live ones are grown or only small and pale")
	}
	if !v.known || v.cycle.Egg == (parasite.Days{}) {
		s.Why = append(s.Why, "say which parasite it is: its life cycle is not known here")
	}
	s.Told = len(s.Why) == 0 && s.odds() > StoryOdds
	if len(s.Why) == 0 && !s.Told {
		s.Why = append(s.Why, "look at the same birds again on days 7, 14 and 28, none seen included")
	}
	return s
}

// stage reads what a look's cell and note say of the live ones.
func (v *view) stage(l parasite.Look) Stage {
	o := v.more[l.At]
	text := strings.ToLower(l.Text + " " + o.Detail().Note + " " + o.Detail().Word)
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
	}
	switch {
	case has("adult", "full grown", "full-grown", "grown", "big one", "large one"):
		return Grown
	case has("nymph", "pale", "young", "small", "tiny", "immature", "larva", "baby"):
		return Young
	}
	return StageNotSaid
}

// Weigh returns the chances of the three stories, equal before, given looks at treated birds; second is the day of the
// second treatment, 0 for none. The likelihood of each is averaged over the published ranges of the life cycle, over
// the sensitivity of a look from 0.5 to 0.9, and over how many birds each story reaches.
//
// Source: windows as derived in Keelmark's domain notes 3.2 and 3.3; Bayes' rule with equal priors.
func Weigh(birds []Checked, second float64, cycle parasite.LifeCycle) [stories]float64 {
	groups, n := alike(birds)
	horizon := 1.0
	for _, b := range groups {
		for _, l := range b.Looks {
			horizon = max(horizon, l.Day)
		}
	}
	var sums [stories]average
	for _, eye := range eyes() {
		for _, grown := range span(cycle.ToAdult) {
			for _, egg := range span(cycle.Egg) {
				t := times{second, egg, grown}
				for _, h := range []float64{0.35, 0.55, 0.75, 0.95} {
					sums[Hatch].add(total(groups, n, func(b Checked) float64 { return t.hatch(b, h, eye) }))
				}
				for _, q := range []float64{0.15, 0.3, 0.5, 0.7, 0.9} {
					for _, again := range []float64{q, (1 + q) / 2} {
						for _, h := range []float64{0, 0.6} {
							sums[Survivors].add(total(groups, n, func(b Checked) float64 { return t.survive(b, q, again, h, eye) }))
						}
					}
				}
			}
		}
		for i := range 8 {
			day := horizon * (float64(i) + 0.5) / 8
			for _, reach := range []float64{0.15, 0.35, 0.6, 0.9} {
				for _, pace := range []float64{2, 8, 20} {
					sums[Arrival].add(total(groups, n, func(b Checked) float64 { return arrive(b, day, reach, pace, second, eye) }))
				}
			}
		}
	}
	top := max(sums[0].log(), sums[1].log(), sums[2].log())
	var out [stories]float64
	var all float64
	for k := range out {
		out[k] = math.Exp(sums[k].log() - top)
		all += out[k]
	}
	for k := range out {
		out[k] /= all
	}
	return out
}

// average adds up likelihoods given by their logarithms.
type average struct{ top, sum, n float64 }

func (a *average) add(log float64) {
	if a.n == 0 {
		a.top = log
	}
	if log > a.top {
		a.sum *= math.Exp(a.top - log)
		a.top = log
	}
	a.sum += math.Exp(log - a.top)
	a.n++
}

func (a *average) log() float64 { return a.top + math.Log(a.sum/a.n) }

// span is the ends and the middle of a range.
func span(d parasite.Days) []float64 {
	if d.Low == d.High {
		return []float64{d.Low}
	}
	return []float64{d.Low, (d.Low + d.High) / 2, d.High}
}

// alike joins birds with the same looks, so that each is computed once.
func alike(birds []Checked) (groups []Checked, n []float64) {
	for _, b := range birds {
		i := slices.IndexFunc(groups, func(g Checked) bool {
			return math.Abs(g.Carried-b.Carried) < 1e-9 && slices.Equal(g.Looks, b.Looks)
		})
		if i < 0 {
			groups, n = append(groups, b), append(n, 0)
			i = len(groups) - 1
		}
		n[i]++
	}
	return groups, n
}

func total(groups []Checked, n []float64, f func(Checked) float64) float64 {
	var log float64
	for i, g := range groups {
		log += n[i] * math.Log(max(f(g), 1e-12))
	}
	return log
}

package treatment

import (
	"slices"
	"strings"

	"keelmark/analysis/parasite"
	"keelmark/analysis/story"
	"keelmark/ingest/record"
)

// When the odds of a story are printed. Source: Keelmark's statistics C: with fewer birds, without a dated second treatment or
// without the stage seen, printed odds would be wrong too often or hardly ever be reached.
const (
	LeastStoryBirds = 5
	StoryOdds       = 5.0
	StoryDays       = 42 // looks so long after the first treatment count
)

// Story is what the looks after one occasion say.
type Story struct {
	Birds, Found int                  // birds looked at within StoryDays, birds on which something was found
	Staged       int                  // findings that say the stage
	Findings     int                  // looks that found something
	Chances      [story.Kinds]float64 // with equal chances before; all 0 where nothing was found
	Told         bool                 // odds may be printed
	Best         int                  // the likeliest story
	Why          []string             // why they are not: what to note next time
	At           []record.Ref         // cells of the looks
	FirstSeen    record.Day           // first finding
}

// odds of the likeliest story against the others together.
func (s Story) odds() float64 { return s.Chances[s.Best] / max(1-s.Chances[s.Best], 1e-9) }

// story gathers what was seen after an occasion and weighs it.
func (v *view) story(o Occasion) Story {
	var s Story
	var birds []story.Bird
	found, looked := 0, 0
	for _, i := range o.birds {
		if l, ok := last(v.looks[i], o.First-BeforeDays, o.First); ok {
			looked++
			s.At = append(s.At, l.At)
			found += one(l.Finding == parasite.Found)
		}
	}
	before := min(1, (float64(found)+0.5)/(float64(looked)+1)/parasite.Sensitivity)
	for _, i := range o.birds {
		c := story.Bird{Carried: before}
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
			a := story.After{Day: float64(day), Found: l.Finding == parasite.Found}
			if a.Found {
				a.Stage = v.stage(l)
				s.Findings++
				s.Staged += one(a.Stage != story.StageNotSaid)
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
	s.Chances = story.Weigh(birds, second, v.cycle)
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
func (v *view) stage(l parasite.Look) story.Stage {
	o := v.more[l.At]
	text := strings.ToLower(l.Text + " " + o.Detail().Note + " " + o.Detail().Word)
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
	}
	switch {
	case has("adult", "full grown", "full-grown", "grown", "big one", "large one"):
		return story.Grown
	case has("nymph", "pale", "young", "small", "tiny", "immature", "larva", "baby"):
		return story.Young
	}
	return story.StageNotSaid
}

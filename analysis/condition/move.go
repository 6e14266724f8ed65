package condition

import (
	"maps"
	"math"
	"slices"

	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Trend is whether the scores of one bird move one way.
type Trend struct {
	Scores  []Score // within TrendDays
	PerYear float64 // Sen's slope in steps a year
	P       float64 // two-sided, Mann and Kendall
	// Adjusted is P raised for the number of birds Among whose trends were judged for the trait, so that of the trends with
	// Adjusted up to q a share of at most q is expected to be false.
	Adjusted float64
	Among    int
}

// trendOf judges the scores of the last TrendDays, at least TrendScores of them on as many days; nil where there are
// fewer.
func trendOf(all []Score, today record.Day) *Trend {
	var recent []Score
	for _, s := range all {
		if s.On.First < today-TrendDays {
			continue
		}
		if n := len(recent); n > 0 && recent[n-1].On.Middle() == s.On.Middle() {
			recent[n-1] = s // two scores of one day: the later entry
			continue
		}
		recent = append(recent, s)
	}
	if len(recent) < TrendScores {
		return nil
	}
	values, days := make([]float64, len(recent)), make([]float64, len(recent))
	for i, s := range recent {
		values[i], days[i] = s.Value, float64(s.On.Middle())
	}
	t, err := stat.MannKendall(days, values)
	if err != nil {
		return nil
	}
	return &Trend{Scores: recent, PerYear: t.Slope * 365.25, P: t.P, Adjusted: t.P, Among: 1}
}

// adjust raises the chances of the trends of each trait for the number of birds judged (Benjamini & Hochberg 1995).
func adjust(histories []History) {
	for _, t := range traits() {
		var list []*Trend
		var p []float64
		for i := range histories {
			if h := &histories[i]; h.Trait == t.Trait && h.Trend != nil {
				list, p = append(list, h.Trend), append(p, h.Trend.P)
			}
		}
		adjusted, err := stat.BenjaminiHochberg(p)
		if err != nil {
			continue
		}
		for i, x := range list {
			x.Adjusted, x.Among = adjusted[i], len(list)
		}
	}
}

// Round is one scoring of several birds.
type Round struct {
	From, To record.Day
	Scores   map[string]Score // by bird; the last where one was scored twice
	Scorers  []string         // named ones, in order
}

// rounds splits scores into rounds: a new one begins where more than RoundDays pass.
func rounds(scores []Score) []Round {
	var out []Round
	for _, s := range scores {
		day := s.On.Middle()
		if n := len(out); n == 0 || day > out[n-1].To+RoundDays {
			out = append(out, Round{From: day, Scores: map[string]Score{}})
		}
		r := &out[len(out)-1]
		r.To = day
		r.Scores[s.Bird] = s
		if s.Scorer != "" && !slices.Contains(r.Scorers, s.Scorer) {
			r.Scorers = append(r.Scorers, s.Scorer)
		}
	}
	return out
}

// Change is how the same birds scored at the last round and at an earlier one.
type Change struct {
	Trait         record.TraitSpec
	Scale         record.Scale
	Before, After Round
	Birds         []string // scored at both
	Ups, Downs    int
	P             float64
	Refusal       string // why nothing is said; "" where something is
	Scores        []Score
}

// changeOf compares the last round with the latest one before it that shares MinPaired birds.
func changeOf(g group) Change {
	c := Change{Trait: g.trait, Scale: g.scale}
	all := rounds(g.scores)
	if len(all) < 2 {
		c.Refusal = "there is one round of scores only"
		return c
	}
	c.After = all[len(all)-1]
	best := 0
	for _, before := range slices.Backward(all[:len(all)-1]) {
		var shared []string
		for _, id := range slices.Sorted(maps.Keys(c.After.Scores)) {
			if _, ok := before.Scores[id]; ok {
				shared = append(shared, id)
			}
		}
		if len(shared) > best {
			best, c.Before, c.Birds = len(shared), before, shared
		}
		if len(shared) >= MinPaired {
			break
		}
	}
	if len(c.Birds) < MinPaired {
		c.Refusal = "fewer than 6 birds were scored at the last round and at one before it"
		return c
	}
	if len(c.Before.Scorers) > 0 && len(c.After.Scorers) > 0 && !slices.Equal(slices.Sorted(slices.Values(c.Before.Scorers)), slices.Sorted(slices.Values(c.After.Scorers))) &&
		!doubled(g.scores) {
		c.Refusal = "different people scored the two rounds and no bird was scored by both"
		return c
	}
	var differences []float64
	for _, id := range c.Birds {
		before, after := c.Before.Scores[id], c.After.Scores[id]
		c.Scores = append(c.Scores, before, after)
		d := after.Value - before.Value
		if c.Scale.Direction == middleBest { // towards the middle or away from it
			d = Goodness(c.Scale, after.Value) - Goodness(c.Scale, before.Value)
		}
		differences = append(differences, d)
		switch {
		case d > 0:
			c.Ups++
		case d < 0:
			c.Downs++
		}
	}
	ranks, err := stat.PairedRanks(differences)
	if err != nil {
		c.P = 1 // no score changed
		return c
	}
	c.P = ranks.P
	return c
}

// PenPair compares two pens at the last round, in pairs of one bird of each.
type PenPair struct {
	Trait         record.TraitSpec
	Scale         record.Scale
	First, Second string
	Better        stat.Pairs // share of pairs in which the second pen's bird stands nearer the good end
	Scores        []Score
	On            Round
}

// pensOf compares every two pens with MinPaired birds each at the last round, one scorer having scored them.
func pensOf(g group) []PenPair {
	all := rounds(g.scores)
	if len(all) == 0 {
		return nil
	}
	last := all[len(all)-1]
	if len(last.Scorers) > 1 {
		return nil
	}
	by := map[string][]Score{}
	for _, id := range slices.Sorted(maps.Keys(last.Scores)) {
		if s := last.Scores[id]; s.Pen != "" {
			by[s.Pen] = append(by[s.Pen], s)
		}
	}
	pens := slices.DeleteFunc(slices.Sorted(maps.Keys(by)), func(p string) bool { return len(by[p]) < MinPaired })
	var out []PenPair
	for i, a := range pens {
		for _, b := range pens[i+1:] {
			pairs, err := stat.Superiority(places(g.scale, by[a]), places(g.scale, by[b]), level)
			if err == nil {
				out = append(out, PenPair{g.trait, g.scale, a, b, pairs, slices.Concat(by[a], by[b]), last})
			}
		}
	}
	return out
}

func places(scale record.Scale, scores []Score) []float64 {
	out := make([]float64, len(scores))
	for i, s := range scores {
		out[i] = Goodness(scale, s.Value)
	}
	return out
}

// Model is the flock's movement over the last year by proportional odds with an intercept of each bird.
type Model struct {
	Trait    record.TraitSpec
	Scale    record.Scale
	PerMonth stat.Interval // odds ratio of a higher step, a month later; N is the number of birds
	Scores   []Score
}

// modelOf fits the scores of the last TrendDays. It returns false where the data do not carry the model: ModelBirds
// birds, ModelLevels levels used LevelUses times each, and two rounds.
func modelOf(g group, today record.Day) (Model, bool) {
	var recent []Score
	for _, s := range g.scores {
		if s.On.First >= today-TrendDays {
			recent = append(recent, s)
		}
	}
	uses, birds := map[float64]int{}, map[string]int{}
	for _, s := range recent {
		uses[s.Value]++
		if _, ok := birds[s.Bird]; !ok {
			birds[s.Bird] = len(birds)
		}
	}
	if len(birds) < ModelBirds || len(rounds(recent)) < 2 || len(uses) < ModelLevels {
		return Model{}, false
	}
	for _, n := range uses {
		if n < LevelUses {
			return Model{}, false
		}
	}
	steps := slices.Sorted(maps.Keys(uses))
	y, x, who := make([]int, len(recent)), make([][]float64, len(recent)), make([]int, len(recent))
	for i, s := range recent {
		y[i], _ = slices.BinarySearch(steps, s.Value)
		x[i] = []float64{float64(s.On.Middle()-today) / 30.44}
		who[i] = birds[s.Bird]
	}
	fitted, err := stat.ProportionalOdds(y, x, who)
	if err != nil {
		return Model{}, false
	}
	z, err := stat.Multiplier(level, math.Inf(1))
	if err != nil {
		return Model{}, false
	}
	e := fitted.Effects[0]
	return Model{g.trait, g.scale, stat.Interval{Value: math.Exp(e.Value), Low: math.Exp(e.Value - z*e.SE), High: math.Exp(e.Value + z*e.SE),
		Level: level, N: len(birds)}, recent}, true
}

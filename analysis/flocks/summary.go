package flocks

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/condition"
	"keelmark/analysis/fertility"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Summary is a flock as sums. It holds no bird, name, place or date.
type Summary struct {
	Code     string                              // as the keeper chose
	Birds    int                                 // different birds with any record
	Total    []Cell                              // one a key: all strata together
	Cells    []Cell                              // at the finest level, or as released
	Released bool                                // small groups are hidden
	Doubts   int                                 // open questions and refused cells, which are in no sum
	Unnamed  int                                 // weighings that name no bird; not released
	members  map[Key]map[Stratum]map[string]bool // birds of each cell, for Release only; never leaves the package
}

// GrownWeeks is the age from which a weight is set beside the listed one; younger birds are compared by age.
// Source: ours; at 24 weeks about 93 % of the mature weight is reached (domain notes 4.1, layer-like curve).
const GrownWeeks = 24

// Summarise reduces a flock to sums. Records under question are in none. It needs nothing: an empty flock gives an empty
// Summary. Where the hemisphere is not known, seasons are not told apart.
func Summarise(ctx context.Context, c analysis.Context, d *record.Dataset) (Summary, error) {
	s := Summary{Code: c.Settings.Flock.Code, Doubts: len(d.Questions) + len(d.Rejects)}
	g := gatherer{context: c, dataset: d, birds: map[string]record.Bird{}, sums: map[Key]map[Stratum]*sum{}, whole: map[Key]*sum{}, seen: map[string]bool{}}
	for _, b := range d.Birds {
		b = standard.KnownHatch(d, b)
		b.Size = sizeOf(b, c.Settings)
		g.birds[b.ID] = b
	}
	for _, step := range []func(context.Context) error{g.parasites, g.weights, g.scores, g.eggs} {
		if err := ctx.Err(); err != nil {
			return Summary{}, err
		}
		if err := step(ctx); err != nil {
			return Summary{}, err
		}
	}
	s.Birds, s.Unnamed = len(g.seen), g.unnamed
	s.Total, s.Cells = g.cells()
	s.members = map[Key]map[Stratum]map[string]bool{}
	for k, strata := range g.sums {
		s.members[k] = map[Stratum]map[string]bool{}
		for t, one := range strata {
			s.members[k][t] = one.birds
		}
	}
	return s, nil
}

func sizeOf(b record.Bird, s record.Settings) record.Size {
	if b.Size != "" {
		return b.Size
	}
	return s.Flock.Size
}

// parasites counts looks, findings, effort and treatments.
func (g *gatherer) parasites(ctx context.Context) error {
	r, err := parasite.Spec().Run(ctx, g.context, g.dataset, nil)
	if err != nil {
		return err
	}
	looked := r.(*parasite.Result)
	type visit struct {
		bird string
		on   record.Day
	}
	visits := map[visit]bool{}
	found := map[Measure]map[visit]bool{Lice: {}, Mites: {}}
	for _, l := range looked.Looks {
		if l.Bird == "" || l.Finding == parasite.Unclear || !l.On.Exact() {
			continue
		}
		v := visit{l.Bird, l.On.First}
		visits[v] = true
		for _, m := range kindsOf(l.Parasite) {
			found[m][v] = found[m][v] || l.Finding == parasite.Found
		}
	}
	for _, m := range []Measure{Lice, Mites} {
		for v, hit := range found[m] {
			b := g.birds[v.bird]
			x := 0.0
			if hit {
				x = 1
			}
			g.add(Key{Measure: m, Half: HalfOf(v.on)}, g.stratum(b, v.on), outbreak(v.on), []string{v.bird}, 1, x)
		}
	}
	presence := analysis.PresenceOf(g.dataset)
	first, last := g.span()
	if first <= last {
		for _, b := range g.dataset.Birds {
			b := g.birds[b.ID]
			for day := first; day <= last; day += monthDays { // once a month: was it there?
				if presence.There(b, day) {
					g.add(Key{Measure: Effort, Half: HalfOf(day)}, Stratum{}, b.ID, []string{b.ID}, 1, 0)
				}
			}
		}
		for v := range visits {
			g.add(Key{Measure: Effort, Half: HalfOf(v.on)}, Stratum{}, v.bird, []string{v.bird}, 0, 1)
		}
	}
	for i, c := range looked.Courses {
		if len(c.Birds) == 0 || !slices.Contains([]string{"", record.Mites}, c.Against) && len(kindsOf(c.Against)) == 0 {
			continue
		}
		on, id := c.Event.On.First, fmt.Sprint(i)
		g.add(Key{Measure: Treated, Half: HalfOf(on)}, Stratum{}, id, c.Birds, 0, float64(len(c.Birds)))
		if c.Event.On.Last+parasite.VerifyTo > g.context.Today {
			continue // its look is not due yet
		}
		x := 0.0
		if slices.ContainsFunc(looked.Looks, func(l parasite.Look) bool {
			return slices.Contains(c.Birds, l.Bird) && l.On.Last >= c.Event.On.First+parasite.VerifyFrom && l.On.First <= c.Event.On.Last+parasite.VerifyTo
		}) {
			x = 1
		}
		g.add(Key{Measure: Verified, Half: HalfOf(on)}, Stratum{}, id, c.Birds, 1, x)
	}
	return nil
}

// weights counts each bird once for each sixth of a year: its mean percent of the listed weight from GrownWeeks on, and
// the logarithm of its mean weight, by two weeks of age, before.
func (g *gatherer) weights(context.Context) error {
	rule, err := standard.RuleOf(g.context.Settings.Show)
	if err != nil {
		rule = standard.Rule{Kind: standard.Birthday, Assumed: true}
	}
	listed := map[string]float64{}
	sums := map[unit][2]float64{}
	type sample struct {
		on  record.Day
		age int
	}
	samples := map[sample]int{}
	unnamed := map[string]string{} // weighing to the bird that it may be
	for i, o := range g.dataset.Observations {
		if o.Trait != record.Weight || o.Flagged || o.Form != record.Measured || o.Value <= 0 {
			continue
		}
		b, named := g.birds[o.Bird]
		if !named {
			// A sample that names no bird: it holds as many birds as it has weighings, and the next one may hold the same.
			days, _ := o.Age.Days()
			at := sample{o.On.First, days}
			samples[at]++
			b = record.Bird{ID: fmt.Sprintf("weighing %d", i), Size: g.context.Settings.Flock.Size}
			unnamed[b.ID] = fmt.Sprintf("unnamed %d", samples[at])
			g.unnamed++
		}
		on, half := g.context.Today, Half{}
		if o.On.Exact() {
			on, half = o.On.First, HalfOf(o.On.First)
		}
		days, known := o.Age.Days()
		if !known && o.On.Exact() && b.Hatched.Known() && b.Hatched.Last-b.Hatched.First <= 14 {
			days, known = int(on-b.Hatched.Middle()), true
		}
		switch {
		case known && days >= 0 && days < GrownWeeks*7:
			week := days / 7 / 2 * 2
			t := Stratum{Size: b.Size, Sex: b.Sex, Age: fmt.Sprintf("week %02d-%02d", week+1, week+2)}
			u := unit{Key{Measure: Growth, Half: half}, t, b.ID}
			sums[u] = [2]float64{sums[u][0] + 1, sums[u][1] + math.Log(o.Value)}
		case o.On.Exact() && named:
			t := g.stratum(b, on)
			if t.Age == "growing" {
				continue
			}
			name, target := g.listed(listed, b, on, rule)
			if target <= 0 {
				continue
			}
			u := unit{Key{Measure: Weight, Scale: name, Half: half}, t, b.ID}
			sums[u] = [2]float64{sums[u][0] + 1, sums[u][1] + 100*o.Value/target}
		}
	}
	for _, u := range inOrder(sums) {
		g.add(u.key, u.at, u.bird, []string{cmp.Or(unnamed[u.bird], u.bird)}, 1, sums[u][1]/sums[u][0])
	}
	for _, b := range g.dataset.Birds {
		x := 0.0
		if known := g.birds[b.ID].Hatched; known.Known() && known.Last-known.First <= 62 {
			x = 1
		}
		g.add(Key{Measure: HatchDay}, Stratum{}, b.ID, []string{b.ID}, 1, x)
	}
	return nil
}

// listed is the published weight of a bird's class on a day and whose it is; 0 where there is none. Where the class is not
// sure its weights differ, and none is used.
func (g *gatherer) listed(known map[string]float64, b record.Bird, on record.Day, rule standard.Rule) (string, float64) {
	classes, refusal := standard.ClassOn(b, on, rule)
	if refusal != nil || len(classes) != 1 {
		return "", 0
	}
	choice, refusal := standard.Find(g.context.Standards, standard.WantedFor(b, g.context.Settings, classes[0]))
	if refusal != nil {
		return "", 0
	}
	key := choice.Chosen.Standard + "\x00" + choice.Chosen.Breed + "\x00" + choice.Chosen.Variety + "\x00" + choice.Chosen.SizeText + "\x00" + string(classes[0])
	if target, ok := known[key]; ok {
		return choice.Chosen.Standard, target
	}
	w := choice.Chosen.Weights[classes[0]]
	target := 0.0
	switch {
	case w.Low > 0 && w.High > 0:
		target = (w.Low + w.High) / 2
	case w.High > 0:
		target = w.High
	case w.Low > 0:
		target = w.Low
	}
	known[key] = target
	return choice.Chosen.Standard, target
}

// scores counts birds in the good third of a declared scale, each once for each sixth of a year, by its last score there.
func (g *gatherer) scores(context.Context) error {
	scores, _ := condition.Scores(g.dataset, g.context.Today)
	last := map[unit]float64{}
	for _, s := range scores {
		scale, place, ok := condition.Place(g.context.Settings.Scales, s)
		if s.Trait != record.Condition || !ok || !s.On.Exact() {
			continue
		}
		x := 0.0
		if place >= 2.0/3-1e-9 {
			x = 1
		}
		name := fmt.Sprintf("%g-%g %s", scale.Min, scale.Max, scale.Direction)
		last[unit{Key{Measure: Condition, Scale: name, Half: HalfOf(s.On.First)}, g.stratum(g.birds[s.Bird], s.On.First), s.Bird}] = x // scores come oldest first
	}
	for _, u := range inOrder(last) {
		g.add(u.key, u.at, u.bird, []string{u.bird}, 1, last[u])
	}
	return nil
}

// eggs counts eggs set and fertile, by setting.
func (g *gatherer) eggs(context.Context) error {
	settings, _ := fertility.Settings(g.dataset, g.context.Today)
	for i, s := range settings {
		fertile, ok := s.Fertile()
		if !ok || !s.On.Exact() {
			continue
		}
		var size record.Size
		parents := slices.Concat(s.Males, s.Hens)
		for _, p := range parents {
			size = g.birds[p].Size
		}
		g.add(Key{Measure: Fertile, Half: HalfOf(s.On.First)}, Stratum{Size: size, Season: g.season(s.On.First)}, fmt.Sprint(i), parents, float64(s.Set), float64(fertile))
	}
	return nil
}

// Forget returns the summary without its memory of birds, which only Release needs: what thousands of flocks are kept as.
func (s Summary) Forget() Summary {
	s.members = nil
	return s
}

package flocks

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

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
	s.Birds = len(g.seen)
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

// sum collects clusters until they can be squared.
type sum struct {
	birds    map[string]bool
	clusters map[string]*[2]float64 // n and x of each
	order    []string
}

func (s *sum) add(cluster, bird string, n, x float64) {
	if s.clusters[cluster] == nil {
		s.clusters[cluster] = &[2]float64{}
		s.order = append(s.order, cluster)
	}
	c := s.clusters[cluster]
	c[0] += n
	c[1] += x
	if bird != "" {
		s.birds[bird] = true
	}
}

func (s *sum) cell(k Key, t Stratum) Cell {
	c := Cell{Key: k, Stratum: t, Birds: len(s.birds), Clusters: len(s.clusters)}
	slices.Sort(s.order) // sums of the same records are the same to the last digit, whatever the order of adding
	var nn, xn, xx float64
	for _, name := range s.order {
		n, x := s.clusters[name][0], s.clusters[name][1]
		c.N, c.X, nn, xn, xx = c.N+n, c.X+x, nn+n*n, xn+x*n, xx+x*x
	}
	if t == (Stratum{}) {
		c.Spread = spreadOf(k.Measure, float64(c.Clusters), c.N, c.X, nn, xn, xx)
	}
	c.X = k.Measure.rounded(c.X)
	return c
}

type gatherer struct {
	context analysis.Context
	dataset *record.Dataset
	birds   map[string]record.Bird
	sums    map[Key]map[Stratum]*sum
	whole   map[Key]*sum
	seen    map[string]bool
}

// add counts n and x for a cluster in its stratum and in the whole.
func (g *gatherer) add(k Key, t Stratum, cluster string, birds []string, n, x float64) {
	if g.sums[k] == nil {
		g.sums[k] = map[Stratum]*sum{}
		g.whole[k] = &sum{map[string]bool{}, map[string]*[2]float64{}, nil}
	}
	if g.sums[k][t] == nil {
		g.sums[k][t] = &sum{map[string]bool{}, map[string]*[2]float64{}, nil}
	}
	for _, s := range []*sum{g.sums[k][t], g.whole[k]} {
		s.add(cluster, "", n, x)
		for _, b := range birds {
			s.birds[b] = true
		}
	}
	for _, b := range birds {
		g.seen[b] = true
	}
}

// cells lays the sums out in order.
func (g *gatherer) cells() (total, cells []Cell) {
	for k, s := range g.whole {
		total = append(total, s.cell(k, Stratum{}))
	}
	for k, strata := range g.sums {
		for t, s := range strata {
			cells = append(cells, s.cell(k, t))
		}
	}
	slices.SortFunc(total, func(a, b Cell) int { return a.Key.compare(b.Key) })
	slices.SortFunc(cells, func(a, b Cell) int {
		if c := a.Key.compare(b.Key); c != 0 {
			return c
		}
		return a.Stratum.compare(b.Stratum)
	})
	return total, cells
}

// season is the sixth of the year, 1 to 6, from local midsummer on; 0 where the hemisphere is not known.
//
// Source: midsummer 21 June in the north, 21 December in the south (solstices).
func (g *gatherer) season(on record.Day) int {
	month := map[string]time.Month{"north": time.June, "south": time.December}[g.context.Settings.Flock.Hemisphere]
	if month == 0 {
		return 0
	}
	y, _, _ := on.Date()
	solstice, _ := record.DayOf(y, month, 21)
	days := math.Mod(float64(on-solstice)+3*365.25, 365.25)
	return 1 + min(5, int(days/(365.25/6)))
}

// stratum of a bird on a day.
func (g *gatherer) stratum(b record.Bird, on record.Day) Stratum {
	t := Stratum{Size: b.Size, Sex: b.Sex, Season: g.season(on)}
	if b.Hatched.Known() && b.Hatched.Last-b.Hatched.First <= 62 {
		switch age := on - b.Hatched.Middle(); {
		case age < GrownWeeks*7:
			t.Age = "growing"
		case age < 365:
			t.Age = "young"
		default:
			t.Age = "adult"
		}
	}
	return t
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
			g.add(Key{Measure: m, Half: HalfOf(v.on)}, g.stratum(b, v.on), v.on.String(), []string{v.bird}, 1, x)
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

const monthDays = 30

// unit is a bird in one stratum: it counts once there, however often it was weighed or scored.
type unit struct {
	key  Key
	at   Stratum
	bird string
}

func inOrder[V any](units map[unit]V) []unit {
	return slices.SortedFunc(maps.Keys(units), func(a, b unit) int {
		return cmp.Or(a.key.compare(b.key), a.at.compare(b.at), strings.Compare(a.bird, b.bird))
	})
}

// kindsOf says which measure a parasite counts for; none for what lives in the house or under scales.
func kindsOf(p string) []Measure {
	switch p {
	case record.Lice, record.BodyLouse, record.ShaftLouse, record.HeadLouse:
		return []Measure{Lice}
	case record.Mites, record.NorthernFowlMite:
		return []Measure{Mites}
	}
	return nil
}

// span is from the first to the last exact day with a record, up to today.
func (g *gatherer) span() (first, last record.Day) {
	first, last = math.MaxInt32, math.MinInt32
	for _, o := range g.dataset.Observations {
		if o.On.Exact() && o.On.First <= g.context.Today {
			first, last = min(first, o.On.First), max(last, o.On.First)
		}
	}
	return first, last
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
	for i, o := range g.dataset.Observations {
		if o.Trait != record.Weight || o.Flagged || o.Form != record.Measured || o.Value <= 0 {
			continue
		}
		b, named := g.birds[o.Bird]
		if !named {
			b = record.Bird{ID: fmt.Sprintf("weighing %d", i), Size: g.context.Settings.Flock.Size} // a sample that names no bird
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
		g.add(u.key, u.at, u.bird, []string{u.bird}, 1, sums[u][1]/sums[u][0])
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

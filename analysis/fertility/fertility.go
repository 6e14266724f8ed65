package fertility

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Minimum data.
const (
	// MinEggs an arm are needed before two arms are compared. Source: domain notes 4.6 and 4.9.
	MinEggs = 20
	// ModelHens and ModelEggs: a mixed logistic model of male, hen, setting and storage needs so many. Source: domain
	// notes 4.6.
	ModelHens = 5
	ModelEggs = 100
)

const level = 0.90

// Options of the analysis.
type Options struct {
	Ring string `name:"ring" doc:"ring or name of one male or hen; empty for all"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("fertility", "Eggs set, clear, dead and hatched: by male, hen, pen and year",
		`For each male and hen: fertile eggs of eggs set with the range that so few eggs leave open, and the same drawn towards the
flock. For pens and the flock: this year against the last, where the two years can be compared. Fertile means not clear
at candling, so it is a lower bound. Needs eggs set and clear ones; 20 eggs an arm to compare; 5 hens and 100 eggs for a
model of male, hen, setting and storage.
Source: shares Wilson 1927; differences Newcombe 1998; shrinkage Gelman et al. 2013, section 5.3; mixed logistic model
Breslow & Clayton 1993; parentage Mississippi State University Extension.`,
		Options{}, run)
}

// Tally is the eggs of one arm: a male, a hen, a pen, a year, or any of them together.
type Tally struct {
	Name               string // "R12 Žofie", "pen 2", "2025"
	Bird               string // ID, for a male or hen
	Settings           []Setting
	Set, Fertile       int // of settings with both eggs set and clear ones
	Hatched, HatchedOf int // chicks of fertile eggs, where both are known
	Share              stat.Interval
	Shrunken           stat.Interval // drawn towards the others of its kind; Level 0 where it stands alone
	Others             []string      // the partners: hens of a male, males of a hen
}

// Result is what was found.
type Result struct {
	Today    record.Day
	Settings []Setting
	Left     int // settings to be confirmed or without a date, and hatches that fit no setting
	Males    []Tally
	Hens     []Tally
	Pens     []Tally
	Years    []Tally
	Pool     stat.Interval // mean of the males
	Model    *Model
	claims   []analysis.Claim
	labels   map[string]string
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	r := &Result{Today: c.Today, labels: map[string]string{}}
	for _, b := range d.Birds {
		r.labels[b.ID] = b.Label()
	}
	r.Settings, r.Left = Settings(d, c.Today)
	r.Males = r.tallies(func(s Setting) []string {
		if s.Known && len(s.Doubts) == 0 {
			return s.Males
		}
		return nil
	}, func(s Setting) []string { return s.Hens })
	r.Hens = r.tallies(func(s Setting) []string {
		if len(s.Hens) == 1 {
			return s.Hens
		}
		return nil
	}, func(s Setting) []string { return s.Males })
	r.Pens = r.tallies(func(s Setting) []string { return nonEmpty(s.Pen) }, nil)
	r.Years = r.tallies(func(s Setting) []string {
		y, _, _ := s.On.Middle().Date()
		return []string{fmt.Sprint(y)}
	}, nil)
	shrink(r.Males)
	shrink(r.Hens)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r.Model = r.model()
	if o.Ring != "" {
		b, ok := d.Bird(o.Ring)
		if !ok {
			return nil, fmt.Errorf("fertility: no single bird is known as %q; use its ring as check prints it", o.Ring)
		}
		other := func(t Tally) bool { return t.Bird != b.ID }
		r.Males, r.Hens = slices.DeleteFunc(r.Males, other), slices.DeleteFunc(r.Hens, other)
		r.claims = r.birdClaims(d, []record.Bird{b})
		return r, nil
	}
	presence := analysis.PresenceOf(d)
	present := slices.DeleteFunc(slices.Clone(d.Birds), func(b record.Bird) bool { return !presence.There(b, c.Today) })
	r.claims = append(r.flockClaims(d), r.birdClaims(d, present)...)
	return r, nil
}

func nonEmpty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

// tallies adds up the settings of each arm, in order of name. A setting counts in each arm that of names.
func (r *Result) tallies(of, partners func(Setting) []string) []Tally {
	by := map[string]*Tally{}
	for _, s := range r.Settings {
		for _, name := range of(s) {
			t := by[name]
			if t == nil {
				t = &Tally{Name: cmp.Or(r.labels[name], name)}
				if partners != nil {
					t.Bird = name
				}
				by[name] = t
			}
			t.add(s)
			if partners != nil {
				for _, p := range partners(s) {
					if !slices.Contains(t.Others, p) {
						t.Others = append(t.Others, p)
					}
				}
			}
		}
	}
	var out []Tally
	for _, name := range slices.Sorted(maps.Keys(by)) {
		t := by[name]
		if t.Set > 0 {
			t.Share, _ = stat.Wilson(t.Fertile, t.Set, level) // cannot fail: 0 <= fertile <= set
		}
		out = append(out, *t)
	}
	return out
}

func (t *Tally) add(s Setting) {
	t.Settings = append(t.Settings, s)
	fertile, ok := s.Fertile()
	if !ok {
		return
	}
	t.Set, t.Fertile = t.Set+s.Set, t.Fertile+fertile
	if s.Hatched >= 0 && s.Hatched <= fertile {
		t.Hatched, t.HatchedOf = t.Hatched+s.Hatched, t.HatchedOf+fertile
	}
}

// shrink draws each arm towards the others; arms that stand alone stay as they are.
func shrink(list []Tally) {
	x, n := make([]int, len(list)), make([]int, len(list))
	for i, t := range list {
		x[i], n[i] = t.Fertile, t.Set
	}
	s, err := stat.ShrinkShares(x, n, level)
	if err != nil {
		return // one arm only
	}
	for i := range list {
		list[i].Shrunken = s.Units[i]
	}
}

// Comparison is two arms side by side.
type Comparison struct {
	Before, After Tally
	Two           stat.Two
	Refusal       string // why they are not compared; "" where they are
}

// Compare sets two arms side by side, or says why that would mislead.
func Compare(before, after Tally) Comparison {
	c := Comparison{Before: before, After: after}
	switch {
	case before.Set < MinEggs || after.Set < MinEggs:
		c.Refusal = fmt.Sprintf("a comparison needs %d eggs on each side", MinEggs)
		return c
	case storedLong(before) != storedLong(after):
		c.Refusal = fmt.Sprintf("eggs were stored for more than %d days on one side only", StoredLong)
		return c
	case brokenOut(before) != brokenOut(after):
		c.Refusal = "eggs that died early were told from clear ones on one side only"
		return c
	}
	two, err := stat.TwoShares(before.Fertile, before.Set, after.Fertile, after.Set, level)
	if err != nil {
		c.Refusal = err.Error()
		return c
	}
	c.Two = two
	return c
}

// Differs reports whether the interval of the difference excludes 0. Eggs of a hen and of a setting are alike, so that the
// interval is wider than binomial ones where several settings show it: it is widened by the spread between settings.
func (c Comparison) Differs() bool {
	if c.Refusal != "" {
		return false
	}
	f := math.Sqrt(max(1, (overdispersion(c.Before)*float64(c.Before.Set)+overdispersion(c.After)*float64(c.After.Set))/float64(c.Before.Set+c.After.Set)))
	return c.Two.Value+f*(c.Two.High-c.Two.Value) < 0 || c.Two.Value-f*(c.Two.Value-c.Two.Low) > 0
}

// overdispersion is Pearson's chi-squared over its degrees of freedom of an arm's settings around its share; at least 1,
// and 1 where there are fewer than 3 settings or no variation is possible.
//
// Source: McCullagh & Nelder 1989, Generalized Linear Models, section 4.5.2.
func overdispersion(t Tally) float64 {
	if t.Fertile == 0 || t.Fertile == t.Set {
		return 1
	}
	p := float64(t.Fertile) / float64(t.Set)
	sum, n := 0.0, 0
	for _, s := range t.Settings {
		if fertile, ok := s.Fertile(); ok {
			d := float64(fertile) - p*float64(s.Set)
			sum += d * d / (p * (1 - p) * float64(s.Set))
			n++
		}
	}
	if n < 3 {
		return 1
	}
	return max(1, sum/float64(n-1))
}

func storedLong(t Tally) bool {
	return slices.ContainsFunc(t.Settings, func(s Setting) bool { return s.Stored > StoredLong })
}

// brokenOut reports whether dead-early eggs were written apart from clear ones in every setting.
func brokenOut(t Tally) bool {
	return !slices.ContainsFunc(t.Settings, func(s Setting) bool { return s.DeadEarly < 0 })
}

// Model is the mixed logistic model of fertile eggs.
type Model struct {
	Males    []string // IDs; the first is the one that the others are compared with
	Odds     []stat.Interval
	PerDay   stat.Interval // odds ratio of a day of storage; N 0 where storage was not written everywhere
	SDHen    float64
	Hens     int
	Eggs     int
	Settings []Setting
}

// model fits the settings of one sure male and one hen each; nil where they do not carry it.
func (r *Result) model() *Model {
	m := &Model{}
	hens := map[string]int{}
	var hits, trials, hen, setting []int
	stored := true
	for _, s := range r.Settings {
		fertile, ok := s.Fertile()
		if !ok || !s.Known || len(s.Hens) != 1 || len(s.Doubts) > 0 {
			continue
		}
		if !slices.Contains(m.Males, s.Males[0]) {
			m.Males = append(m.Males, s.Males[0])
		}
		if _, ok := hens[s.Hens[0]]; !ok {
			hens[s.Hens[0]] = len(hens)
		}
		m.Eggs += s.Set
		m.Settings = append(m.Settings, s)
		hits, trials = append(hits, fertile), append(trials, s.Set)
		hen, setting = append(hen, hens[s.Hens[0]]), append(setting, len(setting))
		stored = stored && s.Stored >= 0
	}
	m.Hens = len(hens)
	if m.Hens < ModelHens || m.Eggs < ModelEggs || len(m.Males) < 2 || !m.crossed() {
		return nil
	}
	slices.Sort(m.Males)
	var x [][]float64
	for _, s := range m.Settings {
		row := []float64{1}
		for _, male := range m.Males[1:] {
			row = append(row, map[bool]float64{true: 1}[s.Males[0] == male])
		}
		if stored {
			row = append(row, float64(s.Stored))
		}
		x = append(x, row)
	}
	if stored && constant(x, len(x[0])-1) {
		stored = false
		for i := range x {
			x[i] = x[i][:len(x[i])-1]
		}
	}
	fitted, err := stat.FitMixedLogistic(hits, trials, x, hen, setting)
	if err != nil {
		return nil
	}
	z, err := stat.Multiplier(level, math.Inf(1))
	if err != nil {
		return nil
	}
	ratio := func(c stat.Coefficient) stat.Interval {
		return stat.Interval{Value: math.Exp(c.Value), Low: math.Exp(c.Value - z*c.SE), High: math.Exp(c.Value + z*c.SE), Level: level, N: m.Eggs}
	}
	for i := range m.Males[1:] {
		m.Odds = append(m.Odds, ratio(fitted.Effects[i+1]))
	}
	if stored {
		m.PerDay = ratio(fitted.Effects[len(fitted.Effects)-1])
	}
	m.SDHen = fitted.SDs[0]
	return m
}

// crossed reports whether at least two hens were with more than one male: without them male and hen cannot be told apart.
func (m *Model) crossed() bool {
	males := map[string]map[string]bool{}
	for _, s := range m.Settings {
		if males[s.Hens[0]] == nil {
			males[s.Hens[0]] = map[string]bool{}
		}
		males[s.Hens[0]][s.Males[0]] = true
	}
	n := 0
	for _, with := range males {
		if len(with) > 1 {
			n++
		}
	}
	return n >= 2
}

func constant(x [][]float64, column int) bool {
	return !slices.ContainsFunc(x, func(row []float64) bool { return row[column] != x[0][column] })
}

// Claims are those of the flock, then those of each male and hen.
func (r *Result) Claims() []analysis.Claim { return r.claims }

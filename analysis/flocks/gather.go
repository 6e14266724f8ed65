package flocks

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

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
	unnamed int
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
		c := s.cell(k, Stratum{})
		if k.Measure == Growth {
			c.Spread = spreadWithin(g.sums[k])
		}
		total = append(total, c)
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

// spreadWithin is Spread of birds beside birds of their own age and sex: weights of other ages would drown it. 0 below 3 birds
// more than groups.
//
// Source: linearised variance of a post-stratified mean, Särndal, Swensson & Wretman 1992, Model Assisted Survey Sampling, section
// 7.6 (from memory), with the degrees of freedom that the group means take.
func spreadWithin(strata map[Stratum]*sum) float64 {
	residual := map[string]float64{}
	groups, members := 0.0, 0.0
	for _, t := range slices.SortedFunc(maps.Keys(strata), Stratum.compare) {
		s := strata[t]
		c := s.cell(Key{}, t)
		groups++
		members += c.N
		for name, nx := range s.clusters {
			residual[name] += nx[1] - nx[0]*c.X/c.N
		}
	}
	if members < groups+3 {
		return 0
	}
	squares := 0.0
	for _, name := range slices.Sorted(maps.Keys(residual)) {
		squares += residual[name] * residual[name]
	}
	return twoDigits(squares / (members - groups))
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

// outbreak names the two months of a day, whose looks are one cluster. Source: ours; lice of one week are there the next, and an
// untreated flock keeps them for months, so that looks of single days are not independent of each other.
func outbreak(on record.Day) string {
	y, m, _ := on.Date()
	return fmt.Sprintf("%d-%d", y, (m-1)/2)
}

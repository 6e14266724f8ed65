package treatment

import (
	"cmp"
	"keelmark/analysis"
	"math"
	"slices"

	"keelmark/analysis/parasite"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Minimum data and windows of a comparison.
const (
	// LeastTreated treated birds, and as many looks at untreated birds as LeastUntreated, before and after.
	// Source: Keelmark's domain notes 4.9; LeastUntreated is our own choice.
	LeastTreated   = 8
	LeastUntreated = 5
	// LeastPens pens on each side, over all occasions, where whole pens were treated: with fewer no assignment of pens
	// is rare enough to tell.
	LeastPens = 4
	// BeforeDays is how old the look before a treatment may be. After it count looks on days VerifyFrom to VerifyTo.
	BeforeDays = 28
	// SettleDays after the last treatment of a course before a look counts. A look on day 14 counts beside a second
	// treatment on days 7 to 10: so soon after it young ones that hatch may be few, which holds for treated birds only and
	// makes no difference where there is none. Source: Keelmark's choice.
	SettleDays = 3
	// CalmDays after the last treatment is a finding survivors or the expected hatch, and no return.
	CalmDays    = 7
	significant = 0.05
	// unalike is the chance below which treated and untreated birds differed before the treatment.
	unalike = 0.01
)

// Pair is one bird looked at before and after.
type Pair struct {
	Bird          int // index
	Pen           string
	Treated       bool
	Before, After bool    // found
	CB, CA        float64 // counts, where both looks wrote one; else NaN
	occasion      int
	at            [2]record.Ref
}

// Effect is what the looks say of one product.
type Effect struct {
	Product   string
	Occasions []Occasion
	Pairs     []Pair // treated and untreated

	// Treated birds: looked at both times, of those found before, of those found after both times.
	Treated, TreatedBefore, TreatedAfter, Stayed int
	// Untreated birds in comparison with them.
	Untreated, UntreatedBefore, UntreatedAfter int

	Unit     string        // "bird" or "pen": what was treated or left as one; "" where nothing can be compared
	Carriers bool          // only birds with a finding before are compared
	Compared [2]int        // birds in the comparison, treated and untreated, where birds are the units
	Lower    stat.Interval // percent fewer birds with findings among the treated; Level 0 where none is computed
	P        float64       // chance of so large a difference, either way, without an effect; 1 where none is computed
	Counts   stat.Interval // percent fewer by Henderson and Tilton on counts, pens as units; Level 0 where none is computed
	Warnings []string      // why the difference may be something else
	Missing  string        // why nothing can be compared; "" where something can
	picked   bool          // whole pens, and the treated had carried more or less than a lot would have drawn
}

// effect compares what followed the occasions of a product.
func (v *view) effect(product string, occasions []Occasion, repeats Repeats) Effect {
	e := Effect{Product: product, Occasions: occasions, P: 1}
	for k, o := range occasions {
		e.Pairs = append(e.Pairs, v.pairs(k, o)...)
	}
	e.tally(e.Pairs)
	e.compare()
	e.warn()
	if e.Unit != "" { // what stands side by side in a sentence was looked at side by side
		e.tally(e.beside())
	}
	return e
}

// tally counts the birds of pairs.
func (e *Effect) tally(pairs []Pair) {
	e.Treated, e.TreatedBefore, e.TreatedAfter, e.Stayed = 0, 0, 0, 0
	e.Untreated, e.UntreatedBefore, e.UntreatedAfter = 0, 0, 0
	for _, p := range pairs {
		if p.Treated {
			e.Treated++
			e.TreatedBefore += one(p.Before)
			e.TreatedAfter += one(p.After)
			e.Stayed += one(p.Before && p.After)
		} else {
			e.Untreated++
			e.UntreatedBefore += one(p.Before)
			e.UntreatedAfter += one(p.After)
		}
	}
}

// beside are the pairs of occasions with both treated and untreated birds.
func (e *Effect) beside() []Pair {
	var sides [2]map[int]bool
	for i := range sides {
		sides[i] = map[int]bool{}
	}
	for _, p := range e.Pairs {
		sides[one(p.Treated)][p.occasion] = true
	}
	return slices.DeleteFunc(slices.Clone(e.Pairs), func(p Pair) bool { return !sides[0][p.occasion] || !sides[1][p.occasion] })
}

// before counts the birds of each occasion with both sides by what was found before the treatment.
func (e *Effect) before() (strata []stat.Stratum, all stat.Stratum) {
	index := map[int]int{}
	for _, p := range e.beside() {
		i, ok := index[p.occasion]
		if !ok {
			i = len(strata)
			index[p.occasion] = i
			strata = append(strata, stat.Stratum{})
		}
		for _, s := range []*stat.Stratum{&strata[i], &all} {
			if p.Treated {
				s.Treated++
				s.TreatedWith += one(p.Before)
			} else {
				s.Untreated++
				s.UntreatedWith += one(p.Before)
			}
		}
	}
	return strata, all
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

// pairs are the birds looked at before and after an occasion. Untreated are birds without a treatment from BeforeDays
// before it until their look after it.
func (v *view) pairs(k int, o Occasion) []Pair {
	from, to := max(o.First+parasite.VerifyFrom, o.Last+SettleDays), o.Last+parasite.VerifyTo
	if o.Second == 0 {
		to = o.First + parasite.VerifyTo
	}
	var out []Pair
	for i := range v.birds {
		treated := slices.Contains(o.birds, i)
		before, ok1 := last(v.looks[i], o.First-BeforeDays, o.First)
		after, ok2 := first(v.looks[i], from, to)
		if !ok1 || !ok2 {
			continue
		}
		if treated && (v.treatedIn(i, before.On.First, o.First) || v.treatedIn(i, o.Last+1, after.On.First)) ||
			!treated && v.treatedIn(i, o.First-BeforeDays, after.On.First) {
			continue
		}
		p := Pair{Bird: i, Pen: v.pen(before), Treated: treated, Before: before.Finding == parasite.Found, After: after.Finding == parasite.Found,
			CB: math.NaN(), CA: math.NaN(), occasion: k, at: [2]record.Ref{before.At, after.At}}
		cb, ok1 := v.count(before)
		ca, ok2 := v.count(after)
		if ok1 && ok2 {
			p.CB, p.CA = cb, ca
		}
		out = append(out, p)
	}
	return out
}

// last is the latest look from a day to another, both included.
func last(looks []parasite.Look, from, to record.Day) (parasite.Look, bool) {
	for _, l := range slices.Backward(looks) {
		if l.On.First >= from && l.On.Last <= to {
			return l, true
		}
	}
	return parasite.Look{}, false
}

// first is the earliest look from a day to another, both included.
func first(looks []parasite.Look, from, to record.Day) (parasite.Look, bool) {
	for _, l := range looks {
		if l.On.First >= from && l.On.Last <= to {
			return l, true
		}
	}
	return parasite.Look{}, false
}

// compare takes birds as the units where a pen holds treated and untreated ones, else whole pens.
func (e *Effect) compare() {
	switch {
	case e.Treated < LeastTreated:
		e.Missing = analysis.Counted(e.Treated, "treated bird was", "treated birds were") + " looked at before and after"
		return
	case e.Untreated == 0:
		e.Missing = "no untreated bird was looked at on the same days"
		return
	case e.TreatedBefore+e.TreatedAfter+e.UntreatedBefore+e.UntreatedAfter == 0:
		e.Missing = "none of the birds, treated or not, had findings before it or after"
		return
	case e.TreatedBefore+e.UntreatedBefore == e.Treated+e.Untreated && e.TreatedAfter+e.UntreatedAfter == e.Treated+e.Untreated:
		e.Missing = "all of the birds, treated or not, had findings before it and after"
		return
	}
	// Birds with a finding before say most, for a treatment acts on what is there; which birds are compared depends on
	// nothing that came after.
	strata, treated, untreated := e.strata(true)
	e.Carriers = treated >= LeastTreated && untreated >= LeastUntreated
	if !e.Carriers {
		strata, treated, untreated = e.strata(false)
	}
	if treated >= LeastTreated && untreated >= LeastUntreated {
		e.Unit, e.Compared = "bird", [2]int{treated, untreated}
		if r, err := stat.PooledRatio(strata, level); err == nil {
			e.Lower = fewer(r)
		}
		e.P = exact(strata)
	} else if e.UntreatedBefore < LeastUntreated {
		few := "only " + analysis.Counted(e.UntreatedBefore, "untreated bird")
		if e.UntreatedBefore == 0 {
			few = "no untreated bird"
		}
		e.Missing = few + " had findings before it: what becomes of findings without it was not seen on the same days"
	} else if after, before, ok := e.byPens(); ok {
		e.Unit, e.P, e.picked = "pen", after, before < significant
		e.Lower = e.lowerByPens()
	} else {
		e.Missing = "too few untreated birds stand in the same pens, and too few whole pens were treated or left, to tell the treatment from the pens"
	}
	e.counts()
}

func fewer(r stat.Interval) stat.Interval {
	return stat.Interval{Value: 100 * (1 - r.Value), Low: 100 * (1 - r.High), High: 100 * (1 - r.Low), Level: r.Level, N: r.N}
}

// strata count birds of one occasion and pen that were alike before, so that what would have passed by itself passes on
// both sides. Where a fair part of every pen was treated, the pens of the occasion are taken together: no pen then
// stands on one side.
func (e *Effect) strata(carriers bool) (strata []stat.Stratum, treated, untreated int) {
	type key struct {
		occasion int
		pen      string
		before   bool
	}
	index := map[key]int{}
	even := e.even()
	for _, p := range e.Pairs {
		if carriers && !p.Before {
			continue
		}
		k := key{p.occasion, p.Pen, p.Before}
		if even[p.occasion] {
			k.pen = ""
		}
		i, ok := index[k]
		if !ok {
			i = len(strata)
			index[k] = i
			strata = append(strata, stat.Stratum{})
		}
		s := &strata[i]
		if p.Treated {
			s.Treated++
			s.TreatedWith += one(p.After)
		} else {
			s.Untreated++
			s.UntreatedWith += one(p.After)
		}
	}
	strata = slices.DeleteFunc(strata, func(s stat.Stratum) bool { return s.Treated == 0 || s.Untreated == 0 })
	for _, s := range strata {
		treated += s.Treated
		untreated += s.Untreated
	}
	return strata, treated, untreated
}

// even tells, for each occasion, whether between a quarter and three quarters of the birds of every pen were treated.
func (e *Effect) even() map[int]bool {
	type key struct {
		occasion int
		pen      string
	}
	n := map[key][2]int{}
	for _, p := range e.Pairs {
		k := key{p.occasion, p.Pen}
		c := n[k]
		c[one(p.Treated)]++
		n[k] = c
	}
	out := map[int]bool{}
	for k := range e.Occasions {
		out[k] = true
	}
	for k, c := range n {
		if all := c[0] + c[1]; 4*c[0] < all || 4*c[1] < all {
			out[k.occasion] = false
		}
	}
	return out
}

// exact returns the two-sided mid-p chance of the number of treated birds with findings, had the treated been drawn from
// their stratum at random.
//
// Source: exact conditional test of strata, Gart 1970, Biometrika 57:471; mid-p Lancaster 1961, J. Am. Stat. Assoc. 56:223.
func exact(strata []stat.Stratum) float64 {
	chances := []float64{1}
	seen := 0
	for _, s := range strata {
		n, with := s.Treated+s.Untreated, s.TreatedWith+s.UntreatedWith
		seen += s.TreatedWith
		next := make([]float64, len(chances)+min(with, s.Treated))
		for a := max(0, with-s.Untreated); a <= min(with, s.Treated); a++ {
			h := math.Exp(logChoose(with, a) + logChoose(n-with, s.Treated-a) - logChoose(n, s.Treated))
			for i, c := range chances {
				next[i+a] += c * h
			}
		}
		chances = next
	}
	var below, above float64
	for i, c := range chances {
		switch {
		case i < seen:
			below += c
		case i > seen:
			above += c
		default:
			below, above = below+c/2, above+c/2
		}
	}
	return min(1, 2*min(below, above))
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// warn names what may stand behind a difference beside the treatment.
func (e *Effect) warn() {
	if strata, all := e.before(); len(strata) > 0 && (exact(strata) < unalike || e.picked) {
		e.Warnings = append(e.Warnings, "before it, findings were on "+ofN(all.TreatedWith, all.Treated)+" treated and "+ofN(all.UntreatedWith, all.Untreated)+
			" untreated birds: who was treated was not left to chance, and birds picked at their worst come down by themselves")
	}
	if e.Unit == "" && e.Treated > 0 && e.Untreated > 0 && !e.mixed() {
		e.Warnings = append(e.Warnings, "treated and untreated birds stood in different pens: treatment and pen cannot be told apart")
	}
	if len(e.Occasions) > 1 && e.Untreated < LeastUntreated {
		if span := yearSpan(e.Occasions); span <= 60 {
			e.Warnings = append(e.Warnings, "it was always given at the same time of the year: treatment and season cannot be told apart")
		}
	}
	slices.Sort(e.Warnings)
}

// mixed reports whether some pen held treated and untreated birds.
func (e *Effect) mixed() bool {
	return slices.ContainsFunc(e.Pairs, func(p Pair) bool {
		return p.Treated && slices.ContainsFunc(e.Pairs, func(q Pair) bool { return !q.Treated && q.Pen == p.Pen && q.occasion == p.occasion })
	})
}

// yearSpan is the shortest stretch of the year, in days, that holds the first days of all occasions.
func yearSpan(occasions []Occasion) int {
	var days []int
	for _, o := range occasions {
		days = append(days, o.First.YearDay())
	}
	slices.SortFunc(days, cmp.Compare)
	gap := days[0] + 365 - days[len(days)-1]
	for i := 1; i < len(days); i++ {
		gap = max(gap, days[i]-days[i-1])
	}
	return 365 - gap
}

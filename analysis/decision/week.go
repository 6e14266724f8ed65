package decision

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"keelmark/analysis"
	"keelmark/analysis/fertility"
	"keelmark/analysis/forecast"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// What a look costs a keeper, in minutes with the birds. Ours, common practice without a source: a bird that is in the
// hand anyway is looked at and weighed; eggs take a place in the incubator and a candling.
const (
	costLook    = 2.0
	costWeigh   = 2.0
	costSetting = 20.0 // however many eggs
	costEgg     = 1.0
)

const (
	// LeastGain is how much less often the keeper must decide wrongly, in a hundred, before a look is listed. Source: ours.
	LeastGain = 0.03
	weekDays  = 7
	mostLines = 6
	mostBirds = 8 // named in one line; those whom a look changes most
)

// Look is one observation of the coming week: what, when, of whom, and how often its question is decided wrongly
// without and with it, taking a wrong yes to be as bad as a wrong no.
type Look struct {
	What     string // "weigh", "look for lice at", "set 12 eggs of"
	On       record.Day
	Question string
	Birds    []Gain // by ring
	Cost     float64
}

// Gain is what an observation changes for one bird: the chance of deciding wrongly, 0 to 1.
type Gain struct {
	Bird      record.Bird
	Now, Then float64
}

func (g Gain) gain() float64 { return g.Now - g.Then }

// Text is the line as printed: "weigh R2 and R5".
func (l Look) Text() string {
	names := make([]string, len(l.Birds))
	for i, g := range l.Birds {
		names[i] = cmp.Or(g.Bird.Ring, g.Bird.Label())
	}
	if len(l.Birds) == 1 {
		names[0] = l.Birds[0].Bird.Label()
	}
	return l.What + " " + listed(names)
}

// week finds the looks of the coming week that most reduce the chance of deciding wrongly, for what they cost: for each
// open question, what would be believed after each result that the look may have, weighted by how likely the result is.
//
// Source: preposterior analysis, Raiffa & Schlaifer 1961, Applied Statistical Decision Theory; costs and the equal
// weight of both wrong decisions are ours.
func (r *Result) week(p purpose, enough float64) ([]Look, error) {
	on := r.weekDay()
	var all []Look
	add := func(what, question string, cost float64, gains []Gain) {
		gains = slices.DeleteFunc(gains, func(g Gain) bool { return !(g.gain() >= LeastGain) })
		if len(gains) == 0 {
			return
		}
		slices.SortStableFunc(gains, func(a, b Gain) int { return cmp.Compare(b.gain(), a.gain()) })
		gains = gains[:min(len(gains), mostBirds)]
		slices.SortStableFunc(gains, func(a, b Gain) int { return byRing(a.Bird, b.Bird) })
		all = append(all, Look{what, on, question, gains, cost * float64(len(gains))})
	}
	var weights []Gain
	for _, s := range r.Sheets {
		if g, ok := r.weighing(s, on); ok {
			weights = append(weights, g)
		}
	}
	add("weigh", "inside the written weight on "+max(r.On, on).String(), costWeigh, weights)
	for _, name := range r.Parasites.Parasites {
		if cycle, ok := parasite.LifeCycleOf(name); ok && !cycle.OnBird {
			continue // it is looked for in the house, not on a bird
		}
		var looks []Gain
		for _, s := range r.Sheets {
			if q, see, ok := r.carries(s.Bird.ID, name); ok {
				now, then := afterLook(q, see)
				looks = append(looks, Gain{s.Bird, now, then})
			}
		}
		add("look for "+name+" at", "carries "+name+" today", costLook, looks)
	}
	if p.eggs {
		if err := r.eggs(enough, add); err != nil {
			return nil, err
		}
	}
	value := func(l Look) float64 {
		sum := 0.0
		for _, g := range l.Birds {
			sum += g.gain()
		}
		return sum / l.Cost
	}
	slices.SortStableFunc(all, func(a, b Look) int { return cmp.Compare(value(b), value(a)) })
	return all[:min(len(all), mostLines)], nil
}

// weekDay is the day of the coming week for looks: its first weekend day, as birds are looked at by daylight, unless
// the decision comes before that.
func (r *Result) weekDay() record.Day {
	on := r.Today + 1
	for d := r.Today + 1; d <= r.Today+weekDays; d++ {
		if w := d.Weekday(); w == time.Saturday || w == time.Sunday {
			on = d
			break
		}
	}
	if r.On > r.Today && on >= r.On {
		on = r.On - 1
	}
	return on
}

// weighing is what one more weighing on a day changes in the question whether the bird is inside its written weight.
func (r *Result) weighing(s Sheet, on record.Day) (Gain, bool) {
	at := slices.IndexFunc(s.Places, func(p standard.Place) bool { return p.OnTheDay })
	if at < 0 || s.Places[at].Refusal != nil || !s.Places[at].Band.Stated() || s.Places[at].Choice.Foreign {
		return Gain{}, false // a weighing does not answer what no figure asks
	}
	band := s.Places[at].Band
	cv := r.Standard.Error.CV
	var mean, sd, before float64
	if f := s.Ahead; f != nil && f.Refusal == nil && f.OnTheDay.Known() {
		mean, sd = moments(f.OnTheDay)
		before = min(sdOn(f.Fan, on, sd), sd)
	} else {
		grams, _ := band.Target()
		if !(grams > 0) {
			return Gain{}, false
		}
		// Nothing is known of this bird but its breed. Source: the spread of adult weights within a line in Keelmark's
		// simulations of growth, 12 %.
		const spread = 0.12
		mean, sd = math.Log(grams), math.Hypot(spread, cv)
		before = sd
	}
	g := Gain{Bird: s.Bird}
	g.Now, g.Then = afterWeighing(mean, sd, before, cv, math.Log(band.Low), math.Log(band.High))
	return g, true
}

// afterWeighing returns the chance of deciding wrongly whether a weighing on the day lies between low and high, without
// and with a weighing before. All are of log weight: the weighing on the day has the mean and SD given, one before the
// SD given, and each the error cv. The bird's true weight is taken to wander from the day before to the day
// independently of where it was, as a random walk does; where the two are tied closer, a weighing tells more than this.
func afterWeighing(mean, sd, before, cv, low, high float64) (now, then float64) {
	wrong := func(mean, sd float64) float64 {
		p := phi((high-mean)/sd) - phi((low-mean)/sd)
		return min(p, 1-p)
	}
	now = wrong(mean, sd)
	level := max(before*before-cv*cv, 0)
	if level == 0 || sd <= 0 {
		return now, now
	}
	learnt := level * level / (level + cv*cv) // variance of what will be believed of the mean
	rest := math.Sqrt(max(sd*sd-learnt, minVariance))
	const steps = 400 // results of the weighing, equally likely
	for i := range steps {
		then += wrong(mean+math.Sqrt(learnt)*probit((float64(i)+0.5)/steps), rest) / steps
	}
	return now, min(then, now)
}

// sdOn is the SD of a log weighing on a day, read off a fan of ranges between whose days it is drawn straight; otherwise
// where the fan does not reach.
func sdOn(fan []forecast.Step, on record.Day, otherwise float64) float64 {
	const wide = 2 * 1.6448536269514722 // between the ends of a 90 % range, in SD of a normal
	sd := func(s forecast.Step) float64 { return math.Log(s.High90/s.Low90) / wide }
	for i := 1; i < len(fan); i++ {
		a, b := fan[i-1], fan[i]
		if a.Day <= on && on <= b.Day && b.Day > a.Day {
			if f := float64(on-a.Day) / float64(b.Day-a.Day); a.Low90 > 0 && b.Low90 > 0 {
				return sd(a) + f*(sd(b)-sd(a))
			}
		}
	}
	return otherwise
}

func phi(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

func probit(p float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*p) }

// carries is the chance that a bird carries a parasite today, and how often a look would see it. It is false where a
// look found it last, which no look of this week opens again, and where it was looked at today.
func (r *Result) carries(bird, name string) (q, see float64, ok bool) {
	for _, j := range r.Treatment.Parasites {
		if j.Parasite != name || j.Carriers.Model == nil {
			continue
		}
		see = parasite.Sensitivity
		if j.Carriers.Model.Told {
			see = j.Carriers.Model.See.Value
		}
		for _, c := range j.Carriers.Birds {
			if c.Bird.ID == bird && c.Chance.Level > 0 {
				return c.Chance.Value, see, c.Last != r.Today
			}
		}
	}
	seen, found := 0, 0
	for _, h := range r.Parasites.Histories {
		if h.Parasite != name || h.Last == nil || !h.Seen {
			continue
		}
		if h.Bird.ID == bird {
			return 0, 0, false // seen lately, and no model to say how much that leaves open
		}
		seen++
		if h.Last.Finding == parasite.Found {
			found++
		}
	}
	if seen == 0 {
		return 0.5, parasite.Sensitivity, true // nobody looked: nothing is known
	}
	return (float64(found) + 0.5) / (float64(seen) + 1), parasite.Sensitivity, true // Jeffreys' estimate of the share
}

// afterLook returns the chance of deciding wrongly whether a bird carries a parasite, without and with a look that sees
// it with the chance see where it is there, and never where it is not.
func afterLook(q, see float64) (now, then float64) {
	none := 1 - q*see
	if none <= 0 {
		return min(q, 1-q), 0
	}
	still := q * (1 - see) / none
	return min(q, 1-q), none * min(still, 1-still)
}

// eggs looks at males and hens whose eggs were counted but are too few to say whether enough of them are fertile.
func (r *Result) eggs(enough float64, add func(what, question string, cost float64, gains []Gain)) error {
	for _, n := range []int{6, 12, 24} {
		var gains []Gain
		for _, s := range r.Sheets {
			t, ok := r.tally(s.Bird.ID)
			if !ok || t.Set == 0 {
				continue
			}
			a, b, err := betaOf(t)
			if err != nil {
				return err
			}
			best, bestPer := 0, 0.0
			var mine Gain
			for _, m := range []int{6, 12, 24} {
				now, then, err := afterEggs(a, b, m, enough)
				if err != nil {
					return err
				}
				if per := (now - then) / (costSetting + costEgg*float64(m)); per > bestPer {
					best, bestPer, mine = m, per, Gain{s.Bird, now, then}
				}
			}
			if best == n {
				gains = append(gains, mine)
			}
		}
		add(fmt.Sprintf("set %d eggs of", n), fmt.Sprintf("%.0f %% of eggs or more are fertile", 100*enough), costSetting+costEgg*float64(n), gains)
	}
	return nil
}

// tally is the eggs of one bird as a parent.
func (r *Result) tally(bird string) (fertility.Tally, bool) {
	for _, list := range [][]fertility.Tally{r.Fertility.Males, r.Fertility.Hens} {
		for _, t := range list {
			if t.Bird == bird {
				return t, true
			}
		}
	}
	return fertility.Tally{}, false
}

// betaOf is what is believed of a bird's fertile share, as a beta distribution: that of its shrunken interval where it
// stands beside others, else Jeffreys'.
func betaOf(t fertility.Tally) (a, b float64, err error) {
	a, b = float64(t.Fertile)+0.5, float64(t.Set-t.Fertile)+0.5
	if t.Shrunken.Level == 0 {
		return a, b, nil
	}
	z, err := stat.Multiplier(t.Shrunken.Level, math.Inf(1))
	if err != nil {
		return 0, 0, err
	}
	m, sd := t.Shrunken.Value, (t.Shrunken.High-t.Shrunken.Low)/(2*z)
	if size := m*(1-m)/(sd*sd) - 1; size > 0 && m > 0 && m < 1 {
		a, b = m*size, (1-m)*size
	}
	return a, b, nil
}

// afterEggs returns the chance of deciding wrongly whether a fertile share, believed to be Beta(a, b), reaches enough,
// without and with n more eggs, by adding up every count that they may show.
func afterEggs(a, b float64, n int, enough float64) (now, then float64, err error) {
	wrong := func(a, b float64) (float64, error) {
		share, err := stat.Beta(a, b)
		if err != nil {
			return 0, err
		}
		below, err := share.CDF(enough)
		return min(below, 1-below), err
	}
	if now, err = wrong(a, b); err != nil {
		return 0, 0, err
	}
	for k := range n + 1 {
		w, err := wrong(a+float64(k), b+float64(n-k))
		if err != nil {
			return 0, 0, err
		}
		then += math.Exp(logChoose(n, k)+logBeta(a+float64(k), b+float64(n-k))-logBeta(a, b)) * w
	}
	return now, min(then, now), nil
}

func logGamma(x float64) float64 { y, _ := math.Lgamma(x); return y }

func logBeta(a, b float64) float64 { return logGamma(a) + logGamma(b) - logGamma(a+b) }

func logChoose(n, k int) float64 {
	return logGamma(float64(n)+1) - logGamma(float64(k)+1) - logGamma(float64(n-k)+1)
}

// weekTable is the short list of the coming week.
func (r *Result) weekTable() analysis.Table {
	t := analysis.Table{Name: "week", Caption: "The looks of the coming week that would change most for what they cost", Columns: []analysis.Column{
		{Name: "on", Head: "day"}, {Name: "what", Head: "what to do"}, {Name: "question", Head: "question"},
		{Name: "now", Head: "wrong now", Doc: "of 100 such decisions, for each bird"}, {Name: "then", Head: "wrong after it", Doc: "of 100 such decisions, for each bird"},
		{Name: "cost", Head: "about", Unit: "minutes", Doc: "ours: 2 a bird, 20 a setting and 1 an egg"}, {Name: "birds", Head: "keys of the birds"},
	}}
	for _, l := range r.Week {
		var ids []string
		now, then := make([]float64, len(l.Birds)), make([]float64, len(l.Birds))
		for i, g := range l.Birds {
			ids, now[i], then[i] = append(ids, g.Bird.ID), g.Now, g.Then
		}
		t.Rows = append(t.Rows, []any{l.On.String(), l.Text(), l.Question, inHundred(now), inHundred(then), int(l.Cost), strings.Join(ids, " ")})
	}
	return t
}

// inHundred prints chances as "24 to 38 in 100".
func inHundred(p []float64) string {
	low, high := math.Round(100*slices.Min(p)), math.Round(100*slices.Max(p))
	if low == high {
		return fmt.Sprintf("%.0f in 100", low)
	}
	return fmt.Sprintf("%.0f to %.0f in 100", low, high)
}

package decision

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/forecast"
	"keelmark/analysis/standard"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

const (
	// LeastRanked birds of a line, each with an estimate, before it is said where one could stand among them.
	// Source: ours; of two birds, "1st or 2nd" says nothing.
	LeastRanked = 3
	rankLevel   = 0.9
	rankDraws   = 4000
)

// Rank is where a bird could stand among others: an interval of places, never a place.
type Rank struct {
	Bird      record.Bird
	By        string // "weight when grown", "fertile eggs"
	Of        int    // birds compared
	Low, High int    // places that 90 of 100 draws do not leave, 1 for the most
}

// String says "could be ranked 1st to 6th of 8".
func (k Rank) String() string {
	if k.Low == k.High {
		return fmt.Sprintf("could be ranked %s of %d", ordinal(k.Low), k.Of)
	}
	return fmt.Sprintf("could be ranked %s to %s of %d", ordinal(k.Low), ordinal(k.High), k.Of)
}

// contender is what is known of one bird of those compared.
type contender struct {
	bird     record.Bird
	mean, sd float64
	at       []record.Ref
	pool     []string
	shrunk   bool // the estimate is drawn towards the others already
}

// rank says for the birds of each line where they could stand by weight when grown, and for males and hens with eggs by
// their fertile share. Places are drawn from estimates shrunken towards the line, so that a single high value does not
// make a bird the first. The heaviest stands first, which says nothing of which is wanted.
//
// Source: Goldstein & Spiegelhalter 1996, J. R. Stat. Soc. A 159:385 (intervals of ranks by simulation).
func (r *Result) rank() error {
	lines := map[record.Line][]contender{}
	var order []record.Line
	for _, s := range r.Sheets {
		c, ok := r.grownWeight(s)
		if !ok {
			continue
		}
		line := s.Bird.Group()
		if len(lines[line]) == 0 {
			order = append(order, line)
		}
		lines[line] = append(lines[line], c)
	}
	for _, line := range order {
		if err := r.place(lines[line], "weight when grown", "weight", "the heaviest"); err != nil {
			return err
		}
	}
	if r.Fertility == nil {
		return nil
	}
	for _, sex := range []record.Sex{record.Male, record.Female} {
		var list []contender
		for _, s := range r.Sheets {
			t, ok := r.tally(s.Bird.ID)
			if !ok || s.Bird.Sex != sex || t.Shrunken.Level == 0 {
				continue
			}
			z, err := stat.Multiplier(t.Shrunken.Level, math.Inf(1))
			if err != nil {
				return err
			}
			c := contender{bird: s.Bird, mean: t.Shrunken.Value, sd: (t.Shrunken.High - t.Shrunken.Low) / (2 * z), shrunk: true}
			for _, setting := range t.Settings {
				c.at = append(c.at, setting.At...)
			}
			list = append(list, c)
		}
		if err := r.place(list, "share of fertile eggs", "fertility", "the highest"); err != nil {
			return err
		}
	}
	return nil
}

// grownWeight is the log of a bird's weight when grown: foreseen for one that grows, its own level for one that is grown.
func (r *Result) grownWeight(s Sheet) (contender, bool) {
	f := s.Ahead
	if f == nil || f.Refusal != nil || s.Bird.Sex == "" || s.Bird.Breed == "" {
		return contender{}, false
	}
	c := contender{bird: s.Bird}
	for _, w := range f.Weighings {
		c.at = append(c.at, w.From.At)
	}
	switch {
	case f.Kind == forecast.Grown:
		mean, sd := moments(f.OnTheDay)
		c.mean, c.sd = mean, math.Sqrt(max(sd*sd-r.Forecast.Error.CV*r.Forecast.Error.CV, minVariance))
	case f.MatureRefusal == nil && f.WhenGrown.Known():
		c.mean, c.sd = moments(f.WhenGrown)
		c.shrunk = true
		for _, claim := range s.Claims { // what is foreseen of it leans on its line
			if claim.ID == "forecast.mature/"+s.Bird.ID {
				c.pool = claim.Pool
			}
		}
	default:
		return contender{}, false
	}
	return c, c.sd > 0 && !math.IsNaN(c.mean)
}

// minVariance of a log weight is a tenth of a percent squared: no level is known better.
const minVariance = 1e-6

// moments are the mean and SD of the log weight.
func moments(p standard.Predictive) (mean, sd float64) {
	var w, m, q float64
	for _, part := range p.Parts {
		if part.Weight > 0 {
			w += part.Weight
			m += part.Weight * part.Mean
			q += part.Weight * (part.SD*part.SD + part.Mean*part.Mean)
		}
	}
	if w == 0 {
		return math.NaN(), math.NaN()
	}
	return m / w, math.Sqrt(max(q/w-m/w*m/w, 0))
}

// place draws the places of birds and adds a claim to each bird's sheet.
func (r *Result) place(list []contender, by, topic, order string) error {
	if len(list) < LeastRanked {
		return nil
	}
	ranks, reliable, err := rankIntervals(list)
	if err != nil {
		return err
	}
	var at []record.Ref
	var pool []string
	for _, c := range list {
		at, pool = append(at, c.at...), append(pool, c.pool...)
	}
	slices.SortFunc(at, record.Ref.Compare)
	slices.Sort(pool)
	at, pool = slices.Compact(at), slices.Compact(pool)
	for i, c := range list {
		k := Rank{c.bird, by, len(list), ranks[i][0], ranks[i][1]}
		r.Ranks = append(r.Ranks, k)
		claim := analysis.Claim{ID: "decision.rank/" + c.bird.ID + "/" + topic, Subject: analysis.Subject{Bird: c.bird.ID}, Topic: topic, Stands: analysis.Open,
			Text: fmt.Sprintf("%s %s birds of its sex%s by %s, in 90 of 100 draws from what the records leave open; 1st is %s, and a place says nothing of which bird is wanted.",
				c.bird.Label(), k, ofLine(topic), by, order),
			N: analysis.Counts{Records: len(at), Birds: len(list)}, RestsOn: at, Pool: pool,
			Method: fmt.Sprintf("%d draws from estimates shrunken towards the mean of the birds compared; 90 of 100 draws leave these places out on neither side", rankDraws),
			Source: "Goldstein & Spiegelhalter 1996"}
		if reliable < 0.9 {
			claim.Caveats = []string{fmt.Sprintf("about %.0f %% of the spread between these birds is between birds, the rest is not knowing", 100*reliable)}
		}
		for j := range r.Sheets {
			if r.Sheets[j].Bird.ID == c.bird.ID {
				r.Sheets[j].Claims = append(r.Sheets[j].Claims, claim)
			}
		}
	}
	return nil
}

func ofLine(topic string) string {
	if topic == "weight" {
		return " and line"
	}
	return ""
}

// rankIntervals returns the places of each, from and to, and the share of the spread that is between birds. The same
// birds get the same places in every run.
func rankIntervals(list []contender) (ranks [][2]int, reliable float64, err error) {
	means, vars := make([]float64, len(list)), make([]float64, len(list))
	for i, c := range list {
		means[i], vars[i] = c.mean, max(c.sd*c.sd, minVariance)
	}
	z, err := stat.Multiplier(rankLevel, math.Inf(1))
	if err != nil {
		return nil, 0, err
	}
	pooled, err := stat.Pool(means, vars, stat.PauleMandel, rankLevel)
	if err != nil {
		return nil, 0, err
	}
	typical := 0.0
	for i, c := range list {
		typical += vars[i] / float64(len(list))
		if !c.shrunk {
			s := pooled.Shrunken[i]
			means[i], vars[i] = s.Value, math.Pow((s.High-s.Low)/(2*z), 2)
		}
	}
	draws := rand.New(rand.NewPCG(1996, 159)) // any fixed numbers: the same birds, the same places
	places := make([][]int, len(list))
	values, order := make([]float64, len(list)), make([]int, len(list))
	for range rankDraws {
		for i := range list {
			values[i], order[i] = means[i]+math.Sqrt(vars[i])*draws.NormFloat64(), i
		}
		slices.SortFunc(order, func(a, b int) int {
			if values[a] > values[b] {
				return -1
			}
			return 1
		})
		for place, i := range order {
			places[i] = append(places[i], place+1)
		}
	}
	ranks = make([][2]int, len(list))
	for i, p := range places {
		slices.Sort(p)
		cut := int((1 - rankLevel) / 2 * rankDraws)
		ranks[i] = [2]int{p[cut], p[len(p)-1-cut]}
	}
	return ranks, pooled.Tau2 / (pooled.Tau2 + typical), nil
}

func ordinal(n int) string {
	end := "th"
	switch {
	case n/10%10 == 1:
	case n%10 == 1:
		end = "st"
	case n%10 == 2:
		end = "nd"
	case n%10 == 3:
		end = "rd"
	}
	return fmt.Sprint(n) + end
}

// rankTable lists the places in the order of rings, never of places.
func (r *Result) rankTable() analysis.Table {
	t := analysis.Table{Name: "ranks", Caption: "Where birds could stand among each other; in the order of rings", Columns: []analysis.Column{
		{Name: "id", Head: "key"}, {Name: "bird", Head: "bird"}, {Name: "by", Head: "by"}, {Name: "places", Head: "places"},
	}}
	for _, s := range r.Sheets {
		for _, k := range r.Ranks {
			if k.Bird.ID == s.Bird.ID {
				t.Rows = append(t.Rows, []any{s.Bird.ID, s.Bird.Label(), k.By, k.String()})
			}
		}
	}
	return t
}

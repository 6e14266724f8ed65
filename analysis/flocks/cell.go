package flocks

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// Measure is what a cell counts.
type Measure string

// The measures. Each is a ratio X/N; what is counted in X, in N, and what one cluster is, stands beside it.
const (
	Effort    Measure = "effort"    // looks for parasites / bird-months; cluster: bird
	Lice      Measure = "lice"      // looks that found lice / looks; cluster: two months, as an outbreak lasts that long and all birds share it
	Mites     Measure = "mites"     // the same for mites that live on birds
	Weight    Measure = "weight"    // percent of the listed weight of the class / birds from 24 weeks; cluster: bird
	Growth    Measure = "growth"    // logarithm of weight in grams / birds below 24 weeks, by age; cluster: bird
	Condition Measure = "condition" // birds in the good third of their scale / birds scored; cluster: bird
	Fertile   Measure = "fertile"   // eggs not clear / eggs set; cluster: setting
	Verified  Measure = "verified"  // treatments with a look 14 to 28 days later / treatments; cluster: treatment
	Treated   Measure = "treated"   // birds treated against lice or mites, each time / bird-months; cluster: treatment
	HatchDay  Measure = "hatch day" // birds with a known hatch date / birds; cluster: bird
)

// Measures lists them in printing order.
func Measures() []Measure {
	return []Measure{Effort, Lice, Mites, Weight, Growth, Condition, Fertile, Verified, Treated, HatchDay}
}

// share reports whether X counts members of N.
func (m Measure) share() bool {
	return slices.Contains([]Measure{Lice, Mites, Condition, Fertile, Verified, HatchDay}, m)
}

// Stratum is what is allowed for. An empty field is not known, or not told apart at this level.
type Stratum struct {
	Size   record.Size `json:"size,omitempty"`
	Sex    record.Sex  `json:"sex,omitempty"`
	Age    string      `json:"age,omitempty"`    // "growing", "young", "adult", or for Growth two weeks of age: "week 05-06"
	Season int         `json:"season,omitempty"` // 1 to 6: two months each, from local midsummer on; 0 not told apart
}

// Half is half a calendar year: the period of a summary. Source: ours; complete halves only are released, so that two
// releases never cover parts of one period.
type Half struct {
	Year   int `json:"year"`
	Second int `json:"second"` // 0 January to June, 1 July to December
}

// HalfOf returns the half year of a day.
func HalfOf(d record.Day) Half {
	y, m, _ := d.Date()
	h := Half{Year: y}
	if m > 6 {
		h.Second = 1
	}
	return h
}

// Before orders halves.
func (h Half) Before(o Half) bool { return h.Year*2+h.Second < o.Year*2+o.Second }

// String is "2025-H1".
func (h Half) String() string { return fmt.Sprintf("%d-H%d", h.Year, h.Second+1) }

// Key says which cells may be added: the same measure on the same scale.
type Key struct {
	Measure Measure `json:"measure"`
	Scale   string  `json:"scale,omitempty"` // for Condition: "0-3 high-good"; for Weight: the standard; else empty
	Half    Half    `json:"half"`
}

// Cell holds the sums of one stratum, or of all strata of a key. X of Weight is rounded to a tenth, of Growth to a
// thousandth, in whole records as in released ones, so that no single weight can be worked out of a sum.
type Cell struct {
	Key
	Stratum
	Birds    int     `json:"birds"` // different birds behind it
	Clusters int     `json:"clusters,omitempty"`
	N        float64 `json:"n"`
	X        float64 `json:"x"`
	// Spread, of totals only, is how much clusters vary: for shares, how many times more than independent members would, to one
	// decimal; for Weight and Growth, the variance between birds, to two digits. 0 below 3 clusters. It is as coarse as that so
	// that counts of single days or birds cannot be worked out of it, which sums of squares would allow.
	Spread float64 `json:"spread,omitempty"`
}

// Rate is X/N; NaN where nothing was counted.
func (c Cell) Rate() float64 {
	if c.N == 0 {
		return math.NaN()
	}
	return c.X / c.N
}

// add sums two cells; birds are added too, so that the sum counts a bird once for each cell.
func (c *Cell) add(o Cell) {
	c.Birds += o.Birds
	c.Clusters += o.Clusters
	c.N += o.N
	c.X += o.X
}

// spreadOf is Spread of clusters with counts n and x, made of sums of n, x, n², xn and x².
//
// Source: linearised variance of a ratio, Cochran 1977, Sampling Techniques, eq. 6.13, without finite population correction; over
// the binomial variance it is the design effect of Kish 1965, Survey Sampling, section 8.2 (from memory).
func spreadOf(m Measure, clusters, n, x, nn, xn, xx float64) float64 {
	if clusters < 3 || n == 0 {
		return 0
	}
	rate := x / n
	variance := clusters / (clusters - 1) * max(0, xx-2*rate*xn+rate*rate*nn) / n // of one member
	switch {
	case !m.share():
		return twoDigits(variance)
	case rate <= 0 || rate >= 1:
		return 0
	}
	return math.Round(10*variance/(rate*(1-rate))) / 10
}

func twoDigits(x float64) float64 {
	if x <= 0 {
		return 0
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 1, 64), 64)
	if err != nil {
		return 0
	}
	return rounded
}

// rounded is X as it is kept.
func (m Measure) rounded(x float64) float64 {
	switch m {
	case Weight:
		return math.Round(x*10) / 10
	case Growth:
		return math.Round(x*1000) / 1000
	}
	return x
}

func (k Key) compare(o Key) int {
	return cmp.Or(cmp.Compare(slices.Index(Measures(), k.Measure), slices.Index(Measures(), o.Measure)), strings.Compare(k.Scale, o.Scale),
		cmp.Compare(k.Half.Year*2+k.Half.Second, o.Half.Year*2+o.Half.Second))
}

func (s Stratum) compare(o Stratum) int {
	return cmp.Or(strings.Compare(string(s.Size), string(o.Size)), strings.Compare(string(s.Sex), string(o.Sex)), strings.Compare(s.Age, o.Age), cmp.Compare(s.Season, o.Season))
}

// levels are the ways to tell strata apart, finest first. A released summary uses one for each key.
func levels() []func(Stratum) Stratum {
	return []func(Stratum) Stratum{
		func(s Stratum) Stratum { return s },
		func(s Stratum) Stratum { s.Sex = ""; return s },
		func(s Stratum) Stratum { return Stratum{Age: s.Age, Season: s.Season} },
		func(s Stratum) Stratum { return Stratum{Age: s.Age} },
		func(s Stratum) Stratum { return Stratum{Season: s.Season} },
	}
}

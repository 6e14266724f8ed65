package growth

import (
	"fmt"
	"math"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/fit"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// method is how curves are fitted in one run.
type method struct {
	family Family
	errors fit.Errors
	robust fit.Robust
	level  float64
	today  record.Day
	shapes []method    // other shapes of the same curve; nil where the shape is taken as given
	quick  *fit.Series // finds most minima cheaply; nil for families without derivatives
}

// newMethod prepares the quick path where the family allows it.
func newMethod(f Family, errors fit.Errors, robust fit.Robust, level float64) (method, error) {
	m := method{family: f, errors: errors, robust: robust, level: level}
	if f.Gradient == nil || len(f.Params) > fit.MostSeriesParams || robust != fit.NotRobust {
		return m, nil
	}
	var err error
	m.quick, err = fit.NewSeries(func(p []float64, age float64, gradient []float64) float64 {
		w := f.Weight(p, age)
		f.Gradient(p, age, gradient)
		if errors != fit.LogNormal {
			return w
		}
		for i := range gradient {
			gradient[i] /= w
		}
		return math.Log(w)
	}, len(f.Params))
	return m, err
}

// bird fits the curve of one bird, or refuses it.
func (m method) bird(c *Curve) {
	c.Family, c.Errors, c.today = m.family, m.errors, m.today
	if len(c.Points) == 0 {
		c.refuseUnaged()
		return
	}
	if pair := c.suspect(); pair != nil {
		c.refuse(TwoBirds, fmt.Sprintf("two weighings on one day differ too much to be of one bird: %s and %s",
			pair[0].From.At, pair[1].From.At), "one weighing a day for each ring",
			"look at the ring and correct the one that belongs to another bird")
		return
	}
	if n := c.counts().Dates; n < MinWeights {
		c.refuse(TooFewWeights, fmt.Sprintf("a curve of one bird needs weighings on %d days of age and there %s", MinWeights, areDays(n)),
			fmt.Sprintf("%d more", MinWeights-n), "weigh it again, at least a week apart")
		return
	}
	if c.noGrowth() || !m.fit(c, nil) {
		return
	}
	m.judge(c, nil)
}

// pooled fits one curve through many birds, or through samples that name none.
func (m method) pooled(c *Curve) {
	c.Family, c.Errors, c.today = m.family, m.errors, m.today
	if len(c.Points) == 0 {
		c.refuseUnaged()
		return
	}
	groups, what := c.groups()
	n := len(slices.Compact(slices.Sorted(slices.Values(groups))))
	need := max(MinPooled, len(m.family.Params)+1)
	if n < need {
		c.refuse(TooFewPooled, fmt.Sprintf("a pooled curve needs %d %s and there %s", need, what, are(n, what)),
			fmt.Sprintf("%d more %s", need-n, what), "weigh more "+what)
		return
	}
	if days := c.counts().Dates; days <= len(m.family.Params) {
		c.refuse(TooFewWeights, fmt.Sprintf("a pooled curve needs weighings on %d days of age and there %s", len(m.family.Params)+1, areDays(days)),
			"more days of age", "weigh again, at least a week apart")
		return
	}
	if c.noGrowth() || !m.fit(c, groups) {
		return
	}
	m.judge(c, groups)
	if c.Of != OfLine || c.Refusal != nil {
		return
	}
	followed := c.followed(MinLineDays)
	switch {
	case c.Line.Sex == "":
		c.refuse(SexUnknown, "the sex of these birds is not stated, and males and females grow to different weights",
			"the sex of each bird", "write M or F beside each bird")
	case followed < MinLineBirds:
		c.refuse(ThinLine, fmt.Sprintf("a line's mature weight needs %d birds of one sex weighed at %d weeks or older and there %s",
			MinLineBirds, MinLineDays/7, are(followed, "birds")),
			fmt.Sprintf("%d more birds weighed at %d weeks or older", MinLineBirds-followed, MinLineDays/7),
			fmt.Sprintf("weigh every bird of the line at %d weeks", MinLineDays/7))
	}
	if c.Refusal != nil {
		c.Derived, c.Mature = nil, Estimate{}
	}
}

// groups labels each point by what goes together: the bird, or the day of a sample that names no bird.
func (c *Curve) groups() (labels []string, what string) {
	for _, p := range c.Points {
		if c.Of == OfLine {
			labels = append(labels, p.Bird)
		} else {
			labels = append(labels, fmt.Sprint(p.Age))
		}
	}
	if c.Of == OfLine {
		return labels, "birds"
	}
	return labels, "days of weighing"
}

// followed counts the birds weighed at an age or older.
func (c *Curve) followed(age float64) int {
	seen := make(map[string]bool)
	for _, p := range c.Points {
		if p.Age >= age {
			seen[p.Bird] = true
		}
	}
	return len(seen)
}

func (c *Curve) noGrowth() bool {
	low, high := c.Points[0].Weight, c.Points[0].Weight
	for _, p := range c.Points {
		low, high = min(low, p.Weight), max(high, p.Weight)
	}
	if high >= MinGrowth*low {
		return false
	}
	c.refuse(NoGrowthSeen, fmt.Sprintf("the weighings show no growth: the heaviest is less than %.0f %% above the lightest", 100*(MinGrowth-1)),
		"weighings from the time of growth", "nothing for this bird; weigh the next hatch from two weeks on")
	return true
}

// fit fills the parameters of a curve; groups is nil for one bird. It returns false where there is no curve.
func (m method) fit(c *Curve, groups []string) bool {
	ages, weights := c.series()
	r, err := m.curve(ages, weights)
	if err != nil {
		c.refuse(NoCurve, "no "+m.family.Title+" curve runs through these weighings ("+err.Error()+")",
			"more weighings while the bird grows", c.weighLater())
		return false
	}
	if r.Status != fit.Converged {
		c.refuse(NoCurve, "the weighings end before they bend towards a mature weight: "+r.Status.String(),
			"weighings nearer to maturity", c.weighLater())
		return false
	}
	c.fit = r
	cov, df := r.Cov, r.DF
	if groups != nil {
		if c.clustered, err = r.Cluster(groups); err != nil {
			c.refuse(NoCurve, err.Error(), "more birds", "weigh more birds")
			return false
		}
		cov, df = c.clustered.Cov, min(df, c.clustered.DF)
	}
	t, err := stat.Multiplier(m.level, float64(df))
	if err != nil {
		c.refuse(NoCurve, err.Error(), "more weighings", c.weighLater())
		return false
	}
	c.Sigma, c.values, c.level = r.Sigma, r.Params, m.level
	for i, p := range m.family.Params {
		se := math.Sqrt(cov[i][i])
		if math.IsNaN(se) { // it ended on a bound of its family, and the others' errors take it for certain
			se = 0
			c.onEdge = append(c.onEdge, p.Text)
		}
		c.Params = append(c.Params, interval(p, r.Params[i], se, t, m.level))
	}
	_, last := c.Ages()
	c.Maturity = c.Weight(last) / r.Params[0]
	return true
}

// series are the ages and weights of the points.
func (c *Curve) series() (ages, weights []float64) {
	ages, weights = make([]float64, len(c.Points)), make([]float64, len(c.Points))
	for i, p := range c.Points {
		ages[i], weights[i] = p.Age, p.Weight
	}
	return ages, weights
}

// curve fits the family to weighings; an error says why it cannot.
func (m method) curve(ages, weights []float64) (*fit.Result, error) {
	f := m.family
	p := fit.Problem{
		Model: func(b, x []float64) float64 { return f.Weight(b, x[0]) },
		X:     fit.Column(ages), Y: weights, Start: f.start(ages, weights), Lower: f.lower, Upper: f.upper,
		Errors: m.errors, Robust: m.robust,
	}
	if f.Gradient != nil {
		p.Gradient = func(b, x, out []float64) { f.Gradient(b, x[0], out) }
	}
	for _, q := range f.Params {
		p.Names = append(p.Names, q.Name)
	}
	if m.quick != nil && m.findQuick(ages, weights, p.Start) {
		near := p
		near.Start = slices.Clone(m.quick.Params)
		if r, err := fit.Refine(near); err == nil && r.Status == fit.Converged {
			return r, nil
		}
	}
	return fit.LeastSquares(p)
}

// findQuick looks for the minimum by the quick path, whose fields then hold it; false where it does not find one.
func (m method) findQuick(ages, weights, start []float64) bool {
	y := weights
	if m.errors == fit.LogNormal {
		y = make([]float64, len(weights))
		for i, w := range weights {
			y[i] = math.Log(w)
		}
	}
	return m.quick.Fit(ages, y, start) == fit.Converged && within(m.quick.Params, m.family.lower, m.family.upper)
}

func within(p, lower, upper []float64) bool {
	for i, b := range p {
		if b <= lower[i] || b >= upper[i] {
			return false
		}
	}
	return true
}

// judge refuses what a fitted curve may not claim, and derives what it may.
func (m method) judge(c *Curve, groups []string) {
	heaviest := 0.0
	for _, p := range c.Points {
		heaviest = max(heaviest, p.Weight)
	}
	mature := c.Params[0]
	_, last := c.Ages()
	switch {
	case mature.Value >= MaxAsymptote*heaviest:
		c.refuse(WildAsymptote, fmt.Sprintf("the curve runs off to %d times the heaviest weighing or more: the weighings end before growth slows", MaxAsymptote),
			"weighings nearer to maturity", c.weighLater())
		c.Params = nil
	case m.loose(c) != "":
		c.refuse(LooseEstimate, "the "+m.loose(c)+" of the curve is known no better than plus or minus itself",
			"more weighings, and nearer to maturity", c.weighLater())
		c.Params = nil
	case c.Maturity < MinMaturity:
		c.refuse(Immature, fmt.Sprintf("the last weighing stands at about %.0f %% of the fitted mature weight, and below %.0f %% such a curve misses it widely",
			100*c.Maturity, 100*MinMaturity), "weighings nearer to maturity", c.weighLater())
	case last < MinMatureAge:
		c.refuse(TooYoung, fmt.Sprintf("the last weighing is at %s, and a curve that levels off before %d weeks shows a check in growth rather than maturity",
			ageText(last), MinMatureAge/7), "weighings nearer to maturity", c.weighLater())
	default:
		c.Mature = mature
		if m.shapes != nil {
			m.openShape(c, groups, heaviest)
		}
	}
	if c.Refusal == nil {
		m.derive(c)
	}
}

// loose names the parameter whose standard error exceeds it, among those that are sizes; a place on the age
// axis or a shape may well be near zero.
func (m method) loose(c *Curve) string {
	for _, p := range c.Params {
		if (p.Name == matureWeight.Name || p.Name == rate.Name) && p.SE > MaxRelativeSE*p.Value {
			return p.Text
		}
	}
	return ""
}

// derive computes the quantities that a keeper asks for. One that has no finite standard error is left out.
func (m method) derive(c *Curve) {
	f := m.family
	add := func(p Parameter, h func([]float64) float64) {
		var value, se float64
		var err error
		df := c.fit.DF
		if c.clustered != nil {
			df = min(df, c.clustered.DF)
			value, se, err = c.clustered.Delta(h)
		} else {
			value, se, err = c.fit.Delta(h)
		}
		if err != nil {
			return
		}
		if t, err := stat.Multiplier(m.level, float64(df)); err == nil {
			c.Derived = append(c.Derived, interval(p, value, se, t, m.level))
		}
	}
	if _, _, ok := f.Inflection(c.values); ok {
		add(Parameter{InflectionWeight, "weight at fastest growth", "g"}, func(b []float64) float64 {
			_, w, _ := f.Inflection(b)
			return w
		})
		add(Parameter{GreatestGain, "greatest daily gain", "g/d"}, func(b []float64) float64 {
			age, _, _ := f.Inflection(b)
			return f.Gain(b, age)
		})
	}
	add(Parameter{AgeHalf, "age at half the mature weight", "d"}, func(b []float64) float64 { return f.AgeAt(b, 0.5) })
	add(Parameter{AgeMost, "age at 95 % of the mature weight", "d"}, func(b []float64) float64 { return f.AgeAt(b, 0.95) })
}

// interval is t standard errors either way; of a positive size on the log scale, where it cannot cross zero.
func interval(p Parameter, value, se, t, level float64) Estimate {
	e := Estimate{p, value, se, value - t*se, value + t*se, level}
	if (p.Unit == "g" || p.Unit == "g/d" || p.Unit == "1/d") && value > 0 {
		factor := math.Exp(t * se / value)
		e.Low, e.High = value/factor, value*factor
	}
	return e
}

func (c *Curve) refuse(rule Rule, text, needs, next string) {
	c.Refusal = &Refusal{Rule: rule, Text: text, Refusal: analysis.Refusal{Needs: needs, Next: next}}
}

// refuseUnaged refuses a curve of which no weighing could be placed on the axis of age.
func (c *Curve) refuseUnaged() {
	unknown, loosely := c.leftOut(ageUnknown), c.leftOut(ageLoose)
	switch {
	case unknown+loosely > 0 && unknown >= loosely:
		c.refuse(NoAge, "the age at weighing is not known", "the hatch date, or the age beside each weighing",
			"write the hatch date, to the week if possible")
	case loosely > 0:
		c.refuse(NoAge, fmt.Sprintf("the hatch date is known too loosely to say the age within %d days", MaxAgeSpan),
			"the hatch date to the week", "look up the setting or hatch date")
	case c.leftOut(waiting) > 0:
		c.refuse(TooFewWeights, c.noneUsed(), "the keeper's word on the weighings that are asked about", "confirm or correct the weighings that are asked about")
	case c.leftOut(afterGrowth) > 0:
		c.refuse(TooFewWeights, c.noneUsed(), "weighings from the time of growth", "nothing for this bird; weigh the next hatch from two weeks on")
	default:
		c.refuse(TooFewWeights, c.noneUsed(), "weighings from the time of growth", "weigh it again")
	}
}

// noneUsed says why: "none of its 5 weighings can be used (5 after growth)".
func (c *Curve) noneUsed() string {
	return fmt.Sprintf("none of its %s can be used (%s)", analysis.Counted(len(c.LeftOut), "weighing"), c.whyLeftOut())
}

// weighLater is the cheapest next look: four weeks past the last weighing, on a date where one is known.
func (c *Curve) weighLater() string {
	last := c.Points[len(c.Points)-1]
	if last.From.On.Known() && c.Of == OfBird {
		if due := last.From.On.Last + SolidDays; due > c.today {
			return "weigh it on or after " + due.String()
		}
		return "weigh it now"
	}
	return fmt.Sprintf("weigh again at %.0f days of age or later", last.Age+SolidDays)
}

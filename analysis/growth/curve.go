package growth

import (
	"fmt"
	"math"

	"keelmark/analysis"
	"keelmark/analysis/fit"
	"keelmark/ingest/record"
)

// Kind says whose weighings a curve runs through.
type Kind string

// The kinds of curve.
const (
	OfBird  Kind = "bird"  // one bird
	OfLine  Kind = "line"  // all birds of one line and sex, pooled
	OfPen   Kind = "pen"   // weighings of a pen that name no bird
	OfFlock Kind = "flock" // weighings of the flock that name no bird
)

// Curve is the growth of one bird, line, pen or flock: the weighings used, the curve through them where one
// can be told, and what refuses to be told.
type Curve struct {
	Of      Kind
	Key     string           // Bird.ID, Line.String(), pen or flock name; unique within its kind
	Label   string           // for figures and sentences
	Subject analysis.Subject //
	Line    record.Line      // of a bird or line
	Family  Family
	Points  []Point   // weighings used, by age
	LeftOut []LeftOut // weighings not used, and why
	Birds   int       // how many birds the points name; 0 where they name none

	// Params are the estimates in the order of Family.Params; empty where there is no curve, and where its
	// estimates are wild or loose (Weight, Gain and Band then still describe the ages seen).
	Params []Estimate
	Sigma  float64 // scatter of single weighings: SD of log weight, or grams with Additive errors
	Errors fit.Errors
	// Mature is the mature weight to state: of a Gompertz curve with its shape left open (ShapeOpen), so wider
	// than the parameter and not quite at its value. Zero where Refusal is set.
	Mature    Estimate
	ShapeOpen bool
	// Derived are quantities of the curve with intervals that take its shape for certain; those that cannot
	// be told are left out. Empty where Refusal is set.
	Derived []Estimate
	// Maturity is the fitted weight at the last weighing as a share of the fitted mature weight.
	Maturity float64
	// Refusal says why nothing beyond the weighings themselves may be claimed from this curve. A curve may
	// still be there: it then describes the ages seen and no others.
	Refusal *Refusal

	level     float64
	today     record.Day
	values    []float64 // of the parameters
	onEdge    []string  // parameters that ended on a bound
	fit       *fit.Result
	clustered *fit.Clustered
}

// Point is one weighing of a curve.
type Point struct {
	Age    float64 // days
	Weight float64 // grams
	Bird   string  // Bird.ID or ""
	Span   float64 // days: width of the interval that Age is the middle of
	From   record.Observation
}

// LeftOut is a weighing that a curve does not use.
type LeftOut struct {
	From record.Observation
	Why  string
}

// Estimate is a quantity of a curve with its standard error and interval.
type Estimate struct {
	Parameter
	Value, SE float64 // SE on the scale of Value
	Low, High float64
	Level     float64
}

// The names of derived quantities, as Derived and the tables carry them.
const (
	InflectionWeight = "inflection_weight"
	GreatestGain     = "greatest_gain"
	AgeHalf          = "age_50"
	AgeMost          = "age_95"
)

// Fitted reports whether there is a curve at all: within the ages seen Weight, Gain and Band then have an answer.
func (c *Curve) Fitted() bool { return len(c.values) > 0 }

// Told reports whether the curve supports claims beyond the ages seen.
func (c *Curve) Told() bool { return c.Fitted() && c.Refusal == nil }

// Quantity finds a parameter or derived quantity by its name, such as "mature_weight".
func (c *Curve) Quantity(name string) (Estimate, bool) {
	for _, list := range [][]Estimate{c.Params, c.Derived} {
		for _, e := range list {
			if e.Name == name {
				return e, true
			}
		}
	}
	return Estimate{}, false
}

// Weight is the fitted weight [g] at an age [d]: the median of weighings with log-normal errors. It is NaN
// where there is no curve.
func (c *Curve) Weight(age float64) float64 {
	if !c.Fitted() {
		return math.NaN()
	}
	return c.Family.Weight(c.values, age)
}

// Gain is the fitted daily gain [g/d] at an age [d]; NaN where there is no curve.
func (c *Curve) Gain(age float64) float64 {
	if !c.Fitted() {
		return math.NaN()
	}
	return c.Family.Gain(c.values, age)
}

// Ages returns the first and last age [d] of the points; 0, 0 without points.
func (c *Curve) Ages() (first, last float64) {
	if len(c.Points) == 0 {
		return 0, 0
	}
	return c.Points[0].Age, c.Points[len(c.Points)-1].Age
}

// SolidDays is how far past the last weighing a curve may be drawn as a solid line; beyond, it is dashed.
// Source: Keelmark's own rule: four weeks.
const SolidDays = 28

// Solid reports whether an age lies within the weighings or at most SolidDays past the last.
func (c *Curve) Solid(age float64) bool {
	first, last := c.Ages()
	return len(c.Points) > 0 && age >= first && age <= last+SolidDays
}

// Band is the curve at one age, in grams: the curve's own interval, and the wider one of a single weighing with
// weighing error in it (for a pooled curve also the spread between birds).
type Band struct {
	Age                 float64
	Weight              float64
	CurveLow, CurveHigh float64
	Low, High           float64 // of a single weighing
	Level               float64
}

// Band returns the prediction band at an age [d]. level lies between 0 and 1. Parameter uncertainty is that of
// the linear approximation; a pooled curve takes weighings of one bird (or of one day, where they name no
// bird) as going together. It takes the family's shape for certain: past the ages seen that is too narrow (see
// Mature). It returns an error where there is no curve or the level is not a chance.
//
// Source: Bates & Watts 1988, Nonlinear Regression Analysis and Its Applications, section 2.3.2; clustered
// covariance Liang & Zeger 1986, Biometrika 73:13.
func (c *Curve) Band(age, level float64) (Band, error) {
	if !c.Fitted() {
		return Band{}, fmt.Errorf("%s has no growth curve: %s", c.Label, c.Refusal.Text)
	}
	p, err := c.fit.Predict([]float64{age}, level, c.clustered)
	if err != nil {
		return Band{}, fmt.Errorf("growth band of %s at %v days: %w", c.Label, age, err)
	}
	return Band{age, p.Value, max(0, p.Curve.Low), p.Curve.High, max(0, p.Next.Low), p.Next.High, level}, nil
}

// refs are the cells of the points.
func (c *Curve) refs() []record.Ref {
	obs := make([]record.Observation, len(c.Points))
	for i, p := range c.Points {
		obs[i] = p.From
	}
	return analysis.Refs(obs)
}

// counts is what the curve rests on.
func (c *Curve) counts() analysis.Counts {
	days := make(map[float64]bool)
	for _, p := range c.Points {
		days[p.Age] = true
	}
	return analysis.Counts{Records: len(c.Points), Birds: c.Birds, Dates: len(days)}
}

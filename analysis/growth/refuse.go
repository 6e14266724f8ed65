package growth

import "keelmark/analysis"

// The limits of what a curve may claim. Each is crossed both ways by a test.
//
// Source: Keelmark's own simulations of layer-like growth with 3 % weighing error: an individual curve fitted
// alone misses adult weight by 38 % (90th percentile) at 57 % maturity and by 14 % at 75 %; the limits on lines
// and the others are Keelmark's own rules.
const (
	// MinWeights is the fewest weighings, on different days of age, for a curve of one bird.
	MinWeights = 5
	// MinMaturity is the fitted share of mature weight that the last weighing must have reached.
	MinMaturity = 0.75
	// MinMatureAge is the youngest age [d] at the last weighing at which levelling off may be maturity.
	// Source: common practice, no source: twelve weeks; layer-like birds are then about 57 % grown.
	MinMatureAge = 12 * 7
	// MaxAsymptote is how many times the heaviest weighing a mature weight may be.
	MaxAsymptote = 5
	// MaxRelativeSE is the largest standard error of mature weight and rate beside the estimate.
	MaxRelativeSE = 1
	// MinGrowth is how much heavier the heaviest weighing must be than the lightest for growth to show.
	MinGrowth = 1.25
	// MaxAgeSpan is how many days wide the interval of a bird's age may be.
	MaxAgeSpan = 14
	// MaxSameDayRatio is how far apart two weighings of one bird on one day may lie before they look like
	// two birds.
	MaxSameDayRatio = 1.25
	// MinPooled is the fewest birds (days, where weighings name no bird) for a pooled curve: one more than
	// the parameters of a three-parameter curve.
	MinPooled = 4
	// MinLineBirds is the fewest birds of one line and sex, followed for at least MinLineDays, for a claim
	// about the line's mature weight.
	MinLineBirds = 8
	MinLineDays  = 24 * 7
)

// Rule names what refused.
type Rule string

// The rules.
const (
	NoAge         Rule = "no-age"
	TooFewWeights Rule = "too-few-weights"
	NoGrowthSeen  Rule = "no-growth-seen"
	TwoBirds      Rule = "two-birds"
	NoCurve       Rule = "no-curve"
	WildAsymptote Rule = "wild-asymptote"
	LooseEstimate Rule = "loose-estimate"
	TooYoung      Rule = "too-young"
	Immature      Rule = "immature"
	ShapeUnknown  Rule = "shape-unknown"
	SexUnknown    Rule = "sex-unknown"
	ThinLine      Rule = "thin-line"
	TooFewPooled  Rule = "too-few-pooled"
)

// Refusal says in words what cannot be told from a curve, and the cheapest observation that would change it.
type Refusal struct {
	Rule Rule
	Text string // completes "cannot say ... because"
	analysis.Refusal
}

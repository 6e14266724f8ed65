package pooled

import "math"

// curve is a Richards curve of the logarithm of weight against age in weeks, parametrised as a keeper can read it:
// log mature weight, log rate per week, log age at the inflection, and the shape nu.
//
//	W = A (1 + nu exp(-k(t-ti)))^(-1/nu);  nu -> 0 is Gompertz, nu = 1 logistic
//
// Source: Richards 1959, J. Exp. Bot. 10:290, in the form with the inflection at ti for every shape.
type curve struct {
	logA, logK, logT, nu float64
	k, ti                float64 // per week, weeks
}

func newCurve(logA, logK, logT, nu float64) curve {
	return curve{logA, logK, logT, nu, math.Exp(logK), math.Exp(logT)}
}

// steep bounds 1 + nu u away from zero: a negative shape has no weight at all at young ages.
const steep = 0.05

// at returns the log weight at an age and its slopes in logK and logT (in logA it is 1). ok is false where the
// curve has no weight at that age.
func (c *curve) at(age float64) (f, slopeK, slopeT float64, ok bool) {
	x := c.k * (age - c.ti)
	u := math.Exp(-x)
	base := 1 + c.nu*u
	if base < steep || u > 1e100 {
		return 0, 0, 0, false
	}
	slopeK = u * x / base
	slopeT = -u * c.k * c.ti / base
	if math.Abs(c.nu*u) < 1e-5 {
		return c.logA - u*(1-c.nu*u/2), slopeK, slopeT, true
	}
	return c.logA - math.Log(base)/c.nu, slopeK, slopeT, true
}

// TypicalShare is the share of its mature weight that a bird has reached at an age in weeks, by the curve on which lines
// are centred before their records are seen.
func TypicalShare(age float64) float64 {
	typical := newCurve(0, math.Log(rateCentre), math.Log(inflectionCentre), 0)
	f, _, _, _ := typical.at(age)
	return math.Exp(f)
}

package stat

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Distribution is a continuous distribution of one variable. Make one with Normal, StudentT, ChiSquared, Beta
// or F.
type Distribution struct {
	cdf, upper, quantile func(float64) float64
}

// CDF returns the probability of a value of x or less. x may be infinite; NaN is an error.
//
// Source: regularised incomplete beta and gamma functions, NIST Digital Library of Mathematical Functions
// 8.17 and 8.2.
func (d Distribution) CDF(x float64) (float64, error) { return at(d.cdf, x) }

// Upper returns the probability of a value above x, without the cancellation of 1 - CDF.
//
// Source: as for CDF.
func (d Distribution) Upper(x float64) (float64, error) { return at(d.upper, x) }

// Quantile returns the x below which a share p of the distribution lies, p from 0 to 1 (0 and 1 give the ends
// of the support, which may be infinite).
//
// Source: inverse of CDF.
func (d Distribution) Quantile(p float64) (float64, error) {
	if !(p >= 0 && p <= 1) {
		return 0, domain("a probability must lie between 0 and 1, not %v", p)
	}
	return at(d.quantile, p)
}

func at(f func(float64) float64, x float64) (float64, error) {
	if f == nil {
		return 0, domain("an empty Distribution")
	}
	if math.IsNaN(x) {
		return 0, domain("NaN")
	}
	y := f(x)
	if math.IsNaN(y) {
		return 0, domain("no value at %v", x)
	}
	return y, nil
}

// Normal is the standard normal distribution.
func Normal() Distribution {
	cdf := func(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
	upper := func(x float64) float64 { return math.Erfc(x/math.Sqrt2) / 2 }
	return Distribution{cdf, upper, distuv.UnitNormal.Quantile}
}

// StudentT is Student's t distribution with df > 0 degrees of freedom; +Inf gives the normal.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.6.4.
func StudentT(df float64) (Distribution, error) {
	if !(df > 0) {
		return Distribution{}, domain("t needs more than 0 degrees of freedom, not %v", df)
	}
	if math.IsInf(df, 1) {
		return Normal(), nil
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	// A quantile of an extreme p may leave the range in which gonum's inverse is exact; the tails are ends.
	quantile := func(p float64) float64 {
		switch p {
		case 0:
			return math.Inf(-1)
		case 1:
			return math.Inf(1)
		}
		return t.Quantile(p)
	}
	return Distribution{ends(t.CDF, 0, 1), ends(t.Survival, 1, 0), quantile}, nil
}

// ends gives the limits of a tail function at -Inf and +Inf, where its formula would divide Inf by Inf.
func ends(f func(float64) float64, low, high float64) func(float64) float64 {
	return func(x float64) float64 {
		switch {
		case math.IsInf(x, -1):
			return low
		case math.IsInf(x, 1):
			return high
		}
		return f(x)
	}
}

// ChiSquared is the chi-squared distribution with df > 0 degrees of freedom.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.6.6.
func ChiSquared(df float64) (Distribution, error) {
	if !(df > 0) || math.IsInf(df, 1) {
		return Distribution{}, domain("chi-squared needs a positive number of degrees of freedom, not %v", df)
	}
	cdf := func(x float64) float64 {
		if x <= 0 {
			return 0
		}
		return mathext.GammaIncReg(df/2, x/2)
	}
	upper := func(x float64) float64 {
		if x <= 0 {
			return 1
		}
		return mathext.GammaIncRegComp(df/2, x/2)
	}
	quantile := func(p float64) float64 {
		switch p {
		case 0:
			return 0
		case 1:
			return math.Inf(1)
		}
		return 2 * mathext.GammaIncRegInv(df/2, p)
	}
	return Distribution{ends(cdf, 0, 1), ends(upper, 1, 0), quantile}, nil
}

// Beta is the beta distribution on 0..1 with shapes a, b > 0.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.6.17.
func Beta(a, b float64) (Distribution, error) {
	if !(a > 0 && b > 0) || math.IsInf(a, 1) || math.IsInf(b, 1) {
		return Distribution{}, domain("beta needs two positive shapes, not %v and %v", a, b)
	}
	d := distuv.Beta{Alpha: a, Beta: b}
	return Distribution{d.CDF, d.Survival, d.Quantile}, nil
}

// F is Fisher's F distribution with d1 and d2 > 0 degrees of freedom.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.6.5.
func F(d1, d2 float64) (Distribution, error) {
	if !(d1 > 0 && d2 > 0) || math.IsInf(d1, 1) || math.IsInf(d2, 1) {
		return Distribution{}, domain("F needs two positive numbers of degrees of freedom, not %v and %v", d1, d2)
	}
	cdf := func(x float64) float64 {
		if x <= 0 {
			return 0
		}
		return mathext.RegIncBeta(d1/2, d2/2, d1*x/(d1*x+d2))
	}
	upper := func(x float64) float64 {
		if x <= 0 {
			return 1
		}
		return mathext.RegIncBeta(d2/2, d1/2, d2/(d1*x+d2))
	}
	// Whichever of y and 1-y is the smaller is inverted, so that neither tail cancels.
	quantile := func(p float64) float64 {
		switch {
		case p == 0:
			return 0
		case p == 1:
			return math.Inf(1)
		case p > 0.5:
			z := mathext.InvRegIncBeta(d2/2, d1/2, 1-p)
			return d2 * (1 - z) / (d1 * z)
		}
		y := mathext.InvRegIncBeta(d1/2, d2/2, p)
		return d2 * y / (d1 * (1 - y))
	}
	return Distribution{ends(cdf, 0, 1), ends(upper, 1, 0), quantile}, nil
}

// Multiplier returns how many standard errors lie on either side of an estimate in an interval of the given
// chance, with df degrees of freedom (+Inf: normal). 0.95 and +Inf give 1.96.
//
// Source: two-sided quantile of Student's t.
func Multiplier(level, df float64) (float64, error) {
	if err := checkLevel(level); err != nil {
		return 0, err
	}
	t, err := StudentT(df)
	if err != nil {
		return 0, err
	}
	return t.Quantile(0.5 + level/2)
}

package stat

import (
	"math"
)

// Spread is a way to estimate the variance between units.
type Spread uint8

// The estimators of the variance between units. Fixed takes it to be 0.
const (
	Fixed Spread = iota
	DerSimonianLaird
	PauleMandel
	MaximumLikelihood
	REML
)

// Pooled is the mean of units whose estimates have known variances and whose true values differ.
type Pooled struct {
	Mean     Interval // with the normal quantile; N is the number of units
	SE       float64
	Tau2     float64 // variance between units
	Q, QP    float64 // heterogeneity and its p-value
	I2       float64 // share of the variance between estimates that is between units, 0 to 1
	H2       float64
	Knapp    Interval // Knapp and Hartung's interval of the mean
	KnappSE  float64
	KnappP   float64
	Next     Interval   // where the true value of a new unit lies
	Shrunken []Interval // the true value of each unit, drawn towards the mean
}

// Pool pools estimates with their variances (all positive). It needs 2 units.
//
// Source: DerSimonian & Laird 1986, Control. Clin. Trials 7:177; Paule & Mandel 1982, J. Res. Natl. Bur. Stand. 87:377;
// Viechtbauer 2005, J. Educ. Behav. Stat. 30:261 (ML, REML); Knapp & Hartung 2003, Stat. Med. 22:2693; Higgins & Thompson
// 2002, Stat. Med. 21:1539 (I2, H2, with the typical variance of Q's weights); Raudenbush & Bryk 1985, J. Educ. Stat. 10:75 (shrunken values).
func Pool(estimates, variances []float64, spread Spread, level float64) (Pooled, error) {
	if len(estimates) != len(variances) {
		return Pooled{}, domain("%d estimates with %d variances", len(estimates), len(variances))
	}
	if err := checkSample("pooling", estimates, 2); err != nil {
		return Pooled{}, err
	}
	if err := checkSample("pooling", variances, 2); err != nil {
		return Pooled{}, err
	}
	for i, v := range variances {
		if v <= 0 {
			return Pooled{}, domain("variance %d of %d is %v", i+1, len(variances), v)
		}
	}
	z, err := Multiplier(level, math.Inf(1))
	if err != nil {
		return Pooled{}, err
	}
	k := float64(len(estimates))
	out := Pooled{}
	fixed, _, sumW := weighted(estimates, variances, 0)
	var sumW2 float64
	for i, y := range estimates {
		w := 1 / variances[i]
		out.Q += w * (y - fixed) * (y - fixed)
		sumW2 += w * w
	}
	chi, err := ChiSquared(k - 1)
	if err != nil {
		return Pooled{}, err
	}
	if out.QP, err = chi.Upper(out.Q); err != nil {
		return Pooled{}, err
	}
	switch spread {
	case Fixed:
	case DerSimonianLaird:
		out.Tau2 = max(0, (out.Q-(k-1))/(sumW-sumW2/sumW))
	case PauleMandel:
		out.Tau2 = pauleMandel(estimates, variances)
	case MaximumLikelihood, REML:
		if out.Tau2, err = likelihoodSpread(estimates, variances, spread == REML); err != nil {
			return Pooled{}, err
		}
	default:
		return Pooled{}, domain("estimator %d", spread)
	}
	mean, se, _ := weighted(estimates, variances, out.Tau2)
	out.SE = se
	out.Mean = Interval{mean, mean - z*se, mean + z*se, level, len(estimates)}
	typical := (k - 1) * sumW / (sumW*sumW - sumW2)
	if spread == Fixed {
		out.I2, out.H2 = max(0, (out.Q-(k-1))/out.Q), out.Q/(k-1)
	} else {
		out.I2, out.H2 = out.Tau2/(out.Tau2+typical), out.Tau2/typical+1
	}
	if err := out.knapp(estimates, variances, level); err != nil {
		return Pooled{}, err
	}
	half := z * math.Sqrt(out.Tau2+se*se)
	out.Next = Interval{mean, mean - half, mean + half, level, len(estimates)}
	for i, y := range estimates {
		// The weight of the unit's own estimate, and the variance of the shrunken value with that of the mean in it.
		own := out.Tau2 / (out.Tau2 + variances[i])
		v := own*variances[i] + (1-own)*(1-own)*se*se
		value := own*y + (1-own)*mean
		half := z * math.Sqrt(v)
		out.Shrunken = append(out.Shrunken, Interval{value, value - half, value + half, level, len(estimates)})
	}
	return out, nil
}

func (p *Pooled) knapp(estimates, variances []float64, level float64) error {
	k := float64(len(estimates))
	var sum, sumW float64
	for i, y := range estimates {
		w := 1 / (variances[i] + p.Tau2)
		sum += w * (y - p.Mean.Value) * (y - p.Mean.Value)
		sumW += w
	}
	p.KnappSE = math.Sqrt(sum / (k - 1) / sumW)
	t, err := Multiplier(level, k-1)
	if err != nil {
		return err
	}
	p.Knapp = Interval{p.Mean.Value, p.Mean.Value - t*p.KnappSE, p.Mean.Value + t*p.KnappSE, level, len(estimates)}
	if p.KnappSE == 0 {
		p.KnappP = 1
		return nil
	}
	d, err := StudentT(k - 1)
	if err != nil {
		return err
	}
	tail, err := d.Upper(math.Abs(p.Mean.Value / p.KnappSE))
	p.KnappP = 2 * tail
	return err
}

// weighted returns the inverse-variance mean, its standard error and the sum of the weights.
func weighted(y, v []float64, tau2 float64) (mean, se, sum float64) {
	for i := range y {
		w := 1 / (v[i] + tau2)
		mean += w * y[i]
		sum += w
	}
	return mean / sum, math.Sqrt(1 / sum), sum
}

// pauleMandel finds the variance at which the weighted sum of squares equals its expectation, by bisection: the sum falls
// as the variance grows.
func pauleMandel(y, v []float64) float64 {
	excess := func(tau2 float64) float64 {
		mean, _, _ := weighted(y, v, tau2)
		q := 0.0
		for i := range y {
			q += (y[i] - mean) * (y[i] - mean) / (v[i] + tau2)
		}
		return q - float64(len(y)-1)
	}
	if excess(0) <= 0 {
		return 0
	}
	low, high := 0.0, 1.0
	for excess(high) > 0 {
		high *= 2
	}
	for range 200 {
		middle := (low + high) / 2
		if excess(middle) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// likelihoodSpread finds the variance of highest (restricted) likelihood by golden section on a log scale around the
// spread of the estimates; the likelihood has one maximum for the cases at hand, and 0 is tried beside it.
func likelihoodSpread(y, v []float64, restricted bool) (float64, error) {
	logLik := func(tau2 float64) float64 {
		mean, _, sumW := weighted(y, v, tau2)
		l := 0.0
		for i := range y {
			l -= (math.Log(v[i]+tau2) + (y[i]-mean)*(y[i]-mean)/(v[i]+tau2)) / 2
		}
		if restricted {
			l -= math.Log(sumW) / 2
		}
		return l
	}
	sd, err := SD(y)
	if err != nil {
		return 0, err
	}
	top := max(sd*sd*float64(len(y)), 1e-12)
	// A coarse grid first, so that the search begins beside the highest point.
	best, at := logLik(0), 0.0
	const steps = 200
	for i := range steps + 1 {
		t := top * math.Pow(1e-8, 1-float64(i)/steps)
		if l := logLik(t); l > best {
			best, at = l, t
		}
	}
	if at == 0 {
		return 0, nil
	}
	ratio := math.Pow(1e8, 1.0/steps)
	low, high := math.Log(at/ratio), math.Log(at*ratio)
	golden := (math.Sqrt(5) - 1) / 2
	for range 200 {
		a, b := high-golden*(high-low), low+golden*(high-low)
		if logLik(math.Exp(a)) > logLik(math.Exp(b)) {
			high = b
		} else {
			low = a
		}
	}
	// Golden section is exact to the root of the precision only; Fisher scoring on the score finishes.
	t := math.Exp((low + high) / 2)
	for range 100 {
		mean, _, sumW := weighted(y, v, t)
		var score, info, sumW2 float64
		for i := range y {
			w := 1 / (v[i] + t)
			score += w * w * ((y[i]-mean)*(y[i]-mean) - (v[i] + t))
			info += w * w
			sumW2 += w * w
		}
		if restricted {
			score += sumW2 / sumW
		}
		step := score / info
		t = max(0, t+step)
		if math.Abs(step) < 1e-14*max(1, t) {
			break
		}
	}
	return t, nil
}

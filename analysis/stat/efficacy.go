package stat

import "math"

// Abbott returns the percentage by which a treatment lowered live numbers, from those of an untreated control after it
// (above 0) and of the treated. It may be negative.
//
// Source: Abbott 1925, J. Econ. Entomol. 18:265.
func Abbott(controlAfter, treatedAfter float64) (float64, error) {
	if !(controlAfter > 0) || !(treatedAfter >= 0) {
		return 0, domain("Abbott's formula needs a control above 0 and treated of 0 or more, not %v and %v", controlAfter, treatedAfter)
	}
	return 100 * (controlAfter - treatedAfter) / controlAfter, nil
}

// SchneiderOrelli corrects a mortality in percent for that of the control, both 0 to 100, the control below 100.
//
// Source: Schneider-Orelli 1947, Entomologisches Praktikum; the same correction as Abbott's, on mortality.
func SchneiderOrelli(treatedMortality, controlMortality float64) (float64, error) {
	if !(controlMortality >= 0 && controlMortality < 100 && treatedMortality >= 0 && treatedMortality <= 100) {
		return 0, domain("mortalities of %v and %v %%; the control must lie below 100", treatedMortality, controlMortality)
	}
	return 100 * (treatedMortality - controlMortality) / (100 - controlMortality), nil
}

// Counts are live numbers of an untreated control (C) and of the treated (T), before (B) and after (A).
type Counts struct{ CB, CA, TB, TA float64 }

// HendersonTilton returns the percentage by which a treatment lowered live numbers, against the course of an untreated
// control. TB and CA must be above 0. It may be negative.
//
// Source: Henderson & Tilton 1955, J. Econ. Entomol. 48:157.
func HendersonTilton(c Counts) (float64, error) {
	if !(c.TB > 0 && c.CA > 0 && c.CB >= 0 && c.TA >= 0) || math.IsInf(c.TB+c.CA+c.CB+c.TA, 0) {
		return 0, domain("the formula of Henderson and Tilton needs numbers above 0 of the treated before and of the control after; it has %v and %v", c.TB, c.CA)
	}
	return 100 * (1 - c.TA*c.CB/(c.TB*c.CA)), nil
}

// HendersonTiltonByPen returns the percentage of Henderson and Tilton over the sums of all pens with an interval by which pens are the units:
// the logarithm of the ratio is linearised and its variance taken between pens, with Student's t. It needs 3 pens,
// and sums above 0 of all but the treated after; where those are 0, half a one is added to each sum.
//
// Source: Henderson & Tilton 1955; linearised variance between clusters as in Cochran 1977, Sampling Techniques, section 11.
func HendersonTiltonByPen(pens []Counts, level float64) (Interval, error) {
	if len(pens) < 3 {
		return Interval{}, tooFew("an interval by pens", len(pens), 3)
	}
	k, err := Multiplier(level, float64(len(pens)-1))
	if err != nil {
		return Interval{}, err
	}
	var s Counts
	for _, p := range pens {
		if !(p.CB >= 0 && p.CA >= 0 && p.TB >= 0 && p.TA >= 0) {
			return Interval{}, domain("a pen with the counts %v", p)
		}
		s.CB, s.CA, s.TB, s.TA = s.CB+p.CB, s.CA+p.CA, s.TB+p.TB, s.TA+p.TA
	}
	value, err := HendersonTilton(s)
	if err != nil {
		return Interval{}, err
	}
	if s.CB == 0 {
		return Interval{}, domain("nothing on the control before")
	}
	if s.TA == 0 {
		s.CB, s.CA, s.TB, s.TA = s.CB+0.5, s.CA+0.5, s.TB+0.5, 0.5
	}
	centre := math.Log(s.TA * s.CB / (s.TB * s.CA))
	var ss float64
	for _, p := range pens {
		u := p.TA/s.TA - p.TB/s.TB - p.CA/s.CA + p.CB/s.CB
		ss += u * u
	}
	m := float64(len(pens))
	half := k * math.Sqrt(m/(m-1)*ss)
	return Interval{value, 100 * (1 - math.Exp(centre+half)), 100 * (1 - math.Exp(centre-half)), level, len(pens)}, nil
}

// Stratum counts, within one stratum, the treated and the untreated and those of each that still have the event.
type Stratum struct{ TreatedWith, Treated, UntreatedWith, Untreated int }

// PooledRatio returns the ratio of the share with the event among treated to that among untreated, pooled over strata.
// Strata without both kinds say nothing and are left out; where no treated bird, or no untreated one, has the event,
// half a one is added in each stratum. It needs a stratum with both kinds and an event. N counts individuals in use.
//
// Source: Mantel & Haenszel 1959, J. Natl. Cancer Inst. 22:719; variance Greenland & Robins 1985, Biometrics 41:55.
func PooledRatio(strata []Stratum, level float64) (Interval, error) {
	z, err := Multiplier(level, math.Inf(1))
	if err != nil {
		return Interval{}, err
	}
	var in []Stratum
	n, with, without := 0, 0, 0
	for _, s := range strata {
		if s.TreatedWith < 0 || s.TreatedWith > s.Treated || s.UntreatedWith < 0 || s.UntreatedWith > s.Untreated {
			return Interval{}, domain("a stratum of %v", s)
		}
		if s.Treated > 0 && s.Untreated > 0 {
			in = append(in, s)
			n += s.Treated + s.Untreated
			with, without = with+s.TreatedWith, without+s.UntreatedWith
		}
	}
	if n == 0 {
		return Interval{}, tooFew("a pooled ratio", 0, 1)
	}
	if with+without == 0 {
		return Interval{}, domain("nobody has the event")
	}
	add := 0.0
	if with == 0 || without == 0 {
		add = 0.5
	}
	var r, s, v float64
	for _, x := range in {
		a, n1 := float64(x.TreatedWith)+add, float64(x.Treated)+2*add
		c, n0 := float64(x.UntreatedWith)+add, float64(x.Untreated)+2*add
		all := n1 + n0
		r += a * n0 / all
		s += c * n1 / all
		v += (n1*n0*(a+c) - a*c*all) / (all * all)
	}
	se := math.Sqrt(v / (r * s))
	ratio := r / s
	return Interval{ratio, ratio * math.Exp(-z*se), ratio * math.Exp(z*se), level, n}, nil
}

// EggCountReduction returns the percentage by which the mean worm egg count of treated animals lies below that of
// untreated ones after the treatment, with its interval. Each group needs 2 counts of 0 or more and a mean above 0.
//
// Source: Coles et al. 1992, Vet. Parasitol. 44:35 (World Association for the Advancement of Veterinary Parasitology).
func EggCountReduction(treated, control []float64, level float64) (Interval, error) {
	var mean, relative [2]float64 // of the group; variance of its mean over the squared mean
	for i, g := range [][]float64{treated, control} {
		s, err := Summarise(g)
		if err != nil {
			return Interval{}, err
		}
		if s.N < 2 {
			return Interval{}, tooFew("an egg count reduction", s.N, 2)
		}
		if s.Min < 0 || s.Mean == 0 {
			return Interval{}, domain("a group of counts with the mean %v and the least %v", s.Mean, s.Min)
		}
		mean[i], relative[i] = s.Mean, s.SE*s.SE/(s.Mean*s.Mean)
	}
	n := len(treated) + len(control)
	k, err := Multiplier(level, float64(n-2))
	if err != nil {
		return Interval{}, err
	}
	ratio, half := mean[0]/mean[1], k*math.Sqrt(relative[0]+relative[1])
	return Interval{100 * (1 - ratio), 100 * (1 - ratio*math.Exp(half)), 100 * (1 - ratio*math.Exp(-half)), level, n}, nil
}

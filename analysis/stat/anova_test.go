package stat

import (
	"errors"
	"math"
	"testing"
)

// siRstv is NIST SRD 140, data set SiRstv (resistance of silicon wafers by five instruments; US government work).
var siRstv = [][]float64{
	{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
	{196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
	{196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
	{196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
	{196.2119, 196.1051, 196.1850, 196.0052, 196.2090},
}

// simonLesage is the construction behind NIST SRD 140, data sets SmLs01 and SmLs04 (Simon & Lesage 1989): nine
// treatments of 21 values, a level once and then ten times 0.1 below and above it, behind constant leading digits.
func simonLesage(base int) [][]float64 {
	var groups [][]float64
	for _, tenths := range []int{4, 3, 5, 3, 5, 3, 5, 3, 5} {
		level := 10*base + tenths
		cell := []float64{float64(level) / 10}
		for range 10 {
			cell = append(cell, float64(level-1)/10, float64(level+1)/10)
		}
		groups = append(groups, cell)
	}
	return groups
}

// TestOneWayAgainstNIST checks certified values of NIST SRD 140, analysis of variance. Data of seven leading digits
// lose as many of their own in double precision.
func TestOneWayAgainstNIST(t *testing.T) {
	for _, set := range []struct {
		name                       string
		groups                     [][]float64
		between, within, f, r2, sd float64
		df, dfWithin               int
		digits                     float64
	}{
		{"SiRstv", siRstv, 5.11462616e-02, 2.1663656e-01, 1.18046237440255, 1.90999039051129e-01, 1.04076068334656e-01, 4, 20, 12},
		{"SmLs01", simonLesage(1), 1.68, 1.8, 21, 4.82758620689655e-01, 0.1, 8, 180, 13},
		{"SmLs04", simonLesage(1000000), 1.68, 1.8, 21, 4.82758620689655e-01, 0.1, 8, 180, 9},
	} {
		a, err := OneWay(set.groups...)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"between", a.Between, set.between}, {"within", a.Within, set.within}, {"F", a.F, set.f},
			{"R squared", a.RSquared, set.r2}, {"SD", a.SD, set.sd},
		} {
			digits := -math.Log10(math.Abs(c.got-c.want)/c.want + 1e-16)
			t.Logf("%s %-9s %4.1f digits", set.name, c.what, digits)
			if digits < set.digits {
				t.Errorf("%s: %s is %v, certified %v", set.name, c.what, c.got, c.want)
			}
		}
		if a.DFBetween != set.df || a.DFWithin != set.dfWithin {
			t.Errorf("%s: %d and %d degrees of freedom", set.name, a.DFBetween, a.DFWithin)
		}
	}
}

func TestOneWayChance(t *testing.T) {
	a, err := OneWay(siRstv...)
	// R 4.2.2: pf(1.18046237440255, 4, 20, lower.tail = FALSE)
	if err != nil || math.Abs(a.P-0.349447493402) > 1e-9 {
		t.Errorf("P %.12f, %v", a.P, err)
	}
	if a, err := OneWay([]float64{1, 1}, []float64{2, 2}); err != nil || !math.IsInf(a.F, 1) || a.P != 0 {
		t.Errorf("means that differ without any scatter: %+v, %v", a, err)
	}
	for _, bad := range [][][]float64{{{1, 2}}, {{1}, {2}}, {{1, 2}, {}}, {{1, math.NaN()}, {2, 3}}, {{1, 1}, {1, 1}}} {
		if _, err := OneWay(bad...); !errors.Is(err, ErrTooFew) && !errors.Is(err, ErrDomain) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

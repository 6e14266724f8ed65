package stat

import "testing"

func TestMannKendallMatchesPublishedSeries(t *testing.T) {
	counted := func(n int) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = float64(i + 1)
		}
		return out
	}
	// Annual flow of the Nile 1871-1970 (R's datasets; Durbin & Koopman 2001); answers with R 4.2.2, p and tau checked
	// there against cor.test.
	nile := []float64{1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140, 1100, 1210,
		1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832,
		764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801,
		1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740}
	m, err := MannKendall(counted(100), nile)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"S", m.S, -1387}, {"varS", m.VarS, 112728.333333}, {"Z", m.Z, -4.12806652284}, {"p", m.P, 3.65826292166e-05},
		{"tau", m.Tau, -0.280741334725}, {"slope", m.Slope, -2.6}} {
		closeTo(t, c.what, c.got, c.want, 1e-9)
	}
	// A constructed series with ties, the same way.
	m, err = MannKendall(counted(12), []float64{5, 7, 7, 6, 9, 8, 8, 10, 12, 11, 11, 14})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"S", m.S, 51}, {"varS", m.VarS, 209.666666667}, {"Z", m.Z, 3.45306941637}, {"p", m.P, 0.00055424635736}, {"tau", m.Tau, 0.790911578839},
		{"slope", m.Slope, 0.683333333333}, {"intercept", m.Intercept, 4.425}} {
		closeTo(t, c.what, c.got, c.want, 1e-9)
	}
}

func TestFewValuesAreCountedExactly(t *testing.T) {
	// A perfect run of n values is one of n! orders, both ways: 2/5! (Kendall 1938).
	m, err := MannKendall([]float64{3, 1, 2, 5, 4}, []float64{30, 10, 20, 50, 40})
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "p", m.P, 2.0/120, 1e-12)
	closeTo(t, "slope", m.Slope, 10, 1e-12)
	m, err = MannKendall([]float64{1, 2, 3, 4}, []float64{2, 2, 2, 2})
	if err != nil || m.P != 1 || m.Tau != 0 || m.Slope != 0 {
		t.Errorf("all alike: %+v %v", m, err)
	}
	if _, err := MannKendall([]float64{1, 1, 2}, []float64{1, 2, 3}); err == nil {
		t.Error("two values at one time were tested")
	}
	if _, err := MannKendall([]float64{1, 2}, []float64{1, 2}); err == nil {
		t.Error("two values were tested")
	}
}

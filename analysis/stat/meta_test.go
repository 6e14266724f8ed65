package stat

import (
	"math"
	"testing"
)

func TestPoolingMatchesTheBCGTrials(t *testing.T) {
	// Colditz et al. 1994, J. Am. Med. Assoc. 271:698: positive and negative of vaccinated and controls in 13 trials; log
	// relative risks. Answers computed with R's package metafor; the DerSimonian-Laird ones are printed in Berkey et al. 1995.
	var y, v []float64
	for _, r := range [][4]float64{{4, 119, 11, 128}, {6, 300, 29, 274}, {3, 228, 11, 209}, {62, 13536, 248, 12619}, {33, 5036, 47, 5761}, {180, 1361, 372, 1079},
		{8, 2537, 10, 619}, {505, 87886, 499, 87892}, {29, 7470, 45, 7232}, {17, 1699, 65, 1600}, {186, 50448, 141, 27197}, {5, 2493, 3, 2338}, {27, 16886, 29, 17825}} {
		y = append(y, math.Log(r[0]/(r[0]+r[1])/(r[2]/(r[2]+r[3]))))
		v = append(v, 1/r[0]-1/(r[0]+r[1])+1/r[2]-1/(r[2]+r[3]))
	}
	for _, c := range []struct {
		how                               Spread
		mean, se, low, high, tau2, i2, h2 float64
	}{
		{Fixed, -0.430285163654, 0.0404987517109, -0.509661258426, -0.350909068882, 0, 0.921173468546, 12.6860840069},
		{DerSimonianLaird, -0.714117222073, 0.178742089535, -1.064445280084, -0.363789164062, 0.308760262862, 0.921173468546, 12.6860840069},
		{REML, -0.714532348365, 0.17978153178, -1.06689767574, -0.36216702099, 0.313243325981, 0.92221386075, 12.8557608031},
		{PauleMandel, -0.714970405632, 0.180897984126, -1.06952393939, -0.36041687187, 0.318093711863, 0.923309002899, 13.0393401807},
		{MaximumLikelihood, -0.71119913919, 0.171896817023, -1.048110709612, -0.374287568769, 0.28002817105, 0.913782847398, 11.5986201101},
	} {
		p, err := Pool(y, v, c.how, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		tolerance := 1e-6 // metafor stops its iterations there
		switch c.how {
		case Fixed, DerSimonianLaird:
			tolerance = 1e-10
		case PauleMandel: // and here at 1.2e-4; ours solves the equation, as the line below checks
			tolerance = 1e-4
			q := 0.0
			for i := range y {
				q += (y[i] - p.Mean.Value) * (y[i] - p.Mean.Value) / (v[i] + p.Tau2)
			}
			closeTo(t, "the sum of squares at Paule and Mandel's variance", q, 12, 1e-9)
		}
		for _, x := range []struct {
			what      string
			got, want float64
		}{{"mean", p.Mean.Value, c.mean}, {"SE", p.SE, c.se}, {"low", p.Mean.Low, c.low}, {"high", p.Mean.High, c.high}, {"tau2", p.Tau2, c.tau2}, {"I2", p.I2, c.i2},
			{"H2", p.H2, c.h2}, {"Q", p.Q, 152.233008082}} {
			closeTo(t, x.what, x.got, x.want, tolerance)
		}
		if c.how == REML {
			closeTo(t, "Knapp-Hartung SE", p.KnappSE, 0.180791745519, 1e-6)
			closeTo(t, "low", p.Knapp.Low, -1.10844372300, 1e-6)
			closeTo(t, "p", p.KnappP, 0.00192001508513, 1e-5)
			closeTo(t, "prediction", p.Next.Low, -1.866692346607, 1e-6)
			closeTo(t, "prediction", p.Next.High, 0.437627649877, 1e-6)
		}
		if c.how == DerSimonianLaird && (math.Abs(p.Shrunken[11].Value) > 0.4 || p.Shrunken[7].Value < -0.05) {
			t.Errorf("shrunken: %+v", p.Shrunken)
		}
	}
	if _, err := Pool([]float64{1, 2}, []float64{0, 1}, REML, 0.9); err == nil {
		t.Error("a variance of 0 was pooled")
	}
	if p, err := Pool([]float64{1, 1, 1}, []float64{1, 1, 1}, REML, 0.9); err != nil || p.Tau2 != 0 {
		t.Errorf("alike: %+v %v", p, err)
	}
}

func TestAdjustmentsMatchThePublishedList(t *testing.T) {
	// Benjamini & Hochberg 1995, section 3.2 (thrombolysis); answers of R's p.adjust.
	p := []float64{0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1}
	for how, want := range map[Family][]float64{
		Bonferroni: {0.0015, 0.0060, 0.0285, 0.1425, 0.3015, 0.4170, 0.4470, 0.5160, 0.6885, 1, 1, 1, 1, 1, 1},
		Holm:       {0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2780, 0.2780, 0.2780, 0.3213, 1, 1, 1, 1, 1, 1},
		Hochberg:   {0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2682, 0.2682, 0.2752, 0.3213, 1, 1, 1, 1, 1, 1},
		Hommel:     {0.0015, 0.0056, 0.0247, 0.0950, 0.1608, 0.1946, 0.2086, 0.2408, 0.3213, 1, 1, 1, 1, 1, 1},
		BenjaminiYekutieli: {0.00497734349, 0.00995468698, 0.03152317544, 0.11821190788, 0.20008920829, 0.21189262285, 0.21189262285, 0.21402577006, 0.25384451798,
			1, 1, 1, 1, 1, 1},
	} {
		got, err := Adjust(how, p)
		if err != nil {
			t.Fatal(err)
		}
		for i := range want {
			closeTo(t, "adjusted", got[i], want[i], 1e-9)
		}
	}
	// Any order in, the same order out.
	got, err := Adjust(Holm, []float64{0.04, 0.01})
	if err != nil || got[0] != 0.04 || got[1] != 0.02 {
		t.Errorf("%v %v", got, err)
	}
}

func TestTukeyAndDunnettMatchWarpbreaks(t *testing.T) {
	// Tukey 1977, warp breaks by tension, 18 a group, residual mean square 134.9578 on 50 df after wool; p-values of R's
	// TukeyHSD; Dunnett against L by R's package multcomp.
	mse := 6747.889 / 50
	for _, c := range []struct{ diff, p float64 }{{4.722222222, 0.4474210214}, {14.722222222, 0.0011217877}, {10, 0.0336262189}} {
		got, err := RangeTail(c.diff/math.Sqrt(mse/18), 3, 50)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, "Tukey p", got, c.p, 1e-6)
	}
	for _, c := range []struct{ t, p float64 }{{-2.5823928, 0.02399514451}, {-3.8018560, 0.00076531337}} {
		got, err := DunnettTail(c.t, 2, 50)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, "Dunnett p", got, c.p, 2e-5)
	}
	// Chick weights by feed (McNeil 1977): six groups of unequal size, Tukey-Kramer standard errors.
	got, err := RangeTail(77.154761905/math.Sqrt(3008.55417*(1.0/14+1.0/12)/2), 6, 65)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "Tukey-Kramer p", got, 0.0083653087, 1e-6)
	// Upper 5 % points of the studentised range, Pearson & Hartley 1966, Biometrika Tables, Table 29 (from memory): 3 groups,
	// 10 df: 3.88; 10 groups, infinity: 4.47.
	for _, c := range []struct {
		q, df float64
		k     int
	}{{3.877, 10, 3}, {4.474, math.Inf(1), 10}} {
		got, err := RangeTail(c.q, c.k, c.df)
		if err != nil || math.Abs(got-0.05) > 2e-4 {
			t.Errorf("%+v: %v %v", c, got, err)
		}
	}
}

package standard

import (
	"math"
	"testing"
)

// Log-normal values: R 4.2.2 plnorm and qlnorm, here by the normal table's 1.644854 and 0.674490.
func TestLogNormal(t *testing.T) {
	p := LogNormal(700, 0.05)
	near(t, "median", p.Median(), 700, 1e-3)
	e := p.Estimate(0.9)
	near(t, "low", e.Low, 700*math.Exp(-1.6448536*0.05), 1e-3)
	near(t, "high", e.High, 700*math.Exp(1.6448536*0.05), 1e-3)
	near(t, "quarter", p.Quantile(0.25), 700*math.Exp(-0.6744898*0.05), 1e-3)
	near(t, "CDF", p.CDF(e.High), 0.95, 1e-6)
	near(t, "nothing weighs 0 g", p.CDF(0), 0, 0)
	near(t, "all weigh less than infinitely much", p.CDF(math.Inf(1)), 1, 0)
	near(t, "widened 3-4-5", LogNormal(700, 0.03).Widened(0.04).Quantile(0.95), e.High, 1e-3)
}

func TestMixtureAndSample(t *testing.T) {
	mix := Predictive{[]Part{{3, math.Log(500), 0.02}, {1, math.Log(900), 0.02}, {0, math.NaN(), 1}, {-1, 0, 0}}}
	near(t, "between the hills", mix.CDF(700), 0.75, 1e-9)
	near(t, "quantile in the second hill", mix.Quantile(0.875), 900, 0.1)
	sample := Predictive{}
	for _, g := range []float64{400, 500, 600, 700} {
		sample.Parts = append(sample.Parts, Part{1, math.Log(g), 0})
	}
	near(t, "share of a sample", sample.CDF(550), 0.5, 0)
	near(t, "quantile of a sample", sample.Quantile(0.6), 600, 0.01)
	near(t, "lowest", sample.Quantile(0.1), 400, 0.01)
}

func TestNothingKnownIsNaN(t *testing.T) {
	var p Predictive
	if p.Known() || !math.IsNaN(p.CDF(500)) || !math.IsNaN(p.Median()) || !math.IsNaN(LogNormal(500, 0.1).Quantile(1)) {
		t.Error("an empty prediction has a value")
	}
}

func FuzzQuantile(f *testing.F) {
	f.Add(0.5, 6.0, 0.1, 7.0, 0.0, 0.3)
	f.Add(0.001, -3.0, 2.0, 9.0, 0.5, 1e-9)
	f.Fuzz(func(t *testing.T, share, m1, s1, m2, s2, w float64) {
		for _, x := range []float64{m1, m2} {
			if !(math.Abs(x) < 20) {
				return // outside the domain
			}
		}
		if !(s1 >= 0 && s1 < 5 && s2 >= 0 && s2 < 5 && w > 0 && w < 1e9) {
			return // outside the domain
		}
		p := Predictive{[]Part{{1, m1, s1}, {w, m2, s2}}}
		q := p.Quantile(share)
		if !(share > 0 && share < 1) {
			if !math.IsNaN(q) {
				t.Fatalf("quantile %v of share %v", q, share)
			}
			return
		}
		if low, high := p.CDF(q*(1-1e-6)), p.CDF(q*(1+1e-6)); low > share+1e-6 || high < share-1e-6 {
			t.Errorf("share %v lies at %v, where the distribution goes from %v to %v", share, q, low, high)
		}
	})
}

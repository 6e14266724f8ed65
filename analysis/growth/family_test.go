package growth

import (
	"math"
	"strings"
	"testing"
)

// typical parameters of a layer-like bird in each family.
func typical(f Family) []float64 {
	switch f.Name {
	case "richards":
		return []float64{2000, 0.025, 70, 0.4}
	case "von_bertalanffy":
		return []float64{2000, 0.015, 60}
	case "brody":
		return []float64{2000, 0.012, -2}
	case "weibull", "mmf", "lopez":
		return []float64{2000, 40, 70, 2.2}
	}
	return []float64{2000, 0.025, 70}
}

func close(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > relative*math.Max(1e-12, math.Abs(want)) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// TestIdentities holds each family to what its literature says of it: weight and age at inflection, slope, ages
// at a share of the mature weight, and the textbook form.
func TestIdentities(t *testing.T) {
	for _, f := range Families() {
		p := typical(f)
		for _, age := range []float64{1, 7, 30, 70, 120, 250} {
			const h = 1e-3
			slope := (f.Weight(p, age+h) - f.Weight(p, age-h)) / (2 * h)
			close(t, f.Name+" gain", f.Gain(p, age), slope, 1e-6)
			v := f.Textbook.Values(p)
			close(t, f.Name+" textbook "+f.Textbook.Formula, f.Textbook.Weight(v, age), f.Weight(p, age), 1e-10)
			for i, b := range f.Textbook.Params(v) {
				close(t, f.Name+" back from textbook", b, p[i], 1e-10)
			}
			if len(v) != len(f.Textbook.Names) || len(p) != len(f.Params) {
				t.Errorf("%s: %d textbook values for %v", f.Name, len(v), f.Textbook.Names)
			}
			if f.Gradient != nil {
				g := make([]float64, len(p))
				f.Gradient(p, age, g)
				for i := range p {
					q, r := append([]float64(nil), p...), append([]float64(nil), p...)
					d := 1e-5 * math.Max(1, math.Abs(p[i]))
					q[i], r[i] = q[i]+d, r[i]-d
					close(t, f.Name+" derivative by "+f.Params[i].Name, g[i], (f.Weight(q, age)-f.Weight(r, age))/(2*d), 1e-5)
				}
			}
		}
		for _, share := range []float64{0.1, 0.5, 0.95} {
			close(t, f.Name+" age at share", f.Weight(p, f.AgeAt(p, share)), share*p[0], 1e-10)
		}
		if age, w, ok := f.Inflection(p); ok {
			close(t, f.Name+" weight at inflection", f.Weight(p, age), w, 1e-12)
			if best := f.Gain(p, age); f.Gain(p, age-3) >= best || f.Gain(p, age+3) >= best {
				t.Errorf("%s does not grow fastest at its inflection", f.Name)
			}
		} else if f.Name != "brody" {
			t.Errorf("%s has no inflection", f.Name)
		}
		if f.Source == "" || f.Title == "" || f.Params[0].Name != "mature_weight" {
			t.Errorf("%s lacks source, title or mature weight", f.Name)
		}
	}
}

// TestPublishedShares: weight at inflection as a share of mature weight. Gompertz 1/e = 0.368, logistic 1/2, von
// Bertalanffy 8/27 = 0.296 (Fitzhugh 1976, J. Anim. Sci. 42:1036, Table 1, from memory; each follows from its
// formula). Kadaknath males, Gompertz: A 2186 g, printed weight at inflection 803.67 g, which is A/e to 0.1 %
// (growth pattern of indigenous Kadaknath chickens by nonlinear models, 96 birds, abstract).
func TestPublishedShares(t *testing.T) {
	for name, want := range map[string]float64{"gompertz": 1 / math.E, "logistic": 0.5, "von_bertalanffy": 8. / 27} {
		f, err := FamilyNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		_, w, _ := f.Inflection([]float64{1, 0.02, 80})
		close(t, name, w, want, 1e-12)
	}
	_, w, _ := gompertz().Inflection([]float64{2186, 0.02, 80})
	close(t, "Kadaknath males", w, 803.67, 1e-3)
	// Greatest gain: Gompertz A k / e, logistic A k / 4.
	close(t, "Gompertz gain", gompertz().Gain([]float64{1000, 0.03, 50}, 50), 1000*0.03/math.E, 1e-12)
	close(t, "logistic gain", logistic().Gain([]float64{1000, 0.03, 50}, 50), 1000*0.03/4, 1e-12)
}

// TestRichardsHoldsTheOthers: the Richards curve at shape 0, 1 and -1/3.
func TestRichardsHoldsTheOthers(t *testing.T) {
	r := richards()
	for _, pair := range []struct {
		f  Family
		nu float64
	}{{gompertz(), 0}, {logistic(), 1}, {vonBertalanffy(), -1. / 3}, {gompertz(), 1e-9}} {
		for _, age := range []float64{5, 40, 90, 200} {
			p := []float64{1500, 0.018, 60}
			close(t, pair.f.Name+" in Richards", r.Weight(append(p, pair.nu), age), pair.f.Weight(p, age), 1e-7)
			g, h := make([]float64, 4), make([]float64, 3)
			r.Gradient(append(p, pair.nu), age, g)
			pair.f.Gradient(p, age, h)
			for i := range h {
				close(t, pair.f.Name+" gradient in Richards", g[i], h[i], 1e-6)
			}
		}
	}
	// Lopez and Morgan-Mercer-Flodin are one curve.
	p := typical(lopez())
	close(t, "Lopez", lopez().Weight(p, 33), morganMercerFlodin().Weight(p, 33), 1e-15)
}

// TestFarAges: no curve gives NaN or an infinity at an age that a keeper could write.
func TestFarAges(t *testing.T) {
	for _, f := range Families() {
		for _, age := range []float64{0, 0.5, 400, 4000} {
			p := typical(f)
			if w, g := f.Weight(p, age), f.Gain(p, age); math.IsNaN(w+g) || math.IsInf(w+g, 0) || w > p[0]*(1+1e-12) {
				t.Errorf("%s at %v d: %v g, %v g/d", f.Name, age, w, g)
			}
		}
	}
}

func TestFamilyNamed(t *testing.T) {
	if _, err := FamilyNamed("straight"); err == nil || !strings.Contains(err.Error(), "gompertz, logistic, richards") {
		t.Errorf("unknown family: %v", err)
	}
}

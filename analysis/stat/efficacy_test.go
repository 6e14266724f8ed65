package stat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Inputs constructed, answers by arithmetic on the published formulas (Abbott 1925, Henderson & Tilton 1955,
// Schneider-Orelli), computed in R 4.2.2.
func TestEfficacyFormulas(t *testing.T) {
	for _, c := range []struct {
		name string
		got  float64
		err  error
		want float64
	}{
		named("Abbott", 85)(Abbott(120, 18)),
		named("Schneider-Orelli", 82.95454545454545)(SchneiderOrelli(85, 12)),
		named("Henderson-Tilton", 89.58333333333333)(HendersonTilton(Counts{CB: 250, CA: 300, TB: 240, TA: 30})),
		named("Henderson-Tilton, worse", -31.94444444444444)(HendersonTilton(Counts{CB: 100, CA: 80, TB: 90, TA: 95})),
	} {
		if c.err != nil || math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("%s: %v (%v), want %v", c.name, c.got, c.err, c.want)
		}
	}
	for name, err := range map[string]error{
		"Abbott, no control":          second(Abbott(0, 3)),
		"Schneider-Orelli, all died":  second(SchneiderOrelli(80, 100)),
		"Henderson-Tilton, none left": second(HendersonTilton(Counts{CB: 10, TB: 10, TA: 1})),
		"Henderson-Tilton, none had":  second(HendersonTilton(Counts{CB: 10, CA: 10, TA: 1})),
		"two pens":                    second(HendersonTiltonByPen(make([]Counts, 2), 0.9)),
		"no stratum with both":        second(PooledRatio([]Stratum{{1, 2, 0, 0}}, 0.9)),
	} {
		if err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func named(name string, want float64) func(float64, error) struct {
	name string
	got  float64
	err  error
	want float64
} {
	return func(got float64, err error) struct {
		name string
		got  float64
		err  error
		want float64
	} {
		return struct {
			name string
			got  float64
			err  error
			want float64
		}{name, got, err, want}
	}
}

// Reduction of egg counts: formula of Coles et al. 1992, inputs constructed, answers computed in R 4.2.2.
func TestEggCountReduction(t *testing.T) {
	treated := []float64{0, 50, 0, 0, 100, 0, 50, 0, 0, 0, 150, 0, 0, 50, 0}
	control := []float64{450, 700, 300, 850, 500, 650, 400, 900, 350, 550, 600, 750, 300, 450, 800}
	r, err := EggCountReduction(treated, control, 0.95)
	if err != nil || math.Abs(r.Value-95.3216374269) > 1e-9 || math.Abs(r.Low-88.1848622389) > 1e-7 || math.Abs(r.High-98.1475394695) > 1e-7 {
		t.Errorf("%+v %v", r, err)
	}
	if _, err := EggCountReduction([]float64{0, 0}, control, 0.95); err == nil {
		t.Error("a mean of 0 has no interval")
	}
}

// With one stratum the pooled ratio is the plain one, and its variance the delta method's: Greenland & Robins 1985 reduce
// to 1/a - 1/n1 + 1/c - 1/n0.
func TestPooledRatioOfOneStratum(t *testing.T) {
	r, err := PooledRatio([]Stratum{{3, 20, 12, 25}, {4, 4, 0, 0}}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	se := math.Sqrt(1./3 - 1./20 + 1./12 - 1./25)
	ratio := (3. / 20) / (12. / 25)
	if math.Abs(r.Value-ratio) > 1e-12 || math.Abs(r.High-ratio*math.Exp(1.959963984540054*se)) > 1e-9 || r.N != 45 {
		t.Errorf("%+v, want %v", r, ratio)
	}
	if r, err = PooledRatio([]Stratum{{0, 20, 12, 25}}, 0.95); err != nil || !(r.Value > 0 && r.High < 1) {
		t.Errorf("none left: %+v %v", r, err)
	}
}

// The interval by pens covers the truth at about its stated rate when pens differ.
func TestHendersonTiltonByPenCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const runs, pens = 600, 8
	hit := 0
	for range runs {
		var list []Counts
		for range pens {
			c := Counts{}
			for range 6 {
				load, course := 40*math.Exp(0.6*rng.NormFloat64()), math.Exp(0.3*rng.NormFloat64())
				c.CB += math.Round(load)
				c.CA += math.Round(load * 1.2 * course)
				load = 40 * math.Exp(0.6*rng.NormFloat64())
				c.TB += math.Round(load)
				c.TA += math.Round(load * 1.2 * 0.2 * math.Exp(0.3*rng.NormFloat64()))
			}
			list = append(list, c)
		}
		r, err := HendersonTiltonByPen(list, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		if r.Low <= 80 && r.High >= 80 {
			hit++
		}
	}
	if share := float64(hit) / runs; share < 0.85 || share > 0.96 {
		t.Errorf("a nominal 90 %% interval holds the truth in %.0f %% of runs", 100*share)
	}
}

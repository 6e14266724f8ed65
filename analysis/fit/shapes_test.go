package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestHardShapes fits invented data of shapes that least squares finds hard, from two far starts each: ratios of
// polynomials, sums of exponentials, a power of a shifted variable, an arctangent, and a model of two variables for the
// logarithm of its response. Shapes, true values and starts are those of the sets of NIST SRD 140 that the reference
// folder does not hold (Nelson, Roszman1, Thurber, Bennett5, Lanczos3, Misra1c, Misra1d, Chwirut1, Gauss3), from
// memory; the data are invented, so the test demands one minimum from both starts, no higher than the truth.
func TestHardShapes(t *testing.T) {
	line := func(from, to float64, n int) [][]float64 {
		var x [][]float64
		for i := range n {
			x = append(x, []float64{from + (to-from)*float64(i)/float64(n-1)})
		}
		return x
	}
	var weeks [][]float64
	for _, w := range []float64{1, 2, 4, 8, 16, 32, 48, 64} {
		for _, temperature := range []float64{180, 225, 250, 275} {
			for range 4 {
				weeks = append(weeks, []float64{w, temperature})
			}
		}
	}
	for _, c := range []struct {
		name          string
		model         Model
		x             [][]float64
		sd            float64
		truth         []float64
		first, second []float64
	}{
		{"two variables, logarithm of the response", func(b, x []float64) float64 { return b[0] - b[1]*x[0]*math.Exp(-b[2]*x[1]) },
			weeks, 0.17, []float64{2.59, 5.62e-9, -5.77e-2}, []float64{2, 1e-4, -0.01}, []float64{2.5, 5e-9, -0.05}},
		{"arctangent", func(b, x []float64) float64 { return b[0] - b[1]*x[0] - math.Atan(b[2]/(x[0]-b[3]))/math.Pi },
			line(-4870, -1, 25), 5e-3, []float64{0.202, -6.2e-6, 1204, -181}, []float64{0.1, -1e-5, 1000, -100}, []float64{0.2, -5e-6, 1200, -150}},
		{"ratio of cubics", func(b, x []float64) float64 {
			v := x[0]
			return (b[0] + v*(b[1]+v*(b[2]+v*b[3]))) / (1 + v*(b[4]+v*(b[5]+v*b[6])))
		}, line(-3.07, 2.2, 37), 13, []float64{1288, 1491, 583, 75.4, 0.966, 0.398, 0.0497},
			[]float64{1000, 1000, 400, 40, 0.7, 0.3, 0.03}, []float64{1300, 1500, 500, 75, 1, 0.4, 0.05}},
		{"power of a shifted variable", func(b, x []float64) float64 { return b[0] * math.Pow(b[1]+x[0], -1/b[2]) },
			line(7.4, 43, 154), 2e-3, []float64{-2523.5, 46.74, 0.932}, []float64{-2000, 50, 0.8}, []float64{-1500, 45, 0.85}},
		{"three exponentials", func(b, x []float64) float64 {
			return b[0]*math.Exp(-b[1]*x[0]) + b[2]*math.Exp(-b[3]*x[0]) + b[4]*math.Exp(-b[5]*x[0])
		}, line(0, 1.15, 24), 2e-5, []float64{0.0868, 0.955, 0.844, 2.95, 1.583, 4.986},
			[]float64{1.2, 0.3, 5.6, 5.5, 6.5, 7.6}, []float64{0.5, 0.7, 3.6, 4.2, 4, 6.3}},
		{"saturation, half power", func(b, x []float64) float64 { return b[0] * (1 - 1/math.Sqrt(1+2*b[1]*x[0])) },
			line(77, 760, 14), 0.06, []float64{636, 2.08e-4}, []float64{500, 1e-4}, []float64{600, 2e-4}},
		{"saturation", func(b, x []float64) float64 { return b[0] * b[1] * x[0] / (1 + b[1]*x[0]) },
			line(77, 760, 14), 0.06, []float64{437, 3.02e-4}, []float64{500, 1e-4}, []float64{450, 3e-4}},
		{"exponential over a line", func(b, x []float64) float64 { return math.Exp(-b[0]*x[0]) / (b[1] + b[2]*x[0]) },
			line(0.5, 6, 214), 3.4, []float64{0.19, 0.00613, 0.0105}, []float64{0.1, 0.01, 0.02}, []float64{0.15, 0.008, 0.01}},
		{"two peaks that overlap", func(b, x []float64) float64 {
			v := x[0]
			return b[0]*math.Exp(-b[1]*v) + b[2]*math.Exp(-(v-b[3])*(v-b[3])/(b[4]*b[4])) + b[5]*math.Exp(-(v-b[6])*(v-b[6])/(b[7]*b[7]))
		}, line(1, 250, 250), 2.5, []float64{98.9, 0.0109, 100.7, 111.6, 23.3, 73.7, 147.8, 19.7},
			[]float64{94.9, 0.009, 90.1, 113, 20, 73.8, 140, 20}, []float64{96, 0.0096, 80, 110, 25, 74, 139, 25}},
	} {
		rng := rand.New(rand.NewPCG(7, 11))
		y := make([]float64, len(c.x))
		var truth float64
		for i, x := range c.x {
			e := c.sd * rng.NormFloat64()
			y[i] = c.model(c.truth, x) + e
			truth += e * e
		}
		var ends []*Result
		for _, start := range [][]float64{c.first, c.second} {
			r, err := LeastSquares(Problem{Model: c.model, X: c.x, Y: y, Start: start})
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			if r.Status != Converged || r.RSS > truth {
				t.Errorf("%s from %v: %v, RSS %v beside %v of the truth: %v", c.name, start, r.Status, r.RSS, truth, r.Params)
			}
			ends = append(ends, r)
		}
		for i := range c.truth {
			agree(t, c.name, ends[0].Params[i], ends[1].Params[i], 7)
			agree(t, c.name+", standard error", ends[0].StdErr[i], ends[1].StdErr[i], 5)
		}
	}
}

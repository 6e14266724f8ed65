package season

import (
	"math"
	"math/rand/v2"
)

// Rotation is the year-rotation test: does the bad time fall at the same part of each year?
type Rotation struct {
	Years  int
	Length float64 // of the sum of the years' waves
	P      float64 // never below Floor
	Floor  float64 // 1 in 13 to the number of years less one: what chance alone can reach
}

// rotations is how many times the years are turned at random.
const rotations = 999

// rotate turns the wave of each usable year by a random angle of its own and counts how often their sum is as long as
// seen. The draws are the same on every run. With fewer than LeastYears years P is 1: they can never conclude.
//
// Source: Keelmark's domain notes 4.5 and statistics B (false alarms measured); random rotation as in Upton & Fingleton
// 1989, Spatial Data Analysis by Example, vol. 2 (from memory).
func rotate(ys []Year) Rotation {
	ys = usable(ys)
	return turn(ys, rand.New(rand.NewPCG(13, uint64(len(ys)))), rotations)
}

func turn(ys []Year, rng *rand.Rand, draws int) Rotation {
	r := Rotation{Years: len(ys), P: 1, Floor: math.Pow(SlotsOfYear, -float64(len(ys)-1))}
	var c, s float64
	lengths := make([]float64, len(ys))
	for i, y := range ys {
		c, s = c+y.Cos, s+y.Sin
		lengths[i] = math.Hypot(y.Cos, y.Sin)
	}
	r.Length = math.Hypot(c, s)
	if len(ys) < LeastYears || r.Length == 0 {
		return r
	}
	hits := 1
	for range draws {
		c, s = lengths[0], 0 // only the angles between years matter
		for _, l := range lengths[1:] {
			sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
			c, s = c+l*cos, s+l*sin
		}
		if math.Hypot(c, s) >= r.Length*(1-1e-12) {
			hits++
		}
	}
	r.P = max(float64(hits)/float64(draws+1), r.Floor)
	return r
}

// Cut is the evidence above which a season is named.
//
// Source: TestGrid of this package: simulated flocks without a season, five generators, regular and irregular looking,
// 3 to 8 years. The figures that it gave stand beside Measured.
const Cut = 10.75

// evidence adds what the model and the year-rotation test say: the likelihood ratio and minus the logarithm of the
// p-value. Either alone finds less or alarms more.
func evidence(w Wander, r Rotation) float64 { return w.Ratio - math.Log(r.P) }

package stat

import "math"

// Directions summarises angles, in radians: times of the year, of the day, compass bearings.
type Directions struct {
	N             int
	Mean          float64 // 0 to 2 pi; meaningless where Length is 0
	Length        float64 // of the mean of the unit vectors: 0 evenly spread, 1 all alike
	SD            float64 // sqrt(-2 ln Length), radians
	Concentration float64 // of the von Mises distribution, by maximum likelihood; biased upwards with few angles
	Z             float64 // Rayleigh's n Length^2
	P             float64 // of no preferred direction, if the angles are independent
}

// Circular summarises at least two angles in radians.
//
// Source: Mardia & Jupp 2000, Directional Statistics, 2.3 and 5.3; Rayleigh's p-value by the approximation of Greenwood &
// Durand 1955, Ann. Math. Stat. 26:233, as in Zar, Biostatistical Analysis.
func Circular(angles []float64) (Directions, error) {
	if err := checkSample("a mean direction", angles, 2); err != nil {
		return Directions{}, err
	}
	weights := make([]float64, len(angles))
	for i := range weights {
		weights[i] = 1
	}
	return circular(angles, weights), nil
}

// circular takes angles that occur weights times.
func circular(angles, weights []float64) Directions {
	var c, s, n float64
	for i, a := range angles {
		sin, cos := math.Sincos(a)
		c, s, n = c+weights[i]*cos, s+weights[i]*sin, n+weights[i]
	}
	d := Directions{N: int(math.Round(n)), Mean: math.Atan2(s, c), Length: math.Min(1, math.Hypot(c, s)/n)}
	if d.Mean < 0 {
		d.Mean += 2 * math.Pi
	}
	d.SD = math.Sqrt(-2 * math.Log(d.Length))
	d.Z = n * d.Length * d.Length
	resultant := n * d.Length
	d.P = math.Min(1, math.Exp(math.Sqrt(1+4*n+4*(n*n-resultant*resultant))-(1+2*n)))
	d.Concentration = concentration(d.Length)
	return d
}

// concentration solves I1(k)/I0(k) = length by bisection in log k.
func concentration(length float64) float64 {
	low, high := -20.0, 20.0
	switch {
	case length <= 0:
		return 0
	case besselRatio(math.Exp(high)) < length:
		return math.Inf(1)
	}
	for range 100 {
		mid := (low + high) / 2
		if besselRatio(math.Exp(mid)) < length {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Exp((low + high) / 2)
}

// besselRatio is I1(k)/I0(k), by the continued fraction I1/I0 = 1/(2/k + 1/(4/k + 1/(6/k + ...))).
//
// Source: NIST Digital Library of Mathematical Functions, 10.33.1.
func besselRatio(k float64) float64 {
	if k > 1e4 { // 10.40.1
		return 1 - 1/(2*k) - 1/(8*k*k)
	}
	terms := 30 + int(2*k)
	r := 0.0
	for i := min(terms, 4000); i >= 1; i-- {
		r = 1 / (2*float64(i)/k + r)
	}
	return r
}

package growth

import "math"

// The families of this file rise from a weight at hatch by a power of age. Their parameters are mature weight A,
// weight at hatch W0, age at inflection ti and shape m > 1.

var powerParams = []Parameter{matureWeight, hatchWeight, inflection, shape}

// weibull is W(t) = A - (A - W0) exp(-(t/s)^m), with s = ti (m/(m-1))^(1/m).
func weibull() Family {
	scale := func(p []float64) float64 { return p[2] * math.Pow(p[3]/(p[3]-1), 1/p[3]) }
	weight := func(p []float64, t float64) float64 {
		return p[0] - (p[0]-p[1])*math.Exp(-math.Pow(max(t, 0)/scale(p), p[3]))
	}
	return Family{
		Name: "weibull", Title: "Weibull", Params: powerParams,
		Source: "Weibull 1951, J. Appl. Mech. 18:293; as a growth curve Ratkowsky 1983, Nonlinear Regression Modeling, ch. 4",
		Weight: weight,
		Gain: func(p []float64, t float64) float64 {
			s := scale(p)
			z := math.Pow(max(t, 0)/s, p[3]-1)
			return (p[0] - p[1]) * math.Exp(-z*max(t, 0)/s) * p[3] / s * z
		},
		Inflection: func(p []float64) (float64, float64, bool) { return p[2], weight(p, p[2]), p[3] > 1 },
		AgeAt: func(p []float64, share float64) float64 {
			left := (1 - share) * p[0] / (p[0] - p[1])
			if left > 1 {
				return 0 // heavier than that at hatch
			}
			return scale(p) * math.Pow(-math.Log(left), 1/p[3])
		},
		Textbook: Textbook{
			Formula: "W = A - B exp(-k t^m)", Names: []string{"A", "B", "k", "m"},
			Values: func(p []float64) []float64 {
				return []float64{p[0], p[0] - p[1], math.Pow(scale(p), -p[3]), p[3]}
			},
			Params: func(v []float64) []float64 {
				s := math.Pow(v[2], -1/v[3])
				return []float64{v[0], v[0] - v[1], s * math.Pow((v[3]-1)/v[3], 1/v[3]), v[3]}
			},
			Weight: func(v []float64, t float64) float64 { return v[0] - v[1]*math.Exp(-v[2]*math.Pow(t, v[3])) },
		},
		start: func(ages, weights []float64) []float64 {
			return powerStart(ages, weights, func(share float64) float64 { return math.Log(-math.Log1p(-share)) },
				func(m, logScale float64) float64 { return math.Exp(logScale) * math.Pow((m-1)/m, 1/m) }, weight)
		},
		lower: powerLower(), upper: powerUpper(),
	}
}

// halfway turns the age at inflection into the age at which half of the way from hatch to mature weight is gone.
func halfway(p []float64) float64 { return p[2] * math.Pow((p[3]+1)/(p[3]-1), 1/p[3]) }

// morganMercerFlodin is W(t) = A - (A - W0) / (1 + (t/h)^m), with h = ti ((m+1)/(m-1))^(1/m).
func morganMercerFlodin() Family {
	weight := func(p []float64, t float64) float64 {
		return p[0] - (p[0]-p[1])/(1+math.Pow(max(t, 0)/halfway(p), p[3]))
	}
	fromHalf := func(h, m float64) float64 { return h * math.Pow((m-1)/(m+1), 1/m) }
	return Family{
		Name: "mmf", Title: "Morgan-Mercer-Flodin", Params: powerParams,
		Source: "Morgan, Mercer & Flodin 1975, PNAS 72:4327",
		Weight: weight,
		Gain: func(p []float64, t float64) float64 {
			h := halfway(p)
			z := math.Pow(max(t, 0)/h, p[3]-1)
			d := 1 + z*max(t, 0)/h
			return (p[0] - p[1]) * p[3] / h * z / (d * d)
		},
		Inflection: func(p []float64) (float64, float64, bool) { return p[2], weight(p, p[2]), p[3] > 1 },
		AgeAt: func(p []float64, share float64) float64 {
			above := share*p[0] - p[1]
			if above < 0 {
				return 0 // heavier than that at hatch
			}
			return halfway(p) * math.Pow(above/(p[0]*(1-share)), 1/p[3])
		},
		Textbook: Textbook{
			Formula: "W = (b g + a t^d) / (g + t^d)", Names: []string{"a", "b", "g", "d"},
			Values: func(p []float64) []float64 {
				return []float64{p[0], p[1], math.Pow(halfway(p), p[3]), p[3]}
			},
			Params: func(v []float64) []float64 {
				return []float64{v[0], v[1], fromHalf(math.Pow(v[2], 1/v[3]), v[3]), v[3]}
			},
			Weight: func(v []float64, t float64) float64 {
				z := math.Pow(t, v[3])
				return (v[1]*v[2] + v[0]*z) / (v[2] + z)
			},
		},
		start: func(ages, weights []float64) []float64 {
			return powerStart(ages, weights, func(share float64) float64 { return math.Log(share / (1 - share)) },
				func(m, logHalf float64) float64 { return fromHalf(math.Exp(logHalf), m) }, weight)
		},
		lower: powerLower(), upper: powerUpper(),
	}
}

// lopez is the generalised Michaelis-Menten equation with its flexible point of inflection. It is the same
// curve as Morgan, Mercer and Flodin's, written by the age at half growth.
func lopez() Family {
	f := morganMercerFlodin()
	f.Name, f.Title = "lopez", "generalised Michaelis-Menten (Lopez)"
	f.Source = "Lopez et al. 2000, J. Anim. Sci. 78:1816; the same curve as Morgan, Mercer & Flodin 1975"
	f.Textbook = Textbook{
		Formula: "W = (W0 K^c + Wf t^c) / (K^c + t^c)", Names: []string{"W0", "Wf", "K", "c"},
		Values: func(p []float64) []float64 { return []float64{p[1], p[0], halfway(p), p[3]} },
		Params: func(v []float64) []float64 {
			return []float64{v[1], v[0], v[2] * math.Pow((v[3]-1)/(v[3]+1), 1/v[3]), v[3]}
		},
		Weight: func(v []float64, t float64) float64 {
			k, z := math.Pow(v[2], v[3]), math.Pow(t, v[3])
			return (v[0]*k + v[1]*z) / (k + z)
		},
	}
	return f
}

// The shape stays above 1, where the curve has an inflection, and below what any growth shows.
func powerLower() []float64 { return []float64{0, 0, 1e-3, 1.01} }
func powerUpper() []float64 { return []float64{math.Inf(1), math.Inf(1), math.Inf(1), 20} }

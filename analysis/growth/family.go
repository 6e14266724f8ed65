package growth

import (
	"fmt"
	"math"
	"strings"
)

// Family is a family of growth curves W(t), weight by age, in parameters that a keeper can read. Parameter 0 is
// always the mature weight [g]; the others are described by Params. Weights are in grams, ages in days,
// rates per day.
type Family struct {
	Name     string // "gompertz"
	Title    string // "Gompertz"
	Params   []Parameter
	Weight   func(p []float64, age float64) float64        // [g]
	Gain     func(p []float64, age float64) float64        // slope of Weight [g/d]
	Gradient func(p []float64, age float64, out []float64) // of Weight by each parameter; nil: none in closed form
	// Inflection is where growth is fastest: age [d] and weight [g]; false where the curve has no such age.
	Inflection func(p []float64) (age, weight float64, ok bool)
	// AgeAt is the age [d] at which a share (0 to 1) of the mature weight is reached; NaN where it never is.
	AgeAt    func(p []float64, share float64) float64
	Textbook Textbook
	Source   string

	start        func(ages, weights []float64) []float64
	lower, upper []float64
}

// Parameter describes one parameter of a family.
type Parameter struct {
	Name string // as a data frame would call it: "mature_weight"
	Text string // as a sentence would: "mature weight"
	Unit string // "g", "1/d", "d" or ""
}

// Textbook is a family as its literature writes it.
type Textbook struct {
	Formula string
	Names   []string
	Values  func(p []float64) []float64 // from the parameters of the Family
	Params  func(v []float64) []float64 // back to them
	Weight  func(v []float64, age float64) float64
}

var (
	matureWeight = Parameter{"mature_weight", "mature weight", "g"}
	rate         = Parameter{"rate", "rate", "1/d"}
	inflection   = Parameter{"inflection_age", "age at fastest growth", "d"}
	hatchWeight  = Parameter{"hatch_weight", "weight at hatch", "g"}
	shape        = Parameter{"shape", "shape", ""}
)

// Families lists the families: Gompertz first, the default.
func Families() []Family {
	return []Family{gompertz(), logistic(), richards(), vonBertalanffy(), brody(), weibull(), morganMercerFlodin(), lopez()}
}

// FamilyNamed finds a family by name, or says which there are.
func FamilyNamed(name string) (Family, error) {
	var known []string
	for _, f := range Families() {
		if f.Name == name {
			return f, nil
		}
		known = append(known, f.Name)
	}
	return Family{}, fmt.Errorf("no growth curve is called %q; there are: %s", name, strings.Join(known, ", "))
}

// The Richards curve holds four of the families at a fixed shape nu:
//
//	W(t) = A (1 + nu exp(-k (t - ti)))^(-1/nu)
//
// nu -1 is Brody's (ti is then the age at which the curve leaves zero), -1/3 von Bertalanffy's, 0 (as a limit)
// Gompertz's and 1 the logistic. Growth is fastest at ti, at the weight A (1+nu)^(-1/nu).
//
// Source: Richards 1959, J. Exp. Bot. 10:290; this arrangement as in Tjørve & Tjørve 2010, J. Theor. Biol.
// 267:417 (unified Richards family; from memory, the identities are tested).

// almostZero is the |nu u| below which a series replaces differences that cancel.
const almostZero = 1e-5

func richardsWeight(a, k, ti, nu, t float64) float64 {
	u := math.Exp(-k * (t - ti))
	return a * math.Exp(-logOverNu(nu, u))
}

// logOverNu is log(1 + nu u) / nu, and u at nu 0. It is infinite, and the weight 0, before the age at which a curve
// of negative shape leaves zero.
func logOverNu(nu, u float64) float64 {
	switch {
	case nu == 0:
		return u
	case nu*u <= -1:
		return math.Inf(1)
	}
	return math.Log1p(nu*u) / nu
}

func richardsGain(a, k, ti, nu, t float64) float64 {
	u, w := math.Exp(-k*(t-ti)), richardsWeight(a, k, ti, nu, t)
	if w == 0 || math.IsInf(u, 1) {
		return 0
	}
	return w * k * u / (1 + nu*u)
}

// richardsGradient writes the derivatives by a, k, ti and, where out has a fourth place, nu.
func richardsGradient(a, k, ti, nu, t float64, out []float64) {
	u := math.Exp(-k * (t - ti))
	w := a * math.Exp(-logOverNu(nu, u))
	s := 0.0 // w u / (1 + nu u), which vanishes with w
	if w > 0 {
		s = w * u / (1 + nu*u)
	}
	out[0] = w / a
	out[1] = s * (t - ti)
	out[2] = -s * k
	if len(out) < 4 {
		return
	}
	if z := nu * u; w == 0 {
		out[3] = 0
	} else if math.Abs(z) < almostZero {
		out[3] = w * u * u * (0.5 - 2*z/3 + 3*z*z/4)
	} else {
		out[3] = w * (math.Log1p(z)/nu - u/(1+z)) / nu
	}
}

func richardsAgeAt(k, ti, nu, share float64) float64 {
	u := -math.Log(share)
	if nu != 0 {
		u = math.Expm1(nu*u) / nu
	}
	return ti - math.Log(u)/k
}

// fixedShape is the family at one shape of the Richards curve.
func fixedShape(name, title string, nu float64, source string) Family {
	atTi := math.Exp(-logOverNu(nu, 1))
	f := Family{
		Name: name, Title: title, Params: []Parameter{matureWeight, rate, inflection}, Source: source,
		Weight: func(p []float64, t float64) float64 { return richardsWeight(p[0], p[1], p[2], nu, t) },
		Gain:   func(p []float64, t float64) float64 { return richardsGain(p[0], p[1], p[2], nu, t) },
		Gradient: func(p []float64, t float64, out []float64) {
			richardsGradient(p[0], p[1], p[2], nu, t, out[:3])
		},
		Inflection: func(p []float64) (float64, float64, bool) { return p[2], p[0] * atTi, true },
		AgeAt:      func(p []float64, share float64) float64 { return richardsAgeAt(p[1], p[2], nu, share) },
		start:      func(ages, weights []float64) []float64 { return richardsStart(nu, ages, weights) },
		lower:      []float64{0, 0, math.Inf(-1)},
		upper:      []float64{math.Inf(1), math.Inf(1), math.Inf(1)},
	}
	return f
}

func gompertz() Family {
	f := fixedShape("gompertz", "Gompertz", 0, "Gompertz 1825, Phil. Trans. 115:513; Winsor 1932, PNAS 18:1; Laird 1966, Growth 30:349")
	// exp(-u) with u in closed form needs no logarithm, and this is the curve that is fitted most.
	f.Weight = func(p []float64, t float64) float64 { return p[0] * math.Exp(-math.Exp(-p[1]*(t-p[2]))) }
	f.Textbook = Textbook{
		Formula: "W = A exp(-b exp(-k t))", Names: []string{"A", "b", "k"},
		Values: func(p []float64) []float64 { return []float64{p[0], math.Exp(p[1] * p[2]), p[1]} },
		Params: func(v []float64) []float64 { return []float64{v[0], v[2], math.Log(v[1]) / v[2]} },
		Weight: func(v []float64, t float64) float64 { return v[0] * math.Exp(-v[1]*math.Exp(-v[2]*t)) },
	}
	return f
}

func logistic() Family {
	f := fixedShape("logistic", "logistic", 1, "Verhulst 1838; Nelder 1961, Biometrics 17:89")
	f.Textbook = Textbook{
		Formula: "W = A / (1 + b exp(-k t))", Names: []string{"A", "b", "k"},
		Values: func(p []float64) []float64 { return []float64{p[0], math.Exp(p[1] * p[2]), p[1]} },
		Params: func(v []float64) []float64 { return []float64{v[0], v[2], math.Log(v[1]) / v[2]} },
		Weight: func(v []float64, t float64) float64 { return v[0] / (1 + v[1]*math.Exp(-v[2]*t)) },
	}
	return f
}

func vonBertalanffy() Family {
	f := fixedShape("von_bertalanffy", "von Bertalanffy", -1.0/3, "von Bertalanffy 1957, Q. Rev. Biol. 32:217")
	f.Textbook = Textbook{
		Formula: "W = A (1 - b exp(-k t))^3", Names: []string{"A", "b", "k"},
		Values: func(p []float64) []float64 { return []float64{p[0], math.Exp(p[1]*p[2]) / 3, p[1]} },
		Params: func(v []float64) []float64 { return []float64{v[0], v[2], math.Log(3*v[1]) / v[2]} },
		Weight: func(v []float64, t float64) float64 { return v[0] * math.Pow(1-v[1]*math.Exp(-v[2]*t), 3) },
	}
	return f
}

// brody has no inflection: growth is fastest at hatch and slows from there.
func brody() Family {
	f := fixedShape("brody", "Brody", -1, "Brody 1945, Bioenergetics and Growth (monomolecular)")
	f.Params = []Parameter{matureWeight, rate, {"zero_age", "age at which the curve leaves zero", "d"}}
	f.Inflection = func([]float64) (float64, float64, bool) { return 0, 0, false }
	f.Textbook = Textbook{
		Formula: "W = A (1 - b exp(-k t))", Names: []string{"A", "b", "k"},
		Values: func(p []float64) []float64 { return []float64{p[0], math.Exp(p[1] * p[2]), p[1]} },
		Params: func(v []float64) []float64 { return []float64{v[0], v[2], math.Log(v[1]) / v[2]} },
		Weight: func(v []float64, t float64) float64 { return v[0] * (1 - v[1]*math.Exp(-v[2]*t)) },
	}
	return f
}

func richards() Family {
	f := Family{
		Name: "richards", Title: "Richards", Params: []Parameter{matureWeight, rate, inflection, shape},
		Source:   "Richards 1959, J. Exp. Bot. 10:290; textbook form as in Fitzhugh 1976, J. Anim. Sci. 42:1036",
		Weight:   func(p []float64, t float64) float64 { return richardsWeight(p[0], p[1], p[2], p[3], t) },
		Gain:     func(p []float64, t float64) float64 { return richardsGain(p[0], p[1], p[2], p[3], t) },
		Gradient: func(p []float64, t float64, out []float64) { richardsGradient(p[0], p[1], p[2], p[3], t, out[:4]) },
		Inflection: func(p []float64) (float64, float64, bool) {
			return p[2], p[0] * math.Exp(-logOverNu(p[3], 1)), p[3] > -1
		},
		AgeAt: func(p []float64, share float64) float64 { return richardsAgeAt(p[1], p[2], p[3], share) },
		start: func(ages, weights []float64) []float64 {
			return append(richardsStart(0.2, ages, weights), 0.2)
		},
		lower: []float64{0, 0, math.Inf(-1), -0.95},
		upper: []float64{math.Inf(1), math.Inf(1), math.Inf(1), 10},
	}
	f.Textbook = Textbook{
		Formula: "W = A (1 - b exp(-k t))^M", Names: []string{"A", "b", "k", "M"},
		Values: func(p []float64) []float64 {
			return []float64{p[0], -p[3] * math.Exp(p[1]*p[2]), p[1], -1 / p[3]}
		},
		Params: func(v []float64) []float64 {
			nu := -1 / v[3]
			return []float64{v[0], v[2], math.Log(-v[1]/nu) / v[2], nu}
		},
		Weight: func(v []float64, t float64) float64 { return v[0] * math.Pow(1-v[1]*math.Exp(-v[2]*t), v[3]) },
	}
	return f
}

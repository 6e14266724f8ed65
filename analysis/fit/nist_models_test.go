package fit

import "math"

// nistModels are the models of the collection NIST SRD 140, Statistical Reference Datasets, nonlinear
// regression (US government work), as each set's description states them.
var nistModels = map[string]Model{
	"Misra1a":  func(b, x []float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x[0])) },
	"Misra1b":  func(b, x []float64) float64 { return b[0] * (1 - math.Pow(1+b[1]*x[0]/2, -2)) },
	"Chwirut2": func(b, x []float64) float64 { return math.Exp(-b[0]*x[0]) / (b[1] + b[2]*x[0]) },
	"DanWood":  func(b, x []float64) float64 { return b[0] * math.Pow(x[0], b[1]) },
	"Gauss2": func(b, x []float64) float64 {
		t := x[0]
		return b[0]*math.Exp(-b[1]*t) + b[2]*math.Exp(-(t-b[3])*(t-b[3])/(b[4]*b[4])) +
			b[5]*math.Exp(-(t-b[6])*(t-b[6])/(b[7]*b[7]))
	},
	"Kirby2": func(b, x []float64) float64 {
		t := x[0]
		return (b[0] + b[1]*t + b[2]*t*t) / (1 + b[3]*t + b[4]*t*t)
	},
	"Hahn1": func(b, x []float64) float64 {
		t := x[0]
		return (b[0] + t*(b[1]+t*(b[2]+t*b[3]))) / (1 + t*(b[4]+t*(b[5]+t*b[6])))
	},
	"MGH17": func(b, x []float64) float64 {
		return b[0] + b[1]*math.Exp(-x[0]*b[3]) + b[2]*math.Exp(-x[0]*b[4])
	},
	"Lanczos1": func(b, x []float64) float64 {
		return b[0]*math.Exp(-b[1]*x[0]) + b[2]*math.Exp(-b[3]*x[0]) + b[4]*math.Exp(-b[5]*x[0])
	},
	"ENSO": func(b, x []float64) float64 {
		t := 2 * math.Pi * x[0]
		return b[0] + b[1]*math.Cos(t/12) + b[2]*math.Sin(t/12) + b[4]*math.Cos(t/b[3]) + b[5]*math.Sin(t/b[3]) +
			b[7]*math.Cos(t/b[6]) + b[8]*math.Sin(t/b[6])
	},
	"MGH09": func(b, x []float64) float64 {
		t := x[0]
		return b[0] * (t*t + t*b[1]) / (t*t + t*b[2] + b[3])
	},
	"MGH10": func(b, x []float64) float64 { return b[0] * math.Exp(b[1]/(x[0]+b[2])) },
	"Eckerle4": func(b, x []float64) float64 {
		z := (x[0] - b[2]) / b[1]
		return b[0] / b[1] * math.Exp(-z*z/2)
	},
	"BoxBOD": func(b, x []float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x[0])) },
	"Rat42":  func(b, x []float64) float64 { return b[0] / (1 + math.Exp(b[1]-b[2]*x[0])) },
	"Rat43": func(b, x []float64) float64 {
		return b[0] / math.Pow(1+math.Exp(b[1]-b[2]*x[0]), 1/b[3])
	},
}

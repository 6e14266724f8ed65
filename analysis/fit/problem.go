package fit

import (
	"fmt"
	"math"
)

// Model returns the expected response at one row of x. It must not keep or change its arguments; where the
// response does not exist it returns NaN, and the procedure turns back from there.
type Model func(params, x []float64) float64

// Gradient writes the derivative of the model by each parameter, at one row of x, into out.
type Gradient func(params, x, out []float64)

// Errors says how observations scatter about the model.
type Errors uint8

// The error models. Sigma of the result is in the unit of y for Additive, a standard deviation of log y for
// LogNormal, and the factor before |f|^power for PowerOfMean.
const (
	Additive    Errors = iota // y = f + e, SD(e) = sigma / sqrt(weight)
	LogNormal                 // log y = log f + e: errors in proportion to size; y and f must be positive
	PowerOfMean               // y = f + e, SD(e) = sigma |f|^power; Problem.Power fixes the power, else it is estimated
)

// Robust says how single bad observations are treated.
type Robust uint8

// The treatments of bad observations.
const (
	NotRobust Robust = iota
	Bisquare         // Tukey's biweight, tuned to 95 % efficiency at the normal; scale by median |residual|
	StudentT         // maximum likelihood under t errors with 4 degrees of freedom
)

// Problem is what is to be fitted.
type Problem struct {
	Model    Model
	Gradient Gradient    // nil: accurate numerical derivatives
	X        [][]float64 // one row an observation, as many columns as the model reads
	Y        []float64   // observed responses, finite
	Weights  []float64   // nil: all 1; else positive: Var(e) = sigma^2 / weight
	Start    []float64   // one value a parameter, finite, within the bounds
	Lower    []float64   // nil: none; a parameter with Lower = Upper is held fixed
	Upper    []float64   // nil: none
	Names    []string    // of the parameters; nil: b1, b2, ...
	Errors   Errors
	Power    *float64 // for PowerOfMean: the known power; nil: estimated
	Robust   Robust
	MaxSteps int // a rung of the procedure; 0: 5,000
}

// Column turns one variable into the rows that Problem.X wants.
func Column(x []float64) [][]float64 {
	rows := make([][]float64, len(x))
	for i := range x {
		rows[i] = x[i : i+1 : i+1]
	}
	return rows
}

const defaultSteps = 5000

// checked returns the problem with its defaults filled in, or why it cannot be fitted.
func (p Problem) checked() (Problem, error) {
	n, k := len(p.Y), len(p.Start)
	switch {
	case p.Model == nil:
		return p, badInput("no model")
	case k == 0:
		return p, badInput("no parameters: give a start for each")
	case len(p.X) != n:
		return p, badInput("%d rows of x for %d responses", len(p.X), n)
	case p.Weights != nil && len(p.Weights) != n:
		return p, badInput("%d weights for %d responses", len(p.Weights), n)
	case p.Lower != nil && len(p.Lower) != k || p.Upper != nil && len(p.Upper) != k:
		return p, badInput("bounds must name all %d parameters; use infinities for none", k)
	case p.Names != nil && len(p.Names) != k:
		return p, badInput("%d names for %d parameters", len(p.Names), k)
	case p.Robust != NotRobust && p.Errors == PowerOfMean:
		return p, badInput("robust fitting goes with additive or log-normal errors")
	}
	p.Start = append([]float64(nil), p.Start...)
	p.Lower, p.Upper = fill(p.Lower, k, math.Inf(-1)), fill(p.Upper, k, math.Inf(1))
	if p.Names == nil {
		for i := range k {
			p.Names = append(p.Names, fmt.Sprintf("b%d", i+1))
		}
	}
	if p.MaxSteps <= 0 {
		p.MaxSteps = defaultSteps
	}
	free := 0
	for i, b := range p.Start {
		if !finite(b) {
			return p, badInput("the start of %s is %v", p.Names[i], b)
		}
		if math.IsNaN(p.Lower[i]) || math.IsNaN(p.Upper[i]) || b < p.Lower[i] || b > p.Upper[i] {
			return p, badInput("the start of %s, %v, is not within %v to %v", p.Names[i], b, p.Lower[i], p.Upper[i])
		}
		if p.Lower[i] < p.Upper[i] {
			free++
		}
	}
	if n <= free {
		return p, fmt.Errorf("%w: %d observations cannot give %d parameters and a scatter", ErrTooFew, n, free)
	}
	for i, y := range p.Y {
		if !finite(y) {
			return p, badInput("response %d of %d is %v", i+1, n, y)
		}
		if p.Errors == LogNormal && y <= 0 {
			return p, badInput("response %d of %d is %v: errors in proportion to size need positive responses", i+1, n, y)
		}
		for _, x := range p.X[i] {
			if !finite(x) {
				return p, badInput("x of observation %d of %d is %v", i+1, n, x)
			}
		}
		if p.Weights != nil && !(p.Weights[i] > 0 && finite(p.Weights[i])) {
			return p, badInput("weight %d of %d is %v: leave the observation out instead", i+1, n, p.Weights[i])
		}
	}
	for i := range p.X {
		if f := p.Model(p.Start, p.X[i]); !finite(f) || p.Errors == LogNormal && f <= 0 {
			return p, badInput("at its start the model gives %v for observation %d", f, i+1)
		}
	}
	return p, nil
}

func fill(given []float64, k int, value float64) []float64 {
	if given != nil {
		return given
	}
	all := make([]float64, k)
	for i := range all {
		all[i] = value
	}
	return all
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

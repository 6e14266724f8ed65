package fit

import "math"

// Linear fits y = x beta by least squares: x has one row an observation with one value a parameter (with a column of
// ones for a constant). Weights are 1 where nil, names b1, b2, ... The estimates come from a QR factorisation and are
// then corrected with their own residuals; all methods of a Result apply.
//
// It returns ErrTooFew with as many parameters as observations, ErrInput with NaN or lengths that differ. Columns that
// repeat each other give a Result with Status Flat.
//
// Source: Golub & Van Loan 1996, Matrix Computations, 3rd ed., sections 5.3.2 (QR) and 5.3.7 (correction); checked
// with NIST Norris.
func Linear(x [][]float64, y, weights []float64, names []string) (*Result, error) {
	if len(x) == 0 || len(x[0]) == 0 {
		return nil, badInput("no parameters: give a row of x for each observation")
	}
	width := len(x[0])
	for i, row := range x {
		if len(row) != width {
			return nil, badInput("row %d of x has %d columns, the first has %d", i+1, len(row), width)
		}
	}
	p, err := Problem{
		Model: func(b, x []float64) float64 {
			var sum float64
			for j, v := range x {
				sum += b[j] * v
			}
			return sum
		},
		Gradient: func(_, x, out []float64) { copy(out, x) },
		X:        x, Y: y, Weights: weights, Names: names, Start: make([]float64, width),
	}.checked()
	if err != nil {
		return nil, err
	}
	w := newSystem(p).walk()
	w.rss, _ = w.residuals(w.point, w.r)
	return w.result(w.polish(Stuck)), nil
}

// RSquared is the share of the weighted variation of the responses about their mean that the fit takes up; NaN where
// the responses do not vary. It says little of a curve: a straight line through growing birds has a high one.
//
// Source: Draper & Smith 1998, Applied Regression Analysis, 3rd ed., section 1.3.
func (r *Result) RSquared() float64 {
	y := make([]float64, r.N)
	var mean, total, weights float64
	weight := func(i int) float64 {
		if r.problem.Weights == nil {
			return 1
		}
		return r.problem.Weights[i]
	}
	for i := range y {
		y[i] = r.problem.Y[i]
		if r.problem.Errors == LogNormal {
			y[i] = math.Log(y[i])
		}
		weights += weight(i)
		mean += weight(i) * y[i]
	}
	mean /= weights
	for i, v := range y {
		total += weight(i) * (v - mean) * (v - mean)
	}
	if total == 0 {
		return math.NaN()
	}
	return 1 - r.RSS/total
}

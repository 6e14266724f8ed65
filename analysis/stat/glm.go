package stat

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Response is the distribution of the values of a generalised linear model, with its canonical link.
type Response uint8

// The responses.
const (
	Gaussian Response = iota // identity link: ordinary least squares
	Binomial                 // logit link; values are successes of Trials
	Poisson                  // log link
)

// GLM is a generalised linear model to be fitted.
type GLM struct {
	Response Response
	Y        []float64
	Trials   []float64   // Binomial only, each 1 or more
	X        [][]float64 // one row for each value; put a column of ones first
	Offset   []float64   // added to the linear predictor; may be nil
}

// FittedGLM is what Fit found. Standard errors are those of dispersion 1, for Gaussian of the estimated one.
type FittedGLM struct {
	Effects      []Coefficient
	Covariance   [][]float64
	Deviance     float64
	NullDeviance float64 // of a constant with the same offset
	LogLik       float64
	AIC          float64
	// Dispersion is Pearson's chi-squared over DF: above 1 the values vary more than their family does.
	Dispersion float64
	DF, N      int
	response   Response
}

// Fit finds the maximum of the likelihood by iterated weighted least squares. It needs more values than columns, which
// must not depend on each other, and refuses data that a column separates (all failures, all successes, no count).
//
// Source: McCullagh & Nelder 1989, Generalized Linear Models, 2.5; Pearson dispersion, 4.5.
func (g GLM) Fit() (FittedGLM, error) {
	if err := g.check(); err != nil {
		return FittedGLM{}, err
	}
	n, p := len(g.Y), len(g.X[0])
	b, information, err := g.iterate(g.X)
	if err != nil {
		return FittedGLM{}, err
	}
	out := FittedGLM{N: n, DF: n - p, response: g.Response}
	eta := g.eta(g.X, b)
	var pearson float64
	for i := range g.Y {
		mu, v := g.mean(i, eta[i])
		pearson += (g.Y[i] - mu) * (g.Y[i] - mu) / v
		out.Deviance += g.deviance(i, mu)
	}
	ones := make([][]float64, n)
	for i := range ones {
		ones[i] = []float64{1}
	}
	if null, _, err := g.iterate(ones); err == nil {
		eta := g.eta(ones, null)
		for i := range g.Y {
			mu, _ := g.mean(i, eta[i])
			out.NullDeviance += g.deviance(i, mu)
		}
	}
	out.Dispersion = pearson / float64(out.DF)
	scale, parameters := 1.0, float64(p)
	switch g.Response {
	case Gaussian:
		scale = out.Dispersion
		nf := float64(n)
		out.LogLik = -nf / 2 * (math.Log(2*math.Pi*out.Deviance/nf) + 1)
		parameters++
	default:
		for i := range g.Y {
			mu, _ := g.mean(i, eta[i])
			out.LogLik += g.logChance(i, mu)
		}
	}
	out.AIC = 2*parameters - 2*out.LogLik
	var inverse mat.SymDense
	if err := information.InverseTo(&inverse); err != nil {
		return FittedGLM{}, domain("the columns depend on each other: %v", err)
	}
	for i := range p {
		row := make([]float64, p)
		for j := range p {
			row[j] = scale * inverse.At(i, j)
		}
		out.Covariance = append(out.Covariance, row)
		out.Effects = append(out.Effects, Coefficient{b[i], math.Sqrt(row[i])})
	}
	return out, nil
}

// Quasi scales covariance and standard errors with the dispersion, for values that vary more (or less) than their
// family.
//
// Source: McCullagh & Nelder 1989, Generalized Linear Models, 9.3.
func (f FittedGLM) Quasi() FittedGLM {
	if f.response == Gaussian {
		return f
	}
	q := f
	q.Effects, q.Covariance = nil, nil
	for i, row := range f.Covariance {
		scaled := make([]float64, len(row))
		for j := range row {
			scaled[j] = row[j] * f.Dispersion
		}
		q.Covariance = append(q.Covariance, scaled)
		q.Effects = append(q.Effects, Coefficient{f.Effects[i].Value, math.Sqrt(scaled[i])})
	}
	return q
}

// Solve returns the x at which Effects[constant] + x Effects[slope] reaches eta, with its standard error by the delta
// method: the dose for a half, with eta 0 of a logistic model.
//
// Source: Finney 1971, Probit Analysis; Venables & Ripley 2002, Modern Applied Statistics with S, 7.2.
func (f FittedGLM) Solve(eta float64, constant, slope int) (Coefficient, error) {
	if constant < 0 || slope < 0 || max(constant, slope) >= len(f.Effects) || constant == slope {
		return Coefficient{}, domain("no such two columns: %d, %d", constant, slope)
	}
	b := f.Effects[slope].Value
	if b == 0 {
		return Coefficient{}, domain("the slope is 0")
	}
	x := (eta - f.Effects[constant].Value) / b
	v := f.Covariance[constant][constant] + 2*x*f.Covariance[constant][slope] + x*x*f.Covariance[slope][slope]
	return Coefficient{x, math.Sqrt(v) / math.Abs(b)}, nil
}

func (g GLM) check() error {
	n := len(g.Y)
	if n == 0 || len(g.X) != n {
		return domain("%d values and %d rows", n, len(g.X))
	}
	p := len(g.X[0])
	if err := checkSample("a model", g.Y, p+1); err != nil {
		return err
	}
	if p == 0 || g.Offset != nil && len(g.Offset) != n {
		return domain("%d columns, %d offsets for %d values", p, len(g.Offset), n)
	}
	if g.Response == Binomial && len(g.Trials) != n {
		return domain("%d values and %d trials", n, len(g.Trials))
	}
	for i, row := range g.X {
		if len(row) != p {
			return domain("row %d has %d columns, the first %d", i+1, len(row), p)
		}
		if err := checkSample("a row", row, p); err != nil {
			return err
		}
		switch {
		case g.Offset != nil && (math.IsNaN(g.Offset[i]) || math.IsInf(g.Offset[i], 0)):
			return domain("offset %d is %v", i+1, g.Offset[i])
		case g.Response != Gaussian && g.Y[i] < 0:
			return domain("value %d is %v", i+1, g.Y[i])
		case g.Response == Binomial && !(g.Trials[i] >= 1 && g.Y[i] <= g.Trials[i]):
			return domain("%v successes of %v trials", g.Y[i], g.Trials[i])
		}
	}
	return nil
}

// iterate returns the coefficients of columns x and the Fisher information at them.
func (g GLM) iterate(x [][]float64) ([]float64, *mat.Cholesky, error) {
	p := len(x[0])
	b := make([]float64, p)
	eta := make([]float64, len(g.Y))
	for i := range eta { // from the values themselves, pulled a little off the edge
		switch g.Response {
		case Binomial:
			eta[i] = math.Log((g.Y[i] + 0.5) / (g.Trials[i] - g.Y[i] + 0.5))
		case Poisson:
			eta[i] = math.Log(g.Y[i] + 0.1)
		default:
			eta[i] = g.Y[i]
		}
	}
	before := math.Inf(1)
	for range 100 {
		xx, xz := mat.NewSymDense(p, nil), mat.NewVecDense(p, nil)
		for i, row := range x {
			mu, v := g.mean(i, eta[i])
			z := eta[i] + (g.Y[i]-mu)/v
			if g.Offset != nil {
				z -= g.Offset[i]
			}
			for j := range p {
				xz.SetVec(j, xz.AtVec(j)+v*row[j]*z)
				for k := j; k < p; k++ {
					xx.SetSym(j, k, xx.At(j, k)+v*row[j]*row[k])
				}
			}
		}
		var information mat.Cholesky
		if !information.Factorize(xx) || information.Cond() > 1e13 {
			return nil, nil, domain("the columns depend on each other")
		}
		var solved mat.VecDense
		if err := information.SolveVecTo(&solved, xz); err != nil {
			return nil, nil, domain("the columns depend on each other: %v", err)
		}
		copy(b, solved.RawVector().Data)
		eta = g.eta(x, b)
		deviance := 0.0
		for i := range g.Y {
			mu, _ := g.mean(i, eta[i])
			deviance += g.deviance(i, mu)
		}
		for i, e := range eta {
			if g.Response != Gaussian && math.Abs(e) > edge && g.separates(i, e) {
				return nil, nil, domain("a column separates the values: the likelihood has no maximum")
			}
		}
		if math.IsNaN(deviance) {
			return nil, nil, domain("no maximum of the likelihood was found")
		}
		if math.Abs(before-deviance) <= 1e-13*(math.Abs(deviance)+0.1) {
			return b, &information, nil
		}
		before = deviance
	}
	return nil, nil, domain("no maximum of the likelihood was found")
}

// edge is a linear predictor that no honest fit reaches for a chance or a rate.
const edge = 25.0

func (g GLM) eta(x [][]float64, b []float64) []float64 {
	out := make([]float64, len(x))
	for i, row := range x {
		for j := range row {
			out[i] += row[j] * b[j]
		}
		if g.Offset != nil {
			out[i] += g.Offset[i]
		}
	}
	return out
}

// mean is the expectation of a value and the variance of its family, which under the canonical link is also the weight.
func (g GLM) mean(i int, eta float64) (mu, variance float64) {
	switch g.Response {
	case Binomial:
		p := 1 / (1 + math.Exp(-eta))
		return g.Trials[i] * p, max(g.Trials[i]*p*(1-p), 1e-12)
	case Poisson:
		mu := math.Exp(min(eta, 300))
		return mu, max(mu, 1e-12)
	}
	return eta, 1
}

func (g GLM) deviance(i int, mu float64) float64 {
	y := g.Y[i]
	switch g.Response {
	case Binomial:
		n := g.Trials[i]
		return 2 * (xlog(y, y/mu) + xlog(n-y, (n-y)/(n-mu)))
	case Poisson:
		return 2 * (xlog(y, y/mu) - (y - mu))
	}
	return (y - mu) * (y - mu)
}

func (g GLM) logChance(i int, mu float64) float64 {
	y := g.Y[i]
	if g.Response == Binomial {
		n := g.Trials[i]
		return lgamma(n+1) - lgamma(y+1) - lgamma(n-y+1) + xlog(y, mu/n) + xlog(n-y, 1-mu/n)
	}
	return xlog(y, mu) - mu - lgamma(y+1)
}

// xlog is x log y, 0 where x is.
func xlog(x, y float64) float64 {
	if x == 0 {
		return 0
	}
	return x * math.Log(y)
}

func lgamma(x float64) float64 {
	l, _ := math.Lgamma(x)
	return l
}

// separates reports whether a value is fitted to the edge of its family, as happens when a column separates them.
func (g GLM) separates(i int, eta float64) bool {
	mu, _ := g.mean(i, eta)
	return math.Abs(g.Y[i]-mu) < 1e-6 && (g.Response == Poisson && g.Y[i] == 0 || g.Response == Binomial)
}

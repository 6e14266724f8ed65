package fit

import (
	"math"
)

// Result is what a fit found. Slices are by parameter or by observation, in the order of the Problem.
type Result struct {
	Names  []string
	Params []float64
	// StdErr are asymptotic standard errors; infinite with Status Flat. A parameter that was held fixed or
	// ended on a bound has NaN, and the others' are conditional on it.
	StdErr []float64
	Cov    [][]float64 // covariance of the estimates, with NaN and infinities as in StdErr
	Sigma  float64     // residual standard deviation, in the unit that Errors says
	DF     int         // observations less free parameters
	N      int
	RSS    float64 // weighted residual sum of squares
	LogLik float64 // of the responses themselves under every error model, so that they compare
	// AIC, AICc and BIC count sigma (and an estimated power) as a parameter, as R does. AICc is infinite
	// where there are too few observations for it.
	AIC, AICc, BIC float64
	Power          float64 // of the mean, with PowerOfMean
	Fitted         []float64
	Residuals      []float64 // y - fitted; log y - log fitted with LogNormal
	Leverage       []float64 // 0 to 1: how much each observation pulls its own fitted value
	RobustWeights  []float64 // 0 to 1, nil unless robust: how far each observation was believed
	Status         Status
	Steps, Evals   int // steps of all rungs, evaluations of the model

	problem Problem     // as fitted, for profiles and predictions; weights include those of the error model
	root    [][]float64 // columns of R to the power -1, in the unit of 1/sigma
	jac     [][]float64 // columns of weighted derivatives
	score   []float64   // weighted residuals
	active  []int       // parameters that root and jac speak of
}

// result assembles what the walk's end says; w must have been polished.
func (w *walk) result(status Status) *Result {
	n := len(w.Y)
	r := &Result{
		Names: w.Names, Params: append([]float64(nil), w.point...), N: n, DF: n - len(w.free), RSS: w.rss,
		Status: status, Steps: w.steps, Evals: w.evals, problem: w.Problem,
		Residuals: make([]float64, n), Fitted: make([]float64, n), Leverage: make([]float64, n),
	}
	r.problem.Start = r.Params
	for i := range r.Residuals {
		r.Residuals[i] = w.r[i] / w.root[i]
		r.Fitted[i] = w.Model(r.Params, w.X[i])
	}
	r.Sigma = math.Sqrt(r.RSS / float64(r.DF))
	w.covariance(r)
	r.likelihood(w.root, len(w.free)+1)
	return r
}

// covariance fills standard errors, covariance and leverage from derivatives at the end.
func (w *walk) covariance(r *Result) {
	p := len(r.Params)
	r.StdErr = fill(nil, p, math.NaN())
	for range p {
		r.Cov = append(r.Cov, fill(nil, p, math.NaN()))
	}
	if _, ok := w.linearise(true); !ok {
		r.Status = Stuck
		return
	}
	for _, j := range w.active {
		r.active = append(r.active, w.free[j])
		r.jac = append(r.jac, append([]float64(nil), w.cols[j]...))
	}
	r.score = append([]float64(nil), w.r...)
	root, _, ok := w.q.inverse()
	if !ok || !w.q.determined() {
		if r.Status == Converged {
			r.Status = Flat
		}
		for _, a := range r.active {
			r.StdErr[a] = math.Inf(1)
			for _, b := range r.active {
				r.Cov[a][b] = math.Inf(1)
			}
		}
		r.active = nil
		return
	}
	r.root = root
	for i, a := range r.active {
		for j, b := range r.active {
			var sum float64
			for k := max(i, j); k < len(root); k++ {
				sum += root[k][i] * root[k][j]
			}
			r.Cov[a][b] = r.Sigma * r.Sigma * sum
		}
		r.StdErr[a] = math.Sqrt(r.Cov[a][a])
	}
	for i := range r.Leverage {
		for k := range root { // row i of J times R to the power -1 is row i of Q
			var q float64
			for a := 0; a <= k; a++ {
				q += r.jac[a][i] * root[k][a]
			}
			r.Leverage[i] += q * q
		}
	}
}

// likelihood fills the criteria; k counts all estimated parameters including sigma.
//
// Source: Akaike 1974, IEEE Trans. Autom. Control 19:716; Hurvich & Tsai 1989, Biometrika 76:297 (AICc);
// Schwarz 1978, Ann. Stat. 6:461; the counting of sigma as in R's logLik for nls.
func (r *Result) likelihood(rootWeights []float64, k int) {
	n := float64(r.N)
	r.LogLik = -n / 2 * (math.Log(2*math.Pi*r.RSS/n) + 1)
	for i, w := range rootWeights {
		r.LogLik += math.Log(w)
		if r.problem.Errors == LogNormal {
			r.LogLik -= math.Log(r.problem.Y[i]) // density of y, not of log y
		}
	}
	r.criteria(k)
}

func (r *Result) criteria(k int) {
	n, kf := float64(r.N), float64(k)
	r.AIC = 2*kf - 2*r.LogLik
	r.BIC = kf*math.Log(n) - 2*r.LogLik
	r.AICc = math.Inf(1)
	if n > kf+1 {
		r.AICc = r.AIC + 2*kf*(kf+1)/(n-kf-1)
	}
}

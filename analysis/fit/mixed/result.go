package mixed

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis/fit"
	"keelmark/analysis/stat"
)

// Result is what a mixed fit found. Slices are by fixed effect (p), by random effect (q), by group (in order of
// first appearance) or by observation (in the order given).
type Result struct {
	Names  []string
	Fixed  []float64 // estimates of the fixed effects
	StdErr []float64 // infinite with Status Flat where the data leave fixed effects open; for maximum likelihood with sigma^2 N/(N-p), as R's summary of lme and nlme
	Cov    [][]float64
	DF     []float64 // of each fixed effect, for t: counted within groups or between them, as R's lme does

	Random []string    // names of the random effects
	SD     []float64   // of the random effects, in the unit of their coefficients
	Corr   [][]float64 // of the random effects; NaN beside one whose SD is 0
	// Effects are the predicted random effects of each group (best linear unbiased, at the estimated variances), in
	// the unit of SD. EffectErr is the standard error of their prediction, with the uncertainty of the fixed
	// effects and without that of the variances.
	Groups    []string
	Effects   [][]float64
	EffectErr [][]float64

	Sigma  float64   // residual SD: the factor before the variance function; of log y with log-normal errors
	Power  float64   // of PowerOfMean or PowerOfCovariate
	Strata []string  // of PerStratum
	Ratios []float64 // of PerStratum: SD beside that of the first stratum
	Phi    float64   // of AR1 or ContinuousAR1

	Fitted       []float64 // with the group's own effects
	Population   []float64 // with the fixed effects alone
	Residuals    []float64 // y - Fitted; log y - log Fitted with log-normal errors
	Standardised []float64 // residuals freed of unequal variance and correlation, over sigma

	Criterion Criterion
	LogLik    float64 // restricted with REML: comparable only between models of the same fixed effects
	// The criteria count fixed effects, variances, covariances, parameters of the scatter and sigma. BIC and AICc
	// take N, with REML N-p, as R does. AICc is infinite where there are too few observations for it.
	AIC, AICc, BIC float64
	Parameters     int
	N              int

	Status fit.Status
	// Boundary says in words which variances ended at zero and whether a correlation ended at one. The fit is then
	// valid, and the data show no such difference between groups; it does not show that there is none.
	Boundary []string
	Steps    int // linearisations, or Newton steps of a linear model

	logSDErr    []float64 // by random effect: standard error of log SD
	logSigmaErr float64
	cov         [][]float64 // of the fixed effects, without the factor N/(N-p)
	effects     []jointCov  // by group
}

// jointCov is the covariance of one group's prediction errors and of the fixed effects with them.
type jointCov struct{ bb, xb [][]float64 }

// Criterion is what a fit maximises.
type Criterion uint8

// The criteria.
const (
	ML   Criterion = iota // likelihood
	REML                  // restricted likelihood: variances are freed of the bias of ML; compare fixed effects by ML
)

// Interval returns an interval of one fixed effect, by its place, by t with its degrees of freedom.
func (r *Result) Interval(i int, level float64) (stat.Interval, error) {
	if i < 0 || i >= len(r.Fixed) {
		return stat.Interval{}, badInput("no fixed effect %d of %d", i, len(r.Fixed))
	}
	t, err := stat.Multiplier(level, r.DF[i])
	if err != nil {
		return stat.Interval{}, fmt.Errorf("%s: %w", r.Names[i], err)
	}
	half := t * r.StdErr[i]
	return stat.Interval{Value: r.Fixed[i], Low: r.Fixed[i] - half, High: r.Fixed[i] + half, Level: level, N: r.N}, nil
}

// String says the end of the fit in words.
func (r *Result) String() string {
	end := r.Status.String()
	if len(r.Boundary) > 0 {
		end += "; " + strings.Join(r.Boundary, "; ")
	}
	return end
}

// result assembles a Result from an engine at its end. shift and x turn estimates back: coefficients of the fixed
// effects are x.back(beta + shift); random effects are those of the engine over scale.
func (e *engine) result(names, random []string, shift []float64, x *basis, scale []float64) *Result {
	p := e.p
	sigma2 := e.profile.sigma2()
	r := &Result{
		Names: names, Random: random, Groups: e.names, Sigma: math.Sqrt(sigma2), N: len(e.order), Steps: e.steps,
		Fixed: slices.Clone(e.profile.beta), Parameters: p + len(e.theta) + 1,
		Power: e.errors.power(e.psi), Strata: e.errors.strata, Ratios: e.errors.ratios(e.psi), Phi: e.errors.phi(e.psi),
	}
	for i := range shift {
		r.Fixed[i] += shift[i]
	}
	x.back(r.Fixed)
	root := make([][]float64, p) // rows: columns of the root of the covariance, in the design's own columns
	for j := range p {
		for i := range p {
			root[j] = append(root[j], e.profile.invX[i*p+j])
		}
		x.back(root[j])
	}
	r.cov = square(p)
	for a := range p {
		for b := range p {
			for j := range p {
				r.cov[a][b] += sigma2 * root[j][a] * root[j][b]
			}
		}
	}
	factor := 1.0
	if !e.profile.reml {
		factor = float64(r.N) / float64(r.N-p)
	} else {
		r.Criterion = REML
	}
	r.Cov = square(p)
	for a := range p {
		for b := range p {
			r.Cov[a][b] = factor * r.cov[a][b]
		}
		r.StdErr = append(r.StdErr, math.Sqrt(r.Cov[a][a]))
	}
	e.covariance(r, scale)
	e.predict(r, x, scale)
	r.Sigma *= e.errors.unit(e.psi)
	r.LogLik = -e.profile.value / 2
	if e.profile.reml {
		r.LogLik -= x.logDet() / 2
	}
	r.criteria()
	return r
}

func square(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// covariance fills SD and Corr from L.
func (e *engine) covariance(r *Result, scale []float64) {
	q := e.q
	cov := square(q)
	for i := range q {
		for j := range q {
			for a := range min(i, j) + 1 {
				cov[i][j] += e.l[i*q+a] * e.l[j*q+a]
			}
		}
		r.SD = append(r.SD, r.Sigma*math.Sqrt(cov[i][i])/scale[i])
	}
	r.Corr = square(q)
	for i := range q {
		for j := range q {
			r.Corr[i][j] = cov[i][j] / math.Sqrt(cov[i][i]*cov[j][j])
		}
		if cov[i][i] > 0 {
			r.Corr[i][i] = 1
		}
	}
}

// predict fills the random effects of each group and how certain they are.
func (e *engine) predict(r *Result, x *basis, scale []float64) {
	p, q := e.p, e.q
	sigma2 := r.Sigma * r.Sigma
	u := make([]float64, q)
	for k := range e.count() {
		e.profile.effects(k, e.l, u)
		uu, xu := e.profile.uncertainty(k, e.l)
		effect, err := make([]float64, q), make([]float64, q)
		joint := jointCov{bb: square(q), xb: make([][]float64, p)}
		for i := range p {
			joint.xb[i] = make([]float64, q)
		}
		for a := range q {
			for i := range a + 1 {
				effect[a] += e.l[a*q+i] * u[i] / scale[a]
			}
			for b := range q {
				for i := range a + 1 {
					for j := range b + 1 {
						joint.bb[a][b] += sigma2 * e.l[a*q+i] * uu[i*q+j] * e.l[b*q+j] / (scale[a] * scale[b])
					}
				}
			}
			err[a] = math.Sqrt(max(0, joint.bb[a][a]))
			column := make([]float64, p)
			for i := range p {
				for j := range a + 1 {
					column[i] += sigma2 * xu[i*q+j] * e.l[a*q+j] / scale[a]
				}
			}
			x.back(column)
			for i := range p {
				joint.xb[i][a] = column[i]
			}
		}
		r.Effects, r.EffectErr = append(r.Effects, effect), append(r.EffectErr, err)
		r.effects = append(r.effects, joint)
	}
}

// undetermined says that the data leave the fixed effects open: whatever was computed from their covariance is void.
func (r *Result) undetermined() {
	open := func(rows ...[]float64) {
		for _, row := range rows {
			for i := range row {
				row[i] = math.Inf(1)
			}
		}
	}
	open(r.StdErr)
	open(r.Cov...)
	open(r.cov...)
	open(r.EffectErr...)
	for k := range r.effects {
		open(r.effects[k].bb...)
		open(r.effects[k].xb...)
	}
	r.Sigma, r.LogLik, r.logSigmaErr = math.NaN(), math.NaN(), math.NaN()
	for i := range r.SD {
		r.SD[i] = math.NaN()
	}
}

// criteria fills AIC, AICc and BIC.
//
// Source: Pinheiro & Bates 2000, section 2.4.1; Hurvich & Tsai 1989, Biometrika 76:297 (AICc); the counting of N as
// in R's logLik for lme.
func (r *Result) criteria() {
	n, k := float64(r.N), float64(r.Parameters)
	if r.Criterion == REML {
		n -= float64(len(r.Fixed))
	}
	r.AIC = 2*k - 2*r.LogLik
	r.BIC = k*math.Log(n) - 2*r.LogLik
	r.AICc = math.Inf(1)
	if n > k+1 {
		r.AICc = r.AIC + 2*k*(k+1)/(n-k-1)
	}
}

// boundary says in words what settle found.
func (r *Result) boundary(zero []int, singular bool) {
	for _, i := range zero {
		r.Boundary = append(r.Boundary, fmt.Sprintf("the variance of %s between groups is estimated as zero", r.Random[i]))
	}
	if singular {
		r.Boundary = append(r.Boundary, "the random effects are perfectly correlated: they cannot be told apart")
	}
}

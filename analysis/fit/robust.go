package fit

import (
	"math"

	"keelmark/analysis/stat"
)

const (
	bisquareCut = 4.685 // 95 % efficiency at the normal. Source: Holland & Welsch 1977, Commun. Stat. A6:813
	tDF         = 4.0   // degrees of freedom of the t errors. Source: Lange, Little & Taylor 1989, J. Am. Stat. Assoc. 84:881
	mostRounds  = 500
	leastWeight = 1e-10 // stands for 0, so that every observation keeps a residual
)

// robust fits by reweighting from the least-squares fit until weights and parameters agree.
//
// Source: Bisquare: Beaton & Tukey 1974, Technometrics 16:147; scale by median |residual| and standard errors
// as in Huber 1981, Robust Statistics, section 7.6 (the form of R's MASS::rlm). StudentT: EM of Lange, Little &
// Taylor 1989, with standard errors from the expected information.
func robust(p Problem) (*Result, error) {
	plain := p
	plain.Robust = NotRobust
	w, status := minimise(plain)
	steps, evals := w.steps, w.evals
	n := len(p.Y)
	base := fill(p.Weights, n, 1)
	belief := fill(nil, n, 1)
	scale := math.NaN()
	for range mostRounds {
		var next float64
		if p.Robust == Bisquare {
			next = bisquareScale(w.r, w.root, base)
		} else {
			next = tScale(w.r, w.root, base, belief)
		}
		if next == 0 || w.exact() { // most observations lie on the curve: nothing to reweight
			scale = next
			break
		}
		reweighted := plain
		reweighted.Start = append([]float64(nil), w.point...)
		reweighted.Weights = make([]float64, n)
		for i := range base {
			z := w.r[i] / w.root[i] * math.Sqrt(base[i]) / next
			if p.Robust == Bisquare {
				belief[i] = bisquareWeight(z)
			} else {
				belief[i] = (tDF + 1) / (tDF + z*z)
			}
			reweighted.Weights[i] = base[i] * max(belief[i], leastWeight)
		}
		before := w.point
		w, status = refine(reweighted)
		steps, evals = steps+w.steps, evals+w.evals
		settled := math.Abs(next-scale) <= 1e-11*next
		scale = next
		for i, b := range w.point {
			settled = settled && math.Abs(b-before[i]) <= 1e-11*(math.Abs(b)+math.Abs(before[i]))
		}
		if settled {
			break
		}
	}
	w.steps, w.evals = steps, evals
	r := robustResult(p, w, status, base, belief, scale)
	return r, nil
}

// robustResult takes standard errors from the unweighted derivatives at the robust estimates.
func robustResult(p Problem, w *walk, status Status, base, belief []float64, scale float64) *Result {
	at := p
	at.Weights, at.Start = base, w.point
	s := newSystem(at)
	v := s.walk()
	copy(v.point, w.point)
	v.rss, _ = v.residuals(v.point, v.r)
	v.steps, v.evals = w.steps, w.evals
	r := v.result(status)
	n, k := float64(r.N), float64(len(v.free))
	r.RobustWeights = make([]float64, r.N)
	spread := scale
	switch p.Robust {
	case Bisquare:
		copy(r.RobustWeights, belief)
		var ss, mean, square float64
		for i := range v.r {
			z := v.r[i] / scale
			d := bisquareSlope(z)
			mean += d / n
			square += d * d / n
			e := v.r[i] * bisquareWeight(z)
			ss += e * e
		}
		if scale > 0 {
			kappa := 1 + k*(square-mean*mean)*n/(n-1)/(n*mean*mean)
			spread = math.Sqrt(ss/(n-k)) * kappa / mean
		}
		r.Sigma = scale
		r.LogLik, r.AIC, r.AICc, r.BIC = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	case StudentT:
		for i, b := range belief {
			r.RobustWeights[i] = b * tDF / (tDF + 1)
		}
		r.Sigma = scale * math.Sqrt(n/(n-k))
		spread = r.Sigma * math.Sqrt((tDF+3)/(tDF+1))
		r.LogLik = tLogLik(v, scale)
		r.criteria(len(v.free) + 1)
	}
	for i, a := range r.active {
		for j, b := range r.active {
			r.Cov[a][b] = 0
			for c := max(i, j); c < len(r.root); c++ {
				r.Cov[a][b] += spread * spread * r.root[c][i] * r.root[c][j]
			}
		}
		r.StdErr[a] = math.Sqrt(r.Cov[a][a])
	}
	return r
}

func bisquareScale(r, root, base []float64) float64 {
	away := make([]float64, len(r))
	for i := range r {
		away[i] = math.Abs(r[i]/root[i]) * math.Sqrt(base[i])
	}
	m, err := stat.Median(away)
	if err != nil {
		return 0
	}
	return m * stat.MADToSD
}

func bisquareWeight(z float64) float64 {
	u := z / bisquareCut
	if math.Abs(u) >= 1 {
		return 0
	}
	return (1 - u*u) * (1 - u*u)
}

// bisquareSlope is the derivative of z times its weight.
func bisquareSlope(z float64) float64 {
	u := z / bisquareCut
	if math.Abs(u) >= 1 {
		return 0
	}
	return (1 - u*u) * (1 - 5*u*u)
}

func tScale(r, root, base, belief []float64) float64 {
	var ss float64
	for i := range r {
		e := r[i] / root[i]
		ss += base[i] * belief[i] * e * e
	}
	return math.Sqrt(ss / float64(len(r)))
}

func tLogLik(v *walk, scale float64) float64 {
	a, _ := math.Lgamma((tDF + 1) / 2)
	b, _ := math.Lgamma(tDF / 2)
	var sum float64
	for i, e := range v.r {
		z := e / scale
		sum += a - b - math.Log(tDF*math.Pi)/2 - math.Log(scale) + math.Log(v.root[i]) - (tDF+1)/2*math.Log1p(z*z/tDF)
		if v.Errors == LogNormal {
			sum -= math.Log(v.Y[i])
		}
	}
	return sum
}

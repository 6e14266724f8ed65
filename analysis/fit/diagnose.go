package fit

import (
	"math"
	"slices"

	"keelmark/analysis/stat"
)

// Diagnosis is what the residuals say against a fit. Slices are by observation.
type Diagnosis struct {
	// Standardised are residuals over their own standard error, Student's within the fit; beyond 3 of either sign an
	// observation deserves a second look at its cell. NaN where an observation alone determines its fitted value.
	Standardised []float64
	// Cook is how far the whole fit moves when the observation is left out, by linear approximation; above 1 the fit
	// hangs on it.
	Cook []float64
	// Runs is the number of runs of like sign in the order of the first column of x, RunsExpected what independence
	// leads to expect, RunsP the chance of as few or fewer: small where the curve has the wrong shape. NaN with
	// fewer than 2 residuals of either sign.
	Runs                int
	RunsExpected, RunsP float64
	// LagOne is the correlation of neighbouring residuals in that order: near 0 where they are independent.
	LagOne float64
}

// Diagnose examines the residuals of a fit that has converged.
//
// Source: Cook & Weisberg 1982, Residuals and Influence in Regression, sections 2.1 and 3.1; for nonlinear models with
// the leverage of the linear approximation, St. Laurent & Cook 1992, J. Am. Stat. Assoc. 87:985. Runs: Wald &
// Wolfowitz 1940, Ann. Math. Stat. 11:147, by enumeration.
func (r *Result) Diagnose() (*Diagnosis, error) {
	if r.Status != Converged {
		return nil, badInput("no diagnosis: %s", r.Status)
	}
	if !(r.Sigma > 0) {
		return nil, badInput("no diagnosis: the fit leaves no residuals")
	}
	d := &Diagnosis{}
	for i, e := range r.score {
		h := r.Leverage[i]
		s, cook := math.NaN(), math.NaN()
		if h < 1-1e-10 {
			s = e / (r.Sigma * math.Sqrt(1-h))
			cook = s * s * h / (1 - h) / float64(len(r.active))
		}
		d.Standardised, d.Cook = append(d.Standardised, s), append(d.Cook, cook)
	}
	order := make([]int, r.N)
	for i := range order {
		order[i] = i
	}
	if len(r.problem.X[0]) > 0 {
		slices.SortStableFunc(order, func(a, b int) int {
			switch xa, xb := r.problem.X[a][0], r.problem.X[b][0]; {
			case xa < xb:
				return -1
			case xa > xb:
				return 1
			}
			return 0
		})
	}
	var plus, minus int
	var square, product, last float64
	for n, i := range order {
		e := r.score[i]
		if e >= 0 {
			plus++
		} else {
			minus++
		}
		if n == 0 || (e >= 0) != (last >= 0) {
			d.Runs++
		}
		square += e * e
		product += e * last
		last = e
	}
	d.LagOne = product / square
	d.RunsExpected, d.RunsP = math.NaN(), math.NaN()
	if plus >= 2 && minus >= 2 {
		a, b := float64(plus), float64(minus)
		d.RunsExpected = 1 + 2*a*b/(a+b)
		d.RunsP = fewRuns(plus, minus, d.Runs)
	}
	return d, nil
}

// fewRuns is the chance of at most runs runs among a of one sign and b of the other in random order.
func fewRuns(a, b, runs int) float64 {
	choose := func(n, k int) float64 { // logarithm
		if k < 0 || k > n {
			return math.Inf(-1)
		}
		x, _ := math.Lgamma(float64(n + 1))
		y, _ := math.Lgamma(float64(k + 1))
		z, _ := math.Lgamma(float64(n - k + 1))
		return x - y - z
	}
	all := choose(a+b, a)
	var p float64
	for r := 2; r <= runs; r++ {
		k := r / 2
		if r%2 == 0 {
			p += 2 * math.Exp(choose(a-1, k-1)+choose(b-1, k-1)-all)
			continue
		}
		p += math.Exp(choose(a-1, k)+choose(b-1, k-1)-all) + math.Exp(choose(a-1, k-1)+choose(b-1, k)-all)
	}
	return min(1, p)
}

// LackOfFit is the chance, by F, of so much lack of fit where observations repeat at the same x: small where the
// curve misses the means of repeated weighings by more than their scatter explains. It needs repeats and more
// distinct rows of x than parameters.
//
// Source: Draper & Smith 1998, Applied Regression Analysis, 3rd ed., section 2.1 (lack of fit and pure error).
func (r *Result) LackOfFit() (float64, error) {
	type cell struct {
		sum, square, n float64
	}
	cells := make(map[string]*cell)
	var order []*cell
	for i, e := range r.score {
		key := string(floatKey(r.problem.X[i]))
		c := cells[key]
		if c == nil {
			c = &cell{}
			cells[key] = c
			order = append(order, c)
		}
		if r.problem.Weights != nil {
			return 0, badInput("lack of fit is for observations of equal weight")
		}
		c.sum, c.square, c.n = c.sum+e, c.square+e*e, c.n+1
	}
	var pure float64
	for _, c := range order {
		pure += c.square - c.sum*c.sum/c.n
	}
	dfPure, dfLack := r.N-len(order), len(order)-(r.N-r.DF)
	if dfPure < 1 || dfLack < 1 {
		return 0, badInput("lack of fit needs repeats and more distinct x than parameters: %d repeats, %d distinct", dfPure, len(order))
	}
	f, err := stat.F(float64(dfLack), float64(dfPure))
	if err != nil {
		return 0, err
	}
	return f.Upper(max(0, r.RSS-pure) / float64(dfLack) / (pure / float64(dfPure)))
}

func floatKey(row []float64) []byte {
	var key []byte
	for _, v := range row {
		bits := math.Float64bits(v)
		for s := 0; s < 64; s += 8 {
			key = append(key, byte(bits>>s))
		}
	}
	return key
}

package mixed

import (
	"math"
	"slices"

	"keelmark/analysis/fit"
	"keelmark/analysis/stat"
)

// NonlinearResult is a Result with the curves of groups. Its Residuals are y - Fitted, or log y - log Fitted.
type NonlinearResult struct {
	Result
	Curves [][]float64 // of each group's curve, at its last observation: one value a parameter of the model

	problem NonlinearProblem
	curves  *curves
}

// result assembles the Result of an alternation at its end.
func (a *alternation) result(p NonlinearProblem, names, random []string) *NonlinearResult {
	shift := make([]float64, a.p)
	for i, b := range a.beta {
		shift[i] = b * a.x.r[i*a.p+i]
	}
	r := &NonlinearResult{Result: *a.e.result(names, random, shift, a.x, a.scale), problem: p, curves: a.curves}
	r.Steps = a.linearised
	n := len(a.y)
	r.Fitted, r.Population, r.Residuals = make([]float64, n), make([]float64, n), make([]float64, n)
	residuals := make([]float64, n)
	none := make([]float64, a.q)
	for k, effects := range r.Effects {
		for row := a.start[k]; row < a.start[k+1]; row++ {
			i := a.order[row]
			population, fitted := a.value(row, r.Fixed, none), a.value(row, r.Fixed, effects)
			residuals[row] = a.y[row] - fitted
			r.Residuals[i] = residuals[row]
			if a.logged {
				population, fitted = math.Exp(population), math.Exp(fitted)
			}
			r.Population[i], r.Fitted[i] = population, fitted
		}
		a.parameters(a.start[k+1]-1, r.Fixed, effects, a.phi)
		r.Curves = append(r.Curves, slices.Clone(a.phi))
	}
	r.Standardised = a.e.standardised(residuals)
	// Every fixed effect moves within groups once multiplied by a derivative: R's nlme counts them all so.
	for range r.Fixed {
		r.DF = append(r.DF, float64(n-a.count()-a.p+1))
	}
	return r
}

// Predict returns the curve of a group at x, with its own random effects and the design of its last observation, and
// intervals of the given level: of the curve, with the uncertainty of fixed and random effects but not that of the
// variances, and of one new observation. A group that was not fitted is an error: see PredictNew.
//
// Next is zero where the scatter at x is unknown (PowerOfCovariate, PerStratum). It takes the error of the new
// observation as independent of the group's others.
//
// Source: Pinheiro & Bates 2000, section 7.2.3; linear approximation, prediction errors as Henderson 1975, Biometrics
// 31:423; on the log scale and back with log-normal errors.
func (r *NonlinearResult) Predict(group string, x []float64, level float64) (fit.Prediction, error) {
	k := slices.Index(r.Groups, group)
	if k < 0 {
		return fit.Prediction{}, badInput("no group %q was fitted", group)
	}
	last := r.curves.start[k+1] - 1
	var design [][]float64
	for _, d := range r.curves.designs {
		if d == nil {
			design = append(design, nil)
			continue
		}
		design = append(design, d[last])
	}
	return r.predict(design, r.Effects[k], &r.effects[k], x, level, r.DF[0])
}

// PredictNew returns the curve of a group that was not fitted: intervals carry the variance between groups. design
// has one row a parameter (nil for a constant); nil where all are constants. Otherwise as Predict.
func (r *NonlinearResult) PredictNew(design [][]float64, x []float64, level float64) (fit.Prediction, error) {
	if design == nil {
		design = make([][]float64, len(r.curves.designs))
	}
	if len(design) != len(r.curves.designs) {
		return fit.Prediction{}, badInput("a design of %d parameters for %d", len(design), len(r.curves.designs))
	}
	for k, d := range r.curves.designs {
		want := 0
		if d != nil {
			want = len(d[0])
		}
		if len(design[k]) != want {
			return fit.Prediction{}, badInput("%d columns of the design of %s for %d", len(design[k]), r.problem.Parameters[k].Name, want)
		}
	}
	return r.predict(design, make([]float64, len(r.Random)), nil, x, level, float64(len(r.Groups)-1))
}

func (r *NonlinearResult) predict(design [][]float64, effects []float64, joint *jointCov, x []float64, level, df float64) (fit.Prediction, error) {
	t, err := stat.Multiplier(level, df)
	if err != nil {
		return fit.Prediction{}, err
	}
	one := *r.curves // scratch of its own: predictions may be asked for side by side
	one.phi, one.slope = make([]float64, one.params), make([]float64, one.params)
	one.x, one.designs = [][]float64{x}, make([][][]float64, len(design))
	for k, d := range design {
		if d != nil {
			one.designs[k] = [][]float64{d}
		}
	}
	dx, dz := make([]float64, one.p), make([]float64, one.q)
	value := one.value(0, r.Fixed, effects)
	one.derivatives(0, r.Fixed, effects, value, dx, dz)
	if !finite(value) {
		return fit.Prediction{}, badInput("the curve has no value at %v", x)
	}
	variance := r.variance(dx, dz, joint)
	if !finite(variance) {
		return fit.Prediction{}, badInput("no interval: %s", r.Status)
	}
	mean := value
	if one.logged {
		mean = math.Exp(value)
	}
	around := func(half float64) stat.Interval {
		i := stat.Interval{Value: mean, Low: value - half, High: value + half, Level: level, N: r.N}
		if one.logged {
			i.Low, i.High = math.Exp(i.Low), math.Exp(i.High)
		}
		return i
	}
	p := fit.Prediction{Value: mean, Curve: around(t * math.Sqrt(variance)), CurveSE: math.Sqrt(variance), DF: int(df)}
	switch r.problem.Scatter.Variance {
	case Constant:
		p.Next = around(t * math.Sqrt(variance+r.Sigma*r.Sigma))
	case PowerOfMean:
		p.Next = around(t * math.Hypot(math.Sqrt(variance), r.Sigma*math.Pow(math.Abs(mean), r.Power)))
	}
	return p, nil
}

// variance is that of dx' fixed + dz' (random effects - their prediction), or of dx' fixed + dz' (new effects).
func (r *Result) variance(dx, dz []float64, joint *jointCov) float64 {
	var v float64
	for a, da := range dx {
		for b, db := range dx {
			v += da * db * r.cov[a][b]
		}
	}
	if joint == nil {
		for a, da := range dz {
			for b, db := range dz {
				if r.SD[a] > 0 && r.SD[b] > 0 {
					v += da * db * r.SD[a] * r.SD[b] * r.Corr[a][b]
				}
			}
		}
		return v
	}
	for a, da := range dz {
		for b, db := range dz {
			v += da * db * joint.bb[a][b]
		}
		for i, di := range dx {
			v += 2 * di * da * joint.xb[i][a]
		}
	}
	return max(0, v)
}

// Combination estimates fixed' (fixed effects) + random' (random effects of a group), with an interval of the given
// level: an adult bird's own level, the difference of two lines. A nil random leaves the group out; with it an unknown
// group is an error. The interval carries the uncertainty of both, not that of the variances, by t with the degrees
// of freedom of the first fixed effect that takes part.
//
// Source: Henderson 1975, Biometrics 31:423.
func (r *Result) Combination(fixed []float64, group string, random []float64, level float64) (stat.Interval, error) {
	if len(fixed) != len(r.Fixed) || random != nil && len(random) != len(r.Random) {
		return stat.Interval{}, badInput("%d and %d coefficients for %d fixed and %d random effects", len(fixed), len(random), len(r.Fixed), len(r.Random))
	}
	out := stat.Interval{Level: level, N: r.N}
	df := r.DF[0]
	for i := len(fixed) - 1; i >= 0; i-- {
		out.Value += fixed[i] * r.Fixed[i]
		if fixed[i] != 0 {
			df = r.DF[i]
		}
	}
	joint := &jointCov{}
	if random != nil {
		k := slices.Index(r.Groups, group)
		if k < 0 {
			return stat.Interval{}, badInput("no group %q was fitted", group)
		}
		joint = &r.effects[k]
		for j, v := range random {
			out.Value += v * r.Effects[k][j]
		}
	}
	t, err := stat.Multiplier(level, df)
	if err != nil {
		return stat.Interval{}, err
	}
	variance := r.variance(fixed, random, joint)
	if !finite(variance) {
		return stat.Interval{}, badInput("no interval: %s", r.Status)
	}
	half := t * math.Sqrt(variance)
	out.Low, out.High = out.Value-half, out.Value+half
	return out, nil
}

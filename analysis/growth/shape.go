package growth

import (
	"fmt"
	"math"

	"keelmark/analysis/fit"
	"keelmark/analysis/stat"
)

// A range of mature weight that takes Gompertz's shape for certain is far too narrow where growth has a slightly
// other shape: in Keelmark's simulations (shape 0.3, weighed every two weeks to 20 weeks) 90 % ranges held the
// truth of 34 % of birds. So a Gompertz curve's mature weight is stated with the shape left open: the same
// weighings are fitted at several shapes of the Richards curve, and their answers mixed by how likely each makes
// the weighings and by how common such shapes are.
//
// Source: model averaging as in Buckland, Burnham & Augustin 1997, Biometrics 53:603. The spread of shapes is
// Keelmark's own: published Richards fits of fowl put the weight at inflection at 0.28 to 0.50 of mature weight
// (Knizetova et al., Br. Poult. Sci., 328 birds), which are shapes from -0.4 to 1.

// shapes are the shapes tried.
var shapes = [...]float64{-0.4, -0.2, 0, 0.2, 0.4, 0.7, 1, 1.4}

const (
	shapeSD = 0.6 // of shapes about Gompertz's 0
	// minShapeWeight is how likely a shape must be to refuse for it when its curve runs off.
	minShapeWeight = 0.05
)

// shapeMethods prepares a fit at each shape.
func shapeMethods(errors fit.Errors, robust fit.Robust, level float64) ([]method, error) {
	var out []method
	for _, nu := range shapes {
		m, err := newMethod(fixedShape("shape", "Richards", nu, ""), errors, robust, level)
		if err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	return out, nil
}

// answer is what one shape says of log mature weight.
type answer struct {
	mean, se, df, weight float64
	wild                 bool
}

// answer fits one shape. evidence is the logarithm of how likely it makes the weighings, up to a constant. Where the
// quick path ends in a minimum that is enough; groups and robust fits need the whole result.
func (m method) answer(ages, weights []float64, groups []string, heaviest float64) (a answer, evidence float64, ok bool) {
	n, p := float64(len(ages)), float64(len(m.family.Params))
	mature, se, rss, converged := 0.0, 0.0, 0.0, false
	if groups == nil && m.quick != nil && m.findQuick(ages, weights, m.family.start(ages, weights)) {
		mature, se, rss, converged = m.quick.Params[0], m.quick.StdErr[0], m.quick.RSS, true
	} else {
		r, err := m.curve(ages, weights)
		if err != nil {
			return a, 0, false
		}
		mature, se, rss, converged = r.Params[0], r.StdErr[0], r.RSS, r.Status == fit.Converged
		if m.robust != fit.NotRobust {
			evidence = r.LogLik * (n - p) / n
		}
		if groups != nil && converged {
			if k, err := r.Cluster(groups); err == nil {
				se, a.df = k.StdErr[0], float64(k.DF)
			}
		}
	}
	if m.robust == fit.NotRobust {
		// With sigma and the other parameters integrated out, the residual sum of squares enters with the
		// degrees of freedom rather than the number of weighings.
		evidence = -(n - p) / 2 * math.Log(rss)
	}
	a.mean, a.se = math.Log(mature), se/mature
	if a.df == 0 {
		a.df = n - p
	}
	a.wild = !converged || mature > MaxAsymptote*heaviest || !(a.se > 0 && a.se <= MaxRelativeSE)
	return a, evidence, rss > 0 && !math.IsNaN(evidence)
}

// openShape states the mature weight of a curve with its shape left open, or refuses where likely shapes run off.
func (m method) openShape(c *Curve, groups []string, heaviest float64) {
	ages, weights := c.series()
	together := 1.0 // weighings that go together tell less about the shape than as many independent ones
	if c.clustered != nil {
		ratio := c.clustered.StdErr[0] / c.fit.StdErr[0]
		together = max(1, ratio*ratio)
	}
	var answers []answer
	top := math.Inf(-1)
	for i, at := range m.shapes {
		a, evidence, ok := at.answer(ages, weights, groups, heaviest)
		if !ok {
			continue
		}
		z := shapes[i] / shapeSD
		a.weight = evidence/together - z*z/2
		top = max(top, a.weight)
		answers = append(answers, a)
	}
	var sum, wild float64
	for i := range answers {
		answers[i].weight = math.Exp(answers[i].weight - top)
		sum += answers[i].weight
	}
	for i := range answers {
		answers[i].weight /= sum
		if answers[i].wild {
			wild += answers[i].weight
		}
	}
	if wild >= minShapeWeight {
		c.refuse(ShapeUnknown, fmt.Sprintf("curves of another shape describe these weighings as well (chance about %.0f %%) and do not level off", 100*wild),
			"weighings nearer to maturity", c.weighLater())
		return
	}
	c.Mature = Estimate{Parameter: matureWeight, Level: m.level}
	tail := (1 - m.level) / 2
	for _, q := range []struct {
		p    float64
		into *float64
	}{{0.5, &c.Mature.Value}, {tail, &c.Mature.Low}, {1 - tail, &c.Mature.High}} {
		x, err := mixtureQuantile(answers, q.p)
		if err != nil {
			c.refuse(NoCurve, "no range can be computed: "+err.Error(), "more weighings", c.weighLater())
			return
		}
		*q.into = math.Exp(x)
	}
	var mean, square float64
	for _, a := range answers {
		if !a.wild {
			mean += a.weight / (1 - wild) * a.mean
			square += a.weight / (1 - wild) * (a.mean*a.mean + a.se*a.se)
		}
	}
	c.Mature.SE = c.Mature.Value * math.Sqrt(max(0, square-mean*mean))
	c.ShapeOpen = true
}

// mixtureQuantile is a quantile of the mixture of t distributions: by bisection between the quantiles of its parts.
func mixtureQuantile(answers []answer, p float64) (float64, error) {
	low, high, total := math.Inf(1), math.Inf(-1), 0.0
	parts := make([]stat.Distribution, len(answers))
	for i, a := range answers {
		if a.wild {
			continue
		}
		var err error
		if parts[i], err = stat.StudentT(a.df); err != nil {
			return 0, err
		}
		q, err := parts[i].Quantile(p)
		if err != nil {
			return 0, err
		}
		low, high, total = min(low, a.mean+q*a.se), max(high, a.mean+q*a.se), total+a.weight
	}
	for high-low > 1e-7 { // of log weight
		middle, below := (low+high)/2, 0.0
		for i, a := range answers {
			if a.wild {
				continue
			}
			v, err := parts[i].CDF((middle - a.mean) / a.se)
			if err != nil {
				return 0, err
			}
			below += a.weight / total * v
		}
		if below < p {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2, nil
}

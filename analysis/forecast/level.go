package forecast

import (
	"math"

	"keelmark/analysis/forecast/dense"
	"keelmark/analysis/forecast/outlier"
	"keelmark/analysis/standard"
)

// level is the dated weighings of one grown bird.
type level struct {
	days   []float64
	logs   []float64
	moults []float64 // days on which it was seen in moult
}

// levelDays is how far back the weighings of a grown bird count, and levelWeighings how many of them at most.
const (
	levelDays      = 3 * 365
	levelWeighings = 40
)

// swing is how grown birds' weights move about their own level: an SD that returns to the level within so many
// days, and the SD of a good weighing.
type swing struct {
	sd, days, noise float64
	log             float64 // log prior probability
}

// swings is the grid over which what is not known of the swings is integrated.
//
// Source: common practice, no source: grown birds move by some percent with lay, feed and moult over weeks to
// months; no figure for exhibition breeds was found. The grid spans 1.5 to 12 % and one to nine months.
func swings() []swing {
	var out []swing
	for _, sd := range []float64{0.015, 0.03, 0.06, 0.12} {
		for _, days := range []float64{30, 90, 270} {
			for _, noise := range []float64{0.015, 0.022, 0.03, 0.045} {
				square := func(x, median, sd float64) float64 { return math.Pow(math.Log(x/median)/sd, 2) }
				out = append(out, swing{sd, days, noise,
					-0.5 * (square(sd, 0.04, 0.7) + square(days, 90, 0.8) + square(noise, 0.03, 0.5))})
			}
		}
	}
	return out
}

// ownLevel is the log level of a bird before its weighings are seen: the published weight where there is one.
type ownLevel struct {
	mean, sd float64
}

// levelModel predicts grown birds of one flock together: each has its own level, and all share how weights swing, the
// season of the year and what a moult costs.
type levelModel struct {
	birds    []level
	priors   []ownLevel
	seasonal bool          // the year's course is fitted
	readings [][][]bool    // [bird][reading] which weighings are bad
	weights  [][][]float64 // [swing][bird][reading]
	swings   []swing
	common   []common  // [swing]
	grid     []float64 // weight of each swing
}

// newLevelModel integrates the swings over all birds.
//
// Source: Gaussian process with an Ornstein-Uhlenbeck covariance (Rasmussen & Williams 2006, Gaussian Processes for
// Machine Learning, eq. 4.9 and 2.30), with a fixed part for season and moult (eq. 2.42); bad weighings as in package outlier.
func newLevelModel(birds []level, priors []ownLevel, seasonal bool) levelModel {
	m := levelModel{birds: birds, priors: priors, swings: swings(), seasonal: seasonal}
	middle := swing{sd: 0.04, days: 90, noise: 0.03}
	logs := make([]float64, len(m.swings))
	for i := range birds {
		m.readings = append(m.readings, outlier.Ways(len(birds[i].days), func(bad []bool) float64 {
			l, _ := m.evidence(i, middle, bad, nil)
			return l
		}))
	}
	for g, s := range m.swings {
		c := m.fitCommon(s)
		logs[g] = s.log + c.log
		perBird := make([][]float64, len(birds))
		for i := range birds {
			var scores []float64
			for _, bad := range m.readings[i] {
				l, _ := m.evidence(i, s, bad, &c)
				scores = append(scores, l+outlier.LogPrior(bad))
			}
			total := outlier.LogSum(scores)
			logs[g] += total
			for j := range scores {
				scores[j] = math.Exp(scores[j] - total)
			}
			perBird[i] = scores
		}
		m.weights, m.common = append(m.weights, perBird), append(m.common, c)
	}
	total := outlier.LogSum(logs)
	for _, l := range logs {
		m.grid = append(m.grid, math.Exp(l-total))
	}
	return m
}

// covariance of a bird's log weights on two days so many days apart, weighing error left out.
func (o ownLevel) covariance(s swing, apart float64) float64 {
	return o.sd*o.sd + s.sd*s.sd*math.Exp(-math.Abs(apart)/s.days)
}

// evidence is the log likelihood of a bird's weighings, up to a constant of the bird, with the factor of their
// covariance. What birds have in common is taken out first; nil for nothing.
func (m *levelModel) evidence(bird int, s swing, bad []bool, common *common) (float64, dense.Factor) {
	l, ok := dense.Cholesky(m.joint(bird, s, bad))
	if !ok {
		return math.Inf(-1), nil
	}
	residual := m.residual(bird, common)
	l.Forward(residual)
	return -dense.Dot(residual, residual)/2 - l.HalfLogDet(), l
}

// joint is the covariance of a bird's weighings.
func (m *levelModel) joint(bird int, s swing, bad []bool) [][]float64 {
	b := &m.birds[bird]
	c := dense.Square(len(b.days))
	for i := range c {
		for j := 0; j <= i; j++ {
			c[i][j] = m.priors[bird].covariance(s, b.days[i]-b.days[j])
		}
		c[i][i] += s.noise * s.noise
		if bad[i] {
			c[i][i] += outlier.SD * outlier.SD
		}
	}
	return c
}

// residual is how far a bird's weighings lie from its prior level and from what birds have in common.
func (m *levelModel) residual(bird int, common *common) []float64 {
	b := &m.birds[bird]
	out := make([]float64, len(b.days))
	for i, day := range b.days {
		out[i] = b.logs[i] - m.priors[bird].mean
		if common != nil {
			x := m.shared(b, day)
			out[i] -= dense.Dot(x[:], common.mean)
		}
	}
	return out
}

// predictor predicts one good weighing of a bird on any day.
func (m *levelModel) predictor(bird int) func(day float64) standard.Predictive {
	type known struct {
		weight   float64
		swing    swing
		common   *common
		root     dense.Factor
		residual []float64
		shared   [sharedParts][]float64 // whitened, of the weighings
	}
	b, prior := &m.birds[bird], m.priors[bird]
	var parts []known
	for g, s := range m.swings {
		for r, bad := range m.readings[bird] {
			k := known{weight: m.grid[g] * m.weights[g][bird][r], swing: s, common: &m.common[g]}
			if k.weight < 1e-3 {
				continue
			}
			_, k.root = m.evidence(bird, s, bad, k.common)
			k.residual = m.residual(bird, k.common)
			k.root.Forward(k.residual)
			k.shared = m.whitened(bird, k.root)
			parts = append(parts, k)
		}
	}
	return func(day float64) standard.Predictive {
		var out standard.Predictive
		cross := make([]float64, len(b.days))
		for _, k := range parts {
			for i := range b.days {
				cross[i] = prior.covariance(k.swing, day-b.days[i])
			}
			k.root.Forward(cross)
			variance := prior.covariance(k.swing, 0) - dense.Dot(cross, cross) + k.swing.noise*k.swing.noise
			x := m.shared(b, day)
			mean := prior.mean + dense.Dot(x[:], k.common.mean) + dense.Dot(cross, k.residual)
			for j := range x {
				x[j] -= dense.Dot(cross, k.shared[j])
			}
			k.common.root.Forward(x[:])
			out.Parts = append(out.Parts, standard.Part{
				Weight: k.weight, Mean: mean, SD: math.Sqrt(max(variance+dense.Dot(x[:], x[:]), 0)),
			})
		}
		return out
	}
}

// bad is the chance that each weighing of a bird is a bad one.
func (m *levelModel) bad(bird int) []float64 {
	out := make([]float64, len(m.birds[bird].days))
	for g := range m.swings {
		for r, bad := range m.readings[bird] {
			for i, is := range bad {
				if is {
					out[i] += m.grid[g] * m.weights[g][bird][r]
				}
			}
		}
	}
	return out
}

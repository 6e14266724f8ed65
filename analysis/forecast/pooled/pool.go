package pooled

import (
	"math"
	"math/rand/v2"

	"keelmark/analysis/forecast/dense"
)

// The unknowns of a pool. Each has a normal or t prior; the pool is fitted on the scale of its prior (0, SD 1).
const (
	meanA = iota // log of the line's mature weight
	meanK
	meanT
	spreadA // log of the SD of birds
	spreadK
	spreadT
	noise
	shape
	wander
	settle
	unknowns
)

// prior is the center and scale of each unknown.
type prior [unknowns][2]float64

// priorTails are the degrees of freedom of each t prior; 0 for a normal one. What is known of chickens in general is
// taken for likely, not for certain: a line far from it is believed as soon as its records say so.
func priorTails() [unknowns]float64 {
	return [unknowns]float64{meanK: 4, meanT: 4, shape: 3, wander: 3}
}

// logPrior is the log density of a point on the prior's scale, up to a constant.
func logPrior(point []float64, tails *[unknowns]float64) float64 {
	sum := 0.0
	for i, z := range point {
		if df := tails[i]; df > 0 {
			sum -= (df + 1) / 2 * math.Log1p(z*z/df)
		} else {
			sum -= z * z / 2
		}
	}
	return sum
}

const (
	rateCentre       = 0.167 // per week
	inflectionCentre = 8.5   // weeks
)

// priorFor centres the line's mature weight on grams with a relative SD.
//
// Source: rate and inflection about a layer-type curve (0.0239 per day for a male, PMC7149552 Table 1; 0.167 per
// week, inflection at 8.5 weeks in Keelmark's planning), with tails that reach Kadaknath (9 to 17 weeks) and Chinese
// local breeds (5.1 to 6.2 weeks, Zhao et al. 2015). SD of birds about 12, 12 and 10 %: common practice, no
// source; heritage lines vary likewise (Afrouziyeh et al. 2021, Poult. Sci. 100:101059). Shape: Gompertz is the usual
// best curve of slow chickens; 328 birds of five breeds lay between -0.4 and 1.0 (Knizetova et al., Br. Poult. Sci.).
// How much a rate wanders, and how soon it returns, was found in no source: hardly at all unless the records say so.
func priorFor(grams, sd float64) prior {
	return prior{
		meanA:   {math.Log(grams), sd},
		meanK:   {math.Log(rateCentre), 0.18},
		meanT:   {math.Log(inflectionCentre), 0.18},
		spreadA: {math.Log(0.12), 0.40},
		spreadK: {math.Log(0.12), 0.40},
		spreadT: {math.Log(0.10), 0.40},
		noise:   {math.Log(0.03), 0.50},
		shape:   {0, 0.25},
		wander:  {math.Log(0.05), 1.00},
		settle:  {math.Log(2), 0.70},
	}
}

// at turns a point on the prior's scale into a pool.
func (q prior) at(point []float64) pool {
	v := func(i int) float64 { return q[i][0] + q[i][1]*point[i] }
	return pool{
		mean:   newCurve(v(meanA), v(meanK), v(meanT), v(shape)),
		spread: [3]float64{math.Exp(v(spreadA)), math.Exp(v(spreadK)), math.Exp(v(spreadT))},
		noise:  math.Exp(v(noise)),
		wander: math.Exp(v(wander)),
		settle: math.Exp(v(settle)),
	}
}

// draw is one pool that the records allow, with every bird fitted under it.
type draw struct {
	pool   pool
	weight float64
	birds  [][]mode // [bird][reading]
}

// mode is one bird under one pool and one reading: its standardised deviations with the factor of their Hessian.
type mode struct {
	weight float64
	x      []float64
	root   dense.Factor
}

// Posterior is what the weighings of a line and the published weight say of it together: its unknowns as a weighted
// sample, integrated, not frozen at their best value.
type Posterior struct {
	draws    []draw
	birds    []Track
	readings [][]reading // [bird]
	// Draws is the effective size of the sample; few means that the figures rest on few draws.
	Draws   float64
	Setback *Setback // nil where none shows
	// Blind is the size of a setback, as a share of weight, below which it might not show; +Inf where the weighings
	// could tell of none.
	Blind float64
}

const (
	firstDraws  = 120 // about the mode
	widerDraws  = 40  // about the mode with wide times the scale: other hills
	wide        = 2.5
	laterDraws  = 140 // about the mean of all draws before
	rounds      = 6   // of later draws at most, until all are worth
	enoughDraws = 80  // equally weighted ones
	tailDF      = 6   // of the proposals, heavier than a normal
	keptDraws   = 150
)

// Integrate samples what is not known of a line, given the growing weighings of its birds, at least one each, and about
// what weight in g its grown birds lie, with the relative SD of that. The sample is the same for the same input.
//
// Source: Laplace per bird and importance sampling over the pool (Tierney & Kadane 1986; Geweke 1989,
// Econometrica 57:1317). Freezing the pool at its best value covers 80 to 88 % where it says 90: Keelmark's own
// measurement.
func Integrate(grams, sd float64, birds []Track) Posterior {
	s := &sampler{prior: priorFor(grams, sd), tails: priorTails(), birds: birds, w: newWorkspace(birds), readings: make([][]reading, len(birds))}
	mode := make([]float64, unknowns)
	inverse := dense.Square(unknowns)
	for i := range inverse {
		inverse[i][i] = 0.1
	}
	// The readings depend on the pool, and the pool on the readings.
	s.read(mode)
	s.climb(mode, inverse, 0.1)
	s.read(mode)
	s.climb(mode, inverse, 0.01)
	center, root := mode, s.curvature(mode)
	random := rand.New(rand.NewPCG(1, 2))
	var m mixture
	s.propose(random, &m, center, root, firstDraws)
	s.propose(random, &m, center, root.Scaled(1/wide), widerDraws)
	weights := m.weights()
	for round := 0; round < rounds && (round == 0 || effectiveSize(weights) < enoughDraws); round++ {
		c, r, ok := moments(m.points, tempered(weights))
		if !ok {
			break
		}
		s.propose(random, &m, c, r, laterDraws)
		weights = m.weights()
	}
	out := Posterior{birds: birds, readings: s.readings, Draws: effectiveSize(weights)}
	for _, i := range resample(weights, keptDraws) {
		out.draws = append(out.draws, s.draw(m.points[i]))
	}
	out.Setback, out.Blind = s.setback(mode, root)
	return out
}

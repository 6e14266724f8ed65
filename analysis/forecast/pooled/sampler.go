package pooled

import (
	"math"
	"math/rand/v2"
	"slices"

	"keelmark/analysis/forecast/dense"
	"keelmark/analysis/forecast/outlier"
)

// sampler evaluates the posterior density of the pool's unknowns.
type sampler struct {
	prior    prior
	tails    [unknowns]float64
	birds    []Track
	w        *workspace
	readings [][]reading // [bird]
	x, logs  []float64
}

// read settles the readings of every bird at a point.
func (s *sampler) read(point []float64) {
	p := s.prior.at(point)
	for i := range s.birds {
		s.readings[i] = s.w.read(&p, &s.birds[i])
	}
}

// target is the log posterior density at a point on the prior's scale, up to a constant.
func (s *sampler) target(point []float64) float64 {
	p := s.prior.at(point)
	sum := logPrior(point, &s.tails)
	for i := range s.birds {
		s.w.prepare(&p, &s.birds[i])
		s.logs = s.logs[:0]
		for _, r := range s.readings[i] {
			s.x = append(s.x[:0], r.mode...)
			l, _ := s.w.fit(&p, &s.birds[i], r.bad, s.x)
			s.logs = append(s.logs, l+r.log)
		}
		sum += outlier.LogSum(s.logs)
	}
	return sum
}

// settle moves the starting points of later fits to the modes at a point.
func (s *sampler) settle(point []float64) {
	p := s.prior.at(point)
	for i := range s.birds {
		s.w.prepare(&p, &s.birds[i])
		for _, r := range s.readings[i] {
			s.w.fit(&p, &s.birds[i], r.bad, r.mode)
		}
	}
}

// draw fits every bird under one pool.
func (s *sampler) draw(point []float64) draw {
	d := draw{pool: s.prior.at(point), weight: 1}
	for i := range s.birds {
		s.w.prepare(&d.pool, &s.birds[i])
		var modes []mode
		s.logs = s.logs[:0]
		for _, r := range s.readings[i] {
			x := slices.Clone(r.mode)
			score, l := s.w.fit(&d.pool, &s.birds[i], r.bad, x)
			root := dense.Square(len(x))
			for j := range l {
				copy(root[j], l[j][:j+1])
			}
			modes = append(modes, mode{x: x, root: root})
			s.logs = append(s.logs, score+r.log)
		}
		total := outlier.LogSum(s.logs)
		for j := range modes {
			modes[j].weight = math.Exp(s.logs[j] - total)
		}
		d.birds = append(d.birds, modes)
	}
	return d
}

// climb finds the mode by BFGS, to within slope of the log density. inverse is the inverse of minus the Hessian as
// far as it is known, and is improved.
//
// Source: Nocedal & Wright 2006, Numerical Optimization, 2nd ed., algorithm 6.1.
func (s *sampler) climb(x []float64, inverse [][]float64, slope float64) {
	s.settle(x)
	value := s.target(x)
	gradient := s.gradient(x, value)
	step, next := make([]float64, unknowns), make([]float64, unknowns)
	for range 60 {
		for i := range step {
			step[i] = dense.Dot(inverse[i], gradient)
		}
		if longest := math.Sqrt(dense.Dot(step, step)); longest > 1.5 {
			for i := range step {
				step[i] *= 1.5 / longest
			}
		}
		rise := dense.Dot(step, gradient)
		if rise < slope {
			return
		}
		size := 1.0
		for ; size > 1e-3; size /= 2 {
			for i := range next {
				next[i] = x[i] + size*step[i]
			}
			if v := s.target(next); v > value+1e-4*size*rise {
				value = v
				break
			}
		}
		if size <= 1e-3 {
			return
		}
		s.settle(next)
		fresh := s.gradient(next, value)
		update(inverse, next, x, gradient, fresh)
		copy(x, next)
		gradient = fresh
	}
}

// gradient is by forward differences from a point where the target has a value.
func (s *sampler) gradient(x []float64, value float64) []float64 {
	const h = 1e-3
	g := make([]float64, unknowns)
	p := slices.Clone(x)
	for i := range g {
		p[i] = x[i] + h
		g[i] = (s.target(p) - value) / h
		p[i] = x[i]
		if math.IsNaN(g[i]) || math.IsInf(g[i], 0) {
			g[i] = 0
		}
	}
	return g
}

// update is the BFGS update of the inverse of minus the Hessian.
func update(inverse [][]float64, next, x, before, after []float64) {
	n := len(x)
	step, change := make([]float64, n), make([]float64, n)
	for i := range x {
		step[i], change[i] = next[i]-x[i], before[i]-after[i] // of minus the target
	}
	curve := dense.Dot(step, change)
	if curve < 1e-10 {
		return
	}
	hy := make([]float64, n)
	for i := range hy {
		hy[i] = dense.Dot(inverse[i], change)
	}
	yhy := dense.Dot(change, hy)
	for i := range inverse {
		for j := range inverse {
			inverse[i][j] += (1+yhy/curve)*step[i]*step[j]/curve - (hy[i]*step[j]+step[i]*hy[j])/curve
		}
	}
}

// curvature is the factor of minus the Hessian at the mode, by central differences. Where the differences are not
// positive definite the prior's curvature is mixed in until they are.
func (s *sampler) curvature(mode []float64) dense.Factor {
	const h = 0.1
	center := s.target(mode)
	p := slices.Clone(mode)
	at := func(i int, di float64, j int, dj float64) float64 {
		p[i] += di
		p[j] += dj
		v := s.target(p)
		p[i], p[j] = mode[i], mode[j]
		return v
	}
	m := dense.Square(unknowns)
	plus, minus := make([]float64, unknowns), make([]float64, unknowns)
	for i := range m {
		plus[i], minus[i] = at(i, h, i, 0), at(i, -h, i, 0)
		m[i][i] = (2*center - plus[i] - minus[i]) / (h * h)
	}
	for i := range m {
		for j := range i {
			both := at(i, h, j, h) + at(i, -h, j, -h)
			m[i][j] = (plus[i] + minus[i] + plus[j] + minus[j] - 2*center - both) / (2 * h * h)
		}
	}
	for ridge := 0.0; ; ridge = max(2*ridge, 0.1) {
		try := dense.Square(unknowns)
		for i := range m {
			for j := range i {
				if v := m[i][j]; !math.IsNaN(v) && !math.IsInf(v, 0) {
					try[i][j] = v
				}
			}
			try[i][i] = 1
			if v := m[i][i]; v > 0 && !math.IsInf(v, 0) {
				try[i][i] = v
			}
			try[i][i] += ridge
		}
		if l, ok := dense.Cholesky(try); ok {
			return l
		}
	}
}

// proposal is a multivariate t about a center, where root factors the inverse of its scale.
type proposal struct {
	center []float64
	root   dense.Factor
	draws  int
}

// log is the log density of a proposal at a point, up to a constant that all proposals share.
func (p *proposal) log(point []float64) float64 {
	length, logDet := 0.0, 0.0
	for i := range point { // the rows of Lᵀ
		sum := 0.0
		for k := i; k < len(point); k++ {
			sum += p.root[k][i] * (point[k] - p.center[k])
		}
		length += sum * sum
		logDet += math.Log(p.root[i][i])
	}
	return logDet - (tailDF+unknowns)/2.0*math.Log1p(length/tailDF)
}

// mixture is a sample from several proposals, taken as one from their mixture.
//
// Source: Cornuet, Marin, Mira & Robert 2012, Scand. J. Stat. 39:798 (adaptive multiple importance sampling).
type mixture struct {
	proposals []proposal
	points    [][]float64
	targets   []float64 // log target at each point
}

// weights of the points, the largest 1.
func (m *mixture) weights() []float64 {
	weights := make([]float64, len(m.points))
	logs := make([]float64, len(m.proposals))
	for i, point := range m.points {
		for k := range m.proposals {
			logs[k] = math.Log(float64(m.proposals[k].draws)) + m.proposals[k].log(point)
		}
		weights[i] = m.targets[i] - outlier.LogSum(logs)
	}
	top := slices.Max(weights)
	for i, l := range weights {
		if weights[i] = math.Exp(l - top); math.IsNaN(weights[i]) {
			weights[i] = 0
		}
	}
	return weights
}

// propose adds n draws of a proposal to the mixture.
func (s *sampler) propose(random *rand.Rand, m *mixture, center []float64, root dense.Factor, n int) {
	m.proposals = append(m.proposals, proposal{center, root, n})
	for range n {
		z := make([]float64, unknowns)
		for j := range z {
			z[j] = random.NormFloat64()
		}
		root.Backward(z)
		chi := 0.0
		for range tailDF {
			v := random.NormFloat64()
			chi += v * v
		}
		chi /= tailDF
		for j := range z {
			z[j] = center[j] + z[j]/math.Sqrt(chi)
		}
		m.points = append(m.points, z)
		m.targets = append(m.targets, s.target(z))
	}
}

// moments gives the center and factor of the next proposal; false where the draws span no volume.
func moments(points [][]float64, weights []float64) ([]float64, dense.Factor, bool) {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	if !(total > 0) {
		return nil, nil, false
	}
	mean := make([]float64, unknowns)
	for i, p := range points {
		for j := range mean {
			mean[j] += weights[i] / total * p[j]
		}
	}
	cov := dense.Square(unknowns)
	for i, p := range points {
		for j := range cov {
			for k := range cov {
				cov[j][k] += weights[i] / total * (p[j] - mean[j]) * (p[k] - mean[k])
			}
		}
	}
	for j := range cov {
		cov[j][j] *= 1.02
	}
	inverse, ok := invert(cov)
	if !ok {
		return nil, nil, false
	}
	l, ok := dense.Cholesky(inverse)
	return mean, l, ok
}

// tempered flattens weights until enough draws carry them to span a proposal.
//
// Source: tempering as in sequential Monte Carlo, Del Moral, Doucet & Jasra 2006, J. R. Stat. Soc. B 68:411.
func tempered(weights []float64) []float64 {
	out := slices.Clone(weights)
	for power := 1.0; effectiveSize(out) < 4*unknowns && power > 0.01; {
		power *= 0.8
		for i, w := range weights {
			out[i] = math.Pow(w, power)
		}
	}
	return out
}

// invert returns the inverse of a symmetric positive definite matrix.
func invert(a [][]float64) ([][]float64, bool) {
	l, ok := dense.Cholesky(a)
	if !ok {
		return nil, false
	}
	out := dense.Square(len(a))
	for i := range out {
		out[i][i] = 1
		l.Forward(out[i])
		l.Backward(out[i])
	}
	return out, true
}

// effectiveSize is Kish's effective number of equally weighted draws.
//
// Source: Kish 1965, Survey Sampling, section 11.7 (from memory).
func effectiveSize(weights []float64) float64 {
	var sum, squares float64
	for _, w := range weights {
		sum += w
		squares += w * w
	}
	if squares == 0 {
		return 0
	}
	return sum * sum / squares
}

// resample picks n draws in proportion to their weights, evenly spaced: the same input gives the same picks.
//
// Source: systematic resampling, Kitagawa 1996, J. Comput. Graph. Stat. 5:1.
func resample(weights []float64, n int) []int {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	var picks []int
	sum, i := weights[0], 0
	for k := range n {
		for at := (float64(k) + 0.5) / float64(n) * total; sum < at && i < len(weights)-1; {
			i++
			sum += weights[i]
		}
		picks = append(picks, i)
	}
	return picks
}

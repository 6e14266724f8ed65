package slip

import "math"

// What a bird is expected to weigh is a Gaussian process on log weight: a level, growth towards it, slow drift,
// swings of season, moult and lay, and weighing error. It says what each weighing should have been, judged by all
// the others, with the SD of that. Growth enters as a Gompertz curve about which size and rate are left open, so that
// neither an age nor a finished curve is needed.
//
// Source: Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eq. 2.25 and 2.26, leave-one-out eq. 5.12,
// explicit basis functions 2.7, covariances 4.9 and 4.17. Rates: domain of published Gompertz fits of fowl, 0.015 to 0.035
// a day (layers 0.0239). The other constants are Keelmark's own, set so that simulated clean flocks raise about no
// question (see the tests).
const (
	rate     = 0.024 // 1/d: of growth
	rateSD   = 0.3   // of log rate
	hatchLog = 3.7   // log mature weight less log weight at hatch: 40 g of 1600
	hatchSD  = 0.6
	youngLog = 1.4  // SD of the same at the first weighing, where the age is not known
	shapeSD  = 0.22 // of checks and spurts in a young chick, fading with growth
	shapeAge = 20.0 // d: their length
	swingSD  = 0.045
	swingAge = 70.0 // d
	driftSD  = 0.08
	driftAge = 500.0 // d
	noiseSD  = 0.028
)

// prior is what is expected of a bird before its own weighings are seen.
type prior struct {
	level, sd float64 // log grams
	aged      bool    // days count from hatch
}

func (p prior) mean(day float64) float64 {
	if !p.aged {
		return p.level
	}
	return p.level - hatchLog*math.Exp(-rate*max(day, 0))
}

// covariance of the log weights on two days, weighing error left out.
func (p prior) covariance(a, b float64) float64 {
	a, b = max(a, 0), max(b, 0)
	fade, sizeSD := math.Exp(-rate*(a+b)), youngLog
	shape := shapeSD / 2
	if p.aged {
		sizeSD, shape = hatchSD, shapeSD
	}
	apart := math.Abs(a - b)
	size := sizeSD * sizeSD * fade
	pace := hatchLog * hatchLog * rateSD * rateSD * rate * rate * a * b * fade
	if !p.aged {
		pace /= 4
	}
	rough := math.Sqrt(3) * apart / shapeAge
	return p.sd*p.sd + size + pace + shape*shape*math.Sqrt(fade)*(1+rough)*math.Exp(-rough) +
		swingSD*swingSD*math.Exp(-apart/swingAge) + driftSD*driftSD*math.Exp(-apart/driftAge)
}

// expectation is what the believed weighings of one bird say of every weighing.
type expectation struct {
	prior
	days    []float64
	off     []float64 // log weight less prior mean
	cov     [][]float64
	inverse [][]float64 // of the covariance of the believed; rows and columns of the others are 0
	pull    []float64   // inverse times off
	doubted []bool
}

// expect starts with all weighings believed. extra are variances beside the weighing error. It returns false where
// the numbers do not allow it.
func expect(p prior, days, logs, extra []float64) (*expectation, bool) {
	n := len(days)
	e := &expectation{prior: p, days: days, off: make([]float64, n), pull: make([]float64, n), doubted: make([]bool, n)}
	for i := range n {
		e.off[i] = logs[i] - p.mean(days[i])
		row, copied := make([]float64, n), make([]float64, n)
		for j := range n {
			row[j] = p.covariance(days[i], days[j])
		}
		row[i] += noiseSD*noiseSD + extra[i]
		copy(copied, row)
		e.cov, e.inverse = append(e.cov, row), append(e.inverse, copied)
	}
	if !invert(e.inverse) {
		return nil, false
	}
	e.pulls()
	return e, true
}

func (e *expectation) pulls() {
	for i, row := range e.inverse {
		e.pull[i] = dot(row, e.off)
	}
}

// at is the expected log weight of weighing i by the other believed ones, with its SD.
func (e *expectation) at(i int) (mean, sd float64) {
	prior := e.mean(e.days[i])
	if !e.doubted[i] {
		precision := e.inverse[i][i]
		return prior + e.off[i] - e.pull[i]/precision, math.Sqrt(1 / precision)
	}
	row := e.cov[i]
	left := row[i]
	for j, v := range row {
		if !e.doubted[j] {
			left -= v * dot(e.inverse[j], row)
		}
	}
	return prior + dot(row, e.pull), math.Sqrt(max(left, noiseSD*noiseSD))
}

// on is the expected log weight on any day by the believed weighings.
func (e *expectation) on(day float64) float64 {
	sum := e.mean(day)
	for j, d := range e.days {
		if !e.doubted[j] {
			sum += e.covariance(day, d) * e.pull[j]
		}
	}
	return sum
}

// ahead is the expected log weight of one more weighing on any day, with its SD.
func (e *expectation) ahead(day float64) (mean, sd float64) {
	row := make([]float64, len(e.days))
	for j, d := range e.days {
		row[j] = e.covariance(day, d)
	}
	left := e.covariance(day, day) + noiseSD*noiseSD
	for j, v := range row {
		if !e.doubted[j] {
			left -= v * dot(e.inverse[j], row)
		}
	}
	return e.on(day), math.Sqrt(max(left, noiseSD*noiseSD))
}

// off-by in SDs of weighing i.
func (e *expectation) z(i int) float64 {
	mean, sd := e.at(i)
	return (e.off[i] + e.mean(e.days[i]) - mean) / sd
}

// doubt takes a weighing out of the believed; the quadratic form of the rest falls by z squared.
func (e *expectation) doubt(i int) {
	if e.doubted[i] {
		return
	}
	e.doubted[i] = true
	own := append([]float64(nil), e.inverse[i]...)
	for a, row := range e.inverse {
		for b := range row {
			row[b] -= own[a] * own[b] / own[i]
		}
	}
	for a, row := range e.inverse {
		row[i] = 0
		e.inverse[i][a] = 0
	}
	e.pulls()
}

// believe takes a doubted weighing back in.
func (e *expectation) believe(i int) {
	if !e.doubted[i] {
		return
	}
	n := len(e.days)
	v := make([]float64, n)
	left := e.cov[i][i]
	for a := range n {
		if !e.doubted[a] {
			v[a] = dot(e.inverse[a], e.cov[i])
			left -= v[a] * e.cov[i][a]
		}
	}
	e.doubted[i] = false
	v[i] = -1
	for a, row := range e.inverse {
		for b := range row {
			row[b] += v[a] * v[b] / left
		}
	}
	e.pulls()
}

// sift doubts the weighing furthest from the others, again and again, while it lies more than limit SDs off, and takes
// back what then fits. At least half of the weighings stay believed.
func (e *expectation) sift(limit float64, held func(i int) bool) {
	n := len(e.days)
	for range 3 {
		before := e.count()
		for e.count() < (n-1)/2 || n == 2 && e.count() == 0 {
			worst, most := -1, limit
			for i := range n {
				if z := math.Abs(e.z(i)); !e.doubted[i] && z > most {
					worst, most = i, z
				}
			}
			if worst < 0 {
				break
			}
			e.doubt(worst)
		}
		back := false
		for i := range n {
			if e.doubted[i] && !held(i) && math.Abs(e.z(i)) < 0.8*limit {
				e.believe(i)
				back = true
			}
		}
		if !back && e.count() == before {
			return
		}
	}
}

func (e *expectation) count() int {
	n := 0
	for _, d := range e.doubted {
		if d {
			n++
		}
	}
	return n
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

// invert replaces a symmetric positive definite matrix by its inverse (Gauss-Jordan); false where it is not one.
func invert(m [][]float64) bool {
	n := len(m)
	for k := range n {
		p := m[k][k]
		if !(p > 1e-12) || math.IsInf(p, 0) {
			return false
		}
		m[k][k] = 1
		for j := range n {
			m[k][j] /= p
		}
		for i := range n {
			f := m[i][k]
			if i == k || f == 0 {
				continue
			}
			m[i][k] = 0
			for j := range n {
				m[i][j] -= f * m[k][j]
			}
		}
	}
	return true
}

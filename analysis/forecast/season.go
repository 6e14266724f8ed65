package forecast

import (
	"math"
	"slices"
	"time"

	"keelmark/analysis/forecast/dense"
	"keelmark/ingest/record"
)

const (
	// SeasonMonths is in how many months of the calendar the grown birds must have been weighed, and SeasonYears in how
	// many years, before a season of their weights is fitted; else season is told to be unknown. Source: Keelmark's own
	// rule: one year's course is not told from one year's weather, feed or ageing.
	SeasonMonths = 8
	SeasonYears  = 2
	// moultDays is how long a bird counts as in moult after it was seen so. Source: common practice, no source: large
	// breeds take two to three months over all feathers, the loss of weight goes with the first of them.
	moultDays = 56
	// seasonSD and moultSD are what a season's half swing and a moult may make of a grown weight. Source: no figure for
	// exhibition breeds was found; wide enough for swings of a tenth and more.
	seasonSD = 0.05
	moultSD  = 0.10

	sharedParts = 3
)

// common is what grown birds have in common under one way of swinging: half the swing of the year as cosine and sine,
// and what a moult adds to the log weight.
type common struct {
	mean []float64
	root dense.Factor // of the inverse of its covariance
	log  float64
}

// shared is the share of each common part in the log weight of a bird on a day.
func (m *levelModel) shared(b *level, day float64) [sharedParts]float64 {
	var x [sharedParts]float64
	if m.seasonal {
		angle := 2 * math.Pi * day / 365.25
		x[0], x[1] = math.Cos(angle), math.Sin(angle)
	}
	if b.moulting(day) {
		x[2] = 1
	}
	return x
}

// moulting reports whether the bird was seen in moult shortly before a day.
func (b *level) moulting(day float64) bool {
	return slices.ContainsFunc(b.moults, func(seen float64) bool { return day >= seen && day < seen+moultDays })
}

// whitened are the shared parts of a bird's weighings under the factor of their covariance.
func (m *levelModel) whitened(bird int, root dense.Factor) (out [sharedParts][]float64) {
	b := &m.birds[bird]
	for j := range out {
		out[j] = make([]float64, len(b.days))
	}
	for i, day := range b.days {
		for j, x := range m.shared(b, day) {
			out[j][i] = x
		}
	}
	for j := range out {
		root.Forward(out[j])
	}
	return out
}

// fitCommon is the normal posterior of the common parts, with each bird's likeliest bad weighings left to be bad.
func (m *levelModel) fitCommon(s swing) common {
	precision := dense.Square(sharedParts)
	pull := make([]float64, sharedParts)
	prior := [sharedParts]float64{seasonSD, seasonSD, moultSD}
	for j := range precision {
		precision[j][j] = 1 / (prior[j] * prior[j])
	}
	for i := range m.birds {
		_, root := m.evidence(i, s, m.readings[i][0], nil)
		if root == nil {
			continue
		}
		residual := m.residual(i, nil)
		root.Forward(residual)
		x := m.whitened(i, root)
		for j := range x {
			pull[j] += dense.Dot(x[j], residual)
			for k := 0; k <= j; k++ {
				precision[j][k] += dense.Dot(x[j], x[k])
			}
		}
	}
	root, _ := dense.Cholesky(precision) // the prior makes it positive definite
	root.Forward(pull)
	root.Backward(pull)
	c := common{mean: pull, root: root, log: -root.HalfLogDet()}
	for j, b := range pull {
		c.log -= b * b / (prior[j] * prior[j]) / 2
		c.log -= math.Log(prior[j])
	}
	return c
}

// Season is what is known of the year's course of the grown birds' weights.
type Season struct {
	Months, Years int // of the calendar, in which grown birds were weighed
	Moults        int // weighings of grown birds seen in moult
	// Swing is half of what weights move over the year, as a share, and Heaviest the month of most; both 0 where the
	// weighings do not reach SeasonMonths and SeasonYears.
	Swing    float64
	Heaviest time.Month
	// Moult is what a moult adds to a weight, as a share; 0 where no bird was weighed in moult.
	Moult float64
}

// Known reports whether the year's course was fitted.
func (s *Season) Known() bool { return s.Months >= SeasonMonths && s.Years >= SeasonYears }

// seasonOf counts what the weighings of grown birds cover.
func seasonOf(birds []level) Season {
	months, years := map[time.Month]bool{}, map[int]bool{}
	var s Season
	for i := range birds {
		for _, day := range birds[i].days {
			y, m, _ := record.Day(day).Date()
			months[m], years[y] = true, true
			if birds[i].moulting(day) {
				s.Moults++
			}
		}
	}
	s.Months, s.Years = len(months), len(years)
	return s
}

// fill takes the figures from the fitted model.
func (s *Season) fill(m *levelModel) {
	var mean [sharedParts]float64
	for g, w := range m.grid {
		for j, x := range m.common[g].mean {
			mean[j] += w * x
		}
	}
	if m.seasonal {
		s.Swing = math.Hypot(mean[0], mean[1])
		peak := math.Mod(math.Atan2(mean[1], mean[0])+2*math.Pi, 2*math.Pi) / (2 * math.Pi) * 365.25
		_, s.Heaviest, _ = record.Day(math.Round(peak)).Date()
	}
	if s.Moults > 0 {
		s.Moult = math.Expm1(mean[2])
	}
}

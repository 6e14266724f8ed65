package season

import "math"

// Wander is a model of the flock's logits: a level, a yearly wave, a deviation that wanders and returns, so that an
// outbreak that lasts ten weeks counts as one and not as many, and the noise of one day's look.
//
// Ratio compares it with the same model without the wave: twice the difference of the largest log likelihoods. With so
// few years it has no chi-squared distribution: see Evidence.
type Wander struct {
	Ratio    float64
	Level    float64 // logit
	Cos, Sin float64 // of the wave, logit
	Days     float64 // correlation time of the deviation
	SD       float64 // of the deviation, logit
	Smooth   bool    // the deviation has a slope of its own
	// Second is the likelihood ratio of a second wave, two a year, beside the first and the same deviation: large where
	// the bad time is sharper than one wave. It describes and decides nothing.
	Second float64
	Rounds int
}

// What the model takes for granted. Source: chosen on simulated flocks, Keelmark's statistics B and TestGrid;
// a deviation that may only be rough calls up to 12 % of flocks without a season seasonal.
const (
	wanderDays  = 60.0 // centre of a weak prior on the correlation time, in days
	wanderLogSD = 0.6  // its spread, on the log scale
	dayNoise    = 0.4  // variance, in squared logits, of what one day's look adds to counting: light, weather, the eye
)

// series is what the filter reads: logits with variances, days since the round before, and the first k columns of level
// and waves.
type series struct {
	k         int
	z, v, gap []float64
	x         []columns
}

func newSeries(rounds []Round) series {
	n := len(rounds)
	x := series{3, make([]float64, n), make([]float64, n), make([]float64, n), make([]columns, n)}
	for i, r := range rounds {
		x.z[i], x.v[i] = r.logit()
		x.v[i] += dayNoise
		sin, cos := math.Sincos(phase(r.On))
		x.x[i] = columns{1, cos, sin, cos*cos - sin*sin, 2 * sin * cos}
		if i > 0 {
			x.gap[i] = float64(r.On - rounds[i-1].On)
		}
	}
	return x
}

// deviation is how the flock wanders: its correlation time, its spread, and whether it is smooth.
type deviation struct {
	smooth         bool
	logDays, logSD float64
}

// step carries value and slope over a gap: value = a value + b slope, slope = c value + d slope.
//
// Source: exact discretisation of the Ornstein-Uhlenbeck process and of the Matern 3/2 process, Rasmussen & Williams
// 2006, Gaussian Processes for Machine Learning, appendix B; Hartikainen & Särkkä 2010, IEEE MLSP.
func (d deviation) step(gap float64) (a, b, c, e float64) {
	days := math.Exp(d.logDays)
	if !d.smooth {
		return math.Exp(-gap / days), 0, 0, 0
	}
	lambda := math.Sqrt(3) / days
	x, fall := lambda*gap, math.Exp(-lambda*gap)
	return fall * (1 + x), fall * gap, -fall * lambda * x, fall * (1 - x)
}

// fitted is the log likelihood without and with the wave, each at its best level and wave, plus the log prior.
type fitted struct {
	deviation
	value [2]float64
	b     columns // level, cosine, sine of the model with the wave
}

// likelihood runs the Kalman filter over the logits and over the columns of the wave alike, so that level and wave are
// estimated by generalised least squares for the given deviation.
//
// Source: Harvey 1989, Forecasting, Structural Time Series Models and the Kalman Filter, 3.4.
func (x series) likelihood(d deviation) fitted {
	out := fitted{deviation: d}
	variance := math.Exp(2 * d.logSD)
	slope := 0.0 // stationary variance of the slope
	if d.smooth {
		slope = 3 * variance / math.Exp(2*d.logDays)
	}
	n := normal{k: x.k}
	var zz, logs float64
	var value, slant columns // state for the columns
	var z, dz float64        // state for the logits
	p00, p01, p11 := variance, 0.0, slope
	for i := range x.z {
		if i > 0 {
			a, b, c, e := d.step(x.gap[i])
			z, dz = a*z+b*dz, c*z+e*dz
			for k := range x.k {
				value[k], slant[k] = a*value[k]+b*slant[k], c*value[k]+e*slant[k]
			}
			u00, u01, u11 := p00-variance, p01, p11-slope // what differs from the stationary covariance is carried
			p00 = variance + a*a*u00 + 2*a*b*u01 + b*b*u11
			p01 = a*c*u00 + (a*e+b*c)*u01 + b*e*u11
			p11 = slope + c*c*u00 + 2*c*e*u01 + e*e*u11
		}
		f := p00 + x.v[i]
		w := 1 / f
		g0, g1 := p00*w, p01*w
		rz := x.z[i] - z
		z, dz = z+g0*rz, dz+g1*rz
		var r columns
		for k := range x.k {
			r[k] = x.x[i][k] - value[k]
			value[k] += g0 * r[k]
			slant[k] += g1 * r[k]
		}
		p11 -= g1 * p01
		p01 -= g1 * p00
		p00 -= g0 * p00
		logs += math.Log(f)
		zz += rz * rz * w
		n.add(w, r, rz)
	}
	away := (d.logDays - math.Log(wanderDays)) / wanderLogSD
	prior := -away * away / 2
	out.value[0] = -(logs+zz-n.xy[0]*n.xy[0]/n.xx[0][0])/2 + prior
	b, ok := n.solve()
	if !ok { // all looks at one time of the year
		out.value[1], out.b = out.value[0], columns{n.xy[0] / n.xx[0][0]}
		return out
	}
	out.value[1], out.b = -(logs+zz-n.explained(b))/2+prior, b
	return out
}

// leastRounds is the fewest rounds that the model is fitted to.
const leastRounds = 6

// wander fits the model to rounds, oldest first. It returns false with fewer than leastRounds.
func wander(rounds []Round) (Wander, bool) {
	if len(rounds) < leastRounds {
		return Wander{}, false
	}
	x := newSeries(rounds)
	var best [2]fitted // without and with the wave
	for k := range best {
		best[k].value[k] = math.Inf(-1)
	}
	for _, smooth := range []bool{false, true} {
		for k, f := range x.search(smooth) {
			if f.value[k] > best[k].value[k] {
				best[k] = f
			}
		}
	}
	b := best[1]
	x.k = 5
	two := x.likelihood(b.deviation)
	return Wander{Second: max(0, 2*(two.value[1]-b.value[1])), Ratio: max(0, 2*(b.value[1]-best[0].value[0])), Level: b.b[0], Cos: b.b[1], Sin: b.b[2],
		Days: math.Exp(b.logDays), SD: math.Exp(b.logSD), Smooth: b.smooth, Rounds: len(rounds)}, true
}

// search finds the best deviation of one kind without and with the wave: a grid, then steps that halve.
func (x series) search(smooth bool) [2]fitted {
	var best [2]fitted
	for k := range best {
		best[k].value[k] = math.Inf(-1)
	}
	const spacing = 0.65
	for i := range 6 {
		for j := range 6 {
			f := x.likelihood(deviation{smooth, math.Log(10) + float64(i)*spacing, math.Log(0.15) + float64(j)*spacing})
			for k := range best {
				if f.value[k] > best[k].value[k] {
					best[k] = f
				}
			}
		}
	}
	for k := range best {
		for step := spacing / 2; step > 0.02; {
			moved := false
			for _, d := range [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				f := x.likelihood(deviation{smooth, best[k].logDays + d[0]*step, min(3, max(-3, best[k].logSD+d[1]*step))})
				if f.value[k] > best[k].value[k] {
					best[k], moved = f, true
				}
			}
			if !moved {
				step /= 2
			}
		}
	}
	return best
}

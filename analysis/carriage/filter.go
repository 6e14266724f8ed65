package carriage

import "math"

// The parameters, as the search sees them.
const (
	logTake    = iota // log of the daily hazard of taking the parasite up from outside the pen, at the year's middle
	seasonCos         // of the log hazard
	seasonSin         //
	logSpread         // log of the daily hazard that a pen all of whose birds carry it adds
	logLose           // log of the daily hazard of losing it untreated
	logitClear        // of the chance that a treatment clears a bird
	logitSee          // of the sensitivity of a look
	logitBegan        // of the share that carries it when the records begin
	logSwing          // log of the spread of a pen's common swing, on the logit scale
	parameters
)

// slopes are derivatives by the parameters.
type slopes [parameters]float64

// rates are the parameters in natural units.
type rates struct{ take, cos, sin, spread, lose, clear, see, began, swing float64 }

func natural(p []float64) rates {
	return rates{math.Exp(p[logTake]), p[seasonCos], p[seasonSin], math.Exp(p[logSpread]), math.Exp(p[logLose]),
		expit(p[logitClear]), expit(p[logitSee]), expit(p[logitBegan]), math.Exp(p[logSwing])}
}

func expit(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

func logit(p float64) float64 { return math.Log(p / (1 - p)) }

// filter holds the working memory of one pass.
type filter struct {
	*timeline
	in  []bool
	p   []float64 // chance that each bird carries it now
	dp  []slopes  // and its derivatives
	pen []place   // by pen

	outcome []outcome // of each bird in the round at hand
	after   [nodes][]float64
	dafter  [nodes][]slopes
}

// place is a pen in one step.
type place struct {
	sum, n   float64 // of chances, of birds
	base, up float64 // the level towards which chances move, and how much of the distance remains
	dsum     slopes
	toBase   slopes // derivative of base times (1 - up)
	dup      slopes
}

func (t *timeline) filter() *filter {
	n := len(t.birds)
	f := &filter{timeline: t, in: make([]bool, n), p: make([]float64, n), dp: make([]slopes, n), pen: make([]place, t.pens), outcome: make([]outcome, n)}
	for k := range nodes {
		f.after[k], f.dafter[k] = make([]float64, n), make([]slopes, n)
	}
	return f
}

// run goes once through the records and returns the log likelihood; slope, where given, receives its derivatives. visit,
// where given, sees the chances after each tick.
//
// The chain of each bird is exact within a step; what its pen adds to its hazard comes from the mean chance in the pen at
// the step's beginning. Outbreaks swing a whole pen at once: see round.
//
// Source: forward recursion, Baum et al. 1970, Ann. Math. Stat. 41:164; two-state chain in closed form, Cox & Miller 1965,
// section 4.5; misclassified states, Jackson et al. 2003, The Statistician 52:193.
func (f *filter) run(r rates, slope *slopes, visit func(tick, *filter)) float64 {
	clear(f.in)
	if slope != nil {
		*slope = slopes{}
	}
	var logLik float64
	for _, k := range f.ticks {
		if k.gap > 0 {
			f.pass(r, k, slope != nil)
		}
		for _, i := range k.enter {
			f.enter(r, i, f.birds[i].Hatched)
		}
		for _, x := range k.rounds {
			logLik += f.round(r, x, slope)
		}
		for _, i := range k.treated {
			f.dp[i][logitClear] -= f.p[i] * r.clear // of the logit: clear (1 - clear), over (1 - clear) below
			for j := range f.dp[i] {
				f.dp[i][j] *= 1 - r.clear
			}
			f.p[i] *= 1 - r.clear
		}
		for _, i := range k.leave {
			f.in[i] = false
		}
		if visit != nil {
			visit(k, f)
		}
	}
	return logLik
}

func (f *filter) enter(r rates, i int32, clean bool) {
	f.in[i], f.p[i], f.dp[i] = true, 0, slopes{}
	if !clean {
		f.p[i] = r.began
		f.dp[i][logitBegan] = r.began * (1 - r.began)
	}
}

// pass moves the chances of all birds over the gap before a tick.
func (f *filter) pass(r rates, k tick, derive bool) {
	for i := range f.pen {
		f.pen[i].sum, f.pen[i].n, f.pen[i].dsum = 0, 0, slopes{}
	}
	for i, in := range f.in {
		if !in {
			continue
		}
		pen := &f.pen[f.penOf[i]]
		pen.sum += f.p[i]
		pen.n++
		if derive {
			for j, d := range f.dp[i] {
				pen.dsum[j] += d
			}
		}
	}
	season := r.take * math.Exp(r.cos*k.cos+r.sin*k.sin)
	for i := range f.pen {
		f.pen[i].step(r, k, season, derive)
	}
	for i, in := range f.in {
		if !in {
			continue
		}
		pen := &f.pen[f.penOf[i]]
		away := f.p[i] - pen.base
		f.p[i] = pen.base + away*pen.up
		if derive {
			d := &f.dp[i]
			for j := range d {
				d[j] = pen.toBase[j] + d[j]*pen.up + away*pen.dup[j]
			}
		}
	}
}

func (p *place) step(r rates, k tick, season float64, derive bool) {
	gain := season
	if p.n > 0 {
		gain += r.spread * p.sum / p.n
	}
	all := gain + r.lose
	p.base, p.up = gain/all, math.Exp(-all*k.gap)
	if !derive {
		return
	}
	var dgain slopes
	dgain[logTake], dgain[seasonCos], dgain[seasonSin] = season, season*k.cos, season*k.sin
	if p.n > 0 {
		for j, d := range p.dsum {
			dgain[j] += r.spread * d / p.n
		}
		dgain[logSpread] += r.spread * p.sum / p.n
	}
	for j, dg := range dgain {
		dall := dg
		if j == logLose {
			dall += r.lose
		}
		p.toBase[j] = (dg - p.base*dall) / all * (1 - p.up)
		p.dup[j] = -p.up * k.gap * dall
	}
}

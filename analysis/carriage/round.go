package carriage

import "math"

// outcome is what a round says of one bird.
type outcome uint8

const (
	unseen outcome = iota
	none
	found
)

// The points and weights at which a pen's common swing is taken. Source: Gauss-Hermite quadrature of a normal with 3 points,
// Abramowitz & Stegun 1964, table 25.10.
const nodes = 3

func node(k int) (z, weight float64) {
	switch k {
	case 0:
		return -math.Sqrt(3), 1. / 6
	case 1:
		return 0, 2. / 3
	}
	return math.Sqrt(3), 1. / 6
}

// round takes the looks of one day in one pen into the chances of all its birds, and returns their log likelihood. The
// birds' logits share a normal swing, so that findings on pen mates raise the chance of a bird that was not looked at, or
// on which none were seen; without it an outbreak between two rounds would count as misses that never were.
//
// Source: common random effect of a cluster, integrated by quadrature; mixture collapsed to its mean as in assumed-density
// filtering, Maybeck 1982, Stochastic Models, Estimation and Control 2, section 12.7.
func (f *filter) round(r rates, x round, slope *slopes) float64 {
	for _, l := range x.looks {
		if !f.in[l.bird] { // a look before the bird's first day: it began then
			f.enter(r, l.bird, false)
		}
		f.outcome[l.bird] = none
		if l.found {
			f.outcome[l.bird] = found
		}
	}
	swing := r.swing * x.fresh
	var logs, like, pull [nodes]float64 // log likelihood so far, its factor not yet taken in, odds of the swing
	var dlogs [nodes]slopes
	for k := range nodes {
		z, weight := node(k)
		logs[k], like[k], pull[k] = math.Log(weight), 1, math.Exp(swing*z)
	}
	for _, i := range f.members[x.pen] {
		if !f.in[i] {
			continue
		}
		f.swung(r, i, swing, &pull, &like, &dlogs, slope != nil)
		for k := range nodes {
			if like[k] < 1e-200 {
				logs[k], like[k] = logs[k]+math.Log(like[k]), 1
			}
		}
	}
	top := math.Inf(-1)
	for k := range nodes {
		logs[k] += math.Log(like[k])
		top = max(top, logs[k])
	}
	var sum float64
	var share [nodes]float64
	for k := range nodes {
		share[k] = math.Exp(logs[k] - top)
		sum += share[k]
	}
	var mean slopes
	for k := range nodes {
		share[k] /= sum
		for j, d := range dlogs[k] {
			mean[j] += share[k] * d
		}
	}
	for _, i := range f.members[x.pen] {
		f.outcome[i] = unseen
		if !f.in[i] {
			continue
		}
		var p float64
		var d slopes
		for k := range nodes {
			p += share[k] * f.after[k][i]
			if slope != nil {
				for j := range d {
					d[j] += share[k] * (f.dafter[k][i][j] + f.after[k][i]*(dlogs[k][j]-mean[j]))
				}
			}
		}
		f.p[i], f.dp[i] = min(p, 1), d // shares of rounding sum to a little more than 1
	}
	if slope != nil {
		for j := range slope {
			slope[j] += mean[j]
		}
	}
	return top + math.Log(sum)
}

// swung moves the chance of one bird by each swing, takes its look into the likelihoods, and keeps the chances after it.
// The centre is moved so that the mean over swings stays near the chance.
func (f *filter) swung(r rates, i int32, swing float64, pull, like *[nodes]float64, dlogs *[nodes]slopes, derive bool) {
	const edge = 1e-9
	p := min(max(f.p[i], edge), 1-edge)
	odds := p / (1 - p) * math.Exp(-swing*swing/2*(1-2*p))
	by := 1/(p*(1-p)) + swing*swing
	for k := range nodes {
		at := odds * pull[k]
		q := at / (1 + at)
		dq := &f.dafter[k][i]
		if derive {
			z, _ := node(k)
			inner := q * (1 - q)
			for j, d := range f.dp[i] {
				dq[j] = inner * by * d
			}
			dq[logSwing] += inner * swing * (z - swing*(1-2*p))
		}
		switch f.outcome[i] {
		case unseen:
			f.after[k][i] = q
		case found:
			like[k] *= max(q*r.see, 1e-99)
			f.after[k][i] = 1
			if derive {
				for j := range dq {
					dlogs[k][j] += dq[j] / q
				}
				dlogs[k][logitSee] += 1 - r.see
				*dq = slopes{}
			}
		case none:
			miss := 1 - q*r.see // chance of this look's outcome
			like[k] *= miss
			f.after[k][i] = q * (1 - r.see) / miss
			if derive {
				ds, left := r.see*(1-r.see), (1-r.see)/(miss*miss)
				for j := range dq {
					dlogs[k][j] -= dq[j] * r.see / miss
					dq[j] *= left
				}
				dlogs[k][logitSee] -= q * ds / miss
				dq[logitSee] -= q * (1 - q) / (miss * miss) * ds
			}
		}
	}
}

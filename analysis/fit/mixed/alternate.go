package mixed

import (
	"math"
	"slices"

	"keelmark/analysis/fit"
)

// climb alternates from variances that hardly bind the curves, and where that ends badly from narrower ones, which keep
// the curves of groups near the common one until they are found. It returns the first good end, else the first, and
// how many parameters of variance were estimated.
func climb(c *curves, s *scatter, p NonlinearProblem) (first *alternation, counted int, status fit.Status) {
	most := p.MaxSteps
	if most <= 0 {
		most = 200
	}
	for _, share := range []float64{1, 0.1, 0.01} {
		a := newAlternation(c, s, p)
		for i := range a.e.places {
			a.e.theta[i] *= share
		}
		counted = len(a.e.theta)
		end := a.alternate(most)
		if end != fit.Stuck && a.e.profile.ok {
			dropped := false
			if end, dropped = a.e.settle(end); dropped { // the curves have to follow
				end = a.alternate(most)
			}
		}
		if end == fit.Converged {
			return a, counted, end
		}
		if first == nil {
			first, status = a, end
		}
	}
	return first, counted, status
}

// alternate goes on until neither effects nor variances move.
func (a *alternation) alternate(most int) fit.Status {
	const still = 1e-6 // in standard errors of the fixed effects
	a.penalised(a.beta, a.u, a.losses)
	if !a.linearise() {
		return fit.Stuck
	}
	// First the curves, at variances that hardly bind them: variances found at a bad start mean nothing.
	if status := a.settleCurves(math.Inf(1)); status != fit.Converged {
		return status
	}
	for n := range most {
		before, from := slices.Clone(a.e.l), slices.Clone(a.e.theta)
		status, shifted := a.e.estimate()
		if status == fit.Stuck || !a.e.profile.ok {
			return fit.Stuck
		}
		// Alternation may swing about its end instead of coming to it: shorter moves have the same end.
		a.relax(from, math.Pow(0.5, float64(n/25)))
		a.keep(before)
		moved, ok := a.step()
		if !a.linearise() {
			return fit.Stuck
		}
		quiet := shifted < still*still*10 // the Newton decrement goes with the square of a distance
		switch {
		case quiet && moved < still:
			a.e.deviance(a.e.theta, nil)
			return status
		case quiet && !ok:
			return fit.Stuck
		}
		if status := a.settleCurves(moved); status != fit.Converged {
			return status
		}
	}
	a.e.deviance(a.e.theta, nil)
	return fit.Drifting
}

// relax takes only a share of the way that the variances have gone.
func (a *alternation) relax(from []float64, share float64) {
	if share == 1 {
		return
	}
	for i, v := range from {
		a.e.theta[i] = v + max(share, 1.0/16)*(a.e.theta[i]-v)
	}
	a.e.deviance(a.e.theta, nil)
}

// settleCurves takes steps of the effects at the variances as they are while they move far; moved says how far they
// have moved before. Variances taken from curves that are still on their way would send the next ones astray.
func (a *alternation) settleCurves(moved float64) fit.Status {
	const (
		far  = 0.1 // standard errors of the fixed effects
		most = 15
	)
	for n := 0; n < most && moved > far; n++ {
		if a.e.deviance(a.e.theta, nil); !a.e.profile.ok {
			return fit.Flat
		}
		var ok bool
		moved, ok = a.step()
		if !a.linearise() {
			return fit.Stuck
		}
		if !ok {
			break
		}
	}
	return fit.Converged
}

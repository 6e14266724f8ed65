// Package mixed fits models of birds that differ: what all share (sex, line, hatch season) as fixed effects, and
// what each bird has of its own (mature weight, rate, age at inflection) as random effects with a variance.
//
// Linear fits linear mixed models, Nonlinear curves whose parameters differ from group to group. Both go by
// maximum likelihood or restricted maximum likelihood (REML), and both take errors whose scatter grows with
// size, differs between strata or is correlated in time.
//
// One path serves both. Each group of whitened rows [Z X y] is reduced once by QR to what its random effects can
// reach (reduction); the likelihood, its gradient and the estimates follow from the reduced rows for any
// covariance of the random effects (profile); a Newton search finds that covariance (search). A nonlinear model
// is a sequence of such linear models, each taken at the curves found by the one before it (Nonlinear).
//
// It refuses to judge: a variance that ends at zero is named in Boundary, a fit that ends badly has its Status, no
// group is ever dropped, and whoever makes a claim decides whether to refuse. It knows no units, records or claims.
//
// Source: Laird & Ware 1982, Biometrics 38:963 (the linear model and its predictions); Lindstrom & Bates 1990,
// Biometrics 46:673 (the nonlinear one); Pinheiro & Bates 2000, Mixed-Effects Models in S and S-PLUS, chapters 2,
// 5 and 7 (computation, variance functions, criteria).
package mixed

import (
	"fmt"
	"math"

	"keelmark/analysis/fit"
)

func badInput(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{fit.ErrInput}, args...)...)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// checkFinite names the first value that is not a number.
func checkFinite(what string, xs []float64) error {
	for i, x := range xs {
		if !finite(x) {
			return badInput("%s %d of %d is %v", what, i+1, len(xs), x)
		}
	}
	return nil
}

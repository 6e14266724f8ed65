// Package fit is reference-grade least squares: LeastSquares fits any Go function to data by one blind procedure,
// Linear a linear model, Series one curve to many short series quickly. Models of birds that differ, with random
// effects, are in the package mixed below it.
//
// A Problem states the model, the data, a start and what is assumed of the errors; the Result holds estimates,
// standard errors, likelihood criteria and why the procedure stopped. Profile intervals, predictions, derived
// quantities and what the residuals say against the fit are methods of the Result.
//
// It refuses to judge: a fit that ended badly is returned with its Status, and whoever makes a claim from it
// decides whether to refuse. It knows no units, records or claims.
package fit

import (
	"errors"
	"fmt"
)

// ErrTooFew says that there are not more observations than parameters.
var ErrTooFew = errors.New("too few observations")

// ErrInput says that the problem as stated cannot be fitted: NaN, lengths that differ, a start out of bounds.
var ErrInput = errors.New("not a problem that can be fitted")

func badInput(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrInput}, args...)...)
}

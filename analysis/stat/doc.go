// Package stat is the door to distributions and to the small statistics that every analysis needs: quantiles
// and tail probabilities, summaries of a sample, intervals for x of n, the chance that a look misses an
// infestation, and false-discovery control.
//
// Functions return an error where the answer does not exist (too few values, NaN, a parameter outside its
// domain); they never panic on data and never return NaN beside a nil error. A result that estimates something carries the
// number of values it rests on.
//
// It refuses to know what the numbers mean: no records, no units, no claims.
package stat

import (
	"errors"
	"fmt"
	"math"
)

// ErrTooFew says that there are fewer values than the statistic needs.
var ErrTooFew = errors.New("too few values")

// ErrDomain says that an argument lies where the statistic is not defined.
var ErrDomain = errors.New("outside the domain")

func tooFew(what string, n, need int) error {
	return fmt.Errorf("%w: %s needs %d, has %d", ErrTooFew, what, need, n)
}

func domain(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrDomain}, args...)...)
}

// checkLevel accepts the stated chance of an interval, strictly between 0 and 1.
func checkLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return domain("the chance of an interval must lie between 0 and 1, not %v", level)
	}
	return nil
}

// checkSample accepts at least need values, all finite.
func checkSample(what string, xs []float64, need int) error {
	if len(xs) < need {
		return tooFew(what, len(xs), need)
	}
	for i, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return domain("value %d of %d is %v", i+1, len(xs), x)
		}
	}
	return nil
}

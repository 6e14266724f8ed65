package fit

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// certified is one set of the collection NIST SRD 140: both starts, certified values and data.
type certified struct {
	name           string
	start1, start2 []float64
	params, errs   []float64
	rss            float64
	y              []float64
	x              [][]float64
}

// digits is the number of agreeing significant digits (log relative error), at most 11 as certified.
func digits(got, want float64) float64 {
	if got == want {
		return 11
	}
	d := -math.Log10(math.Abs(got-want) / math.Abs(want))
	return max(0, min(11, d))
}

// checkNIST fits a set from one start and demands 7 digits in every parameter and 5 in every standard error.
func checkNIST(t *testing.T, table *strings.Builder, set certified, start []float64, which int, model Model, errs bool) {
	t.Helper()
	r, err := LeastSquares(Problem{Model: model, X: set.x, Y: set.y, Start: start})
	if err != nil {
		t.Errorf("%s, start %d: %v", set.name, which, err)
		return
	}
	worst, worstErr := 11.0, 11.0
	for i := range set.params {
		worst = min(worst, digits(r.Params[i], set.params[i]))
		worstErr = min(worstErr, digits(r.StdErr[i], set.errs[i]))
	}
	fmt.Fprintf(table, "%-9s start %d  parameters %4.1f  standard errors %4.1f  RSS %4.1f  steps %4d  evals %8d  %s\n",
		set.name, which, worst, worstErr, digits(r.RSS, set.rss), r.Steps, r.Evals, r.Status)
	if worst < 7 || errs && worstErr < 5 || r.Status != Converged {
		t.Errorf("%s, start %d: %.1f digits in parameters, %.1f in standard errors, %v: %v", set.name, which, worst, worstErr, r.Status, r.Params)
	}
}

// TestNIST fits seven small sets of the collection from both published starts. All 14 of the reference folder are
// fitted by TestNISTAll under the build tag "reference".
func TestNIST(t *testing.T) {
	var table strings.Builder
	for _, set := range nistSets {
		checkNIST(t, &table, set, set.start1, 1, nistModels[set.name], true)
		checkNIST(t, &table, set, set.start2, 2, nistModels[set.name], true)
	}
	t.Log("agreeing digits, worst of each set\n" + table.String())
}

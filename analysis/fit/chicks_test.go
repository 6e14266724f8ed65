package fit

import (
	"math"
	"testing"
)

func logisticModel(b, x []float64) float64 { return b[0] / (1 + math.Exp((b[1]-x[0])/b[2])) }

// gompertzModel is R's SSgompertz: Asym exp(-b2 b3^t).
func gompertzModel(b, x []float64) float64 { return b[0] * math.Exp(-b[1]*math.Pow(b[2], x[0])) }

// TestChicksAgainstR compares every odd chick, logistic and Gompertz, with R: six digits in coefficients and
// standard errors wherever R's estimates all exceed their standard errors, and the same minimum elsewhere.
func TestChicksAgainstR(t *testing.T) {
	compared, loose := 0, 0
	for _, c := range chicks {
		for _, m := range []struct {
			name  string
			model Model
			start []float64
			want  *rFit
		}{
			{"logistic", logisticModel, []float64{300, 12, 5}, c.logistic},
			{"Gompertz", gompertzModel, []float64{400, 3, 0.93}, c.gompertz},
		} {
			if m.want == nil {
				continue
			}
			days := chickDays[:len(c.weights)]
			r, err := LeastSquares(Problem{Model: m.model, X: Column(days), Y: c.weights, Start: m.start})
			if err != nil {
				t.Errorf("chick %d, %s: %v", c.number, m.name, err)
				continue
			}
			useless := false
			for i := range 3 {
				useless = useless || m.want.se[i] >= math.Abs(m.want.coef[i])
			}
			if useless {
				loose++
				continue
			}
			compared++
			worst := min(digits(r.Sigma, m.want.sigma), digits(r.LogLik, m.want.logLik))
			for i := range 3 {
				worst = min(worst, digits(r.Params[i], m.want.coef[i]), digits(r.StdErr[i], m.want.se[i]))
			}
			if worst < 6 || r.Status != Converged {
				t.Errorf("chick %d, %s: %.1f digits, %v\n got %v %v\nwant %v %v", c.number, m.name, worst, r.Status,
					r.Params, r.StdErr, m.want.coef, m.want.se)
			}
		}
	}
	t.Logf("%d fits compared, %d with an estimate below its standard error", compared, loose)
	if compared != 38 {
		t.Errorf("%d fits compared, expected 38", compared)
	}
}

package fit

import (
	"errors"
	"math"
	"testing"
)

// norris is NIST SRD 140, linear regression, data set Norris (ozone monitors; US government work): y, x.
var norris = [][2]float64{
	{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5}, {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6},
	{778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4}, {0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
	{557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3}, {0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1},
	{888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5},
}

func withConstant(x []float64) [][]float64 {
	var rows [][]float64
	for _, v := range x {
		rows = append(rows, []float64{1, v})
	}
	return rows
}

// TestLinearAgainstNIST checks the certified values of Norris.
func TestLinearAgainstNIST(t *testing.T) {
	var x, y []float64
	for _, o := range norris {
		y, x = append(y, o[0]), append(x, o[1])
	}
	r, err := Linear(withConstant(x), y, nil, []string{"B0", "B1"})
	if err != nil || r.Status != Converged {
		t.Fatal(err, r)
	}
	agree(t, "B0", r.Params[0], -0.262323073774029, 11)
	agree(t, "B1", r.Params[1], 1.00211681802045, 11)
	agree(t, "SD of B0", r.StdErr[0], 0.232818234301152, 11)
	agree(t, "SD of B1", r.StdErr[1], 0.429796848199937e-03, 11)
	agree(t, "residual SD", r.Sigma, 0.884796396144373, 11)
	agree(t, "residual sum of squares", r.RSS, 26.6173985294224, 11)
	agree(t, "R squared", r.RSquared(), 0.999993745883712, 11)
}

// TestLinearOfHardDesign: a polynomial of degree 5 in 0..20 with all coefficients 1 and no error (the construction of
// NIST SRD 140 Wampler1) comes back to its last digits.
func TestLinearOfHardDesign(t *testing.T) {
	var x [][]float64
	var y []float64
	for i := range 21 {
		row, sum, power := []float64{}, 0.0, 1.0
		for range 6 {
			row = append(row, power)
			sum += power
			power *= float64(i)
		}
		x, y = append(x, row), append(y, sum)
	}
	r, err := Linear(x, y, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range r.Params {
		agree(t, "coefficient", b, 1, 9)
	}
}

func TestLinearRefuses(t *testing.T) {
	one := [][]float64{{1}, {1}, {1}}
	if _, err := Linear(nil, nil, nil, nil); !errors.Is(err, ErrInput) {
		t.Error("no data:", err)
	}
	if _, err := Linear([][]float64{{1, 2}, {1, 3}}, []float64{1, 2}, nil, nil); !errors.Is(err, ErrTooFew) {
		t.Error("as many parameters as data:", err)
	}
	if _, err := Linear(one, []float64{1, math.NaN(), 2}, nil, nil); !errors.Is(err, ErrInput) {
		t.Error("NaN:", err)
	}
	if _, err := Linear([][]float64{{1, 2}, {1}, {1, 3}}, []float64{1, 2, 3}, nil, nil); !errors.Is(err, ErrInput) {
		t.Error("ragged rows:", err)
	}
	r, err := Linear([][]float64{{1, 2}, {1, 2}, {1, 2}, {1, 2}}, []float64{1, 2, 3, 4}, nil, nil)
	if err != nil || r.Status != Flat || !math.IsInf(r.StdErr[0], 1) {
		t.Errorf("columns that repeat each other: %v, %+v", err, r)
	}
}

func TestDiagnose(t *testing.T) {
	// A bent line fitted straight: the residuals say so.
	var x, y []float64
	for i := range 12 {
		v := float64(i)
		x, y = append(x, v, v), append(y, v*v+0.1, v*v-0.1)
	}
	r, err := Linear(withConstant(x), y, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	d, err := r.Diagnose()
	if err != nil {
		t.Fatal(err)
	}
	if d.Runs != 3 || d.RunsP > 1e-3 || d.LagOne < 0.7 {
		t.Errorf("a bent line passed as straight: %d runs, chance %v, lag-one correlation %v", d.Runs, d.RunsP, d.LagOne)
	}
	p, err := r.LackOfFit()
	if err != nil || p > 1e-9 {
		t.Errorf("lack of fit: %v, %v", p, err)
	}
	// R 4.2.2: rstandard and cooks.distance of lm(y ~ x), first and last observation.
	agree(t, "standardised residual", d.Standardised[0], 1.81230282725, 9)
	agree(t, "standardised residual", d.Standardised[23], 1.79263950544, 9)
	agree(t, "Cook's distance", d.Cook[0], 0.283993065287, 9)
	agree(t, "Cook's distance", d.Cook[23], 0.277863898942, 9)
	// Runs by hand: of ++-- in any order (6 orders), 2 have two runs, 2 three, 2 four.
	agree(t, "chance of two runs", fewRuns(2, 2, 2), 2.0/6, 11)
	agree(t, "chance of at most three runs", fewRuns(2, 2, 3), 4.0/6, 11)
	agree(t, "chance of at most four runs", fewRuns(2, 2, 4), 1, 11)
}

package fit_test

import (
	"fmt"
	"math"

	"keelmark/analysis/fit"
)

// A model of two variables for the logarithm of a response: strength of a material (invented), by weeks of ageing and
// temperature. Start values may lie far off.
func ExampleLeastSquares() {
	var x [][]float64
	var y []float64
	for i, strength := range []float64{13.5, 12.7, 12.8, 11.5, 12.3, 9.4, 11.6, 6.6, 8.1, 1.68} {
		x = append(x, []float64{[]float64{1, 4, 8, 16, 48}[i/2], []float64{250, 275}[i%2]})
		y = append(y, math.Log(strength))
	}
	r, err := fit.LeastSquares(fit.Problem{
		Model: func(b, x []float64) float64 { return b[0] - b[1]*x[0]*math.Exp(-b[2]*x[1]) },
		X:     x, Y: y, Start: []float64{2, 0.0001, -0.01},
		Names: []string{"log strength", "ageing", "temperature"},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Status)
	for i, name := range r.Names {
		fmt.Printf("%-12s %.6g +- %.3g\n", name, r.Params[i], r.StdErr[i])
	}
	fmt.Printf("residual SD %.4f on %d degrees of freedom\n", r.Sigma, r.DF)
	// Output:
	// converged
	// log strength 2.59849 +- 0.00645
	// ageing       6.72013e-09 +- 2.37e-09
	// temperature  -0.0570255 +- 0.00128
	// residual SD 0.0151 on 7 degrees of freedom
}

// A straight line with its diagnosis.
func ExampleLinear() {
	var x [][]float64
	y := []float64{812, 825, 831, 846, 850, 868}
	for month := range y {
		x = append(x, []float64{1, float64(month)})
	}
	r, err := fit.Linear(x, y, nil, []string{"start", "gain a month"})
	if err != nil {
		fmt.Println(err)
		return
	}
	d, err := r.Diagnose()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f g at the start, %.2f +- %.2f g a month\n", r.Params[0], r.Params[1], r.StdErr[1])
	fmt.Printf("largest Cook's distance %.2f, %d runs where %.1f are expected\n", d.Cook[5], d.Runs, d.RunsExpected)
	// Output:
	// 812.2 g at the start, 10.57 +- 0.79 g a month
	// largest Cook's distance 0.89, 6 runs where 4.0 are expected
}

package mixed_test

import (
	"fmt"
	"math"

	"keelmark/analysis/fit"
	"keelmark/analysis/fit/mixed"
)

// Six invented birds, weighed at four ages: one Gompertz curve for the line, with a mature weight of each bird's own
// that differs by sex.
func ExampleNonlinear() {
	gompertz := func(b, x []float64) float64 { return b[0] * math.Exp(-math.Exp(-b[1]*(x[0]-b[2]))) }
	birds := []struct {
		ring, sex string
		weights   []float64 // g, at 30, 60, 90, 150 days
	}{
		{"R1", "female", []float64{126, 431, 684, 862}}, {"R2", "female", []float64{139, 466, 757, 942}},
		{"R3", "female", []float64{132, 433, 701, 899}}, {"R4", "male", []float64{155, 543, 864, 1092}},
		{"R5", "male", []float64{168, 550, 893, 1130}}, {"R6", "male", []float64{143, 501, 796, 1021}},
	}
	var age, weight []float64
	var ring, sex []string
	for _, b := range birds {
		for j, w := range b.weights {
			age, weight = append(age, []float64{30, 60, 90, 150}[j]), append(weight, w)
			ring, sex = append(ring, b.ring), append(sex, b.sex)
		}
	}
	design, columns, err := mixed.Design(len(weight), mixed.Factor{Name: "sex", Labels: sex, Base: "female"})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := mixed.Nonlinear(mixed.NonlinearProblem{
		Model: gompertz, X: fit.Column(age), Y: weight, Groups: ring, LogNormal: true,
		Parameters: []mixed.Parameter{
			{Name: "mature", Design: design, Columns: columns, Random: true},
			{Name: "rate"}, {Name: "inflection"},
		},
		Start: []float64{900, 100, 0.03, 55},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.String())
	for i, name := range r.Names {
		fmt.Printf("%-15s %8.3f +- %.3f\n", name, r.Fixed[i], r.StdErr[i])
	}
	fmt.Printf("birds of one sex differ by %.0f g, weighings by %.1f %%\n", r.SD[0], 100*r.Sigma)
	p, err := r.Predict("R4", []float64{200}, 0.9)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("R4 at 200 days: %.0f g, 90 %% of weighings within %.0f to %.0f\n", p.Value, p.Next.Low, p.Next.High)
	// Output:
	// converged
	// mature           944.430 +- 29.809
	// mature.sex.male  180.205 +- 41.363
	// rate               0.032 +- 0.000
	// inflection        51.063 +- 0.330
	// birds of one sex differ by 46 g, weighings by 1.3 %
	// R4 at 200 days: 1128 g, 90 % of weighings within 1097 to 1160
}

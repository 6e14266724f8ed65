package season

import (
	"math"
	"testing"

	"keelmark/ingest/record"
)

// dense is the log likelihood by elimination of the whole covariance matrix, at the generalised least squares
// coefficients: the textbook formula without any filter (Harvey 1989, 3.4; Rasmussen & Williams 2006, eq. 2.30 and 4.14).
func dense(rounds []Round, d deviation, k int) float64 {
	n := len(rounds)
	days, variance := math.Exp(d.logDays), math.Exp(2*d.logSD)
	x := newSeries(rounds)
	v := make([][]float64, n)
	for i := range v {
		v[i] = make([]float64, n+1+k) // beside it the logits and the columns
		for j := range n {
			gap := math.Abs(float64(rounds[i].On - rounds[j].On))
			v[i][j] = variance * math.Exp(-gap/days)
			if d.smooth {
				a := math.Sqrt(3) * gap / days
				v[i][j] = variance * (1 + a) * math.Exp(-a)
			}
		}
		v[i][i] += x.v[i]
		v[i][n] = x.z[i]
		copy(v[i][n+1:], x.x[i][:k])
	}
	right := make([][]float64, n) // untouched copies of the right-hand sides
	for i := range v {
		right[i] = append([]float64(nil), v[i][n:]...)
	}
	logs := 0.0
	for i := range n { // Gauss-Jordan: what stands beside becomes V^-1 of it
		logs += math.Log(v[i][i])
		pivot := v[i][i]
		for c := range v[i] {
			v[i][c] /= pivot
		}
		for r := range n {
			if r == i {
				continue
			}
			f := v[r][i]
			for c := range v[r] {
				v[r][c] -= f * v[i][c]
			}
		}
	}
	s := normal{k: k}
	zz := 0.0
	for i := range n {
		zz += right[i][0] * v[i][n]
		for a := range k {
			s.xy[a] += right[i][1+a] * v[i][n]
			for b := range k {
				s.xx[a][b] += right[i][1+a] * v[i][n+1+b]
			}
		}
	}
	b, _ := s.solve()
	return -(logs + zz - s.explained(b)) / 2
}

func TestTheFilterMatchesTheWholeMatrix(t *testing.T) {
	var rounds []Round
	for i, gap := range []int{0, 28, 31, 14, 7, 60, 25, 25, 90, 3, 40, 28} {
		on := newYear(2020) + record.Day(gap)
		if i > 0 {
			on = rounds[i-1].On + record.Day(gap)
		}
		rounds = append(rounds, Round{On: on, Looked: 10 + i, Found: (i * i) % 9})
	}
	x := newSeries(rounds)
	for _, smooth := range []bool{false, true} {
		for _, days := range []float64{15, 60, 200} {
			d := deviation{smooth, math.Log(days), math.Log(1.3)}
			away := (d.logDays - math.Log(wanderDays)) / wanderLogSD
			f := x.likelihood(d)
			for i, k := range []int{1, 3} {
				want := dense(rounds, d, k) - away*away/2
				if math.Abs(f.value[i]-want) > 1e-9*math.Abs(want) {
					t.Errorf("smooth %v, %g days, %d columns: %.12g, want %.12g", smooth, days, k, f.value[i], want)
				}
			}
		}
	}
}

func TestFewRoundsHaveNoModel(t *testing.T) {
	var rounds []Round
	for i := range leastRounds {
		if _, ok := wander(rounds); ok {
			t.Errorf("%d rounds were fitted", i)
		}
		rounds = append(rounds, Round{On: newYear(2020) + 28, Looked: 5, Found: i % 2}) // all on one day
	}
	if w, ok := wander(rounds); !ok || w.Ratio != 0 || math.IsNaN(w.Level) {
		t.Errorf("looks at one time of the year: %+v %v", w, ok)
	}
}

package stat

import "math"

// Weighting says how much credit a pair of neighbouring steps gets in a weighted kappa.
type Weighting uint8

// The weightings. With k steps, steps i and j agree by 1 where i = j and by 0 elsewhere (Unweighted), by
// 1-|i-j|/(k-1) (Linear), or by 1-(i-j)²/(k-1)² (Quadratic).
const (
	Unweighted Weighting = iota
	Linear
	Quadratic
)

// credit is the agreement of steps i and j of k.
func (w Weighting) credit(i, j, k int) float64 {
	apart := math.Abs(float64(i-j)) / float64(k-1)
	switch w {
	case Linear:
		return 1 - apart
	case Quadratic:
		return 1 - apart*apart
	}
	if i == j {
		return 1
	}
	return 0
}

// Agreement is how two scorings of the same items agree.
type Agreement struct {
	Kappa     float64
	SE        float64 // large-sample standard error of Kappa
	Exact     float64 // share of items scored alike
	WithinOne float64 // share of items scored alike or one step apart
	N         int
}

// Kappa compares two scorings of the same items on a scale of k steps: table[i][j] counts the items that the
// first scoring put on step i and the second on step j. Show Exact and WithinOne first: where nearly all items
// lie on one step, kappa is low although the scorers agree.
//
// It needs a square table of at least 2 steps and at least 2 items, and is not defined (ErrDomain) where both
// scorings put every item on the same step.
//
// Source: Cohen 1968, Psychol. Bull. 70:213; standard error Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323.
func Kappa(table [][]int, w Weighting) (Agreement, error) {
	k := len(table)
	if k < 2 {
		return Agreement{}, tooFew("a scale", k, 2)
	}
	n := 0
	for _, row := range table {
		if len(row) != k {
			return Agreement{}, domain("a table of %d rows with a row of %d", k, len(row))
		}
		for _, c := range row {
			if c < 0 {
				return Agreement{}, domain("a count of %d", c)
			}
			n += c
		}
	}
	if n < 2 {
		return Agreement{}, tooFew("agreement", n, 2)
	}
	share := func(i, j int) float64 { return float64(table[i][j]) / float64(n) }
	first, second := make([]float64, k), make([]float64, k)
	out := Agreement{N: n}
	var observed float64
	for i := range k {
		for j := range k {
			p := share(i, j)
			first[i] += p
			second[j] += p
			observed += p * w.credit(i, j, k)
			if i == j {
				out.Exact += p
			}
			if i-j <= 1 && j-i <= 1 {
				out.WithinOne += p
			}
		}
	}
	var expected float64
	byFirst, bySecond := make([]float64, k), make([]float64, k) // expected credit of a step, over the other's steps
	for i := range k {
		for j := range k {
			c := w.credit(i, j, k)
			expected += first[i] * second[j] * c
			byFirst[i] += second[j] * c
			bySecond[j] += first[i] * c
		}
	}
	if expected >= 1-1e-12 {
		return Agreement{}, domain("both scorings put every item on one step")
	}
	out.Kappa = (observed - expected) / (1 - expected)
	var sum float64
	for i := range k {
		for j := range k {
			d := w.credit(i, j, k)*(1-expected) - (byFirst[i]+bySecond[j])*(1-observed)
			sum += share(i, j) * d * d
		}
	}
	rest := observed*expected - 2*expected + observed
	out.SE = math.Sqrt(max(0, sum-rest*rest)/float64(n)) / ((1 - expected) * (1 - expected))
	return out, nil
}

package stat

import (
	"math"
	"slices"
)

// MADToSD turns a median absolute deviation into the standard deviation of a normal sample: 1/z(0.75).
//
// Source: Hampel 1974, J. Am. Stat. Assoc. 69:383 (factor 1.4826).
const MADToSD = 1.482602218505602

// Summary describes a sample in the unit of its values. SD and SE need two values and are 0 with N 1.
type Summary struct {
	N            int
	Mean, SD, SE float64 // SD with divisor N-1; SE = SD/sqrt(N)
	Median, MAD  float64 // MAD is not scaled: multiply by MADToSD for the SD of a normal sample
	Min, Max     float64
}

// Summarise describes a sample of at least one finite value.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.1 and 1.3.5.6.
func Summarise(xs []float64) (Summary, error) {
	m, err := Mean(xs)
	if err != nil {
		return Summary{}, err
	}
	s := Summary{N: len(xs), Mean: m, Min: slices.Min(xs), Max: slices.Max(xs)}
	s.Median, _ = Median(xs) // the sample was checked above
	s.MAD, _ = MAD(xs)
	if len(xs) > 1 {
		s.SD, _ = SD(xs)
		s.SE = s.SD / math.Sqrt(float64(len(xs)))
	}
	return s, nil
}

// Mean returns the arithmetic mean of at least one finite value.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.1; second pass after Neely 1966, Comm. ACM 9:496.
func Mean(xs []float64) (float64, error) {
	if err := checkSample("a mean", xs, 1); err != nil {
		return 0, err
	}
	n := float64(len(xs))
	var sum float64
	for _, x := range xs {
		sum += x / n // dividing first cannot overflow
	}
	var rest float64
	for _, x := range xs {
		rest += (x - sum) / n
	}
	return sum + rest, nil
}

// SD returns the standard deviation (divisor n-1) of at least two finite values.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.6; corrected two-pass sum of squares, Chan,
// Golub & LeVeque 1983, Am. Stat. 37:242.
func SD(xs []float64) (float64, error) {
	if err := checkSample("a standard deviation", xs, 2); err != nil {
		return 0, err
	}
	m, err := Mean(xs)
	if err != nil {
		return 0, err
	}
	var ss, rest float64
	for _, x := range xs {
		ss += (x - m) * (x - m)
		rest += x - m
	}
	n := float64(len(xs))
	return math.Sqrt(max(0, ss-rest*rest/n) / (n - 1)), nil
}

// Median returns the middle of at least one finite value; of an even number the mean of the middle two.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.1.
func Median(xs []float64) (float64, error) { return Quantile(xs, 0.5) }

// MAD returns the median absolute deviation from the median, unscaled, of at least one finite value.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.6.
func MAD(xs []float64) (float64, error) {
	m, err := Median(xs)
	if err != nil {
		return 0, err
	}
	away := make([]float64, len(xs))
	for i, x := range xs {
		away[i] = math.Abs(x - m)
	}
	return Median(away)
}

// Quantile returns the value below which a share p (0 to 1) of the sample lies, interpolating linearly between
// order statistics. It needs at least one finite value and leaves xs as it is.
//
// Source: Hyndman & Fan 1996, Am. Stat. 50:361, definition 7 (the default of R).
func Quantile(xs []float64, p float64) (float64, error) {
	if err := checkSample("a quantile", xs, 1); err != nil {
		return 0, err
	}
	if !(p >= 0 && p <= 1) {
		return 0, domain("a probability must lie between 0 and 1, not %v", p)
	}
	s := slices.Sorted(slices.Values(xs))
	h := p * float64(len(s)-1)
	i := int(h)
	if i == len(s)-1 {
		return s[i], nil
	}
	return s[i] + (h-float64(i))*(s[i+1]-s[i]), nil
}

// Interval is an estimate with the range that holds the truth with the chance Level. N is the number of values.
type Interval struct {
	Value, Low, High float64
	Level            float64
	N                int
}

// MeanInterval returns the mean with its t interval; it needs two finite values.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2.
func MeanInterval(xs []float64, level float64) (Interval, error) {
	sd, err := SD(xs)
	if err != nil {
		return Interval{}, err
	}
	k, err := Multiplier(level, float64(len(xs)-1))
	if err != nil {
		return Interval{}, err
	}
	m, err := Mean(xs)
	if err != nil {
		return Interval{}, err
	}
	half := k * sd / math.Sqrt(float64(len(xs)))
	return Interval{m, m - half, m + half, level, len(xs)}, nil
}

package season

import (
	"math"

	"keelmark/analysis/stat"
)

// Peak is the time of year at which the flock's wave is highest, with the range of times that the years, taken as the
// units, do not contradict.
type Peak struct {
	Angle     float64 // radians from the turn of the year
	Low, High float64 // radians, Low <= Angle <= High, not wrapped; a whole turn where the years leave it open
	Whole     bool    // no time of the year can be excluded
	Level     float64
	Years     int
}

// peak turns the years' waves into a time of year. For each angle, a t interval of the years' components across it
// holds 0 or does not: the angles where it does are the range.
//
// Source: Fieller 1954, J. R. Stat. Soc. B 16:175, applied to the components across a direction; that resampling years
// covers 56-84 where 90 is stated: Keelmark's statistics B3.
func peak(ys []Year, level float64) (Peak, bool) {
	ys = usable(ys)
	n := float64(len(ys))
	if len(ys) < LeastYears {
		return Peak{}, false
	}
	t, err := stat.Multiplier(level, n-1)
	if err != nil {
		return Peak{}, false
	}
	var c, s float64
	for _, y := range ys {
		c, s = c+y.Cos/n, s+y.Sin/n
	}
	p := Peak{Angle: wrap(math.Atan2(s, c)), Level: level, Years: len(ys)}
	holds := func(angle float64) bool {
		sin, cos := math.Sincos(angle)
		var sum, squares float64
		for _, y := range ys {
			d := y.Sin*cos - y.Cos*sin
			sum += d
			squares += d * d
		}
		mean := sum / n
		return mean*mean*n <= t*t*max(0, squares-n*mean*mean)/(n-1)
	}
	const step = 2 * math.Pi / 365
	reach := func(sign float64) float64 {
		for k := 1.0; k*step < math.Pi/2; k++ {
			if !holds(p.Angle + sign*k*step) {
				return (k - 0.5) * step
			}
		}
		p.Whole = true // a quarter of a year off is still possible, so the other side of the year is too
		return math.Pi
	}
	// Years that agree by luck do not make looks four weeks apart know the day: half the usual gap is the least.
	gap := typicalGap(ys) / 2 * step
	low, high := max(reach(-1), gap), max(reach(1), gap)
	if p.Whole {
		low, high = math.Pi, math.Pi
	}
	p.Low, p.High = p.Angle-low, p.Angle+high
	return p, true
}

// covers reports whether the range holds an angle.
func (p Peak) covers(angle float64) bool {
	return p.Whole || wrap(angle-p.Low) <= p.High-p.Low
}

// level is the stated chance of every interval of the analysis.
const level = 0.90

// typicalGap is the median number of days between the looks of the years.
func typicalGap(ys []Year) float64 {
	var gaps []float64
	for _, y := range ys {
		for i := 1; i < len(y.Rounds); i++ {
			gaps = append(gaps, float64(y.Rounds[i].On-y.Rounds[i-1].On))
		}
	}
	gap, err := stat.Median(gaps)
	if err != nil {
		return 0
	}
	return gap
}

// Days is the peak as days of a 365-day year, 1 for 1 January; low may lie below 1 and high above 365.
func (p Peak) Days() (at, low, high float64) {
	const days = 365 / (2 * math.Pi)
	return p.Angle*days + 1, p.Low*days + 1, p.High*days + 1
}

// DayOfYear names a day of a 365-day year: "3 September".
func DayOfYear(day float64) string { return dayAndMonth((day - 1) / 365 * 2 * math.Pi) }

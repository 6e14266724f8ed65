package season

import (
	"math"

	"keelmark/ingest/record"
)

// Round is what the looks of one day found of one parasite. Birds looked at on one day are one observation of the
// flock; places are the units where the parasite lives in the house.
type Round struct {
	On      record.Day
	Looked  int // birds or places with a clear answer
	Found   int // of those
	Unclear int // looks that do not say whether anything was found; in neither of the two
	At      []record.Ref
}

// Share is the share of birds on which something was found.
func (r Round) Share() float64 { return float64(r.Found) / float64(r.Looked) }

// logit is the empirical logit of the round's share, with its binomial variance.
//
// Source: Gart & Zweifel 1967, Biometrika 54:181 (half added to each count).
func (r Round) logit() (value, variance float64) {
	yes, no := float64(r.Found)+0.5, float64(r.Looked-r.Found)+0.5
	return math.Log(yes / no), 1/yes + 1/no
}

// yearDays is the mean length of a calendar year (Gregorian calendar: 146097 days in 400 years).
const yearDays = 146097.0 / 400

// phase is the angle of a day in the year, 0 at the turn of the year, in radians.
func phase(d record.Day) float64 {
	y, _, _ := d.Date()
	return 2 * math.Pi * (float64(d-newYear(y)) + 0.5) / float64(newYear(y+1)-newYear(y))
}

func newYear(y int) record.Day {
	d, _ := record.DayOf(y, 1, 1)
	return d
}

// dayOfPhase is the day of a 365-day year, 0 for 1 January, at an angle.
func dayOfPhase(angle float64) float64 { return wrap(angle) / (2 * math.Pi) * 365 }

// wrap brings an angle into 0 to 2 pi.
func wrap(angle float64) float64 {
	angle = math.Mod(angle, 2*math.Pi)
	if angle < 0 {
		angle += 2 * math.Pi
	}
	return angle
}

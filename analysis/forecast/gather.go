package forecast

import (
	"math"

	"keelmark/analysis/forecast/pooled"
	"keelmark/analysis/growth"
	"keelmark/ingest/record"
)

// The limits of what a forecast may claim. Each is crossed both ways by a test.
//
// Source: Keelmark's own simulations of pooled growth curves; the figures are its own rules.
const (
	// MinWeights is the fewest usable weighings of the bird itself.
	MinWeights = 3
	// MinLineBirds is the fewest birds of the line and sex followed for at least MinLineDays; with fewer the
	// line's mature weight rests on the breed table.
	MinLineBirds = growth.MinLineBirds
	MinLineDays  = growth.MinLineDays
	// SureRelatives is how many such birds make the range of the mature weight hold under another shape of
	// growth as well.
	SureRelatives = 12
	// SolidDays is how far past the last weighing a forecast reaches before it is marked as extrapolation.
	SolidDays = 28
	// GrownDays is the age from which a bird is forecast from its own level instead of a curve.
	GrownDays = 365
	// MaxAgeSpan is how many days wide the interval of a bird's age may be.
	MaxAgeSpan = growth.MaxAgeSpan
	// FirstDays is the age below which weighings are left out: a chick lives off its egg, on no curve.
	FirstDays = 10
	// MaxMature is how many times the heaviest weighing a mature weight may be.
	MaxMature = growth.MaxAsymptote
	// EarlyWeeks is the age to which a bird must have been weighed, and EarlySetback the share of weight that a setback of
	// its line must not lose unseen, for the range of the day to hold after one.
	EarlyWeeks   = 20
	EarlySetback = 0.08
	// MatureWeeks is the age at which the mature weight is forecast.
	MatureWeeks = 60
)

// Weighing is one weighing that a forecast rests on.
type Weighing struct {
	Age   float64    // weeks; NaN where it is not known and not needed
	Day   record.Day // middle of the interval of its date; meaningless where Dated is false
	Dated bool
	Grams float64
	Bad   float64 // chance that it is off by much more than weighing error
	From  record.Observation
}

// weighings are the usable weighings of a bird up to today, oldest first, and how many were left out.
func weighings(obs []record.Observation, hatched record.Date, today record.Day, unconfirmed bool) (out []Weighing, waiting, loose int) {
	for _, o := range obs {
		switch {
		case o.Form != record.Measured || !(o.Value > 0) || math.IsInf(o.Value, 0):
			continue
		case o.On.Known() && o.On.First > today:
			continue
		case o.Flagged && !unconfirmed:
			waiting++
			continue
		}
		w := Weighing{Age: math.NaN(), Grams: o.Value, From: o}
		if o.On.Known() {
			w.Day, w.Dated = o.On.Middle(), true
		}
		if days, ok := o.Age.Days(); ok {
			w.Age = float64(days) / 7
			if !w.Dated && hatched.Exact() {
				w.Day, w.Dated = hatched.First+record.Day(days), true
			}
		} else if o.On.Known() && hatched.Known() {
			youngest, oldest := o.On.First-hatched.Last, o.On.Last-hatched.First
			if oldest-youngest <= MaxAgeSpan {
				w.Age = float64(youngest+oldest) / 14
			}
		}
		if math.IsNaN(w.Age) && !w.Dated {
			loose++
			continue
		}
		out = append(out, w)
	}
	return out, waiting, loose
}

// growing are the weighings that a growth curve may use.
func growing(all []Weighing) []Weighing {
	var out []Weighing
	for _, w := range all {
		if w.Age >= FirstDays/7.0 && w.Age <= MatureWeeks {
			out = append(out, w)
		}
	}
	return out
}

// trackOf turns growing weighings, oldest first, into a track.
func trackOf(ws []Weighing) pooled.Track {
	var ages, logs, days []float64
	for _, w := range ws {
		day := 7 * w.Age
		if w.Dated {
			day = float64(w.Day)
		}
		ages, logs, days = append(ages, w.Age), append(logs, math.Log(w.Grams)), append(days, day)
	}
	return pooled.Track{Ages: ages, Logs: logs, Days: days}
}

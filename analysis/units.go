package analysis

import (
	"fmt"
	"math"
	"strconv"

	"keelmark/ingest/record"
)

const (
	gramsPerPound = 453.59237 // exactly, by the international avoirdupois pound of 1959
	gramsPerOunce = gramsPerPound / 16
)

// Units prints weights as the keeper reads them: "g" or "lb-oz". The zero Units is grams.
type Units string

// The units of printed weights.
const (
	Grams    Units = "g"
	PoundsOz Units = "lb-oz"
)

// UnitsOf reads the keeper's choice; anything else than lb-oz is grams.
func UnitsOf(s record.Settings) Units {
	if s.Flock.Units == string(PoundsOz) {
		return PoundsOz
	}
	return Grams
}

// Weight prints a weight given in grams as it stands: whole grams, or pounds and half ounces.
func (u Units) Weight(grams float64) string {
	if u == PoundsOz {
		return poundsOunces(grams)
	}
	return strconv.FormatFloat(math.Round(grams), 'f', 0, 64) + " g"
}

// About prints an estimated weight without more digits than an estimate has: to the gram below
// 100 g, to 5 g below 1 kg, to 10 g above, or to half ounces.
func (u Units) About(grams float64) string {
	if u == PoundsOz {
		return poundsOunces(grams)
	}
	return u.Weight(roundTo(grams))
}

// Range prints two weights, "590 to 885 g", as they stand.
func (u Units) Range(low, high float64) string {
	return u.span(low, high, func(g float64) float64 { return g })
}

// AboutRange prints two estimated weights, rounded as by About.
func (u Units) AboutRange(low, high float64) string { return u.span(low, high, roundTo) }

func (u Units) span(low, high float64, round func(float64) float64) string {
	if u == PoundsOz {
		return poundsOunces(low) + " to " + poundsOunces(high)
	}
	return fmt.Sprintf("%.0f to %.0f g", round(low), round(high))
}

func roundTo(grams float64) float64 {
	step := 10.0
	switch {
	case grams < 100:
		step = 1
	case grams < 1000:
		step = 5
	}
	return step * math.Round(grams/step)
}

func poundsOunces(grams float64) string {
	halves := int(math.Round(2 * grams / gramsPerOunce))
	pounds, halves := halves/32, halves%32
	var ounces string
	switch {
	case halves == 1:
		ounces = "½"
	case halves%2 == 1:
		ounces = strconv.Itoa(halves/2) + "½"
	default:
		ounces = strconv.Itoa(halves / 2)
	}
	switch {
	case pounds == 0:
		return ounces + " oz"
	case halves == 0:
		return fmt.Sprintf("%d lb", pounds)
	}
	return fmt.Sprintf("%d lb %s oz", pounds, ounces)
}

package growth

import (
	"fmt"
	"math"
)

// weightText prints an estimated weight without more digits than it has: to 5 g below 1 kg and 10 g above, or in
// pounds and half ounces.
func weightText(grams float64, units string) string {
	if units == "lb-oz" {
		return poundsOunces(grams)
	}
	return fmt.Sprintf("%.0f g", rounded(grams))
}

// rangeText prints two weights: "590 to 885 g".
func rangeText(low, high float64, units string) string {
	if units == "lb-oz" {
		return poundsOunces(low) + " to " + poundsOunces(high)
	}
	return fmt.Sprintf("%.0f to %.0f g", rounded(low), rounded(high))
}

func rounded(grams float64) float64 {
	switch {
	case grams < 100:
		return math.Round(grams)
	case grams < 1000:
		return 5 * math.Round(grams/5)
	}
	return 10 * math.Round(grams/10)
}

func poundsOunces(grams float64) string {
	const gramsPerOunce = 453.59237 / 16 // exactly, by the international avoirdupois pound of 1959
	halves := int(math.Round(2 * grams / gramsPerOunce))
	pounds, halves := halves/32, halves%32
	ounces := fmt.Sprint(halves / 2)
	if halves%2 == 1 {
		ounces += "½"
	}
	switch {
	case pounds == 0:
		return ounces + " oz"
	case halves == 0:
		return fmt.Sprintf("%d lb", pounds)
	}
	return fmt.Sprintf("%d lb %s oz", pounds, ounces)
}

// gainText prints a daily gain: "8.1 g a day".
func gainText(grams float64) string {
	if grams < 10 {
		return fmt.Sprintf("%.1f g a day", grams)
	}
	return fmt.Sprintf("%.0f g a day", grams)
}

// ageText prints an age in the words of a keeper: days up to ten weeks, weeks after.
func ageText(days float64) string {
	if math.Abs(days) < 70 {
		return counted(int(math.Round(days)), "day")
	}
	return fmt.Sprintf("%.0f weeks", days/7)
}

// ageRange prints two ages in one unit: "34 to 53 days". An age below zero reads as hatch.
func ageRange(low, high float64) string {
	low, high = max(low, 0), max(high, 0)
	if high < 70 {
		return fmt.Sprintf("%.0f to %.0f days", low, high)
	}
	return fmt.Sprintf("%.0f to %.0f weeks", low/7, high/7)
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

func areDays(n int) string { return are(n, "days") }

// are completes "and there ...".
func are(n int, things string) string {
	switch n {
	case 0:
		return "are none"
	case 1:
		return "is 1"
	}
	return fmt.Sprintf("are %d", n)
}

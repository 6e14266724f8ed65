package growth

import (
	"fmt"
	"keelmark/analysis"
	"math"
)

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
		return analysis.Counted(int(math.Round(days)), "day")
	}
	return fmt.Sprintf("%.0f weeks", days/7)
}

// ageRange prints two ages in one unit: "34 to 53 days", in weeks from ten weeks on where the two then differ. An age
// below zero reads as hatch.
func ageRange(low, high float64) string {
	low, high = math.Round(max(low, 0)), math.Round(max(high, 0))
	from, to := math.Round(low/7), math.Round(high/7)
	switch {
	case high >= 70 && from < to:
		return fmt.Sprintf("%.0f to %.0f weeks", from, to)
	case low < high:
		return fmt.Sprintf("%.0f to %.0f days", low, high)
	}
	return analysis.Counted(int(low), "day")
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

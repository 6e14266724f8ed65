package season

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"keelmark/ingest/record"
)

// dayAndMonth prints an angle of the year: "3 September".
func dayAndMonth(angle float64) string {
	_, m, d := (newYear(2001) + record.Day(dayOfPhase(angle))).Date()
	return fmt.Sprintf("%d %s", d, m)
}

// next is the first day at an angle of the year, today or later.
func next(angle float64, today record.Day) record.Day {
	y, _, _ := today.Date()
	for ; ; y++ {
		length := float64(newYear(y+1) - newYear(y))
		if d := newYear(y) + record.Day(wrap(angle)/(2*math.Pi)*length); d >= today {
			return d
		}
	}
}

// between prints a run of months: "August", "November to February".
func between(first, last time.Month) string {
	if first == last {
		return first.String()
	}
	return first.String() + " to " + last.String()
}

// list joins words with commas and a last "and".
func list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func numbers(ns []int) string {
	var out []string
	for _, n := range slices.Sorted(slices.Values(ns)) {
		out = append(out, fmt.Sprint(n))
	}
	return list(out)
}

// seasonOfYear names a window by the part of the year at the keeper's place, "" where it spans more than four months or
// the hemisphere is not known.
func seasonOfYear(w Window, south, told bool) string {
	if !told || w.Months > 4 {
		return ""
	}
	middle := (int(w.First) - 1 + w.Months/2) % 12 // 0 January
	if south {
		middle = (middle + 6) % 12
	}
	switch middle {
	case 11, 0, 1:
		return "winter"
	case 2, 3, 4:
		return "spring"
	case 5, 6, 7:
		return "summer"
	}
	return "autumn"
}

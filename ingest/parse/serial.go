package parse

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"keelmark/ingest/record"
)

// System is what serial day numbers count from.
type System uint8

// The two systems of spreadsheets.
const (
	From1900 System = iota // 1 is 1900-01-01, and 60 the 29 February 1900 that never was
	From1904               // 0 is 1904-01-01
)

// Serial turns a serial day number into a day and its fraction into a time of day "15:04", "" at midnight.
// It returns false for 60 in the 1900 system, numbers below the first day and days after 9999-12-31.
//
// Source: ECMA-376 Part 1 (5th ed. 2016), 18.17.4.1, dates as serial numbers in both systems.
func Serial(serial float64, sys System) (day record.Day, clock string, ok bool) {
	const lastDay = 2958465 // 9999-12-31 in the 1900 system
	if !(serial >= 0 && serial <= lastDay) {
		return 0, "", false
	}
	whole := math.Floor(serial)
	minutes := int(math.Round((serial - whole) * 24 * 60))
	if minutes == 24*60 {
		whole, minutes = whole+1, 0
	}
	var first record.Day
	switch {
	case sys == From1904:
		first, _ = record.DayOf(1904, time.January, 1)
	case whole == 0 || whole == 60:
		return 0, "", false
	case whole < 60:
		first, _ = record.DayOf(1899, time.December, 31)
	default:
		first, _ = record.DayOf(1899, time.December, 30)
	}
	if minutes > 0 {
		clock = fmt.Sprintf("%02d:%02d", minutes/60, minutes%60)
	}
	return first + record.Day(whole), clock, true
}

// storedDay reads a cell that the file types as a date, a serial or an ISO date with or without a time, or a
// text that is dateLike.
func storedDay(c Cell, sys System) (record.Day, bool) {
	day, _, ok := storedTime(c, sys)
	return day, ok
}

func storedTime(c Cell, sys System) (record.Day, string, bool) {
	if v, err := strconv.ParseFloat(c.Text, 64); err == nil && c.Stored != Text {
		return Serial(v, sys)
	}
	if c.Stored == Text {
		day, ok := textDay(Clean(c.Text))
		return day, "", ok
	}
	if len(c.Text) < 10 {
		return 0, "", false
	}
	day, err := record.ParseDay(c.Text[:10])
	if err != nil {
		return 0, "", false
	}
	clock := ""
	if len(c.Text) >= 16 && c.Text[10] == 'T' && c.Text[11:16] != "00:00" {
		clock = c.Text[11:16]
	}
	return day, clock, true
}

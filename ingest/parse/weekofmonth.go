package parse

import (
	"strings"

	"keelmark/ingest/record"
)

var weekOfMonth = later(`^([1-5])(?:st|nd|rd|th) (?:wk|week)\.?$`)

// WeekOfMonth reads a week by its place in a month, "1st wk", "3rd week": 1 to 5. It is a date and never an age.
func WeekOfMonth(text string) (n int, ok bool) {
	m := weekOfMonth().FindStringSubmatch(strings.TrimSpace(Fold(text)))
	if m == nil {
		return 0, false
	}
	return int(m[1][0] - '0'), true
}

// inMonth reads such a week in the month of the sheet: seven days counted from the first of the month, as keepers count
// them (common practice, no source).
func (in DateIn) inMonth(c Cell, n int) (When, *Problem) {
	if in.Month.Precision != record.ToMonth {
		return When{}, &Problem{Class: DateInvalid, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " is a week of a month, and neither the sheet's name nor its title says which month and year; write the month and year in the sheet's name"}
	}
	on := record.WeekFrom(in.Month.First + record.Day(7*(n-1)))
	if on.First > in.Month.Last {
		return When{}, &Problem{Class: DateInvalid, Readings: leaveEmpty(), Message: quoted(c.Text) + " lies beyond the month of the sheet; correct it"}
	}
	on.Last = min(on.Last, in.Month.Last)
	return in.check(c, When{On: on, Steps: []string{"month from the sheet's name or title"}})
}

package record

import (
	"fmt"
	"time"
)

// Day is a civil day, counted from 1970-01-01. It has no clock and no time zone.
type Day int32

// DayOf returns the day of a calendar date, and false where the calendar has no such day (31 April).
func DayOf(year int, month time.Month, day int) (Day, bool) {
	t := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if t.Year() != year || t.Month() != month || t.Day() != day {
		return 0, false
	}
	return Day(t.Unix() / 86400), true
}

// ParseDay reads an ISO date such as 2025-03-01.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("%q is not a date; write it as 2025-03-01", s)
	}
	return Day(t.Unix() / 86400), nil
}

// Date returns the calendar date.
func (d Day) Date() (year int, month time.Month, day int) { return d.time().Date() }

// Weekday returns the day of the week.
func (d Day) Weekday() time.Weekday { return d.time().Weekday() }

// YearDay returns the day within its year, 1 to 366.
func (d Day) YearDay() int { return d.time().YearDay() }

// String is the ISO date.
func (d Day) String() string { return d.time().Format(time.DateOnly) }

// AddMonths moves by whole calendar months; a day that the target month lacks becomes its last day.
func (d Day) AddMonths(n int) Day {
	y, m, day := d.Date()
	first := time.Date(y, m+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Day(first.Unix()/86400) + Day(min(day, last)-1)
}

func (d Day) time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// Precision says how exactly a date was written.
type Precision uint8

// The precisions, from unknown to exact.
const (
	NoDate Precision = iota
	ToYear
	ToSeason
	ToMonth
	ToWeek
	ToDay
)

var precisionNames = [...]string{"", "year", "season", "month", "week", "day"}

// String is the name used in reports and in `check --format jsonl`; "" where no date is known.
func (p Precision) String() string { return precisionNames[p] }

// Date is a date as far as it is known: an interval of days, both ends included, with the precision that it
// was written in. The zero value means that no date is known.
type Date struct {
	First, Last Day
	Precision   Precision
}

// On is an exact date.
func On(d Day) Date { return Date{d, d, ToDay} }

// InMonth is some day of a month.
func InMonth(year int, month time.Month) Date {
	first, _ := DayOf(year, month, 1)
	return Date{first, first.AddMonths(1) - 1, ToMonth}
}

// InYear is some day of a year.
func InYear(year int) Date {
	first, _ := DayOf(year, time.January, 1)
	last, _ := DayOf(year, time.December, 31)
	return Date{first, last, ToYear}
}

// WeekFrom is some day of the seven that begin with first.
func WeekFrom(first Day) Date { return Date{first, first + 6, ToWeek} }

// Between is some day of an interval that has another name than month, week or year, such as a season.
func Between(first, last Day) Date { return Date{first, last, ToSeason} }

// Known reports whether any date is known.
func (d Date) Known() bool { return d.Precision != NoDate }

// Exact reports whether the very day is known.
func (d Date) Exact() bool { return d.Precision == ToDay }

// Middle is the middle day of the interval: the one to plot, never the one to claim.
func (d Date) Middle() Day { return d.First + (d.Last-d.First)/2 }

// String is the date as far as it is known: "2025-03-01", "2025-03", "2025", "week from 2025-03-03",
// "2025-03-01 to 2025-05-31", or "" for an unknown date.
func (d Date) String() string {
	switch d.Precision {
	case ToDay:
		return d.First.String()
	case ToMonth:
		return d.First.String()[:7]
	case ToYear:
		return d.First.String()[:4]
	case ToWeek:
		return "week from " + d.First.String()
	case ToSeason:
		return d.First.String() + " to " + d.Last.String()
	}
	return ""
}

// Age is an age in days, where one was written or can be computed. The zero value means unknown.
type Age struct {
	days  int32
	known bool
}

// AgeDays is a known age.
func AgeDays(days int) Age { return Age{int32(days), true} }

// Days returns the age in days and whether it is known.
func (a Age) Days() (int, bool) { return int(a.days), a.known }

// Known reports whether the age is known.
func (a Age) Known() bool { return a.known }

package parse

import (
	"strconv"
	"time"

	"keelmark/ingest/record"
)

// figures are two or three numbers parted by the same mark: 4/6/2024, 2024-06-04, 4.6., 06/2024.
type figures struct {
	v      [3]int
	digits [3]int
	n      int
	mark   byte
}

func scanFigures(s string) (f figures, ok bool) {
	if len(s) > 14 {
		return f, false
	}
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case isDigit(c):
			if f.n == 3 || f.digits[f.n] == 4 {
				return f, false
			}
			f.v[f.n] = f.v[f.n]*10 + int(c-'0')
			f.digits[f.n]++
		case c == ' ' && i > 0 && s[i-1] == '.' && f.mark == '.': // "4. 6. 2024"
		case c == '/' || c == '.' || c == '-' || c == ' ':
			if f.n > 2 || f.digits[f.n] == 0 || f.mark != 0 && f.mark != c {
				return f, false
			}
			f.mark = c
			f.n++
		default:
			return f, false
		}
	}
	if f.n < 3 && f.digits[f.n] > 0 {
		f.n++
	} else if f.mark != '.' { // only "4.6." ends in its mark
		return f, false
	}
	for i := range f.n {
		if f.digits[i] == 3 {
			return f, false
		}
	}
	return f, f.n >= 2
}

// reading returns the figures as a date in an order, false where the calendar has none. year stands in for
// one that is not written.
func (f figures) reading(o Order, year int) (record.Day, bool) {
	d, m, y := f.v[0], f.v[1], 2
	switch {
	case o == MDY:
		d, m = m, d
	case o == YMD && f.n == 3:
		d, m, y = f.v[2], f.v[1], 0
	}
	if f.n == 3 {
		year = fullYear(f.v[y], f.digits[y])
	}
	return dayOf(year, m, d)
}

// fullYear widens a two-digit year. Source: POSIX.1-2017, strptime, conversion %y: 69 to 99 are 1969 to 1999,
// 00 to 68 are 2000 to 2068.
func fullYear(y, digits int) int {
	switch {
	case digits > 2:
		return y
	case y < 69:
		return 2000 + y
	}
	return 1900 + y
}

// orders are those in which the figures may be meant.
func (f figures) orders(known Order) []Order {
	switch {
	case f.n == 3 && (f.digits[0] == 4 || f.v[0] > 31):
		return []Order{YMD}
	case f.n == 3 && known == YMD && f.digits[2] <= 2:
		return []Order{YMD, DMY, MDY}
	case known == MDY:
		return []Order{MDY, DMY}
	}
	return []Order{DMY, MDY}
}

const noWeekday = time.Weekday(-1)

// candidate is one reading of figures.
type candidate struct {
	order Order
	day   record.Day
}

// date settles the figures by the order of the file and by the weekday, or asks.
func (f figures) date(c Cell, in DateIn, weekday time.Weekday) (When, *Problem) {
	if weekday == noWeekday && in.Weekday != "" {
		if d, ok := Weekday(in.Weekday); ok {
			weekday = d
		}
	}
	var steps []string
	year := in.Year
	if f.n == 2 {
		if when, p, done := f.monthAndYear(c, in); done {
			return when, p
		}
		if year == 0 {
			return When{}, yearMissing(c)
		}
		steps = append(steps, "year "+strconv.Itoa(year)+" from the sheet's name or title")
	}
	orders := f.orders(in.Order)
	var fits []candidate // the order of the file first, each day once
	known := false
	if day, ok := f.reading(orders[0], year); ok && in.Order == "" && in.Latest != 0 && day > in.Latest && f.n == 3 && f.digits[2] == 2 {
		orders = append(orders, YMD) // 24/12/31: a day still to come, or 31 December 2024
	}
	for _, o := range orders {
		day, ok := f.reading(o, year)
		if !ok || len(fits) > 0 && fits[0].day == day {
			continue
		}
		known = known || o == in.Order || len(orders) == 1
		fits = append(fits, candidate{o, day})
	}
	if len(fits) == 0 {
		return When{}, invalidDate(c, f, orders[0], year)
	}
	settled := known || len(fits) == 1
	if in.Order != "" && !known && in.Order != YMD && len(orders) > 1 {
		return When{}, orderConflict(c, in.Order, fits[:1], "it has no such day "+in.Order.words())
	}
	if weekday != noWeekday {
		var agree []candidate
		for _, fit := range fits {
			if fit.day.Weekday() == weekday {
				agree = append(agree, fit)
			}
		}
		switch {
		case len(agree) == 0:
			return When{}, &Problem{Class: WeekdayMismatch, Readings: dayReadings(fits),
				Message: quoted(c.Text) + " is not a " + weekday.String() + " however it is read; correct the date or the weekday"}
		case known && agree[0] != fits[0]:
			return When{}, orderConflict(c, in.Order, []candidate{agree[0], fits[0]}, "only "+agree[0].order.words()+" it is a "+weekday.String())
		case len(agree) == 1:
			if !settled {
				steps = append(steps, agree[0].order.words()+": "+agree[0].day.String()+" is a "+weekday.String())
			}
			fits, settled = agree, true
		}
	}
	if !settled {
		return When{}, ambiguousDate(c, fits)
	}
	return in.check(c, When{On: record.On(fits[0].day), Steps: steps})
}

// monthAndYear reads 06/2024 and 2024-06, and asks of 5/24, which may be a month with its year.
func (f figures) monthAndYear(c Cell, in DateIn) (When, *Problem, bool) {
	for _, at := range [][2]int{{0, 1}, {1, 0}} {
		m, y := f.v[at[0]], f.v[at[1]]
		if f.digits[at[1]] != 4 {
			continue
		}
		if f.digits[at[0]] == 4 || m < 1 || m > 12 || y < 1 {
			return When{}, unreadableDate(c), true
		}
		when, p := in.check(c, When{On: record.InMonth(y, time.Month(m))})
		return when, p, true
	}
	if _, ok := f.reading(DMY, 2000); f.v[1] > 12 && f.v[0] >= 1 && f.v[0] <= 12 && !ok && in.Order != MDY {
		on := record.InMonth(fullYear(f.v[1], 2), time.Month(f.v[0]))
		p := &Problem{Class: DateAmbiguous, Message: quoted(c.Text) + " may be a month with its year or a day without one; write the date in full"}
		p.Readings = []record.Reading{{Label: longMonth(on.First), Value: longMonth(on.First)}}
		if day, ok := f.reading(MDY, in.Year); ok && in.Year != 0 {
			p.Readings = append(p.Readings, dayReading(day))
		}
		return When{}, p, true
	}
	return When{}, nil, false
}

package parse

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"keelmark/ingest/record"
)

// Order is the order of day, month and year in dates of figures, as flock.toml writes it. "" is unknown.
type Order string

// The orders.
const (
	DMY Order = "dmy"
	MDY Order = "mdy"
	YMD Order = "ymd"
)

func (o Order) words() string {
	switch o {
	case DMY:
		return "day first"
	case MDY:
		return "month first"
	}
	return "year first"
}

// DateIn is what file, sheet and row say of a date.
type DateIn struct {
	Order      Order
	Year       int         // that the sheet's name or title carries, for dates without one; 0 none
	Sys        System      // of serials
	Hemisphere string      // "north", "south" or "", for seasons
	Weekday    string      // text of a weekday cell in the same row, "" none
	Latest     record.Day  // later days are DateFuture; 0 no check
	Month      record.Date // that the sheet's name or title carries, for bare days of the month
	Serials    bool        // plain numbers in the column are days that lost their format: see SerialColumn
}

// Answered applies an answer to the whole column: "dmy", "mdy", "ymd", "north", "south". It returns false for
// any other text: that one is to be read in place of the cell.
func (in DateIn) Answered(answer string) (DateIn, bool) {
	switch answer {
	case string(DMY), string(MDY), string(YMD):
		in.Order = Order(answer)
	case north, south:
		in.Hemisphere = answer
	default:
		return in, false
	}
	return in, true
}

const (
	north = "north"
	south = "south"
)

// When is one date as far as it is written.
type When struct {
	On    record.Date
	Clock string // time of day as written, "" none
	Steps []string
}

// Years that a keeper's record can be of: common practice, no source.
const (
	firstYear = 1950
	lastYear  = 2099
)

// Date reads one date in any style of figures or month names (English, German, French, Spanish, Dutch,
// Italian, Portuguese, Polish, Danish, Norwegian, Swedish, Czech), ISO 8601, serials, weeks ("w/c 4 June",
// "2024-W23"), months, parts of months, seasons and years. Two-digit years 69 to 99 are 1969 to 1999, 00 to 68
// are 2000 to 2068 (the rule of POSIX strptime). A date known to the week, month, season or year comes with a
// DateDayMissing that is told; a serial without a date format, with DateSerial, asked. Days before 1950 are
// DateAncient.
func Date(c Cell, in DateIn) (When, *Problem) {
	if n, ok := WeekOfMonth(c.Text); ok && c.Stored == Text {
		return in.inMonth(c, n)
	}
	if c.Stored == Dated {
		day, clock, ok := storedTime(c, in.Sys)
		if !ok {
			return When{}, unreadableDate(c)
		}
		return in.check(c, When{On: record.On(day), Clock: clock})
	}
	text := Clean(c.Text)
	if f, ok := scanFigures(text); ok && f.n > 1 && c.Stored == Text {
		return f.date(c, in, noWeekday)
	}
	folded := Fold(text)
	if p := unread(c, folded, "a date"); p != nil {
		return When{}, p
	}
	switch {
	case c.Stored == Bool:
		return When{}, &Problem{Class: BooleanCell, Message: quoted(c.Text) + " is a yes/no value, not a date; write the date", Readings: leaveEmpty()}
	case c.Stored == Percent:
		return When{}, &Problem{Class: PercentCell, Message: quoted(c.Text) + " is a percentage, not a date; write the date", Readings: leaveEmpty()}
	case Missing(folded):
		return When{}, &Problem{Class: DateMissing, Message: "no date is written; write the day, or as much of it as is known", Readings: nil}
	}
	if v, err := strconv.ParseFloat(text, 64); err == nil {
		return numberDate(c, text, v, in)
	}
	return wordDate(c, folded, in)
}

func unreadableDate(c Cell) *Problem {
	return &Problem{Class: DateUnreadable, Readings: leaveEmpty(),
		Message: quoted(c.Text) + " is not a date that can be read; write it as 2024-06-03, or as June 2024 if the day is not known"}
}

// numberDate reads a plain number: a year, figures run together, or a serial that lost its format.
func numberDate(c Cell, text string, v float64, in DateIn) (When, *Problem) {
	whole := v == float64(int64(v)) && len(digitsOf(text)) == len(text)
	switch {
	case whole && len(text) == 4 && v >= firstYear && v <= lastYear:
		return in.check(c, When{On: record.InYear(int(v))})
	case whole && len(text) == 8:
		n := int(v)
		for _, ymd := range [][3]int{{n / 10000, n / 100 % 100, n % 100}, {n % 10000, n / 10000 % 100, n / 1000000}} {
			if day, ok := dayOf(ymd[0], ymd[1], ymd[2]); ok && ymd[0] >= firstYear && ymd[0] <= lastYear {
				return in.check(c, When{On: record.On(day)})
			}
		}
	case whole && v >= 1 && v <= 31 && in.Month.Precision == record.ToMonth:
		if year, month, _ := in.Month.First.Date(); true {
			if day, ok := record.DayOf(year, month, int(v)); ok {
				return in.check(c, When{On: record.On(day), Steps: []string{quoted(c.Text) + " is a day of " + longMonth(day)}})
			}
		}
	case IsSerial(c):
		if day, clock, ok := Serial(v, in.Sys); ok {
			if in.Serials {
				return in.check(c, When{On: record.On(day), Clock: clock, Steps: []string{quoted(c.Text) + " is the serial number of " + longDay(day)}})
			}
			return When{}, &Problem{Class: DateSerial, Readings: []record.Reading{dayReading(day), leaveEmpty()[0]},
				Message: quoted(c.Text) + " looks like the serial number of " + longDay(day) + " without a date format; confirm, or write the date"}
		}
	}
	return When{}, unreadableDate(c)
}

// SerialColumn reports whether a column of dates lost its format as a whole: two cells at least, and nine in
// ten, are plain numbers that are days of 1954 to 2099, and the others are dates. It returns the first such cell.
func SerialColumn(cells []Cell) (at int, ok bool) {
	n, serials := 0, 0
	at = -1
	for i, c := range cells {
		if Missing(c.Text) {
			continue
		}
		n++
		if IsSerial(c) {
			if serials++; at < 0 {
				at = i
			}
		}
	}
	return at, serials >= 2 && serials*10 >= 9*n
}

// IsSerial reports whether a cell is a plain number that is a day of 1954 to 2099 in the 1900 system.
func IsSerial(c Cell) bool {
	v, err := strconv.ParseFloat(Clean(c.Text), 64)
	return err == nil && v >= 20000 && v < 73000 && (c.Stored == Number || c.Stored == Text)
}

func dayOf(year, month, day int) (record.Day, bool) {
	if month < 1 || month > 12 || day < 1 || day > 31 {
		return 0, false
	}
	return record.DayOf(year, time.Month(month), day)
}

// check holds out dates that no record of a living flock can have, and tells of dates without a day.
func (in DateIn) check(c Cell, w When) (When, *Problem) {
	first := w.On.First
	year, _, _ := first.Date()
	switch {
	case year < firstYear:
		return When{}, &Problem{Class: DateAncient, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " is " + w.On.String() + ", too long ago for a record of this flock; correct the date"}
	case in.Latest != 0 && first > in.Latest || year > lastYear:
		p := &Problem{Class: DateFuture, Message: quoted(c.Text) + " is " + w.On.String() + ", which is still to come; correct the date"}
		if f, ok := scanFigures(Clean(c.Text)); ok && f.n == 3 {
			for _, o := range f.orders("") {
				if day, ok := f.reading(o, 0); ok && day <= in.Latest && day != first {
					p.Readings = append(p.Readings, dayReading(day))
				}
			}
		}
		p.Readings = append(p.Readings, leaveEmpty()...)
		return When{}, p
	}
	if w.On.Exact() {
		return w, nil
	}
	return w, &Problem{Class: DateDayMissing, Action: Tell,
		Message: fmt.Sprintf("%s names no day; it is read as %s, known to the %s", quoted(c.Text), w.On, w.On.Precision)}
}

func yearMissing(c Cell) *Problem {
	return &Problem{Class: DateYearMissing, Message: quoted(c.Text) + " has no year, and neither the sheet's name nor a title gives one; write the year"}
}

func invalidDate(c Cell, f figures, o Order, year int) *Problem {
	p := &Problem{Class: DateInvalid, Message: quoted(c.Text) + " is no day of the calendar; correct it"}
	for back := 1; back <= 3; back++ { // 31/11: the last day that the month has
		shorter := f
		at := map[Order]int{DMY: 0, MDY: 1, YMD: 2}[o]
		shorter.v[at] -= back
		if day, ok := shorter.reading(o, year); ok && f.v[at] <= 31 {
			p.Readings = []record.Reading{dayReading(day), dayReading(day + 1)}
			break
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

func ambiguousDate(c Cell, fits []candidate) *Problem {
	p := &Problem{Class: DateAmbiguous, Message: quoted(c.Text) + " is " + longDay(fits[0].day) + " or " + longDay(fits[1].day) + ", and nothing in the sheet proves which; say how its dates are written"}
	for _, fit := range fits {
		p.Readings = append(p.Readings, record.Reading{Label: longDay(fit.day) + " (" + fit.order.words() + ")", Value: string(fit.order)})
	}
	return p
}

func orderConflict(c Cell, o Order, fits []candidate, why string) *Problem {
	return &Problem{Class: DateOrderConflict, Readings: dayReadings(fits),
		Message: quoted(c.Text) + " does not fit the other dates, which are written " + o.words() + ": " + why + "; confirm the date"}
}

func dayReadings(fits []candidate) []record.Reading {
	var out []record.Reading
	for _, fit := range fits {
		out = append(out, dayReading(fit.day))
	}
	return out
}

func dayReading(d record.Day) record.Reading {
	return record.Reading{Label: longDay(d), Value: d.String()}
}

// longDay is a date that nobody can read in another order: 6 April 2024.
func longDay(d record.Day) string {
	y, m, day := d.Date()
	return fmt.Sprintf("%d %s %d", day, m, y)
}

func longMonth(d record.Day) string { return longDay(d)[strings.IndexByte(longDay(d), ' ')+1:] }

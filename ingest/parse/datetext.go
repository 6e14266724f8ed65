package parse

import (
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"keelmark/ingest/record"
)

// dateText is a date as its words tell it, before anything is decided.
type dateText struct {
	figures figures // where the date itself is in figures: "Mon 4/6/24"
	nums    []dateNumber
	month   time.Month
	first   bool // the month stands before every number
	weekday time.Weekday
	season  int
	part    int
	span    byte // 'f' week from, 't' week to, 'n' week number
	clock   string
	doubt   bool
}

type dateNumber struct {
	v, digits int
	ordinal   bool // "3rd"
	year      bool // "'24"
}

// wordDate reads a date with words in it, folded.
func wordDate(c Cell, folded string, in DateIn) (When, *Problem) {
	t, ok := scanDate(folded)
	if !ok {
		return When{}, unreadableDate(c)
	}
	when, p := t.date(c, in)
	if p.Holds() {
		return When{}, p
	}
	when.Clock = t.clock
	if t.doubt {
		return When{}, &Problem{Class: Doubtful, Readings: []record.Reading{{Label: when.On.String(), Value: readable(when.On)}, leaveEmpty()[0]},
			Message: quoted(c.Text) + " leaves a doubt; confirm " + when.On.String() + ", or write as much of the date as is known"}
	}
	return when, p
}

// readable writes a date so that it reads without a question, except that it may lack the day.
func readable(d record.Date) string {
	switch d.Precision {
	case record.ToWeek:
		return "week of " + d.First.String()
	case record.ToSeason:
		return longMonth(d.Middle())
	case record.ToMonth:
		return longMonth(d.First)
	}
	return d.String()
}

// scanDate takes a folded text apart. It returns false where a word is none of a date.
func scanDate(s string) (t dateText, ok bool) {
	t.weekday = noWeekday
	s, t.clock = cutClock(s)
	s = strings.TrimSpace(s)
	if rest := strings.TrimRight(s, " ?"); rest != s {
		t.doubt, s = true, strings.Trim(rest, "()")
	}
	s = t.scanWeek(s)
	for s = strings.TrimLeft(s, " ,.;-/"); s != ""; s = strings.TrimLeft(s, " ,.;-/()") {
		r, size := utf8.DecodeRuneInString(s)
		switch {
		case isDigit(s[0]) || r == '\'' && len(s) > 2 && isDigit(s[1]):
			if s, ok = t.scanNumber(s); !ok {
				return t, false
			}
		case r == '~' || r == '≈':
			t.doubt = true
			s = s[size:]
		case unicode.IsLetter(r) || r == 'º' || r == 'ª':
			n := 0
			for n < len(s) && (s[n] >= 'a' && s[n] <= 'z' || s[n] >= 0x80 || s[n] == '-' && n > 0 && strings.HasPrefix(s[n:], "-feira")) {
				n++
			}
			if n == 0 || !t.word(s[:n]) {
				return t, false
			}
			s = s[n:]
		default:
			return t, false
		}
	}
	return t, len(t.nums) > 0 || t.figures.n > 0 || t.month != 0 || t.season != 0
}

// scanWeek reads "w/c", "week ending", "KW" at the start, and "2024-W23".
func (t *dateText) scanWeek(s string) string {
	if year, week, ok := strings.Cut(s, "-w"); ok && len(year) == 4 && digitsOf(year) == year && len(week) <= 2 && digitsOf(week) == week && week != "" {
		t.span = 'n'
		return week + " " + year
	}
	for _, kind := range []struct {
		span  byte
		words []string
	}{{'f', weekFromWords}, {'t', weekToWords}, {'n', weekNoWords}} {
		for _, w := range kind.words {
			rest, ok := strings.CutPrefix(s, w)
			if !ok || rest == "" || rest[0] >= 'a' && rest[0] <= 'z' {
				continue
			}
			rest = strings.TrimLeft(rest, " .:")
			if kind.span == 'n' && (rest == "" || !isDigit(rest[0])) {
				continue
			}
			t.span = kind.span
			return rest
		}
	}
	return s
}

// scanNumber reads one number, or figures that are a date by themselves, or the middle of 4.VI.2024.
func (t *dateText) scanNumber(s string) (string, bool) {
	year := s[0] == '\''
	if year {
		s = s[1:]
	}
	n := 0
	for n < len(s) && (isDigit(s[n]) || n > 0 && n+1 < len(s) && strings.IndexByte("/.-", s[n]) >= 0 && isDigit(s[n-1]) && isDigit(s[n+1])) {
		n++
	}
	if f, ok := scanFigures(s[:n]); ok {
		if t.figures.n > 0 || len(t.nums) > 0 || year {
			return s, false
		}
		t.figures = f
		return s[n:], true
	}
	v, err := strconv.Atoi(s[:n])
	if err != nil || n > 4 || n == 3 || len(t.nums) == 3 {
		return s, false
	}
	num := dateNumber{v: v, digits: n, year: year || n == 4}
	s = s[n:]
	w := 0
	for w < len(s) && (s[w] >= 'a' && s[w] <= 'z' || s[w] >= 0x80) {
		w++
	}
	if w > 0 && ordinalWords[s[:w]] {
		num.ordinal, s = true, s[w:]
	} else if strings.HasPrefix(s, ".") {
		roman := strings.TrimLeft(s[1:], " ")
		if end := strings.IndexByte(roman, '.'); end > 0 && romanMonths[strings.TrimSpace(roman[:end])] > 0 && t.month == 0 {
			t.month = time.Month(romanMonths[strings.TrimSpace(roman[:end])])
			s = roman[end:]
		}
	}
	t.nums = append(t.nums, num)
	return s, true
}

// word takes one word in; it returns false for a word that is none of a date.
func (t *dateText) word(w string) bool {
	if m, ok := monthExact(w, t); ok {
		t.month, t.first = m, len(t.nums) == 0
		return true
	}
	switch {
	case weekdayNames[w] > 0 && t.weekday == noWeekday:
		t.weekday = time.Weekday(weekdayNames[w] - 1)
	case partNames[w] > 0 && t.part == 0 && len(t.nums) == 0:
		t.part = partNames[w]
	case seasonNames[w] > 0 && t.season == 0 && t.month == 0:
		t.season = seasonNames[w]
	case w == "c", w == "ca", w == "circa", w == "about", w == "approx", w == "around", w == "etwa", w == "environ":
		t.doubt = true
	case fillerWords[w], ordinalWords[w] && len(t.nums) > 0:
	default:
		m, ok := month(w)
		if !ok || t.month != 0 {
			return false
		}
		t.month, t.first = m, len(t.nums) == 0
	}
	return true
}

func monthExact(w string, t *dateText) (time.Month, bool) {
	m := monthNames[w]
	return time.Month(m), m > 0 && t.month == 0
}

// date puts the parts together.
func (t dateText) date(c Cell, in DateIn) (When, *Problem) {
	switch {
	case t.span == 'n':
		return t.weekNumber(c, in)
	case t.span != 0:
		return t.weekOf(c, in)
	case t.season != 0:
		return t.seasonOf(c, in)
	case t.figures.n > 0:
		if len(t.nums) > 0 || t.month != 0 || t.part != 0 {
			return When{}, unreadableDate(c)
		}
		return t.figures.date(c, in, t.weekday)
	case t.month != 0:
		return t.monthOf(c, in)
	}
	return t.yearOnly(c, in)
}

func (t dateText) yearOnly(c Cell, in DateIn) (When, *Problem) {
	if len(t.nums) != 1 || !t.nums[0].year || t.weekday != noWeekday {
		return When{}, unreadableDate(c)
	}
	on := record.InYear(fullYear(t.nums[0].v, t.nums[0].digits))
	if t.part != 0 { // "late 2023": a third of the year; common practice, no source
		start := on.First.AddMonths(4 * (t.part - 1))
		on = record.Between(start, start.AddMonths(4)-1)
	}
	return in.check(c, When{On: on})
}

// weekNumber reads week 23 of a year.
//
// Source: ISO 8601-1:2019: weeks begin on Monday, and week 1 holds the year's 4 January.
func (t dateText) weekNumber(c Cell, in DateIn) (When, *Problem) {
	year := in.Year
	if len(t.nums) == 2 && t.month == 0 {
		year = fullYear(t.nums[1].v, t.nums[1].digits)
	}
	if len(t.nums) == 0 || len(t.nums) > 2 || t.month != 0 || t.figures.n > 0 || t.nums[0].v < 1 || t.nums[0].v > 53 {
		return When{}, unreadableDate(c)
	}
	if year == 0 {
		return When{}, yearMissing(c)
	}
	fourth, _ := record.DayOf(year, time.January, 4)
	monday := fourth - record.Day((int(fourth.Weekday())+6)%7)
	first := monday + record.Day(7*(t.nums[0].v-1))
	if next, _ := record.DayOf(year+1, time.January, 4); first > next-record.Day((int(next.Weekday())+6)%7)-7 {
		return When{}, &Problem{Class: DateInvalid, Message: quoted(c.Text) + ": " + strconv.Itoa(year) + " has no such week; correct it", Readings: leaveEmpty()}
	}
	return in.check(c, When{On: record.WeekFrom(first), Steps: []string{"week counted as ISO 8601 does, from Monday"}})
}

func (t dateText) weekOf(c Cell, in DateIn) (When, *Problem) {
	day := t
	day.span = 0
	in.Weekday = ""
	when, p := day.date(c, in)
	if p.Holds() {
		return When{}, p
	}
	if !when.On.Exact() {
		return When{}, unreadableDate(c)
	}
	first := when.On.First
	if t.span == 't' {
		first -= 6
	}
	when.On = record.WeekFrom(first)
	return in.check(c, when)
}

// seasonOf reads "spring 23", by the calendar months of the hemisphere.
//
// Source: meteorological seasons, three calendar months each, northern spring from 1 March: common practice
// of weather services; no keeper's season is meant to the day.
func (t dateText) seasonOf(c Cell, in DateIn) (When, *Problem) {
	if t.month != 0 || t.weekday != noWeekday || len(t.nums) > 2 || t.figures.n == 3 || t.figures.n > 0 && len(t.nums) > 0 {
		return When{}, unreadableDate(c)
	}
	nums := t.nums
	for i := range t.figures.n { // winter 23/24
		nums = append(nums, dateNumber{v: t.figures.v[i], digits: t.figures.digits[i]})
	}
	year := in.Year
	if len(nums) > 0 {
		year = fullYear(nums[0].v, nums[0].digits)
	}
	if year == 0 {
		return When{}, yearMissing(c)
	}
	hemispheres := []string{north, south}
	if in.Hemisphere != "" {
		hemispheres = []string{in.Hemisphere}
	}
	var fits []record.Date
	var labels []string
	for _, h := range hemispheres {
		month := time.Month(12)
		switch quarter := (t.season - 1) * 3; {
		case h == north && quarter > 0:
			month = time.Month(quarter)
		case h == south:
			month = time.Month((quarter+5)%12 + 1)
		}
		starts := []int{year}
		if month == 12 && len(nums) == 1 { // winter 23 began in December 22 or 23
			starts = []int{year - 1, year}
		}
		for _, y := range starts {
			first, _ := record.DayOf(y, month, 1)
			fits = append(fits, record.Between(first, first.AddMonths(3)-1))
			labels = append(labels, h)
		}
	}
	if len(nums) == 2 && (in.Hemisphere == "" || fullYear(nums[1].v, nums[1].digits) != year+1) {
		return When{}, unreadableDate(c)
	}
	if len(fits) == 1 {
		return in.check(c, When{On: fits[0]})
	}
	p := &Problem{Class: SeasonAmbiguous, Message: quoted(c.Text) + " may be more than one stretch of months; say the hemisphere in flock.toml, [flock] hemisphere, or write the months"}
	for i, on := range fits {
		value := labels[i]
		if in.Hemisphere != "" || len(fits) > 2 {
			value = longMonth(on.Middle())
		}
		if n := len(p.Readings); n == 0 || p.Readings[n-1].Value != value {
			p.Readings = append(p.Readings, record.Reading{Label: on.String(), Value: value})
		}
	}
	return When{}, p
}

// monthOf puts a named month together with its numbers: day, year, both or none.
func (t dateText) monthOf(c Cell, in DateIn) (When, *Problem) {
	var day, year *dateNumber
	switch n := t.nums; {
	case t.figures.n > 0 || len(n) > 2:
		return When{}, unreadableDate(c)
	case len(n) == 1 && n[0].year:
		year = &n[0]
	case len(n) == 1 && t.first && !n[0].ordinal && n[0].v >= 10 && n[0].v <= 31 && t.part == 0 && t.weekday == noWeekday:
		return When{}, t.monthAndNumber(c, in)
	case len(n) == 1 && (n[0].v > 31 || t.part != 0):
		year = &n[0]
	case len(n) == 1:
		day = &n[0]
	case len(n) == 2 && n[0].year && !n[1].year:
		day, year = &n[1], &n[0]
	case len(n) == 2 && n[0].v > 31:
		day, year = &n[1], &n[0]
	case len(n) == 2 && n[1].ordinal:
		return When{}, unreadableDate(c)
	case len(n) == 2:
		day, year = &n[0], &n[1]
	}
	y, steps := in.Year, []string(nil)
	if year != nil {
		y = fullYear(year.v, year.digits)
	} else if y != 0 {
		steps = []string{"year " + strconv.Itoa(y) + " from the sheet's name or title"}
	}
	switch {
	case y == 0:
		return When{}, yearMissing(c)
	case day == nil:
		return t.wholeMonth(c, in, y, year != nil)
	}
	d, ok := dayOf(y, int(t.month), day.v)
	if !ok {
		return When{}, &Problem{Class: DateInvalid, Message: quoted(c.Text) + " is no day of the calendar; correct it", Readings: leaveEmpty()}
	}
	weekday := t.weekday
	if w, ok := Weekday(in.Weekday); ok && weekday == noWeekday {
		weekday = w
	}
	if weekday != noWeekday && d.Weekday() != weekday {
		return When{}, &Problem{Class: WeekdayMismatch, Readings: []record.Reading{dayReading(d)},
			Message: quoted(c.Text) + " is a " + d.Weekday().String() + ", not a " + weekday.String() + "; correct the date or the weekday"}
	}
	return in.check(c, When{On: record.On(d), Steps: steps})
}

// wholeMonth reads a month without a day. A year that only the sheet's name gives is asked.
func (t dateText) wholeMonth(c Cell, in DateIn, year int, written bool) (When, *Problem) {
	on := record.InMonth(year, t.month)
	if !written {
		return When{}, &Problem{Class: DateDayMissing, Readings: []record.Reading{{Label: longMonth(on.First), Value: longMonth(on.First)}},
			Message: quoted(c.Text) + " names neither day nor year; is it " + longMonth(on.First) + ", the year of the sheet?"}
	}
	switch t.part { // common practice, no source: halves, with a wide middle
	case 1:
		on.Last = on.First + 14
	case 2:
		on.First, on.Last = on.First+5, on.First+24
	case 3:
		on.First += 15
	}
	return in.check(c, When{On: on})
}

// monthAndNumber asks of "Nov 24": a day, or the year 2024.
func (t dateText) monthAndNumber(c Cell, in DateIn) *Problem {
	n := t.nums[0]
	on := record.InMonth(fullYear(n.v, 2), t.month)
	p := &Problem{Class: DateAmbiguous, Message: quoted(c.Text) + " may be a day of the month or its year; write the date in full",
		Readings: []record.Reading{{Label: longMonth(on.First), Value: longMonth(on.First)}}}
	if d, ok := dayOf(in.Year, int(t.month), n.v); ok && in.Year != 0 {
		p.Readings = append(p.Readings, dayReading(d))
	}
	return p
}

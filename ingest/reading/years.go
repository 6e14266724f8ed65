package reading

import (
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// A date without a year has its year from what stands around it: a title, the dates before and after it, or its
// weekday. What none of them settles is asked, once for the sheet.

// dayAt is a date as written, at its place.
type dayAt struct {
	cell    parse.Cell
	weekday string
	at      record.Ref
}

// yearFound is a year and its evidence.
type yearFound struct {
	year int
	why  string
}

// The years that are tried where only weekdays tell, and how far apart two neighbouring entries may lie (common
// practice, no source).
const (
	yearsBack = 8
	yearGap   = record.Day(200)
)

// readYears finds the years of the dates of a table that are written without.
func (l *lines) readYears() {
	l.years = map[record.Ref]yearFound{}
	if l.in.Year != 0 {
		return // the sheet's name or title carries it
	}
	var seq []dayAt
	if l.t.Shape == layout.Wide {
		for i := range l.t.Columns {
			if c := &l.t.Columns[i]; c.When != nil && c.When.Means.Field == parse.FieldDate {
				seq = append(seq, dayAt{c.When.Cell, "", c.When.At})
			}
		}
	} else if l.date != nil && l.t.Shape != layout.Diary && l.yearless() {
		for _, n := range l.t.Lines {
			if cell := l.v.Stored(n, l.date.Field); cell.Stored == parse.Text && cell.Text != "" && !parse.Ditto(cell.Text) {
				seq = append(seq, dayAt{cell, l.text(l.weekday, n), l.v.Ref(n, l.date.Field)})
			} else if cell.Stored == parse.Dated {
				seq = append(seq, dayAt{cell, "", l.v.Ref(n, l.date.Field)})
			}
		}
	}
	if a, ok := l.answer(l.yearKey()); ok {
		if y, ok := parse.YearIn(a); ok {
			l.beginning(seq, y)
			clear(l.dates) // some were read without it
			l.last.ok = false
			return
		}
		l.replies.Refuse(l.yearKey())
	}
	l.yearsOf(seq, 0)
	if y, from, ok := l.season(); ok && len(seq) > 0 && len(l.years) == 0 {
		in := l.in
		in.Year = y
		if when, p := parse.Date(seq[0].cell, in); p != nil && p.Class == parse.DateDayMissing || when.On.Precision == record.ToMonth {
			l.monthsOf(seq[0].cell, y, from)
		}
	}
}

// monthsOf gives a run of months the year of its first: a season's months from July on are of its first year.
func (l *lines) monthsOf(first parse.Cell, year int, from string) {
	for _, m := range []string{"july", "august", "september", "october", "november", "december"} {
		if parse.SameMonth(first.Text, m) {
			l.in.Year = year
		}
	}
	if l.in.Year == 0 {
		l.in.Year = year + 1
	}
	l.Note(l.page, fmt.Sprintf("the months begin in %d, as %q says", l.in.Year, from))
}

// yearless reports whether any date of the table's column is written without its year.
func (l *lines) yearless() bool {
	last := ""
	for _, n := range l.t.Lines {
		raw := l.v.Cell(n, l.date.Field).Raw
		if raw == last || raw == "" {
			continue
		}
		last = raw
		if d := l.dated(l.v.Stored(n, l.date.Field), l.text(l.weekday, n)); d.p != nil && d.p.Class == parse.DateYearMissing {
			return true
		}
	}
	return false
}

// beginning takes the year in which a sheet's dates begin: where they begin after June and go on before July, the
// later ones are of the next.
func (l *lines) beginning(seq []dayAt, year int) {
	first, early := time.Month(0), false
	var all []int
	for i, d := range seq {
		if day, ok := l.inYear(d, year); ok {
			_, month, _ := day.Date()
			if first == 0 {
				first = month
			}
			early = early || month < 7
		}
		all = append(all, i)
	}
	if l.t.Shape == layout.Diary || first < 7 || !early {
		l.in.Year = year
		return
	}
	l.inSeason(seq, all, year, "the answer")
}

func (l *lines) yearKey() string {
	return ask.ColumnKey("date_year_missing", l.Name, l.page.Grid.Sheet)
}

// inYear reads a date as one of a year; false where it is no such day, or not on its weekday.
func (l *lines) inYear(d dayAt, year int) (record.Day, bool) {
	in := l.in
	in.Year, in.Weekday = year, d.weekday
	when, p := parse.Date(d.cell, in)
	return when.On.First, p == nil && when.On.Exact()
}

// yearsOf settles the years of a run of dates in the order in which they stand. Start is the year in which a title
// says that they begin, 0 where none does.
func (l *lines) yearsOf(seq []dayAt, start int) {
	days := make([]record.Day, len(seq))
	known := make([]bool, len(seq))
	var open []int
	for i, d := range seq {
		in := l.in
		in.Year, in.Weekday = 0, d.weekday
		when, p := parse.Date(d.cell, in)
		switch {
		case p == nil && when.On.Exact():
			days[i], known[i] = when.On.First, true
		case p != nil && p.Class == parse.DateYearMissing:
			open = append(open, i)
		}
	}
	if len(open) == 0 {
		return
	}
	if d, ok := l.inYear(seq[0], start); start != 0 && open[0] == 0 && ok {
		l.years[seq[0].at] = yearFound{start, fmt.Sprintf("year %d from the sheet's name or title", start)}
		days[0], known[0], open = d, true, open[1:]
	}
	if y, from, ok := l.season(); ok {
		l.inSeason(seq, open, y, from)
		return
	}
	sign, ordered := direction(days, known)
	if !ordered {
		l.byWeekday(seq, open)
		return
	}
	for _, i := range open {
		if y, why, ok := l.between(seq, days, known, i, sign); ok {
			l.years[seq[i].at] = yearFound{y, why}
			days[i], known[i] = first3(l.inYear(seq[i], y)), true
		}
	}
}

func first3(d record.Day, _ bool) record.Day { return d }

// direction tells whether known dates rise or fall: 1 or -1, and whether nine in ten steps do so.
func direction(days []record.Day, known []bool) (sign record.Day, ok bool) {
	up, down, n := 0, 0, 0
	last := -1
	for i := range days {
		if !known[i] {
			continue
		}
		n++
		if last >= 0 && days[i] > days[last] {
			up++
		} else if last >= 0 && days[i] < days[last] {
			down++
		}
		last = i
	}
	if down > up {
		return -1, n > 0 && up*10 <= up+down
	}
	return 1, n > 0 && down*10 <= up+down
}

// between finds the one year in which a date stands between its neighbours.
func (l *lines) between(seq []dayAt, days []record.Day, known []bool, i int, sign record.Day) (year int, why string, ok bool) {
	before, after := -1, -1
	for j := i - 1; j >= 0 && before < 0; j-- {
		if known[j] {
			before = j
		}
	}
	for j := i + 1; j < len(seq) && after < 0; j++ {
		if known[j] {
			after = j
		}
	}
	near := before
	if near < 0 {
		near = after
	}
	if near < 0 {
		return 0, "", false
	}
	around, _, _ := days[near].Date()
	var fits []int
	for y := around - 1; y <= around+1; y++ {
		d, ok := l.inYear(seq[i], y)
		if !ok || before >= 0 && sign*d < sign*days[before] || after >= 0 && sign*d > sign*days[after] {
			continue
		}
		if before >= 0 && sign*(d-days[before]) > yearGap || before < 0 && sign*(days[after]-d) > yearGap {
			continue
		}
		fits = append(fits, y)
	}
	if len(fits) != 1 {
		return 0, "", false
	}
	why = fmt.Sprintf("year %d: it stands ", fits[0])
	switch {
	case before >= 0 && after >= 0:
		why += fmt.Sprintf("between %s (%s) and %s (%s)", seq[before].at.Cell(), days[before], seq[after].at.Cell(), days[after])
	case before >= 0:
		why += fmt.Sprintf("next after %s (%s)", seq[before].at.Cell(), days[before])
	default:
		why += fmt.Sprintf("next before %s (%s)", seq[after].at.Cell(), days[after])
	}
	return fits[0], why, true
}

// byWeekday finds the one year, or stretch from July to June, in which all weekdays are right.
func (l *lines) byWeekday(seq []dayAt, open []int) {
	if l.in.Latest == 0 {
		return
	}
	var told []int // with a weekday of their own
	for _, i := range open {
		if _, ok := parse.Weekday(seq[i].weekday); ok || parse.HasWeekday(seq[i].cell.Text) {
			told = append(told, i)
		}
	}
	if len(told) == 0 {
		return
	}
	latest, _, _ := l.in.Latest.Date()
	var fits []int
	for y := latest; y > latest-yearsBack; y-- {
		all := true
		for _, i := range told {
			_, ok := l.inYear(seq[i], y)
			all = all && ok
		}
		if all {
			fits = append(fits, y)
		}
	}
	if len(fits) != 1 {
		return
	}
	for _, i := range open {
		l.years[seq[i].at] = yearFound{fits[0], fmt.Sprintf("year %d: in it the weekdays of the sheet are right, as at %s", fits[0], seq[told[0]].at.Cell())}
	}
}

// season is the pair of years that the sheet's name or a title carries: "Winter 2024-25".
func (l *lines) season() (first int, from string, ok bool) {
	for _, text := range append([]string{l.page.Grid.Sheet, l.t.Title}, l.page.Layout.Titles...) {
		if y, ok := parse.YearPair(text); ok && len(text) <= 100 {
			return y, parse.Shown(text), true
		}
	}
	return 0, "", false
}

// inSeason gives dates from July on the first year of a season, those before it the second.
func (l *lines) inSeason(seq []dayAt, open []int, year int, from string) {
	for _, i := range open {
		for _, y := range []int{year, year + 1} {
			d, ok := l.inYear(seq[i], y)
			if !ok {
				continue
			}
			if _, month, _ := d.Date(); (month >= 7) == (y == year) {
				l.years[seq[i].at] = yearFound{y, fmt.Sprintf("year %d from %q", y, from)}
			}
		}
	}
}

// yearQuestion asks for the year of a sheet's dates: one question for all.
func (l *lines) yearQuestion(q *record.Question, cell parse.Cell, weekday string) {
	q.Key = l.yearKey()
	q.Message = fmt.Sprintf("%s: %q has no year, and no title or date near it gives one; in which year do the dates of this sheet begin?", q.At, parse.Shown(cell.Text))
	latest := 0
	if y, ok := parse.YearPair(strings.TrimSuffix(l.Name, filepath.Ext(l.Name))); ok {
		q.Readings = append(q.Readings, record.Reading{Label: fmt.Sprintf("%d, as the file's name says", y), Value: fmt.Sprint(y)})
	}
	if l.in.Latest != 0 {
		latest, _, _ = l.in.Latest.Date()
	}
	for y := latest; latest != 0 && y > latest-3; y-- {
		in := l.in
		in.Year, in.Weekday = y, weekday
		if _, p := parse.Date(cell, in); p == nil || p.Class == parse.DateDayMissing || p.Class == parse.DateAmbiguous {
			q.Readings = append(q.Readings, record.Reading{Label: fmt.Sprint(y), Value: fmt.Sprint(y)})
		}
	}
}

// beyondTitle doubts the dates of a table that lie two years or more from the year of its title, where two thirds of
// the others lie in that year or the next.
func (l *lines) beyondTitle() {
	year := l.page.Year
	if year == 0 || l.date == nil || l.t.Shape == layout.Wide || l.t.Shape == layout.Diary {
		return
	}
	n, within := 0, 0
	var beyond []int
	days := map[int]record.Day{}
	for _, line := range l.t.Lines {
		if l.v.Blank(line, l.date.Field) {
			continue
		}
		d := l.dated(l.v.Stored(line, l.date.Field), "")
		if d.p != nil && d.p.Holds() || !d.when.On.Exact() {
			continue
		}
		n++
		switch y, _, _ := d.when.On.First.Date(); {
		case y == year || y == year+1:
			within++
		case y >= year+2 || y <= year-2:
			beyond, days[line] = append(beyond, line), d.when.On.First
		}
	}
	if within*3 < n*2 {
		return
	}
	for _, line := range beyond {
		if _, ok := l.suspect[line]; ok {
			continue
		}
		if l.suspect == nil {
			l.suspect = map[int]record.Question{}
		}
		at, day := l.v.Ref(line, l.date.Field), days[line]
		written, _, _ := day.Date()
		meant := day.AddMonths(12 * (year - written))
		l.suspect[line] = record.Question{Class: "date_beyond_title", At: at, Raw: l.v.Cell(line, l.date.Field).Raw, Key: ask.CellKey("date_beyond_title", at),
			Message:  fmt.Sprintf("%s: %s is of %d, but the sheet says %d and its other dates agree; which is right?", at, day, written, year),
			Readings: []record.Reading{{Label: meant.String(), Value: meant.String()}, {Label: "as written", Value: day.String()}}}
	}
}

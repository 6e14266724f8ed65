package parse

import (
	"strconv"
	"strings"
	"time"

	"keelmark/ingest/record"
)

// OrderEvidence is what a column of dates says of its order.
type OrderEvidence struct {
	Order     Order  // "" where nothing proves one, or cells disagree
	Reason    string // one sentence with the text that proves it
	At        int    // index of that cell, -1 where there is none
	Proofs    int    // cells that prove the order by themselves
	Conflicts []int  // cells that prove another order; each is to be asked as DateOrderConflict
	Ambiguous int    // cells of figures that read as two different days
	Rivals    []int  // where cells contradict each other and no order is found: the first cell that proves each
}

// ColumnOrder gathers the order of dates in figures: parts above 12, weekdays (in the text, or in weekdays
// beside it, which may be nil), else the one order in which a long column never runs backwards. Cells that
// prove another order leave it standing only where they are at most one in five. Dates that the file itself
// types say nothing and may be left in.
func ColumnOrder(cells []Cell, weekdays []string) OrderEvidence {
	ev := OrderEvidence{At: -1}
	var proofs = map[Order][]int{}
	var reasons = map[Order]string{}
	var plain []figures
	daysLast := daysStandLast(cells)
	for i, c := range cells {
		if c.Stored != Text {
			continue
		}
		f, weekday, ok := figuresIn(c.Text)
		if !ok || f.digits[0] == 4 || f.n == 2 && (f.digits[1] == 4 || f.v[0] <= 12 && !daysLast) {
			continue
		}
		if weekday == noWeekday && i < len(weekdays) {
			if d, ok := Weekday(weekdays[i]); ok {
				weekday = d
			}
		}
		order, why := f.proof(weekday)
		if order != "" {
			if len(proofs[order]) == 0 {
				reasons[order] = order.words() + ": " + quoted(c.Text) + why
			}
			proofs[order] = append(proofs[order], i)
		} else if f.v[0] != f.v[1] {
			ev.Ambiguous++
		}
		if f.n == 3 {
			plain = append(plain, f)
		}
	}
	if yearsFirst(plain) {
		return OrderEvidence{Order: YMD, At: -1, Reason: YMD.words() + ": over the column the first part hardly changes, and the last one does"}
	}
	most, all := Order(""), 0
	for _, o := range []Order{DMY, MDY, YMD} {
		all += len(proofs[o])
		if len(proofs[o]) > len(proofs[most]) {
			most = o
		}
	}
	if n := len(proofs[most]); n > 0 {
		others := all - n
		if others*5 > n {
			for _, o := range []Order{DMY, MDY, YMD} {
				if len(proofs[o]) > 0 {
					ev.Rivals = append(ev.Rivals, proofs[o][0])
				}
			}
			ev.Reason = "the dates contradict each other: " + reasons[DMY] + "; but " + reasons[MDY]
			if reasons[DMY] == "" || reasons[MDY] == "" {
				ev.Reason = "the dates contradict each other on whether the year comes first"
			}
			return ev
		}
		ev.Order, ev.Reason, ev.At, ev.Proofs = most, reasons[most], proofs[most][0], n
		for _, o := range []Order{DMY, MDY, YMD} {
			if o != most {
				ev.Conflicts = append(ev.Conflicts, proofs[o]...)
			}
		}
		return ev
	}
	ev.Order, ev.Reason = runningOrder(plain)
	return ev
}

// daysStandLast reports whether the last parts of 5/27, 6/3, 6/30 are days: years would not run above and
// below 12 over four values or more.
func daysStandLast(cells []Cell) bool {
	last := map[int]bool{}
	low, high := false, false
	for _, c := range cells {
		if f, ok := scanFigures(Clean(c.Text)); ok && c.Stored == Text && f.n == 2 && f.digits[1] <= 2 {
			if f.v[0] > 12 || f.v[1] > 31 {
				return false
			}
			last[f.v[1]] = true
			low, high = low || f.v[1] <= 12, high || f.v[1] > 12
		}
	}
	return low && high && len(last) >= 4
}

// yearsFirst reports whether dates of two figures each begin with the year: over the
// column the first part takes at most three values, and the last, which would be the year otherwise, seven or
// more.
func yearsFirst(dates []figures) bool {
	first, last := map[int]bool{}, map[int]bool{}
	for _, f := range dates {
		if _, ok := f.reading(YMD, 0); !ok || f.digits[2] != 2 || f.digits[0] != 2 {
			return false
		}
		first[f.v[0]], last[f.v[2]] = true, true
	}
	return len(first) <= 3 && len(last) >= 7
}

// figuresIn finds the figures of a date, alone, after a weekday or before a time of day.
func figuresIn(text string) (figures, time.Weekday, bool) {
	text = Clean(text)
	if f, ok := scanFigures(text); ok {
		return f, noWeekday, true
	}
	if !strings.ContainsAny(text, "/.-") {
		return figures{}, noWeekday, false
	}
	t, ok := scanDate(Fold(text))
	return t.figures, t.weekday, ok && t.figures.n > 0 && t.month == 0 && len(t.nums) == 0
}

// proof says which order the figures prove by themselves, and why.
func (f figures) proof(weekday time.Weekday) (Order, string) {
	_, dmy := f.reading(DMY, 2000)
	_, mdy := f.reading(MDY, 2000)
	switch {
	case f.n == 3 && f.v[0] > 31:
		return YMD, " begins with " + strconv.Itoa(f.v[0]) + ", which can only be a year"
	case dmy && !mdy && f.v[0] > 12:
		return DMY, " has no month " + strconv.Itoa(f.v[0])
	case mdy && !dmy && f.v[1] > 12:
		return MDY, " has no month " + strconv.Itoa(f.v[1])
	case weekday != noWeekday && f.n == 3 && dmy && mdy:
		a, _ := f.reading(DMY, 0)
		b, _ := f.reading(MDY, 0)
		switch {
		case a.Weekday() == weekday && b.Weekday() != weekday:
			return DMY, " is a " + weekday.String() + " only so"
		case b.Weekday() == weekday && a.Weekday() != weekday:
			return MDY, " is a " + weekday.String() + " only so"
		}
	}
	return "", ""
}

// runningOrder finds the one order in which the dates of a column never run backwards, while in the other
// they do so at least twice, over six different dates or more.
func runningOrder(dates []figures) (Order, string) {
	var backwards [2]int
	var different [2]int
	for i, o := range []Order{DMY, MDY} {
		var last record.Day
		for k, f := range dates {
			day, ok := f.reading(o, 0)
			switch {
			case !ok:
				return "", ""
			case k == 0 || day > last:
				different[i]++
			case day < last:
				backwards[i]++
			}
			last = day
		}
	}
	for i, o := range []Order{DMY, MDY} {
		if backwards[i] == 0 && backwards[1-i] >= 2 && different[i] >= 6 {
			return o, o.words() + ": only so do the dates of the column never run backwards"
		}
	}
	return "", ""
}

package parse

import (
	"strings"
	"unicode"

	"keelmark/ingest/record"
)

// cutClock takes a time of day off a date: "14:30", "14:30:05.5", "7.30am", "7 pm", "T14:30Z", "14h30".
func cutClock(s string) (rest, clock string) {
	colon := strings.IndexByte(s, ':')
	var start, end int
	half := ""
	switch {
	case colon > 0:
		start, end = colon, colon+1
		for start > 0 && colon-start < 2 && isDigit(s[start-1]) {
			start--
		}
		for end < len(s) && (isDigit(s[end]) || s[end] == ':' || s[end] == '.' && end+1 < len(s) && isDigit(s[end+1])) {
			end++
		}
		if colon == start || end-colon < 3 {
			return s, ""
		}
		clock = s[start : colon+3]
	case strings.HasSuffix(s, "am") || strings.HasSuffix(s, "pm"):
		end = len(strings.TrimRight(s[:len(s)-2], " "))
		start = end
		for start > 0 && end-start < 5 && (isDigit(s[start-1]) || s[start-1] == '.') {
			start--
		}
		if start == end || start == 0 {
			return s, ""
		}
		clock = strings.ReplaceAll(s[start:end], ".", ":")
	default:
		return s, ""
	}
	tail := strings.TrimLeft(s[end:], " ")
	for _, suffix := range []string{"am", "pm", "a.m.", "p.m.", "z", "uhr", "h"} {
		if strings.HasPrefix(tail, suffix) {
			half, tail = suffix, tail[len(suffix):]
			break
		}
	}
	if len(tail) >= 3 && (tail[0] == '+' || tail[0] == '-') && strings.Trim(tail[1:], "0123456789:") == "" {
		tail = "" // offset from universal time
	}
	if half != "" && (half[0] == 'a' || half[0] == 'p') {
		clock += half[:1] + "m"
	}
	before := strings.TrimRight(s[:start], " ,")
	for _, link := range []string{" at", " um", " a", " om", " kl", " kl."} {
		before = strings.TrimSuffix(before, link)
	}
	if n := len(before); n > 1 && before[n-1] == 't' && isDigit(before[n-2]) {
		before = before[:n-1]
	}
	return strings.TrimSpace(before + " " + tail), clock
}

// dateLike reports whether a text is surely a date: three figures with a year, or a month's name and a number.
func dateLike(text string) bool {
	if f, ok := scanFigures(text); ok && f.n == 3 && f.mark != ' ' {
		_, dmy := f.reading(DMY, 0)
		_, mdy := f.reading(MDY, 0)
		_, ymd := f.reading(YMD, 0)
		return dmy || mdy || ymd
	}
	if strings.IndexFunc(text, unicode.IsLetter) < 0 || len(text) > 30 || digitsOf(text) == "" {
		return false
	}
	t, ok := scanDate(Fold(text))
	return ok && t.month != 0 && len(t.nums) > 0
}

// textDay reads the day of a text that is dateLike; a missing year is taken as 2000 and only day and month
// count. A month with two figures, Apr-13, gives the first of that month.
func textDay(text string) (record.Day, bool) {
	if f, ok := scanFigures(text); ok {
		if day, ok := f.reading(f.orders("")[0], 0); ok {
			return day, true
		}
		return f.reading(MDY, 0)
	}
	t, ok := scanDate(Fold(text))
	if !ok || t.month == 0 || len(t.nums) == 0 {
		return 0, false
	}
	if len(t.nums) == 1 && t.first && !t.nums[0].ordinal {
		return dayOf(fullYear(t.nums[0].v, t.nums[0].digits), int(t.month), 1)
	}
	year := 2000
	if len(t.nums) == 2 {
		year = fullYear(t.nums[1].v, t.nums[1].digits)
	}
	return dayOf(year, int(t.month), t.nums[0].v)
}

package layout

import (
	"strconv"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// look is what one cell could be in a heading.
type look struct {
	means  parse.Meaning // best meaning as a heading; Field "" where none
	date   bool          // a date, month, week or year
	age    bool          // an age
	week   bool          // a week by its number, which may be of an age or of a year
	number bool          // a plain number
	text   bool          // words
}

// known reports whether the cell is surely a heading.
func (l look) known() bool { return l.means.Field != "" && l.means.Confidence >= 0.8 }

// maybe reports whether the cell may be a heading: known, or of several meanings.
func (l look) maybe() bool { return l.means.Field != "" && l.means.Confidence >= 0.6 && !l.date }

// words remembers what each distinct text could be, so that a sheet of a hundred thousand rows asks once.
type words struct {
	seen   map[string]look
	recent [32]recent // by field: the dates of a day stand below each other
}

type recent struct {
	raw  string
	look look
}

func newWords() *words { return &words{seen: make(map[string]look)} }

func (w *words) look(v *View, line, field int) look {
	c := v.Cell(line, field)
	switch c.Kind {
	case sheet.Date:
		return look{date: true}
	case sheet.Number, sheet.Percent:
		return look{number: true}
	case sheet.Bool, sheet.Error:
		return look{}
	}
	r := &w.recent[field%len(w.recent)]
	if r.raw != c.Raw || c.Raw == "" {
		r.raw, r.look = c.Raw, w.text(c.Raw)
	}
	return r.look
}

func (w *words) text(raw string) look {
	if l, ok := w.seen[raw]; ok {
		return l
	}
	l := lookAt(raw)
	if len(w.seen) < 1<<16 {
		w.seen[raw] = l
	}
	return l
}

func lookAt(raw string) look {
	s := strings.TrimSpace(raw)
	if s == "" {
		return look{}
	}
	if len(s) > 120 {
		return look{text: true}
	}
	if _, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64); err == nil || ordinal(s) != s {
		return look{number: true}
	}
	if _, ok := parse.WeekOfMonth(s); ok {
		return look{date: true}
	}
	if m := parse.Heading(s); len(m) > 0 {
		l := look{means: m[0], text: true, week: isWeek(s)}
		if l.week || m[0].Confidence < 0.9 && isDate(s) {
			l.date = true
		}
		if m[0].Field == parse.FieldAge && isAge(s) {
			l.age, l.means = true, parse.Meaning{}
		}
		if l.week {
			l.means = parse.Meaning{}
		}
		return l
	}
	if isDate(s) {
		return look{date: true, week: isWeek(s)}
	}
	if isAge(s) {
		return look{age: true}
	}
	return look{text: true}
}

// isDate reports whether a text is a date, a month, a week or a year, perhaps in doubt about its order.
func isDate(s string) bool {
	_, p := parse.Date(parse.T(s), parse.DateIn{Order: parse.DMY, Year: 2000})
	if p == nil {
		return true
	}
	switch p.Class {
	case parse.DateDayMissing, parse.DateYearMissing, parse.DateOrderConflict, parse.DateInvalid, parse.DateAmbiguous, parse.SeasonAmbiguous:
		return true
	}
	return false
}

// isAge reports whether a text is an age with its unit, such as "8 wks", "wk 8" or "d21".
func isAge(s string) bool {
	if !strings.ContainsAny(s, "0123456789") || len(s) > 1 && (s[0] == 'Y' || s[0] == 'y') && s[1] >= '0' && s[1] <= '9' {
		return false // "Y7" is a ring
	}
	_, p := parse.Age(parse.T(s), "")
	return p == nil || p.Class == parse.Approximate
}

// isWeek reports whether a text is a week by its number alone: "wk 8", "Week 23".
func isWeek(s string) bool {
	word := strings.TrimRight(strings.TrimRight(parse.Fold(s), "0123456789"), " .")
	switch word {
	case "w", "wk", "wks", "week", "weeks", "woche", "kw", "sem", "semaine", "semana":
		return len(word) < len(strings.TrimSpace(s))
	}
	return false
}

// isYear reports whether a number could be a calendar year.
func isYear(raw string) bool {
	n, err := strconv.Atoi(strings.TrimSpace(raw))
	return err == nil && n >= 1950 && n <= 2099
}

// rising reads the numbers of cells as one strictly rising run of whole numbers, such as weeks or ages.
func rising(v *View, line int, fields []int) bool {
	last := -1
	for _, f := range fields {
		n, err := strconv.Atoi(ordinal(strings.TrimSpace(v.Cell(line, f).Raw)))
		if err != nil || n <= last || n > 2000 {
			return false
		}
		last = n
	}
	return len(fields) >= 2
}

// risingRuns is rising where tables stand side by side: the numbers begin again at a gap.
func risingRuns(v *View, line int, fields []int) bool {
	from := 0
	for i := 1; i < len(fields); i++ {
		if fields[i] == fields[i-1]+1 {
			continue
		}
		if !rising(v, line, fields[from:i]) {
			return false
		}
		from = i
	}
	return from < len(fields) && rising(v, line, fields[from:])
}

// ordinal is the number of a day such as "4th", and any other text as it is.
func ordinal(s string) string {
	if len(s) < 3 || len(s) > 4 || s[0] < '0' || s[0] > '9' {
		return s
	}
	switch n := strings.ToLower(s[len(s)-2:]); n {
	case "st", "nd", "rd", "th":
		if day, err := strconv.Atoi(s[:len(s)-2]); err == nil && day <= 31 {
			return s[:len(s)-2]
		}
	}
	return s
}

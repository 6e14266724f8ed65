package parse

import (
	"math"
	"strconv"
	"strings"
	"unicode"

	"keelmark/ingest/record"
)

// ageUnits are the spellings of days, weeks, months and years, folded.
var ageUnits = spellings(map[string]string{
	"d": "d|day|days|dy|dys|tag|tage|jour|jours|dag|dagen|dage|dia|dias|giorni|dni",
	"w": "w|wk|wks|week|weeks|wo|woche|wochen|semaine|semaines|sem|weken|semana|semanas|uger|veckor|tydni|settimane",
	"m": "m|mo|mos|mth|mths|mon|month|months|monat|monate|mois|maand|maanden|mes|meses|mesi|mies",
	"y": "y|yr|yrs|year|years|jahr|jahre|an|ans|jaar|ano|anos|anni|ar",
})

// ageDays are the days in a unit; a month and a year are means over the Gregorian cycle of 400 years.
var ageDays = map[string]float64{"d": 1, "w": 7, "m": 30.436875, "y": 365.2425}

// Age reads an age such as "12 wks", "d21", "8 weeks 3 days"; unit ("d" or "w") is for bare numbers. Months
// and years are Approximate, told: they count 30.436875 and 365.2425 days.
func Age(c Cell, unit string) (record.Age, *Problem) {
	folded := Fold(c.Text)
	if p := unread(c, folded, "an age"); p != nil {
		return record.Age{}, p
	}
	if Missing(folded) {
		return record.Age{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " holds no age"}
	}
	unreadable := &Problem{Class: AgeUnreadable, Readings: leaveEmpty(),
		Message: quoted(c.Text) + " is not an age that can be read; write it as 12 wk or 84 d"}
	if c.Stored != Text && c.Stored != Number {
		return record.Age{}, unreadable
	}
	days, rough, used := 0.0, false, 0
	before := "" // a unit that stands before its number: "wk 12"
	for s := folded; ; {
		s = strings.TrimLeft(s, " ,.&+")
		if s == "" {
			break
		}
		n, rest, _, ok := scanAmount(s, false)
		if !ok {
			w := strings.IndexFunc(s, func(r rune) bool { return !unicode.IsLetter(r) })
			if w < 0 {
				w = len(s)
			}
			word := s[:w]
			switch {
			case w == 0:
				return record.Age{}, unreadable
			case word == "old", word == "alt", word == "age", word == "aged", word == "and", word == "und", word == "of", word == "und":
			case ageUnits[word] != "" && before == "" && used == 0:
				before = ageUnits[word]
			default:
				return record.Age{}, unreadable
			}
			s = s[w:]
			continue
		}
		in := before
		before = ""
		t := strings.TrimLeft(rest, " .")
		w := 0
		for w < len(t) && t[w] >= 'a' && t[w] <= 'z' {
			w++
		}
		if after := ageUnits[t[:w]]; after != "" && in == "" {
			in, rest = after, t[w:]
		}
		if in == "" && used == 0 && strings.TrimSpace(rest) == "" {
			in = unit
		}
		if ageDays[in] == 0 || used == 3 {
			return record.Age{}, unreadable
		}
		days += n.value * ageDays[in]
		rough = rough || in == "m" || in == "y"
		used++
		s = rest
	}
	const oldest = 25 * 366 // days; older than any fowl
	switch {
	case used == 0 || days > oldest:
		return record.Age{}, unreadable
	case rough:
		return record.AgeDays(int(math.Round(days))), &Problem{Class: Approximate, Action: Tell,
			Message: quoted(c.Text) + " is read as about " + figure(math.Round(days), 0) + " days"}
	}
	return record.AgeDays(int(math.Round(days))), nil
}

// YearIn finds the one year (1950 to 2099) in a sheet's name or title: "2023", "weigh book 2024", "Summer '23".
func YearIn(text string) (int, bool) {
	s := Clean(text)
	found := 0
	for i := 0; i < len(s); {
		if !isDigit(s[i]) {
			i++
			continue
		}
		end := i
		for end < len(s) && isDigit(s[end]) {
			end++
		}
		v := 0
		for _, d := range []byte(s[i:min(end, i+4)]) {
			v = v*10 + int(d-'0')
		}
		short := end-i == 2 && i > 0 && s[i-1] == '\''
		pair := end-i == 2 && found != 0 && (s[i-1] == '/' || s[i-1] == '-') // 2023/24
		switch {
		case pair:
			return 0, false
		case short:
			v = fullYear(v, 2)
		case end-i != 4 || v < firstYear || v > lastYear:
			i = end
			continue
		}
		if found != 0 && found != v {
			return 0, false
		}
		found, i = v, end
	}
	return found, found != 0
}

// YearPair finds the first of two years that follow each other in a sheet's name or title: "Winter 2024-25", "2024/2025".
func YearPair(text string) (int, bool) {
	m := yearPair().FindStringSubmatch(Clean(text))
	if m == nil {
		return 0, false
	}
	first, _ := strconv.Atoi(m[1])
	second, _ := strconv.Atoi(m[2])
	if len(m[2]) == 2 {
		second += first / 100 * 100
	}
	return first, second == first+1
}

var yearPair = later(`(?:^|[^0-9])((?:19|20)[0-9]{2}) ?(?:-|/|to|_) ?([0-9]{4}|[0-9]{2})(?:$|[^0-9])`)

package parse

import (
	"strconv"
	"strings"
)

// numeral is one number as written, with the second reading that a single mark before three digits allows:
// "1.085" is 1.085 or 1085.
type numeral struct {
	text      string
	value     float64
	thousands float64 // the other reading, where twofold
	twofold   bool
	whole     bool   // no decimals
	fraction  string // digits after the decimal mark, as written
	mark      byte   // decimal mark, or the mark of the twofold reading; 0 none
}

// scanNumeral reads an unsigned number at the start of s and returns the rest. A space may part thousands
// ("1 575") only where spaces is true.
func scanNumeral(s string, spaces bool) (n numeral, rest string, ok bool) {
	i := 0
	for i < len(s) {
		c := s[i]
		if isDigit(c) {
			i++
			continue
		}
		inside := i > 0 && i+1 < len(s) && isDigit(s[i+1])
		leading := i == 0 && (c == '.' || c == ',') && i+1 < len(s) && isDigit(s[i+1])
		if !leading && !(inside && (c == '.' || c == ',' || c == '\'' && threeDigits(s[i+1:]) || c == ' ' && spaces && threeDigits(s[i+1:]) && shortGroup(s[:i]))) {
			break
		}
		i++
	}
	if i == 0 || i > 24 {
		return numeral{}, s, false
	}
	n, ok = readNumeral(s[:i])
	return n, s[i:], ok
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func threeDigits(s string) bool {
	return len(s) >= 3 && isDigit(s[0]) && isDigit(s[1]) && isDigit(s[2]) && (len(s) == 3 || !isDigit(s[3]))
}

// shortGroup reports whether s ends with a group of one to three digits.
func shortGroup(s string) bool {
	n := 0
	for n < len(s) && isDigit(s[len(s)-1-n]) {
		n++
	}
	return n >= 1 && n <= 3
}

func readNumeral(s string) (numeral, bool) {
	first := strings.IndexAny(s, "., '")
	if first < 0 {
		v, err := strconv.ParseFloat(s, 64)
		return numeral{text: s, value: v, whole: true}, err == nil
	}
	last := strings.LastIndexAny(s, "., '")
	n := numeral{text: s}
	mark := s[last]
	after := s[last+1:]
	var err error
	switch {
	case first == last && (mark == '.' || mark == ','):
		n.mark, n.fraction = mark, after
		if n.value, err = strconv.ParseFloat(s[:last]+"."+after, 64); err != nil {
			return numeral{}, false
		}
		if len(after) == 3 && last >= 1 && last <= 3 && s[0] != '0' {
			n.twofold = true
			n.thousands, err = strconv.ParseFloat(s[:last]+after, 64)
		}
		return n, err == nil
	case strings.Count(s, string(mark)) == 1 && (mark == '.' || mark == ',') && grouped(s[:last]):
		n.mark, n.fraction = mark, after // 1.234,5
		n.value, err = strconv.ParseFloat(digitsOf(s[:last])+"."+after, 64)
		return n, err == nil
	case grouped(s):
		n.whole = true // 1.234.567, 1 575, 1'575
		n.value, err = strconv.ParseFloat(digitsOf(s), 64)
		return n, err == nil
	}
	return numeral{}, false
}

// grouped reports whether one kind of mark parts s into groups of three digits after the first.
func grouped(s string) bool {
	i := strings.IndexAny(s, "., '")
	if i < 1 || i > 3 {
		return false
	}
	mark := s[i : i+1]
	for _, g := range strings.Split(s[i+1:], mark) {
		if len(g) != 3 || digitsOf(g) != g {
			return false
		}
	}
	return true
}

func digitsOf(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}

// plainNumeral reads the common cell, digits with at most two decimals after a point, without further work.
func plainNumeral(s string) (numeral, bool) {
	if len(s) == 0 || len(s) > 12 || !isDigit(s[0]) {
		return numeral{}, false
	}
	point := -1
	for i := 1; i < len(s); i++ {
		switch {
		case isDigit(s[i]):
		case s[i] == '.' && point < 0:
			point = i
		default:
			return numeral{}, false
		}
	}
	if point == len(s)-1 || point >= 0 && len(s)-point > 3 {
		return numeral{}, false
	}
	return readNumeral(s)
}

// exponent reads a number that a program wrote with a power of ten: R writes 100 as 1e+02. It returns the
// number in full, with the step that tells of it.
func exponent(text string) (n numeral, step string, ok bool) {
	mantissa, power, found := strings.Cut(strings.ToLower(text), "e")
	if !found || len(text) > 16 || mantissa == "" || !isDigit(mantissa[0]) || strings.Trim(mantissa, "0123456789.") != "" {
		return numeral{}, "", false
	}
	figures := strings.TrimLeft(power, "+-")
	if len(power)-len(figures) > 1 || len(figures) == 0 || len(figures) > 2 || digitsOf(figures) != figures {
		return numeral{}, "", false
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return numeral{}, "", false
	}
	full := figure(v, 6)
	if n, ok = readNumeral(full); !ok {
		return numeral{}, "", false
	}
	n.twofold = false
	return n, quoted(text) + " is " + full + " in full", true
}

// vulgar are the fractions that fonts hold as one sign.
var vulgar = map[rune]float64{'½': 1. / 2, '¼': 1. / 4, '¾': 3. / 4, '⅓': 1. / 3, '⅔': 2. / 3, '⅛': 1. / 8, '⅜': 3. / 8, '⅝': 5. / 8, '⅞': 7. / 8}

// DecimalMark looks through the texts of a file for the mark before decimals. It returns "," or "." with the
// index of the cell that proves it, or "" and -1 where nothing or both prove it. Only texts count; numbers
// stored as numbers have no mark of their own.
func DecimalMark(cells []Cell) (mark string, at int) {
	found := [2]int{-1, -1} // first cell that proves a point, a comma
	for i, c := range cells {
		if c.Stored != Text {
			continue
		}
		// "2.4" or "2,4kg", nothing after but letters, so that no date or list of birds is counted
		n, rest, ok := scanNumeral(Clean(c.Text), false)
		if !ok || n.mark == 0 || n.twofold || strings.ContainsAny(rest, ".,/-:0123456789") {
			continue
		}
		if which := strings.IndexByte(".,", n.mark); found[which] < 0 {
			found[which] = i
		}
	}
	switch {
	case found[0] >= 0 && found[1] < 0:
		return ".", found[0]
	case found[1] >= 0 && found[0] < 0:
		return ",", found[1]
	}
	return "", -1
}

// GroupMark looks through a column of weights in a known unit for the mark that parts its thousands: all its
// cells with a mark are twofold ("1.250"), three at least, no weight of a bird as decimals and one as thousands.
// It returns "." or ",", or "" where nothing shows it.
func GroupMark(unit string, cells []Cell) string {
	n, mark := 0, byte(0)
	per := unitGrams[unit]
	for _, c := range cells {
		if c.Stored != Text {
			continue
		}
		num, rest, ok := scanNumeral(Clean(c.Text), false)
		if !ok || num.mark == 0 || strings.TrimSpace(rest) != "" {
			continue
		}
		if !num.twofold || plausible(num.value*per) || !plausible(num.thousands*per) || mark != 0 && mark != num.mark {
			return ""
		}
		mark = num.mark
		n++
	}
	if n < 3 {
		return ""
	}
	return string(mark)
}

// figure writes a number for people: no exponent, at most places decimals, none that say nothing.
func figure(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

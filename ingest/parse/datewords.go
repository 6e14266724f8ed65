package parse

import (
	"strings"
	"time"
)

// monthNames are the months of the languages of Date, folded: whole, declined and short.
var monthNames = numbered(
	`jan|january|januar|janvier|janv|janeiro|januari|enero|ene|gennaio|gen|styczen|stycznia|sty|leden|ledna|janner`,
	`feb|february|februar|fevrier|fevr|fev|februari|febrero|febbraio|fevereiro|luty|lutego|lut|unor|unora|feber|febr`,
	`mar|march|marz|mrz|mars|maart|mrt|marzo|marco|marzec|marca|marts|brezen|brezna`,
	`apr|april|avril|avr|abril|abr|aprile|kwiecien|kwietnia|kwi|duben|dubna`,
	`may|mai|mei|mayo|maggio|mag|maio|maj|maja|kveten|kvetna`,
	`jun|june|juni|juin|junio|giugno|giu|junho|czerwiec|czerwca|cze|cerven|cervna`,
	`jul|july|juli|juillet|juil|julio|luglio|lug|julho|lipiec|lipca|lip|cervenec|cervence`,
	`aug|august|aout|augustus|agosto|ago|sierpien|sierpnia|sie|augusti|srpen|srpna`,
	`sep|sept|september|septembre|septiembre|settembre|set|setembro|wrzesien|wrzesnia|wrz|zari`,
	`oct|october|oktober|okt|octobre|octubre|ottobre|ott|outubro|out|pazdziernik|pazdziernika|paz|rijen|rijna`,
	`nov|november|novembre|noviembre|novembro|listopad|listopada|listopadu|lis`,
	`dec|december|dezember|dez|decembre|diciembre|dic|dicembre|dezembro|grudzien|grudnia|gru|des|desember|prosinec|prosince`,
)

// romanMonths are written between day and year in parts of Europe: 4.VI.2024.
var romanMonths = numbered("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii")

// weekdayNames begin with Sunday, as package time does. Short forms that are months or ordinals elsewhere
// (Spanish and French mar, Czech st) are in monthNames or left out.
var weekdayNames = numbered(
	`sun|sunday|sonntag|so|dimanche|dim|zondag|zo|domingo|dom|domenica|niedziela|ndz|sondag|son|nedele`,
	`mon|monday|montag|mo|lundi|lun|maandag|ma|lunes|lunedi|segunda|segunda-feira|seg|poniedzialek|pon|mandag|man|pondeli`,
	`tue|tues|tuesday|dienstag|di|mardi|dinsdag|martes|martedi|terca|terca-feira|ter|wtorek|tirsdag|tir|tisdag|tis|utery`,
	`wed|weds|wednesday|mittwoch|mi|mercredi|mer|woensdag|wo|miercoles|mie|mercoledi|quarta|quarta-feira|qua|sroda|onsdag|ons|streda`,
	`thu|thur|thurs|thursday|donnerstag|do|jeudi|jeu|donderdag|jueves|jue|giovedi|gio|quinta|quinta-feira|qui|czwartek|czw|torsdag|tor|tors|ctvrtek`,
	`fri|friday|freitag|fr|vendredi|ven|vrijdag|vr|viernes|vie|venerdi|sexta|sexta-feira|sex|piatek|fredag|fre|patek`,
	`sat|saturday|samstag|sonnabend|sa|samedi|sam|zaterdag|za|sabado|sab|sabato|sobota|sob|lordag|lor`,
)

// seasonNames in the order winter, spring, summer, autumn.
var seasonNames = numbered(
	`winter|hiver|invierno|inverno|zima|vinter`,
	`spring|fruhling|fruhjahr|printemps|lente|voorjaar|primavera|wiosna|forar|var|jaro`,
	`summer|sommer|ete|zomer|verano|estate|verao|lato|sommar|leto`,
	`autumn|fall|herbst|automne|herfst|najaar|otono|autunno|outono|jesien|efterar|host|podzim`,
)

// partNames say which part of a month: first, middle, last.
var partNames = numbered(
	`early|beginning|begin|start|anfang|debut|inicio|inizio|poczatek|zacatek`,
	`mid|middle|mitte|mi|midden|half|mediados|meta|polowa`,
	`late|end|ende|fin|eind|einde|fine|fim|finales|koniec|konec`,
)

var (
	fillerWords   = words("of|the|de|del|den|der|le|el|am|on|at|um|in|a|dnia|do|dne|about|year|jahr")
	ordinalWords  = words("st|nd|rd|th|er|e|o|ste|de|re|ere|eme|º|ª|°|:a|:e")
	weekFromWords = split("w/c|wc|w.c.|w.c|w/b|wb|week commencing|week beginning|week starting|week of|week from|wk commencing|wk beginning|wk of|wk starting|commencing|woche vom|woche ab|semaine du|week van|semana del")
	weekToWords   = split("w/e|week ending|wk ending|week to|woche bis")
	weekNoWords   = split("week no.|week no|week|wk no|wk.|wk|kw|woche|semaine|sem|uge|vecka|semana|tydzien|tyden")
)

// numbered makes a table of word lists into word -> number, counting from 1.
func numbered(lists ...string) map[string]int {
	out := make(map[string]int)
	for i, list := range lists {
		for _, w := range split(list) {
			out[w] = i + 1
		}
	}
	return out
}

// month reads the name of a month; a long name may have one letter wrong ("Febuary").
func month(word string) (time.Month, bool) {
	if m := monthNames[word]; m > 0 {
		return time.Month(m), true
	}
	if len(word) < 6 {
		return 0, false
	}
	found := 0
	for name, m := range monthNames {
		if len(name) > 5 && m != found && distance(name, word, 1) <= 1 {
			if found != 0 {
				return 0, false // fits two months
			}
			found = m
		}
	}
	return time.Month(found), found != 0
}

// Weekday reads the name of a weekday, whole or short, in the languages of Date.
func Weekday(text string) (time.Weekday, bool) {
	w := strings.Trim(Fold(text), " .,")
	if w == "mar" { // mardi, martes, martedì; no month stands in a column of weekdays
		return time.Tuesday, true
	}
	d := weekdayNames[w]
	return time.Weekday(d - 1), d > 0
}

// Clock reports whether a text is a time of day or a part of the day: "7.30", "18:00", "7 am", "PM", "evening".
func Clock(text string) bool {
	folded := strings.Trim(Fold(text), " .")
	switch folded {
	case "am", "pm", "a.m", "p.m", "morning", "evening", "afternoon", "noon", "midday", "night", "morgens", "mittags", "abends", "matin", "soir", "midi", "manana", "tarde", "noche", "ochtend", "avond", "fed", "empty", "before feed", "after feed":
		return true
	}
	for _, half := range []string{"am", "pm", "h", "uhr"} {
		if rest, ok := strings.CutSuffix(folded, half); ok {
			folded = strings.TrimSpace(rest)
			if digitsOf(folded) == folded && folded != "" && len(folded) <= 2 {
				return true
			}
		}
	}
	hours, minutes, ok := strings.Cut(folded, ":")
	if !ok {
		hours, minutes, ok = strings.Cut(folded, ".")
	}
	return ok && len(hours) >= 1 && len(hours) <= 2 && len(minutes) >= 2 && len(minutes) <= 5 && digitsOf(hours) == hours && hours <= "9" && minutes[:2] <= "59" && digitsOf(minutes[:2]) == minutes[:2]
}

// distance is the number of letters to insert, drop, change or swap with the next, up to limit+1.
func distance(a, b string, limit int) int {
	if a == b {
		return 0
	}
	if len(a)-len(b) > limit || len(b)-len(a) > limit {
		return limit + 1
	}
	before, prev, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(prev[j]+1, row[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, prev, row = prev, row, before
	}
	return min(prev[len(b)], limit+1)
}

// HasWeekday reports whether a word of a text is a weekday.
func HasWeekday(text string) bool {
	for _, w := range strings.FieldsFunc(Fold(text), func(r rune) bool { return strings.ContainsRune(" ,.:;-/()", r) }) {
		if weekdayNames[w] > 0 {
			return true
		}
	}
	return false
}

// NoName reports whether a text that stands where a bird's name could is a date, or has one in it: "Sat 8 November",
// "1 Nov". April, May and June alone are names too.
func NoName(text string) bool {
	list := strings.FieldsFunc(Fold(text), func(r rune) bool { return strings.ContainsRune(" ,.:;-/()", r) })
	months, numbers := 0, 0
	for _, w := range list {
		switch {
		case weekdayNames[w] > 0 && len(w) >= 3:
			return true
		case monthNames[w] > 0 && len(w) >= 3:
			months++
		case strings.Trim(w, "0123456789") == "" || ordinalWords[strings.TrimLeft(w, "0123456789")] && isDigit(w[0]):
			numbers++
		}
	}
	if months == 0 {
		return false
	}
	return numbers > 0 || len(list) == 1 && list[0] != "april" && list[0] != "may" && list[0] != "june" && list[0] != "august"
}

// SameMonth reports whether a text is the name of a month, whole or short, in any of the languages of Date.
func SameMonth(text, name string) bool {
	m := monthNames[strings.Trim(Fold(text), " .:")]
	return m > 0 && m == monthNames[name]
}

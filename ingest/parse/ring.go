package parse

import (
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// Band is a ring as written.
type Band struct {
	Text   string // as written, leading zeros kept, trimmed; a number stored as a number without decimals
	Key    string // RingKey
	Colour string // colour word found in it, in English: "red"
}

// Ring reads a ring. It may be any text; a Problem is a number that lost its digits (1.23E+11), a date that a
// ring was turned into, an error. An empty or missing ring is MissingMarker, skipped.
func Ring(c Cell) (Band, *Problem) {
	text := Name(c.Text)
	folded := Fold(text)
	switch {
	case c.Stored == Error || isErrorText(folded) || c.Formula && folded == "":
		return Band{}, unread(c, folded, "a ring")
	case Missing(folded):
		return Band{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " holds no ring"}
	case isUnknown(folded):
		return Band{}, &Problem{Class: UnknownValue, Readings: leaveEmpty(), Message: quoted(c.Text) + " says that the ring is not known; write it or leave the cell empty"}
	case c.Stored == Dated:
		return Band{}, dateInRing(c)
	case c.Stored == Bool || c.Stored == Percent:
		return Band{}, &Problem{Class: RingUnreadable, Readings: leaveEmpty(), Message: quoted(c.Text) + " is not a ring as it was written; type the ring into a cell formatted as text"}
	case lostDigits(folded, c.Stored):
		return Band{}, &Problem{Class: RingUnreadable, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " is a long ring that a spreadsheet turned into a number, and its digits are lost; type the ring again into a cell formatted as text"}
	}
	if c.Stored == Number {
		if v, err := strconv.ParseFloat(text, 64); err == nil && v == float64(int64(v)) {
			text = figure(v, 0)
		}
	}
	band := Band{Text: text, Key: RingKey(text)}
	if band.Key == "" {
		band.Key = NameKey(text)
	}
	letters := strings.FieldsFunc(folded, func(r rune) bool { return r < 'a' || r > 'z' })
	for _, w := range letters {
		if colour := Colour(w); colour != "" {
			band.Colour = colour
			break
		}
	}
	return band, nil
}

// lostDigits finds 1.23E+11, and numbers of more than the 15 digits that a spreadsheet keeps.
func lostDigits(folded string, stored Stored) bool {
	mantissa, exponent, ok := strings.Cut(folded, "e+")
	if ok && exponent != "" && digitsOf(exponent) == exponent && strings.Trim(mantissa, "0123456789.,") == "" && mantissa != "" {
		return true
	}
	return stored == Number && len(digitsOf(folded)) > 15
}

// dateInRing offers the two numbers that a spreadsheet turned into a date.
func dateInRing(c Cell) *Problem {
	p := &Problem{Class: DateInRing, Message: quoted(c.Text) + " is a date where a ring stands: a spreadsheet makes dates of texts such as 12-5; type the ring into a cell formatted as text"}
	if day, ok := storedDay(c, From1900); ok {
		_, m, d := day.Date()
		p.Message = strings.Replace(p.Message, quoted(c.Text), quoted(day.String()), 1)
		for _, text := range []string{strconv.Itoa(d) + "-" + strconv.Itoa(int(m)), strconv.Itoa(int(m)) + "-" + strconv.Itoa(d)} {
			p.Readings = append(p.Readings, record.Reading{Label: text, Value: text})
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

// RingKey is equal for rings that are surely the same text: case, width, spaces, hyphens and points do not
// count, except between two digits. R12, r-12 and "R 12" are equal; R12 and red12 are not.
func RingKey(text string) string {
	var b strings.Builder
	var last rune
	gap := false
	for _, r := range Fold(text) {
		if strings.ContainsRune(" -._/\\,:;#'\"()", r) {
			gap = true
			continue
		}
		if gap && last >= '0' && last <= '9' && r >= '0' && r <= '9' {
			b.WriteByte('-')
		}
		b.WriteRune(r)
		last, gap = r, false
	}
	return b.String()
}

var ringWords = words("ring|rings|no|nr|num|number|band|leg|tag|bird|nummer|bague|anillo|#")

// RingKin is equal for rings that may be the same and are worth a question: also without any mark between
// figures, without leading zeros, colour words as their initial (red12 and R12), and, after a figure, O as 0
// and I or l as 1.
func RingKin(text string) string {
	var b strings.Builder
	s := Fold(text)
	for s != "" {
		n := 1
		switch {
		case isDigit(s[0]):
			for n < len(s) && (isDigit(s[n]) || strings.IndexByte("oli", s[n]) >= 0 && (n+1 == len(s) || !isLower(s[n+1]))) {
				n++
			}
			figures := strings.TrimLeft(strings.NewReplacer("o", "0", "l", "1", "i", "1").Replace(s[:n]), "0")
			if figures == "" {
				figures = "0"
			}
			b.WriteString(figures)
		case isLower(s[0]):
			for n < len(s) && isLower(s[n]) {
				n++
			}
			switch word := s[:n]; {
			case Colour(word) != "":
				b.WriteByte(Colour(word)[0])
			case !ringWords[word]:
				b.WriteString(word)
			}
		case s[0] >= 0x80:
			b.WriteByte(s[0])
		}
		s = s[n:]
	}
	return b.String()
}

func isLower(c byte) bool { return c >= 'a' && c <= 'z' }

var colours = spellings(map[string]string{
	"red": "red|rot|rouge|rood|rojo|roja|rosso|rod", "blue": "blue|blau|bleu|blauw|azul|blu|bla",
	"green": "green|grun|gruen|vert|verte|groen|verde|gron", "yellow": "yellow|gelb|jaune|geel|amarillo|amarilla|giallo|gul|yel",
	"white": "white|weiss|blanc|blanche|wit|blanco|blanca|bianco|hvid|vit|wht", "black": "black|schwarz|noir|noire|zwart|negro|negra|nero|sort|svart|blk",
	"orange": "orange|oranje|naranja|arancione", "purple": "purple|lila|paars|morado|morada|viola", "violet": "violet|violett",
	"pink": "pink|rosa|rose|roze", "brown": "brown|braun|brun|brune|bruin|marron", "grey": "grey|gray|grau|gris|grijs|grigio|gra",
	"silver": "silver|silber|argent|zilver|plata", "gold": "gold|golden|or|goud|oro",
})

// Colour reads a ring colour and returns it in English, "" where it is none.
func Colour(text string) string { return colours[strings.Trim(Fold(text), " .")] }

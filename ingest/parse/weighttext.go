package parse

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"keelmark/ingest/record"
)

// quantity is a weight as written, before anything is decided: "abt 2lb 4½ oz wet?".
type quantity struct {
	lead   string // words before the number that are no qualifier
	first  numeral
	vulgar bool    // first ends in a fraction such as ½
	unit   string  // "" bare; PoundOz for two numbers of which one has a unit of pounds
	second float64 // ounces or grams after the first
	two    bool    // second is written
	paired bool    // two bare numbers: 5-4, 2/4, 2 4
	form   record.Form
	most   bool // form is LessThan, the limit itself included
	approx bool
	doubt  bool
	note   string
	glued  bool // the note begins right after the number
}

// weightUnits are the spellings. A metric pound (500 g) is not the avoirdupois pound; it is asked.
var weightUnits = spellings(map[string]string{
	Grams:  "g|gm|gms|gr|grs|grm|gram|grams|gramm|gramme|grammes|grams|gramo|gramos|grammi|grama|gramas|gramow|gramu|gramm",
	Kilos:  "kg|kgs|kilo|kilos|kilogram|kilograms|kilogramm|kilogramme|kilogrammes|kilogramo|kilogramos|k|quilo|quilos|kilogrammi",
	Pounds: "lb|lbs|pound|pounds|#", Ounces: "oz|ozs|ounce|ounces|onza|onzas",
	dekagrams: "dag|dkg|deka|dekagramm|dekagram|dekagramow", metricPound: "pfund|pfd|pond|livre|livres|libra|libras",
})

const metricPound = "metric pound"

func spellings(table map[string]string) map[string]string {
	out := make(map[string]string)
	for unit, list := range table {
		for _, w := range split(list) {
			out[w] = unit
		}
	}
	return out
}

// qualifiers stand before a number, with what they make of it.
var qualifiers = spellings(map[string]string{
	"about": "~|c|ca|circa|abt|about|approx|approximately|around|roughly|say|est|estimated|nearly|almost|~=|+/-|env|environ|etwa|ungefahr|rund|ongeveer|aprox|circa",
	"more":  ">|over|more than|above|just over|uber|mehr als|plus de|meer dan|mas de",
	"less":  "<|under|less than|below|just under|unter|weniger als|moins de|minder dan|menos de",
	"most":  "<=|≤|up to|max|bis zu|jusqu'a|hasta",
	"least": "≥|>=|at least|min|mindestens|au moins|minstens",
	"label": "wt|weight|wgt|bw|w|body weight|gewicht|poids|peso|=",
})

// scanQuantity takes a cleaned text apart. It returns false where the text has no number.
func scanQuantity(text string, spaces bool) (q quantity, ok bool) {
	s := q.scanLead(text)
	first, s, vulgar, ok := scanAmount(s, spaces)
	if !ok {
		return quantity{}, false
	}
	q.first, q.vulgar = first, vulgar
	unit, rest := scanUnit(s)
	switch unit {
	case "":
		s = q.scanPair(s)
	case Pounds, Kilos:
		s = q.scanSecond(unit, rest)
	default:
		q.unit, s = unit, rest
	}
	q.scanTail(s)
	return q, true
}

// scanLead reads qualifiers, and sets other words aside, up to the first digit or fraction.
func (q *quantity) scanLead(s string) string {
	for s != "" {
		s = strings.TrimLeft(s, " :'") // spreadsheets mark a text with an apostrophe
		start := strings.IndexFunc(s, func(r rune) bool { return r < 0x80 && isDigit(byte(r)) || vulgar[r] != 0 })
		if start <= 0 || start == 1 && (s[0] == '.' || s[0] == ',') {
			return s
		}
		word := strings.TrimSpace(s[:start])
		n := len(s[:start])
		for word != "" && qualifiers[strings.TrimRight(Fold(word), ".")] == "" {
			if n = strings.LastIndexByte(word, ' '); n < 0 {
				break
			}
			word = strings.TrimSpace(word[:n])
		}
		switch qualifiers[strings.TrimRight(Fold(word), ".")] {
		case "about":
			q.approx = true
		case "more":
			q.form = record.MoreThan
		case "less", "most":
			q.form, q.most = record.LessThan, qualifiers[strings.TrimRight(Fold(word), ".")] == "most"
		case "least":
			q.form = record.AtLeast
		case "label":
		default:
			q.lead = strings.TrimSpace(s[:start])
			return s[start:]
		}
		s = s[n:]
	}
	return s
}

// scanAmount reads a number with its fraction: 2, 2.4, 2½, "2 1/2", ½.
func scanAmount(s string, spaces bool) (n numeral, rest string, isVulgar, ok bool) {
	n, rest, ok = scanNumeral(s, spaces)
	if !ok {
		n, rest = numeral{whole: true}, s
	}
	after := strings.TrimPrefix(rest, " ")
	r, size := utf8.DecodeRuneInString(after)
	if v := vulgar[r]; v != 0 && (n.whole || !ok) {
		n.value, n.whole = n.value+v, false
		n.text += string(r)
		return n, after[size:], true, true
	}
	if v, tail, found := slashFraction(after); found && ok && n.whole && after != rest {
		n.value, n.whole = n.value+v, false
		return n, tail, true, true
	}
	if v, tail, found := slashFraction(s); found {
		if unit, _ := scanUnit(tail); unit != "" { // "3/4 lb"; without a unit it is a pair
			return numeral{text: s[:len(s)-len(tail)], value: v}, tail, true, true
		}
	}
	return n, rest, false, ok
}

// slashFraction reads 1/2, 1/4, 3/4, 1/8 ... at the start of s.
func slashFraction(s string) (v float64, rest string, ok bool) {
	if len(s) < 3 || !isDigit(s[0]) || s[1] != '/' || !isDigit(s[2]) || len(s) > 3 && isDigit(s[3]) {
		return 0, s, false
	}
	top, bottom := float64(s[0]-'0'), float64(s[2]-'0')
	if top == 0 || top >= bottom || bottom != 2 && bottom != 3 && bottom != 4 && bottom != 8 {
		return 0, s, false
	}
	return top / bottom, s[3:], true
}

// scanUnit reads a unit of weight at the start of s, "" where there is none.
func scanUnit(s string) (unit, rest string) {
	t := strings.TrimLeft(s, " ")
	n := 0
	for n < len(t) && (t[n]|0x20 >= 'a' && t[n]|0x20 <= 'z' || t[n] == '#') {
		if n++; t[n-1] == '#' {
			break
		}
	}
	unit = weightUnits[strings.ToLower(t[:n])]
	if unit == "" {
		return "", s
	}
	return unit, strings.TrimPrefix(t[n:], ".")
}

// scanPair reads a second bare number: 5-4, 2/4, 2:4, 2 4.
func (q *quantity) scanPair(s string) string {
	t := strings.TrimLeft(s, " ")
	if t != "" && strings.IndexByte("-/:'", t[0]) >= 0 {
		t = strings.TrimLeft(t[1:], " ")
	} else if t == s {
		return s
	}
	second, rest, _, ok := scanAmount(t, false)
	if !ok || !q.first.whole {
		return s
	}
	q.second, q.two, q.paired = second.value, true, true
	if unit, after := scanUnit(rest); unit == Ounces && q.second < 16 {
		q.unit, q.paired = PoundOz, false // "2 - 4oz"
		return after
	} else if unit != "" {
		q.unit = unit // "850-860 g"
		return after
	}
	return rest
}

// scanSecond reads ounces after pounds and grams after kilograms.
func (q *quantity) scanSecond(unit, s string) string {
	q.unit = unit
	t := strings.TrimLeft(s, " ,-&+/.")
	for _, and := range []string{"and ", "und ", "et "} {
		t = strings.TrimPrefix(t, and)
	}
	second, rest, isVulgar, ok := scanAmount(t, false)
	if !ok {
		return s
	}
	written, after := scanUnit(rest)
	switch {
	case unit == Pounds && written == Ounces:
		rest = after
	case unit == Pounds && written == "" && (!isVulgar || isDigit(second.text[0])) && !strings.HasPrefix(rest, "/"):
	case unit == Kilos && written == Grams && second.whole:
		rest = after
	case unit == Kilos && written == "" && second.whole && len(second.text) == 3:
	default:
		return s
	}
	q.second, q.two = second.value, true
	if unit == Pounds {
		q.unit = PoundOz
	}
	return rest
}

// scanTail reads what stands after the number.
func (q *quantity) scanTail(s string) {
	q.glued = s != "" && unicode.IsLetter([]rune(s)[0])
	if rest, ok := strings.CutPrefix(s, "+"); ok && q.form == record.Measured && strings.Trim(rest, " ?") == "" {
		q.form, s = record.AtLeast, rest
	}
	q.doubt = strings.Contains(s, "?")
	note := strings.Trim(strings.ReplaceAll(s, "?", ""), " ,;:-.")
	if strings.HasPrefix(note, "(") && strings.HasSuffix(note, ")") {
		note = strings.TrimSpace(note[1 : len(note)-1])
	}
	switch Fold(note) {
	case "ish", "approx", "approx.", "about", "est", "est.", "estimate", "ca", "c", "roughly", "circa":
		q.approx, note, q.glued = true, "", false
	}
	q.note = note
}

// textWeight reads a weight from a text that is neither empty nor a marker.
func textWeight(c Cell, text string, in WeightIn) (Mass, *Problem) {
	q, ok := scanQuantity(text, in.Unit != PoundOz)
	if dateLike(text) {
		return Mass{}, dateInWeight(c, in)
	}
	if !ok {
		return Mass{}, &Problem{Class: NoteInNumber, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " is a note in a column of weights; move it to a column of notes, or write the weight"}
	}
	if q.lead == "-" && text[0] == '-' {
		return bareWeight(c, q.first, in, true)
	}
	if strings.ContainsFunc(q.note, func(r rune) bool { return r >= '0' && r <= '9' || vulgar[r] != 0 }) {
		return Mass{}, twoNumbers(c, in)
	}
	m, p := q.weigh(c, in)
	if p != nil {
		return Mass{}, p
	}
	return q.marked(c, m)
}

// weigh turns the number and its unit into grams.
func (q quantity) weigh(c Cell, in WeightIn) (Mass, *Problem) {
	switch {
	case q.glued && q.unit == "" && utf8.RuneCountInString(q.note) <= 2:
		return Mass{}, &Problem{Class: UnitUnknown, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " ends in no unit of weight that is known; write g, kg, lb or oz"}
	case q.unit == metricPound:
		p := &Problem{Class: UnitUnknown, Message: quoted(c.Text) + " may be metric pounds of 500 g or pounds of 453.6 g; write the weight in grams"}
		for _, g := range []float64{q.first.value * 500, q.first.value * gramsPerPound} {
			p.Readings = append(p.Readings, Mass{Grams: g}.reading())
		}
		return Mass{}, p
	case q.paired && q.unit == "":
		return q.pair(c, in)
	case q.paired:
		return Mass{}, twoNumbers(c, in)
	case q.unit == PoundOz:
		return q.poundsAndOunces(c, in)
	case q.unit == Kilos && q.two:
		return inRange(c, Mass{Grams: q.first.value*1000 + q.second, Unit: Kilos}, q.first, in)
	case q.unit == Pounds && q.vulgar, q.unit == "" && q.vulgar && in.Unit == Pounds:
		return inUnit(c, q.first, Pounds, in)
	case q.unit == "" && q.vulgar && in.Unit == PoundOz:
		return Mass{}, loneNumber(c, q.first)
	case q.unit != "" && q.first.value > 0:
		if q.unit != in.Unit && q.unit != Pounds {
			in.Point = PointUnknown
		}
		if q.unit == Pounds && in.Unit != Pounds && in.Point == PointOunces {
			in.Point = PointUnknown // the cell writes a unit that the column does not have
		}
		in.Unit = q.unit
	}
	return bareWeight(c, q.first, in, false)
}

// pair reads two bare numbers, which are pounds and ounces only where the column says so.
func (q quantity) pair(c Cell, in WeightIn) (Mass, *Problem) {
	switch {
	case in.Unit == PoundOz:
		return q.poundsAndOunces(c, in)
	case in.Unit == Pounds || in.Unit == "":
		if _, ok := poundsOunces(q.first.value, q.second); ok && q.second < 16 {
			p := &Problem{Class: UnitUnknown, Readings: []record.Reading{poundOunceReading(q.first.value, q.second, PoundOz)},
				Message: quoted(c.Text) + " may be " + poundOunceText(q.first.value, q.second) + ", but nothing says that the column holds pounds and ounces; confirm, or write lb and oz"}
			if in.Unit == Pounds {
				p.Class, p.Readings[0].Value = PoundsAmbiguous, poundOunceText(q.first.value, q.second)
			}
			p.Readings = append(p.Readings, leaveEmpty()...)
			return Mass{}, p
		}
	}
	return Mass{}, twoNumbers(c, in)
}

// twoNumbers offers each number that could be the weight alone; a small one behind a stroke is rather a score.
func twoNumbers(c Cell, in WeightIn) *Problem {
	p := &Problem{Class: WeightAmbiguous, Message: quoted(c.Text) + " holds more than one number; write the one weight"}
	parts := strings.FieldsFunc(Clean(c.Text), func(r rune) bool { return strings.ContainsRune("/ ;", r) })
	for i, part := range parts {
		n, ok := plainNumeral(part)
		if len(parts) != 2 || !ok && !strings.ContainsAny(part, "0123456789") {
			continue
		}
		var m Mass
		var q *Problem
		if ok {
			m, q = bareWeight(T(part), n, in, false)
		} else {
			m, q = Weight(T(part), in)
		}
		if q != nil || m.Form != record.Measured {
			continue
		}
		r := m.reading()
		if score, ok := plainNumeral(parts[1-i]); ok && i == 0 && score.value <= 10 && score.value*2 == float64(int(score.value*2)) && strings.Contains(c.Text, "/") {
			r.Label += ", and " + parts[1] + " is a score"
		}
		p.Readings = append(p.Readings, r)
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

func (q quantity) poundsAndOunces(c Cell, in WeightIn) (Mass, *Problem) {
	lb, oz := q.first.value, q.second
	switch {
	case !q.first.whole:
		return Mass{}, twoNumbers(c, in)
	case oz >= 16:
		total := lb*16 + oz
		p := &Problem{Class: OuncesTooMany, Message: quoted(c.Text) + " has " + figure(oz, 3) + " oz, and 16 oz make a pound; correct the number"}
		if g, ok := poundsOunces(0, total); ok && oz < 32 {
			text := poundOunceText(lb+1, oz-16)
			p.Readings = append(p.Readings, record.Reading{Label: text + inGrams(PoundOz, g) + ", all ounces counted", Value: text})
		}
		p.Readings = append(p.Readings, leaveEmpty()...)
		return Mass{}, p
	}
	g, _ := poundsOunces(lb, oz)
	if g == 0 {
		return bareWeight(c, numeral{}, in, false)
	}
	return inRange(c, Mass{Grams: g, Unit: PoundOz}, numeral{value: lb, whole: true}, in)
}

// marked adds what stands beside the number: a form, a note, a doubt.
func (q quantity) marked(c Cell, m Mass) (Mass, *Problem) {
	m.Note, m.Approx = q.note, q.approx
	switch {
	case q.lead != "":
		return Mass{}, &Problem{Class: NoteWithNumber, Readings: []record.Reading{m.reading(), leaveEmpty()[0]},
			Message: quoted(c.Text) + " has words before its number; confirm " + gramText(m.Grams) + " and move the words to a column of notes"}
	case q.doubt, withTare(q.note):
		class := Doubtful
		if q.note != "" {
			class = NoteWithNumber
		}
		return Mass{}, &Problem{Class: class, Readings: []record.Reading{m.reading(), leaveEmpty()[0]},
			Message: quoted(c.Text) + " leaves a doubt; confirm " + gramText(m.Grams) + " or leave the cell empty"}
	}
	switch q.form {
	case record.MoreThan, record.AtLeast:
		m.Form, m.Lo, m.Grams = q.form, m.Grams, 0
		return m, nil
	case record.LessThan:
		m.Form, m.Hi, m.Grams = q.form, m.Grams, 0
		return m, nil
	}
	switch {
	case q.note != "":
		return m, &Problem{Class: NoteWithNumber, Action: Tell,
			Message: quoted(c.Text) + " is read as " + gramText(m.Grams) + " with the note " + quoted(q.note) + "; confirm, or move the note to a column of its own"}
	case q.approx:
		return m, &Problem{Class: Approximate, Action: Tell,
			Message: quoted(c.Text) + " is read as about " + gramText(m.Grams) + "; confirm, or leave the cell empty"}
	}
	return m, nil
}

// tareWords in a note say that the weight is not the bird's alone.
var tareWords = words("with|incl|including|inc|box|crate|cage|basket|bag|bucket|carrier|tare|gross|mit|avec|met|korb|kiste|panier|mand")

func withTare(note string) bool {
	for w := range strings.FieldsFuncSeq(Fold(note), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if tareWords[w] {
			return true
		}
	}
	return false
}

func firstWord(s string) string {
	w, _, _ := strings.Cut(Fold(s), " ")
	return strings.Trim(w, ".,:;()")
}

package parse

import (
	"sort"
	"strings"
	"sync"

	"keelmark/ingest/record"
)

// Field is what a column holds.
type Field string

// The fields.
const (
	FieldDate       Field = "date"
	FieldWeekday    Field = "weekday"
	FieldSession    Field = "session" // time of day
	FieldAge        Field = "age"
	FieldBird       Field = "bird" // ring or name, the cells decide
	FieldRing       Field = "ring"
	FieldRingColour Field = "ring_colour"
	FieldName       Field = "name"
	FieldHatched    Field = "hatched"
	FieldSex        Field = "sex"
	FieldClass      Field = "class"
	FieldBreed      Field = "breed"
	FieldVariety    Field = "variety"
	FieldSize       Field = "size"
	FieldLine       Field = "line"
	FieldPen        Field = "pen"
	FieldFlock      Field = "flock"
	FieldWeight     Field = "weight"
	FieldPoundPart  Field = "weight_lb" // the pounds of a weight kept in two columns
	FieldOuncePart  Field = "weight_oz" // the ounces of a weight kept in two columns
	FieldUnit       Field = "unit"      // a column of units
	FieldCondition  Field = "condition"
	FieldFeather    Field = "feather"
	FieldLeg        Field = "leg"
	FieldComb       Field = "comb"
	FieldParasite   Field = "parasite"
	FieldWormEggs   Field = "worm_eggs"
	FieldMoult      Field = "moult"
	FieldTreatment  Field = "treatment" // product
	FieldDose       Field = "dose"
	FieldAgainst    Field = "against"
	FieldWithdrawal Field = "withdrawal"
	FieldBy         Field = "by"
	FieldScorer     Field = "scorer"
	FieldEggCount   Field = "egg_count"
	FieldSetting    Field = "setting" // its label
	FieldEggsSet    Field = "eggs_set"
	FieldClear      Field = "eggs_clear"
	FieldFertile    Field = "eggs_fertile"
	FieldDeadEarly  Field = "eggs_dead_early"
	FieldDeadShell  Field = "eggs_dead_in_shell"
	FieldHatchedNo  Field = "eggs_hatched"
	FieldStored     Field = "eggs_stored_days"
	FieldMale       Field = "male"
	FieldHen        Field = "hen"
	FieldShow       Field = "show"
	FieldResult     Field = "result"
	FieldShowNote   Field = "show_note" // judge, entries or points of a showing
	FieldOut        Field = "out"       // date on which, or how, the bird left
	FieldReason     Field = "reason"    // why: of leaving or of treating
	FieldMoved      Field = "moved_to"  // pen that the bird was moved to
	FieldCameFrom   Field = "came_from" // breeder or place
	FieldRingLeg    Field = "ring_leg"  // on which leg the ring is: L, R
	FieldNote       Field = "note"
	FieldDerived    Field = "derived" // gain, percent hatched: computed from other cells
	FieldTotal      Field = "total"   // label of a row or column of sums, means, counts
)

// Fields lists all fields, in the order above: what flock.toml may call a column.
func Fields() []Field {
	return []Field{FieldDate, FieldWeekday, FieldSession, FieldAge, FieldBird, FieldRing, FieldRingColour, FieldName, FieldHatched, FieldSex, FieldClass,
		FieldBreed, FieldVariety, FieldSize, FieldLine, FieldPen, FieldFlock, FieldWeight, FieldPoundPart, FieldOuncePart, FieldUnit, FieldCondition,
		FieldFeather, FieldLeg, FieldComb, FieldParasite, FieldWormEggs, FieldMoult, FieldTreatment, FieldDose, FieldAgainst, FieldWithdrawal, FieldBy,
		FieldScorer, FieldEggCount, FieldSetting, FieldEggsSet, FieldClear, FieldFertile, FieldDeadEarly, FieldDeadShell, FieldHatchedNo, FieldStored,
		FieldMale, FieldHen, FieldShow, FieldResult, FieldShowNote, FieldOut, FieldReason, FieldMoved, FieldCameFrom, FieldRingLeg, FieldNote, FieldDerived, FieldTotal}
}

// Meaning is one thing that a heading may mean.
type Meaning struct {
	Field    Field
	Unit     string       // for weights and ages, as WeightIn.Unit and Age write it
	Point    Point        // "lb.oz" settles it
	Scale    record.Scale // where stated
	Parasite string
	YesNo    bool   // "Lice y/n"
	Rest     string // what else the heading says, folded: "vent", "2024", "perch count"
	// Confidence is 1 for a known heading, less a tenth for each other word (0.6 at least), and 0.6 or less
	// for a heading that has several meanings, one letter, or a spelling that is only near.
	Confidence float64
}

// headingIndex is the table of headings, by phrase.
var headingIndex = sync.OnceValue(func() map[string][]Meaning {
	index := make(map[string][]Meaning)
	for _, row := range headings {
		for _, phrase := range split(row.phrases) {
			key := strings.Join(headingWords(phrase), " ")
			if key == "" {
				key = phrase
			}
			m := Meaning{Field: row.field, Parasite: row.parasite, Confidence: row.confidence}
			if n := len(index[key]); n == 0 || index[key][n-1].Field != row.field { // "wt" and "wt." are one
				index[key] = append(index[key], m)
			}
		}
	}
	return index
})

// Heading returns what a heading may mean, surest first, nil where nothing fits. English, and the common
// German, French, Dutch and Spanish words; case, accents, plural and punctuation do not count.
func Heading(text string) []Meaning {
	folded := strings.Trim(Fold(text), " :;,")
	if folded == "" || len(folded) > 80 {
		return nil
	}
	index := headingIndex()
	if found := index[folded]; found != nil && strings.Join(headingWords(folded), " ") != folded { // signs and all: "m/f", "#", "w/c"
		return found[:len(found):len(found)]
	}
	var base Meaning
	base.Scale, folded, _ = cutScale(folded)
	base.YesNo, folded = cutYesNo(folded)
	var units []string
	base.Unit, base.Point, units = unitIn(folded, true)
	list := headingWords(folded)
	start, end, found := longestPhrase(list, index)
	if n := len(list); found == nil && n > 0 { // "wt1": a heading and its number
		if word := strings.TrimRight(list[n-1], "0123456789"); len(word) > 1 && word != list[n-1] && index[word] != nil {
			list = append(append([]string(nil), list[:n-1]...), word, list[n-1][len(word):])
			start, end, found = longestPhrase(list, index)
		}
	}
	if found == nil {
		start, end, found = nearPhrase(list, index)
	}
	if found == nil && base.Unit != "" && len(list) == len(units) {
		return unitAlone(base)
	}
	var out []Meaning
	for _, m := range found {
		var rest []string
		for i, w := range list {
			if (i < start || i >= end) && !smallWords[w] && !(m.Field == FieldWeight && has(units, w)) && !(m.Field == FieldAge && ageUnits[w] != "") {
				rest = append(rest, w)
			}
		}
		m.Scale, m.YesNo, m.Rest = base.Scale, base.YesNo, strings.Join(rest, " ")
		if m.Field == FieldFlock && m.Rest != "" {
			continue // "Flock G" is a title
		}
		switch m.Field {
		case FieldWeight:
			m.Unit, m.Point = base.Unit, base.Point
			switch weightOf(rest) {
			case notWeighed:
				m = Meaning{Field: FieldDerived, Rest: m.Rest, Confidence: m.Confidence}
			case notOfBird:
				continue
			}
			if base.Unit == Pounds && decimalWords(list) {
				m.Point, m.Rest = PointDecimal, ""
			}
		case FieldAge:
			for _, w := range list {
				if unit := ageUnits[w]; unit != "" && unit != "y" {
					m.Unit = unit
				}
			}
		}
		m.Confidence *= max(0.6, 1-0.1*float64(len(rest)))
		out = append(out, m)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Confidence > out[j].Confidence })
	return out
}

// What a heading of weights may be of besides the bird on the day of its row.
const (
	ofBird     = iota
	notWeighed // a standard, a target, an earlier weight copied
	notOfBird  // an egg, feed, a crate
)

// weightOf tells from the other words of a heading what its weights are of.
func weightOf(rest []string) int {
	for _, w := range rest {
		switch w {
		case "std", "standard", "target", "ideal", "expected", "goal", "aim", "should", "last", "previous", "prev", "prior", "breed", "norm", "av", "avg", "average", "mean", "total", "tot", "soll", "sollgewicht", "cible", "streef":
			return notWeighed
		case "egg", "eggs", "feed", "food", "water", "cage", "crate", "box", "tare", "carrier", "sack", "bag", "ei", "oeuf", "futter":
			return notOfBird
		}
	}
	return ofBird
}

// NotOfBird reports whether a heading says that what stands under it is an egg's, feed's or crate's weight and no bird's.
func NotOfBird(heading string) bool { return weightOf(headingWords(Fold(heading))) != ofBird }

// decimalWords reports whether a heading says that the pounds are written with decimals.
func decimalWords(list []string) bool {
	for _, w := range list {
		switch w {
		case "decimal", "decimals", "dec", "tenths", "hundredths", "dezimal":
			return true
		}
	}
	return false
}

// WeekHeading reports whether a heading of dates says that they are the days on which weeks begin: "w/c".
func WeekHeading(text string) bool {
	folded := strings.Trim(Fold(text), " :.")
	for _, w := range []string{"week commencing", "week beginning", "week starting", "week start", "week of", "week", "w/c", "w/b", "wc", "woche ab", "semaine du", "semana del", "week van"} {
		if folded == w || strings.HasPrefix(folded, w+" ") || strings.HasSuffix(folded, "("+w+")") {
			return true
		}
	}
	return false
}

// DayHeading reports whether a heading may stand over bare days of a month.
func DayHeading(text string) bool {
	switch strings.Trim(Fold(text), " :.") {
	case "day", "days", "date", "tag", "jour", "dag", "dia":
		return true
	}
	return false
}

var smallWords = words("in|of|the|and|a|is|are|on|with|per|und|et|y|en|mit")

// unitAlone is a heading that is only a unit.
func unitAlone(m Meaning) []Meaning {
	m.Field, m.Confidence = FieldWeight, 0.7
	out := []Meaning{m}
	part := Meaning{Confidence: 0.6}
	switch m.Unit {
	case Grams:
		out[0].Confidence = 0.6
	case Pounds:
		part.Field = FieldPoundPart
		out = append(out, part)
	case Ounces:
		part.Field = FieldOuncePart
		out = append(out, part)
	}
	return out
}

// headingWords takes a folded heading apart into words and numbers.
func headingWords(folded string) []string {
	return strings.FieldsFunc(strings.ReplaceAll(folded, "'", ""), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r > 0x7F && r != '–' && r != '°') && r != '%' && r != '#'
	})
}

// longestPhrase finds the longest run of words that the table knows: the surest of equals, then the first.
func longestPhrase(list []string, index map[string][]Meaning) (start, end int, found []Meaning) {
	for n := min(4, len(list)); n > 0 && found == nil; n-- {
		for i := 0; i+n <= len(list); i++ {
			phrase := strings.Join(list[i:i+n], " ")
			m := index[phrase]
			if m != nil && len(phrase) == 1 && len(list) > 1 {
				continue
			}
			if m == nil && len(phrase) > 3 {
				m = index[strings.TrimSuffix(phrase, "s")]
			}
			if m != nil && (found == nil || surest(m) > surest(found)) {
				start, end, found = i, i+n, m
			}
		}
	}
	return start, end, found
}

func surest(all []Meaning) float64 {
	best := 0.0
	for _, m := range all {
		best = max(best, m.Confidence)
	}
	return best
}

// nearPhrase finds the one word that is a misspelt heading: one letter off from five letters up, two from nine.
func nearPhrase(list []string, index map[string][]Meaning) (start, end int, found []Meaning) {
	for i, w := range list {
		if len(w) < 5 || foreignWords[w] { // a price is no prize
			continue
		}
		limit, best := 1, ""
		if len(w) >= 9 {
			limit = 2
		}
		nearest := limit + 1
		for phrase := range index {
			d := distance(phrase, w, limit)
			if len(phrase) >= 5 && (d < nearest || d == nearest && d <= limit && phrase < best) {
				nearest, best = d, phrase
			}
		}
		if nearest > limit {
			continue
		}
		for _, m := range index[best] {
			m.Confidence = min(m.Confidence, 0.6)
			found = append(found, m)
		}
		return i, i + 1, found
	}
	return 0, 0, nil
}

// cutYesNo takes "y/n" and a closing question mark off a folded heading.
func cutYesNo(folded string) (bool, string) {
	for _, mark := range []string{"(y/n)", "y/n", "yes/no", "(j/n)", "j/n", "ja/nein", "(o/n)", "oui/non", "si/no", "ja/nee"} {
		if rest, ok := strings.CutSuffix(folded, mark); ok && rest != "" {
			return true, strings.TrimRight(rest, " (")
		}
	}
	rest, ok := strings.CutSuffix(folded, "?")
	return ok && rest != "", rest
}

// UnitIn finds the unit of weight that a heading, title or units cell states: "Weight (kg)", "All weights in
// grams". "" where none or more than one is stated.
func UnitIn(text string) string {
	unit, _, _ := unitIn(Fold(text), false)
	return unit
}

// unitIn also returns what the point means and the words that name the unit. Units of one letter count
// in headings, alone, in brackets, or after "in".
func unitIn(folded string, heading bool) (unit string, point Point, named []string) {
	list := headingWords(folded)
	for i, w := range list {
		u := weightUnits[w]
		if w == "k" || w == "#" || u == metricPound || u == "" {
			continue
		}
		if len(w) == 1 && !heading && len(list) > 1 { // "Flock G" is no gram
			bracketed := strings.Contains(folded, "("+w+")") || strings.Contains(folded, "["+w+"]")
			if !bracketed && !(i > 0 && (list[i-1] == "in" || isWeightWord(list[i-1]))) {
				continue
			}
		}
		named = append(named, w)
		switch {
		case unit == "" || unit == u:
			unit = u
		case unit == Pounds && u == Ounces:
			unit = PoundOz
			if strings.Contains(folded, list[i-1]+"."+w) {
				point = PointOunces
			}
		case unit == PoundOz && (u == Pounds || u == Ounces):
		default:
			return "", PointUnknown, named
		}
	}
	return unit, point, named
}

func isWeightWord(w string) bool {
	for _, m := range headingIndex()[w] {
		if m.Field == FieldWeight {
			return true
		}
	}
	return false
}

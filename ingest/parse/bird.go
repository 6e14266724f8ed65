package parse

import (
	"strings"
	"unicode"

	"keelmark/ingest/record"
)

// sexWords tell sex and, in the trade's words, age class. The figures are the trade's count of males and
// females, 1.0 a male and 0.1 a female. Common practice, no source.
var sexWords = []struct {
	sex   record.Sex
	class record.Class
	words map[string]bool
}{
	{record.Male, record.Cock, words("cock|rooster|cock bird|hahn|coq|haan|gallo|kogut|kohout|hane|tupp")},
	{record.Male, record.Cockerel, words("cockerel|ckl|ckrl|ckrel|ckerel|k|stag|junghahn|coquelet|haantje|jonge haan|pollo")},
	{record.Male, "", words("m|male|males|c|roo|boy|b|♂|1.0|1,0|1.0.0|mannlich|mannchen|mann|macho|maschio|maennlich|mannetje|mannelijk|samec|han|cock/cockerel")},
	{record.Female, record.Hen, words("hen|hen bird|henne|poule|gallina|kura|kurka|hons|hona|hone|slepice")},
	{record.Female, record.Pullet, words("pullet|plt|pul|pult|p|junghenne|poulette|jonge hen|polla|pollita|hennetje")},
	{record.Female, "", words("f|female|females|h|girl|♀|0.1|0,1|0.1.0|w|weiblich|weibchen|femelle|hembra|femmina|vrouw|vrouwelijk|vrouwtje|samice|hen/pullet")},
}

// Sex reads a sex, and the age class where the word says it: cockerel, pullet, M, ♀, "1.0", Hahn, poule.
// "c" is a cock or a cockerel: male without a class. Not knowing is UnknownValue, skipped.
func Sex(c Cell) (record.Sex, record.Class, *Problem) {
	folded := strings.Trim(Fold(c.Text), " .!()")
	if Missing(folded) || isUnknown(folded) || folded == "unsexed" || folded == "u" || folded == "straight run" || folded == "0.0.1" {
		return "", "", &Problem{Class: UnknownValue, Action: Skip, Message: quoted(c.Text) + " says that the sex is not known"}
	}
	for _, text := range []string{folded, firstWord(folded)} {
		for _, s := range sexWords {
			if s.words[text] && !strings.Contains(folded, "?") {
				return s.sex, s.class, nil
			}
		}
	}
	return "", "", &Problem{Class: SexUnknown, Message: quoted(c.Text) + " is no sex that is known; write M or F",
		Readings: []record.Reading{{Label: "male", Value: "M"}, {Label: "female", Value: "F"}, leaveEmpty()[0]}}
}

var (
	bantamWords = words("bantam|bantams|bant|bants|btm|btms|bntm|bm|miniature|mini|dwarf|zwerg|naine|nain|kriel|krielen|krielkip|enano|enana|nana|nano|dvarg|zdrobnela")
	largeWords  = words("lf|large fowl|large|l/f|std|standard|big|gross|grosse|grand|grande|groot|grote")
)

// Size finds the size class in a cell or a breed name: LF, bantam, "Wyandotte Bantam", Zwerg-Wyandotte. ""
// where none is written, or both.
func Size(text string) record.Size {
	folded := Fold(text)
	switch folded {
	case "b", "true bantam", "tb":
		return record.Bantam
	case "l":
		return record.Large
	}
	bantam := strings.HasPrefix(folded, "zwerg")
	large := largeWords[folded]
	for w := range strings.FieldsFuncSeq(folded, func(r rune) bool { return !unicode.IsLetter(r) }) {
		bantam = bantam || bantamWords[w]
		large = large || w == "lf"
	}
	large = large || strings.Contains(folded, "large fowl")
	switch {
	case bantam == large:
		return ""
	case bantam:
		return record.Bantam
	}
	return record.Large
}

var (
	yesWords  = words("y|yes|true|t|1|present|pos|positive|+ve|seen|found|done|ja|j|oui|o|si|s|sim|tak|ano|live|ok yes")
	noWords   = words("n|no|false|f|0|absent|neg|negative|-ve|not seen|nein|non|nee|nao|nie|nej|nei|ne|none|nil")
	tickWords = words("✓|✔|☑|√")
	exWords   = words("✗|✘|☒|❌")
)

// YesNo reads yes or no in the languages of Date, ticks and booleans. A cross is a Problem unless cross says
// what it means ("yes" or "no", from CrossMeaning).
func YesNo(c Cell, cross string) (bool, *Problem) {
	folded := strings.Trim(Fold(c.Text), " .!")
	if p := unread(c, folded, "yes or no"); p != nil {
		return false, p
	}
	switch {
	case yesWords[folded], tickWords[folded]:
		return true, nil
	case noWords[folded]:
		return false, nil
	case Missing(folded):
		return false, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " says neither yes nor no"}
	case folded == "x" || exWords[folded]:
		if cross == "yes" || cross == "no" {
			return cross == "yes", nil
		}
		return false, crossAmbiguous(c)
	}
	return false, &Problem{Class: UnknownValue, Readings: yesOrNo(), Message: quoted(c.Text) + " is neither yes nor no; write yes or no"}
}

func crossAmbiguous(c Cell) *Problem {
	return &Problem{Class: CrossAmbiguous, Readings: yesOrNo(), Message: quoted(c.Text) + " may mean yes, no, or looked at; say what it means in this column"}
}

func yesOrNo() []record.Reading {
	return []record.Reading{{Label: "yes", Value: "yes"}, {Label: "no", Value: "no"}, leaveEmpty()[0]}
}

// YesNoColumn reports whether all cells of a column say yes or no, and at least one says yes: "no" is then the
// other answer and not a word for how many.
func YesNoColumn(cells []Cell) bool {
	yes, ticks, no := 0, 0, 0
	for _, c := range cells {
		switch folded := strings.Trim(Fold(c.Text), " .!"); {
		case c.Stored == Bool:
			yes++
		case c.Stored == Number, folded == "0", folded == "1":
			return false
		case yesWords[folded]:
			yes++
		case tickWords[folded]: // without a "no" beside it, a tick may say that someone looked
			ticks++
		case noWords[folded]:
			no++
		case exWords[folded], Missing(folded), isUnknown(folded), folded == "x":
		default:
			return false
		}
	}
	return yes > 0 || ticks > 0 && no > 0
}

// CrossMeaning tells from a column what its "x" means: "no" beside ticks or "yes", "yes" beside "no" or
// blanks alone, "" where the column has no cross, both of them or other texts.
func CrossMeaning(cells []Cell) string {
	var crosses, ticks, yes, no, other int
	for _, c := range cells {
		switch folded := strings.Trim(Fold(c.Text), " .!"); {
		case folded == "":
		case folded == "x":
			crosses++
		case yesWords[folded]:
			yes++
		case tickWords[folded]:
			ticks++
		case noWords[folded], exWords[folded]:
			no++
		case !Missing(folded) && !isUnknown(folded):
			other++
		}
	}
	switch {
	case crosses == 0 || yes > 0 && no > 0 || ticks > 0 && yes == 0: // a cross beside ticks alone: not found, or not looked
		return ""
	case yes > 0:
		return "no"
	case no > 0 || other == 0:
		return "yes"
	}
	return ""
}

// Side reports whether a text says on which leg a ring is: L, right, links.
func Side(text string) bool {
	switch strings.Trim(Fold(text), " .()") {
	case "l", "r", "left", "right", "lh", "rh", "l/h", "r/h", "both", "left leg", "right leg", "links", "rechts", "gauche", "droite", "izquierda", "derecha":
		return true
	}
	return false
}

// Amount reports whether a text is a weight with its unit and nothing else, "6lb" or "2780 g": no bird is called so.
func Amount(text string) bool {
	m, p := Weight(T(text), WeightIn{})
	if p != nil && p.Class != UnitSlip && p.Class != WeightTiny && p.Class != WeightEnormous && p.Class != OuncesTooMany && p.Class != Approximate {
		return false
	}
	q, ok := scanQuantity(Clean(text), false)
	return ok && q.note == "" && (m.Unit != "" || q.unit != "")
}

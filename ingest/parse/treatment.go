package parse

import (
	"strings"

	"keelmark/ingest/record"
)

// Dosing is a treatment as one text tells it.
type Dosing struct {
	record.Treatment              // Product is the text without dose, complaint and withdrawal, as typed; nothing is looked up
	Scope            record.Scope // WholePen or WholeFlock where the text says so, "" otherwise
	Pen              string       // as typed, for WholePen
}

var (
	dosePattern = later(`(?i)(?:\b(?:\d+(?:[.,/]\d+)?|a|one|two|three|half)[ ]?|[½¼¾] ?)(?:x ?\d+ ?)?(?:ml|mls|cc|mg|mcg|g|iu|drops?|pinch(?:es)?|puffs?|squirts?|sprays?|tsp|tbsp|teaspoons?|tablespoons?|tablets?|tabs?|capsules?|caps|doses?|scoops?|handfuls?|tropfen|prise|gouttes?|druppels?|gotas?)\b(?:[ ]?(?:/|per|a|each|pro|par)[ ]?(?:kg|bird|l|litre|liter|day|gal|gallon|pint|tag|jour|dag|dia))*`)

	withdrawalPattern = later(`(?i)\b(?:withdrawal|withdraw|withhold(?:ing)?|whp|w/?d|egg withdrawal|wartezeit|delai d'attente|wachttijd)\b[ ]?(?:period)?[ :=]*(.*)$`)

	againstPattern = later(`(?i)(?:^|[ ,;])(?:for|against|vs\.?|gegen|wegen|contre|pour|tegen|contra|para)[ ]+([^,;.]+)`)

	withPattern = later(`(?i)^.*?\b(?:with|using|mit|avec|met|con)[ ]+(\S.*)$`)

	noTreatment = words("no|none|nil|not treated|untreated|nothing|no treatment|0|keine|aucun|geen|ninguno|ningun|unbehandelt|false|n|nein|non|nee")
	yesTreated  = words("y|yes|x|true|1|treated|done|ja|oui|si|ok|behandelt|traite|behandeld|tratado|✓|✔")
)

// Treatment reads a cell of a treatment column: "permethrin dust, 1 pinch, for lice". It returns false for
// missing markers and for texts that say no treatment was given. A mere yes or tick is a treatment without a
// product.
func Treatment(text string) (Dosing, bool) {
	typed := Name(text)
	folded := strings.Trim(Fold(typed), " .!")
	if Missing(folded) || noTreatment[folded] || isUnknown(folded) || isErrorText(folded) {
		return Dosing{}, false
	}
	var d Dosing
	if yesTreated[folded] {
		return d, true
	}
	rest := typed
	if at := withdrawalPattern().FindStringSubmatchIndex(rest); at != nil {
		d.Withdrawal = strings.Trim(rest[at[2]:at[3]], " ,;.()")
		rest = rest[:at[0]]
	}
	if at := againstPattern().FindStringSubmatchIndex(rest); at != nil && !isDuration(rest[at[2]:at[3]]) && !isForm(rest[at[2]:at[3]]) {
		d.Against = strings.TrimSpace(rest[at[2]:at[3]])
		rest = rest[:at[0]] + rest[at[1]:]
	}
	if at := dosePattern().FindStringIndex(rest); at != nil {
		d.Dose = strings.TrimSpace(rest[at[0]:at[1]])
		rest = rest[:at[0]] + rest[at[1]:]
	}
	d.Scope, d.Pen = scopeIn(folded)
	rest = strings.Join(strings.Fields(rest), " ")
	if at := strings.Index(Fold(rest), d.Pen); d.Pen != "" && at > 0 && len(Fold(rest)) == len(rest) { // "ivermectin pen 2"
		if before := strings.TrimRight(rest[:at], " ,;-"); before != "" && !hasAny(before, treatedVerbs) {
			for _, w := range []string{" to", " in", " for", " of"} {
				before = strings.TrimSuffix(before, w)
			}
			rest = before + rest[at+len(d.Pen):]
		}
	}
	d.Product = trimBrackets(rest)
	return d, true
}

// isForm tells "pour on", a form of product, from French "pour la gale".
func isForm(s string) bool {
	first, _, _ := strings.Cut(Fold(strings.TrimSpace(s)), " ")
	return first == "on"
}

// trimBrackets trims signs from both ends, and brackets that hold nothing or have no partner.
func trimBrackets(s string) string {
	s = strings.Join(strings.Fields(strings.NewReplacer("()", " ", "( )", " ").Replace(s)), " ")
	s = strings.TrimLeft(strings.Trim(s, " ,;:-"), ") ")
	for strings.HasSuffix(s, "(") || strings.HasSuffix(s, ")") && strings.Count(s, ")") > strings.Count(s, "(") {
		s = strings.TrimRight(s[:len(s)-1], " ,;:-")
	}
	if strings.HasPrefix(s, "(") && (strings.Count(s, "(") > strings.Count(s, ")") || strings.IndexByte(s, ')') == len(s)-1) {
		s = strings.TrimSuffix(strings.TrimSpace(s[1:]), ")")
	}
	return s
}

func hasAny(text string, list []string) bool {
	folded := Fold(text)
	for _, w := range list {
		if indexWord(folded, w) >= 0 {
			return true
		}
	}
	return false
}

// isDuration tells "for 5 days" from "for lice".
func isDuration(s string) bool { return s != "" && isDigit(s[0]) }

var (
	flockScope = split("whole flock|entire flock|all birds|every bird|all of them|everybody|everyone|the lot|flock|alle tiere|alle huhner|alle|tous|toutes|hele koppel|allemaal|todos|todas|all hens|all stock")
	penScope   = split("pen|pens|run|coop|house|shed|ark|aviary|stall|volière|voliere|hok|gallinero|poulailler|cage|perches|row")
)

// Scope reads whom a cell of a bird column covers: "all", "whole flock", "pen 3", "house". The pen is as
// typed. It returns record.OneBird for anything else.
func Scope(text string) (scope record.Scope, pen string) {
	folded := strings.Trim(Fold(text), " .!")
	if folded == "all" || folded == "*" || folded == "all*" || folded == "everything" {
		return record.WholeFlock, ""
	}
	for _, w := range flockScope {
		if folded == w {
			return record.WholeFlock, ""
		}
	}
	for _, w := range penScope {
		rest, ok := strings.CutPrefix(folded, w)
		if ok && len(strings.Fields(rest)) <= 2 && (rest == "" || rest[0] == ' ' || isDigit(rest[0])) {
			return record.WholePen, Name(text)
		}
	}
	if rest, ok := strings.CutPrefix(folded, "all "); ok && len(strings.Fields(rest)) <= 3 {
		for _, w := range penScope {
			if i := indexWord(rest, w); i >= 0 {
				if pen = Name(text); len(Fold(pen)) == len(pen) {
					pen = strings.Trim(pen[len("all ")+i:], " .!") // "all of pen 2"
				}
				return record.WholePen, pen
			}
		}
	}
	return record.OneBird, ""
}

// Recipient reports whether a heading names those to whom something was given: beside treatments they are birds, in a
// list of birds it is where one went.
func Recipient(heading string) bool {
	switch strings.Trim(Fold(heading), " .:?") {
	case "given to", "given", "administered to", "used on", "gegeben an", "donne a", "gegeven aan", "dado a":
		return true
	}
	return false
}

// PenName takes a pen's name apart: "Pen A", "A" and "pen a" are pen "A" or "a" without a word, "run 3" is "3" with
// the word "run", "top shed" is a name of its own. Two pens are the same where PenKey of their names and words
// agree, or one has no word.
func PenName(text string) (name, word string) {
	name = strings.TrimSuffix(strings.Trim(Name(text), " .:#"), ":")
	folded := Fold(name)
	for _, w := range penScope {
		rest, ok := strings.CutPrefix(folded, w)
		rest = strings.TrimLeft(rest, " .:#-")
		if !ok || rest == "" || len(rest) > len(name) || folded[len(w)] != ' ' && !strings.ContainsRune(".:#-", rune(folded[len(w)])) && !isDigit(folded[len(w)]) {
			continue
		}
		if fields := strings.Fields(rest); len(fields) > 1 && penCrowd[fields[len(fields)-1]] {
			name = strings.TrimSpace(name[:len(name)-len(fields[len(fields)-1])])
			rest = strings.TrimSpace(strings.TrimSuffix(rest, fields[len(fields)-1]))
		}
		for _, filler := range []string{"no. ", "no ", "number ", "nr. ", "nr "} {
			rest = strings.TrimPrefix(rest, filler)
		}
		if tail := name[len(name)-len(rest):]; Fold(tail) == rest { // folding kept its length
			name = tail
		} else {
			name = rest
		}
		if w == "pen" || w == "pens" {
			w = ""
		}
		return name, w
	}
	return name, ""
}

// penCrowd are words for all who live in a pen.
var penCrowd = words("chicks|birds|hens|pullets|cockerels|growers|all|total|mean|average|together|kuken|poussins|kuikens|pollitos")

// PenKey is equal for names of pens that differ in case, width, spaces or accents only.
func PenKey(name string) string { return strings.Join(strings.Fields(Fold(name)), "") }

// scopeIn finds a scope inside the text of a treatment; "" none.
func scopeIn(folded string) (record.Scope, string) {
	for _, w := range flockScope {
		if indexWord(folded, w) >= 0 {
			return record.WholeFlock, ""
		}
	}
	for _, w := range penScope {
		if i := indexWord(folded, w); i >= 0 {
			pen := folded[i : i+len(w)]
			if fields := strings.Fields(folded[i+len(w):]); len(fields) > 0 && len(fields[0]) <= 2 && strings.Trim(fields[0], "0123456789abcdefgh") == "" {
				pen += " " + fields[0]
			}
			return record.WholePen, pen
		}
	}
	return "", ""
}

var (
	// treatedVerbs report a treatment as done; activeIngredients name one, with or without a verb. Ingredients
	// are international common names, for recognising what was written; none is recommended.
	treatedVerbs = split(`dusted|wormed|dewormed|de-wormed|treated|re-treated|retreated|sprayed|drenched|dipped|dosed|medicated|injected|vaccinated|deloused|de-loused|powdered|spot-on|spot on|spotted on
		behandelt|entwurmt|gepudert|gespruht|geimpft|bestaubt|traite|traitee|vermifuge|vermifugee|vaccine|vaccinee|behandeld|ontwormd|gepoederd|gevaccineerd|ingeent|tratado|tratada|desparasitado|desparasitada|vacunado|vacunada|trattato|trattata`)
	activeIngredients = split("permethrin|pyrethrin|pyrethrum|pyrethrins|ivermectin|flubendazole|fenbendazole|levamisole|piperazine|fluralaner|sulphur|sulfur|diatomaceous earth|silica dust|amprolium|toltrazuril|oxytetracycline|enrofloxacin|spinosad|tylosin|doxycycline|praziquantel|permethrine|ivermectine|ivermectina|permetrina|flubendazol|fenbendazol|kieselgur|diatomeenerde")
	notDone           = split("not|no|never|need|needs|must|should|to be|due|will|plan|planned|going to|remember|todo|to do|next|if|consider|want|order|buy|ask|nicht|muss|noch|pas|a faire|niet|moet|no ha|falta|untreated")
)

// TreatmentInRemark finds a treatment that a remark reports as done ("dusted for lice", "entwurmt"), with a
// Problem of class TreatmentInRemarks, told. What is only due, planned or denied is not found, and nil is
// returned.
func TreatmentInRemark(text string) (Dosing, *Problem) {
	folded := Fold(text)
	at := -1
	for _, table := range [][]string{treatedVerbs, activeIngredients} {
		for _, w := range table {
			if i := indexWord(folded, w); i >= 0 && (at < 0 || i < at) {
				at = i
			}
		}
		if at >= 0 {
			break
		}
	}
	if at < 0 {
		return Dosing{}, nil
	}
	before := folded[:at]
	if end := strings.LastIndexAny(before, ".;,"); end >= 0 {
		before = before[end+1:]
	}
	for _, w := range notDone {
		if indexWord(before, w) >= 0 {
			return Dosing{}, nil
		}
	}
	done, _ := TreatmentText(text)
	d, _ := Treatment(done)
	d.Product = givenIn(d.Product)
	return d, &Problem{Class: TreatmentInRemarks, Action: Tell,
		Message: quoted(text) + " in the remarks reports a treatment; write it in a table of treatments, with product and date, so that it counts"}
}

// noProduct are words after the verb that name nothing that was given.
var noProduct = words("again|today|yesterday|twice|both|too|as well|well|once|all over|her|him|it|them|wieder|heute|encore|weer")

// givenIn is what a remark says was given: what stands after "with", else from the name of an ingredient on,
// else what follows the verb. "" where only the deed is written.
func givenIn(text string) string {
	if with := withPattern().FindStringSubmatch(text); with != nil {
		return strings.TrimSpace(with[1])
	}
	folded := Fold(text)
	if len(folded) != len(text) {
		text = folded
	}
	from := -1
	for _, w := range activeIngredients {
		if i := indexWord(folded, w); i >= 0 && (from < 0 || i < from) {
			from = i
		}
	}
	for _, w := range treatedVerbs {
		if i := indexWord(folded, w); from < 0 && i >= 0 {
			from = i + len(w)
		}
	}
	if from < 0 {
		return ""
	}
	given, _, _ := strings.Cut(text[from:], ";")
	given = strings.Trim(given, " ,.:-()!")
	if noProduct[Fold(given)] {
		return ""
	}
	if scope, _ := Scope(given); scope != record.OneBird {
		return ""
	}
	return given
}

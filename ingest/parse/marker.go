package parse

import (
	"strings"
	"unicode"

	"keelmark/ingest/record"
)

// Missing reports whether the text says that nothing was written: "", "n/a", "-", ".", "nil", "--". A "?" is
// not missing: it is an unknown value. In a column of counts "nil" is a finding and "-" may be one; use
// Finding there.
func Missing(text string) bool {
	t := Fold(text)
	return strings.Trim(t, "-._/ ") == "" || missingWords[t]
}

var missingWords = words(`n/a|na|n.a.|n.a|n\a|nil|none|null|nan|not done|not weighed|not taken|not recorded|not scored|not checked|nw|n/w|n/d|n/r
	keine angabe|k.a.|k. a.|nicht gewogen|entfallt|n.v.t.|nvt|niet gewogen|pas pese|non pese|non pesee|s/d|sin datos|no pesado|tbc|tba|tbd|(blank)`)

// words makes a set of a table of folded words, parted by "|" and line breaks.
func words(table string) map[string]bool {
	set := make(map[string]bool)
	for _, w := range split(table) {
		set[w] = true
	}
	return set
}

// split takes a table of folded words apart, parted by "|" and line breaks.
func split(table string) []string {
	var out []string
	for w := range strings.FieldsFuncSeq(table, func(r rune) bool { return r == '|' || r == '\n' }) {
		out = append(out, strings.TrimSpace(w))
	}
	return out
}

var unknownWords = words("unknown|unk|unsure|not sure|don't know|dont know|dk|?/?|unbekannt|unklar|inconnu|onbekend|desconocido")

// isUnknown reports whether the keeper wrote that the value is not known: "?", "??", "unknown".
func isUnknown(folded string) bool {
	return folded != "" && strings.Trim(folded, "? ()") == "" || unknownWords[folded]
}

// goneWords tell that a bird died or left. They count at the start of a text only.
var goneWords = map[record.EventKind]map[string]bool{
	record.Died: words(`†|✝|☠|dead|died|rip|r.i.p|r.i.p.|deceased|doa|found dead|put down|put to sleep|pts|euthanised|euthanized|killed|culled|slaughtered|processed
		despatched|dispatched|fox|fox got|fox took|taken by fox|lost to fox|hawk|taken by hawk|badger|mink|predator|predated
		tot|gestorben|verendet|eingegangen|geschlachtet|getotet|fuchs|mort|morte|decede|decedee|tue|tuee|abattu|renard|overleden|dood|geslacht
		muerto|muerta|murio|sacrificado|morto|morta|dod|slaktad|padla|padl|uhynul|uhynula`),
	record.Departed: words(`sold|given|given away|gave to|gone|gone to|rehomed|re-homed|swapped|exchanged|traded|stolen|lost|left|left flock|departed|loaned|lent|returned to
		verkauft|abgegeben|verschenkt|vendu|vendue|donne|donnee|verkocht|weggegeven|vendido|vendida|regalado|regalada|venduto|venduta|sald|sprzedana|prodan|prodana`),
}

// goneNext are the words that must follow a mark with other meanings for it to mean that the bird is gone, where any
// word follows: "left for Ann", but not "left leg swollen".
var goneNext = map[string]map[string]bool{
	"left":        words("flock|the flock|for|to|us|today|here|on|with|at"),
	"given":       words("to|away|as"),
	"gone":        words("to|from|missing|away|for good|on"),
	"lost":        words("her|him|it|to|in|on|at|bird|this|today|overnight|found"),
	"fox":         words("got her|got him|got it|got this|got in|took|took her|killed|had her|had him|kill|ate"),
	"fox got":     words("her|him|it|this|one|in"),
	"fox took":    words("her|him|it|this|one"),
	"hawk":        words("took|killed|got her|got him"),
	"badger":      words("took|killed|got her|got him|got in"),
	"mink":        words("took|killed|got her|got him|got in"),
	"predator":    words("took|killed|got her|got him"),
	"killed":      words("by|on|in|her|him|it|for"),
	"exchanged":   words("for|with|to"),
	"swapped":     words("for|with|to"),
	"traded":      words("for|with|to"),
	"returned to": words("breeder|seller|owner|previous"),
	"sold":        words("to|at|for|on|in|as|with|privately|today|her|him|it|trio|pair|pen|ring"),
	"dead":        words("in|on|this|today|when|overnight|at|by|from|found|of|after|morning|yesterday"),
	"processed":   words("on|for|at"),
	"culled":      words("for|on|at|as|due|because|too|by|after|lame|old|poor|small|ill|sick|her|him|it|today|bad|no|not|in"),
}

// noDeparture are words after such a mark that make it a remark about something else: part of the body, food, eggs.
var noDeparture = map[string]map[string]bool{
	"left":        words("leg|eye|wing|foot|toe|toes|hock|spur|side|comb|wattle|ear|lobe|nostril|knee|shank|breast|hip|claw|out|in|alone|over|eyelid|thigh|keel|side|it|her|him|them|as|one"),
	"given":       words("extra|more|some|a|an|corn|feed|water|vitamins|tonic|grit|greens|bath|new|wormer|medicine|tablet|drops|up|oil|garlic|the|her|his|half|one|two|mash|dose|treatment|electrolytes|antibiotics"),
	"lost":        words("weight|feathers|feather|plumage|crest|beard|muff|hackle|hackles|wing|primaries|sickles|down|voice|sight|spur|points|tail|ring|band|a|toe|claw|some|condition|appetite|her ring|his ring|all|half|lots|eye|nail|comb"),
	"exchanged":   words("ring|rings|band|pen"),
	"swapped":     words("ring|rings|band|pen|pens|leg|legs|over"),
	"returned to": words("pen|flock|run|coop|lay|main|the"),
	"sold":        words("eggs|chicks|hatching|some|her eggs|his|a|two|three|all"),
	"killed":      words("a|the|rat|rats"),
	"dead":        words("chicks|chick|eggs|egg"),
	"gone":        words("over|through|up|down|off lay"),
}

// ownWords stand before a part of the body or what else is a bird's own.
var ownWords = words("her|his|its|their|a|the|some|all|most")

// Gone reads a marker that a bird has died or left: †, dead, RIP, culled, fox, sold, given, rehomed, alone, with a
// date, or with words that leave no doubt. Kind is Died or Departed; it returns false where the text begins with none.
// Where what follows may mean something else ("gone broody", "fox got close"), see MayBeGone.
func Gone(text string) (kind record.EventKind, ok bool) {
	kind, surely, _ := gone(text)
	if !surely {
		return "", false
	}
	return kind, true
}

// MayBeGone reads a text that begins as a marker of Gone does, and goes on so that it may mean something else. It is
// worth a question, and nothing more.
func MayBeGone(text string) (kind record.EventKind, ok bool) {
	kind, surely, maybe := gone(text)
	switch {
	case surely:
		return "", false
	case maybe:
		return kind, true
	}
	text = Name(text)
	if m := tookPattern().FindStringSubmatch(text); m != nil && !keepers[strings.ToLower(m[1])] {
		return record.Died, true
	}
	if rest, ok := strings.CutPrefix(text, "to "); ok && len(strings.Fields(rest)) <= 5 && rest != "" && unicode.IsUpper([]rune(rest)[0]) {
		first, _, _ := strings.Cut(Fold(rest), " ")
		if scope, _ := Scope(rest); scope == record.OneBird && monthNames[first] == 0 && weekdayNames[first] == 0 && !hasAny(rest, notTo) {
			return record.Departed, true
		}
	}
	return "", false
}

var (
	tookPattern = later(`(?i)^(?:a |the )?([\pL]+) (?:got|took|killed|had|ate|snatched|grabbed) (?:her|him|it|them|this one)\b`)
	keepers     = words("i|we|you|she|he|they|vet|judge|who|someone")
	notTo       = split("show|vet|pen|run|coop|shed|house|cage|lay|feed|treat|weigh|check")
)

// CameBack reports whether a remark that a bird left goes on to say that it returned: "sold to Pam - returned 1/6".
func CameBack(text string) bool {
	folded := Fold(Name(text))
	for _, w := range []string{"returned", "came back", "come back", "brought back", "back again", "back home", "sent back", "given back", "zuruck", "revenu", "revenue", "terug", "devuelto", "devuelta"} {
		if indexWord(folded, w) > 0 {
			return true
		}
	}
	return false
}

func gone(text string) (kind record.EventKind, surely, maybe bool) {
	t := strings.Trim(Fold(text), " ()[]*!")
	if t == "" || isDigit(t[0]) {
		return "", false, false
	}
	fields := strings.Fields(t)
	for n := min(3, len(fields)); n > 0; n-- {
		whole := strings.Join(fields[:n], " ")
		start := strings.Trim(whole, ",;:-!.")
		for _, kind := range []record.EventKind{record.Died, record.Departed} {
			if asked := strings.TrimRight(start, "? "); asked != start && goneWords[kind][asked] {
				return kind, false, true // "sold?"
			}
			if !goneWords[kind][start] && !goneWords[kind][strings.Trim(whole, ",;:-!")] {
				continue
			}
			next := goneNext[start]
			if n == len(fields) || next == nil || strings.ContainsAny(whole[len(whole)-1:], ",;:-.!") {
				return kind, true, false
			}
			after := strings.Trim(fields[n], ",;:.!()")
			if len(fields) > n+1 {
				after += " " + strings.Trim(fields[n+1], ",;:.!()")
			}
			one, of, _ := strings.Cut(after, " ")
			if ownWords[one] && noDeparture[start][of] { // "lost her feathers"
				return "", false, false
			}
			switch not := noDeparture[start]; {
			case next[one] || next[after] || strings.ContainsAny(one, "0123456789") || monthNames[one] > 0 || weekdayNames[one] > 0 || strings.Trim(one, "-(") == "":
				return kind, true, false
			case not[one] || not[after]:
				return "", false, false
			}
			return kind, false, true
		}
	}
	if r := []rune(t)[0]; r == '†' || r == '✝' || r == '☠' {
		return record.Died, true, false
	}
	return "", false, false
}

// Departed parts a name from a mark that the bird has died or left: "Clary (sold)", "Bess †". It returns false
// where the text has none.
func Departed(text string) (name string, kind record.EventKind, ok bool) {
	if text == "" || text[len(text)-1] < 0x80 && text[len(text)-1] != ')' && text[len(text)-1] != ' ' {
		return text, "", false // spares the common cell
	}
	name = Name(text)
	if i := strings.LastIndexByte(name, '('); i > 0 && strings.HasSuffix(name, ")") {
		if kind, ok = Gone(name[i+1 : len(name)-1]); ok {
			return strings.TrimSpace(name[:i]), kind, true
		}
	}
	for _, sign := range []string{"†", "✝", "☠"} {
		if rest, found := strings.CutSuffix(name, sign); found && strings.TrimSpace(rest) != "" {
			return strings.TrimSpace(rest), record.Died, true
		}
	}
	return text, "", false
}

// Ditto reports whether a text repeats the cell above: \", ”, do, dto, ditto.
func Ditto(text string) bool {
	if text == "" || len(text) > 9 || text[0] < 0x80 && strings.IndexByte(" \"',-dDiI|aAsSv", text[0]) < 0 {
		return false // spares the common cell
	}
	switch strings.Trim(Fold(text), " .") {
	case `"`, `""`, `"""`, "'", "''", ",,", ",", `-"-`, `-''-`, `--"--`, "- \" -", "do", "dto", "ditto", "idem", "id", "as above", "same", "〃", "〟", "|", "↓", "⇓", "⬇", "▼", "¦", "v v":
		return true
	}
	return false
}

// Definition is one entry of a legend.
type Definition struct{ Mark, Means string }

// Legend reads the entries of a legend such as "† = lost    wet = caught in the rain" or "- none seen   +
// 1-5   ++ 6-20", given as one cell or as the cells of a row. It returns nil where the text is no legend.
func Legend(texts ...string) []Definition {
	var out []Definition
	for _, text := range texts {
		for entry := range strings.FieldsFuncSeq(strings.ReplaceAll(text, "   ", "\n"), func(r rune) bool { return strings.ContainsRune("\n\t;|", r) }) {
			begun := len(out)
			for _, part := range strings.Split(entry, ", ") {
				if d, ok := definition(Clean(part)); ok {
					out = append(out, d)
				} else if len(out) > begun { // "wet = caught in the rain, weigh again"
					out[len(out)-1].Means += ", " + Clean(part)
				}
			}
		}
	}
	return out
}

// definition reads "wet = caught in the rain", "x: yes" or, for a mark made of signs, "+ 1-5".
func definition(entry string) (Definition, bool) {
	const longestMark = 12
	for _, equals := range []string{"=", ": ", " means ", " - "} {
		mark, means, ok := strings.Cut(entry, equals)
		mark, means = strings.TrimSpace(mark), strings.TrimSpace(means)
		if ok && mark != "" && means != "" && len(mark) <= longestMark && !legendWords[Fold(mark)] {
			return Definition{mark, means}, true
		}
	}
	mark, means, ok := strings.Cut(entry, " ")
	if ok && strings.Trim(mark, "+-†x?*✓✗#") == "" && means != "" {
		return Definition{mark, means}, true
	}
	return Definition{}, false
}

var legendWords = words("key|legend|note|notes|nb|n.b.|schlussel|legende|sleutel|clave")

// unread finds what no column can read: errors, formulas without a value, a mark that the bird is gone or the
// value not known. What is the kind of value that was looked for, "a weight". It returns nil for the rest.
func unread(c Cell, folded, what string) *Problem {
	switch {
	case c.Stored == Error || isErrorText(folded):
		return &Problem{Class: FormulaError, Action: Refuse,
			Message: quoted(c.Text) + " is the error of a formula, not " + what + "; correct the formula, or write the value"}
	case c.Formula && folded == "", strings.HasPrefix(folded, "=") && len(folded) > 1:
		return &Problem{Class: NoCache, Action: Ask,
			Message: "the formula in this cell has no stored result, so " + what + " cannot be read; open and save the file in a spreadsheet program, or write the value"}
	}
	if c.Stored != Text {
		return nil
	}
	if isUnknown(folded) {
		return &Problem{Class: UnknownValue, Action: Ask, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " says that the value is not known; write " + what + " or leave the cell empty"}
	}
	switch kind, ok := Gone(folded); {
	case ok && kind == record.Died:
		return &Problem{Class: DeathMarker, Action: Ask, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " seems to say that the bird has died; confirm the day, or leave the cell empty"}
	case ok:
		return &Problem{Class: EventMarker, Action: Ask, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " seems to say that the bird has left; confirm the day, or leave the cell empty"}
	}
	return nil
}

// isErrorText knows the errors that a spreadsheet writes into a text file: #DIV/0!, #N/A, #WERT!, Err:502.
func isErrorText(folded string) bool {
	if rest, ok := strings.CutPrefix(folded, "err:"); ok {
		return digitsOf(rest) == rest
	}
	if len(folded) < 3 || folded[0] != '#' {
		return false
	}
	switch folded {
	case "#n/a", "#nv", "#n/d", "#n/b":
		return true
	}
	last := folded[len(folded)-1]
	return (last == '!' || last == '?') && folded[1] >= 'a' && folded[1] <= 'z' || strings.Trim(folded, "#") == ""
}

func leaveEmpty() []record.Reading {
	return []record.Reading{{Label: "leave it empty", Value: ""}}
}

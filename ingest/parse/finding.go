package parse

import (
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// FindingIn is what the column says of its findings.
type FindingIn struct {
	Parasite string       // from the heading; a kind named in the cell wins
	Scale    record.Scale // where the heading states one ("Lice 0-3"): numbers are then ordinal
	YesNo    bool         // the heading asks yes or no
	Dash     Dash         // what "-" means
	Cross    string       // what "x" means: "yes", "no" or ""
	Sys      System
}

// Answered applies an answer for "-" or "x" to the column: "none", "not looked", "yes", "no". The first two
// answer DashAmbiguous, the last two CrossAmbiguous. It returns false for any other text.
func (in FindingIn) Answered(class Class, answer string) (FindingIn, bool) {
	switch {
	case class == DashAmbiguous && answer == "none":
		in.Dash = DashNone
	case class == DashAmbiguous && answer == "not looked":
		in.Dash = DashNotLooked
	case class == CrossAmbiguous && (answer == "yes" || answer == "no"):
		in.Cross = answer
	default:
		return in, false
	}
	return in, true
}

// Dash says what a "-" among findings means.
type Dash uint8

// The meanings, and not knowing. "Negative" is none seen.
const (
	DashUnknown   Dash = iota
	DashNone           // looked, and none seen: the lowest of the signs -, +, ++, +++
	DashNotLooked      // not done
)

// Found is one finding.
type Found struct {
	Parasite string
	Form     record.Form // Count, Ordinal, Range, MoreThan, LessThan, AtLeast, Present
	Value    float64     // count; rank on Scale; 1 or 0 for Present
	Lo, Hi   float64
	Scale    string // "words", "plus 0-3", or the heading's
	Word     string // on Scale "words": none, few, some, many, light, moderate, heavy, ... in English
	Approx   bool
	Note     string
	Steps    []string
}

const plusScale = "plus 0-3"

// amountWords are the words for how many, by rank: ranks put words in order and say nothing about how far
// apart they are. The first word of a line stands for the other languages and short forms of it.
var amountWords = rankedWords(
	0, `none|nil|no|clear|clean|all clear|zero|nix|neg|negative|free|nothing|not seen|none seen|none found|nil seen|keine|keiner|keins|kein|ohne|sauber|frei|nichts|befallsfrei|aucun|aucune|rien|neant|propre|geen|schoon|niets|ninguno|ninguna|nada|limpio|limpia|nessuno|nenhum|brak|ingen|inga|zadne`,
	1, `trace|tr|vereinzelt|einzelne`, 1, `odd one`, 1, `one or two`, 1, `very few|v few`,
	1, `few|a few|wenige|wenig|ein paar|quelques|peu|enkele|weinig|pocos|pocas|pochi|poucos|kilka|faa|nagra|malo`,
	1, `couple|a couple`,
	1, `light|lt|leicht|gering|leger|legere|licht|leve|lieve`, 1, `low`, 1, `slight`, 1, `mild`, 1, `very light|v light`,
	2, `some|einige|certains|algunos|algunas|alcuni|alguns|sommige`, 2, `several|mehrere|plusieurs|varios`,
	2, `moderate|mod|mittel|massig|modere|moderee|matig|moderado|moderato`, 2, `medium|med|moyen`,
	3, `many|viele|viel|beaucoup|nombreux|veel|muchos|muchas|molti|muitos|duzo|mange|manga|mnoho|hodne`, 3, `lots|a lot|lots of`, 3, `loads`, 3, `dozens`, 4, `hundreds`, 4, `thousands`, 3, `plenty`, 3, `numerous`,
	3, `heavy|hvy|stark|schwer|fort|forte|zwaar|fuerte|grave`, 3, `high`, 3, `bad`, 3, `severe`, 3, `infested`, 3, `crawling`,
	4, `very heavy|v heavy|sehr stark|tres fort`, 4, `very many|sehr viele|tres nombreux|heel veel`, 4, `very bad|v bad`, 4, `covered`, 4, `extreme`,
)

type amountWord struct {
	word string
	rank float64
}

// rankedWords takes pairs of rank and words.
func rankedWords(table ...any) map[string]amountWord {
	out := make(map[string]amountWord)
	for i := 0; i < len(table); i += 2 {
		list := split(table[i+1].(string))
		for _, w := range list {
			out[w] = amountWord{list[0], float64(table[i].(int))}
		}
	}
	return out
}

// noneButEggs is how an answer writes that eggs were seen and no live parasites.
const noneButEggs = "none but eggs seen"

// Common practice, no source.
var (
	notLookedWords = words("nt|n/t|n.t|not looked|not looked at|didn't look|did not look|not tested|not examined|not inspected|not handled|missed|no check|nicht geschaut|nicht kontrolliert|niet gekeken|pas regarde|no mirado")
	liveWords      = words("alive|live|alive ones|live ones|live lice|live mites|some alive|living|lebend|lebende|vivants|levende|vivos")
	eggWords       = words("eggs|eggs only|only eggs|egg clusters|egg clumps|nits|nits only|only nits|some nits|few nits|old eggs|old nits|dead nits|nits at vent|nits on vent|nissen|nur nissen|lentes|neten|liendres")
	okWords        = words("ok|okay|o.k|ok.|all ok|fine|all fine|good|alright|all right|in ordnung|i.o|bien|goed")
)

// Findings parts a cell that tells of two parasites or more by their names, "lice none, mites some", into one text for
// each; nil where it names one or none, or where a part does not read plainly.
func Findings(c Cell, in FindingIn) []Cell {
	if len(c.Text) < 8 || c.Stored != Text {
		return nil // spares the common cell
	}
	folded := Fold(c.Text)
	if len(folded) > 120 || !strings.ContainsAny(folded, ",;/&+") && !strings.Contains(folded, " and ") && !strings.Contains(folded, " und ") {
		return nil
	}
	var out []Cell
	seen := map[string]bool{}
	for _, join := range []string{" and ", " und ", " et ", " en ", " y "} {
		folded = strings.ReplaceAll(folded, join, ";")
	}
	for part := range strings.FieldsFuncSeq(folded, func(r rune) bool { return strings.ContainsRune(",;/&+", r) }) {
		part = strings.TrimSpace(part)
		kind := Parasite(part)
		if kind == "" || seen[kind] {
			return nil
		}
		seen[kind] = true
		f, p := Finding(T(part), FindingIn{Parasite: kind, Dash: in.Dash, Cross: in.Cross})
		if p != nil || f.Parasite != kind {
			return nil
		}
		out = append(out, T(part))
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// Finding reads one finding of a parasite: counts, ranges, limits, words, signs, yes and no. A look that found
// nothing is a finding (count 0, word none, present 0); an empty cell is not a look.
func Finding(c Cell, in FindingIn) (Found, *Problem) {
	folded := Fold(c.Text)
	found := Found{Parasite: in.Parasite}
	if n, ok := plainNumeral(c.Text); ok && (c.Stored == Text && !in.YesNo || c.Stored == Number) {
		found.Form, found.Value = record.Count, n.value
		return in.tally(c, found, "")
	}
	if a, ok := amountWords[folded]; ok && c.Stored == Text && len(in.Scale.Words) == 0 && !in.YesNo {
		found.Form, found.Scale, found.Word, found.Value = record.Ordinal, "words", a.word, a.rank
		return found, nil
	}
	if c.Stored == Dated || c.Stored == Text && dateLike(Clean(c.Text)) {
		return Found{}, dateInCount(c, in.Sys)
	}
	if c.Stored == Percent || c.Stored == Text && strings.HasSuffix(folded, "%") {
		return Found{}, &Problem{Class: PercentCell, Readings: leaveEmpty(), Message: quoted(c.Text) + " is a percentage, not a finding; write a count or a word"}
	}
	if c.Stored == Text {
		switch bare := strings.Trim(folded, " .!"); {
		case notLookedWords[bare]:
			return Found{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " says that nobody looked"}
		case liveWords[bare]:
			return present(found, 1), nil
		case eggWords[bare]:
			return Found{}, &Problem{Class: EggsOnly, Message: quoted(c.Text) + " tells of eggs and of no live ones; say how such cells of this column count",
				Readings: []record.Reading{{Label: "eggs seen, no live ones", Value: noneButEggs}, {Label: "they count as found", Value: "yes"}, leaveEmpty()[0]}}
		case okWords[bare]:
			return Found{}, &Problem{Class: AllRight, Message: quoted(c.Text) + " may mean that none were seen, or that nobody looked closely; say what it means in this column",
				Readings: []record.Reading{{Label: "looked, none seen", Value: "none"}, leaveEmpty()[0]}}
		case bare == noneButEggs:
			found.Form, found.Scale, found.Word, found.Note = record.Ordinal, "words", "none", "eggs seen"
			return found, nil
		}
	}
	if p := unread(c, folded, "a finding"); p != nil {
		return Found{}, p
	}
	_, isAmount := amountWords[folded]
	if !isAmount { // spares the common cell a search for names
		if kind, start, end := findParasite(folded); kind != "" {
			found.Parasite = kind
			folded = strings.Join(strings.Fields(strings.Trim(folded[:start]+" "+folded[end:], " ,;:.")), " ")
			if folded == "" {
				return present(found, 1), nil // "lice" in a cell
			}
			_, isAmount = amountWords[folded]
		}
	}
	yes, no := yesWords[folded], noWords[folded]
	switch {
	case c.Stored == Bool || folded == "true" || folded == "false":
		return present(found, boolean(yes)), nil
	case in.YesNo && c.Stored == Text && (yes || no || tickWords[folded]):
		return present(found, boolean(!no)), nil
	case (yes || no) && !isAmount && !isDigit(folded[0]):
		return present(found, boolean(yes)), nil
	case folded == "x" || exWords[folded] || tickWords[folded]:
		if in.Cross != "" && !tickWords[folded] {
			return present(found, boolean(in.Cross == "yes")), nil
		}
		return Found{}, crossAmbiguous(c)
	case folded != "" && strings.Trim(folded, "-") == "":
		return in.dash(c, found)
	case folded != "" && strings.Trim(folded, "+") == "":
		found.Form, found.Value, found.Scale = record.Ordinal, float64(len(folded)), plusScale
		if len(folded) > 3 {
			return Found{}, &Problem{Class: ScoreOutOfRange, Readings: []record.Reading{{Label: "+++", Value: "+++"}, leaveEmpty()[0]},
				Message: quoted(c.Text) + " has more signs than +++; write +++ or a count"}
		}
		return found, nil
	case Missing(folded) && !isAmount:
		return Found{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " holds no finding"}
	}
	if n, step, ok := exponent(folded); ok {
		found.Form, found.Value = record.Count, n.value
		f, p := in.tally(c, found, "")
		f.Steps = append(f.Steps, step)
		return f, p
	}
	if v, ok := in.Scale.Words[folded]; ok {
		found.Form, found.Value, found.Scale = record.Ordinal, v, in.Scale.Name
		return found, nil
	}
	if f, note, ok := scanTally(folded, found); ok {
		return in.tally(c, f, note)
	}
	return inWords(c, folded, found)
}

func boolean(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func present(f Found, value float64) Found {
	f.Form, f.Value = record.Present, value
	return f
}

func (in FindingIn) dash(c Cell, found Found) (Found, *Problem) {
	switch in.Dash {
	case DashNone:
		found.Form, found.Scale = record.Ordinal, plusScale
		return found, nil
	case DashNotLooked:
		return Found{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " says that nobody looked"}
	}
	return Found{}, &Problem{Class: DashAmbiguous,
		Message:  quoted(c.Text) + " may mean none seen, or not looked; say what it means in this column, or write it in a legend",
		Readings: []record.Reading{{Label: "looked, none seen", Value: "none"}, {Label: "not looked", Value: "not looked"}}}
}

// scanTally reads a number, a range or a limit at the start of a folded text.
func scanTally(folded string, f Found) (Found, string, bool) {
	var q quantity
	s := q.scanLead(folded)
	first, rest, _, ok := scanAmount(s, true)
	if !ok || q.lead != "" {
		return f, "", false
	}
	if first.twofold {
		first.value, first.whole = first.thousands, true // a count has no decimals
	}
	f.Form, f.Value, f.Approx = record.Count, first.value, q.approx
	t := strings.TrimLeft(rest, " ")
	for _, to := range []string{"-", "to ", "bis ", "a ", "tot ", "or "} {
		after, cut := strings.CutPrefix(t, to)
		if !cut {
			continue
		}
		if second, tail, _, ok := scanAmount(strings.TrimLeft(after, " "), true); ok && second.value > first.value && q.form == record.Measured {
			f.Form, f.Lo, f.Hi, f.Value = record.Range, first.value, second.value, 0
			rest = tail
		}
		break
	}
	plus := strings.HasPrefix(rest, "+") && f.Form == record.Count
	more := strings.TrimLeft(strings.TrimPrefix(rest, "+"), " ")
	for _, w := range []string{"or more", "plus", "and more", "oder mehr", "ou plus"} {
		if after, cut := strings.CutPrefix(more, w); cut && f.Form == record.Count {
			plus, more = true, after
		}
	}
	if plus {
		q.form, rest = record.AtLeast, more
	}
	switch {
	case q.form == record.Measured:
	case f.Form == record.Range:
		return f, "", false
	case q.most:
		f.Form, f.Hi, f.Value = record.Range, first.value, 0
	case q.form == record.LessThan:
		f.Form, f.Hi, f.Value = q.form, first.value, 0
	default:
		f.Form, f.Lo, f.Value = q.form, first.value, 0
	}
	if ish, cut := strings.CutPrefix(rest, "ish"); cut {
		f.Approx, rest = true, ish
	}
	return f, strings.TrimSpace(rest), true
}

// tally checks a number that was read.
func (in FindingIn) tally(c Cell, f Found, note string) (Found, *Problem) {
	doubt := strings.Contains(note, "?")
	f.Note = strings.Trim(strings.ReplaceAll(note, "?", ""), " ()[],;:.")
	whole := f.Value == float64(int64(f.Value)) && f.Lo == float64(int64(f.Lo)) && f.Hi == float64(int64(f.Hi))
	text := figure(f.Value, 2)
	if f.Form == record.Range {
		text = figure(f.Lo, 0) + "-" + figure(f.Hi, 0)
	}
	const most = 1e6
	if in.Scale.Max > in.Scale.Min {
		switch {
		case f.Form != record.Count:
			return Found{}, ambiguousScore(c, []float64{f.Lo, f.Hi})
		case f.Value < in.Scale.Min || f.Value > in.Scale.Max:
			return Found{}, outOfRange(c, ScoreIn{Scale: in.Scale}, figure(f.Value, 2))
		}
		f.Form, f.Scale = record.Ordinal, in.Scale.Name
		whole = true
	}
	switch {
	case !whole || max(f.Value, f.Lo, f.Hi) > most, f.Form == record.Range && f.Lo >= f.Hi, f.Form == record.LessThan && f.Hi <= 0:
		return Found{}, &Problem{Class: CountInvalid, Readings: leaveEmpty(), Message: quoted(c.Text) + " is no count; write a whole number, a range such as 10-20, or a word"}
	case f.Note == "s": // 100s
		return Found{}, &Problem{Class: CountInvalid, Readings: []record.Reading{{Label: text + " or more", Value: text + "+"}, leaveEmpty()[0]},
			Message: quoted(c.Text) + " is no count; write a number, or " + text + "+ for at least as many"}
	case digitsOf(f.Note) != "":
		return Found{}, &Problem{Class: CountInvalid, Readings: leaveEmpty(), Message: quoted(c.Text) + " holds more than one number; write one count"}
	case doubt:
		return Found{}, &Problem{Class: Doubtful, Readings: []record.Reading{{Label: text, Value: text}, leaveEmpty()[0]},
			Message: quoted(c.Text) + " leaves a doubt; confirm " + text + " or leave the cell empty"}
	case f.Note != "":
		return f, &Problem{Class: NoteWithNumber, Action: Tell, Message: quoted(c.Text) + " is read as " + text + " with the note " + quoted(f.Note) + "; confirm, or move the note to a column of its own"}
	case f.Approx:
		return f, &Problem{Class: Approximate, Action: Tell, Message: quoted(c.Text) + " is read as about " + text + "; confirm, or write a range"}
	}
	return f, nil
}

// inWords reads a word for how many, alone or before a note.
func inWords(c Cell, folded string, f Found) (Found, *Problem) {
	fields := strings.Fields(folded)
	for n := min(3, len(fields)); n > 0; n-- {
		a, ok := amountWords[strings.Trim(strings.Join(fields[:n], " "), ".,;:!?")]
		if !ok {
			continue
		}
		f.Form, f.Scale, f.Word, f.Value = record.Ordinal, "words", a.word, a.rank
		f.Note = strings.Trim(strings.Join(fields[n:], " "), " ()[],;:.?")
		switch {
		case strings.Contains(folded, "?"):
			return Found{}, &Problem{Class: Doubtful, Readings: []record.Reading{{Label: a.word, Value: a.word}, leaveEmpty()[0]},
				Message: quoted(c.Text) + " leaves a doubt; confirm " + a.word + " or leave the cell empty"}
		case a.rank == 0 && f.Note != "": // "no change", "clear but eggs"
			return Found{}, &Problem{Class: NoteInNumber, Readings: []record.Reading{{Label: "none seen", Value: "none"}, leaveEmpty()[0]},
				Message: quoted(c.Text) + " says more than none; confirm none, or write what was seen"}
		case f.Note != "":
			return f, &Problem{Class: NoteWithNumber, Action: Tell,
				Message: quoted(c.Text) + " is read as " + quoted(a.word) + " with the note " + quoted(f.Note) + "; confirm, or move the note to a column of its own"}
		}
		return f, nil
	}
	return Found{}, &Problem{Class: NoteInNumber, Readings: leaveEmpty(),
		Message: quoted(c.Text) + " is a note in a column of findings; write a count, a range, or a word such as none, few, many"}
}

// dateInCount offers the range that a spreadsheet turned into a date: 10-12 became 10 December.
func dateInCount(c Cell, sys System) *Problem {
	p := &Problem{Class: DateInCount, Message: quoted(c.Text) + " is a date in a column of counts: a spreadsheet makes dates of texts such as 10-12; confirm the count or leave the cell empty"}
	if day, ok := storedDay(c, sys); ok {
		y, m, d := day.Date()
		if c.Stored != Text {
			p.Message = strings.Replace(p.Message, quoted(c.Text), quoted(day.String()), 1)
		}
		pairs := [][2]int{{d, int(m)}, {int(m), d}}
		if d == 1 {
			pairs = append(pairs, [2]int{int(m), y % 100})
		}
		for _, pair := range pairs {
			if pair[0] < pair[1] {
				text := strconv.Itoa(pair[0]) + "-" + strconv.Itoa(pair[1])
				p.Readings = append(p.Readings, record.Reading{Label: text, Value: text})
			}
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

// DashMeaning reads what "-" means from the legend entries of a sheet.
func DashMeaning(legend []Definition) Dash {
	for _, d := range legend {
		if strings.Trim(Clean(d.Mark), "-") != "" {
			continue
		}
		means := " " + Fold(d.Means) + " "
		switch {
		case strings.Contains(means, " not ") && !strings.Contains(means, " not seen ") || strings.Contains(means, " n/a ") || strings.Contains(means, " missed ") || strings.Contains(means, " nicht "):
			return DashNotLooked
		}
		first := firstWord(d.Means)
		if a, ok := amountWords[first]; ok && a.rank == 0 || first == "0" {
			return DashNone
		}
	}
	return DashUnknown
}

// Count reads a number of things, such as eggs: whole, not negative. Form, Value, Lo and Hi are as in Finding.
func Count(c Cell) (Found, *Problem) {
	folded := Fold(c.Text)
	if c.Stored == Dated || c.Stored == Text && dateLike(Clean(c.Text)) {
		return Found{}, dateInCount(c, From1900)
	}
	if p := unread(c, folded, "a count"); p != nil {
		return Found{}, p
	}
	switch {
	case c.Stored == Bool:
		return Found{}, &Problem{Class: BooleanCell, Readings: leaveEmpty(), Message: quoted(c.Text) + " is a yes/no value, not a count; write the count or leave the cell empty"}
	case c.Stored == Percent || strings.HasSuffix(folded, "%"):
		return Found{}, &Problem{Class: PercentCell, Readings: leaveEmpty(), Message: quoted(c.Text) + " is a percentage, not a count; write the count or leave the cell empty"}
	case folded == "nil" || folded == "none" || folded == "zero":
		return Found{Form: record.Count}, nil
	case Missing(folded):
		return Found{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " holds no count"}
	}
	if n, step, ok := exponent(folded); ok {
		f, p := FindingIn{}.tally(c, Found{Form: record.Count, Value: n.value}, "")
		f.Steps = append(f.Steps, step)
		return f, p
	}
	if f, note, ok := scanTally(folded, Found{}); ok {
		return FindingIn{}.tally(c, f, note)
	}
	return Found{}, &Problem{Class: CountInvalid, Readings: leaveEmpty(), Message: quoted(c.Text) + " is no count; write a whole number or leave the cell empty"}
}

package parse

import (
	"strconv"
	"strings"
	"unicode"

	"keelmark/ingest/record"
)

// ScoreIn is what the column says of its scores.
type ScoreIn struct {
	Scale record.Scale // Name "" where none is stated; Words may give the keeper's words
	Sys   System
}

// Grade is one score. It is never converted to another scale.
type Grade struct {
	Value float64 // on Scale; without meaning where Word is set and the scale declares no words
	Scale string  // "1-5", "words", "letters", "signs", or "" where not stated
	Word  string  // for words, letters and signs: as typed, folded
	Note  string
	Steps []string
}

// scoreLabels may stand before a score.
var scoreLabels = words("bcs|bc|cs|score|cond|condition|grade|kondition|punkte|note|etat")

// scoreWords are the words that keepers use as scores. Others are notes. What is better is not said here.
var scoreWords = words(`thin|very thin|v thin|lean|poor|very poor|v poor|fair|ok|okay|good|very good|v good|excellent|perfect|fat|too fat|plump|obese|emaciated|skinny|bony|under|over
	underweight|overweight|normal|average|medium|moderate|light|heavy|bad|very bad|v bad|fit|well|ideal|low|high|clear|clean|worn|bare|rough|smooth|scruffy|none|slight|mild|severe|pale|red|dull|bright
	mager|dunn|gut|sehr gut|mittel|schlecht|fett|normal|maigre|bon|bonne|moyen|gras|slecht|goed|matig|vet|dun|flaco|flaca|bueno|buena|gordo|gorda|regular|malo|mala`)

// Score reads a score: 3, 2.5, 2½, "BCS 2.5", "3/5", words, letters, signs. A value outside a stated scale,
// or outside 0 to 10 where none is stated, is ScoreOutOfRange.
func Score(c Cell, in ScoreIn) (Grade, *Problem) {
	if n, ok := plainNumeral(c.Text); ok && (c.Stored == Text || c.Stored == Number) {
		return in.number(c, n.value, "")
	}
	text := Clean(c.Text)
	folded := Fold(text)
	if c.Stored == Dated {
		return Grade{}, dateInScore(c, in.Sys)
	}
	if p := unread(c, folded, "a score"); p != nil {
		return Grade{}, p
	}
	switch {
	case c.Stored == Bool || c.Stored == Text && (folded == "true" || folded == "false"):
		return Grade{}, &Problem{Class: BooleanCell, Readings: leaveEmpty(), Message: quoted(c.Text) + " is a yes/no value, not a score; write the score or leave the cell empty"}
	case c.Stored == Percent || strings.HasSuffix(folded, "%"):
		return Grade{}, &Problem{Class: PercentCell, Readings: leaveEmpty(), Message: quoted(c.Text) + " is a percentage, not a score; write the score or leave the cell empty"}
	}
	if v, ok := in.Scale.Words[folded]; ok {
		return Grade{Value: v, Scale: in.Scale.Name, Word: folded}, nil
	}
	if v, ok := in.Scale.Words[text]; ok {
		return Grade{Value: v, Scale: in.Scale.Name, Word: text}, nil
	}
	if Missing(folded) {
		return Grade{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " holds no score"}
	}
	s := folded
	if n := strings.IndexFunc(s, func(r rune) bool { return r < 'a' || r > 'z' }); n > 0 && scoreLabels[s[:n]] {
		s = strings.TrimLeft(s[n:], " :=.")
	}
	n, rest, _, ok := scanAmount(s, false)
	switch {
	case ok && !n.twofold:
		return in.number(c, n.value, strings.TrimSpace(rest))
	case ok, strings.HasPrefix(s, "-") && digitsOf(s) != "":
		return Grade{}, outOfRange(c, in, "")
	}
	return in.word(c, s)
}

// number reads what stands after the number of a score.
func (in ScoreIn) number(c Cell, v float64, rest string) (Grade, *Problem) {
	g := Grade{Value: v, Scale: in.Scale.Name}
	rest, doubt := strings.CutSuffix(rest, "?")
	rest = strings.TrimSpace(rest)
	if rest != "" {
		switch of, after, found := denominator(rest); {
		case rest == "-" || rest == "+" || rest == "+/-":
			return Grade{}, ambiguousScore(c, []float64{v})
		case found && (in.Scale.Name == "" && (of >= 5 || rest[0] != '/') || in.Scale.Name != "" && in.Scale.Max == of):
			if in.Scale.Name == "" {
				in.Scale = record.Scale{Name: "1-" + figure(of, 0), Min: 1, Max: of}
				if v < 1 {
					in.Scale.Name, in.Scale.Min = "0-"+figure(of, 0), 0
				}
				g.Scale = in.Scale.Name
			}
			g.Note = after
		case found && (rest[0] != '/' || of >= 5):
			return Grade{}, &Problem{Class: ScaleConflict, Readings: leaveEmpty(),
				Message: quoted(c.Text) + " is out of " + figure(of, 0) + ", but the column is scored " + in.Scale.Name + "; confirm the score on the column's scale"}
		case found:
			return Grade{}, ambiguousScore(c, []float64{v, of})
		case rest[0] == '-' || strings.HasPrefix(rest, "to ") || strings.HasPrefix(rest, "bis "):
			if second, _, _, ok := scanAmount(strings.TrimLeft(rest, "-tobis "), false); ok {
				return Grade{}, ambiguousScore(c, []float64{v, second.value})
			}
			return Grade{}, ambiguousScore(c, []float64{v})
		default:
			g.Note = strings.Trim(rest, " ()[],;:.")
		}
	}
	low, high := 0.0, 10.0
	if in.Scale.Max > in.Scale.Min {
		low, high = in.Scale.Min, in.Scale.Max
	}
	switch {
	case v < low || v > high:
		return Grade{}, outOfRange(c, in, figure(v, 2))
	case digitsOf(g.Note) != "":
		return Grade{}, &Problem{Class: ScoreAmbiguous, Readings: leaveEmpty(), Message: quoted(c.Text) + " holds more than one number; write the one score"}
	case doubt:
		return Grade{}, &Problem{Class: Doubtful, Readings: []record.Reading{{Label: figure(v, 2), Value: figure(v, 2)}, leaveEmpty()[0]},
			Message: quoted(c.Text) + " leaves a doubt; confirm " + figure(v, 2) + " or leave the cell empty"}
	case g.Note != "":
		return g, &Problem{Class: NoteWithNumber, Action: Tell,
			Message: quoted(c.Text) + " is read as score " + figure(v, 2) + " with the note " + quoted(g.Note) + "; confirm, or move the note to a column of its own"}
	}
	return g, nil
}

// denominator reads "/5", "of 5", "out of 5" and what follows.
func denominator(s string) (of float64, after string, ok bool) {
	for _, start := range []string{"/", "out of ", "of ", "von ", "sur ", "van ", "de "} {
		if rest, found := strings.CutPrefix(s, start); found {
			n, after, ok := scanNumeral(strings.TrimSpace(rest), false)
			return n.value, strings.Trim(after, " ()"), ok && n.whole && n.value >= 2 && n.value <= 100
		}
	}
	return 0, s, false
}

func outOfRange(c Cell, in ScoreIn, read string) *Problem {
	scale := "no scale of scores goes so far"
	if in.Scale.Name != "" {
		scale = "the column is scored " + in.Scale.Name
	}
	p := &Problem{Class: ScoreOutOfRange, Message: quoted(c.Text) + " is outside the scale: " + scale + "; correct the score or leave the cell empty"}
	if len(read) == 2 { // 25 for 2.5
		if v, err := strconv.ParseFloat(read[:1]+"."+read[1:], 64); err == nil && in.Scale.Max > in.Scale.Min && v >= in.Scale.Min && v <= in.Scale.Max && (read[1] == '5' || read[1] == '0') {
			p.Readings = append(p.Readings, record.Reading{Label: figure(v, 1), Value: figure(v, 1)})
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

func ambiguousScore(c Cell, values []float64) *Problem {
	p := &Problem{Class: ScoreAmbiguous, Message: quoted(c.Text) + " is not one number; write the score that is meant, such as " + figure(values[0], 2) + " or a half step"}
	if len(values) == 1 {
		half := 0.5
		if strings.Contains(c.Text, "-") || strings.Contains(Clean(c.Text), "-") {
			half = -0.5
		}
		values = append(values, values[0]+half)
	}
	for _, v := range values {
		if v >= 0 {
			p.Readings = append(p.Readings, record.Reading{Label: figure(v, 2), Value: figure(v, 2)})
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

// word reads a score without a number.
func (in ScoreIn) word(c Cell, s string) (Grade, *Problem) {
	s = strings.Trim(s, " .!()")
	signs := strings.Trim(s, "+") == "" && s != ""
	letter := len(s) == 1 && s[0] >= 'a' && s[0] <= 'e'
	switch {
	case in.Scale.Max > in.Scale.Min && len(in.Scale.Words) == 0 && (signs || letter || scoreWords[s]):
		return Grade{}, &Problem{Class: ScaleConflict, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " is not on the column's scale " + in.Scale.Name + "; write the number, or give the word its number in flock.toml, [scales]"}
	case signs:
		return Grade{Value: float64(len(s)), Scale: "signs", Word: s}, nil
	case letter:
		return Grade{Scale: "letters", Word: s}, nil
	case scoreWords[s]:
		return Grade{Scale: "words", Word: s}, nil
	}
	return Grade{}, &Problem{Class: NoteInNumber, Readings: leaveEmpty(),
		Message: quoted(c.Text) + " is a note in a column of scores; move it to a column of notes, or write the score"}
}

// dateInScore offers the score that a spreadsheet turned into a date: 3/5.
func dateInScore(c Cell, sys System) *Problem {
	p := &Problem{Class: DateInScore, Message: quoted(c.Text) + " is a date in a column of scores: a spreadsheet makes dates of texts such as 3/5; confirm the score or leave the cell empty"}
	if day, ok := storedDay(c, sys); ok {
		_, m, d := day.Date()
		p.Message = strings.Replace(p.Message, quoted(c.Text), quoted(day.String()), 1)
		for _, pair := range [][2]int{{d, int(m)}, {int(m), d}} {
			if pair[0] <= 10 && pair[1] <= 10 && pair[0] != pair[1] {
				v := strconv.Itoa(pair[0])
				p.Readings = append(p.Readings, record.Reading{Label: v + " (typed as " + v + "/" + strconv.Itoa(pair[1]) + ")", Value: v})
			}
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

var scalePatterns = []pattern{
	later(`(?:^|[^0-9.,/-])([01]) ?(?:-|to|bis|tot|a|till|\.\.) ?(\d{1,2})(?:$|[^0-9.,/-])`),
	later(`(?:\bout of|\bof|\bvon|\bsur|\bvan|\bmax|\b\d? ?/) ?()(\d{1,2}) ?(?:$|[)\],;:?])`), // not "week of 5 June"
}

// ScaleIn finds a scale in a heading or legend: "(1-5)", "of 5", "0 to 3", "/9". "of 5" is "1-5"; a scale that
// starts elsewhere is written with its start. Direction stays empty: it is never guessed.
func ScaleIn(text string) (record.Scale, bool) {
	scale, _, ok := cutScale(Fold(text))
	return scale, ok
}

// cutScale also returns the text without the scale.
func cutScale(folded string) (record.Scale, string, bool) {
	for _, scale := range scalePatterns {
		at := scale().FindStringSubmatchIndex(folded)
		if at == nil {
			continue
		}
		first, _ := strconv.Atoi(folded[at[2]:at[3]])
		if at[2] == at[3] {
			first = 1
		}
		last, _ := strconv.Atoi(folded[at[4]:at[5]])
		if last <= first+1 || last > 20 && last != 100 {
			continue
		}
		name := strconv.Itoa(first) + "-" + strconv.Itoa(last)
		start := at[2]
		if at[2] == at[3] {
			start = at[0]
		}
		rest := strings.TrimRightFunc(folded[:start], func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '?' })
		return record.Scale{Name: name, Min: float64(first), Max: float64(last)}, rest + " " + strings.TrimLeft(folded[at[5]:], " )]"), true
	}
	return record.Scale{}, folded, false
}

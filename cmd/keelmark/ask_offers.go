package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis/slip"
	"keelmark/ingest"
	"keelmark/ingest/record"
)

// openQuestions lists the questions of the flocks in the order in which they are put: first those of whole
// columns and files, the ones that settle most cells leading, then by place.
func openQuestions(flocks []*record.Dataset) []record.Question {
	var out []record.Question
	for _, d := range flocks {
		out = append(out, d.Questions...)
	}
	rank := func(q record.Question) int {
		if aboutOneCell(q) {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(out, func(a, b record.Question) int {
		return cmp.Or(rank(a)-rank(b), len(b.More)-len(a.More))
	})
	return out
}

// aboutOneCell reports whether the answer to a question is kept under its cell, not under a column or file.
func aboutOneCell(q record.Question) bool {
	return strings.HasPrefix(q.Key, q.Class+" "+q.At.File+"!") || q.Key == q.Class+" "+q.At.Key()
}

// sameText lists the other questions that ask the same of the same text in the same column.
func sameText(q record.Question, all []record.Question) []record.Question {
	if q.Raw == "" || !aboutOneCell(q) || isSlip(q) {
		return nil
	}
	values := func(q record.Question) []string {
		var out []string
		for _, r := range q.Readings {
			out = append(out, r.Value)
		}
		return out
	}
	var out []record.Question
	for _, o := range all {
		if o.Key != q.Key && o.Class == q.Class && strings.TrimSpace(o.Raw) == strings.TrimSpace(q.Raw) && aboutOneCell(o) &&
			o.At.File == q.At.File && o.At.Sheet == q.At.Sheet && o.At.Col == q.At.Col && slices.Equal(values(o), values(q)) {
			out = append(out, o)
		}
	}
	return out
}

// own says what beside the readings may answer a question.
type own uint8

const (
	nothing   own = iota // a reading only: ingest would take any other text for one of them
	aValue               // what could stand in the cell
	aDate                // likewise, a date as far as it is known
	aDay                 // a whole day: ingest takes any other text for "as it was read" or "leave it out"
	aWeight              // a weight with its unit, or the day it was weighed on: what slip can put right
	aBird                // a bird that the flock knows
	scaleText            // "0-5"
	anyBird              // a bird that the flock knows, or "new bird" and the name of one that it does not
)

func (o own) hint() string {
	return [...]string{"", "what the cell should say", "the date, such as 2025-03-01 or March 2025", "the day, such as 2025-03-01",
		"the weight with its unit, such as 640 g, or the day it was weighed on", "the ring or name of the bird", "the scale, such as 0-5", "the ring or name of a bird, or new bird and its name"}[o]
}

// offers is how a question may be answered.
type offers struct {
	readings []record.Reading
	own      own
	identity bool // values are birds
	weighs   bool // the cell holds a weight
}

// offersFor adds to a question's readings what its class lets the keeper say: "as it was read" where a value
// stands and waits for confirmation, "leave it out" where it cannot stand.
func offersFor(q record.Question, flocks []*record.Dataset) offers {
	o := offers{readings: slices.Clone(q.Readings), own: ownOf(q), weighs: ofWeight(q)}
	add := func(label, value string) {
		if !slices.ContainsFunc(o.readings, func(r record.Reading) bool { return r.Value == value }) {
			o.readings = append(o.readings, record.Reading{Label: label, Value: value})
		}
	}
	as, stands := asRead(q.At, flocks)
	switch {
	case isSlip(q): // its readings are complete
	case q.Class == "date_before_hatch" || q.Class == "date_after_death":
		add("leave it out", "")
	case q.Class == "bird_missing":
		o.own = anyBird
		add("leave it out", "")
	case q.Class == "treatment_in_remarks":
		add("yes, a treatment", "yes")
		add("only a remark", "")
	case isIdentity(q.Class):
		o.identity = true
		if len(q.Readings) == 0 {
			if rowStands(q.At, flocks) {
				add("yes", "yes")
			}
			o.own = aBird
		}
	case o.own == aDay && stands:
		o.readings = append([]record.Reading{{Label: "as it was read: " + as.label, Value: "yes"}}, o.readings...)
	case q.Class == "date_day_missing" && len(q.Readings) == 0:
		add("as it was read, no day is known", q.Raw)
	case o.own == aValue:
		if stands && as.value != "" && len(q.Readings) == 0 {
			add("as it was read: "+as.label, as.value)
		}
		add("leave it empty", "")
	}
	return o
}

// isSlip reports whether a question comes from a bird's history, not from the sheet: such a one always offers that
// the cell is right as it stands.
func isSlip(q record.Question) bool {
	return slices.ContainsFunc(q.Readings, func(r record.Reading) bool { return r.Value == slip.AsItIs })
}

func isIdentity(class string) bool {
	return strings.HasPrefix(class, "bird_") && class != "bird_missing" || strings.HasPrefix(class, "ring_") && class != "ring_unreadable"
}

// ownOf goes by the class of a question. What is not known here is answered by its readings only.
func ownOf(q record.Question) own {
	if isSlip(q) {
		class := slip.Class(q.Class)
		if len(q.More) == 0 && slices.Contains([]slip.Class{slip.UnitSlip, slip.DecimalPoint, slip.MissingDigit, slip.ExtraDigit, slip.DigitSwap, slip.Unexplained}, class) {
			return aWeight
		}
		return nothing // one text for many cells would make them all the same
	}
	switch q.Class {
	case "scale_unknown":
		return scaleText
	case "death_marker", "date_before_hatch", "date_after_death":
		return aDay
	case "event_marker":
		if len(q.Readings) > 1 { // a remark: any text would be taken for a yes
			return nothing
		}
		return aDay
	case "date_missing":
		return aDate
	case "hidden_row", "struck_out", "duplicate_conflict", "treatment_in_remarks", "finding_in_words":
		return nothing
	}
	if isIdentity(q.Class) || !aboutOneCell(q) {
		return nothing
	}
	inDates := strings.HasPrefix(q.Class, "date_in_") // a date in a column of something else
	if strings.HasPrefix(q.Class, "date_") && !inDates || q.Class == "weekday_mismatch" {
		return aDate
	}
	for _, kind := range []string{"weight_", "date_in_", "unit_", "pounds_", "impossible_ounces", "boolean_", "percent_", "formula_", "note_",
		"approximate_", "doubtful_", "unknown_value", "ambiguous_score", "score_", "scale_conflict", "count_"} {
		if strings.HasPrefix(q.Class, kind) {
			return aValue
		}
	}
	return nothing
}

// standing is a record that waits for confirmation.
type standing struct{ label, value string }

// asRead finds the marked record of a cell. Its value is what, written into the cell, reads the same; "" where
// that cannot be said in short.
func asRead(at record.Ref, flocks []*record.Dataset) (standing, bool) {
	for _, d := range flocks {
		for _, o := range d.Observations {
			if o.At != at || !o.Flagged {
				continue
			}
			s := standing{label: readAs(o)}
			if o.Form == record.Measured && o.Trait == record.Weight {
				s.value = fmt.Sprintf("%g g", math.Round(10*o.Value)/10) // an ounce is 28.3495 g, and no scale tells them apart
			} else if o.Form == record.Measured && o.Scale != "words" {
				s.value = fmt.Sprintf("%g", o.Value)
			}
			return s, true
		}
		for _, e := range d.Events {
			if e.At == at && e.Flagged {
				label := string(e.Kind)
				if e.On.Known() {
					label += " on " + e.On.String()
				}
				return standing{label, ""}, true
			}
		}
	}
	return standing{}, false
}

// rowStands reports whether a marked record stands in the row of a cell: what is in doubt there is read, and waits.
func rowStands(at record.Ref, flocks []*record.Dataset) bool {
	same := func(r record.Ref) bool { r.Col = at.Col; return r == at }
	for _, d := range flocks {
		if slices.ContainsFunc(d.Observations, func(o record.Observation) bool { return o.Flagged && same(o.At) }) ||
			slices.ContainsFunc(d.Events, func(e record.Event) bool { return e.Flagged && same(e.At) }) {
			return true
		}
	}
	return false
}

// letter names the nth reading, counted from 0: a to z, then a1, b1.
func letter(n int) string {
	l := string(rune('a' + n%26))
	if n >= 26 {
		l += fmt.Sprint(n / 26)
	}
	return l
}

// value turns what the keeper typed into what answers.toml keeps, or says what is wrong with it.
func (o offers) value(text string, flocks []*record.Dataset) (value, complaint string) {
	for i, r := range o.readings {
		if strings.EqualFold(text, letter(i)) || strings.EqualFold(text, r.Label) || r.Value != "" && strings.EqualFold(text, r.Value) {
			if !o.identity {
				return r.Value, ""
			}
			return birdValue(r, flocks), ""
		}
	}
	switch o.own {
	case aValue, aDate, aWeight, scaleText:
		return text, o.judge(text)
	case aDay:
		day, err := record.ParseDay(text)
		if err != nil {
			return "", fmt.Sprintf("%q is no day; write it as 2025-03-01, or answer with a letter.", text)
		}
		return day.String(), ""
	case anyBird:
		if name, ok := cutFold(text, ingest.NewBird); ok && name != "" {
			return name, ""
		}
		for _, d := range flocks {
			if b, ok := d.Bird(text); ok {
				return cmp.Or(b.Ring, b.Name), ""
			}
		}
		return "", fmt.Sprintf("No one bird of the flock is called %q; write a ring or name as the sheets have it, or \"new bird %s\" for one that they do not have.", text, text)
	case aBird:
		if name, ok := cutFold(text, ingest.NewBird); ok && name != "" {
			return ingest.NewBird + name, ""
		}
		for _, d := range flocks {
			if b, ok := d.Bird(text); ok {
				return b.ID, ""
			}
		}
		return "", fmt.Sprintf("No one bird of the flock is called %q; write a ring or name as the sheets have it, or \"new bird %s\" for one that they do not have.", text, text)
	}
	last := ""
	if n := len(o.readings); n > 1 {
		last = " to " + letter(n-1)
	}
	return "", fmt.Sprintf("Please answer with a%s, Enter or q.", last)
}

// judge says what is wrong with a text that the keeper writes for a weight or a date, before it is kept.
func (o offers) judge(text string) string {
	switch weighs := o.own == aWeight || o.weighs; {
	case o.own == aDate && !ingest.IsDate(text):
		return fmt.Sprintf("%q is no date; write it as 2025-03-01, 1 March 2025 or March 2025.", text)
	case weighs && !ingest.IsWeight(text) && !(o.own == aWeight && ingest.IsDate(text)):
		return fmt.Sprintf("%q is no weight; write it with its unit: 640 g, 0.64 kg, 1.4 lb, 1 lb 6 oz or 22 oz.", text)
	}
	return ""
}

// ofWeight reports whether a question is about a cell that holds a weight: its class or what it offers says so.
func ofWeight(q record.Question) bool {
	for _, kind := range []string{"weight_", "unit_", "pounds_", "impossible_ounces"} {
		if strings.HasPrefix(q.Class, kind) {
			return true
		}
	}
	return slices.ContainsFunc(q.Readings, func(r record.Reading) bool {
		return strings.HasSuffix(r.Value, " g") && ingest.IsWeight(r.Value)
	})
}

// cutFold cuts a beginning off a text, whatever its case.
func cutFold(text, prefix string) (rest string, ok bool) {
	if len(text) < len(prefix) || !strings.EqualFold(text[:len(prefix)], prefix) {
		return "", false
	}
	return strings.TrimSpace(text[len(prefix):]), true
}

// birdValue is the answer to which bird is meant. Ingest knows a bird by its ID, and makes one that no row knows.
func birdValue(r record.Reading, flocks []*record.Dataset) string {
	if r.Value == "two" || r.Value == "yes" {
		return r.Value
	}
	for _, d := range flocks {
		if b, ok := d.Bird(r.Value); ok {
			return b.ID
		}
	}
	return ingest.NewBird + r.Value
}

// tally counts records by kind, to tell what an answer changed.
type tally struct {
	traits    []int // by place in record.Traits
	events    map[record.EventKind]int
	flagged   int
	questions int
}

func tallyOf(flocks []*record.Dataset) tally {
	traits := record.Traits()
	t := tally{traits: make([]int, len(traits)), events: map[record.EventKind]int{}, questions: len(openQuestions(flocks))}
	for _, d := range flocks {
		for _, o := range d.Observations {
			for i, s := range traits {
				if s.Trait == o.Trait {
					t.traits[i]++
				}
			}
			if o.Flagged {
				t.flagged++
			}
		}
		for _, e := range d.Events {
			t.events[e.Kind]++
			if e.Flagged {
				t.flagged++
			}
		}
	}
	return t
}

// changes says what is different now, one sentence each without its stop.
func (t tally) changes(now tally) []string {
	var out []string
	say := func(change int, words func(int) string) {
		switch n := max(change, -change); {
		case change > 0:
			out = append(out, words(n)+plural(n, " is", " are")+" now read")
		case change < 0:
			out = append(out, words(n)+plural(n, " is", " are")+" no longer read")
		}
	}
	for i, s := range record.Traits() {
		say(now.traits[i]-t.traits[i], func(n int) string { return traitCount(s.Trait, n) })
	}
	kinds := map[string]record.EventKind{}
	for k := range t.events {
		kinds[string(k)] = k
	}
	for k := range now.events {
		kinds[string(k)] = k
	}
	for _, name := range sortedNames(kinds) {
		k := kinds[name]
		say(now.events[k]-t.events[k], func(n int) string { return eventCount(k, n) })
	}
	if n := t.flagged - now.flagged; n > 0 && len(out) == 0 {
		out = append(out, count(n, "record", "records")+plural(n, " is", " are")+" confirmed")
	}
	if n := now.questions - t.questions; n > 0 {
		out = append(out, count(n, "question more is", "questions more are")+" open now")
	}
	return out
}

func sortedNames[V any](m map[string]V) []string {
	var names []string
	for n := range m {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// listed joins names, the first few where there are many.
func listed(names []string, most int) string {
	if len(names) > most {
		return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
	}
	return strings.Join(names, ", ")
}

// Package stop finds in a keeper's records the signs that come before any statistics, show or plan: of diseases that a vet or
// the animal health authority must hear of first. Whoever would say something of a flock asks here first, and stays silent
// while a sign stands.
//
// It refuses to name a disease, and to let a sign that waits for confirmation pass.
package stop

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Thresholds of the stop rule. They are proposals to be discussed with a vet, not published limits.
const (
	// Days is for how long after a note of a stop sign every other claim stays silent.
	Days = 28
	// Deaths within DeathDays days stop everything.
	Deaths    = 2
	DeathDays = 7
)

// stopSign is a sign of disease that a vet or the authority must hear of before anything else, with the
// words that keepers write for it.
type stopSign struct {
	sign  string
	words []string
}

// stopSigns lists the signs of avian influenza and Newcastle disease that governments tell keepers to report.
//
// Source: veterinary practice and Australian and English government pages on avian influenza, as gathered in
// the project's domain notes (S112, S113); the wording of the search terms is ours.
func stopSigns() []stopSign {
	return []stopSign{
		{"sudden death", []string{"sudden death", "died suddenly", "found dead", "dead overnight", "dropped dead"}},
		{"swollen head", []string{"swollen head", "head swollen", "swollen face", "face swollen", "swollen eyes",
			"head swelled", "face swelled", "swelled head"}},
		{"blue or purple comb, wattles or legs", []string{"blue comb", "purple comb", "comb blue", "comb purple",
			"purple wattle", "blue wattle", "purple legs", "blue legs", "comb gone blue", "comb gone purple"}},
		{"gasping", []string{"gasping", "gasps", "gaping for air", "fighting for breath", "struggling to breathe"}},
		{"twisted neck, tremor or paralysis", []string{"twisted neck", "neck twisted", "tremor", "trembling",
			"paralysed", "paralyzed", "paralysis", "cannot stand", "can't stand", "wry neck", "star gazing"}},
		{"green or bloody droppings", []string{"green diarrhoea", "green diarrhea", "green droppings", "green runny", "runny green", "green poo",
			"bloody poo", "blood in poo", "blood in the droppings",
			"bloody droppings", "blood in droppings", "bloody diarrhoea", "bloody diarrhea"}},
		{"sharp drop in lay, feed or water", []string{"stopped laying suddenly", "sudden drop in lay",
			"sudden drop in eggs", "stopped eating", "off feed and water", "not drinking"}},
	}
}

// findSigns returns the signs that a text names and does not deny.
func findSigns(text string) []string {
	text = strings.ToLower(strings.Join(strings.Fields(text), " "))
	var found []string
	for _, s := range stopSigns() {
		if slices.ContainsFunc(s.words, func(w string) bool { return affirms(text, w) }) {
			found = append(found, s.sign)
		}
	}
	return found
}

// affirms reports whether text has word at least once without a denial before it, as in "no gasping".
func affirms(text, word string) bool {
	for rest := text; ; {
		i := strings.Index(rest, word)
		if i < 0 {
			return false
		}
		before := text[:len(text)-len(rest)+i]
		denied := slices.ContainsFunc([]string{"no ", "not ", "without ", "never ", "no sign of "}, func(n string) bool { return strings.HasSuffix(before, n) })
		if !denied {
			return true
		}
		rest = rest[i+len(word):]
	}
}

// stopText follows every stop sign.
const stopText = "Before anything else speak to a vet, or to the animal health authority where a notifiable disease " +
	"may be in question; move no bird until then. Keelmark says nothing else about this flock while this stands."

// Signs looks for stop signs in the notes of the last Days days before today and for deaths close
// together. Notes without a date count as recent. The claims concern the flock: a sign in one bird silences
// what would be said of all.
func Signs(today record.Day, d *record.Dataset) []analysis.Claim {
	var claims []analysis.Claim
	add := func(kind, text string, at []record.Ref) {
		claims = append(claims, analysis.Claim{
			ID: fmt.Sprintf("stop/%s-%d", kind, len(claims)+1), Subject: analysis.Subject{Flock: d.Name},
			Topic: "stop signs", Stands: analysis.Stop, Text: text + " " + stopText,
			N: analysis.Counts{Records: len(at)}, RestsOn: at,
			Method: "search of the keeper's notes for words of stop signs",
			Source: "government and veterinary lists of signs of avian influenza and Newcastle disease",
		})
	}
	type place struct {
		row  record.Ref
		sign string
	}
	told := map[place]bool{} // the cells of a row share one note
	look := func(on record.Date, note string, at record.Ref) {
		if on.Known() && (on.Last < today-Days || on.First > today) {
			return
		}
		row := at
		row.Col = 0
		for _, sign := range findSigns(note) {
			if told[place{row, sign}] {
				continue
			}
			told[place{row, sign}] = true
			add("note", fmt.Sprintf("The records name %s (%q, %s).", sign, note, at), []record.Ref{at})
		}
	}
	for _, o := range d.Observations {
		look(o.On, o.Detail().Note, o.At)
	}
	for _, e := range d.Events {
		look(e.On, e.Note, e.At)
		if e.Note != e.Text {
			look(e.On, e.Text, e.At)
		}
	}
	for _, l := range d.Ledgers {
		lookAtCells(d, l, look)
	}
	if deaths := closeDeaths(today, d); len(deaths) >= Deaths {
		add("deaths", fmt.Sprintf("The records show %d deaths within %d days, the last on %s.%s",
			len(deaths), DeathDays, deaths[len(deaths)-1].On, unsure(deaths)), eventRefs(deaths))
	}
	return claims
}

// unsure says how many deaths wait for the keeper's answer. They count all the same: a stop sign too many costs a
// telephone call.
func unsure(deaths []record.Event) string {
	n := 0
	for _, e := range deaths {
		if e.Flagged {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return " One of them waits for your confirmation and counts until then."
	}
	return fmt.Sprintf(" %d of them wait for your confirmation and count until then.", n)
}

// guideSheet is the sheet of our own blank workbook that lists the signs; it is no keeper's note.
const guideSheet = "Guide"

// lookAtCells looks at every text of a sheet, also where nothing became a record: a line about a sick bird seldom holds
// a weight. Its day is that of the records in its row, else a date in the row, else not known.
func lookAtCells(d *record.Dataset, l record.Ledger, look func(record.Date, string, record.Ref)) {
	if l.Sheet == guideSheet || len(l.Texts) == 0 {
		return
	}
	days := map[int32]record.Date{}
	for _, o := range d.Observations {
		if o.At.File == l.File && o.At.Sheet == l.Sheet && o.On.Known() {
			days[o.At.Row] = o.On
		}
	}
	for _, e := range d.Events {
		if e.At.File == l.File && e.At.Sheet == l.Sheet && e.On.Known() {
			days[e.At.Row] = e.On
		}
	}
	for i, row := range l.Texts {
		on, known := days[int32(i+1)]
		for j, text := range row {
			if len(findSigns(text)) == 0 {
				continue
			}
			for _, other := range row {
				if day, err := record.ParseDay(other[:min(len(other), len("2006-01-02"))]); err == nil && !known {
					on, known = record.On(day), true
				}
			}
			look(on, text, record.Ref{File: l.File, Sheet: l.Sheet, Row: int32(i + 1), Col: int32(j + 1)})
		}
	}
}

// closeDeaths returns the largest group of recent deaths within DeathDays days. Deaths put down to a
// predator or to the keeper's own hand are not counted.
func closeDeaths(today record.Day, d *record.Dataset) []record.Event {
	var deaths []record.Event
	for _, e := range d.Events {
		recent := e.On.Exact() && e.On.First <= today && e.On.First >= today-Days
		if e.Kind == record.Died && recent && !explained(e.Text+" "+e.Note) {
			deaths = append(deaths, e)
		}
	}
	slices.SortStableFunc(deaths, func(a, b record.Event) int { return int(a.On.First - b.On.First) })
	var largest []record.Event
	for i := range deaths {
		j := i
		for j < len(deaths) && deaths[j].On.First < deaths[i].On.First+DeathDays {
			j++
		}
		if j-i > len(largest) {
			largest = deaths[i:j]
		}
	}
	return largest
}

func explained(text string) bool {
	text = strings.ToLower(text)
	return slices.ContainsFunc([]string{"fox", "dog", "hawk", "cull", "killed", "predator", "badger", "mink", "accident"},
		func(w string) bool { return strings.Contains(text, w) })
}

func eventRefs(events []record.Event) []record.Ref {
	var refs []record.Ref
	for _, e := range events {
		refs = append(refs, e.At)
	}
	return refs
}

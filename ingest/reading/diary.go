package reading

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/identity"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// entry is one line of a diary.
type entry struct {
	n       int
	at      record.Ref
	date    parse.Cell
	dateAt  record.Ref
	own     bool // the line has a date of its own
	clauses []clause
}

// clause is one statement of a diary: "Bess 850 g".
type clause struct {
	text  string
	bird  string
	rest  parse.Cell // what is said of the bird
	kind  clauseKind
	loose bool // the bird is named by the statement before
}

type clauseKind uint8

const (
	remarkClause clauseKind = iota
	weightClause
	goneClause
	findingClause
)

// diary reads lines of words under dates. A statement is understood where it is a bird and a weight, a bird
// and what became of it, or a bird and a finding; what was done is read as a remark is, and told. The rest
// stays a note of its day, and is told where it speaks of weights or parasites.
func (l *lines) diary(ctx context.Context) error {
	l.datesOf()
	entries := l.entries()
	for _, e := range entries { // birds that are weighed are known where the rest is understood
		for _, c := range e.clauses {
			if c.kind == weightClause && c.bird != "" {
				l.weighed = append(l.weighed, parse.NameKey(c.bird))
			}
		}
	}
	for _, e := range entries {
		for i, c := range e.clauses {
			if c.kind == remarkClause {
				e.clauses[i] = l.understand(c.text)
			}
			if i > 0 && e.clauses[i].bird == "" {
				e.clauses[i] = l.goesOn(e.clauses[i-1], e.clauses[i])
			}
		}
	}
	var weights []parse.Cell
	for _, e := range entries {
		for _, c := range e.clauses {
			if c.kind == weightClause {
				weights = append(weights, c.rest)
			}
		}
	}
	if len(entries) == 0 {
		return nil
	}
	l.alone(entries)
	l.retold(entries)
	k := l.Diary(entries[0].at, weights)
	for i, e := range entries {
		if i&255 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		b := line{n: e.n, flock: l.Flock("")}
		if e.date.Text == "" {
			b.held = true
			b.flock.Ask.Add(record.Question{Class: string(parse.DateMissing), At: e.at, Raw: parse.Shown(e.clauses[0].text),
				Message: fmt.Sprintf("%s: no date stands before this line; when was it?", e.at)})
		} else {
			l.day(&b, e.date, e.dateAt, "")
			if !e.own {
				b.steps = append(b.steps, "date from the line above")
			}
		}
		for _, c := range e.clauses {
			l.clause(b, e, c, k)
		}
		if l.ledger.At(e.at.Row, e.at.Col) == record.Blank {
			l.mark(e.at, record.AsContext)
		}
	}
	return nil
}

// datesOf weighs the dates that the lines begin with: their order of day and month, and the years of those without.
func (l *lines) datesOf() {
	var cells []parse.Cell
	var seq []dayAt
	for _, n := range l.t.Lines {
		for f := l.t.Fields[0]; f <= l.t.Fields[1]; f++ {
			if l.v.Blank(n, f) {
				continue
			}
			if date, _, ok := l.leadingDate(l.v.Stored(n, f)); ok {
				cells, seq = append(cells, date), append(seq, dayAt{date, "", l.v.Ref(n, f)})
			}
			break
		}
	}
	if e := parse.ColumnOrder(cells, nil); l.in.Order == "" && e.Order != "" && len(e.Conflicts) == 0 {
		l.in.Order = e.Order
		clear(l.dates)
		l.last.ok = false
		l.Note(l.page, "dates are read "+e.Reason)
	}
	year := l.in.Year // a title's year is that of the first line: a diary runs on beyond December
	if year != 0 {
		l.in.Year = 0
		clear(l.dates)
		l.last.ok = false
	}
	l.yearsOf(seq, year)
	if len(l.years) == 0 {
		l.in.Year = year
	}
}

// entries parts the lines into date and statements.
func (l *lines) entries() []entry {
	var out []entry
	var last entry
	for _, n := range l.t.Lines {
		e := entry{n: n}
		var texts []string
		for f := l.t.Fields[0]; f <= l.t.Fields[1]; f++ {
			if l.v.Blank(n, f) {
				continue
			}
			cell := l.v.Stored(n, f)
			if len(texts) == 0 && e.date.Text == "" {
				if date, rest, ok := l.leadingDate(cell); ok {
					e.date, e.dateAt, e.own = date, l.v.Ref(n, f), true
					l.mark(e.dateAt, record.AsContext)
					if rest == "" {
						continue
					}
					cell = parse.T(rest)
				}
			}
			if len(texts) == 0 {
				e.at = l.v.Ref(n, f)
			} else {
				l.mark(l.v.Ref(n, f), record.AsContext)
			}
			texts = append(texts, cell.Text)
		}
		if e.date.Text == "" {
			e.date, e.dateAt = last.date, last.dateAt
		}
		last = e
		if len(texts) == 0 {
			continue
		}
		for _, text := range statements(strings.Join(texts, "; ")) {
			e.clauses = append(e.clauses, l.understand(text))
		}
		if len(e.clauses) > 0 {
			out = append(out, e)
		}
	}
	return out
}

// leadingDate finds a date at the beginning of a cell.
func (l *lines) leadingDate(cell parse.Cell) (date parse.Cell, rest string, ok bool) {
	if cell.Stored == parse.Dated {
		return cell, "", true
	}
	words := strings.Fields(cell.Text)
	for len(words) > 1 && (filler(words[0]) || strings.EqualFold(strings.Trim(words[0], ":."), "date") || strings.EqualFold(words[0], "on")) && !strings.ContainsAny(words[0], "0123456789") {
		words = words[1:]
	}
	for n := min(5, len(words)); n > 0; n-- {
		text := strings.TrimRight(strings.Join(words[:n], " "), ":,;-–.")
		if !strings.ContainsAny(text, "0123456789") {
			continue
		}
		_, p := parse.Date(parse.T(text), l.in)
		if p == nil || p.Class == parse.DateAmbiguous || p.Class == parse.DateFuture || p.Class == parse.DateInvalid || p.Class == parse.DateYearMissing || p.Class == parse.WeekdayMismatch {
			return parse.T(text), strings.TrimLeft(strings.Join(words[n:], " "), ":,;-– "), true
		}
	}
	return parse.Cell{}, "", false
}

// statements parts a text at full stops, semicolons, line breaks, and commas that are followed by a space.
func statements(text string) []string {
	var out []string
	from := 0
	cut := func(to, next int) {
		if s := strings.Trim(text[from:to], " \t\r\n.;,"); s != "" {
			out = append(out, s)
		}
		from = next
	}
	for i := 0; i < len(text); i++ {
		space := i+1 >= len(text) || text[i+1] == ' ' || text[i+1] == '\n'
		switch {
		case text[i] == ';' || text[i] == '\n', (text[i] == '.' && (i == 0 || text[i-1] != '.') || text[i] == ',') && space && !ounces(text[i+1:]):
			cut(i, i+1)
		case strings.HasPrefix(text[i:], " and ") && i > from:
			cut(i, i+5)
		}
	}
	cut(len(text), len(text))
	return out
}

// ounces reports whether a text goes on with ounces: "2 lb, 3 oz" is one weight.
func ounces(text string) bool {
	words := strings.Fields(text)
	return len(words) > 1 && strings.HasPrefix(strings.ToLower(words[1]), "oz")
}

// understand finds the bird of a statement and what is said of it.
func (l *lines) understand(text string) clause {
	words := strings.Fields(text)
	for len(words) > 1 && filler(words[0]) {
		words = words[1:]
	}
	for _, doubtful := range []bool{false, true} { // a plain reading first, then one that is worth a question
		for n := 1; n <= min(4, len(words)-1); n++ { // the shortest name: "Bess" and "2 lb 3 oz", not "Bess 2 lb" and "3 oz"
			if c, ok := l.statement(text, words, n, doubtful); ok {
				return c
			}
		}
	}
	if said := strings.Join(words, " "); parse.Amount(said) {
		return clause{text: text, rest: parse.T(said), kind: weightClause}
	}
	return clause{text: text}
}

// goesOn takes a weight that stands alone for one of the bird that the statement before it speaks of: "Hetty moulting hard,
// 1080". It is asked.
func (l *lines) goesOn(before, c clause) clause {
	bird := before.bird
	for _, w := range strings.Fields(before.text) {
		if w = strings.Trim(w, ",.:;()"); bird == "" && l.named(w) {
			bird = w
		}
	}
	said := parse.T(strings.TrimSpace(c.text))
	if bird == "" || said.Text == "" || !strings.ContainsAny(said.Text[:1], "0123456789") {
		return c
	}
	if _, p := parse.Weight(said, parse.WeightIn{}); !weighs(p, len(strings.Fields(said.Text)), false) {
		return c
	}
	return clause{text: c.text, bird: bird, rest: said, kind: weightClause, loose: true}
}

// statement reads a statement whose first n words name the bird.
func (l *lines) statement(text string, words []string, n int, doubtful bool) (clause, bool) {
	bird := strings.TrimRight(strings.Join(words[:n], " "), ":=-–")
	rest := words[n:]
	for len(rest) > 1 && (filler(rest[0]) || strings.Trim(rest[0], "-–=:") == "") {
		rest = rest[1:]
	}
	said := strings.Join(rest, " ")
	if bird == "" || said == "" || filler(words[n-1]) && n > 1 || parse.NoName(bird) || parse.Amount(bird) || parse.NoBird(bird, said) {
		return clause{}, false
	}
	if m := parse.Heading(bird); n == 1 && len(rest) > 1 && len(m) > 0 && m[0].Rest == "" && m[0].Confidence >= 0.5 {
		return clause{}, false // "ring 7 850 g"
	}
	c := clause{text: text, bird: bird, rest: parse.T(said)}
	if strings.ContainsAny(said[:1], "0123456789~<>") {
		if _, p := parse.Weight(c.rest, parse.WeightIn{}); weighs(p, len(rest), doubtful) {
			c.kind = weightClause
			return c, true
		}
	}
	if !l.named(bird) {
		return clause{}, false
	}
	if kind := parse.Parasite(said); kind != "" {
		if _, p := parse.Finding(c.rest, parse.FindingIn{Parasite: kind}); p == nil {
			c.kind = findingClause
			return c, true
		}
	}
	if _, gone := parse.Gone(said); gone {
		c.kind = goneClause
		return c, true
	}
	return clause{}, false
}

// weighs reports whether words of a diary are a weight: plainly, or, where doubtful, one to ask about.
func weighs(p *parse.Problem, words int, doubtful bool) bool {
	if p == nil {
		return true
	}
	switch p.Class {
	case parse.UnitUnknown:
		return words == 1
	case parse.NoteWithNumber, parse.Approximate, parse.Doubtful:
		return true
	case parse.PoundsAmbiguous, parse.OuncesTooMany, parse.UnitSlip, parse.WeightEnormous, parse.WeightTiny:
		return doubtful
	}
	return false
}

// named reports whether a text is the ring or name of a bird that is already known.
func (l *lines) named(bird string) bool {
	ring, name := parse.RingKey(bird), parse.NameKey(bird)
	return slices.Contains(l.weighed, name) || slices.ContainsFunc(l.Flock("").Sightings, func(s *identity.Sighting) bool {
		return s.RingKey == ring && ring != "" || s.NameKey == name && name != ""
	})
}

func filler(word string) bool {
	switch strings.Trim(strings.ToLower(word), ":,.=-–") {
	case "weighed", "weighs", "weigh", "weight", "wt", "was", "is", "at", "now", "today", "again", "has", "had", "", "the", "up", "to", "down", "only":
		return true
	}
	return false
}

// goesWith asks whether a weight that stands alone is of the bird named before it.
func (l *lines) goesWith(b line, e entry, c clause) bool {
	q := record.Question{Class: "weight_of_whom", At: e.at, Raw: c.text, Key: ask.CellKey("weight_of_whom", e.at) + " " + c.text,
		Message:  fmt.Sprintf("%s: is %q the weight of %s, who is named before it?", e.at, parse.Shown(c.text), c.bird),
		Readings: []record.Reading{{Label: "yes, of " + c.bird, Value: "yes"}, {Label: "no, leave it out", Value: "no"}}}
	a, ok := l.replies.Cell(q.Key, q.Raw)
	if !ok {
		b.flock.Ask.Add(q)
		l.mark(e.at, record.AsQuestion)
	}
	return a == "yes"
}

// clause enters one statement.
func (l *lines) clause(b line, e entry, c clause, k *evidence.Pool) {
	if c.bird != "" {
		who := named{name: c.bird}
		if strings.ContainsAny(c.bird, "0123456789") {
			who = named{ring: c.bird}
		}
		b.who = l.sighting(b.flock, who, [2]record.Ref{e.at, e.at})
		b.who.See(b.on)
	}
	if b.who == nil && (c.kind == weightClause || l.fixedName != (named{}) && !scopeIn(c.text)) {
		if l.fixedName == (named{}) {
			l.ofNobody(b, e, c)
			return
		}
		b.who = l.sighting(b.flock, l.fixedName, l.fixedAt)
		b.steps, b.flagged = append(slices.Clone(b.steps), l.fixedFrom), b.flagged || l.loneDoubt
		b.who.See(b.on)
	}
	switch c.kind {
	case weightClause:
		if c.loose && !l.goesWith(b, e, c) {
			return
		}
		r := l.result(k, c.rest, "")
		if r.p != nil {
			if r = l.settleCell(&b, k, r, c.rest, "", e.at); r == nil {
				return
			}
		}
		if b.held {
			l.mark(e.at, record.AsQuestion)
			return
		}
		o := r.obs
		o.On, o.At, o.Text, o.Flagged = b.on, e.at, c.text, b.flagged || r.p != nil
		o.More = l.share(record.Detail{Note: r.note, Steps: append(slices.Clone(b.steps), r.steps...)})
		b.who.Measured = true
		l.mark(e.at, record.AsRecord)
		b.flock.look(&o, b.who, l.table)
	case findingClause:
		f, _ := parse.Finding(c.rest, parse.FindingIn{Parasite: parse.Parasite(c.rest.Text)})
		o := record.Observation{Trait: record.Parasite, Parasite: f.Parasite, Form: f.Form, Value: f.Value, Lo: f.Lo, Hi: f.Hi, Scale: f.Scale,
			On: b.on, At: e.at, Text: c.text, Flagged: b.flagged, More: l.share(record.Detail{Word: f.Word, Note: f.Note, Steps: b.steps})}
		if b.held {
			l.mark(e.at, record.AsQuestion)
			return
		}
		l.mark(e.at, record.AsRecord)
		b.flock.look(&o, b.who, l.table)
	case goneClause:
		kind, _ := parse.Gone(c.rest.Text)
		if p := l.ownDay(&b, c.text); p != nil {
			l.askOrder(&b, p, e.at, c.text)
			return
		}
		l.event(&b, e.at, record.Event{Kind: kind, Text: c.text, Result: reasonFor(kind, c.rest.Text)})
	default:
		for _, w := range strings.Fields(c.text) {
			if w = strings.Trim(w, ",.:;()"); b.who == nil && l.named(w) {
				b.who = l.sighting(b.flock, named{name: w}, [2]record.Ref{e.at, e.at})
			}
		}
		words := strings.Fields(c.text)
		for i := range words {
			for j := i + 1; j <= min(i+2, len(words)); j++ {
				if scope, pen := parse.Scope(strings.Join(words[i:j], " ")); scope != record.OneBird && b.who == nil {
					b.scope, b.pen = scope, pen
				}
			}
		}
		before := b.flock.Ask.Len()
		l.remark(&b, c.text, e.at)
		l.inWords(&b, c.text, e.at)
		if b.flock.Ask.Len() == before && parse.Parasite(c.text) != "" && !l.noneSeen(&b, e, c) {
			q := record.Question{Class: "finding_in_words", At: e.at, Raw: c.text,
				Message:  fmt.Sprintf("%s: %q speaks of parasites, but not in a form that can be read; write it as bird, parasite, finding", e.at, parse.Shown(c.text)),
				Readings: []record.Reading{{Label: "leave it a remark", Value: ""}}}
			if a, ok := l.replies.Cell(ask.CellKey(q.Class, e.at), c.text); !ok || a != "" {
				l.mark(e.at, record.AsQuestion)
				b.flock.Ask.Add(q)
			}
		}
	}
}

package ingest

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/identity"
	"keelmark/ingest/parse"
	"keelmark/ingest/reading"
	"keelmark/ingest/record"
)

// finish decides, for each flock, which bird is which, what was written twice and what cannot be, and builds
// the datasets. Cells outside any flock go to the first.
func (r *reader) finish(ctx context.Context) ([]*record.Dataset, error) {
	if f := r.flocks.Find(""); f != nil && len(r.flocks.Order) > 1 && len(f.Looks)+len(f.Happenings)+len(f.Sightings) == 0 {
		r.flocks.Order = slices.DeleteFunc(r.flocks.Order, func(n string) bool { return n == "" })
		to := r.flocks.Find(r.flocks.Order[0])
		to.Asides = append(to.Asides, f.Asides...)
		to.Rejects = append(to.Rejects, f.Rejects...)
		for _, q := range f.Ask.Questions() {
			to.Ask.Add(q)
		}
	}
	if len(r.flocks.Order) == 0 {
		r.flocks.Flock("")
	}
	ledgers := map[sheetName]*record.Ledger{}
	for _, l := range r.flocks.Ledgers {
		ledgers[sheetName{l.File, l.Sheet}] = l
	}
	r.samples()
	var out []*record.Dataset
	for _, name := range r.flocks.Order {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s := &settling{reader: r, flock: r.flocks.Find(name), ledgers: ledgers}
		out = append(out, s.dataset(name))
	}
	for i := range r.files {
		r.files[i].Notes = append(r.files[i].Notes, r.replies.Outdated(r.files[i].Name)...)
	}
	ledger := make([]record.Ledger, len(r.flocks.Ledgers))
	for i, l := range r.flocks.Ledgers {
		ledger[i] = *l
	}
	for _, d := range out {
		d.Files = r.files
		d.Answers = r.replies.All()
		d.Standards = r.standards
	}
	out[0].Ledgers = ledger
	MarkAsked(out)
	return out, nil
}

type sheetName struct{ file, sheet string }

// settling is the work on one flock as a whole.
type settling struct {
	*reader
	flock   *reading.Flock
	ledgers map[sheetName]*record.Ledger
	id      *identity.Birds
	seen    []seenOn // of each look that stays
	kinds   []kind   // of looks, by number
}

func (s *settling) mark(at record.Ref, f record.Fate) {
	if l := s.ledgers[sheetName{at.File, at.Sheet}]; l != nil && at.Row > 0 && at.Col > 0 {
		l.Mark(at.Row, at.Col, f)
	}
}

func (s *settling) dataset(name string) *record.Dataset {
	f := s.flock
	s.id = identity.Identify(f.Sightings, s.set.Birds)
	s.spellPens()
	gone := s.happenings()
	s.looks(gone)
	s.twice()
	s.yearLike()
	d := &record.Dataset{Name: first(s.set.Flock.Name, s.name), Settings: s.set, Questions: f.Ask.Questions(), Rejects: f.Rejects, Asides: f.Asides}
	if name != "" {
		d.Name = name
	}
	used := make([]bool, len(s.id.All))
	d.Observations = f.Looks
	for _, k := range f.Links {
		if k.Bird >= 0 {
			used[k.Bird] = true
		}
	}
	for _, h := range f.Happenings {
		if h.Bird >= 0 {
			used[h.Bird] = true
		}
		d.Events = append(d.Events, h.Event)
	}
	for i, b := range s.id.All {
		if used[i] || s.id.Known(i) {
			d.Birds = append(d.Birds, b)
		}
	}
	slices.SortStableFunc(d.Rejects, func(a, b record.Reject) int { return a.At.Compare(b.At) })
	return d
}

// place finds the bird of a sighting on a day and tells the keeper of what is in doubt. It returns false
// where nothing may be recorded until that is settled.
func (s *settling) place(who *identity.Sighting, on record.Date, at record.Ref, flagged *bool) (int, bool) {
	if who == nil {
		return -1, true
	}
	bird := s.id.Of(who, on)
	d := who.Doubt
	if d == nil && bird < 0 {
		s.flock.Ask.Add(record.Question{Class: "bird_unknown", At: at, Raw: first(who.Ring, who.Name),
			Message: fmt.Sprintf("%s: no bird is known as %q; which bird is meant?", at, first(who.Ring, who.Name))})
	}
	if d == nil {
		return bird, bird >= 0
	}
	q := record.Question{Class: d.Class, At: d.At, Raw: d.Raw, Message: d.At.String() + ": " + d.Message, Readings: d.Readings}
	q.Key = ask.CellKey(d.Class, d.At)
	if !d.Once {
		q.At = record.Ref{File: at.File, Sheet: at.Sheet, Row: at.Row, Col: d.At.Col}
		if d.At.File != at.File || d.At.Sheet != at.Sheet {
			q.At.Col = at.Col
		}
	}
	if a, ok := s.replies.Cell(q.Key, d.Raw); ok {
		if i := slices.IndexFunc(s.id.All, func(b record.Bird) bool { return b.ID == a }); i >= 0 {
			return i, true
		}
		if bird >= 0 && (a == "yes" || a == "two") {
			return bird, true
		}
		if name, ok := strings.CutPrefix(a, NewBird); ok && strings.TrimSpace(name) != "" {
			return s.newBird(strings.TrimSpace(name), d.At), true
		}
		s.replies.Refuse(q.Key)
	}
	s.flock.Ask.Add(q) // unanswered, or answered with a bird that nobody knows
	if d.Hold || bird < 0 {
		return -1, false
	}
	if !d.Once {
		*flagged = true
	}
	return bird, true
}

// NewBird begins an answer that names a bird which no row knows: "new bird R12".
const NewBird = "new bird "

// newBird is the bird that the keeper has named in an answer.
func (s *settling) newBird(name string, at record.Ref) int {
	if i := slices.IndexFunc(s.id.All, func(b record.Bird) bool { return b.ID == name }); i >= 0 {
		return i
	}
	b := record.Bird{ID: name, Name: name, At: []record.Ref{at}}
	if strings.ContainsAny(name, "0123456789") {
		b.Ring, b.Name = name, ""
	}
	s.id.All = append(s.id.All, b)
	return len(s.id.All) - 1
}

// happenings gives the events their birds and returns the day on which each bird died, where one is known.
func (s *settling) happenings() map[int]record.Event {
	gone := map[int]record.Event{}
	var kept []reading.Happening
	for _, h := range each(s.flock.Happenings) {
		bird, ok := s.place(h.Who, h.Event.On, h.Event.At, &h.Event.Flagged)
		if !ok {
			s.mark(h.Event.At, record.AsQuestion)
			continue
		}
		h.Bird = bird
		if bird >= 0 {
			h.Event.Bird = s.id.All[bird].ID
			if h.Event.Kind == record.Died && h.Event.On.Known() && !h.Event.Flagged { // one that waits for a word proves nothing
				if e, ok := gone[bird]; !ok || h.Event.On.Last < e.On.Last {
					gone[bird] = h.Event
				}
			}
		}
		if e := h.Event; e.On.Known() && bird >= 0 {
			if b := s.id.All[bird]; b.Hatched.Known() && e.On.Last < b.Hatched.First {
				s.flock.Ask.Add(s.beforeHatch(e.At, e.Text, e.On, b))
				s.mark(e.At, record.AsQuestion)
				continue
			}
		}
		kept = append(kept, h)
	}
	s.flock.Happenings = kept
	return gone
}

// each parts what was done to several birds at once into one happening a bird.
func each(all []reading.Happening) []reading.Happening {
	out := make([]reading.Happening, 0, len(all))
	for _, h := range all {
		if h.Who == nil || len(h.Who.Members) == 0 || h.Event.Kind != record.Treated {
			out = append(out, h)
			continue
		}
		for _, m := range h.Who.Members {
			one := h
			one.Who = m
			out = append(out, one)
		}
	}
	return out
}

func (s *settling) beforeHatch(at record.Ref, raw string, on record.Date, b record.Bird) record.Question {
	q := record.Question{Class: "date_before_hatch", At: at, Raw: raw,
		Message: fmt.Sprintf("%s: %s is dated %s, but the bird hatched %s; which is wrong?", at, b.Label(), on, b.Hatched)}
	if on.Exact() {
		if next := on.First.AddMonths(12); next >= b.Hatched.First && (s.today == 0 || next <= s.today) {
			q.Readings = []record.Reading{{Label: next.String(), Value: next.String()}}
		}
	}
	return q
}

// looks gives the observations their birds, holds those that cannot be at their date, and adds ages from
// hatch dates and dates from ages.
func (s *settling) looks(gone map[int]record.Event) {
	s.seen = make([]seenOn, 0, len(s.flock.Looks))
	s.flock.Keep(func(i int) bool {
		o, k := &s.flock.Looks[i], &s.flock.Links[i]
		bird, ok := s.place(k.Who, o.On, o.At, &o.Flagged)
		if !ok {
			s.mark(o.At, record.AsQuestion)
			return false
		}
		k.Bird = int32(bird)
		if bird < 0 {
			s.saw(o, bird)
			return true
		}
		b := &s.id.All[bird]
		o.Bird = b.ID
		if !s.alive(o, bird, gone) {
			return false
		}
		if b.Hatched.Exact() {
			if o.On.Exact() && !o.Age.Known() {
				o.Age = record.AgeDays(int(o.On.First - b.Hatched.First))
			} else if n, ok := o.Age.Days(); ok && !o.On.Known() {
				o.On = record.On(b.Hatched.First + record.Day(n))
			}
		}
		s.saw(o, bird)
		return true
	})
}

// alive reports whether a look may stand at its date: not before the bird hatched and not after it died. Else
// it asks, or takes the keeper's answer: another date, or nothing.
func (s *settling) alive(o *record.Observation, bird int, gone map[int]record.Event) bool {
	if !o.On.Known() {
		return true
	}
	var q record.Question
	b := &s.id.All[bird]
	var e record.Event
	dead := false
	if len(gone) > 0 {
		e, dead = gone[bird]
	}
	switch {
	case b.Hatched.Known() && o.On.Last < b.Hatched.First:
		q = s.beforeHatch(o.At, o.Text, o.On, *b)
	case dead && o.On.First > e.On.Last && o.At != e.At:
		q = record.Question{Class: "date_after_death", At: o.At, Raw: o.Text,
			Message: fmt.Sprintf("%s: %s is dated %s, but %s says that the bird had died by %s; which is wrong?", o.At, b.Label(), o.On, e.At, e.On.Last)}
	default:
		return true
	}
	if a, ok := s.replies.Cell(ask.CellKey(q.Class, q.At), q.Raw); ok {
		when, p := parse.Date(parse.T(a), parse.DateIn{Order: parse.Order(s.set.Dates.Order)})
		if p == nil {
			o.On = when.On
			return true
		}
		if a == "" {
			s.mark(o.At, record.AsContext)
			return false
		}
	}
	s.flock.Ask.Add(q)
	s.mark(o.At, record.AsQuestion)
	return false
}

// again settles a second look of the same kind at the same bird on the same day.
func (s *settling) again(a, b int) {
	first, second := &s.flock.Looks[a], &s.flock.Looks[b]
	label := s.id.All[s.flock.Links[b].Bird].Label()
	when := second.On.String()
	if when == "" {
		n, _ := second.Age.Days()
		when = fmt.Sprintf("day %d of age", n)
	}
	if agree(first, second) {
		d := record.Detail{}
		if first.More != nil {
			d = *first.More
		}
		d.Also = append(slices.Clone(d.Also), second.At)
		first.More = &d
		if s.flock.Links[a].From == s.flock.Links[b].From && first.At.Row != second.At.Row && first.At.Col == second.At.Col {
			s.mark(second.At, record.AsReject)
			s.flock.Ask.Drop(second.At)
			s.flock.Rejects = append(s.flock.Rejects, record.Reject{Class: "duplicate_exact", At: second.At, Raw: second.Text,
				Message: fmt.Sprintf("%s: the same as %s (%s, %s); counted once", second.At, first.At.Cell(), label, when)})
			return
		}
		s.mark(second.At, record.AsContext)
		return
	}
	switch a, ok := s.replies.Cell(ask.CellKey("duplicate_conflict", second.At), second.Text); {
	case ok && a == second.Text:
		s.mark(first.At, record.AsContext)
		*first = *second
		return
	case ok && a == first.Text:
		s.mark(second.At, record.AsContext)
		return
	case ok:
		s.replies.Refuse(ask.CellKey("duplicate_conflict", second.At))
	}
	first.Flagged = true
	s.mark(second.At, record.AsQuestion)
	s.flock.Ask.Add(record.Question{Class: "duplicate_conflict", At: second.At, Raw: second.Text,
		Message:  fmt.Sprintf("%s: %s for %s on %s, but %s says %s; which is right?", second.At, quote(second), label, when, first.At, quote(first)),
		Readings: []record.Reading{{Label: quote(first), Value: first.Text}, {Label: quote(second), Value: second.Text}}})
}

func quote(o *record.Observation) string {
	if o.Trait == record.Weight && o.Form == record.Measured {
		return fmt.Sprintf("%q (%.0f g)", o.Text, o.Value)
	}
	return fmt.Sprintf("%q", o.Text)
}

// agree reports whether two looks say the same. Weights may differ by the rounding of another unit: a
// quarter of an ounce, or one part in two hundred.
func agree(a, b *record.Observation) bool {
	if a.Form != b.Form || a.Scale != b.Scale {
		return false
	}
	if a.Trait == record.Weight && a.Form == record.Measured {
		if a.Text == b.Text || a.Value == b.Value {
			return a.Value == b.Value
		}
		if a.At.Sheet == b.At.Sheet && a.At.File == b.At.File && a.At.Col == b.At.Col {
			return false
		}
		return math.Abs(a.Value-b.Value) <= max(7.1, a.Value/200)
	}
	return a.Value == b.Value && a.Lo == b.Lo && a.Hi == b.Hi && a.Detail().Word == b.Detail().Word
}

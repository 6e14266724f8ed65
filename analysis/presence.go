package analysis

import (
	"fmt"

	"keelmark/ingest/record"
)

// Presence tells which birds were in the flock on a day. A death or departure that waits for the keeper's answer takes
// no bird out: a bird that is shown once too often costs a glance, one that is missing may cost its look.
type Presence struct {
	left    map[string][]record.Event // by bird: sure
	waiting map[string][]record.Event // by bird: flagged, or under an open question
}

// PresenceOf reads the deaths and departures of a flock.
func PresenceOf(d *record.Dataset) *Presence {
	asked := map[record.Ref]bool{}
	for _, q := range d.Questions {
		asked[q.At] = true
		for _, at := range q.More {
			asked[at] = true
		}
	}
	p := &Presence{map[string][]record.Event{}, map[string][]record.Event{}}
	for _, e := range d.Events {
		if e.Bird == "" || e.Kind != record.Died && e.Kind != record.Departed {
			continue
		}
		if e.Flagged || asked[e.At] {
			p.waiting[e.Bird] = append(p.waiting[e.Bird], e)
		} else {
			p.left[e.Bird] = append(p.left[e.Bird], e)
		}
	}
	return p
}

// Gone reports whether the records say, past doubt, that a bird has died or left by a day. An event without a date
// counts for every day.
func (p *Presence) Gone(bird string, by record.Day) bool { return len(upTo(p.left[bird], by)) > 0 }

// There reports whether a bird had hatched and had neither died nor left by a day.
func (p *Presence) There(b record.Bird, on record.Day) bool {
	return !(b.Hatched.Known() && b.Hatched.First > on) && !p.Gone(b.ID, on)
}

// Waiting are the events that would say by a day that a bird has died or left, and that the keeper has not confirmed.
func (p *Presence) Waiting(bird string, by record.Day) []record.Event {
	return upTo(p.waiting[bird], by)
}

// MayBeGone says what such an event waits for.
func MayBeGone(e record.Event) string {
	what := "left"
	if e.Kind == record.Died {
		what = "died"
	}
	return fmt.Sprintf("a cell may say that it %s: %s (%q); confirm or correct it", what, e.At, e.Text)
}

func upTo(events []record.Event, by record.Day) []record.Event {
	var out []record.Event
	for _, e := range events {
		if !e.On.Known() || e.On.First <= by {
			out = append(out, e)
		}
	}
	return out
}

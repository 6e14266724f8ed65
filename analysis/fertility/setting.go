package fertility

import (
	"cmp"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

// Setting is one setting of eggs as far as it was written. A negative count was not written.
type Setting struct {
	Label       string
	On          record.Date
	Pen         string
	Males, Hens []string // bird IDs, or as typed where no bird is known by it
	Known       bool     // exactly one male is known or was alone in the pen
	Set         int
	Clear       int // at candling: infertile, or dead so early that it does not show
	DeadEarly   int
	DeadInShell int
	Hatched     int
	Stored      int      // days, negative where not written
	Doubts      []string // why a comparison must not lean on it
	At          []record.Ref
}

// Fertile counts the eggs that were not clear; false where eggs set or clear ones were not written, or do not fit.
func (s Setting) Fertile() (int, bool) {
	return s.Set - s.Clear, s.Set > 0 && s.Clear >= 0 && s.Clear <= s.Set
}

// Settings collects the settings up to today, oldest first. A hatch written by itself joins the setting of the same label,
// else of the same pen, that was set 17 to 25 days before and has no result yet.
func Settings(d *record.Dataset, today record.Day) (out []Setting, left int) {
	var hatches []record.Event
	for _, e := range d.Events {
		if e.Setting == nil || e.Kind != record.Set && e.Kind != record.Hatch {
			continue
		}
		if e.Flagged || !e.On.Known() || e.On.First > today {
			left++
			continue
		}
		if e.Kind == record.Hatch {
			hatches = append(hatches, e)
			continue
		}
		s := Setting{Label: e.Setting.Label, On: e.On, Pen: e.Pen, Set: e.Setting.Set, Clear: e.Setting.Clear, DeadEarly: e.Setting.DeadEarly,
			DeadInShell: e.Setting.DeadInShell, Hatched: e.Setting.HatchedNo, Stored: e.Setting.StoredDays, At: []record.Ref{e.At}}
		s.parents(d, e)
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b Setting) int { return cmp.Or(cmp.Compare(a.On.First, b.On.First), a.At[0].Compare(b.At[0])) })
	for _, e := range hatches {
		if i := settingOf(out, e); i >= 0 {
			out[i].Hatched = e.Setting.HatchedNo
			out[i].At = append(out[i].At, e.At)
		} else {
			left++
		}
	}
	for i := range out {
		out[i].doubt(d)
	}
	return out, left
}

// Days from setting to hatching of fowl, with room for the day of writing. Source: 21 days, common practice, no source.
const (
	hatchFrom = 17
	hatchTo   = 25
)

func settingOf(list []Setting, e record.Event) int {
	return slices.IndexFunc(list, func(s Setting) bool {
		if s.Hatched >= 0 {
			return false
		}
		if e.Setting.Label != "" || s.Label != "" {
			return strings.EqualFold(e.Setting.Label, s.Label)
		}
		days := int(e.On.First - s.On.First)
		return s.Pen == e.Pen && days >= hatchFrom && days <= hatchTo
	})
}

// parents finds males and hens: as written, else those that the pen holds.
func (s *Setting) parents(d *record.Dataset, e record.Event) {
	s.Males, s.Hens = named(d, e.Setting.Male), named(d, e.Setting.Hen)
	if e.Bird != "" {
		if b, ok := d.Bird(e.Bird); ok {
			switch {
			case b.Sex == record.Male && len(s.Males) == 0:
				s.Males = []string{b.ID}
			case b.Sex != record.Male && len(s.Hens) == 0:
				s.Hens = []string{b.ID}
			}
		}
	}
	if s.Pen != "" && (len(s.Males) == 0 || len(s.Hens) == 0) {
		var males, hens []string
		for _, b := range d.Birds {
			if penOn(d, b, s.On.First) != s.Pen {
				continue
			}
			switch b.Sex {
			case record.Male:
				males = append(males, b.ID)
			case record.Female:
				hens = append(hens, b.ID)
			}
		}
		if len(s.Males) == 0 {
			s.Males = males
		}
		if len(s.Hens) == 0 {
			s.Hens = hens
		}
	}
	s.Known = len(s.Males) == 1
}

// named splits what was typed under a heading for parents ("R12, R14 + R15") into birds.
func named(d *record.Dataset, text string) []string {
	var out []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",;+&/", r) }) {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		if b, ok := d.Bird(part); ok {
			part = b.ID
		}
		if !slices.Contains(out, part) {
			out = append(out, part)
		}
	}
	return out
}

// penOn is the pen of a bird on a day: that of its last move up to then, else of its register.
func penOn(d *record.Dataset, b record.Bird, on record.Day) string {
	pen, last := b.Pen, record.Day(-1<<30)
	for _, e := range d.Events {
		if (e.Kind == record.Moved || e.Kind == record.Mated) && e.Bird == b.ID && !e.Flagged && e.Pen != "" && e.On.Known() && e.On.First <= on && e.On.First >= last {
			pen, last = e.Pen, e.On.First
		}
	}
	return pen
}

// Rules of parentage and storage.
const (
	// PurgeDays after a change of males, eggs may still be the other male's. Source: Mississippi State University Extension,
	// "Time hens continue to produce fertile eggs": about 3 weeks before the new sire is sure.
	PurgeDays = 21
	// StoredLong is the storage from which an arm must not be compared with one stored less. Source: domain notes 4.6.
	StoredLong = 10
)

// doubt notes why the father is not sure.
func (s *Setting) doubt(d *record.Dataset) {
	if len(s.Males) > 1 {
		s.Doubts = append(s.Doubts, "several males were with the hens")
	}
	for _, e := range d.Events {
		if e.Kind != record.Moved && e.Kind != record.Mated || e.Flagged || !e.On.Known() || s.Pen == "" {
			continue
		}
		b, ok := d.Bird(e.Bird)
		if !ok || b.Sex != record.Male || e.On.First > s.On.First || e.On.Last <= s.On.First-PurgeDays {
			continue
		}
		into := e.Pen == s.Pen && slices.Contains(s.Males, b.ID) // the new male; if hens were without one before, he is the only father
		away := e.Pen != s.Pen && !slices.Contains(s.Males, b.ID) && penOn(d, b, e.On.First-1) == s.Pen
		if away || into && otherBefore(d, *s, b.ID, e.On.First) {
			s.Doubts = append(s.Doubts, "males changed less than 21 days before")
			return
		}
	}
}

// otherBefore reports whether another male was in the pen within PurgeDays before the setting, up to the day that the
// setting's own male came.
func otherBefore(d *record.Dataset, s Setting, own string, came record.Day) bool {
	return slices.ContainsFunc(d.Birds, func(b record.Bird) bool {
		return b.Sex == record.Male && b.ID != own && (penOn(d, b, came-1) == s.Pen || penOn(d, b, s.On.First-PurgeDays) == s.Pen)
	})
}

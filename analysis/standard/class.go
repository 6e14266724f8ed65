package standard

import (
	"fmt"
	"time"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Rule is how a show tells a young bird from an adult. The zero Rule is Birthday.
type Rule struct {
	Kind  string     // Birthday, CalendarYear or SeasonStart
	Month time.Month // of the season start
	Day   int
	// Assumed is set where the show's rule was not stated and Birthday stands in.
	Assumed bool
}

// The kinds of rule.
//
// Source: Birthday: cock and hen one year or older, common glossaries of hatcheries and breed clubs;
// CalendarYear: "hatched in the calendar year of the show", in use at some shows (exhibitors' accounts; an
// extension sheet says that some fairs count from January 1, others from one year of age). SeasonStart: common
// practice, no source.
const (
	Birthday     = "birthday"
	CalendarYear = "calendar-year"
	SeasonStart  = "season-start"
)

// RuleOf reads the rule from the show's settings. Where none is stated it is Birthday, marked Assumed. It is an
// error where the rule is unknown or season-start lacks its day.
func RuleOf(s record.ShowSettings) (Rule, error) {
	switch s.ClassRule {
	case "":
		return Rule{Kind: Birthday, Assumed: true}, nil
	case Birthday, CalendarYear:
		return Rule{Kind: s.ClassRule}, nil
	case SeasonStart:
		month, day, err := monthDay(s.SeasonStart)
		if err != nil {
			return Rule{}, fmt.Errorf("[show] season_start: %w", err)
		}
		return Rule{Kind: SeasonStart, Month: month, Day: day}, nil
	}
	return Rule{}, fmt.Errorf("[show] class_rule %q is not known; write %s, %s or %s", s.ClassRule, Birthday, CalendarYear, SeasonStart)
}

// monthDay reads "12-01".
func monthDay(s string) (time.Month, int, error) {
	t, err := time.Parse("01-02", s)
	if err != nil {
		return 0, 0, fmt.Errorf("%q is not a month and day; write it as 12-01", s)
	}
	return t.Month(), t.Day(), nil
}

// String says the rule in words.
func (r Rule) String() string {
	switch r.Kind {
	case CalendarYear:
		return "young if hatched in the calendar year of the show"
	case SeasonStart:
		return fmt.Sprintf("young if hatched since the season's start on %d %s", r.Day, r.Month)
	}
	if r.Assumed {
		return "young until one year old (the show's rule is not stated; this is assumed)"
	}
	return "young until one year old"
}

// adult reports whether a bird hatched on one day shows as an adult on another.
func (r Rule) adult(hatched, on record.Day) bool {
	switch r.Kind {
	case CalendarYear:
		born, _, _ := hatched.Date()
		year, _, _ := on.Date()
		return born < year
	case SeasonStart:
		return hatched < lastOccurrence(on, r.Month, r.Day)
	}
	return hatched.AddMonths(12) <= on
}

// lastOccurrence is the latest day with this month and day that is not after on. 29 February counts as 28 in
// other years.
func lastOccurrence(on record.Day, month time.Month, day int) record.Day {
	year, _, _ := on.Date()
	for ; ; year-- {
		first, _ := record.DayOf(year, month, 1)
		last := first.AddMonths(1) - 1
		if d := min(first+record.Day(day)-1, last); d <= on {
			return d
		}
	}
}

// ClassOn returns the classes that a bird may belong to on a day, the likelier to matter first: one where the
// records settle it, two where its hatch date is unknown or an interval that straddles the rule's border (the
// adult class first). It refuses where the sex is not known or the bird hatches only after that day.
func ClassOn(b record.Bird, on record.Day, rule Rule) ([]record.Class, *analysis.Refusal) {
	var adult, young record.Class
	switch b.Sex {
	case record.Male:
		adult, young = record.Cock, record.Cockerel
	case record.Female:
		adult, young = record.Hen, record.Pullet
	default:
		return nil, &analysis.Refusal{
			Needs: "the sex of " + b.Label() + " is not known, and classes are by sex",
			Next:  "write the sex of " + b.Label(),
		}
	}
	if !b.Hatched.Known() {
		return []record.Class{adult, young}, nil
	}
	if b.Hatched.First > on {
		return nil, &analysis.Refusal{
			Needs: fmt.Sprintf("%s is hatched %s, after %s", b.Label(), b.Hatched, on),
			Next:  "check the hatch date of " + b.Label(),
		}
	}
	oldest, youngest := rule.adult(b.Hatched.First, on), rule.adult(min(b.Hatched.Last, on), on)
	switch {
	case oldest && youngest:
		return []record.Class{adult}, nil
	case !oldest && !youngest:
		return []record.Class{young}, nil
	}
	return []record.Class{adult, young}, nil
}

// Adult reports whether a class is one of grown birds.
func Adult(c record.Class) bool { return c == record.Cock || c == record.Hen }

// oldestFowl bounds an unknown hatch date from below.
const oldestFowl = 20 * 365

// KnownHatch returns a bird with its hatch date narrowed by the records: a bird that was weighed, checked or
// named in an event on a day had hatched by then.
func KnownHatch(d *record.Dataset, b record.Bird) record.Bird {
	seen, any := record.Day(0), false
	note := func(on record.Date) {
		if on.Known() && (!any || on.Last < seen) {
			seen, any = on.Last, true
		}
	}
	for _, o := range d.Observations {
		if o.Bird == b.ID {
			note(o.On)
		}
	}
	for _, e := range d.Events {
		if e.Bird == b.ID && e.Kind != record.Hatched {
			note(e.On)
		}
	}
	switch {
	case !any:
	case !b.Hatched.Known():
		b.Hatched = record.Between(seen-oldestFowl, seen)
	case seen < b.Hatched.Last && seen >= b.Hatched.First:
		b.Hatched = record.Between(b.Hatched.First, seen)
	}
	return b
}

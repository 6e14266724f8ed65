package standard

import (
	"fmt"
	"slices"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Place is one class that a bird may be shown in, with its band.
type Place struct {
	Class record.Class
	// OnTheDay is false for a class that the bird holds today and leaves before the day.
	OnTheDay bool
	Band     Band
	Choice   Choice
	Refusal  *analysis.Refusal // set where no weight is known for the class; Band is then empty
}

// Places returns the classes of a bird on a day: one, or two where the hatch date does not settle it or where a
// class border falls between today and the day. It refuses as ClassOn does. The bird's hatch date should have
// been narrowed by KnownHatch.
func Places(c analysis.Context, b record.Bird, on record.Day, rule Rule, terms Terms) ([]Place, *analysis.Refusal) {
	classes, refusal := ClassOn(b, on, rule)
	if refusal != nil {
		return nil, refusal
	}
	then := len(classes)
	if c.Today < on {
		today, refusal := ClassOn(b, c.Today, rule)
		if refusal == nil {
			for _, class := range today {
				if !slices.Contains(classes, class) {
					classes = append(classes, class)
				}
			}
		}
	}
	terms.Hatched = b.Hatched
	var places []Place
	for i, class := range classes {
		p := Place{Class: class, OnTheDay: i < then}
		p.Choice, p.Refusal = Find(c.Standards, WantedFor(b, c.Settings, class))
		if p.Refusal == nil {
			p.Band, p.Refusal = BandFor(p.Choice, class, on, terms)
		}
		places = append(places, p)
	}
	return places, nil
}

// ClassCaveats says by which rule the classes were told, and why there is more than one.
func ClassCaveats(places []Place, on record.Day, rule Rule) []string {
	out := []string{"class by the show's rule: " + rule.String()}
	switch {
	case len(places) < 2:
	case !places[len(places)-1].OnTheDay:
		out = append(out, fmt.Sprintf("a class border falls between today and %s: both classes are shown", on))
	default:
		out = append(out, "the hatch date is not known closely enough to tell the class: both are shown")
	}
	return out
}

// ClaimID names the claim of one place of a bird: "forecast.band/R12", with the class where there are several.
func ClaimID(kind string, b record.Bird, places []Place, i int) string {
	id := kind + "/" + b.ID
	if len(places) > 1 {
		id += "/" + string(places[i].Class)
	}
	return id
}

// TermsOf reads the terms that options and settings give: tolerance in percent, 0 for none, and the day from which
// young birds are covered, "" for none.
func TermsOf(s record.Settings, tolerance float64, youngFrom string) (Terms, error) {
	if !(tolerance >= 0 && tolerance < 100) {
		return Terms{}, fmt.Errorf("tolerance must lie between 0 and 100 %%, not %v", tolerance)
	}
	if youngFrom != "" {
		if _, _, err := monthDay(youngFrom); err != nil {
			return Terms{}, fmt.Errorf("young_from: %w", err)
		}
	}
	return Terms{Share: tolerance / 100, YoungFrom: youngFrom, South: s.Flock.Hemisphere == "south"}, nil
}

// Present returns the birds that have not, past doubt, died or left by a day; with a ring or name only that bird, gone or
// not.
// It is an error where no one bird is known by it.
func Present(d *record.Dataset, ring string, by record.Day) ([]record.Bird, error) {
	if ring != "" {
		b, ok := d.Bird(ring)
		if !ok {
			return nil, fmt.Errorf("no one bird is known as %q; write its ring as the sheet does", ring)
		}
		return []record.Bird{b}, nil
	}
	var out []record.Bird
	here := analysis.PresenceOf(d)
	for _, b := range d.Birds {
		if !here.Gone(b.ID, by) {
			out = append(out, b)
		}
	}
	return out, nil
}

// DecisionDay is the day that a decision is about: the one asked for, else the first day of the show, else
// today.
func DecisionDay(asked record.Day, c analysis.Context) record.Day {
	switch {
	case asked != 0:
		return asked
	case c.Settings.Show.Date.Known():
		return c.Settings.Show.Date.First
	}
	return c.Today
}

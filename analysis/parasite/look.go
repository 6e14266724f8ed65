package parasite

import (
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Finding says what a look found.
type Finding uint8

// The findings. Unclear is a look whose note does not say whether anything was found ("<5").
const (
	NoneFound Finding = iota
	Found
	Unclear
)

var findingNames = [...]string{"none seen", "found", "unclear"}

// String names the finding.
func (f Finding) String() string { return findingNames[f] }

// NotSaid is the parasite of a look whose kind the records do not name.
const NotSaid = "parasites, kind not said"

// Plural names many of a parasite in a sentence: "body lice", "red mites". What is no name of one it leaves as it is.
func Plural(parasite string) string {
	if parasite == NotSaid {
		return "parasites of a kind not said"
	}
	if kind, ok := strings.CutSuffix(parasite, "louse"); ok {
		return kind + "lice"
	}
	if strings.HasSuffix(parasite, "mite") {
		return parasite + "s"
	}
	return parasite
}

// Look is one look at one bird for one parasite. Not having looked is the absence of a Look.
type Look struct {
	Bird     string
	Pen      string
	Parasite string
	On       record.Date
	Finding  Finding
	Text     string // as typed
	At       record.Ref
	Shared   bool // a look at the bird's pen or flock that names no single birds
}

// findingOf reads an observation. A step of a scale counts as none where it is 0 or where the keeper's scale calls
// it none; the lowest step of a declared scale that begins above 0 and has no such word is unclear.
func findingOf(o record.Observation, scales map[string]record.Scale) Finding {
	switch o.Form {
	case record.Range:
		if o.Hi <= 0 {
			return NoneFound
		}
		if o.Lo <= 0 {
			return Unclear
		}
	case record.LessThan:
		return Unclear
	case record.MoreThan:
		return Found
	case record.AtLeast:
		if o.Lo <= 0 {
			return Unclear
		}
	case record.Ordinal:
		scale, declared := scales[o.Parasite]
		if !declared {
			scale, declared = scales[o.Scale]
		}
		if none, ok := scale.Words["none"]; ok && o.Value <= none || o.Value == 0 {
			return NoneFound
		} else if !ok && declared && scale.Min > 0 && o.Value <= scale.Min {
			return Unclear
		}
	default:
		if o.Value == 0 {
			return NoneFound
		}
	}
	return Found
}

// Looks lists every look of a flock that has a date and falls on or before today, oldest first; scales are the
// keeper's, by name. A check of a
// pen or of the flock that found nothing is a look at each bird that was there; one that found something does
// not say on which bird, and is a Look only in the flock's own list (bird "").
func Looks(d *record.Dataset, scales map[string]record.Scale, today record.Day) []Look {
	var out []Look
	here := analysis.PresenceOf(d)
	for _, o := range d.Observations {
		if o.Trait != record.Parasite || !usable(o.On, today) {
			continue
		}
		l := Look{Bird: o.Bird, Pen: o.Detail().Pen, Parasite: name(o.Parasite), On: o.On, Finding: findingOf(o, scales), Text: o.Text, At: o.At}
		if s := o.Detail().Scope; s == record.WholePen || s == record.WholeFlock {
			l.Bird = "" // found on a perch or in the house: not on the bird of its row
		}
		if l.Bird != "" {
			out = append(out, l)
			continue
		}
		out = append(out, spread(d, here, l)...)
	}
	for _, e := range d.Events {
		if e.Kind != record.Checked || e.Check == nil || !usable(e.On, today) {
			continue
		}
		l := Look{Bird: e.Bird, Pen: e.Pen, Parasite: name(e.Check.Parasite), On: e.On, Text: e.Text, At: e.At}
		switch {
		case e.Check.Found > 0:
			l.Finding = Found
		case e.Check.Found < 0:
			l.Finding = Unclear
		}
		if e.Bird != "" {
			out = append(out, l)
			continue
		}
		out = append(out, spread(d, here, l)...)
	}
	slices.SortStableFunc(out, func(a, b Look) int {
		if c := int(a.On.First) - int(b.On.First); c != 0 {
			return c
		}
		if c := a.At.Compare(b.At); c != 0 {
			return c
		}
		return strings.Compare(a.Bird, b.Bird)
	})
	return out
}

// Named lists the parasites that looks are for, in order of their first look.
func Named(looks []Look) []string {
	var out []string
	for _, l := range looks {
		if !slices.Contains(out, l.Parasite) {
			out = append(out, l.Parasite)
		}
	}
	return out
}

func usable(on record.Date, today record.Day) bool { return on.Known() && on.First <= today }

func name(parasite string) string {
	if parasite == "" {
		return NotSaid
	}
	return parasite
}

// spread gives a look at a pen or the flock to the birds it covers.
func spread(d *record.Dataset, here *analysis.Presence, l Look) []Look {
	if c, ok := LifeCycleOf(l.Parasite); ok && !c.OnBird || l.Finding != NoneFound {
		return []Look{l} // a house finding, or nobody knows on which bird
	}
	var out []Look
	for _, b := range d.Birds {
		if l.Pen != "" && b.Pen != l.Pen || !here.There(b, l.On.First) {
			continue
		}
		one := l
		one.Bird, one.Shared = b.ID, true
		out = append(out, one)
	}
	if len(out) == 0 {
		return []Look{l}
	}
	return out
}

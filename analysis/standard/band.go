package standard

import (
	"fmt"
	"math"
	"strings"
	"time"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Band is what a standard's written rule says about the weight of one class, in grams.
type Band struct {
	Class record.Class
	Row   record.PublishedWeight
	// Printed is the published figure; see record.WeightRange for targets, ranges and single bounds.
	Printed record.WeightRange
	// Low and High bound the band: 0 and +Inf where it is open. Both are NaN where the source gives a target
	// and no tolerance is known.
	Low, High float64
	// Tolerance is the share of the target allowed either way, NaN where the band is as printed.
	Tolerance float64
	// Rule says in words where the band comes from; RuleSource names the source of the tolerance.
	Rule, RuleSource string
	Caveats          []string
}

// Terms are what a band depends on beside the published row.
type Terms struct {
	// Share allowed either way, set by the keeper for standards whose tolerance rule was not found, such as
	// 0.1; 0 means none set.
	Share float64
	// YoungFrom is the month and day from which a standard's weight rule covers young birds, "12-01"; ""
	// means as that standard writes it.
	YoungFrom string
	// Hatched is when the bird hatched, as far as it is known.
	Hatched record.Date
	// South turns the season of the moult.
	South bool
}

// writtenRule is a tolerance that a standard states.
type writtenRule struct {
	of        func(record.PublishedWeight) bool
	share     float64
	youngFrom string
	name      string
	source    string
}

// writtenRules lists the tolerances that were found in a standard's own words. For all others none is assumed.
//
// Source: American Poultry Association, notice of an omission in the Standard of Perfection, 45th edition,
// November 2023: birds more than 20 percent above or below the weight listed for breed, sex and age come under
// the rule; young birds only from 1 December; due allowance for adults in moult in late summer and fall.
func writtenRules() []writtenRule {
	return []writtenRule{{
		of: func(w record.PublishedWeight) bool {
			return strings.HasPrefix(w.Standard, "American Standard") && !old(w) || strings.HasPrefix(w.Standard, "American Poultry Association")
		},
		share:     0.20,
		youngFrom: "12-01",
		name:      "American Poultry Association",
		source:    "American Poultry Association, notice of November 2023 on the Standard of Perfection, 45th edition",
	}}
}

// BandFor returns the band of a class on a day. It refuses where the row gives no weight for the class. Where
// the row gives a target and neither its standard nor the keeper states a tolerance, Low and High are NaN and
// the rule is "a source that states no tolerance".
func BandFor(c Choice, class record.Class, on record.Day, terms Terms) (Band, *analysis.Refusal) {
	w := c.Chosen
	printed := w.Weights[class]
	if !printed.Published() {
		return Band{}, &analysis.Refusal{
			Needs: fmt.Sprintf("the source here (%s) prints no %s weight for %s%s", sourceName(w), class, w.Breed, alsoFrom(c, class)),
			Next:  "ask your breed club for the weight of this class and give it as a table of your own, named by standard_table in flock.toml",
		}
	}
	b := Band{Class: class, Row: w, Printed: printed, Low: math.NaN(), High: math.NaN(), Tolerance: math.NaN()}
	b.Caveats = append(b.Caveats, c.Caveats...)
	isTarget := printed.Low == printed.High
	twoSided := printed.Low > 0 && printed.High > 0
	for _, r := range writtenRules() {
		if !twoSided || !r.of(w) {
			continue
		}
		b.widen(r.share)
		b.Rule, b.RuleSource = fmt.Sprintf("the written rule of the %s", r.name), r.source
		b.Caveats = append(b.Caveats, r.allowances(class, on, terms)...)
		b.Caveats = append(b.Caveats, "many shows compare birds by hand and never weigh them")
		return b, nil
	}
	from := "the source"
	if w.SourceKind == record.OwnTable {
		from = w.SourceKind
	}
	switch {
	case isTarget && terms.Share > 0:
		b.widen(terms.Share)
		b.Rule = "a tolerance that the keeper set, as the standard's own was not found"
	case isTarget:
		b.Rule = "a source that states no tolerance"
		if w.SourceKind == record.OwnTable {
			b.Rule = "your own table, which states no tolerance"
		}
		b.Caveats = append(b.Caveats, from+" gives a target and no tolerance: how far from it a show allows is not stated")
	default:
		b.Low, b.High = printed.Low, printed.High
		if b.High == 0 {
			b.High = math.Inf(1)
		}
		b.Rule = from + " as printed"
	}
	return b, nil
}

// sourceName is the row's name with the kind of its source.
func sourceName(w record.PublishedWeight) string {
	if w.SourceKind == record.OwnTable {
		return RowName(w)
	}
	return RowName(w) + "; " + w.SourceKind
}

func (b *Band) widen(share float64) {
	b.Tolerance = share
	b.Low, b.High = b.Printed.Low*(1-share), b.Printed.High*(1+share)
}

// allowances are the exceptions that the rule itself makes on the day.
func (r writtenRule) allowances(class record.Class, on record.Day, terms Terms) []string {
	var out []string
	if !Adult(class) {
		from := r.youngFrom
		if terms.YoungFrom != "" {
			from = terms.YoungFrom
		}
		m, d, err := monthDay(from)
		if err != nil || lastOccurrence(on, m, d) > hatchedBy(terms.Hatched, on) {
			return nil // the rule's day has come since the bird hatched
		}
		out = append(out, fmt.Sprintf("that standard applies its weight rule to young birds only from %d %s", d, m))
		if terms.South && terms.YoungFrom == "" {
			out = append(out, "that date is a northern one; set young_from for southern shows")
		}
		return out
	}
	_, month, _ := on.Date()
	first, last := time.August, time.November
	if terms.South {
		first, last = time.February, time.May
	}
	if first <= month && month <= last {
		out = append(out, "that standard asks due allowance for adults light in moult in late summer and autumn")
	}
	return out
}

// hatchedBy is the last day on which a bird may have hatched; a bird of unknown age is taken for one of the year.
func hatchedBy(hatched record.Date, on record.Day) record.Day {
	if hatched.Known() {
		return hatched.Last
	}
	return on - record.Day(on.YearDay()) + 1
}

// alsoFrom names the other sources that give a weight for the class.
func alsoFrom(c Choice, class record.Class) string {
	var from []string
	for _, o := range c.Differing(class) {
		from = append(from, fmt.Sprintf("%s (%s)", o.Figure(class), RowName(o)))
	}
	if len(from) == 0 {
		return ""
	}
	return "; other sources print " + strings.Join(from, ", ")
}

// Stated reports whether the band has bounds.
func (b Band) Stated() bool { return !math.IsNaN(b.Low) }

// Chance returns the chance that a weight lies inside the band, its ends included; NaN where the band has no
// bounds or nothing is predicted.
func (b Band) Chance(p Predictive) float64 {
	if !b.Stated() || !p.Known() {
		return math.NaN()
	}
	below := 0.0
	if b.Low > 0 {
		below = p.CDF(math.Nextafter(b.Low, 0))
	}
	return max(0, p.CDF(b.High)-below)
}

// Target is the figure that a weight is compared with, in grams: the target, the middle of a printed range, or
// its only bound. Of names which.
func (b Band) Target() (grams float64, of string) {
	switch {
	case b.Printed.Low == 0:
		return b.Printed.High, "maximum"
	case b.Printed.High == 0:
		return b.Printed.Low, "minimum"
	case b.Printed.Low == b.Printed.High:
		return b.Printed.Low, "listed weight"
	}
	return (b.Printed.Low + b.Printed.High) / 2, "middle of the printed range"
}

// Text prints the band: "590 to 885 g (26 oz ± 20 %)". Rule completes it: "... by the written rule of ...".
func (b Band) Text(u analysis.Units) string {
	printed := strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(b.Printed.Printed, " max"), " min") + " " + b.Row.Unit)
	switch {
	case b.Stated() && math.IsNaN(b.Tolerance) && printed == u.Range(b.Low, b.High):
		return printed
	case !b.Stated():
		return fmt.Sprintf("%s (%s)", u.Weight(b.Printed.Low), printed)
	case !math.IsNaN(b.Tolerance):
		return fmt.Sprintf("%s (%s ± %.0f %%)", u.Range(b.Low, b.High), printed, 100*b.Tolerance)
	case math.IsInf(b.High, 1):
		return fmt.Sprintf("at least %s (%s)", u.Weight(b.Low), printed)
	case b.Low == 0:
		return fmt.Sprintf("at most %s (%s)", u.Weight(b.High), printed)
	}
	return fmt.Sprintf("%s (%s)", u.Range(b.Low, b.High), printed)
}

// Origin names the standard, country, edition, kind of source and source of the band.
func (b Band) Origin() string {
	s := Origin(b.Row)
	if b.RuleSource != "" {
		s += "; tolerance: " + b.RuleSource
	}
	return s
}

package forecast

import (
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/forecast/pooled"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Line is what is known of the birds of one breed, size, strain and sex together.
type Line struct {
	Line     record.Line
	Birds    int // with growing weights of a known age
	Followed int // of these, for at least MinLineDays
	// TableGrams is the published weight of the grown class on which the line's mature weight is centred, 0
	// where none is known; TableFrom names it.
	TableGrams float64
	TableFrom  string
	// What the records and the table together say of the line: mature weight in g, age at the inflection in
	// weeks, rate per week and shape (0 Gompertz, 1 logistic), 90 % intervals.
	Mature, Inflection, Rate, Shape analysis.Estimate
	// Scatter of a good weighing, and the SD of birds in mature weight, both as a share; posterior medians.
	Scatter, Spread float64
	Setback         *pooled.Setback
	// Blind is the size, as a share of weight, below which a setback of the whole line may not show in its weighings;
	// +Inf where they could tell of none.
	Blind float64
	// Draws is the effective number of draws over which the unknowns were integrated.
	Draws float64
	Refs  []record.Ref

	row     record.PublishedWeight // that TableGrams is from
	members []member
	known   pooled.Posterior
}

// member is one bird of a line with its growing weighings.
type member struct {
	bird      record.Bird
	weighings []Weighing
}

const (
	// tableSD is how far a line's mean lies from the published weight, as a share: Keelmark's own assumption.
	tableSD = 0.12
	// boundSD is the same where the source prints only a maximum, a minimum or a range.
	boundSD = 0.20
	// openSD stands in where no weight is published.
	openSD = 0.60
)

// centre gives the line's mature weight before its records are seen, and its relative SD.
func (l *Line) centre(c analysis.Context) (grams, sd float64) {
	class := record.Hen
	if l.Line.Sex == record.Male {
		class = record.Cock
	}
	b := l.members[0].bird
	if choice, refusal := standard.Find(c.Standards, standard.WantedFor(b, c.Settings, class)); refusal == nil {
		if w := choice.Chosen.Weights[class]; w.Published() {
			band := standard.Band{Printed: w}
			l.TableGrams, _ = band.Target()
			l.row = choice.Chosen
			l.TableFrom = standard.Origin(choice.Chosen)
			if w.Low == w.High {
				return l.TableGrams, tableSD
			}
			return l.TableGrams, boundSD
		}
	}
	heaviest, oldest := 0.0, 0.0
	for _, m := range l.members {
		for _, w := range m.weighings {
			heaviest, oldest = max(heaviest, w.Grams), max(oldest, w.Age)
		}
	}
	return heaviest / pooled.TypicalShare(oldest), openSD
}

// fit integrates what is not known of the line.
func (l *Line) fit(c analysis.Context) {
	followed := 0
	var tracks []pooled.Track
	for _, m := range l.members {
		tracks = append(tracks, trackOf(m.weighings))
		if m.weighings[len(m.weighings)-1].Age >= MinLineDays/7 {
			followed++
		}
		for _, w := range m.weighings {
			l.Refs = append(l.Refs, w.From.At)
		}
	}
	slices.SortFunc(l.Refs, record.Ref.Compare)
	l.Refs = slices.Compact(l.Refs)
	l.Birds, l.Followed = len(l.members), followed
	grams, sd := l.centre(c)
	l.known = pooled.Integrate(grams, sd, tracks)
	l.Setback, l.Blind, l.Draws = l.known.Setback, l.known.Blind, l.known.Draws
	sum := l.known.Summary()
	l.Mature, l.Inflection, l.Rate, l.Shape = sum.Mature, sum.Inflection, sum.Rate, sum.Shape
	l.Scatter, l.Spread = sum.Scatter.Value, sum.Spread.Value
}

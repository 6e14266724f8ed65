package forecast

import (
	"math"
	"slices"

	"keelmark/analysis"
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
	Setback         *Setback
	// Blind is the size, as a share of weight, below which a setback of the whole line may not show in its weighings;
	// +Inf where they could tell of none.
	Blind float64
	// Draws is the effective number of draws over which the unknowns were integrated.
	Draws float64
	Refs  []record.Ref

	row     record.PublishedWeight // that TableGrams is from
	members []member
	tracks  []track
	known   posterior
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
			l.TableFrom = standard.RowName(choice.Chosen) + "; " + choice.Chosen.SourceKind + ": " + choice.Chosen.Source
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
	reached := newCurve(0, math.Log(rateCentre), math.Log(inflectionCentre), 0)
	f, _, _, _ := reached.at(oldest)
	return heaviest / math.Exp(f), openSD
}

// fit integrates what is not known of the line.
func (l *Line) fit(c analysis.Context) {
	followed := 0
	for _, m := range l.members {
		l.tracks = append(l.tracks, trackOf(m.weighings))
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
	l.known = integrate(priorFor(l.centre(c)), l.tracks)
	l.Setback, l.Blind = l.known.setback, l.known.blind
	l.Draws = l.known.effective
	l.Mature = l.known.estimate("g", func(p *pool) float64 { return math.Exp(p.mean.logA) })
	l.Inflection = l.known.estimate("weeks", func(p *pool) float64 { return p.mean.ti })
	l.Rate = l.known.estimate("per week", func(p *pool) float64 { return p.mean.k })
	l.Shape = l.known.estimate("", func(p *pool) float64 { return p.mean.nu })
	l.Scatter = l.known.estimate("", func(p *pool) float64 { return p.noise }).Value
	l.Spread = l.known.estimate("", func(p *pool) float64 { return p.spread[0] }).Value
}

// estimate is the median and 90 % interval of a quantity of the pool.
func (p posterior) estimate(unit string, of func(*pool) float64) analysis.Estimate {
	var values []float64
	for i := range p.draws {
		values = append(values, of(&p.draws[i].pool))
	}
	slices.Sort(values)
	at := func(share float64) float64 { return values[int(share*float64(len(values)-1)+0.5)] }
	return analysis.Estimate{Value: at(0.5), Low: at(0.05), High: at(0.95), Level: 0.9, Unit: unit}
}

// bad is the chance that each weighing of a bird is a bad one.
func (p posterior) bad(t *track, bird int) []float64 {
	out := make([]float64, len(t.ages))
	total := 0.0
	for i := range p.draws {
		d := &p.draws[i]
		total += d.weight
		for r, m := range d.birds[bird] {
			for j, is := range p.readings[bird][r].bad {
				if is {
					out[j] += d.weight * m.weight
				}
			}
		}
	}
	for j := range out {
		out[j] /= total
	}
	return out
}

package slip

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// withEffects adds to each reading what the bird's estimate at its last weighing would be with it, where the readings
// differ in that. estimate returns false for readings that tell no weight.
func (s *search) withEffects(readings []record.Reading, estimate func(value string) (float64, bool)) []record.Reading {
	texts, differ := make([]string, len(readings)), false
	first := ""
	for i, r := range readings {
		if log, ok := estimate(r.Value); ok {
			texts[i] = weightText(math.Exp(log), s.units)
			if first == "" {
				first = texts[i]
			}
			differ = differ || texts[i] != first
		}
	}
	if !differ {
		return readings
	}
	out := slices.Clone(readings)
	for i, text := range texts {
		if text != "" {
			out[i].Label += "; its estimate is then about " + text
		}
	}
	return out
}

// grams reads the value of a reading that is a weight, "939 g".
func grams(value string) (float64, bool) {
	number, unit, _ := strings.Cut(value, " ")
	x, err := strconv.ParseFloat(number, 64)
	return x, err == nil && unit == "g" && x > 0
}

// estimateIf is the bird's expected log weight at its last weighing, were weighing i what a reading says: a weight, as it
// is, or empty.
func (h *history) estimateIf(i int, o record.Observation, value string) (float64, bool) {
	last := h.w[len(h.w)-1].day
	log, weighs := h.w[i].log, true
	switch g, ok := grams(value); {
	case ok:
		log = math.Log(g)
	case value == LeaveEmpty:
		weighs = false
	case value != AsItIs:
		return 0, false
	}
	if !weighs && len(h.w) == 1 {
		return 0, false
	}
	was, off := h.e.doubted[i], h.e.off[i]
	defer func() {
		h.e.off[i] = off
		if was {
			h.e.doubt(i)
		} else {
			h.e.believe(i)
		}
		h.e.pulls()
	}()
	h.e.off[i] = log - h.e.mean(h.e.days[i])
	if weighs {
		h.e.believe(i)
	} else {
		h.e.doubt(i)
	}
	h.e.pulls()
	return h.e.on(last), true
}

// offer adds to the questions about weights that no bird can have, which are no records, what they may have been
// instead: other digits or another unit, the best fitting first, each with the estimate that would follow. The bird and
// the day are told by the cells about it; where they are not, the weights of its column say what is plausible.
func (s *search) offer(questions []record.Question) {
	held := []string{"weight_enormous", "weight_tiny", string(UnitSlip)}
	read := map[record.Ref]bool{}
	for _, o := range s.d.Observations {
		read[o.At] = true
	}
	for k := range questions {
		q := &questions[k]
		if !slices.Contains(held, q.Class) || len(q.More) > 0 || read[q.At] || q.At.Row == 0 {
			continue
		}
		about := s.around(q.At)
		o, ok := about.asRead(q.Raw, q.At)
		if !ok {
			continue
		}
		mean, sd := about.level()
		h, day := s.placed(about)
		if h != nil {
			mean, sd = h.e.ahead(day)
		}
		if math.IsNaN(mean) {
			continue
		}
		var fit []candidate
		for _, c := range candidates(o, mean) {
			if c.z = (c.log - mean) / sd; math.Abs(c.z) <= fits && c.value != "" {
				fit = append(fit, c)
			}
		}
		var readings []record.Reading
		for _, c := range best(fit) {
			readings = append(readings, record.Reading{Label: c.label, Value: c.value})
		}
		for _, r := range q.Readings { // those of the reader: what is not offered yet, leave it empty last
			if g, weighs := grams(r.Value); weighs && len(fit) > 0 && math.Abs(math.Log(g)-mean) > fits*sd {
				continue // another unit that this bird cannot have weighed in
			}
			if !slices.ContainsFunc(readings, func(have record.Reading) bool { return have.Value == r.Value }) {
				readings = append(readings, r)
			}
		}
		if h != nil {
			readings = s.withEffects(readings, func(value string) (float64, bool) { return h.estimateWith(day, value) })
			q.Message = strings.TrimSuffix(q.Message, ".") + fmt.Sprintf(". The other weighings of %s point to about %s %s.", h.bird.Label(), weightText(math.Exp(mean), s.units), within(about.on))
		}
		q.Readings = readings
	}
}

// within says when a date is that may be an interval.
func within(on record.Date) string {
	if on.Precision == record.ToSeason {
		return fmt.Sprintf("between %s and %s", on.First, on.Last)
	}
	return "on " + on.String()
}

// estimateWith is the bird's expected log weight at its last weighing with one more on a day.
func (h *history) estimateWith(day float64, value string) (float64, bool) {
	last := h.w[len(h.w)-1].day
	g, ok := grams(value)
	if !ok {
		return h.e.on(last), value == LeaveEmpty
	}
	days, logs, extra := []float64{day}, []float64{math.Log(g)}, []float64{0}
	for i, w := range h.w {
		if !h.e.doubted[i] {
			days, logs, extra = append(days, w.day), append(logs, w.log), append(extra, w.extra)
		}
	}
	e, ok := expect(h.prior, days, logs, extra)
	if !ok {
		return 0, false
	}
	return e.on(max(last, day)), true
}

// surroundings are what the cells about an unread one tell of it.
type surroundings struct {
	bird    string // "" where they do not agree
	on      record.Date
	weights []record.Observation // of its column
}

// around looks at the records of the cell's row, of its column, and of the nearest rows above and below.
func (s *search) around(at record.Ref) surroundings {
	var a surroundings
	var above, below *record.Observation
	days := map[record.Date]bool{}
	var inRow []record.Observation
	for i := range s.d.Observations {
		o := &s.d.Observations[i]
		if o.At.File != at.File || o.At.Sheet != at.Sheet || o.Bird == "" {
			continue
		}
		if o.At.Row == at.Row {
			inRow = append(inRow, *o)
		}
		if o.At.Col != at.Col || !usable(*o) {
			continue
		}
		a.weights = append(a.weights, *o)
		days[o.On] = true
		if o.At.Row < at.Row && (above == nil || o.At.Row > above.At.Row) {
			above = o
		}
		if o.At.Row > at.Row && (below == nil || o.At.Row < below.At.Row) {
			below = o
		}
	}
	for _, o := range inRow {
		if a.bird == "" {
			a.bird = o.Bird
		} else if a.bird != o.Bird {
			a.bird = "" // a row of several birds: dates run down
			break
		}
	}
	sameDay := len(inRow) > 0
	for _, o := range inRow {
		sameDay = sameDay && o.On == inRow[0].On
	}
	switch {
	case len(days) == 1 && len(a.weights) > 1: // a column is one date
		a.on = a.weights[0].On
	case sameDay:
		a.on = inRow[0].On
	case above != nil && below != nil && above.Bird == below.Bird && above.On.Exact() && below.On.Exact() && above.On.First <= below.On.First:
		a.on = record.Between(above.On.First, below.On.First)
	}
	if a.bird == "" && len(inRow) == 0 && above != nil && below != nil && above.Bird == below.Bird {
		a.bird = above.Bird
	}
	if len(inRow) > 0 && a.bird == "" && above != nil && below != nil && above.Bird == below.Bird {
		a.bird = above.Bird // one column a bird
	}
	return a
}

// asRead is the weight that a text would be in the unit of its column.
func (a surroundings) asRead(raw string, at record.Ref) (record.Observation, bool) {
	counts := map[string]int{}
	in := units()[0]
	for _, w := range a.weights {
		t := typedAs(w)
		if counts[t.unit.name]++; t.unit.name != "" && counts[t.unit.name] > counts[in.name] {
			in = t.unit
		}
	}
	o := record.Observation{Bird: a.bird, On: a.on, Trait: record.Weight, Text: raw, At: at}
	for _, u := range append([]unit{in}, units()...) { // its own unit, where one is written beside the number
		if strings.HasSuffix(strings.ToLower(strings.TrimSpace(raw)), u.name) {
			in = u
			break
		}
	}
	number := strings.TrimSpace(strings.TrimSuffix(strings.ToLower(strings.TrimSpace(raw)), in.name))
	x, err := strconv.ParseFloat(strings.ReplaceAll(number, ",", "."), 64)
	o.Value = x * in.grams
	return o, err == nil && o.Value > 0 && !math.IsInf(o.Value, 0)
}

// level is the middle of the column's weights, in log, and their spread.
func (a surroundings) level() (mean, sd float64) {
	var logs []float64
	for _, w := range a.weights {
		logs = append(logs, math.Log(w.Value))
	}
	mean, err := stat.Median(logs)
	if err != nil || len(logs) < flockBirds {
		return math.NaN(), 0
	}
	spread, _ := stat.MAD(logs) // of a sample that has a median
	return mean, max(levelSD, stat.MADToSD*spread) / 2
}

// placed finds the history of the bird, and the day on its axis; nil where either is not told.
func (s *search) placed(a surroundings) (*history, float64) {
	if a.bird == "" || !a.on.Known() || a.on.Last-a.on.First > 2*looseDay {
		return nil, 0
	}
	for _, h := range s.all {
		if h.bird.ID == a.bird && !math.IsNaN(h.start) {
			return h, float64(a.on.First+a.on.Last)/2 - h.start
		}
	}
	return nil, 0
}

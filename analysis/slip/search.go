package slip

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// MinWeighings is the fewest weighings of a bird that are judged by its own record more than by the flock's level.
const MinWeighings = 3

const (
	flockBirds = 4    // fewest birds whose levels say what another of their kind weighs
	levelSD    = 0.35 // least SD of log level between birds of one kind
	loneSD     = 1.5  // the same where the flock is too small to say
	looseAge   = 21   // d: a hatch date known more loosely gives no age
	looseDay   = 31   // d: a weighing dated more loosely is not judged
	mostInOne  = 150  // weighings judged together: a longer record is cut into parts
	reuseGap   = 60   // d without a weighing before a ring may have gone to another bird
	reuseFall  = 0.6  // share of the earlier weight below which it may have
	reuseStill = 0.75 // and of the weighing after that, as a chick grows
)

// weighing is one weight on its bird's axis of time.
type weighing struct {
	obs   record.Observation
	day   float64 // since hatch where the age is known, else since the first weighing
	log   float64
	extra float64 // variance of log beside the weighing error: rounding, a loose date
}

// history is the record of one bird, or of one of two birds that may have worn its ring.
type history struct {
	bird  record.Bird
	prior prior
	start float64 // civil day of day 0; NaN where only ages are known
	w     []weighing
	e     *expectation
	held  []bool // part of a finding already
}

// found is a finding with how its effect is computed once it is sure to be shown.
type found struct {
	Finding
	birds  []string
	effect func() string
}

func (f found) concerns(bird string) bool { return slices.Contains(f.birds, bird) }

// search is one run over a flock.
type search struct {
	c       analysis.Context
	d       *record.Dataset
	settled func(string) bool
	units   string
	birds   map[string]record.Bird
	order   []string // bird IDs
	asked   map[record.Ref]bool
	askedOn map[record.Ref]bool // rows and columns whose date is asked about

	sheets  map[sheetName]float64 // resolution in grams
	scales  []Scale
	undated map[record.Ref]bool // cells whose date is in doubt
	days    []wrongDate
	repeats map[record.Ref]bool // cells that were perhaps copied
	ordered map[sheetName]bool  // sheets whose rows or columns follow time
	own     map[string][]record.Observation
	all     []*history
	scatter float64
	found   []found
}

type sheetName struct{ file, sheet string }

func sheetOf(r record.Ref) sheetName { return sheetName{r.File, r.Sheet} }

func newSearch(c analysis.Context, d *record.Dataset, settled func(string) bool) *search {
	s := &search{c: c, d: d, settled: settled, birds: map[string]record.Bird{}, asked: map[record.Ref]bool{}, askedOn: map[record.Ref]bool{},
		sheets: map[sheetName]float64{}, undated: map[record.Ref]bool{}, repeats: map[record.Ref]bool{}, ordered: map[sheetName]bool{}, own: map[string][]record.Observation{}, scatter: 1}
	if settled == nil {
		s.settled = func(string) bool { return false }
	}
	s.units = cmp.Or(c.Settings.Flock.Units, d.Settings.Flock.Units, "g")
	for _, b := range d.Birds {
		s.birds[b.ID] = b
		s.order = append(s.order, b.ID)
	}
	for _, q := range d.Questions {
		if q.Key == key(Class(q.Class), q.At, q.Raw) {
			continue // our own, from Settle
		}
		for _, at := range append([]record.Ref{q.At}, q.More...) {
			s.asked[at] = true
			if strings.HasPrefix(q.Class, "date_") || strings.HasPrefix(q.Class, "weekday_") {
				s.askedOn[record.Ref{File: at.File, Sheet: at.Sheet, Row: at.Row}] = true
				s.askedOn[record.Ref{File: at.File, Sheet: at.Sheet, Col: at.Col}] = true
			}
		}
	}
	return s
}

// add keeps a finding unless it is settled or its cell is asked about already.
func (s *search) add(f found) {
	if s.settled(f.Key()) || s.asked[f.At] {
		return
	}
	s.found = append(s.found, f)
}

// settledWeight reports whether the keeper has answered any question about the number in a cell.
func (s *search) settledWeight(o record.Observation) bool {
	if s.asked[o.At] {
		return true
	}
	return slices.ContainsFunc(ofOneWeight(), func(c Class) bool { return s.settled(key(c, o.At, o.Text)) })
}

// usable reports whether an observation is a weight that can be judged.
func usable(o record.Observation) bool {
	return o.Trait == record.Weight && o.Form == record.Measured && o.Bird != "" && o.Value > 0 && !math.IsInf(o.Value, 0) && !math.IsNaN(o.Value)
}

// gather builds the histories: by bird, split where a ring may have changed its wearer.
func (s *search) gather() {
	for _, o := range s.d.Observations {
		if !usable(o) {
			continue
		}
		if _, known := s.birds[o.Bird]; !known {
			s.birds[o.Bird] = record.Bird{ID: o.Bird, Ring: o.Bird}
			s.order = append(s.order, o.Bird)
		}
		s.own[o.Bird] = append(s.own[o.Bird], o)
	}
	s.readScales()
	for _, id := range s.order {
		record.SortObservations(s.own[id])
		h := s.history(s.birds[id], s.own[id])
		for _, part := range s.wearers(h) {
			for n := len(part.w); n > 0; n = len(part.w) {
				k := n / ((n + mostInOne - 1) / mostInOne)
				piece := *part
				piece.w, part.w = part.w[:k], part.w[k:]
				piece.held = make([]bool, k)
				s.all = append(s.all, &piece)
			}
		}
	}
	s.priors()
}

// history places a bird's weighings on its axis of time, and leaves out those that have no place.
func (s *search) history(b record.Bird, obs []record.Observation) *history {
	h := &history{bird: b, start: math.NaN()}
	if b.Hatched.Known() && b.Hatched.Last-b.Hatched.First <= looseAge {
		h.prior.aged, h.start = true, float64(b.Hatched.First+b.Hatched.Last)/2
	}
	for _, o := range obs {
		n, aged := o.Age.Days()
		if aged && !h.prior.aged {
			h.prior.aged = true
			if o.On.Exact() {
				h.start = float64(o.On.First) - float64(n)
			}
		}
	}
	typical := middleValue(obs)
	for _, o := range obs {
		if s.undated[o.At] {
			continue
		}
		n, aged := o.Age.Days()
		span := float64(o.On.Last - o.On.First)
		w := weighing{obs: o, log: math.Log(o.Value)}
		switch {
		case o.On.Known() && span <= looseDay && (h.prior.aged || !aged):
			if math.IsNaN(h.start) && !h.prior.aged {
				h.start = float64(o.On.Middle())
			}
			if math.IsNaN(h.start) {
				continue
			}
			w.day = float64(o.On.First+o.On.Last)/2 - h.start
			pace := rate * hatchLog * math.Exp(-rate*max(w.day, 0)) // a day is worth so much growth
			if !h.prior.aged {
				pace /= 2
			}
			w.extra = pace * pace * span * span / 12
		case aged:
			w.day = float64(n)
		default:
			continue
		}
		if step := s.step(o.At); step > 0 {
			w.extra += step * step / 12 / (typical * typical)
		}
		h.w = append(h.w, w)
	}
	slices.SortStableFunc(h.w, func(a, b weighing) int { return cmp.Compare(a.day, b.day) })
	return h
}

// fallsFor reports whether the weight falls far at weighing i and stays there, and no unit explains it.
func (h *history) fallsFor(i int, before float64) bool {
	if i < 2 || i+1 == len(h.w) {
		return false
	}
	fall := h.w[i].log - before
	if fall > math.Log(reuseFall) || h.w[i+1].log-before > math.Log(reuseStill) {
		return false
	}
	growing := h.w[len(h.w)-1].log-h.w[i].log > 0.25
	_, unit := nearUnit(-fall)
	return !unit || growing // else the same bird in another unit
}

// wearers splits a history where, over a long gap, the weight falls far and stays there, or the rows begin to speak of
// another sex or a later hatch: the ring may have gone to another bird. An answer ends the question, and the parts are
// judged apart all the same: as one they would be asked about again, weighing by weighing.
func (s *search) wearers(h *history) []*history {
	for i := 1; i < len(h.w); i++ {
		if h.w[i].day-h.w[i-1].day < reuseGap {
			continue
		}
		before, said := h.middle(max(0, i-3), i), h.otherBird(i)
		if said == "" && !h.fallsFor(i, before) {
			continue
		}
		s.add(s.reuse(h, i, before, said))
		first, second := *h, *h
		first.w, second.w = h.w[:i:i], slices.Clone(h.w[i:])
		second.prior.aged = false
		if !math.IsNaN(second.start) {
			second.start += second.w[0].day
		}
		begin := second.w[0].day
		for j := range second.w {
			second.w[j].day -= begin
		}
		return append([]*history{&first}, s.wearers(&second)...)
	}
	return []*history{h}
}

// middle is the median log weight of weighings i to j.
func (h *history) middle(i, j int) float64 {
	var logs []float64
	for _, w := range h.w[i:j] {
		logs = append(logs, w.log)
	}
	m, err := stat.Median(logs)
	if err != nil {
		return math.NaN()
	}
	return m
}

// middleValue is the median weight in grams.
func middleValue(obs []record.Observation) float64 {
	var grams []float64
	for _, o := range obs {
		grams = append(grams, o.Value)
	}
	m, err := stat.Median(grams)
	if err != nil {
		return math.Inf(1)
	}
	return m
}

// priors gives each history the level of birds of its kind, and its expectation.
func (s *search) priors() {
	levels := make([]float64, len(s.all))
	kinds := map[record.Line][]float64{}
	var flock []float64
	for i, h := range s.all {
		var logs []float64
		for _, w := range h.w[len(h.w)/2:] {
			logs = append(logs, w.log-h.prior.mean(w.day))
		}
		levels[i], _ = stat.Median(logs) // of one finite value at least
		kinds[h.bird.Group()] = append(kinds[h.bird.Group()], levels[i])
		flock = append(flock, levels[i])
	}
	for i, h := range s.all {
		kind := kinds[h.bird.Group()]
		if len(kind) < flockBirds {
			kind = flock
		}
		h.prior.level, h.prior.sd = levels[i], loneSD
		if middle, err := stat.Median(kind); err == nil && len(kind) >= flockBirds {
			spread, _ := stat.MAD(kind) // of a sample that has a median
			h.prior.level, h.prior.sd = middle, max(levelSD, 1.5*stat.MADToSD*spread)
		}
		var days, logs, extra []float64
		for _, w := range h.w {
			days, logs, extra = append(days, w.day), append(logs, w.log), append(extra, w.extra)
		}
		h.e, _ = expect(h.prior, days, logs, extra)
	}
	s.all = slices.DeleteFunc(s.all, func(h *history) bool { return h.e == nil })
}

// reuse asks whether a ring changed its wearer before weighing i.
func (s *search) reuse(h *history, i int, before float64, said string) found {
	o := h.w[i].obs
	f := found{Finding: Finding{Class: RingReuse, Bird: o.Bird, At: o.At, Raw: o.Text}, birds: []string{o.Bird}}
	for _, w := range h.w[i+1:] {
		f.More = append(f.More, w.obs.At)
	}
	slices.SortFunc(f.More, record.Ref.Compare)
	last := h.w[i-1].obs
	then := "no weighing"
	if n := len(h.w) - i - 1; n > 0 {
		then = analysis.Counted(n, "weighing")
	}
	if said != "" {
		said = "; " + said
	}
	f.Message = fmt.Sprintf("%s: %s weighed about %s until %s and, %.0f days later, %s, with %s after it%s; is the ring on another bird from then on?",
		o.At, h.bird.Label(), weightText(math.Exp(before), s.units), whenOf(last), h.w[i].day-h.w[i-1].day, quoted(o, s.units), then, said)
	f.Readings = []record.Reading{{Label: "two birds: another one from " + whenOf(o), Value: "two"}, asItIs("one bird all along")}
	f.effect = func() string {
		return fmt.Sprintf("As one bird its estimate is about %s, as two birds %s for the first and %s for the second.",
			weightText(math.Exp(h.middle(0, len(h.w))), s.units), weightText(math.Exp(before), s.units), weightText(math.Exp(h.middle(i, len(h.w))), s.units))
	}
	return f
}

package forecast

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"keelmark/analysis"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// sort decides how a bird is forecast, or why it is not.
func (f *Forecast) sort() {
	label := f.Bird.Label()
	slices.SortStableFunc(f.Weighings, func(a, b Weighing) int { return int(a.Day - b.Day) })
	n := len(f.Weighings)
	if n > 0 && f.grown() {
		f.Kind = Grown
		last := f.Weighings[n-1].Day
		f.Weighings = slices.DeleteFunc(f.Weighings, func(w Weighing) bool { return !f.grownAt(w) || last-w.Day > levelDays })
		f.Weighings = f.Weighings[max(0, len(f.Weighings)-levelWeighings):]
	} else {
		f.Kind = Growing
		f.Weighings = growing(f.Weighings)
	}
	missing := MinWeights - len(f.Weighings)
	switch {
	case f.Bird.Sex == "":
		f.Refusal = &analysis.Refusal{Needs: "its sex is not known, and males and females grow differently", Next: "write the sex of " + label}
	case f.Kind == Growing && n > 0 && missing > 0 && !f.aged():
		f.Refusal = &analysis.Refusal{
			Needs: fmt.Sprintf("its age is not known to within %d days", MaxAgeSpan),
			Next:  "write the hatch date of " + label + ", or its age beside each weight",
		}
	case missing > 0:
		f.Refusal = &analysis.Refusal{
			Needs: fmt.Sprintf("it has %s and a forecast needs %d", analysis.Counted(len(f.Weighings), "usable weighing"), MinWeights),
			Next:  fmt.Sprintf("weigh %s %s, some days apart", label, times(missing)),
		}
		if f.Left >= missing {
			f.Refusal.Next = "confirm or correct the weighings of " + label + " that are asked about"
		}
	}
}

func times(n int) string {
	if n == 1 {
		return "once more"
	}
	return fmt.Sprintf("%d times more", n)
}

// aged reports whether the bird's hatch date is known closely enough.
func (f *Forecast) aged() bool {
	h := f.Bird.Hatched
	return h.Known() && h.Last-h.First <= MaxAgeSpan
}

// grown reports whether the bird has enough weighings as a grown bird, or was weighed when past every growth curve.
func (f *Forecast) grown() bool {
	n := 0
	for _, w := range f.Weighings {
		if f.grownAt(w) {
			n++
		}
	}
	last := f.Weighings[len(f.Weighings)-1]
	return n >= MinWeights || f.grownAt(last) && !(last.Age <= MatureWeeks)
}

func (f *Forecast) grownAt(w Weighing) bool {
	if !w.Dated {
		return false
	}
	if !math.IsNaN(w.Age) {
		return 7*w.Age >= GrownDays
	}
	return f.Bird.Hatched.Known() && int(w.Day-f.Bird.Hatched.Last) >= GrownDays
}

// fitLines integrates the lines, two at a time, and forecasts the growing birds.
func (r *Result) fitLines(ctx context.Context, c analysis.Context, lines map[record.Line]*Line) error {
	var order []*Line
	for _, l := range lines {
		order = append(order, l)
	}
	slices.SortFunc(order, func(a, b *Line) int { return strings.Compare(a.Line.String(), b.Line.String()) })
	var wait sync.WaitGroup
	slots := make(chan struct{}, 2)
	for _, l := range order {
		slots <- struct{}{}
		wait.Add(1)
		go func() {
			defer wait.Done()
			defer func() { <-slots }()
			if ctx.Err() == nil {
				l.fit(c)
			}
		}()
	}
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, l := range order {
		for i := range r.Birds {
			if f := &r.Birds[i]; f.Refusal == nil && f.Kind == Growing && f.Line == l.Line {
				f.grow(l, r.On, r.Today)
			}
		}
		r.Lines = append(r.Lines, *l)
	}
	return nil
}

// grow forecasts a growing bird from its line.
func (f *Forecast) grow(l *Line, on, today record.Day) {
	i := slices.IndexFunc(l.members, func(m member) bool { return m.bird.ID == f.Bird.ID })
	last := f.Weighings[len(f.Weighings)-1]
	first := f.Weighings[0]
	if !last.Dated { // ages without dates: the calendar is not known
		f.Refusal = &analysis.Refusal{
			Needs: "its weighings carry ages but no dates, so the day cannot be placed on its curve",
			Next:  "write the hatch date of " + f.Bird.Label(),
		}
		return
	}
	ageOn := func(day record.Day) float64 { return last.Age + float64(day-last.Day)/7 }
	if ageOn(on) < FirstDays/7.0 {
		f.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("on %s it is younger than any weighing that counts", on), Next: "choose a later day"}
		return
	}
	for j, b := range l.known.Bad(i) {
		f.Weighings[j].Bad = b
	}
	predict := func(day record.Day, every int) standard.Predictive {
		return l.known.Weighing(i, ageOn(day), true, every)
	}
	f.foresee(on, last.Day, predict(on, 1))
	f.Fan = fan(first.Day, last.Day, on, ageOn, func(day record.Day) standard.Predictive { return predict(day, 4) })

	grown := l.known.Weighing(i, max(MatureWeeks, ageOn(on)), false, 1)
	mature := grown.Estimate(0.9)
	heaviest := 0.0
	for _, w := range f.Weighings {
		heaviest = max(heaviest, w.Grams)
	}
	switch {
	case l.Setback != nil:
		f.MatureRefusal = &analysis.Refusal{
			Needs: fmt.Sprintf("from about %s on the whole line weighed about %.0f %% %s than its curves: a shared setback or another scale, past which no curve forecasts",
				record.Day(l.Setback.Day), 100*math.Abs(l.Setback.Share), lighter(l.Setback.Share)),
			Next: "weigh the line again in 4 and 8 weeks, and check the scale against a known weight",
		}
	case l.TableGrams == 0 && l.Followed < MinLineBirds:
		f.MatureRefusal = &analysis.Refusal{
			Needs: fmt.Sprintf("%s of the line followed to %d weeks (%d are needed) and no published weight is known", analysis.Counted(l.Followed, "bird"), MinLineDays/7, MinLineBirds),
			Next:  fmt.Sprintf("weigh birds of this line until %d weeks, or give the published weight of the breed", MinLineDays/7),
		}
	case !(mature.Value < MaxMature*heaviest):
		f.MatureRefusal = &analysis.Refusal{
			Needs: fmt.Sprintf("the weighings end so early that the curve would grow to %d times the heaviest of them or more", MaxMature),
			Next:  "weigh it again in 4 weeks",
		}
	default:
		f.Mature, f.WhenGrown = &mature, grown
	}
}

func lighter(share float64) string {
	if share < 0 {
		return "less"
	}
	return "more"
}

// foresee fills what is said of the day.
func (f *Forecast) foresee(on, last record.Day, p standard.Predictive) {
	f.OnTheDay, f.Weight = p, p.Estimate(0.9)
	f.Ahead = int(on - last)
	f.Extrapolated = f.Ahead > SolidDays
}

// fanSteps is how many days a fan chart shows.
const fanSteps = 24

// fan predicts on evenly spaced days from the first weighing to the day, the last weighing among them.
func fan(first, last, on record.Day, age func(record.Day) float64, predict func(record.Day) standard.Predictive) []Step {
	end := max(on, last)
	days := []record.Day{last}
	for i := range fanSteps {
		days = append(days, first+record.Day(math.Round(float64(end-first)*float64(i)/(fanSteps-1))))
	}
	slices.Sort(days)
	var out []Step
	for _, day := range slices.Compact(days) {
		p := predict(day)
		out = append(out, Step{
			Day: day, Age: age(day), Low90: p.Quantile(0.05), Low50: p.Quantile(0.25), Median: p.Median(),
			High50: p.Quantile(0.75), High90: p.Quantile(0.95), Extrapolated: int(day-last) > SolidDays,
		})
	}
	return out
}

// forecastGrown forecasts the grown birds together.
func (r *Result) forecastGrown(d *record.Dataset) {
	moults := map[string][]float64{}
	for _, e := range d.Events {
		if e.Kind == record.Moulted && e.On.Known() && e.On.First <= r.Today {
			moults[e.Bird] = append(moults[e.Bird], float64(e.On.Middle()))
		}
	}
	var levels []level
	var priors []ownLevel
	var at []int
	for i := range r.Birds {
		f := &r.Birds[i]
		if f.Refusal != nil || f.Kind != Grown {
			continue
		}
		var l level
		for _, w := range f.Weighings {
			l.days, l.logs = append(l.days, float64(w.Day)), append(l.logs, math.Log(w.Grams))
		}
		l.moults = moults[f.Bird.ID]
		levels, priors, at = append(levels, l), append(priors, centreOf(f, l)), append(at, i)
	}
	if len(levels) == 0 {
		return
	}
	r.Season = seasonOf(levels)
	model := newLevelModel(levels, priors, r.Season.Known())
	r.Season.fill(&model)
	for k, i := range at {
		f := &r.Birds[i]
		for j, b := range model.bad(k) {
			f.Weighings[j].Bad = b
		}
		predict := model.predictor(k)
		on := func(day record.Day) standard.Predictive { return predict(float64(day)) }
		first, last := f.Weighings[0], f.Weighings[len(f.Weighings)-1]
		f.foresee(r.On, last.Day, on(r.On))
		f.Moulting = levels[k].moulting(float64(r.On))
		age := func(day record.Day) float64 { return last.Age + float64(day-last.Day)/7 }
		f.Fan = fan(first.Day, last.Day, r.On, age, on)
	}
}

const (
	// levelSD is how far a grown bird lies from the published weight, as a share; openSD stands in where none is
	// known. Source: common practice, no source; wide, since three weighings outweigh it.
	levelSD = 0.25
)

// centreOf is the level of a grown bird before its weighings are seen.
func centreOf(f *Forecast, l level) ownLevel {
	for _, p := range f.Places {
		if p.Refusal == nil && standard.Adult(p.Class) {
			grams, _ := p.Band.Target()
			return ownLevel{math.Log(grams), levelSD}
		}
	}
	logs := slices.Clone(l.logs)
	slices.Sort(logs)
	return ownLevel{logs[len(logs)/2], openSD}
}

// compare fills Chance.
func (f *Forecast) compare() {
	if f.Refusal != nil {
		return
	}
	for _, p := range f.Places {
		chance := math.NaN()
		if p.Refusal == nil {
			chance = p.Band.Chance(f.OnTheDay)
		}
		f.Chance = append(f.Chance, chance)
	}
}

// LineOf finds what is known of a line.
func (r *Result) LineOf(l record.Line) (*Line, bool) {
	for i := range r.Lines {
		if r.Lines[i].Line == l {
			return &r.Lines[i], true
		}
	}
	return nil, false
}

package treatment

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"keelmark/analysis/carriage"
	"keelmark/analysis/parasite"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Carriers is who may carry a parasite today.
type Carriers struct {
	Model *carriage.Model // nil where none could be fitted
	Why   string          // why not
	At    []record.Ref    // cells of all looks and treatments that the model reads
	Birds []Carrier       // of the flock today, the likeliest to carry it unseen first: a list of whom to look at, no more
}

// Carrier is one bird today.
type Carrier struct {
	Bird   record.Bird
	Last   record.Day    // of its last look; 0 where nobody looked
	Seen   bool          // looked at within parasite.SeenDays
	Found  bool          // at the last look
	Chance stat.Interval // of carrying it today, 0 to 1; Level 0 where no model was fitted
	At     []record.Ref  // cells of its looks
}

// carriers fits the hidden-state model and lays out each bird's looks in time.
func (v *view) carriers(ctx context.Context) (Carriers, []Timeline, error) {
	var out Carriers
	flock, lines, members := v.carriageFlock()
	if len(members) == 0 {
		out.Why = "no bird has a dated look"
		return out, nil, nil
	}
	for _, i := range members {
		for _, l := range v.looks[i] {
			out.At = append(out.At, l.At)
		}
		for _, d := range v.doses[i] {
			out.At = append(out.At, d.course.Event.At)
		}
	}
	model, err := carriage.Fit(ctx, flock, float64(v.today))
	switch {
	case errors.Is(err, carriage.ErrTooFew):
		out.Why = "there are too few looks: it takes at least 40 at 5 birds, 8 of them with a finding and 8 without"
	case ctx.Err() != nil:
		return out, nil, ctx.Err()
	case err != nil:
		out.Why = "the looks do not settle how often birds take it up and lose it"
	}
	var chances []stat.Interval
	if err == nil {
		out.Model = model
		chances = model.Chances()
		for k, c := range model.Courses() {
			for i, day := range c.Days {
				lines[k].ChanceOn = append(lines[k].ChanceOn, record.Day(math.Round(day)))
				lines[k].Chance = append(lines[k].Chance, c.Chance[i])
			}
		}
	}
	for k, i := range members {
		if !v.here.There(v.birds[i], v.today) {
			continue
		}
		c := Carrier{Bird: v.birds[i]}
		if n := len(v.looks[i]); n > 0 {
			l := v.looks[i][n-1]
			c.Last, c.Found = l.On.First, l.Finding == parasite.Found
			c.Seen = v.today-c.Last <= parasite.SeenDays
			for _, l := range v.looks[i] {
				c.At = append(c.At, l.At)
			}
		}
		if chances != nil && chances[k].Level > 0 {
			c.Chance = chances[k]
		}
		out.Birds = append(out.Birds, c)
	}
	slices.SortStableFunc(out.Birds, func(a, b Carrier) int {
		return cmp.Or(cmp.Compare(b.Chance.Value, a.Chance.Value), cmp.Compare(a.Last, b.Last))
	})
	return out, lines, nil
}

// carriageFlock turns the records into what the model reads. members are the indices of its birds: all that were in the
// flock since the first look.
func (v *view) carriageFlock() (carriage.Flock, []Timeline, []int) {
	var f carriage.Flock
	var lines []Timeline
	var members []int
	start := v.today + 1
	for _, looks := range v.looks {
		if len(looks) > 0 {
			start = min(start, looks[0].On.First)
		}
	}
	if start > v.today {
		return f, nil, nil
	}
	y, _, _ := start.Date()
	if day, ok := record.DayOf(y, 1, 1); ok {
		f.YearStart = float64(day)
	}
	pens := map[string]int{}
	for i, b := range v.birds {
		from, to := start, math.Inf(1)
		hatched := b.Hatched.Exact() && b.Hatched.First > start
		if b.Hatched.Known() && b.Hatched.First > start {
			from = b.Hatched.First
		}
		gone, left := v.gone[b.ID]
		if left {
			to = float64(gone)
		}
		if n := len(v.looks[i]); n > 0 { // a look proves that the bird was there
			from = min(from, v.looks[i][0].On.First)
			if last := v.looks[i][n-1].On.First; float64(last) > to {
				to = float64(last)
			}
		}
		if to < float64(from) || from > v.today || v.here.Gone(b.ID, v.today) && !left {
			continue
		}
		pen := b.Pen
		if n := len(v.looks[i]); n > 0 {
			pen = v.pen(v.looks[i][n-1])
		}
		if _, ok := pens[pen]; !ok {
			pens[pen] = len(pens)
		}
		bird := carriage.Bird{Pen: pens[pen], From: float64(from), To: to, Hatched: hatched}
		line := Timeline{Bird: b, Looks: v.looks[i], From: from, To: record.Day(min(to, float64(v.today)))}
		for _, l := range v.looks[i] {
			bird.Looks = append(bird.Looks, carriage.Look{Day: float64(l.On.First), Found: l.Finding == parasite.Found})
			line.LastLook = l.On.First
			line.EverFound = line.EverFound || l.Finding == parasite.Found
		}
		for _, d := range v.doses[i] {
			if n := len(line.Treated); n == 0 || line.Treated[n-1] != d.on {
				bird.Treated = append(bird.Treated, float64(d.on))
				line.Treated = append(line.Treated, d.on)
			}
		}
		f.Birds, lines, members = append(f.Birds, bird), append(lines, line), append(members, i)
	}
	return f, lines, members
}

package slip

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Settle applies the answers that the keeper has given to questions about slips (Dataset.Answers, by Finding.Key), adds
// the questions that remain to the dataset, and marks the records they are about, so that nothing leans on them unseen.
// The sheets stay as they are: each changed record keeps its text, with what was done to it. It returns the notes of
// answers that could not be applied; their questions stay open.
func Settle(ctx context.Context, c analysis.Context, d *record.Dataset) (notes []string, err error) {
	asked, err := Find(ctx, c, d, Options{}, nil)
	if err != nil {
		return nil, err
	}
	settled := map[string]bool{}
	for _, f := range asked.Findings {
		answer, ok := d.Answers[f.Key()]
		if !ok {
			continue
		}
		if !f.apply(d, answer) {
			notes = append(notes, fmt.Sprintf("%s: the answer %q settles nothing; answer with one of the readings, or correct the sheet", f.At, answer))
			continue
		}
		settled[f.Key()] = true
	}
	open := asked
	if len(settled) > 0 {
		if open, err = Find(ctx, c, d, Options{}, func(key string) bool { return settled[key] }); err != nil {
			return nil, err
		}
	}
	doubtful := map[record.Ref]bool{}
	for _, q := range open.Questions() {
		d.Questions = append(d.Questions, q)
		doubtful[q.At] = true
		for _, at := range q.More {
			doubtful[at] = true
		}
	}
	for i := range d.Observations {
		if doubtful[d.Observations[i].At] {
			d.Observations[i].Flagged = true
		}
	}
	return notes, nil
}

// apply changes the records of a finding as the keeper answered. It returns false where the answer is none that it
// understands, and then changes nothing.
func (f Finding) apply(d *record.Dataset, answer string) bool {
	about := append([]record.Ref{f.At}, f.More...)
	mine := func(o record.Observation) bool { return o.Trait == record.Weight && slices.Contains(about, o.At) }
	if answer == AsItIs {
		return true
	}
	if strings.TrimSpace(answer) == LeaveEmpty {
		d.Observations = slices.DeleteFunc(d.Observations, mine)
		return true
	}
	if answer == "two" {
		return f.split(d)
	}
	if answer == "exchange" {
		return f.exchange(d)
	}
	change := f.amendment(answer)
	if change == nil {
		return false
	}
	for i := range d.Observations {
		o := &d.Observations[i]
		if mine(*o) && change(o) {
			done(o, answer)
		}
	}
	return true
}

// amendment is what an answer does to a single weighing: another weight, another unit, another day. It is nil for an
// answer that is none of these.
func (f Finding) amendment(answer string) func(*record.Observation) bool {
	if on, err := record.ParseDay(strings.TrimSpace(answer)); err == nil {
		return func(o *record.Observation) bool {
			if days, known := o.Age.Days(); known && o.On.Known() {
				o.Age = record.AgeDays(days + int(on-o.On.First))
			}
			o.On = record.On(on)
			return true
		}
	}
	number, name, _ := strings.Cut(strings.TrimSpace(answer), " ")
	for _, u := range units() {
		if answer == u.name {
			return func(o *record.Observation) bool {
				t := typedAs(*o)
				if !(t.number > 0) {
					return false
				}
				o.Value = t.number * u.grams
				return true
			}
		}
		if x, err := strconv.ParseFloat(number, 64); err == nil && x > 0 && strings.TrimSpace(name) == u.name {
			return func(o *record.Observation) bool {
				o.Value = x * u.grams
				return true
			}
		}
	}
	return nil
}

// done notes at a record what the keeper's answer made of it. The details of a row are shared: each record gets its own.
func done(o *record.Observation, answer string) {
	detail := o.Detail()
	detail.Steps = append(slices.Clone(detail.Steps), fmt.Sprintf("as you answered: %s", answer))
	o.More, o.Flagged = &detail, false
}

// exchange gives two birds each other's weight.
func (f Finding) exchange(d *record.Dataset) bool {
	if len(f.More) != 1 {
		return false
	}
	at := func(ref record.Ref) int {
		return slices.IndexFunc(d.Observations, func(o record.Observation) bool { return o.Trait == record.Weight && o.At == ref })
	}
	i, j := at(f.At), at(f.More[0])
	if i < 0 || j < 0 {
		return false
	}
	a, b := &d.Observations[i], &d.Observations[j]
	a.Value, b.Value = b.Value, a.Value
	done(a, "exchanged with "+b.At.Cell())
	done(b, "exchanged with "+a.At.Cell())
	return true
}

// split makes a second bird of the one that wore the ring before: it has all records from the day of the finding on.
func (f Finding) split(d *record.Dataset) bool {
	i := slices.IndexFunc(d.Observations, func(o record.Observation) bool { return o.Trait == record.Weight && o.At == f.At })
	if i < 0 || !d.Observations[i].On.Known() {
		return false
	}
	first, from := d.Observations[i].Bird, d.Observations[i].On.First
	k := slices.IndexFunc(d.Birds, func(b record.Bird) bool { return b.ID == first })
	if k < 0 {
		return false
	}
	second := record.Bird{ID: first + " (2)", Ring: d.Birds[k].Ring, Colour: d.Birds[k].Colour, Breed: d.Birds[k].Breed, Size: d.Birds[k].Size}
	for n := 3; slices.ContainsFunc(d.Birds, func(b record.Bird) bool { return b.ID == second.ID }); n++ {
		second.ID = fmt.Sprintf("%s (%d)", first, n)
	}
	for i := range d.Observations {
		if o := &d.Observations[i]; o.Bird == first && o.On.Known() && o.On.First >= from {
			o.Bird, o.Age = second.ID, record.Age{}
		}
	}
	for i := range d.Events {
		if e := &d.Events[i]; e.Bird == first && e.On.Known() && e.On.First >= from {
			e.Bird = second.ID
		}
	}
	second.At = []record.Ref{f.At}
	d.Birds = append(d.Birds, second)
	return true
}

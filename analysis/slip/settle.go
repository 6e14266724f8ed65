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
	search, asked, err := findIn(ctx, c, d, Options{}, nil)
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
		if answer == "two" {
			withoutConflict(d, f)
		}
	}
	open := asked
	if len(settled) > 0 {
		if search, open, err = findIn(ctx, c, d, Options{}, func(key string) bool { return settled[key] }); err != nil {
			return nil, err
		}
	}
	search.offer(d.Questions)
	doubtful := map[record.Ref]bool{}
	for _, f := range open.Findings {
		if f.Class == RingReuse {
			withoutConflict(d, f)
		}
	}
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
	if f.Class == UnlikeBreed && f.rename(d, answer) {
		return true
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

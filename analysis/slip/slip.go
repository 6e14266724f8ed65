// Package slip finds weighings that do not fit what else is recorded of the bird, and says what they might have been:
// another unit, swapped, missing or extra digits, a wrong date, two birds exchanged, a cage weighed in, a value copied
// forward, a ring worn by two birds in turn. Each is a question to the keeper with its readings and with what the bird's
// estimate would be with and without the weighing.
//
// A weighing is judged against the bird's own records without it (expect.go), and asked about only where a slip would
// explain it much better than chance, or where nothing would. It refuses to change, drop or mark any record: it only
// asks. What cannot be a weight at all is held out when sheets are read and is not repeated here.
package slip

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Class names what kind of slip is suspected.
type Class string

// The classes.
const (
	UnitSlip      Class = "unit_slip_suspect"
	DigitSwap     Class = "digit_swap_suspect"
	MissingDigit  Class = "missing_digit_suspect"
	ExtraDigit    Class = "extra_digit_suspect"
	DecimalPoint  Class = "decimal_point_suspect"
	Unexplained   Class = "weight_unlike_record" // far off, and no slip explains it
	Exchanged     Class = "birds_exchanged_suspect"
	SessionOffset Class = "session_offset_suspect"
	RingReuse     Class = "ring_reuse"
	CopiedForward Class = "copied_forward_suspect"
	DateSwap      Class = "date_swap_suspect" // the weight fits another day of the bird
	DateOrder     Class = "date_out_of_order"
	DateFuture    Class = "date_future"
	DateHatch     Class = "date_before_hatch"
	UnlikeBreed   Class = "weight_unlike_breed" // the bird as a whole is far from the weight published for its breed
)

// ofOneWeight are the classes that question the number in a cell: an answer to one settles the cell for all, as the
// likeliest reading may change with further records.
func ofOneWeight() []Class {
	return []Class{UnitSlip, DecimalPoint, MissingDigit, ExtraDigit, DigitSwap, Unexplained}
}

// The values of readings that every question offers, beside those of its own.
const (
	AsItIs     = "as it is" // the cell is right as it stands
	LeaveEmpty = ""         // the cell should hold nothing
)

// Options of the analysis.
type Options struct {
	Ring string `name:"ring" doc:"ring or name of one bird; empty for all"`
}

const doc = `Weighings that do not fit the bird's own record, and what they might have been.

Answers: which weighings lie further from the bird's other weighings than error, growth and season explain, and whether
another unit, swapped, missing or extra digits, a wrong date, an exchange of two birds, or a whole day's offset would
explain them; which weights were perhaps copied forward; which rings were perhaps worn by two birds in turn; how finely
each sheet's scale was read. Each finding is a question with its readings and its effect. Nothing is changed.
Needs: two weighings of a bird with a date or an age; slips of less than about a tenth of the weight cannot be told from
weighing error, and of birds weighed once or twice only the coarsest show.
Method: a Gaussian process on log weight per bird (level, growth, season, weighing error), each weighing judged by the
bird's others; readings compared by how much better they fit.
Source: Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eq. 5.12 (leave one out); kinds of slip and
the 15 % tolerance of unit ratios: common practice, no source; limits from Keelmark's own simulations of clean flocks.`

// Spec declares the analysis. Run by its Spec it knows of no answers; see Find.
func Spec() analysis.Spec {
	return analysis.Define("slip", "Weighings that do not fit the bird's record, and what they might have been", doc, Options{},
		func(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
			return Find(ctx, c, d, o, nil)
		})
}

// Finding is one thing to ask the keeper.
type Finding struct {
	Class    Class
	Bird     string           // Bird.ID; "" where it is about more than one
	At       record.Ref       // the cell, the first where there are more
	More     []record.Ref     // the other cells that the same answer settles
	Raw      string           // as typed; of a date, as it was read
	Message  string           // one sentence, with its place
	Readings []record.Reading // likeliest first; AsItIs and LeaveEmpty last
	Effect   string           // what the estimate would be with and without; "" where nothing depends on it
	Expected float64          // grams, by the bird's other weighings; 0 where the finding is not of one weighing
	Off      float64          // how many times the SD of such an expectation the weighing lies off, signed; 0 likewise

	rests []record.Ref // cells it rests on beside its own
}

// Key is the question's name in the keeper's answers: class, cell and text, so that an edited cell is asked anew.
func (f Finding) Key() string { return key(f.Class, f.At, f.Raw) }

func key(c Class, at record.Ref, raw string) string {
	return string(c) + " " + at.Key() + " " + strings.TrimSpace(raw)
}

// Result is what was found.
type Result struct {
	Findings  []Finding // by place
	Scales    []Scale   // by sheet
	Weighings int       // judged
	Birds     int       // with a weighing judged
	Sparse    []string  // labels of birds weighed fewer than MinWeighings times, judged by the flock's level mostly
	Scatter   float64   // of weighings about what is expected, as a share of what the method assumes; 1 where unknown

	units  string
	labels map[string]string // of birds by ID
}

// Questions are the findings as check prints them, in the order of their places. Keys are those of Finding.Key.
func (r *Result) Questions() []record.Question {
	var out []record.Question
	for _, f := range r.Findings {
		message := f.Message
		if f.Effect != "" {
			message += " " + f.Effect
		}
		out = append(out, record.Question{Class: string(f.Class), At: f.At, More: f.More, Raw: f.Raw, Message: message,
			Readings: f.Readings, Key: f.Key()})
	}
	return out
}

// Find looks for slips. settled tells whether the keeper has answered the question of a key, in whatever way: it is then
// not asked again; nil for no answers. Cells about which d itself holds a question are not asked about twice.
//
// An error means that no bird has the ring asked for, or that ctx was cancelled. A flock without weighings has no findings.
func Find(ctx context.Context, c analysis.Context, d *record.Dataset, o Options, settled func(key string) bool) (*Result, error) {
	_, r, err := findIn(ctx, c, d, o, settled)
	return r, err
}

func findIn(ctx context.Context, c analysis.Context, d *record.Dataset, o Options, settled func(key string) bool) (*search, *Result, error) {
	only := ""
	if o.Ring != "" {
		b, ok := d.Bird(o.Ring)
		if !ok {
			return nil, nil, fmt.Errorf("slip: no one bird is called %q", o.Ring)
		}
		only = b.ID
	}
	s := newSearch(c, d, settled)
	s.dates()
	s.gather()
	s.copied()
	if err := s.judge(ctx); err != nil {
		return nil, nil, err
	}
	s.breeds()
	r := &Result{Scales: s.scales, Scatter: s.scatter, units: s.units, labels: map[string]string{}}
	for id, b := range s.birds {
		r.labels[id] = b.Label()
	}
	for _, id := range s.order {
		if n := len(s.own[id]); n > 0 && (only == "" || id == only) {
			r.Birds, r.Weighings = r.Birds+1, r.Weighings+n
			if n < MinWeighings {
				r.Sparse = append(r.Sparse, s.birds[id].Label())
			}
		}
	}
	for _, f := range s.found {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		if only != "" && !f.concerns(only) {
			continue
		}
		if f.effect != nil {
			f.Effect = f.effect()
		}
		r.Findings = append(r.Findings, f.Finding)
	}
	slices.SortStableFunc(r.Findings, func(a, b Finding) int { return a.At.Compare(b.At) })
	return s, r, nil
}

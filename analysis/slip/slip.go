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
	DateOrder     Class = "date_out_of_order"
	DateFuture    Class = "date_future"
	DateHatch     Class = "date_before_hatch"
)

// classes lists them in the order in which one cell is settled.
func classes() []Class {
	return []Class{DateFuture, DateHatch, DateOrder, RingReuse, SessionOffset, Exchanged, UnitSlip, DecimalPoint, MissingDigit,
		ExtraDigit, DigitSwap, Unexplained, CopiedForward}
}

// The values of readings that every question offers, beside those of its own.
const (
	AsItIs     = "as it is" // the cell is right as it stands
	LeaveEmpty = ""         // the cell should hold nothing
)

// Options of the analysis.
type Options struct {
	Bird string `name:"bird" doc:"ring or name of one bird; empty for all"`
	// Settled tells which questions, by key, the keeper has answered; nil for none. They are not asked again.
	settled func(key string) bool
}

// WithAnswers returns the options with what tells whether the keeper has answered a question: settled is called with the
// keys that Finding.Key gives.
func (o Options) WithAnswers(settled func(key string) bool) Options {
	o.settled = settled
	return o
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

// Spec declares the analysis.
func Spec() analysis.Spec {
	return analysis.Define("slip", "Weighings that do not fit the bird's record, and what they might have been", doc, publicOptions{},
		func(ctx context.Context, c analysis.Context, d *record.Dataset, o publicOptions) (*Result, error) {
			return Find(ctx, c, d, Options{Bird: o.Bird})
		})
}

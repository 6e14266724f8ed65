// Package parse turns the text of one cell into a typed value, or into a Problem that names its class and its
// cure: weights, dates, scores, parasite findings, treatments, rings, names, sexes, headings.
//
// Every function is pure: the same text in the same context gives the same answer. What one cell cannot say
// (unit, day or month first, decimal mark, what "-" means) comes in through a small context; the functions
// that gather such evidence over a column stand here too and say which cell proves it. Where two readings
// remain, the answer is a Problem with both, never the likelier one.
//
// It refuses to guess, to convert between scales, to open anything, and to know where a cell stands: callers
// add the place, keep the raw text and decide what a column is.
package parse

import "keelmark/ingest/record"

// Stored is the type that the file gives a cell, in the order of sheet.Kind.
type Stored uint8

// The stored types. Text files have only Blank and Text.
const (
	Blank   Stored = iota
	Text           // Cell.Text is the text
	Number         // a number with a decimal point
	Dated          // a number whose format shows a date or a time (the serial), or an ISO date
	Percent        // a number whose format is a percentage; Text is the fraction
	Bool           // "1" or "0"
	Error          // the error's text, "#DIV/0!"
)

// Cell is one cell as stored.
type Cell struct {
	Text    string
	Stored  Stored
	Formula bool   // Text is then the cached value, "" where the file holds none
	Format  string // number format code, "" where there is none
}

// T is a cell of a text file.
func T(text string) Cell { return Cell{Text: text, Stored: Text} }

// Action says what a problem means for its cell.
type Action uint8

// The actions.
const (
	Ask    Action = iota // no record until the keeper answers
	Tell                 // the value stands and is marked for the keeper to confirm
	Refuse               // cannot become a record; the keeper is told why
	Skip                 // no value here, and nothing to tell: "n/a", "-" in a weight column
)

// Class names a kind of problem, as issues print it.
type Class string

// The classes that this package gives.
const (
	UnitUnknown     Class = "unit_unknown"
	UnitSlip        Class = "unit_slip_suspect" // impossible as written, possible in another unit
	PoundsAmbiguous Class = "pounds_ambiguous"  // 2.4: decimal pounds, or 2 lb 4 oz
	OuncesTooMany   Class = "impossible_ounces" // 16 or more after pounds
	WeightAmbiguous Class = "weight_ambiguous"  // more than one number, or a number that reads in two ways
	WeightZero      Class = "weight_zero"
	WeightNegative  Class = "weight_negative"
	WeightEnormous  Class = "weight_enormous"
	WeightTiny      Class = "weight_tiny"

	DateInWeight Class = "date_in_weight_cell"
	DateInScore  Class = "date_in_score_cell"
	DateInCount  Class = "date_in_count_cell"
	DateInRing   Class = "date_in_ring_cell"
	BooleanCell  Class = "boolean_cell"
	PercentCell  Class = "percent_cell"
	FormulaError Class = "formula_error"
	NoCache      Class = "formula_no_cache"

	NoteWithNumber Class = "note_with_number"    // "476 wet"
	NoteInNumber   Class = "note_in_number_cell" // "escaped"
	Approximate    Class = "approximate_value"   // "~850"
	Doubtful       Class = "doubtful_value"      // "850?"
	UnknownValue   Class = "unknown_value"       // "?"

	DeathMarker   Class = "death_marker"
	EventMarker   Class = "event_marker"
	MissingMarker Class = "missing_marker"

	DateAmbiguous     Class = "date_ambiguous"
	DateInvalid       Class = "date_invalid"
	DateUnreadable    Class = "date_unreadable"
	DateSerial        Class = "date_serial_unformatted"
	DateDayMissing    Class = "date_day_missing"
	DateYearMissing   Class = "date_year_missing"
	DateMissing       Class = "date_missing"
	DateFuture        Class = "date_future"
	DateAncient       Class = "date_ancient"
	DateOrderConflict Class = "date_order_conflict"
	WeekdayMismatch   Class = "weekday_mismatch"
	SeasonAmbiguous   Class = "season_ambiguous" // spring, but of which hemisphere

	ScoreAmbiguous  Class = "ambiguous_score"
	ScoreOutOfRange Class = "score_out_of_range"
	ScaleConflict   Class = "scale_conflict" // "3/5" in a column of another scale

	DashAmbiguous  Class = "dash_ambiguous"  // "-": none, not looked, or negative
	CrossAmbiguous Class = "cross_ambiguous" // "x" or a tick: found, looked, or no
	CountInvalid   Class = "count_invalid"
	EggsOnly       Class = "eggs_only" // nits, and no live lice
	AllRight       Class = "all_right" // "OK" among findings

	RingUnreadable Class = "ring_unreadable" // 1.23E+11
	SexUnknown     Class = "sex_unknown"
	AgeUnreadable  Class = "age_unreadable"

	TreatmentInRemarks Class = "treatment_in_remarks"
)

// Problem is why a cell has no plain value, or why its value is marked.
type Problem struct {
	Class   Class
	Action  Action
	Message string // one plain sentence with the cell's text and the cure, without the place
	// Readings is what the cell might mean. A reading's Value is either an answer for the whole column (an
	// order of dates "dmy", a unit "lb-oz") or a text ("430 g", "2024-04-06", "" for leave empty) which,
	// written into the cell, reads without a question.
	Readings []record.Reading
}

// Error makes a Problem an error.
func (p *Problem) Error() string { return p.Message }

// Holds reports whether the value must not become a record as it stands.
func (p *Problem) Holds() bool { return p != nil && p.Action != Tell }

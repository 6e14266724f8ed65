package record

// Question is something that only the keeper can answer. The cells it names hold no unmarked record until
// then.
type Question struct {
	Class    string    // "unit_unknown", "date_ambiguous", ...
	At       Ref       // the first cell, or the row
	More     []Ref     // the other cells that the same answer settles
	Raw      string    // as typed
	Message  string    // one plain sentence with the place's own text
	Readings []Reading // what the cell might mean; may be empty
	Key      string    // under which answers.toml keeps the answer
}

// Reading is one thing that a cell might mean.
type Reading struct {
	Label string // "2 lb 4 oz (1021 g)"
	Value string // as answers.toml stores it: "lb-oz"
}

// Reject is a cell that cannot become a record, with the reason and the cure.
type Reject struct {
	Class   string
	At      Ref
	Raw     string
	Message string
}

// Aside is a block of cells that was set aside on purpose.
type Aside struct {
	File, Sheet string
	Rows        [2]int32 // first and last, both included
	Cols        [2]int32 // first and last; 0, 0 means the whole rows
	Why         string   // "title", "total", "legend", "derived", "header", "other table"
}

// Outcome says what became of a file.
type Outcome string

// The outcomes.
const (
	Imported Outcome = "imported"
	Refused  Outcome = "refused"
	Nothing  Outcome = "nothing" // sound, but holds no records
)

// File is one file that was read.
type File struct {
	Name    string // base name
	Hash    string // SHA-256 of the content, hexadecimal
	Outcome Outcome
	Reason  string   // why it was refused or holds nothing, with the cure
	Notes   []string // what was decided for the whole file, with its evidence: "dates read day first: A7 is 23/4/2024"
}

// Fate is what became of one cell.
type Fate uint8

// The fates. Every cell that is not empty has one other than Blank.
const (
	Blank     Fate = iota
	AsRecord       // its value is a record
	AsContext      // read as date, bird, heading, unit or note of a record
	AsQuestion
	AsReject
	AsAside
)

var fateNames = [...]string{"blank", "record", "context", "question", "rejected", "set aside"}

// String names the fate.
func (f Fate) String() string { return fateNames[f] }

// Ledger is the account of one sheet: a fate for each cell. Rows may differ in length.
type Ledger struct {
	File, Sheet string
	Fates       [][]Fate   // [row-1][column-1]
	Texts       [][]string // likewise, what the cells show; nil unless asked for
}

// Mark sets the fate of a cell, growing the ledger as needed.
func (l *Ledger) Mark(row, col int32, f Fate) {
	for len(l.Fates) < int(row) {
		l.Fates = append(l.Fates, nil)
	}
	r := l.Fates[row-1]
	if len(r) < int(col) {
		r = append(r, make([]Fate, int(col)-len(r))...)
		l.Fates[row-1] = r
	}
	r[col-1] = f
}

// At returns the fate of a cell, Blank outside the sheet.
func (l *Ledger) At(row, col int32) Fate {
	if row < 1 || col < 1 || int(row) > len(l.Fates) || int(col) > len(l.Fates[row-1]) {
		return Blank
	}
	return l.Fates[row-1][col-1]
}

// Tally counts the cells by fate.
func (l *Ledger) Tally() [AsAside + 1]int {
	var n [AsAside + 1]int
	for _, row := range l.Fates {
		for _, f := range row {
			n[f]++
		}
	}
	return n
}

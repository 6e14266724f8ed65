package record

// Scope says whom a check or a treatment covered.
type Scope string

// The scopes. A bird is the default.
const (
	OneBird    Scope = "bird"
	WholePen   Scope = "pen"
	WholeFlock Scope = "flock"
)

// Observation is one look at one trait. A look that found nothing is an observation (value 0 or "none"); not
// having looked is the absence of one.
type Observation struct {
	Bird     string // Bird.ID; "" where the look was at a pen or the flock
	On       Date
	Age      Age // as written or from the hatch date; unknown otherwise
	Trait    Trait
	Form     Form
	Parasite string  // for Trait Parasite
	Value    float64 // base unit of the trait, count, score, or 1/0 for Present
	Lo, Hi   float64 // for Range, MoreThan, LessThan, AtLeast
	Scale    string  // name of the scale of a score: "0-3", "words", or "" where not stated
	Text     string  // as typed
	At       Ref
	Flagged  bool    // the keeper is shown this record for confirmation
	More     *Detail // what few records carry; may be shared by the cells of one row
}

// Detail is what stands beside a value in its row.
type Detail struct {
	Pen     string
	Session string // same date, scale and person
	Scorer  string
	Note    string
	Site    string   // part of the bird or of the house that was looked at: "vent", "perch"; "" where not said
	Word    string   // on scales of words, letters or signs: the step as typed, in English where it is known
	Steps   []string // what was done to the text: "lb to g", "date filled down from A3"
	Also    []Ref    // other cells that hold the same weighing, counted once
	Scope   Scope
}

// Detail returns the details, empty where there are none.
func (o Observation) Detail() Detail {
	if o.More == nil {
		return Detail{}
	}
	return *o.More
}

// EventKind names what happened.
type EventKind string

// The kinds of event.
const (
	Hatched     EventKind = "hatched"
	Acquired    EventKind = "acquired"
	Moved       EventKind = "moved"
	Checked     EventKind = "checked" // a look at a pen or the flock, with Found
	Treated     EventKind = "treated"
	Trimmed     EventKind = "trimmed"
	Conditioned EventKind = "conditioned"
	Moulted     EventKind = "moulted"
	Mated       EventKind = "mated"
	Set         EventKind = "set"
	Hatch       EventKind = "hatch"
	Shown       EventKind = "shown"
	Died        EventKind = "died"
	Departed    EventKind = "departed"
)

// Event is something that happened to a bird, a pen or the flock.
type Event struct {
	Kind    EventKind
	Scope   Scope
	Bird    string // Bird.ID, for scope bird
	Pen     string
	On      Date
	Text    string // as typed
	At      Ref
	Flagged bool
	Note    string

	Treatment *Treatment   // for Treated
	Setting   *EggSetting  // for Set and Hatch
	Check     *CheckResult // for Checked
	Result    string       // for Shown: placing as typed; for Departed: why
}

// Treatment is a treatment as the keeper wrote it. Keelmark adds no dose and no withdrawal time of its own.
type Treatment struct {
	Product    string // as typed
	Dose       string
	Against    string // parasite or complaint, as typed
	Withdrawal string // as typed; "" means unknown, which is not "none"
	By         string
}

// EggSetting counts the eggs of one setting. A negative number means not written.
type EggSetting struct {
	Label                                         string
	Male                                          string // Bird.ID or as typed
	Hen                                           string
	Set, Clear, DeadEarly, DeadInShell, HatchedNo int
	StoredDays                                    int
}

// CheckResult says what a look at a pen or the flock was for and what it found.
type CheckResult struct {
	Parasite string
	Birds    int // looked at; 0 where not written
	Found    int // negative where not written
}

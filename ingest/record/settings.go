package record

// Settings is what flock.toml says: what the columns cannot. Every field may be empty.
type Settings struct {
	Flock   FlockSettings
	Show    ShowSettings
	Dates   DateSettings
	Units   UnitSettings
	Columns map[string]string         // heading as typed -> field
	Scales  map[string]Scale          // by name
	Birds   map[string]BirdSettings   // by ID
	Plan    map[string]map[string]int // step -> "from", "to": days before the show
}

// FlockSettings describes the flock.
type FlockSettings struct {
	Name       string
	Code       string // under which the flock appears beside others
	Country    string // "GB", "US", ...
	Hemisphere string // "north" or "south"
	Breed      string // where all birds are of one breed
	Size       Size
	Standard   string // whose weights to use, as named in the table of standards
	Units      string // how weights are printed: "g" or "lb-oz"
	// StandardTable is the file of the keeper's own standard weights, seen from where flock.toml lies.
	StandardTable string
}

// ShowSettings describes the show that a decision is about.
type ShowSettings struct {
	Name        string
	Date        Date
	ClassRule   string // "birthday", "calendar-year" or "season-start"
	SeasonStart string // month and day, "12-01"
	Paper       string // "A4" or "Letter"
}

// DateSettings says how dates are written: "dmy", "mdy", "ymd" or "".
type DateSettings struct{ Order string }

// UnitSettings says what unit a bare number is in.
type UnitSettings struct {
	Weight string // "g", "kg", "lb", "oz" or "lb-oz"
	Age    string // "d" or "w"
}

// Scale declares a scoring scale. Without one a score is plotted but not compared, pooled or converted.
type Scale struct {
	Name      string
	Min, Max  float64
	Direction string             // "high-good", "high-bad" or "middle-best"
	Words     map[string]float64 // the keeper's words for its steps
	Source    string
}

// BirdSettings says of one bird what its sheet does not.
type BirdSettings struct {
	Ring    string
	Name    string
	Aliases []string
	Hatched Date
	Sex     Sex
	Breed   string
	Size    Size
	Line    string
}

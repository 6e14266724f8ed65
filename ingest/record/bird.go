package record

// Sex of a bird.
type Sex string

// The sexes. The empty Sex means not stated.
const (
	Male   Sex = "M"
	Female Sex = "F"
)

// Size class of a breed. The empty Size means not stated.
type Size string

// The size classes. Standards and keepers also write "true bantam"; for weights it is a bantam.
const (
	Large  Size = "large"
	Bantam Size = "bantam"
)

// Bird is one bird as the records know it.
type Bird struct {
	ID      string // key within the dataset: the ring as first written, else the name
	Ring    string // as written, leading zeros kept
	Colour  string // of the ring, where written
	Name    string
	Aliases []string // other spellings that were settled as this bird
	Sex     Sex
	Breed   string
	Variety string
	Size    Size
	Line    string // strain
	Pen     string // last pen written beside the bird, where none is dated
	Hatched Date
	Ringed  Date   // interval in which the ring is worn by this bird, where a ring was re-used
	At      []Ref  // cells that name the bird's own properties
	Told    []Told // what its rows say of it, see there
}

// Told is what one row or card says of the bird itself, each different saying once, at its first place. Where a ring
// turns out to have been worn by two birds, it tells which of them is what.
type Told struct {
	At      Ref
	Sex     Sex
	Breed   string
	Variety string
	Line    string
	Size    Size
	Hatched Date
}

// Label is how reports name the bird: "R12 Žofie", "R12" or "Žofie".
func (b Bird) Label() string {
	switch {
	case b.Ring == "" && b.Name == "":
		return b.ID
	case b.Ring == "":
		return b.Name
	case b.Name == "" || b.Name == b.Ring:
		return b.Ring
	}
	return b.Ring + " " + b.Name
}

// Line groups birds whose growth may be pooled: same breed, size, strain and sex. Birds of unknown sex form
// a group of their own.
type Line struct {
	Breed string
	Size  Size
	Line  string
	Sex   Sex
}

// Group returns the line of a bird.
func (b Bird) Group() Line { return Line{b.Breed, b.Size, b.Line, b.Sex} }

// String is the line's name: "Sussex bantam, Low Barn, F".
func (l Line) String() string {
	s := l.Breed
	if s == "" {
		s = "breed not stated"
	}
	if l.Size != "" {
		s += " " + string(l.Size)
	}
	if l.Line != "" {
		s += ", " + l.Line
	}
	switch l.Sex {
	case Male:
		s += ", males"
	case Female:
		s += ", females"
	default:
		s += ", sex not stated"
	}
	return s
}

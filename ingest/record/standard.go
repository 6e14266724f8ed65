package record

import "strings"

// Class is the age and sex class that a show weight is published for.
type Class string

// The classes. Source: common practice, as glossed by hatcheries and breed clubs: cock and hen one year or
// older, cockerel and pullet under one year; shows may count the age otherwise.
const (
	Cock     Class = "cock"
	Hen      Class = "hen"
	Cockerel Class = "cockerel"
	Pullet   Class = "pullet"
)

// Classes lists them in printing order.
func Classes() []Class { return []Class{Cock, Hen, Cockerel, Pullet} }

// WeightRange is a published weight in grams. A target has Low equal to High. A missing bound is 0: a
// maximum has Low 0, a minimum High 0, and both 0 means that no weight is published.
type WeightRange struct {
	Low, High float64
	Printed   string // as printed, in Unit of its row
}

// Published reports whether the source gives any weight for the class.
func (w WeightRange) Published() bool { return w.Low != 0 || w.High != 0 }

// OwnTable is the SourceKind of rows that the keeper supplies.
const OwnTable = "your own table"

// PublishedWeight is one row of a published standard.
type PublishedWeight struct {
	Breed      string
	Variety    string
	Size       Size
	SizeText   string // as the source says: "large", "bantam", "true bantam"
	Country    string
	Standard   string // whose standard, as the source names it
	Edition    string // "not stated" where the source does not say
	Unit       string // of the printed figures; "" where each carries its own
	Weights    map[Class]WeightRange
	SourceKind string // "public bulletin", "extension sheet", "club page", "hobby page", ...
	Source     string
	Note       string // disagreements with other sources, kept visible
}

// Figure is the weight of a class as printed, with its unit: "26 oz", "1.7 kg at most".
func (w PublishedWeight) Figure(c Class) string {
	printed := w.Weights[c].Printed
	for bound, words := range map[string]string{" max": " at most", " min": " at least"} {
		if amount, ok := strings.CutSuffix(printed, bound); ok {
			return strings.TrimSpace(amount+" "+w.Unit) + words
		}
	}
	return strings.TrimSpace(printed + " " + w.Unit)
}

package datasets

import (
	"embed"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

//go:embed breeds/weights.csv
var breedFiles embed.FS

const breedFile = "breeds/weights.csv"

// breedHeading is the heading line of the table of published weights.
const breedHeading = "breed,variety,size,country,standard,edition,unit," +
	"cock,hen,cockerel,pullet,source_kind,source,note"

// Breeds returns the published show weights, one row per breed, variety, size, country, standard and source,
// in the order of the file: by breed, then large before bantam, then country. Weights are in grams, computed
// here from the printed figures, which are kept in WeightRange.Printed. A class that a source gives no figure
// for is absent from Weights. Country is an ISO code ("US", "GB"), several joined by "/", or "international".
//
// Rows are facts as sources print them: they disagree between countries, editions and pages, and none is
// preferred here. The figures are for birds in show condition: cock and hen over one year, cockerel and pullet
// under one year, unless the show counts the age otherwise.
//
// Source: each row names its own; breeds/SOURCES.md describes the columns and how the rows were gathered.
func Breeds() ([]record.PublishedWeight, error) {
	f, err := breedFiles.Open(breedFile)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readBreeds(f)
}

func readBreeds(r io.Reader) ([]record.PublishedWeight, error) {
	c := csv.NewReader(r)
	columns := strings.Split(breedHeading, ",")
	c.FieldsPerRecord = len(columns)
	head, err := c.Read()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", breedFile, err)
	}
	if !slices.Equal(head, columns) {
		return nil, fmt.Errorf("%s, row 1: the headings are %q; they should be %q", breedFile, head, columns)
	}
	var out []record.PublishedWeight
	for {
		cells, err := c.Read()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", breedFile, err)
		}
		field := make(map[string]string, len(cells))
		for i, name := range columns {
			field[name] = cells[i]
		}
		w, err := publishedWeight(field)
		if err != nil {
			line, _ := c.FieldPos(0)
			return nil, fmt.Errorf("%s, row %d: %w", breedFile, line, err)
		}
		out = append(out, w)
	}
}

// publishedWeight reads one row, keyed by heading.
func publishedWeight(field map[string]string) (record.PublishedWeight, error) {
	var w record.PublishedWeight
	for _, name := range []string{"breed", "country", "standard", "edition", "source_kind", "source"} {
		if field[name] == "" {
			return w, fmt.Errorf("%s is empty; write what the source says, or \"not stated\"", name)
		}
	}
	w = record.PublishedWeight{
		Breed: field["breed"], Variety: field["variety"], SizeText: field["size"],
		Country: field["country"], Standard: field["standard"], Edition: field["edition"],
		Unit: field["unit"], Weights: make(map[record.Class]record.WeightRange),
		SourceKind: field["source_kind"], Source: field["source"], Note: field["note"],
	}
	switch w.SizeText {
	case "large":
		w.Size = record.Large
	case "bantam", "true bantam":
		w.Size = record.Bantam
	default:
		return w, fmt.Errorf("size %q; write large, bantam or true bantam", w.SizeText)
	}
	grams, ok := gramsPer(w.Unit)
	if !ok {
		return w, fmt.Errorf("unit %q; write g, kg, lb or oz", w.Unit)
	}
	for _, class := range record.Classes() {
		printed := field[string(class)]
		if printed == "" {
			continue
		}
		bounds, err := weightRange(printed, grams)
		if err != nil {
			return w, fmt.Errorf("%s: %w", class, err)
		}
		w.Weights[class] = bounds
	}
	if len(w.Weights) == 0 {
		return w, fmt.Errorf("%s has no weight for any class", w.Breed)
	}
	return w, nil
}

// gramsPer returns the grams in one unit.
//
// Source: the international avoirdupois pound of 1959, 0.45359237 kg exactly; an ounce is a sixteenth.
func gramsPer(unit string) (float64, bool) {
	switch unit {
	case "g":
		return 1, true
	case "kg":
		return 1000, true
	case "lb":
		return 453.59237, true
	case "oz":
		return 453.59237 / 16, true
	}
	return 0, false
}

// weightRange reads a figure as printed: "9" is a target, "2.0-2.5" a range, "1.7 max" an upper and "1.2 min"
// a lower bound.
func weightRange(printed string, grams float64) (record.WeightRange, error) {
	bad := fmt.Errorf("%q is not a published weight; write 9, 2.0-2.5, 1.7 max or 1.2 min", printed)
	number := func(s string) (float64, bool) {
		v, err := strconv.ParseFloat(s, 64)
		return v * grams, err == nil && v > 0
	}
	out := record.WeightRange{Printed: printed}
	if s, isMax := strings.CutSuffix(printed, " max"); isMax {
		high, ok := number(s)
		if !ok {
			return out, bad
		}
		out.High = high
		return out, nil
	}
	if s, isMin := strings.CutSuffix(printed, " min"); isMin {
		low, ok := number(s)
		if !ok {
			return out, bad
		}
		out.Low = low
		return out, nil
	}
	first, second, isRange := strings.Cut(printed, "-")
	if !isRange {
		second = first
	}
	low, okLow := number(first)
	high, okHigh := number(second)
	if !okLow || !okHigh || low > high {
		return out, bad
	}
	out.Low, out.High = low, high
	return out, nil
}

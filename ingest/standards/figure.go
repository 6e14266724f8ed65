package standards

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

const (
	// lightest is below the weight that any standard gives a grown fowl, in g. Source: common practice, no source.
	lightest = 150
	// widest is how many times the lower end of a range the upper may be. Source: Keelmark's own; wider ones met were
	// slips of the unit.
	widest = 3
)

// wide reads a row that has a column for each class.
func (r *reader) wide(row sheet.Row, w *record.PublishedWeight) {
	for _, c := range record.Classes() {
		text := r.text(row, field(c))
		if text == "" {
			continue
		}
		if weight, ok := r.figure(row, field(c), text); ok {
			w.Weights[c] = weight
		}
	}
}

// long reads a row of one class.
func (r *reader) long(row sheet.Row, w *record.PublishedWeight) {
	name := strings.TrimSuffix(parse.Fold(r.text(row, class)), "s")
	c := record.Class(name)
	if !slices.Contains(record.Classes(), c) {
		r.fault(row.N, r.columns[class].heading, "%q is no class; write cock, hen, cockerel or pullet", r.text(row, class))
		return
	}
	if text := r.text(row, exact); text != "" {
		if r.text(row, low) != "" || r.text(row, high) != "" {
			r.fault(row.N, r.columns[exact].heading, "a weight, and low or high as well; keep one of the two")
		} else if weight, ok := r.figure(row, exact, text); ok {
			w.Weights[c] = weight
		}
		return
	}
	from, to := r.text(row, low), r.text(row, high)
	if from == "" && to == "" {
		return // told as a row without a weight
	}
	var a, b amount
	ok := true
	if from != "" {
		a, ok = r.amount(row, low, from)
	}
	if to != "" {
		var fine bool
		b, fine = r.amount(row, high, to)
		ok = ok && fine
	}
	if !ok {
		return
	}
	weight := record.WeightRange{Low: a.grams, High: b.grams}
	switch {
	case to == "":
		weight.Printed = a.text + " min"
	case from == "":
		weight.Printed = b.text + " max"
	case a.grams == b.grams:
		weight.Printed = a.text
	default:
		weight.Printed = span(a, b)
	}
	if r.ordered(row, r.columns[high].heading, weight) {
		w.Weights[c] = weight
	}
}

// figure reads a weight as a table prints it: "9" is a target, "2.0-2.5" a range, "1.7 max" an upper and "1.2 min" a lower
// bound.
func (r *reader) figure(row sheet.Row, f field, text string) (record.WeightRange, bool) {
	lower := strings.ToLower(text)
	for _, bound := range []string{"max", "min"} {
		rest, ok := strings.CutSuffix(strings.TrimSuffix(lower, "."), bound)
		if !ok {
			rest, ok = strings.CutPrefix(lower, bound)
		}
		if !ok {
			continue
		}
		a, ok := r.amount(row, f, strings.Trim(rest, " .:"))
		if !ok {
			return record.WeightRange{}, false
		}
		out := record.WeightRange{High: a.grams, Printed: a.text + " " + bound}
		if bound == "min" {
			out.Low, out.High = a.grams, 0
		}
		return out, true
	}
	first, second, isRange := strings.Cut(lower, " to ")
	if !isRange && r.unitOf(row, f) != parse.PoundOz { // where 7-8 is 7 lb 8 oz
		first, second, isRange = strings.Cut(lower, "-")
	}
	if !isRange {
		a, ok := r.amount(row, f, text)
		return record.WeightRange{Low: a.grams, High: a.grams, Printed: a.text}, ok
	}
	if own := beside(second); own != "" && beside(first) == "" { // "1.2-1.4 kg"
		first = strings.TrimSpace(first) + " " + own
	}
	a, ok := r.amount(row, f, strings.TrimSpace(first))
	if !ok {
		return record.WeightRange{}, false
	}
	b, ok := r.amount(row, f, strings.TrimSpace(second))
	if !ok {
		return record.WeightRange{}, false
	}
	out := record.WeightRange{Low: a.grams, High: b.grams, Printed: span(a, b)}
	return out, r.ordered(row, r.columns[f].heading, out)
}

// ordered faults a range whose ends are swapped or of different units.
func (r *reader) ordered(row sheet.Row, heading string, w record.WeightRange) bool {
	switch {
	case w.Low == 0 || w.High == 0:
		return true
	case w.Low > w.High:
		r.fault(row.N, heading, "%s ends below where it begins; write the smaller weight first", w.Printed)
	case w.High > widest*w.Low:
		r.fault(row.N, heading, "%s is wider than any standard's range; check the unit of both ends", w.Printed)
	default:
		return true
	}
	return false
}

// amount is one weight with its text, unit included.
type amount struct {
	grams float64
	text  string
}

// unitOf is the unit of a bare number: of the row, else of the heading.
func (r *reader) unitOf(row sheet.Row, f field) string {
	if text := parse.Fold(r.text(row, unit)); text != "" {
		return parse.UnitIn(text)
	}
	return r.columns[f].unit
}

func (r *reader) amount(row sheet.Row, f field, text string) (amount, bool) {
	heading := r.columns[f].heading
	if stated := r.text(row, unit); stated != "" && parse.UnitIn(parse.Fold(stated)) == "" {
		r.fault(row.N, r.columns[unit].heading, "%q is no unit; write g, kg, lb, oz or lb-oz", stated)
		return amount{}, false
	}
	in := parse.WeightIn{Mark: "."}
	if strings.Contains(text, ",") {
		in.Mark = ","
	}
	in, _ = in.Answered(r.unitOf(row, f))
	mass, problem := parse.Weight(parse.T(text), in)
	switch {
	case problem != nil && problem.Class == parse.UnitUnknown:
		r.fault(row.N, heading, "%q has no unit; add a column unit with g, kg, lb, oz or lb-oz, or write it beside the figure", text)
		return amount{}, false
	case problem != nil || mass.Form != record.Measured || mass.Note != "":
		r.fault(row.N, heading, "%q is no weight; write one figure (9), a range (2.0-2.5) or a bound (1.7 max, 1.2 min)", text)
		return amount{}, false
	case mass.Grams < lightest:
		r.fault(row.N, heading, "%q is %.0f g, less than any grown fowl weighs; check the unit", text, mass.Grams)
		return amount{}, false
	}
	return amount{mass.Grams, printed(text, mass)}, true
}

// beside is what stands beside the first number of a figure: "kg" of "1.4 kg", "lb 8 oz" of "8 lb 8 oz", "" of "7-8".
func beside(text string) string { return strings.TrimLeft(text, " 0123456789.,-/") }

// printed is a weight with its unit, as the table has it.
func printed(text string, m parse.Mass) string {
	if beside(text) != "" {
		return text
	}
	if m.Unit != parse.PoundOz {
		return strings.Replace(text, ",", ".", 1) + " " + m.Unit
	}
	ounces := m.Grams / 28.349523125
	pounds := math.Floor(ounces/16 + 1e-9)
	if rest := ounces - 16*pounds; rest > 0.01 {
		return fmt.Sprintf("%.0f lb %.3g oz", pounds, rest)
	}
	return fmt.Sprintf("%.0f lb", pounds)
}

// span is a range as printed, with the unit once where both ends have the same: "1.2 to 1.4 kg".
func span(a, b amount) string {
	from, unit, _ := cutLast(a.text)
	if _, same, ok := cutLast(b.text); ok && same == unit && strings.Count(a.text, " ") == 1 {
		return from + " to " + b.text
	}
	return a.text + " to " + b.text
}

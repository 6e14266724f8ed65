package parse

import (
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// The units of weight. An empty unit means not stated.
const (
	Grams   = "g"
	Kilos   = "kg"
	Pounds  = "lb"
	Ounces  = "oz"
	PoundOz = "lb-oz" // pounds and ounces as two numbers: 2-4, 2/4, 2 4
)

const (
	gramsPerPound = 453.59237
	gramsPerOunce = 28.349523125
	lightest      = 15   // g, of any bird
	heaviest      = 8000 // g
)

// Point says what the point in 2.4 parts, where a column's unit is pounds.
type Point uint8

// What the point means.
const (
	PointUnknown Point = iota
	PointDecimal       // 2.4 is 2.4 lb
	PointOunces        // 2.4 is 2 lb 4 oz, 2.10 is 2 lb 10 oz
)

// WeightIn is what the column says of its weights.
type WeightIn struct {
	Unit  string // one of the units above: from heading, units column, title, settings or ColumnUnit; "" not stated
	Point Point  // from ColumnPounds, the heading or the settings; for Pounds and PoundOz only
	Mark  string // decimal mark of the file: "," or "." or "" unknown
	Order Order  // of dates, to turn a date back into the lb-oz that it was typed as
	Sys   System // of date serials
}

// Answered applies an answer, or the weight unit of flock.toml, to the whole column: "g", "kg", "oz", "lb" for
// decimal pounds, "lb-oz". It returns false for any other text: that one is to be read in place of the cell.
func (in WeightIn) Answered(answer string) (WeightIn, bool) {
	switch answer {
	case Grams, Kilos, Ounces:
		in.Unit, in.Point = answer, PointUnknown
	case Pounds:
		in.Unit, in.Point = answer, PointDecimal
	case PoundOz:
		in.Unit, in.Point = answer, PointOunces
	default:
		return in, false
	}
	return in, true
}

// Mass is one weight.
type Mass struct {
	Grams  float64     // for record.Measured; 15 to 8000
	Form   record.Form // Measured, MoreThan or AtLeast (Lo), LessThan (Hi), in grams
	Lo, Hi float64
	Unit   string // that it was read in
	Approx bool   // "~850": the Problem is then Approximate, told
	Note   string // words beside the number: "wet"
	Steps  []string
}

// Weight reads one weight. Grams are exact for what is written: 1 lb = 453.59237 g, 1 oz = 28.349523125 g.
// A bare number without a stated unit is a Problem; so are zero, negative, below 15 g and above 8000 g.
//
// Source: international avoirdupois pound, agreement of 1959 (0.45359237 kg exactly; 16 ounces). The limits
// are those of record.Traits: common practice, no source.
func Weight(c Cell, in WeightIn) (Mass, *Problem) {
	if c.Stored == Dated {
		return Mass{}, dateInWeight(c, in)
	}
	if n, ok := plainNumeral(c.Text); ok && (c.Stored == Text || c.Stored == Number) {
		return bareWeight(c, n, in, false)
	}
	text := Clean(c.Text)
	folded := Fold(text)
	if p := unread(c, folded, "a weight"); p != nil {
		return Mass{}, p
	}
	switch {
	case c.Stored == Bool || c.Stored == Text && (folded == "true" || folded == "false"):
		return Mass{}, &Problem{Class: BooleanCell, Message: quoted(c.Text) + " is a yes/no value, not a weight; write the weight or leave the cell empty", Readings: leaveEmpty()}
	case c.Stored == Percent || strings.HasSuffix(text, "%"):
		return Mass{}, percentWeight(c, text, in)
	case c.Stored == Number:
		return numberWeight(c, text, in)
	case Missing(folded):
		return Mass{}, &Problem{Class: MissingMarker, Action: Skip, Message: quoted(c.Text) + " holds no weight"}
	}
	if n, step, ok := exponent(text); ok {
		m, p := bareWeight(c, n, in, false)
		if p == nil {
			m.Steps = append(m.Steps, step)
		}
		return m, p
	}
	if p := letterForFigure(c, text, in); p != nil {
		return Mass{}, p
	}
	return textWeight(c, text, in)
}

// letterForFigure asks about a number in which letters stand for figures of the same look: "8oo", "8I5 g".
func letterForFigure(c Cell, text string, in WeightIn) *Problem {
	number, unit := text, ""
	if i := strings.IndexByte(text, ' '); i > 0 {
		number, unit = text[:i], text[i:]
	}
	if number == "" || !isDigit(number[0]) || !strings.ContainsAny(number, "oOIl|") || strings.Trim(number, "0123456789oOIl|.,") != "" {
		return nil
	}
	read := strings.NewReplacer("o", "0", "O", "0", "I", "1", "l", "1", "|", "1").Replace(number) + unit
	p := &Problem{Class: WeightAmbiguous, Message: quoted(c.Text) + " has a letter among its figures; confirm the weight or leave the cell empty", Readings: leaveEmpty()}
	if m, q := Weight(T(read), in); q == nil && m.Form == record.Measured {
		p.Readings = append([]record.Reading{m.reading()}, p.Readings...)
		p.Message = quoted(c.Text) + " has a letter among its figures; is it " + read + "? Confirm the weight or leave the cell empty"
	}
	return p
}

// numberWeight reads a number that the file stores as a number, which may have an exponent and a sign.
func numberWeight(c Cell, text string, in WeightIn) (Mass, *Problem) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || v != v {
		return textWeight(c, text, in)
	}
	n := numeral{text: text, value: v, whole: v == float64(int64(v)) && v < 1e15}
	if whole, fraction, ok := strings.Cut(text, "."); ok && !strings.ContainsAny(text, "eE") && whole != "" {
		n.fraction, n.mark = fraction, '.'
	}
	return bareWeight(c, n, in, v < 0)
}

// bareWeight reads one number without a unit of its own.
func bareWeight(c Cell, n numeral, in WeightIn, negative bool) (Mass, *Problem) {
	if n.value == 0 {
		return Mass{}, &Problem{Class: WeightZero, Readings: leaveEmpty(),
			Message: quoted(c.Text) + " is no weight of a bird; leave the cell empty where it was not weighed"}
	}
	if negative {
		abs := c
		abs.Text = strings.Trim(Clean(c.Text), "- ")
		p := &Problem{Class: WeightNegative, Message: quoted(c.Text) + " is below zero; confirm " + abs.Text + " or leave the cell empty"}
		if m, q := Weight(abs, in); q == nil && m.Form == record.Measured {
			p.Readings = append(p.Readings, m.reading())
		}
		p.Readings = append(p.Readings, leaveEmpty()...)
		return Mass{}, p
	}
	unit := in.Unit
	switch unit {
	case "":
		return Mass{}, unitUnknown(c, n)
	case Pounds, PoundOz:
		return inPounds(c, n, in)
	}
	return inUnit(c, n, unit, in)
}

// unitGrams gives the grams in one of a unit; dekagrams are for spellings only.
var unitGrams = map[string]float64{Grams: 1, dekagrams: 10, Kilos: 1000, Pounds: gramsPerPound, Ounces: gramsPerOunce}

const dekagrams = "dag"

// inUnit turns a number into grams, settling a twofold number by the decimal mark of the file.
func inUnit(c Cell, n numeral, unit string, in WeightIn) (Mass, *Problem) {
	per := unitGrams[unit]
	decimal, thousands := n.value*per, n.thousands*per
	if !n.twofold {
		return inRange(c, Mass{Grams: decimal, Unit: unit}, n, in)
	}
	asThousands := in.Mark != "" && in.Mark[0] != n.mark
	switch {
	case asThousands && plausible(thousands):
		return Mass{Grams: thousands, Unit: unit, Steps: []string{quoted(n.text) + ": the mark parts thousands, as decimals in this file are written with " + in.Mark}}, nil
	case !asThousands && plausible(decimal):
		return Mass{Grams: decimal, Unit: unit}, nil
	case in.Mark == "" && n.mark == ',' && plausible(thousands):
		return Mass{Grams: thousands, Unit: unit, Steps: []string{quoted(n.text) + ": the comma parts thousands, no bird weighs " + figure(n.value, 3) + " " + unit}}, nil
	}
	p := &Problem{Class: UnitSlip, Message: quoted(c.Text) + " could be " + figure(n.value, 3) + " or " + figure(n.thousands, 0) + ", and the column's unit (" + unit + ") fits only one of them; confirm the weight"}
	for _, g := range []float64{decimal, thousands, n.value * 1000, n.thousands} {
		if plausible(g) && (len(p.Readings) == 0 || p.Readings[0].Value != gramText(g)) {
			p.Readings = append(p.Readings, Mass{Grams: g}.reading())
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return Mass{}, p
}

func plausible(grams float64) bool { return grams >= lightest && grams <= heaviest }

// inRange holds out a weight that no bird has, with the units in which the same number would be one.
func inRange(c Cell, m Mass, n numeral, in WeightIn) (Mass, *Problem) {
	if plausible(m.Grams) {
		return m, nil
	}
	p := &Problem{Class: WeightEnormous, Readings: otherUnits(n, m.Unit)}
	if m.Grams < lightest {
		p.Class = WeightTiny
	}
	if len(p.Readings) > 0 {
		p.Class = UnitSlip
	}
	than := "more than any fowl weighs (8 kg)"
	if m.Grams < lightest {
		than = "less than any chick weighs (15 g)"
	}
	p.Message = quoted(c.Text) + " read as " + m.Unit + " is " + than + "; correct the number or write its unit beside it"
	for _, g := range []float64{m.Grams / 10, m.Grams * 10} { // one figure too many, or too few
		if plausible(g) {
			p.Readings = append(p.Readings, Mass{Grams: g}.reading())
		}
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return Mass{}, p
}

// otherUnits are the readings of a number in the units that give a possible weight.
func otherUnits(n numeral, not string) []record.Reading {
	var out []record.Reading
	for _, unit := range []string{Grams, Kilos, Pounds, Ounces} {
		if g := n.value * unitGrams[unit]; unit != not && plausible(g) {
			out = append(out, record.Reading{Label: figure(n.value, 3) + " " + unit + inGrams(unit, g), Value: gramText(g)})
		}
	}
	return out
}

func inGrams(unit string, grams float64) string {
	if unit == Grams {
		return ""
	}
	return " (" + figure(grams, 0) + " g)"
}

func gramText(grams float64) string { return figure(grams, 1) + " g" }

func (m Mass) reading() record.Reading {
	return record.Reading{Label: gramText(m.Grams), Value: gramText(m.Grams)}
}

// unitUnknown asks for the unit; the answer settles the column. Only units that give a possible weight are
// offered, unless none does.
func unitUnknown(c Cell, n numeral) *Problem {
	p := &Problem{Class: UnitUnknown, Message: quoted(c.Text) + " has no unit, and neither heading nor settings state one; write the unit in the heading or in flock.toml, [units] weight"}
	for _, unit := range []string{Grams, Kilos, Pounds, Ounces} {
		if g := n.value * unitGrams[unit]; plausible(g) {
			p.Readings = append(p.Readings, record.Reading{Label: figure(n.value, 3) + " " + unit + inGrams(unit, g), Value: unit})
		}
	}
	if oz, ok := ouncesAfterPoint(n.fraction); ok && !n.whole && oz >= 0 {
		if m, ok := poundsOunces(float64(int(n.value)), oz); ok {
			p.Readings = append(p.Readings, record.Reading{Label: poundOunceText(float64(int(n.value)), oz) + inGrams(PoundOz, m), Value: PoundOz})
		}
	}
	if len(p.Readings) == 0 {
		p.Class = WeightEnormous
		p.Message = quoted(c.Text) + " is no weight of a bird in any unit; correct it or leave the cell empty"
		p.Readings = leaveEmpty()
	}
	return p
}

// percentWeight asks: a number in a cell whose format is a percentage is mostly a format dragged down.
func percentWeight(c Cell, text string, in WeightIn) *Problem {
	p := &Problem{Class: PercentCell}
	shown := strings.TrimSuffix(text, "%")
	if v, err := strconv.ParseFloat(text, 64); err == nil && c.Stored == Percent {
		shown = figure(v*100, 4)
	}
	p.Message = quoted(shown+"%") + " is a percentage, not a weight; confirm the weight or leave the cell empty"
	if m, q := Weight(T(shown), in); q == nil && m.Form == record.Measured {
		p.Readings = append(p.Readings, m.reading())
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

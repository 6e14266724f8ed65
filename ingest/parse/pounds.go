package parse

import (
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// inPounds reads one number in a column of pounds, or of pounds and ounces, where the point is the question.
func inPounds(c Cell, n numeral, in WeightIn) (Mass, *Problem) {
	pounds := float64(int64(min(n.value, 1e9)))
	ounces, twoNumbers := ouncesAfterPoint(n.fraction)
	decimal := Mass{Grams: n.value * gramsPerPound, Unit: Pounds}
	switch {
	case n.whole && in.Unit == PoundOz && in.Point != PointOunces:
		return Mass{}, loneNumber(c, n)
	case n.whole, in.Point == PointDecimal, !twoNumbers && in.Point == PointUnknown, ounces == 0 && n.fraction != "":
		return inUnit(c, n, Pounds, in)
	case in.Point == PointOunces && !twoNumbers:
		return Mass{}, &Problem{Class: OuncesTooMany, Readings: append(plausibleOnly(decimal), leaveEmpty()...),
			Message: quoted(c.Text) + " would be " + figure(pounds, 0) + " lb " + n.fraction + " oz, and 16 oz make a pound; correct the number or confirm " + figure(n.value, 3) + " lb"}
	case in.Point == PointOunces && n.fraction != "1":
		g, ok := poundsOunces(pounds, ounces)
		m := Mass{Grams: g, Unit: PoundOz, Steps: []string{quoted(c.Text) + ": the point parts pounds from ounces"}}
		if !ok {
			return inRange(c, m, n, in)
		}
		return m, nil
	}
	if g, ok := poundsOunces(pounds, ounces); !ok && !plausible(decimal.Grams) {
		return inRange(c, Mass{Grams: g, Unit: in.Unit}, n, in)
	}
	p := &Problem{Class: PoundsAmbiguous, Readings: []record.Reading{
		{Label: figure(n.value, 3) + " lb" + inGrams(Pounds, decimal.Grams), Value: Pounds}, // answers for the column
		poundOunceReading(pounds, ounces, PoundOz),
	}}
	if in.Point == PointOunces { // 2.1 was typed as 2.1 or as 2.10: a spreadsheet drops the last zero
		p.Message = quoted(c.Text) + " was typed as " + poundOunceText(pounds, 1) + " or as " + poundOunceText(pounds, 10) + ", which lost its zero; confirm which"
		p.Readings = nil
		for _, oz := range []float64{1, 10} {
			p.Readings = append(p.Readings, poundOunceReading(pounds, oz, poundOunceText(pounds, oz)))
		}
		return Mass{}, p
	}
	p.Message = quoted(c.Text) + " is " + figure(n.value, 3) + " lb or " + poundOunceText(pounds, ounces) + "; say which the column means"
	return Mass{}, p
}

// ouncesAfterPoint reads the digits after a point as ounces: one or two digits, 0 to 15.
func ouncesAfterPoint(fraction string) (float64, bool) {
	v, err := strconv.Atoi(fraction)
	return float64(v), err == nil && len(fraction) <= 2 && v < 16
}

// plausibleOnly offers a weight if a bird can have it.
func plausibleOnly(m Mass) []record.Reading {
	if !plausible(m.Grams) {
		return nil
	}
	return []record.Reading{m.reading()}
}

func poundOunceReading(pounds, ounces float64, value string) record.Reading {
	g, _ := poundsOunces(pounds, ounces)
	return record.Reading{Label: poundOunceText(pounds, ounces) + inGrams(PoundOz, g), Value: value}
}

func poundOunceText(pounds, ounces float64) string {
	return figure(pounds, 3) + " lb " + figure(ounces, 3) + " oz"
}

// poundsOunces gives grams, and false where no bird weighs that.
func poundsOunces(pounds, ounces float64) (float64, bool) {
	g := pounds*gramsPerPound + ounces*gramsPerOunce
	return g, plausible(g)
}

// loneNumber asks of a whole number in a column of pounds and ounces: 5 may be pounds or ounces.
func loneNumber(c Cell, n numeral) *Problem {
	p := &Problem{Class: PoundsAmbiguous, Message: quoted(c.Text) + " stands alone in a column of pounds and ounces; confirm pounds or ounces"}
	for _, unit := range []string{Pounds, Ounces} {
		if g := n.value * unitGrams[unit]; plausible(g) {
			text := figure(n.value, 3) + " " + unit
			p.Readings = append(p.Readings, record.Reading{Label: text + inGrams(unit, g), Value: gramText(g)})
		}
	}
	if len(p.Readings) == 0 {
		p.Class, p.Readings = UnitSlip, otherUnits(n, PoundOz)
		p.Message = quoted(c.Text) + " is no weight of a bird in pounds or in ounces; correct the number or write its unit beside it"
	}
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

// dateInWeight offers the pounds and ounces that a spreadsheet turned into a date: 6-4 became 6 April, and
// 5-13, with no month 13, May 2013.
func dateInWeight(c Cell, in WeightIn) *Problem {
	p := &Problem{Class: DateInWeight}
	day, ok := storedDay(c, in.Sys)
	shown := c.Text
	if ok {
		y, m, d := day.Date()
		if c.Stored != Text {
			shown = day.String()
		}
		pairs := [][2]int{{d, int(m)}, {int(m), d}}
		if in.Order == MDY {
			pairs[0], pairs[1] = pairs[1], pairs[0]
		}
		if d == 1 {
			pairs = append(pairs, [2]int{int(m), y % 100})
		}
		seen := map[string]bool{}
		for _, pair := range pairs {
			lb, oz := float64(pair[0]), float64(pair[1])
			text := poundOunceText(lb, oz)
			if _, ok := poundsOunces(lb, oz); ok && oz < 16 && !seen[text] && (in.Unit == "" || in.Unit == Pounds || in.Unit == PoundOz) {
				seen[text] = true
				p.Readings = append(p.Readings, poundOunceReading(lb, oz, text))
			}
		}
	}
	p.Message = quoted(shown) + " is a date in a column of weights: a spreadsheet makes dates of texts such as 6-4; confirm the weight or leave the cell empty"
	p.Readings = append(p.Readings, leaveEmpty()...)
	return p
}

// UnitEvidence is what a column of weights says of its unit.
type UnitEvidence struct {
	Unit   string   // "" where it cannot be told
	Stated bool     // cells of the column write it; otherwise no other unit gives weights that a bird can have
	Fits   []string // units in which nearly every bare number of the column is a possible weight
	Reason string   // one sentence with the text that proves it
	At     int      // index of that cell, -1 where there is none
}

// ColumnUnit looks for the unit of a column's bare numbers in its own cells: units that other cells write
// (if they agree), else the only unit in which at least nine in ten bare numbers lie between 15 g and 8000 g
// (three numbers at least). A column in which cells write pounds or ounces, and the bare cells are pairs such
// as 5-4, is PoundOz.
func ColumnUnit(cells []Cell) UnitEvidence {
	ev := UnitEvidence{At: -1}
	written := map[string]int{} // unit -> first cell
	var bare []float64
	pairs := 0
	for i, c := range cells {
		if c.Stored == Number {
			if v, err := strconv.ParseFloat(c.Text, 64); err == nil && v > 0 {
				bare = append(bare, v)
			}
			continue
		}
		if c.Stored != Text {
			continue
		}
		q, ok := scanQuantity(Clean(c.Text), false)
		switch {
		case !ok, q.lead != "": // "died 25/4"
		case q.unit != "":
			if _, seen := written[q.unit]; !seen {
				written[q.unit] = i
			}
		case q.paired:
			pairs++
		default:
			bare = append(bare, q.first.value)
		}
	}
	ev.Fits = fitting(bare)
	unit, at := agreed(written)
	switch {
	case unit == PoundOz && (len(bare) == 0 || pairs > 0), unit != "" && unit != PoundOz && has(ev.Fits, unit), unit != "" && len(bare)+pairs == 0:
		ev.Unit, ev.Stated, ev.At = unit, true, at
		ev.Reason = "unit " + unit + ": " + quoted(cells[at].Text) + " writes it, and no cell of the column another"
	case len(written) == 0 && pairs == 0 && len(bare) >= 3 && len(ev.Fits) == 1:
		ev.Unit = ev.Fits[0]
		ev.Reason = "unit " + ev.Unit + ": in no other unit are the numbers of the column weights that a bird can have (15 g to 8 kg)"
	}
	return ev
}

// agreed returns the one unit that cells write; pounds, ounces and pairs of them agree as PoundOz.
func agreed(written map[string]int) (string, int) {
	unit, at := "", -1
	for _, u := range []string{Grams, dekagrams, Kilos, PoundOz, Pounds, Ounces} {
		i, ok := written[u]
		imperial := u == PoundOz || u == Pounds || u == Ounces
		switch {
		case !ok:
		case unit == "":
			unit, at = u, i
		case imperial && (unit == PoundOz || unit == Pounds):
			unit, at = PoundOz, min(at, i)
		default:
			return "", -1
		}
	}
	return unit, at
}

func fitting(bare []float64) []string {
	var fits []string
	for _, unit := range []string{Grams, Kilos, Pounds, Ounces} {
		n := 0
		for _, v := range bare {
			if plausible(v * unitGrams[unit]) {
				n++
			}
		}
		if len(bare) > 0 && n*10 >= len(bare)*9 {
			fits = append(fits, unit)
		}
	}
	return fits
}

func has(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// PointEvidence is what a column says of the point in its pounds.
type PointEvidence struct {
	Point  Point  // PointUnknown: ask
	Likely Point  // what the column rather looks like where Point is unknown; to be offered first, not used
	Reason string // one sentence with the text that proves it
	At     int    // index of that cell, -1 where there is none
}

// ColumnPounds decides from a whole column in pounds whether 2.4 means 2.4 lb or 2 lb 4 oz. A fraction of 16
// or more (5.41, 2.55) proves decimals. Nothing proves ounces under a heading of lb; under a heading of lb-oz
// a two-digit fraction (2.04, 2.10) does, where every fraction is 0 to 15.
func ColumnPounds(unit string, cells []Cell) PointEvidence {
	ev := PointEvidence{At: -1}
	padded, above := -1, -1 // first cell with a two-figure part of 0 to 15; of anything that cannot be ounces
	n, nPadded, nAbove := 0, 0, 0
	for i, c := range cells {
		if c.Stored != Number && c.Stored != Text {
			continue
		}
		num, rest, ok := scanNumeral(Clean(c.Text), false)
		if !ok || num.fraction == "" || strings.ContainsAny(rest, "0123456789") {
			continue
		}
		n++
		_, ounces := ouncesAfterPoint(num.fraction)
		switch {
		case !ounces:
			if nAbove++; above < 0 {
				above = i
			}
		case len(num.fraction) == 2:
			if nPadded++; padded < 0 {
				padded = i
			}
		}
	}
	switch {
	case above >= 0 && (unit == PoundOz || nPadded > 3*nAbove):
		ev.Reason = quoted(cells[above].Text) + " is decimal pounds, as its part after the point cannot be ounces, but the heading or most of the column reads as pounds and ounces"
	case above >= 0:
		ev.Point, ev.At = PointDecimal, above
		ev.Reason = "decimal pounds: the part after the point in " + quoted(cells[above].Text) + " cannot be ounces (0 to 15)"
	case padded >= 0 && unit == PoundOz:
		ev.Point, ev.At = PointOunces, padded
		ev.Reason = "pounds and ounces: the heading says so, every part after the point is 0 to 15, and " + quoted(cells[padded].Text) + " has two figures"
	case padded >= 0 && n >= 3, unit == PoundOz && n > 0:
		ev.Likely = PointOunces
		ev.Reason = "no cell proves decimal pounds, and every part after the point is 0 to 15"
	}
	return ev
}

package slip

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// unit is a unit that a bare number may be in.
type unit struct {
	name, plural string
	grams        float64
}

func units() []unit {
	return []unit{{"g", "grams", 1}, {"kg", "kilograms", 1000}, {"lb", "pounds", 16 * gramsPerOunce}, {"oz", "ounces", gramsPerOunce}}
}

// unitTolerance is how far from a unit's ratio a weight may lie, in log: 15 %. Source: common practice, no source.
const unitTolerance = 0.14

// nearUnit reports whether a log ratio of weights is that of two units.
func nearUnit(ratio float64) (factor float64, ok bool) {
	for _, u := range units() {
		for _, v := range units() {
			if u != v && math.Abs(ratio-math.Log(u.grams/v.grams)) < unitTolerance {
				return u.grams / v.grams, true
			}
		}
	}
	return 0, false
}

// typed is a weight as one number in one unit. perNumber is 0 where the text is not that ("2 lb 4 oz").
type typed struct {
	digits    string // without mark
	point     int    // digits before the decimal mark
	marked    bool   // a decimal mark is there
	number    float64
	perNumber float64 // grams in one
	unit      unit    // that perNumber is; no name where it is none of ours
}

// typedAs takes the digits of a weight from its text; without a text, from its grams.
func typedAs(o record.Observation) typed {
	text := strings.TrimSpace(o.Text)
	if text == "" {
		text = strconv.FormatFloat(o.Value, 'f', -1, 64)
	}
	inNumber := func(r rune) bool { return r >= '0' && r <= '9' || r == '.' || r == ',' }
	start := strings.IndexFunc(text, func(r rune) bool { return r >= '0' && r <= '9' })
	if start < 0 {
		return typed{}
	}
	rest := text[start:]
	end := strings.IndexFunc(rest, func(r rune) bool { return !inNumber(r) })
	if end < 0 {
		end = len(rest)
	}
	if strings.ContainsAny(rest[end:], "0123456789") {
		return typed{}
	}
	numeral := strings.TrimRight(strings.ReplaceAll(rest[:end], ",", "."), ".")
	t := typed{}
	whole, fraction, marked := strings.Cut(numeral, ".")
	for _, thousands := range []bool{false, true} {
		t.digits, t.point, t.marked = whole+fraction, len(whole), marked
		if thousands {
			t.point, t.marked = len(t.digits), false
		}
		t.number = t.value(t.digits)
		if !(t.number > 0) || strings.Contains(fraction, ".") || len(t.digits) > 9 {
			return typed{}
		}
		for _, u := range units() {
			if math.Abs(o.Value/t.number/u.grams-1) < 1e-3 {
				t.perNumber, t.unit = u.grams, u
				return t
			}
		}
		if !marked {
			break
		}
	}
	return typed{}
}

// value reads digits with the decimal mark where it was.
func (t typed) value(digits string) float64 {
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		return math.NaN()
	}
	return v / math.Pow10(len(t.digits)-t.point)
}

// show writes digits with the decimal mark where it was.
func (t typed) show(digits string) string {
	after := len(t.digits) - t.point
	if after <= 0 || len(digits) <= after {
		return digits
	}
	return digits[:len(digits)-after] + "." + digits[len(digits)-after:]
}

// candidate is one thing that a weighing may have been.
type candidate struct {
	class  Class
	log    float64 // of grams, where the keeper would confirm one weight; else the nearest that is possible
	label  string
	value  string // "" where no single weight can be offered
	factor float64
	unit   unit    // that it was in, for unit slips
	cost   float64 // how much less likely than a unit slip, in log
	z      float64 // SDs off the expectation
}

// candidates lists what a weighing may have been instead, near an expected log weight.
func candidates(o record.Observation, expected float64) []candidate {
	t := typedAs(o)
	var out []candidate
	add := func(c Class, cost, grams float64, how string) {
		if grams > 0 && grams != o.Value {
			if !strings.HasSuffix(how, " "+gramText(grams)) {
				how += " (" + gramText(grams) + ")"
			}
			out = append(out, candidate{class: c, log: math.Log(grams), cost: cost, value: gramText(grams), factor: grams / o.Value, label: how})
		}
	}
	for _, from := range units() {
		for _, to := range units() {
			if from.name == to.name || t.unit.name != "" && from.name != t.unit.name {
				continue
			}
			grams := o.Value * to.grams / from.grams
			how := fmt.Sprintf("%s for %s", to.plural, from.plural)
			if t.perNumber > 0 {
				how = figure(t.number) + " " + to.name
			}
			add(UnitSlip, 0, grams, how)
			out[len(out)-1].unit = to
		}
	}
	if t.perNumber == 0 {
		return out
	}
	for _, shift := range []int{-3, -2, -1, 1, 2, 3} {
		factor := math.Pow10(shift)
		if math.Abs(factor-1000) < 1 && t.unit.name == "kg" || math.Abs(factor-0.001) < 1e-9 && t.unit.name == "g" {
			continue // that is the unit
		}
		switch {
		case t.marked:
			add(DecimalPoint, 0.5, o.Value*factor, "the decimal point moved: "+figure(t.number*factor)+" "+t.unit.name)
		case shift < 0: // 10855 was 1085.5
			add(DecimalPoint, 2, o.Value*factor, "the decimal point left out: "+figure(t.number*factor)+" "+t.unit.name)
		}
	}
	for i := range len(t.digits) - 1 {
		if t.digits[i] == t.digits[i+1] || i == 0 && t.digits[1] == '0' && t.point > 1 {
			continue // the same, or no number that one would write
		}
		d := t.digits[:i] + t.digits[i+1:i+2] + t.digits[i:i+1] + t.digits[i+2:]
		add(DigitSwap, 1, t.value(d)*t.perNumber, "digits swapped: "+t.show(d)+" "+t.unit.name)
	}
	for i := range len(t.digits) {
		if i > 0 && t.digits[i] == t.digits[i-1] {
			continue // the same number again
		}
		if t.marked && (i >= t.point || t.point < 2) {
			break // the point would move
		}
		if d := t.digits[:i] + t.digits[i+1:]; len(d) > 0 && d[0] != '0' {
			add(ExtraDigit, 1.5, t.value(d)*t.perNumber, "one digit too many: "+t.show(d)+" "+t.unit.name)
		}
	}
	if c, ok := t.missing(expected); ok {
		out = append(out, c)
	}
	return out
}

// missing is the nearest that a lost digit allows. Which digit it was nobody can tell from the sheet.
func (t typed) missing(expected float64) (candidate, bool) {
	best := candidate{class: MissingDigit, log: math.NaN(), cost: 1.5}
	if t.marked && t.number < 1 {
		return best, false
	}
	for i := range len(t.digits) + 1 {
		if t.marked && i > t.point {
			break // the point would move
		}
		nearest := math.NaN()
		for d := '0'; d <= '9'; d++ {
			if i == 0 && d == '0' {
				continue
			}
			l := math.Log(t.value(t.digits[:i]+string(d)+t.digits[i:]) * t.perNumber)
			if math.IsNaN(nearest) || math.Abs(l-expected) < math.Abs(nearest-expected) {
				nearest = l
			}
		}
		// A digit lost at the end is the commonest and is named first where another fits hardly better.
		if math.IsNaN(best.log) || math.Abs(nearest-expected) <= math.Abs(best.log-expected) || i == len(t.digits) && math.Abs(nearest-expected) < 0.03 {
			best.log = nearest
			best.label = fmt.Sprintf("a digit is missing: %s %s", t.show(t.digits[:i]+"_"+t.digits[i:]), t.unit.name)
		}
	}
	return best, !math.IsNaN(best.log)
}

// likely are the candidates that fit the expectation and explain a weighing z SDs off much better than chance, best first.
func likely(o record.Observation, mean, sd, z float64) []candidate {
	var out []candidate
	for _, c := range candidates(o, mean) {
		c.z = (c.log - mean) / sd
		if math.Abs(c.z) > fits || c.class == UnitSlip && math.Abs(c.log-mean) > max(unitTolerance, sd) {
			continue
		}
		if (z*z-c.z*c.z)/2 > gain+c.cost {
			out = append(out, c)
		}
	}
	return best(out)
}

// best keeps the few candidates that fit about as well as the best, each weight once, best first.
func best(all []candidate) []candidate {
	score := func(c candidate) float64 { return c.cost + c.z*c.z/2 }
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(score(a), score(b)) })
	var kept []candidate
	for _, c := range all {
		if score(c) < score(all[0])+3 && len(kept) < mostReadings && !slices.ContainsFunc(kept, func(k candidate) bool { return k.value == c.value && c.value != "" }) {
			kept = append(kept, c)
		}
	}
	return kept
}

const (
	fits         = 3.3 // SDs off that a reading may lie
	gain         = 5   // log likelihood by which a reading must explain the weighing better
	mostReadings = 4
)

func figure(v float64) string {
	if math.Abs(v) >= 100 {
		return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
	}
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

func gramText(grams float64) string {
	return strconv.FormatFloat(math.Round(grams*10)/10, 'f', -1, 64) + " g"
}

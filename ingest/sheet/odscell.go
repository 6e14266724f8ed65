package sheet

import (
	"bytes"
	"math"
	"strconv"
	"strings"
)

// odsValue sets the kind of the cell and gives its text. values are value, date, time, boolean and string.
func odsValue(cell *Cell, kind string, values [][]byte, text []byte) []byte {
	asText := func() []byte {
		switch {
		case len(text) > 0:
			cell.Kind = Text
		case kind == "string" && cell.Formula:
			cell.Kind = Text // cached as empty, which is not the same as not cached
		case len(values[4]) > 0:
			cell.Kind = Text
			return values[4]
		}
		if cell.Formula && isErrorText(string(text)) {
			cell.Kind = Error
		}
		return text
	}
	switch kind {
	case "float", "currency", "percentage":
		number, ok := plainNumber(values[0])
		if !ok {
			return asText()
		}
		if cell.Kind = Number; kind == "percentage" {
			cell.Kind = Percent
		}
		return number
	case "date":
		if len(values[1]) == 0 {
			return asText()
		}
		cell.Kind = Date
		return bytes.TrimSuffix(values[1], []byte("T00:00:00"))
	case "time":
		days, ok := clock(string(values[2]))
		if !ok {
			return asText()
		}
		cell.Kind = Date
		return strconv.AppendFloat(nil, days, 'f', -1, 64)
	case "boolean":
		cell.Kind = Bool
		if isTrue(values[3]) {
			return []byte("1")
		}
		return []byte("0")
	case "error":
		cell.Kind = Error
		if len(text) == 0 {
			return []byte("#ERROR")
		}
		return text
	}
	return asText()
}

func isErrorText(s string) bool {
	switch s {
	case "#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "#N/A", "#NUM!", "#NULL!":
		return true
	}
	return strings.HasPrefix(s, "Err:")
}

// clock turns a duration such as PT08H30M00S into days.
func clock(s string) (days float64, ok bool) {
	s, negative := strings.CutPrefix(s, "-")
	s, ok = strings.CutPrefix(s, "PT")
	if !ok {
		return 0, false
	}
	for _, unit := range []struct {
		letter string
		perDay float64
	}{{"H", 24}, {"M", 1440}, {"S", 86400}} {
		number, rest, found := strings.Cut(s, unit.letter)
		if !found {
			continue
		}
		n, err := strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
		if err != nil || math.IsInf(n, 0) || math.IsNaN(n) {
			return 0, false
		}
		days, s = days+n/unit.perDay, rest
	}
	if negative {
		days = -days
	}
	return days, s == ""
}

// cellText reads what stands in the cell that was just opened into o.text, and the note on it into o.comment.
// Drawings and whatever else hangs in a cell are passed over. struck says that all of the text is struck through.
func (o *odsReader) cellText() (struck bool, err error) {
	o.text, o.comment = o.text[:0], o.comment[:0]
	paragraphs, all, through := 0, 0, 0
	for depth := o.depth(); ; {
		t, err := o.next()
		switch {
		case err != nil:
			return false, err
		case t == tokenEnd && o.depth() < depth:
			return all > 0 && all == through, nil
		case t != tokenStart:
			continue
		}
		switch string(o.name) {
		case "p", "h":
			if paragraphs++; paragraphs > 1 {
				o.text = append(o.text, '\n')
			}
			err = o.paragraph(&o.text, &all, &through)
		case "annotation":
			err = o.annotation()
		default:
			err = o.skip()
		}
		if err != nil {
			return false, err
		}
	}
}

func (o *odsReader) annotation() error {
	for depth := o.depth(); ; {
		t, err := o.next()
		switch {
		case err != nil || t == tokenEnd && o.depth() < depth:
			return err
		case t != tokenStart:
			continue
		}
		switch string(o.name) {
		case "p", "h":
			if len(o.comment) > 0 {
				o.comment = append(o.comment, '\n')
			}
			var all, through int
			err = o.paragraph(&o.comment, &all, &through)
		case "list", "list-item":
		default:
			err = o.skip()
		}
		if err != nil {
			return err
		}
	}
}

// paragraph appends a paragraph. Runs of white space are one space, as the standard has it; spaces that count
// are written as elements. all and through count the pieces of text, and those struck through.
func (o *odsReader) paragraph(dst *[]byte, all, through *int) error {
	struckFrom := 0 // depth of the span that strikes through, 0 outside
	start := len(*dst)
	for depth := o.depth(); ; {
		t, err := o.next()
		switch {
		case err != nil:
			return err
		case t == tokenEnd && o.depth() < depth:
			return nil
		case t == tokenEnd && o.depth() < struckFrom:
			struckFrom = 0
		case t == tokenText:
			o.piece, err = appendText(o.piece[:0], o.raw, o.cdata)
			if err != nil {
				return err
			}
			if len(bytes.TrimSpace(o.piece)) > 0 {
				if *all++; struckFrom > 0 {
					*through++
				}
			}
			if len(*dst)+len(o.piece) > longestText {
				return errLong
			}
			for _, c := range o.piece {
				if c == ' ' || c == '\n' || c == '\t' {
					if n := len(*dst); n == start || (*dst)[n-1] == ' ' {
						continue
					}
					c = ' '
				}
				*dst = append(*dst, c)
			}
		case t == tokenStart:
			if err := o.inline(dst, &struckFrom); err != nil {
				return err
			}
		}
	}
}

// inline handles an element within a paragraph.
func (o *odsReader) inline(dst *[]byte, struckFrom *int) error {
	switch string(o.name) {
	case "s":
		count, err := o.attr("text:c")
		if err != nil {
			return err
		}
		n, err := repeats(count, 1024)
		if err != nil {
			return err
		}
		if len(*dst) > longestText {
			return errLong
		}
		*dst = append(*dst, strings.Repeat(" ", int(n))...)
	case "tab":
		*dst = append(*dst, '\t')
	case "line-break":
		*dst = append(*dst, '\n')
	case "span":
		name, err := o.attr("text:style-name")
		if err != nil {
			return err
		}
		if *struckFrom == 0 && o.styles.struckSpans[string(name)] {
			*struckFrom = o.depth()
		}
	case "ruby-text", "annotation", "note":
		return o.skip()
	}
	return nil
}

package sheet

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// plainNumber writes a stored number without an exponent and without the noise of binary fractions
// (1.1000000000000001 is 1.1), losing nothing; false where it is none.
func plainNumber(b []byte) ([]byte, bool) {
	digits, point, plain := 0, 0, len(b) < 17
	for i, c := range b {
		switch {
		case c >= '0' && c <= '9':
			digits++
		case c == '.':
			point++
		case c == '-' && i == 0:
		default:
			plain = false
		}
	}
	if plain && digits > 0 && point <= 1 {
		return b, true
	}
	if len(bytes.Trim(b, "0123456789.eE+-")) > 0 {
		return b, false // strconv would take hexadecimal digits and words such as infinity
	}
	f, err := strconv.ParseFloat(string(b), 64)
	if err != nil || math.IsNaN(f) || math.IsInf(f, 0) {
		return b, false
	}
	form := byte('f')
	if a := math.Abs(f); a != 0 && (a < 1e-9 || a >= 1e21) {
		form = 'e'
	}
	return strconv.AppendFloat(nil, f, form, -1, 64), true
}

// isTruth reports whether a formula only states a truth value: some programs store a typed TRUE in this way.
func isTruth(formula []byte) bool { return string(formula) == "TRUE()" || string(formula) == "FALSE()" }

func isTrue(b []byte) bool { return string(b) == "1" || string(b) == "true" }

// richText appends the text of the string item that was just opened, run by run without phonetic guides, and
// passes to its end. struck says that every run is struck through.
func (s *scanner) richText(dst []byte) (text []byte, struck bool, err error) {
	from, run, runs, struckRuns := len(dst), false, 0, 0
	for depth := s.depth(); ; {
		t, err := s.next()
		switch {
		case err != nil:
			return dst, false, err
		case t == tokenEnd && s.depth() < depth:
			dst = append(dst[:from], unescape(dst[from:])...)
			if !utf8.Valid(dst[from:]) {
				return dst, false, errUTF8
			}
			return dst, runs > 0 && struckRuns == runs, nil
		case t != tokenStart:
			continue
		}
		switch string(s.name) {
		case "rPh":
			err = s.skip()
		case "r":
			run = false
		case "strike":
			var val []byte
			val, err = s.attr("val")
			run = val == nil || isTrue(val)
		case "t":
			n := len(dst)
			if dst, err = s.text(dst); len(bytes.TrimSpace(dst[n:])) > 0 {
				runs++
				if run {
					struckRuns++
				}
			}
		}
		if err != nil {
			return dst, false, err
		}
	}
}

// unescape resolves _x000D_, in which OOXML writes characters that XML cannot hold. Control characters that
// are neither a tab nor a line break are left as they are written.
// Source: ECMA-376 part 1, 22.9.2.19.
func unescape(b []byte) []byte {
	if !bytes.Contains(b, []byte("_x")) {
		return b
	}
	var out []byte
	for i := 0; i < len(b); i++ {
		if i+7 <= len(b) && b[i] == '_' && b[i+1] == 'x' && b[i+6] == '_' {
			n, err := strconv.ParseUint(string(b[i+2:i+6]), 16, 16)
			if c := rune(n); err == nil && (c >= ' ' || strings.ContainsRune("\t\n\r", c)) && utf8.ValidRune(c) {
				out = utf8.AppendRune(out, c)
				i += 6
				continue
			}
		}
		out = append(out, b[i])
	}
	return out
}

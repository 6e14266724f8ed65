package nbformat

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// encoder writes JSON as Python's json module does with sort_keys, indent 1 and ensure_ascii off, which is how
// the reference implementation writes notebooks. encoding/json differs in the line separators U+2028 and
// U+2029, in replacing invalid text, and in the form of numbers.
type encoder struct{ bytes.Buffer }

// deepest is how many levels of nesting are written. Each level is one blank of indent on each line, so that
// a small file nested without end would become a huge one.
const deepest = 200

func (e *encoder) value(v any, depth int) error {
	if depth > deepest {
		return fmt.Errorf("a value is nested more than %d levels deep; no notebook program writes that, leave the value out", deepest)
	}
	switch v := v.(type) {
	case nil:
		e.WriteString("null")
	case bool:
		e.WriteString(strconv.FormatBool(v))
	case int:
		e.WriteString(strconv.Itoa(v))
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%v cannot be written in a notebook; leave the value out", v)
		}
		e.WriteString(floatText(v))
	case json.Number:
		e.WriteString(numberText(v))
	case string:
		e.text(v)
	case []string:
		return list(e, v, depth)
	case []any:
		return list(e, v, depth)
	case map[string]any:
		return e.object(v, depth)
	case Bundle:
		return e.object(v, depth)
	default:
		return e.foreign(v, depth)
	}
	return nil
}

// foreign writes any other Go value by way of its own JSON form.
func (e *encoder) foreign(v any, depth int) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var plain any
	if err := d.Decode(&plain); err != nil {
		return err
	}
	return e.value(plain, depth)
}

func list[T any](e *encoder, items []T, depth int) error {
	if len(items) == 0 {
		e.WriteString("[]")
		return nil
	}
	e.WriteByte('[')
	for i, item := range items {
		e.newline(i, depth+1)
		if err := e.value(item, depth+1); err != nil {
			return err
		}
	}
	e.newline(0, depth)
	e.WriteByte(']')
	return nil
}

func (e *encoder) object(m map[string]any, depth int) error {
	if len(m) == 0 {
		e.WriteString("{}")
		return nil
	}
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	e.WriteByte('{')
	for i, k := range keys {
		e.newline(i, depth+1)
		e.text(k)
		e.WriteString(": ")
		if err := e.value(m[k], depth+1); err != nil {
			return err
		}
	}
	e.newline(0, depth)
	e.WriteByte('}')
	return nil
}

func (e *encoder) newline(item, depth int) {
	if item > 0 {
		e.WriteByte(',')
	}
	e.WriteByte('\n')
	for range depth {
		e.WriteByte(' ')
	}
}

func (e *encoder) text(s string) {
	e.WriteByte('"')
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			e.WriteString("\uFFFD") // not UTF-8: shown as the stand-in rather than writing a broken file
		case r == '"' || r == '\\':
			e.WriteByte('\\')
			e.WriteByte(byte(r))
		case r == '\n':
			e.WriteString(`\n`)
		case r == '\r':
			e.WriteString(`\r`)
		case r == '\t':
			e.WriteString(`\t`)
		case r == '\b':
			e.WriteString(`\b`)
		case r == '\f':
			e.WriteString(`\f`)
		case r < 0x20:
			fmt.Fprintf(e, `\u%04x`, r)
		default:
			e.WriteString(s[i : i+size])
		}
		i += size
	}
	e.WriteByte('"')
}

// numberText writes a number that was read: whole numbers as they are, others as floats.
func numberText(n json.Number) string {
	s := n.String()
	if !strings.ContainsAny(s, ".eE") {
		if i, ok := new(big.Int).SetString(s, 10); ok {
			return i.String() // "-0" is 0
		}
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(f, 0) {
		return s // beyond a float: kept as written
	}
	return floatText(f)
}

// floatText is the shortest text that reads back as the same float, in Python's choice between plain and
// exponent form: plain for 1e-4 <= |x| < 1e16.
func floatText(f float64) string {
	if a := math.Abs(f); a != 0 && (a < 1e-4 || a >= 1e16) {
		return strconv.FormatFloat(f, 'e', -1, 64)
	}
	s := strconv.FormatFloat(f, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

package sheet

import (
	"bytes"
	"fmt"
	"strconv"
	"unicode/utf8"
)

// tagEnd finds the > that closes the tag at the front of b, outside quotes; -1 where b holds none.
func tagEnd(b []byte) int {
	var quote byte
	for i, c := range b {
		switch {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '>':
			return i
		case c == '"' || c == '\'':
			quote = c
		}
	}
	return -1
}

// cutAttr takes the first attribute off the front of a tag. The name is nil at the end of the tag.
func cutAttr(b []byte) (name, value, rest []byte, err error) {
	i := 0
	for i < len(b) && b[i] <= ' ' {
		i++
	}
	if i == len(b) {
		return nil, nil, nil, nil
	}
	b = b[i:]
	eq := bytes.IndexByte(b, '=')
	if eq <= 0 {
		return nil, nil, nil, errMalformed
	}
	name = b[:eq]
	for len(name) > 1 && name[len(name)-1] <= ' ' {
		name = name[:len(name)-1]
	}
	i = eq + 1
	for i < len(b) && b[i] <= ' ' {
		i++
	}
	if i == len(b) || (b[i] != '"' && b[i] != '\'') {
		return nil, nil, nil, errMalformed
	}
	end := bytes.IndexByte(b[i+1:], b[i])
	if end < 0 {
		return nil, nil, nil, errMalformed
	}
	return name, b[i+1 : i+1+end], b[i+2+end:], nil
}

// attr finds one attribute by its name as written, prefix and all. It is nil where there is none.
func (s *scanner) attr(want string) ([]byte, error) {
	for rest := s.attrs; ; {
		name, value, more, err := cutAttr(rest)
		switch {
		case err != nil || name == nil:
			return nil, err
		case string(name) == want:
			return appendText(nil, value, false)
		}
		rest = more
	}
}

// skip passes to the end of the element that was just opened.
func (s *scanner) skip() error {
	for depth := s.depth(); ; {
		t, err := s.next()
		if err != nil || (t == tokenEnd && s.depth() < depth) {
			return err
		}
	}
}

// text appends the text of the element that was just opened, child elements included, and passes to its end.
func (s *scanner) text(dst []byte) ([]byte, error) {
	for depth := s.depth(); ; {
		t, err := s.next()
		switch {
		case err != nil:
			return dst, err
		case t == tokenText:
			if dst, err = appendText(dst, s.raw, s.cdata); err != nil {
				return dst, err
			}
		case t == tokenEnd && s.depth() < depth:
			return dst, nil
		}
	}
}

// appendText appends text with its entities resolved and its line ends made \n.
func appendText(dst, raw []byte, cdata bool) ([]byte, error) {
	if len(dst)+len(raw) > longestText {
		return dst, errLong
	}
	if cdata || (bytes.IndexByte(raw, '&') < 0 && bytes.IndexByte(raw, '\r') < 0) {
		return append(dst, raw...), nil
	}
	for len(raw) > 0 {
		n := bytes.IndexAny(raw, "&\r")
		if n < 0 {
			return append(dst, raw...), nil
		}
		dst, raw = append(dst, raw[:n]...), raw[n:]
		if raw[0] == '\r' {
			if raw = raw[1:]; len(raw) == 0 || raw[0] != '\n' {
				dst = append(dst, '\n')
			}
			continue
		}
		semi := bytes.IndexByte(raw[:min(len(raw), 12)], ';')
		if semi < 0 {
			return dst, errMalformed
		}
		r, err := entity(string(raw[1:semi]))
		if err != nil {
			return dst, err
		}
		dst, raw = utf8.AppendRune(dst, r), raw[semi+1:]
	}
	return dst, nil
}

func entity(name string) (rune, error) {
	switch name {
	case "amp":
		return '&', nil
	case "lt":
		return '<', nil
	case "gt":
		return '>', nil
	case "quot":
		return '"', nil
	case "apos":
		return '\'', nil
	}
	digits, base := name, 0
	switch {
	case len(name) > 2 && name[0] == '#' && name[1] == 'x':
		digits, base = name[2:], 16
	case len(name) > 1 && name[0] == '#':
		digits, base = name[1:], 10
	default:
		return 0, fmt.Errorf("it uses &%s;, which it does not define", name)
	}
	n, err := strconv.ParseUint(digits, base, 32)
	if err != nil || n > utf8.MaxRune {
		return 0, fmt.Errorf("it holds a malformed character, &%s;", name)
	}
	return rune(n), nil
}

package cell

import "strings"

// sketch is a cell's text with the contents of quotes and comments blanked out, for what has to be known
// before or without a parse. Blanks keep every position; line ends stay.
type sketch struct {
	code   []byte
	size   int    // bytes of code: neither in quotes nor in comments nor blank
	open   []byte // brackets that are not closed, outermost first
	quoted bool   // the text ends inside triple quotes
}

func sketchOf(source string) sketch {
	s := sketch{code: []byte(source)}
	blank := func(from, to int) {
		for i := from; i < to; i++ {
			if s.code[i] != '\n' {
				s.code[i] = ' '
			}
		}
	}
	for i := 0; i < len(source); {
		c := source[i]
		switch {
		case c == '#':
			end := i + strings.IndexByte(source[i:]+"\n", '\n')
			blank(i, min(end, len(source)))
			i = end
			continue
		case c == '"' || c == '\'':
			raw := i > 0 && (source[i-1] == 'r' || i > 1 && source[i-2] == 'r' && source[i-1] == 'b')
			end, closed, triple := quote(source, i, raw)
			blank(i+1, end-1)
			s.quoted = !closed && triple
			s.size++
			i = end
			continue
		case c == '(' || c == '[' || c == '{':
			s.open = append(s.open, c)
		case c == ')' || c == ']' || c == '}':
			if n := len(s.open); n > 0 {
				s.open = s.open[:n-1]
			}
		}
		if c != ' ' && c != '\n' && c != '\t' {
			s.size++
		}
		i++
	}
	return s
}

// quote finds the end of a quoted text that begins at i: the offset after it, whether it is closed, and
// whether its quotes are triple.
func quote(source string, i int, raw bool) (end int, closed, triple bool) {
	q := source[i : i+1]
	if strings.HasPrefix(source[i:], q+q+q) {
		q, triple = q+q+q, true
	}
	for j := i + len(q); j < len(source); j++ {
		switch {
		case source[j] == '\\' && (!raw || j+1 < len(source)):
			j++
		case strings.HasPrefix(source[j:], q):
			return j + len(q), true, triple
		case source[j] == '\n' && !triple:
			return j, false, triple
		}
	}
	return len(source), false, triple
}

func (s sketch) endsInSemicolon() bool {
	return strings.HasSuffix(strings.TrimRight(string(s.code), " \t\n"), ";")
}

// lineOf returns a line of the sketch, counted from 1, or "".
func (s sketch) lineOf(n int) string {
	lines := strings.Split(string(s.code), "\n")
	if n < 1 || n > len(lines) {
		return ""
	}
	return lines[n-1]
}

package cell

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"

	"go.starlark.net/starlark"
	"go.starlark.net/syntax"
)

// Complete offers what could be written at a place in a cell, counted in characters (code points) from its
// beginning, and where the word that would be replaced begins. It looks values up and calls nothing.
func (e *Engine) Complete(source string, at int) (offers []string, from int) {
	before := []rune(source)
	at = max(0, min(at, len(before)))
	before = before[:at]
	text := string(before)
	s := sketchOf(text)
	if quoted, start := openQuote(text, s); quoted {
		word := text[start:]
		from = at - len([]rune(word))
		return matching(e.texts(text[:start-1]), word), from
	}
	if comment(text) {
		return nil, at
	}
	start := at
	for start > 0 && isWord(before[start-1]) {
		start--
	}
	word := string(before[start:])
	head := string(before[:start])
	if strings.HasSuffix(head, ".") {
		v := e.lookup(strings.TrimSuffix(head, "."))
		if h, ok := v.(starlark.HasAttrs); ok {
			return matching(h.AttrNames(), word), start
		}
		return nil, start
	}
	if word == "" && !inCall(head) {
		return nil, start
	}
	var all []string
	for _, option := range e.optionsOf(head) {
		all = append(all, option+"=")
	}
	options := matching(all, word)
	if len(options) > 0 {
		return options, start
	}
	if word == "" {
		return nil, start
	}
	return matching(append(e.names.AttrNames(), keywords()...), word), start
}

func keywords() []string {
	return []string{"and", "break", "continue", "def", "elif", "else", "for", "if", "in", "lambda", "not", "or", "pass", "return", "while"}
}

func isWord(r rune) bool { return r == '_' || unicode.IsLetter(r) || unicode.IsDigit(r) }

// matching are the candidates that begin with a word, each once, in order. Hidden names are offered only to
// whoever begins with _.
func matching(candidates []string, word string) []string {
	var out []string
	for _, c := range candidates {
		if strings.HasPrefix(c, word) && (word != "" || !strings.HasPrefix(c, "_")) {
			out = append(out, c)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// openQuote reports whether a text ends inside a quote, and where the quoted words begin.
func openQuote(text string, s sketch) (bool, int) {
	line := strings.LastIndexByte(text, '\n') + 1
	for i := line; i < len(text); i++ {
		switch c := text[i]; {
		case c == '#':
			return false, 0
		case c == '"' || c == '\'':
			end, closed, _ := quote(text, i, false)
			if !closed {
				return true, i + 1
			}
			i = end - 1
		}
	}
	return s.quoted, len(text)
}

// comment reports whether a text ends in a comment.
func comment(text string) bool {
	line := text[strings.LastIndexByte(text, '\n')+1:]
	return strings.Contains(line, "#") && !strings.Contains(string(sketchOf(line).code), "#") && sketchOf(line + "\x00").code[len(line)] == ' '
}

// path is a name with its attributes at the end of a text.
var path = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[\pL_][\pL\pN_]*(\.[\pL_][\pL\pN_]*)*$`) })

// lookup finds the value that a text ends in, such as flock.weights in x = flock.weights. It follows names
// and attributes only.
func (e *Engine) lookup(text string) starlark.Value {
	found := path().FindString(text)
	if found == "" || found != text && strings.HasSuffix(strings.TrimSuffix(text, found), ".") {
		return nil
	}
	parts := strings.Split(found, ".")
	v := e.names.lookup(parts[0])
	for _, name := range parts[1:] {
		h, ok := v.(starlark.HasAttrs)
		if !ok {
			return nil
		}
		next, err := h.Attr(name)
		if err != nil || next == nil {
			return nil
		}
		v = next
	}
	return v
}

// call finds the innermost call that a text ends inside: the text up to its bracket.
func call(text string) (string, bool) {
	code := sketchOf(text).code
	depth := 0
	for i := len(code) - 1; i >= 0; i-- {
		switch code[i] {
		case ')', ']', '}':
			depth++
		case '(', '[', '{':
			if depth > 0 {
				depth--
				continue
			}
			return text[:i], code[i] == '('
		}
	}
	return "", false
}

func inCall(text string) bool { _, ok := call(text); return ok }

var optionName = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`([a-z_]+) = `) })

// optionsOf lists the names of the options of the call that a text ends inside.
func (e *Engine) optionsOf(text string) []string {
	head, ok := call(text)
	if !ok {
		return nil
	}
	v := e.lookup(head)
	if f, ok := v.(*starlark.Function); ok {
		var out []string
		for i := range f.NumParams() {
			name, _ := f.Param(i)
			out = append(out, name)
		}
		return out
	}
	b, ok := v.(*starlark.Builtin)
	if !ok {
		return nil
	}
	var out []string
	for _, m := range e.manual {
		if m.Name == b.Name() || strings.HasSuffix(m.Name, "."+b.Name()) {
			for _, o := range optionName().FindAllStringSubmatch(m.Args, -1) {
				if o[1] != "column" && o[1] != "name" && o[1] != "new" {
					out = append(out, o[1])
				}
			}
		}
	}
	if t := e.receiver(head); t != nil && (b.Name() == "where" || b.Name() == "group" || b.Name() == "add") {
		out = append(out, t.Names()...)
	}
	return out
}

// receiver is the table whose method a text ends in.
func (e *Engine) receiver(text string) *table {
	dot := strings.LastIndexByte(text, '.')
	if dot < 0 {
		return nil
	}
	t, _ := e.lookup(text[:dot]).(*table)
	return t
}

// texts lists what could stand in a quote that follows a text: names of columns within t["..."] and its
// methods, birds elsewhere.
func (e *Engine) texts(before string) []string {
	trimmed := strings.TrimRight(before, " ")
	if strings.HasSuffix(trimmed, "[") {
		if t, ok := e.lookup(strings.TrimSuffix(trimmed, "[")).(*table); ok {
			return t.Names()
		}
	}
	head, ok := call(before)
	if !ok {
		return nil
	}
	if t := e.receiver(head); t != nil && !strings.HasSuffix(trimmed, "=") {
		return t.Names()
	}
	f, ok := e.names.api["flock"].(*flockValue)
	if !ok || !strings.HasSuffix(trimmed, "(") && !strings.HasSuffix(trimmed, "=") && !strings.HasSuffix(trimmed, ",") {
		return nil
	}
	var birds []string
	for _, b := range f.data.Birds {
		birds = append(birds, b.ID, b.Name)
	}
	return slices.DeleteFunc(birds, func(s string) bool { return s == "" })
}

// Inspect tells what stands at a place in a cell, counted in characters: the name there, or else the function
// whose brackets enclose the place. It reports whether there is anything to tell.
func (e *Engine) Inspect(source string, at int) (string, bool) {
	text := []rune(source)
	at = max(0, min(at, len(text)))
	end := at
	for end < len(text) && isWord(text[end]) {
		end++
	}
	if v := e.lookup(string(text[:end])); v != nil {
		return e.inspected(path().FindString(string(text[:end])), v), true
	}
	for head, ok := call(string(text[:at])); ok; head, ok = call(head) {
		if v := e.lookup(head); v != nil {
			return e.describe(v), true
		}
	}
	return "", false
}

// inspected is what there is to say of a value that a cell knows under a name.
func (e *Engine) inspected(name string, v starlark.Value) string {
	if _, own := e.names.user[name]; !own {
		for _, m := range e.manual {
			if m.Name == name {
				return m.Text()
			}
		}
	}
	if _, isFunction := v.(starlark.Callable); isFunction {
		return e.describe(v)
	}
	text := fmt.Sprintf("%s: a %s\n%s", name, v.Type(), "(too long to show)")
	if length(v, 1<<16) >= 0 {
		text = fmt.Sprintf("%s: a %s\n%s", name, v.Type(), shorten(v.String(), 1000))
	}
	if h, ok := v.(starlark.HasAttrs); ok {
		text += "\nIt has: " + strings.Join(h.AttrNames(), ", ")
	}
	return text
}

// IsComplete tells a console whether a text can run: "complete", "incomplete" with the blanks that the next
// line should begin with, or "invalid".
func IsComplete(source string) (status, indent string) {
	s := sketchOf(source)
	if s.quoted {
		return "incomplete", ""
	}
	lines := strings.Split(source, "\n")
	last := lines[len(lines)-1]
	blank := len(last) - len(strings.TrimLeft(last, " "))
	if len(s.open) > 0 {
		return "incomplete", strings.Repeat(" ", blank)
	}
	if strings.TrimSpace(last) == "" && len(lines) > 1 {
		return parses(source), ""
	}
	code := strings.TrimRight(s.lineOf(len(lines)), " \t")
	switch {
	case strings.HasSuffix(code, ":"):
		return "incomplete", strings.Repeat(" ", blank+4)
	case strings.HasSuffix(code, `\`):
		return "incomplete", ""
	}
	status = parses(source)
	if status == "complete" && blank > 0 {
		return "incomplete", strings.Repeat(" ", blank)
	}
	return status, ""
}

// parses reports whether a text can be parsed.
func parses(source string) string {
	if sketchOf(source).size > largestCode {
		return "invalid"
	}
	_, err := dialect().Parse("cell", source+"\n", 0)
	var wrong syntax.Error
	if err != nil && errors.As(err, &wrong) {
		return "invalid"
	}
	return "complete"
}

package cell

import (
	"regexp"
	"strings"
	"sync"
)

// spelled turns the parser's terse message into plain sentences: what stands there that does not belong, and
// what to write instead. It may move the place to where the mistake is.
func spelled(s sketch, source string, line, column int, msg string) (message string, atLine, atColumn int) {
	raw := nth(source, line)
	if m, col := strangeLetter(raw); m != "" && strings.Contains(msg, "unexpected") {
		return m, line, col
	}
	if strings.Contains(msg, "got newline") && column <= 1 && line > 1 { // the parser has gone on to the next line
		line--
		column = len([]rune(nth(source, line))) + 1
	}
	code := s.lineOf(line)
	for _, t := range spellingTraps() {
		if t.message != "" && !strings.Contains(msg, t.message) {
			continue
		}
		where := code
		if t.raw {
			where = raw
		}
		if t.code == nil {
			return t.cure, line, column
		}
		if at := t.code.FindStringIndex(where); at != nil {
			return t.cure, line, len([]rune(where[:at[0]])) + 1
		}
	}
	switch {
	case s.quoted:
		return `a text in triple quotes is not closed; end it with the same three quotes`, line, column
	case strings.Contains(msg, "in string"):
		return "a text is not closed on its line; end it with the same quote that begins it, or use triple quotes for several lines", line, column
	case strings.Contains(msg, "got end of file") && len(s.open) > 0:
		return "a bracket " + string(s.open[len(s.open)-1]) + " is not closed", line, column
	}
	return tidy(msg), line, column
}

// trap is a habit that the parser answers tersely. The first that fits is taken: message is part of the
// parser's own message, code is searched in the line with quotes and comments blanked (raw: as written).
type trap struct {
	message string
	code    *regexp.Regexp
	raw     bool
	cure    string
}

// They are compiled when the first cell is misspelt: a kernel starts faster without.
var spellingTraps = sync.OnceValue(func() []trap {
	return []trap{
		{"", regexp.MustCompile(`^\s*(import\b|from\s+\S+\s+import\b)`), false,
			"import is not needed: everything that Keelmark offers is there by name (help() lists it), and nothing else can be brought in"},
		{"", regexp.MustCompile(`^\s*(try|except|finally)\b`), false,
			"there is no try or except: a cell that fails stops with its message; ask beforehand instead (if len(x) > 0: ...)"},
		{"", regexp.MustCompile(`^\s*raise\b`), false, `there is no raise; write fail("what is wrong")`},
		{"", regexp.MustCompile(`^\s*class\b`), false, "there is no class; use a dictionary such as {\"name\": \"R12\"}, or struct(name = \"R12\")"},
		{"", regexp.MustCompile(`^\s*with\b`), false, "there is no with: a cell opens nothing that would have to be closed"},
		{"", regexp.MustCompile(`^\s*del\b`), false, "there is no del; set the name to None, or use list.pop(i) and dict.pop(key)"},
		{"", regexp.MustCompile(`^\s*assert\s`), false, `there is no assert; write: if not x: fail("what is wrong")`},
		{"", regexp.MustCompile(`^\s*(global|nonlocal)\b`), false,
			"a function cannot set names outside itself; return the value and set the name where the function is called"},
		{"", regexp.MustCompile(`^\s*(async|await)\b`), false, "there is no async or await: a cell does one thing after the other"},
		{"", regexp.MustCompile(`^\s*[%!][A-Za-z]`), false, "commands of other notebooks (% and !) do not work here: a cell runs no program"},
		{"", regexp.MustCompile(`\byield\b`), false, "there is no yield; make a list and return it"},
		{"", regexp.MustCompile(`\bis\s+not\b`), false, "there is no is; write x != None"},
		{"", regexp.MustCompile(`\S\s+is\s+\S`), false, "there is no is; write x == None"},
		{"", regexp.MustCompile(`[(,]\s*(as|class|del|from|global|import|is|try|with)\s*=[^=]`), false,
			`this is a word of the language and cannot be an option; for a column of that name write where(lambda r: r["class"] == "hen"), or rename it first`},
		{"", regexp.MustCompile(`\.(as|class|del|from|global|import|is|try|with)\b`), false, `a word of the language cannot follow the dot; write r["class"]`},
		{"string literal", regexp.MustCompile(`\b[fF]["']`), true,
			`there are no f-texts; write "weight {} g".format(w), with fixed(w, 1) for decimals`},
		{"got '**'", regexp.MustCompile(`\*\*`), false, "there is no **; write pow(x, y)"},
		{"obsolete form of octal", regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`), true, `a date is written in quotes: "2025-03-01", or date("2025-03-01") to reckon with it`},
		{"octal literal", regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`), true, `a date is written in quotes: "2025-03-01", or date("2025-03-01") to reckon with it`},
		{"int literal", regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`), true, `a date is written in quotes: "2025-03-01", or date("2025-03-01") to reckon with it`},
		{"octal", nil, false, `a number does not begin with 0; a ring such as 007 is a text and stands in quotes: "007"`},
		{"", regexp.MustCompile(`\b\d+_\d`), false, "a number has no _ between its digits; write 1000"},
		{"", regexp.MustCompile(`\belse\s+if\b`), false, "write elif for else if"},
		{"does not associate", nil, false, "comparisons cannot be chained; write 1 < x and x < 3"},
		{"got '=', want ':'", nil, false, "= sets a name; to ask whether two things are equal write =="},
		{"got '='", regexp.MustCompile(`^\s*(if|elif|while|return)\b`), false, "= sets a name; to ask whether two things are equal write =="},
		{"got '=', want newline", regexp.MustCompile(`^\s*\w+\s*=[^=]+=[^=]`), false, "set one name at a time: a = 3, then b = 3 on its own line"},
		{"keyword argument must have form", nil, false, "= inside brackets names an option (name = value); to compare write =="},
		{"", regexp.MustCompile(`&&`), false, "write and for &&"},
		{"", regexp.MustCompile(`\|\|`), false, "write or for ||"},
		{"input character '!'", nil, false, "write not for !"},
		{"", regexp.MustCompile(`\+\+|--\s*$`), false, "write x += 1 for x++"},
		{"got newline, want ':'", nil, false, "a colon : is missing at the end of the line"},
		{"want ':'", regexp.MustCompile(`^\s*(if|elif|else|for|while|def)\b`), false, "a colon : is missing, or something before it does not belong"},
		{"", regexp.MustCompile(`^\s*print\s+[^(\s=.\[]`), false, "print needs brackets: print(x)"},
		{"want indent", nil, false, "the line after a colon : must be indented, by four blanks as a rule"},
		{"got indent", nil, false, "this line is indented, and nothing before it asks for that; remove the blanks at its beginning"},
		{"unindent does not match", nil, false, "the blanks at the beginning of this line fit no line above; lines of one block begin below one another"},
		{"conditional expression without else", nil, false, "x if condition needs its other case: x if condition else y"},
		{"undefined: set", nil, false, "set is not offered here"},
		{"return statement not within", nil, false, "return stands outside a function; the last line of a cell shows its value without it"},
		{"not in a loop", nil, false, "break and continue work inside a loop only"},
		{"keyword argument may not follow *args", nil, false, "a name = value stands before *list in a call: f(x = 2, *list)"},
		{"excessive nesting", nil, false, "brackets or blocks are nested too deeply; set names for the inner parts"},
	}
})

func nth(source string, line int) string {
	lines := strings.Split(source, "\n")
	if line < 1 || line > len(lines) {
		return ""
	}
	return lines[line-1]
}

// strangeLetter finds a letter that word processors put in place of plain ones.
func strangeLetter(line string) (message string, column int) {
	for i, r := range []rune(line) {
		switch r {
		case '“', '”', '„', '«', '»':
			return `curly quotes, as a word processor makes them; write straight ones: "`, i + 1
		case '‘', '’', '‚':
			return "curly quotes, as a word processor makes them; write straight ones: '", i + 1
		case '–', '—', '−':
			return "a dash, as a word processor makes it; write the minus of the keyboard: -", i + 1
		case '×':
			return "write * for ×", i + 1
		case '÷':
			return "write / for ÷", i + 1
		case '≤':
			return "write <= for ≤", i + 1
		case '≥':
			return "write >= for ≥", i + 1
		case '≠':
			return "write != for ≠", i + 1
		case '\u00a0', '\u2007', '\u202f':
			return "a hard blank, as web pages and word processors make it; write a plain blank", i + 1
		case '…':
			return "three dots do not belong here; write out what stands for them", i + 1
		}
	}
	return "", 0
}

// tidy puts the parser's remaining messages into words.
func tidy(msg string) string {
	r := strings.NewReplacer("got ", "here stands ", ", want ", ", where the language wants ",
		"primary expression", "a value", "string literal", "a text", "int literal", "a number", "float literal", "a number",
		"end of file", "the end of the cell", "newline", "the end of the line", "outdent", "the end of the block", "identifier", "a name")
	if strings.HasPrefix(msg, "got ") {
		return r.Replace(msg)
	}
	return msg
}

// plain turns the interpreter's message about a step that failed into plain sentences.
func plain(msg string) string {
	if own, ok := strings.CutPrefix(msg, "fail: "); ok {
		return own // the cell's own words
	}
	return kindWords().ReplaceAllStringFunc(inWords(msg), func(s string) string { return kindNames[s] })
}

// kindNames say in words what the interpreter calls by its own names.
var kindNames = map[string]string{
	"a int": "a whole number", "a float": "a number", "a string": "a text", "a NoneType": "a missing value (None)",
	"a bool": "a True or False", "a dict": "a dictionary", "a builtin_function_or_method": "a function",
	"want string": "want a text", "want int": "want a whole number", "want list": "want a list", "want dict": "want a dictionary",
	"want bool": "want True or False", "got int": "got a whole number", "got float": "got a number", "got string": "got a text",
	"got NoneType": "got None", "got bool": "got True or False", "got dict": "got a dictionary", "got list": "got a list",
}

var kindWords = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`\b(a (int|float|string|NoneType|bool|dict|builtin_function_or_method)|want (string|int|list|dict|bool)|got (int|float|string|NoneType|bool|dict|list))\b`)
})

func inWords(msg string) string {
	for _, t := range mistakeTraps() {
		if m := t.pattern.FindStringSubmatchIndex(msg); m != nil {
			return string(t.pattern.ExpandString(nil, t.cure, msg, m))
		}
	}
	return msg
}

// mistakeTrap is an answer of the interpreter, and what it means in plain words.
type mistakeTrap struct {
	pattern *regexp.Regexp
	cure    string
}

var mistakeTraps = sync.OnceValue(func() []mistakeTrap {
	return []mistakeTrap{
		{regexp.MustCompile(`^(floating-point |integer |)(division|modulo) by zero$`), "division by zero; ask first: x / n if n > 0 else None"},
		{regexp.MustCompile(`^unknown conversion %(.)`), `texts know no %$1; write fixed(x, 1) for one decimal: "%s g" % fixed(x, 1)`},
		{regexp.MustCompile(`^format spec features not supported in replacement fields: (.*)`), `{:$1} is not known; write fixed(x, 1) for one decimal: "{} g".format(fixed(x, 1))`},
		{regexp.MustCompile(`^column (<|<=|>|>=) (\S+) not implemented`),
			"a whole column is not compared at once; write table.where(weight = (500, None)) for 500 and more, or table.where(lambda r: r.weight $1 500)"},
		{regexp.MustCompile(`^(\S+) (<|<=|>|>=) column not implemented`),
			"a whole column is not compared at once; write table.where(weight = (500, None)) for 500 and more, or table.where(lambda r: r.weight > 500)"},
		{regexp.MustCompile(`^(NoneType) (<|<=|>|>=) (\S+) not implemented|^(\S+) (<|<=|>|>=) NoneType not implemented`),
			"a missing value (None) has no size to compare; ask first: r.weight != None and r.weight > 500"},
		{regexp.MustCompile(`^(\S+) (<|<=|>|>=) (\S+) not implemented`), "a $1 and a $3 cannot be put in order with $2; turn one into the other first, for instance with float(x) or str(x)"},
		{regexp.MustCompile(`^unknown binary op: string \+ (int|float|date)$`), `a text and a number cannot be joined with +; write "..." + str(x)`},
		{regexp.MustCompile(`^unknown binary op: (int|float|date) \+ string$`), `a number and a text cannot be joined with +; write str(x) + "..."`},
		{regexp.MustCompile(`^unknown binary op: (\S+) (\S+) NoneType$|^unknown binary op: (NoneType) (\S+) \S+$`), "a missing value (None) cannot be reckoned with; ask first: if x != None"},
		{regexp.MustCompile(`^unknown binary op: (\S+) (\S+) (\S+)$`), "$2 does not work between a $1 and a $3"},
		{regexp.MustCompile(`^invalid call of non-function \((\S+)\)`), "this is a $1, not a function, so it takes no brackets ( )"},
		{regexp.MustCompile(`^(\S+) has no \.(\S+) field or method \(did you mean \.(\S+)\?\)`), "a $1 has no .$2; did you mean .$3?"},
		{regexp.MustCompile(`^(\S+) has no \.(\S+) field or method$`), "a $1 has no .$2; dir(x) lists what it has"},
		{regexp.MustCompile(`^Starlark stack overflow$`), "stopped: a function calls itself without end; it needs a case in which it does not"},
		{regexp.MustCompile(`^(.*)key "(.*)" not in dict$`), `the dictionary has no key "$2"; ask first: if "$2" in d, or d.get("$2")`},
		{regexp.MustCompile(`^local variable (\S+) referenced before assignment$`), "$1 is set inside this function, but only after this line; pass it to the function, or set it first"},
		{regexp.MustCompile(`^shift count too large`), "this number would become too large"},
	}
})

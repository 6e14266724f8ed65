package cell

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"go.starlark.net/resolve"
	"go.starlark.net/starlark"
	"go.starlark.net/syntax"
)

// Kind is what sort of thing stopped a cell; front ends show it before the message.
type Kind string

// The kinds.
const (
	Spelling    Kind = "SpellingError" // the cell cannot be read
	Mistake     Kind = "Error"         // the cell was read, and a step of it failed
	Interrupted Kind = "Interrupted"   // by the person
	Limit       Kind = "LimitReached"  // steps, memory, time or depth
	Internal    Kind = "InternalError" // a fault of ours
)

// Failure is why a cell stopped.
type Failure struct {
	Kind    Kind
	Message string // plain sentences: what is wrong and what to write instead
	Cell    string // "cell 3"; "" where there is no place
	Line    int    // from 1; 0 where there is none
	Column  int    // from 1, in characters
	Trace   []Place
	Detail  string // for a report of a fault of ours
}

// Place is one step of the way to the failure, outermost first.
type Place struct {
	Cell         string
	Line, Column int
	In           string // the function, "" at the level of the cell
	Text         string // the line
}

// Error is the message with its place: "cell 3, line 2: ...".
func (f *Failure) Error() string {
	switch {
	case f.Cell == "":
		return f.Message
	case f.Line == 0:
		return f.Cell + ": " + f.Message
	}
	return fmt.Sprintf("%s, line %d: %s", f.Cell, f.Line, f.Message)
}

// Traceback is the failure as a notebook shows it, line by line: the way there, the place marked, the message.
func (f *Failure) Traceback() []string {
	var out []string
	shown := f.Trace
	const most = 8
	if len(shown) > most {
		shown = f.Trace[:3]
	}
	add := func(p Place) {
		head := fmt.Sprintf("%s, line %d", p.Cell, p.Line)
		if p.In != "" {
			head += ", in " + p.In
		}
		out = append(out, head)
		if p.Text != "" {
			text := strings.ReplaceAll(p.Text, "\t", " ")
			indent := len(text) - len(strings.TrimLeft(text, " "))
			out = append(out, "    "+strings.TrimLeft(text, " "))
			if at := p.Column - 1 - indent; at >= 0 && p.Column <= len([]rune(text))+1 {
				out = append(out, "    "+strings.Repeat(" ", at)+"^")
			}
		}
	}
	for _, p := range shown {
		add(p)
	}
	if len(f.Trace) > most {
		out = append(out, fmt.Sprintf("... %d more calls ...", len(f.Trace)-most))
		for _, p := range f.Trace[len(f.Trace)-most+3:] {
			add(p)
		}
	}
	message := string(f.Kind) + ": " + f.Message
	if len(f.Trace) == 0 && f.Cell != "" {
		message = string(f.Kind) + " in " + f.Cell + ": " + f.Message
	}
	out = append(out, message)
	if f.Detail != "" {
		out = append(out, strings.Split(strings.TrimRight(f.Detail, "\n"), "\n")...)
	}
	return out
}

// failure turns an error of the interpreter into a Failure.
func (e *Engine) failure(cell, source string, err error) *Failure {
	var parse syntax.Error
	var unresolved resolve.ErrorList
	var eval *starlark.EvalError
	switch {
	case errors.As(err, &parse):
		return e.spelling(cell, source, parse.Pos, parse.Msg)
	case errors.As(err, &unresolved):
		return e.spelling(cell, source, unresolved[0].Pos, unresolved[0].Msg)
	case errors.As(err, &eval):
		return e.mistake(cell, eval)
	}
	return &Failure{Kind: Mistake, Cell: cell, Message: err.Error()}
}

func (e *Engine) spelling(cell, source string, pos syntax.Position, msg string) *Failure {
	f := &Failure{Kind: Spelling, Cell: cell, Line: int(pos.Line), Column: int(pos.Col)}
	f.Message, f.Line, f.Column = spelled(sketchOf(source), source, f.Line, f.Column, msg)
	f.Trace = []Place{{Cell: cell, Line: f.Line, Column: f.Column, Text: e.line(cell, f.Line)}}
	return f
}

func (e *Engine) mistake(cell string, eval *starlark.EvalError) *Failure {
	f := &Failure{Kind: Mistake, Message: e.called(plain(eval.Msg))}
	if reason, ok := strings.CutPrefix(eval.Msg, cancelled); ok {
		f.Kind, f.Message = e.stopped(reason)
	}
	if eval.Msg == "Starlark stack overflow" {
		f.Kind = Limit
	}
	for _, frame := range eval.CallStack {
		name := frame.Pos.Filename()
		if _, known := e.sources[name]; !known {
			continue // a function of ours
		}
		p := Place{Cell: name, Line: int(frame.Pos.Line), Column: int(frame.Pos.Col), In: frame.Name}
		if p.In == "<toplevel>" {
			p.In = ""
		}
		p.Text = e.line(name, p.Line)
		f.Trace = append(f.Trace, p)
	}
	if n := len(f.Trace); n > 1 && badArguments.MatchString(eval.Msg) {
		f.Trace = f.Trace[:n-1] // the mistake is in the call, not in the function
	}
	f.Cell = cell
	if n := len(f.Trace); n > 0 {
		last := f.Trace[n-1]
		f.Cell, f.Line, f.Column = last.Cell, last.Line, last.Column
	}
	return f
}

var (
	badOption    = regexp.MustCompile(`^(\w+): unexpected keyword argument "?(\w+)`)
	badCall      = regexp.MustCompile(`^(\w+): (missing argument for|got \d+ arguments?, want|for parameter|unexpected positional)`)
	badArguments = regexp.MustCompile(`^function \w+ (missing|accepts|got)`)
	word         = regexp.MustCompile(`[a-z_]+`)
)

// called adds to a complaint about the arguments of one of our functions how it is called.
func (e *Engine) called(msg string) string {
	option := badOption.FindStringSubmatch(msg)
	name := ""
	if option != nil {
		name = option[1]
	} else if m := badCall.FindStringSubmatch(msg); m != nil {
		name = m[1]
	}
	for _, entry := range e.manual {
		if name == "" || entry.Name != name && !strings.HasSuffix(entry.Name, "."+name) {
			continue
		}
		usage := "it is called as " + entry.Name + entry.Args
		if option == nil {
			return msg + "; " + usage
		}
		if near := Nearest(option[2], word.FindAllString(entry.Args, -1)); near != "" {
			return fmt.Sprintf("%s has no option %s; did you mean %s?", name, option[2], near)
		}
		return fmt.Sprintf("%s has no option %s; %s", name, option[2], usage)
	}
	return msg
}

func (e *Engine) stopped(reason string) (Kind, string) {
	switch reason {
	case stopSteps:
		return Limit, fmt.Sprintf("stopped after %d steps: the cell loops too long for a run without a person; does a while loop never end?",
			e.options.Limits.Steps)
	case stopMemory:
		return Limit, fmt.Sprintf("stopped: the cells so far took more than %d MB of memory, and the names that this one set are as they were before it; work on fewer rows at a time, set large names to None, or does a list grow in a loop that never ends?",
			e.options.Limits.Memory>>20)
	case stopTime:
		return Limit, fmt.Sprintf("stopped after %v, the time that one cell may take", e.options.Limits.Time)
	}
	return Interrupted, "stopped by you; the names set so far are kept"
}

func (e *Engine) line(cell string, n int) string {
	lines := e.sources[cell]
	if n < 1 || n > len(lines) {
		return ""
	}
	return lines[n-1]
}

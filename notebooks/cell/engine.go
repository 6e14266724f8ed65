// Package cell runs notebook cells: a Starlark engine in which a name means what it was last set to, whatever
// the order of the cells, and in which the whole of Keelmark's toolkit is there by name.
//
// A cell can reach the flock that it was given, and nothing else: no file, no network, no clock, no
// environment, no other process. What it saves goes to the one folder that whoever runs it names. It can be interrupted, and a run without a person before it has limits on
// steps, memory and time. Mistakes are answered in plain sentences with their place and the cure.
//
// The package speaks to no front end; what a cell shows goes to a Sink.
package cell

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"runtime/debug"
	"strings"
	"time"

	"go.starlark.net/starlark"
	"go.starlark.net/syntax"

	"keelmark/analysis"
	"keelmark/ingest/record"
	"keelmark/plots"
)

// Bundle is one thing in several forms, keyed by MIME type. The value of a JSON type is anything that
// encoding/json can write; that of any other type is a string.
type Bundle map[string]any

// Sink receives what a cell shows, in order, from the goroutine that called Run.
type Sink interface {
	// Stream is text printed on "stdout" or "stderr".
	Stream(name, text string)
	// Display is something that the cell displayed.
	Display(Bundle)
	// Result is the value of the cell's last expression.
	Result(Bundle)
	// Error is why the cell stopped. It comes last.
	Error(*Failure)
	// Clear removes what the cell has shown so far; with wait, only when the next output comes.
	Clear(wait bool)
}

// Limits end a cell that would not end by itself. Zero means the default, which for Steps and Time is none.
type Limits struct {
	Steps  uint64        // of computation; a row of a filter with a lambda takes about 12
	Memory uint64        // bytes that all cells together may hold; 512 MiB by default
	Time   time.Duration // of one cell
	Output int           // bytes of printed text of one cell; 8 MiB by default
}

// Unattended are the limits for runs without a person to interrupt them.
func Unattended() Limits {
	return Limits{Steps: 2_000_000_000, Time: 10 * time.Minute}
}

// Options is what an engine is built from.
type Options struct {
	Specs   []analysis.Spec // each becomes a function of its name
	Flock   *record.Dataset // what the name flock means; nil where no flock was given
	NoFlock string          // why none was given, where that is known: said when a cell asks for it
	Context analysis.Context
	// Compared is what the name compared means, in a report over flocks; nil elsewhere.
	Compared analysis.Result
	// Figures is what an analysis draws, and BirdFigures what it draws of one bird; either may be nil.
	Figures     func(analysis.Result) []plots.Figure
	BirdFigures func(r analysis.Result, bird string) []plots.Figure
	Limits      Limits
	// Input asks the person a question; nil where nobody can answer.
	Input func(ctx context.Context, prompt string) (string, error)
	// Save writes a file of a plain name into the output folder and returns where it lies; nil where cells
	// may write nothing.
	Save func(name string, content []byte) (path string, err error)
}

// Engine holds the names that cells have set. It runs one cell at a time; its methods must not be called
// at the same time, except Cancel of the context given to Run.
type Engine struct {
	options Options
	names   *namespace
	api     starlark.StringDict
	manual  []Entry
	memory  *meter
	sources map[string][]string // lines of each cell that ran, for tracebacks
}

// New makes an engine. It fails where an analysis is not well declared or its name is taken.
func New(o Options) (*Engine, error) {
	if o.Limits.Memory == 0 {
		o.Limits.Memory = 512 << 20
	}
	if o.Limits.Output == 0 {
		o.Limits.Output = 8 << 20
	}
	e := &Engine{options: o, sources: map[string][]string{}}
	if o.NoFlock == "" {
		e.options.NoFlock = "no flock was given; start the notebook on a flock"
	}
	if err := e.bind(); err != nil {
		return nil, err
	}
	e.Reset()
	e.memory = newMeter(o.Limits.Memory)
	return e, nil
}

// Reset forgets all names that cells have set.
func (e *Engine) Reset() {
	e.names = &namespace{user: starlark.StringDict{}, api: e.api, noFlock: e.options.NoFlock}
	clear(e.sources)
}

// run is the state of one cell while it runs; bindings find it on their thread.
type run struct {
	ctx     context.Context
	engine  *Engine
	sink    Sink
	printed int
}

const runKey = "run"

// running finds the run that a thread belongs to.
func running(t *starlark.Thread) *run { return t.Local(runKey).(*run) }

// Run runs one cell. Name is how messages call it ("cell 3"). What it shows goes to the sink; why it stopped,
// if it did, goes to the sink and is returned.
func (e *Engine) Run(ctx context.Context, name, source string, sink Sink) *Failure {
	f := e.run(ctx, name, source, sink)
	if f != nil {
		sink.Error(f)
	}
	return f
}

func (e *Engine) run(ctx context.Context, name, source string, sink Sink) (failure *Failure) {
	source = strings.ReplaceAll(source, "\r\n", "\n")
	e.sources[name] = strings.Split(source, "\n")
	prog, shows, err := e.compile(name, source)
	if err != nil {
		return e.failure(name, source, err)
	}
	if prog == nil {
		return nil
	}

	if e.options.Limits.Time > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeoutCause(ctx, e.options.Limits.Time, errTime)
		defer cancel()
	}
	r := &run{ctx: ctx, engine: e, sink: sink}
	thread := &starlark.Thread{
		Name:  name,
		Print: func(_ *starlark.Thread, text string) { r.print("stdout", text+"\n") },
		Load: func(*starlark.Thread, string) (starlark.StringDict, error) {
			return nil, errors.New("load is not offered")
		},
		OnMaxSteps: e.stride,
	}
	thread.SetLocal(runKey, r)
	e.memory.begin()
	e.stride(thread)
	defer context.AfterFunc(ctx, func() { thread.Cancel(stopReason(ctx)) })()
	defer e.memory.watch(func() { thread.Cancel(stopMemory) })()
	before := maps.Clone(e.names.user)
	defer func() {
		if p := recover(); p != nil {
			failure = &Failure{Kind: Internal, Cell: name,
				Message: fmt.Sprintf("Keelmark itself failed here (%v); the names set so far are kept. Please report it with the cell.", p),
				Detail:  string(debug.Stack())}
		}
	}()

	e.names.last = nil
	if _, err := prog.Init(thread, starlark.StringDict{namespaceName: e.names}); err != nil {
		f := e.failure(name, source, err)
		if stoppedFor(err, stopMemory) {
			e.names.user, e.names.last = before, nil // what the cell made is let go
		}
		if f.Kind == Mistake && ctx.Err() != nil { // something of ours watched the context and gave up
			f.Kind, f.Message = e.stopped(stopReason(ctx))
		}
		return f
	}
	if shows && e.names.last != nil && e.names.last != starlark.None {
		b, err := e.bundle(e.names.last)
		if err != nil {
			return e.failure(name, source, err)
		}
		sink.Result(b)
	}
	return nil
}

// step is after how many steps of the interpreter, well below a millisecond, a cell is looked after.
const step = 5_000

// stride lets a cell take its next steps, where its limits allow them.
func (e *Engine) stride(t *starlark.Thread) {
	next, most := t.Steps+step, e.options.Limits.Steps
	switch {
	case most > 0 && t.Steps >= most:
		t.Cancel(stopSteps)
	case t.Steps > 0 && e.memory.over():
		t.Cancel(stopMemory)
	}
	if most > 0 {
		next = min(next, max(most, t.Steps+1))
	}
	t.SetMaxExecutionSteps(next)
}

// options of the language: everything that Python users expect to work in a cell.
func dialect() *syntax.FileOptions {
	return &syntax.FileOptions{Set: true, While: true, TopLevelControl: true, GlobalReassign: true, Recursion: true}
}

// compile parses and rewrites a cell. The program is nil where the cell holds no code; shows reports whether
// the value of the last expression is wanted.
func (e *Engine) compile(name, source string) (prog *starlark.Program, shows bool, err error) {
	s := sketchOf(source)
	if s.size > largestCode {
		return nil, false, fmt.Errorf("this cell holds %d bytes of code; split it into cells below %d", s.size, largestCode)
	}
	f, err := dialect().Parse(name, source, 0)
	if err != nil {
		return nil, false, err
	}
	if len(f.Stmts) == 0 {
		return nil, false, nil
	}
	shows, err = rewrite(f, !s.endsInSemicolon())
	if err != nil {
		return nil, false, err
	}
	prog, err = starlark.FileProgram(f, func(name string) bool { return name == namespaceName })
	return prog, shows, err
}

// largestCode bounds the depth of the tree that a cell can make. Text in quotes does not count.
const largestCode = 256 << 10

func (r *run) print(stream, text string) {
	limit := r.engine.options.Limits.Output
	if r.printed > limit {
		return
	}
	r.printed += len(text)
	if r.printed > limit {
		text = fmt.Sprintf("\n(more than %d MB printed by this cell: the rest is left out)\n", limit>>20)
	}
	r.sink.Stream(stream, text)
}

// Why a cell was stopped, as the interpreter carries it, and what it says before.
const (
	cancelled     = "Starlark computation cancelled: "
	stopSteps     = "steps"
	stopMemory    = "memory"
	stopTime      = "time"
	stopInterrupt = "interrupt"
)

// stoppedFor reports whether an error of the interpreter is that a cell was stopped for a reason.
func stoppedFor(err error, reason string) bool {
	var eval *starlark.EvalError
	return errors.As(err, &eval) && eval.Msg == cancelled+reason
}

var errTime = errors.New("the time of one cell is over")

func stopReason(ctx context.Context) string {
	if context.Cause(ctx) == errTime {
		return stopTime
	}
	return stopInterrupt
}

package cell

import (
	"context"
	"fmt"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// interrupted runs a cell and cancels it once it has begun to run.
func interrupted(t *testing.T, e *Engine, source string) *Failure {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	started := make(chan struct{})
	var f *Failure
	done := make(chan struct{})
	go func() {
		defer close(done)
		f = e.Run(ctx, "cell 1", "print(\"started\")\n"+source, &signal{started: started})
	}()
	<-started
	cancel()
	<-done
	return f
}

// signal is a Sink that tells when the first text comes.
type signal struct {
	recorder
	started chan struct{}
}

func (s *signal) Stream(string, string) {
	if s.started != nil {
		close(s.started)
		s.started = nil
	}
}

func TestInterruptStopsWhateverRuns(t *testing.T) {
	for what, source := range map[string]string{
		"a loop":               "while True:\n    pass",
		"a loop in a function": "def f():\n    while True:\n        pass\nf()",
		"a comprehension":      "[i for i in range(8000000) for j in range(8000000)]",
		"a filter":             "for i in range(1000000):\n    flock.weights.where(lambda r: r.weight > 500)",
		"a long analysis":      "heavy(flock, least = 1000)",
	} {
		e := engine(t, Limits{})
		cells(t, e, "kept = 5")
		f := interrupted(t, e, source)
		if f == nil || f.Kind != Interrupted {
			t.Errorf("%s: %v", what, f)
			continue
		}
		if r := cells(t, e, "kept"); r.text() != "result: 5" {
			t.Errorf("after %s the next cell gives %s %v", what, r.text(), r.failure)
		}
	}
}

func TestAnInterruptWhileAskingStops(t *testing.T) {
	asking := make(chan struct{})
	e, err := New(Options{Input: func(ctx context.Context, prompt string) (string, error) {
		close(asking)
		<-ctx.Done()
		return "", ctx.Err()
	}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	go func() { <-asking; cancel() }()
	if f := e.Run(ctx, "cell 1", "input(\"which?\")", &recorder{}); f == nil || f.Kind != Interrupted {
		t.Errorf("failure %v", f)
	}
}

func TestUnattendedLimits(t *testing.T) {
	for _, c := range []struct {
		what, source, want string
		limits             Limits
	}{
		{"steps", "while True:\n    pass", "stopped after 100000 steps", Limits{Steps: 100_000}},
		{"time", "while True:\n    pass", "stopped after 30ms", Limits{Time: 30 * time.Millisecond}},
		{"time of an analysis", "heavy(flock, least = 1000)", "stopped after 30ms", Limits{Time: 30 * time.Millisecond}},
		{"memory by appending", "l = []\nwhile True:\n    l.append(\"x\" * 1000)", "more than 16 MB of memory", Limits{Memory: 16 << 20}},
		{"memory by doubling", "l = [0]\nwhile True:\n    l = l + l", "more than 16 MB of memory", Limits{Memory: 16 << 20}},
		{"memory by doubling a text", "s = \"abc\"\nwhile True:\n    s += s", "more than 16 MB of memory", Limits{Memory: 16 << 20}},
		{"memory of a dictionary", "d = {}\ni = 0\nwhile True:\n    d[i] = [i]\n    i += 1", "more than 16 MB of memory", Limits{Memory: 16 << 20}},
	} {
		runtime.GC() // so that what earlier tests left behind does not count
		e := engine(t, c.limits)
		r := &recorder{}
		f := e.Run(context.Background(), "cell 1", c.source, r)
		if f == nil || f.Kind != Limit || !strings.Contains(f.Message, c.want) {
			t.Errorf("%s: %v", c.what, f)
		}
		e.Reset()
		if r := cells(t, e, "1 + 1"); r.text() != "result: 2" {
			t.Errorf("after %s the engine is dead: %v", c.what, r.failure)
		}
	}
}

// One step that would take all memory is refused before it begins, whatever way it goes.
func TestNoSingleStepTakesAllMemory(t *testing.T) {
	for source, want := range map[string]string{
		"[0] * (1 << 27)":                                         "more than the 8388608 that one step may make",
		"x = [0]\nx *= 1 << 27":                                   "more than the 8388608 that one step may make",
		"(1 << 27) * (0,)":                                        "more than the 8388608 that one step may make",
		"\"a\" * (1 << 40)":                                       "letters, more than the 67108864",
		"l = [0]\nwhile True:\n    l = l + l":                     "would add 8388608 items to others",
		"l = [0]\nwhile True:\n    l += l":                        "would add 8388608 items to others",
		"l = [0]\nwhile True:\n    l.extend(l)":                   "would add 8388608 items to others",
		"l = [0]\ngrow = l.extend\nwhile True:\n    grow(l)":      "would add 8388608 items to others",
		"d = {\"l\": [0]}\nwhile True:\n    d[\"l\"] += d[\"l\"]": "would add 8388608 items to others",
		"t = (0,)\nwhile True:\n    t = t + t":                    "would add 8388608 items to others",
		"s = \"abc\"\nwhile True:\n    s = s + s":                 "more than 64 MB",
		"s = \"abc\"\nwhile True:\n    s += s":                    "more than 64 MB",
		"s = b\"abc\"\nwhile True:\n    s = s + s":                "more than 64 MB",
		"(\"a,\" * 9000000).split(\",\")":                         "split would make a list of more than 8388608 texts",
		"list((\"a\" * 9000000).elems())":                         "list would make a list of 9000000 values",
		"zip(*[range(8000000)] * 100)":                            "zip would make a list of 800000000 values",
		"enumerate(range(8000000))":                               "enumerate would make a list of 16000000 values",
		"range(1 << 40)":                                          "range makes 1099511627776 numbers",
		"x = 2\nwhile True:\n    x = x * x":                       "more than 300,000 digits",
		"\"%s%s\" % (\"a\" * 35000000, \"a\" * 35000000)":         "more than 64 MB",
		"(\"a\" * 1000000).replace(\"a\", \"b\" * 100)":           "more than 64 MB",
	} {
		e := engine(t, Limits{})
		f := cells(t, e, source).failure
		if f == nil || !strings.Contains(f.Message, want) {
			t.Errorf("%s: %v, want %q", source, f, want)
		}
	}
	// and what is no more than usual works as in Python
	for source, want := range map[string]string{
		"a = [1]\nb = a\na += [2]\na.extend((3, 4))\nb":                             "[1, 2, 3, 4]",
		"x = [1]\ny = (2,)\nx + list(y)":                                            "[1, 2]",
		"a = \"x\"\na += str(5)\na":                                                 `"x5"`,
		"\"a b\".split() + \"c,d\".split(\",\")":                                    `["a", "b", "c", "d"]`,
		"sorted(zip([2, 1], [\"b\", \"a\"]), key = lambda p: p[0], reverse = True)": `[(2, "b"), (1, "a")]`,
		"list(enumerate([\"a\"], 1))":                                               `[(1, "a")]`,
		"1 + 1.5 + len([1])":                                                        "3.5",
	} {
		if r := cells(t, engine(t, Limits{}), source); r.text() != "result: "+want {
			t.Errorf("%s shows %s (%v), want %s", source, r.text(), r.failure, want)
		}
	}
}

// The engine is built without the packages by which a program reaches files, network or processes.
func TestTheEngineHasNoWayOut(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files (%v)", len(files), err)
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		source, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, source, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range f.Imports {
			switch path := strings.Trim(i.Path.Value, `"`); path {
			case "os", "os/exec", "net", "net/http", "syscall", "plugin", "io/ioutil", "unsafe", "path/filepath", "keelmark/ingest":
				t.Errorf("%s imports %s", file, path)
			}
		}
		if strings.Contains(string(source), "time.Now") {
			t.Errorf("%s reads the clock", file)
		}
	}
}

func TestEndlessRecursionIsExplained(t *testing.T) {
	f := cells(t, engine(t, Limits{}), "def f(n): return f(n + 1)\ndef g(): return f(0)", "g()").failure
	if f == nil || f.Kind != Limit || len(f.Traceback()) > 40 {
		t.Fatalf("%v", f)
	}
	if text := strings.Join(f.Traceback(), "\n"); !strings.Contains(text, "more calls") || !strings.Contains(text, "cell 2, line 1\n    g()\n     ^") {
		t.Errorf("traceback:\n%s", text)
	}
}

func TestPrintedTextIsBounded(t *testing.T) {
	e := engine(t, Limits{Output: 1000})
	r := cells(t, e, "for i in range(10000):\n    print(\"0123456789\")")
	if n := len(r.text()); n > 3000 || !strings.HasSuffix(r.text(), "the rest is left out)\n") || r.failure != nil {
		t.Errorf("%d bytes printed, ending in %q (%v)", n, r.text()[len(r.text())-60:], r.failure)
	}
}

// A fault of ours ends the cell, not the program.
func TestAPanicEndsTheCellOnly(t *testing.T) {
	bad := analysis.Define("bad", "A faulty analysis", "Source: invented for this test.", struct{}{},
		func(context.Context, analysis.Context, *record.Dataset, struct{}) (found, error) { panic("kaboom") })
	e, err := New(Options{Specs: []analysis.Spec{bad}, Flock: flock()})
	if err != nil {
		t.Fatal(err)
	}
	r := cells(t, e, "x = 1", "y = 2\nbad(flock)")
	if r.failure == nil || r.failure.Kind != Internal || !strings.Contains(r.failure.Message, "kaboom") {
		t.Errorf("failure %v", r.failure)
	}
	if r := cells(t, e, "(x, y)"); r.text() != "result: (1, 2)" {
		t.Errorf("names are lost: %s (%v)", r.text(), r.failure)
	}
}

// Cells try to reach what they must not: nothing of the sort has a name, and the file beside stays unread.
func TestCellsReachNothingButTheirFlock(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "secret.txt")
	if err := os.WriteFile(secret, []byte("SECRET"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("KEELMARK_SECRET", "SECRET")
	for _, source := range []string{
		"open(%q)", "open(%q, \"w\")", "load(%q, \"x\")", "read_file(%q)", "read(%q)", "import_file(%q)", "exec(%q)", "eval(%q)", "compile(%q)",
		"system(%q)", "run(%q)", "environ[\"KEELMARK_SECRET\"]", "getenv(\"KEELMARK_SECRET\")", "os.environ", "fetch(\"http://127.0.0.1/\")",
		"urlopen(\"http://127.0.0.1/\")", "__import__(\"os\")", "time.now()", "now()", "random()", "globals()", "getattr(flock, \"data\")", "flock.data",
		"flock.context", "dir(flock.load)", "names$", "struct().__class__", "(lambda: 0).__globals__", "input(\"?\")", "exit()", "quit()",
	} {
		if strings.Contains(source, "%q") {
			source = fmt.Sprintf(source, secret)
		}
		r := cells(t, engine(t, Limits{}), source)
		if r.failure == nil || strings.Contains(r.text(), "SECRET") || strings.Contains(strings.Join(r.failure.Traceback()[:1], ""), "SECRET=") {
			t.Errorf("%s shows %q", source, r.text())
		}
	}
}

// Only names that stand in the manual or in the language can be reached.
func TestEveryNameIsInTheManual(t *testing.T) {
	e := engine(t, Limits{})
	known := map[string]bool{}
	for _, m := range e.Manual() {
		known[m.Name] = true
	}
	for name := range e.api {
		if !known[name] {
			t.Errorf("%s is bound and not in the manual", name)
		}
	}
}

func TestRunsAreRepeatable(t *testing.T) {
	source := "d = {\"b\": 1, \"a\": 2}\nprint(d, set([3, 1, 2]), dir(flock), dir(heavy(flock)))\n" +
		"display(flock.weights.group(\"sex\", \"bird\", weight = [\"mean\", \"max\"]), heavy(flock))\nhelp()\nflock.weights.describe()"
	first := cells(t, engine(t, Limits{}), source)
	if first.failure != nil {
		t.Fatal(first.failure)
	}
	for range 5 {
		again := cells(t, engine(t, Limits{}), source)
		if again.text() != first.text() || fmt.Sprint(again.bundles) != fmt.Sprint(first.bundles) {
			t.Fatal("two runs differ")
		}
	}
}

func FuzzRun(f *testing.F) {
	data, err := os.ReadFile("testdata/mistakes.star")
	if err != nil {
		f.Fatal(err)
	}
	for _, chunk := range strings.Split(string(data), "\n---\n") {
		if !strings.Contains(chunk, "000000") && !strings.Contains(chunk, "f(n + 1)") { // those take long
			f.Add(chunk)
		}
	}
	for _, m := range engine(f, Limits{}).Manual() {
		f.Add(m.Example)
	}
	limits := Limits{Steps: 20_000, Memory: 256 << 20, Time: time.Second}
	f.Fuzz(func(t *testing.T, source string) {
		e := engine(t, limits)
		r := &recorder{}
		if f := e.Run(context.Background(), "cell 1", source, r); f != nil {
			if f.Kind == Internal {
				t.Fatalf("%s\n%s", f.Message, f.Detail)
			}
			_ = f.Error()
			_ = f.Traceback()
		}
		e.Complete(source, len([]rune(source)))
		e.Inspect(source, len([]rune(source))/2)
		IsComplete(source)
		if after := cells(t, e, "1 + 1"); after.text() != "result: 2" {
			t.Fatalf("the next cell shows %q (%v)", after.text(), after.failure)
		}
	})
}

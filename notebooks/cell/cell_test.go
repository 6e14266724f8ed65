package cell

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
	"keelmark/plots"
)

// recorder is a Sink that keeps what it is given, as text.
type recorder struct {
	lines   []string
	bundles []Bundle
	failure *Failure
}

func (r *recorder) Stream(name, text string) { r.lines = append(r.lines, name+": "+text) }
func (r *recorder) Display(b Bundle)         { r.keep("display", b) }
func (r *recorder) Result(b Bundle)          { r.keep("result", b) }
func (r *recorder) Error(f *Failure)         { r.failure = f }
func (r *recorder) Clear(wait bool)          { r.lines = append(r.lines, fmt.Sprint("clear ", wait)) }

func (r *recorder) keep(how string, b Bundle) {
	r.lines = append(r.lines, how+": "+b["text/plain"].(string))
	r.bundles = append(r.bundles, b)
}

func (r *recorder) text() string { return strings.Join(r.lines, "\n") }

// found is the result of the invented analysis below.
type found struct {
	claims []analysis.Claim
	tables []analysis.Table
}

func (f found) Claims() []analysis.Claim { return f.claims }
func (f found) Tables() []analysis.Table { return f.tables }
func (f found) Cautions() []analysis.Caution {
	return []analysis.Caution{{Topic: "records", Text: "These weighings are invented."}}
}

type heavyOptions struct {
	Bird  string     `name:"bird" doc:"ring of one bird"`
	Above float64    `name:"above" doc:"count weighings above this" unit:"g"`
	Least int        `name:"least" doc:"fewest weighings"`
	All   bool       `name:"all" doc:"take every bird"`
	Since record.Day `name:"since" doc:"first day"`
}

// heavy is an invented analysis with one option of each type: it counts weighings above a weight.
func heavy() analysis.Spec {
	return analysis.Define("heavy", "Weighings above a weight", "Counts weighings. Source: invented for this test.",
		heavyOptions{Above: 500, Least: 1}, func(ctx context.Context, _ analysis.Context, d *record.Dataset, o heavyOptions) (found, error) {
			if o.Least > 100 {
				<-ctx.Done() // as a long fit that watches its context
				return found{}, ctx.Err()
			}
			n := 0
			t := analysis.Table{Name: "weighings", Caption: "Weighings", Columns: []analysis.Column{{Name: "bird", Head: "bird"}, {Name: "weight_g", Head: "weight", Unit: "g"}}}
			var at []record.Ref
			for _, w := range d.Observations {
				if w.Trait == record.Weight && w.Value > o.Above && (o.Bird == "" || w.Bird == o.Bird) && w.On.First >= o.Since {
					n++
					at = append(at, w.At)
					t.Rows = append(t.Rows, []any{w.Bird, w.Value})
				}
			}
			c := analysis.Claim{ID: "heavy.count", Subject: analysis.Subject{Bird: o.Bird}, Topic: "weight", Stands: analysis.Open,
				Text: fmt.Sprintf("Records show %d weighings above %g g.", n, o.Above), N: analysis.Counts{Records: n}, RestsOn: at,
				Estimate: &analysis.Estimate{Value: float64(n), Low: 0, High: 9, Level: 0.9}}
			if n < o.Least {
				c.Refusal = &analysis.Refusal{Needs: "one weighing", Next: "weigh once"}
			}
			return found{[]analysis.Claim{c}, []analysis.Table{t}}, nil
		})
}

// flock is an invented flock of four birds, each weighed four times.
func flock() *record.Dataset {
	d := &record.Dataset{Name: "Low Barn", Settings: record.Settings{Flock: record.FlockSettings{Name: "Low Barn"}}}
	for i, b := range []record.Bird{{ID: "R12", Ring: "R12", Name: "Žofie", Sex: record.Female}, {ID: "R13", Ring: "R13", Sex: record.Female},
		{ID: "007", Ring: "007", Name: "Ærø", Sex: record.Male}, {ID: "R15", Ring: "R15", Sex: record.Male}} {
		d.Birds = append(d.Birds, b)
		for k := range 4 {
			day, _ := record.DayOf(2025, 3, 1+7*k)
			o := record.Observation{Bird: b.ID, On: record.On(day), Age: record.AgeDays(60 + 7*k), Trait: record.Weight, Value: float64(400 + 50*i + 30*k),
				Text: fmt.Sprint(400 + 50*i + 30*k), At: record.Ref{File: "w.xlsx", Sheet: "2025", Row: int32(2 + k), Col: int32(2 + i)}}
			if i == 3 && k == 3 {
				o.Age = record.Age{}
			}
			d.Observations = append(d.Observations, o)
		}
	}
	return d
}

func engine(t testing.TB, limits Limits) *Engine {
	t.Helper()
	day, _ := record.DayOf(2025, 6, 1)
	e, err := New(Options{Specs: []analysis.Spec{heavy()}, Flock: flock(), Context: analysis.Context{Today: day}, Limits: limits,
		Figures: func(r analysis.Result) []plots.Figure {
			return []plots.Figure{{Name: "g", Title: "Growth", Alt: "The weights rise.", Width: 80, Height: 50,
				Panel: plots.Growth{Weighings: []plots.Weighing{{Day: 1, Grams: 100}, {Day: 9, Grams: 200}}}}}
		}})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// cells runs cells one after the other and returns what the last one showed.
func cells(t testing.TB, e *Engine, sources ...string) *recorder {
	t.Helper()
	var r *recorder
	for i, s := range sources {
		r = &recorder{}
		e.Run(context.Background(), fmt.Sprintf("cell %d", i+1), s, r)
		if r.failure != nil && i < len(sources)-1 {
			t.Fatalf("cell %d: %v", i+1, r.failure)
		}
	}
	return r
}

func TestLateBinding(t *testing.T) {
	for _, c := range []struct {
		why   string
		cells []string
		want  string
	}{
		{"a name set again in a later cell", []string{"x = 1\ndef f(): return x", "x = 2\nf()"}, "result: 2"},
		{"a helper written again", []string{"def g(): return 1\ndef f(): return g()", "def g(): return 10", "f()"}, "result: 10"},
		{"a function of a later cell", []string{"def f(): return later() + 1", "def later(): return 5", "f()"}, "result: 6"},
		{"defaults are taken when the function is made, as in Python", []string{"x = 1\ndef f(y = x): return y", "x = 2\nf()"}, "result: 1"},
		{"a lambda", []string{"k = 3\nf = lambda r: r * k", "k = 4\nf(2)"}, "result: 8"},
		{"a comprehension", []string{"k = 3\ndef f(): return [i * k for i in range(3) if i < k]", "k = 2\nf()"}, "result: [0, 2]"},
		{"a closure", []string{"k = 1\ndef make():\n    n = [0]\n    def step():\n        n[0] += k\n        return n[0]\n    return step\ns = make()", "k = 10\ns()\ns()"}, "result: 20"},
		{"recursion", []string{"def f(n): return 1 if n < 2 else n * f(n - 1)", "f(10)"}, "result: 3628800"},
		{"a def in an if", []string{"if True:\n    def f(): return 7", "f()"}, "result: 7"},
		{"loops at the level of the cell set names", []string{"n = 0\nfor i in [1, 2, 3]:\n    n += i\nwhile n < 10:\n    n += 1", "(n, i)"}, "result: (10, 3)"},
		{"several names at once", []string{"a, (b, c) = 1, (2, 3)\n[d, e] = [4, 5]", "[a, b, c, d, e]"}, "result: [1, 2, 3, 4, 5]"},
		{"items and slices", []string{"d = {}\nd[\"k\"] = [1, 2, 3]\nd[\"k\"][0] += 5", "d[\"k\"][:2]"}, "result: [6, 2]"},
		{"names of options and attributes are left alone", []string{"low = 9\ns = struct(low = 1)\ndef f(low = 2): return low", "(s.low, f(low = 3), f())"}, "result: (1, 3, 2)"},
		{"a builtin can be hidden", []string{"len = 5", "len + 1"}, "result: 6"},
		{"a parameter hides a name", []string{"x = 1\ndef f(x): return x", "f(9)"}, "result: 9"},
		{"star arguments", []string{"def f(*a, **k): return (a, k)\nxs = [1, 2]\nkw = {\"z\": 3}", "f(0, y = 1, *xs, **kw)"}, `result: ((0, 1, 2), {"y": 1, "z": 3})`},
		{"the last value", []string{"6 * 7", "_ + 1"}, "result: 43"},
		{"names set before an error are kept", []string{"x = 5", "x"}, "result: 5"},
		{"%= on a name", []string{"s = \"%s g\"\ns %= 5", "s"}, `result: "5 g"`},
		{"*= repeats", []string{"l = [0]\nl *= 20\nx = 3\nx *= 400", "(len(l), x)"}, "result: (20, 1200)"},
		{"set, tuple, dict displays", []string{"1", "type(set([1])) + type((1,)) + type({})"}, `result: "settupledict"`},
		{"conditionals and not", []string{"x = None", "\"none\" if x == None and not x else \"some\""}, `result: "none"`},
	} {
		r := cells(t, engine(t, Limits{}), c.cells...)
		if r.failure != nil || r.text() != c.want {
			t.Errorf("%s: got %q (%v), want %q", c.why, r.text(), r.failure, c.want)
		}
	}
}

func TestNamesSurviveAnError(t *testing.T) {
	e := engine(t, Limits{})
	r := cells(t, e, "x = 1\ny = 1 // 0\nz = 3")
	if r.failure == nil || r.failure.Line != 2 || r.failure.Cell != "cell 1" {
		t.Fatalf("failure %+v", r.failure)
	}
	if r := cells(t, e, "x"); r.text() != "result: 1" {
		t.Errorf("x is lost: %s %v", r.text(), r.failure)
	}
	if r := cells(t, e, "z"); r.failure == nil {
		t.Error("z is set although its line did not run")
	}
	e.Reset()
	if r := cells(t, e, "x"); r.failure == nil {
		t.Error("x survived a reset")
	}
}

func TestWhatIsShown(t *testing.T) {
	e := engine(t, Limits{})
	for in, want := range map[string]string{
		"1 + 1":                          "result: 2",
		"1 + 1;":                         "",
		"1 + 1  # so;":                   "result: 2",
		"1 + 1 ; # so":                   "",
		"None":                           "",
		"x = 3":                          "",
		"# nothing":                      "",
		"":                               "",
		"\"a;\"":                         `result: "a;"`,
		"print(\"a\", 1)\nprint(2)\n3":   "stdout: a 1\n\nstdout: 2\n\nresult: 3",
		"display(1, \"b\")":              "display: 1\ndisplay: \"b\"",
		"clear(wait = True)":             "clear true",
		"heading(\"Weights\")":           "result: Weights\n-------",
		"def f(): return 1":              "",
		"def f(): return 1\nf":           "result: <function f>",
		"\"\"\"a;\nb\"\"\"":              `result: "a;\nb"`,
		"if True:\n    5":                "",
		"[heading(\"A\", 3), \"x\"]":     "result: [A\n-, \"x\"]",
		"[para(\"one\"), para(\"two\")]": "result: one\n\ntwo",
		"flock.weights.head(1).select(\"bird\", \"weight\")": "result: bird  weight (g)\nR12          400",
	} {
		if r := cells(t, e, in); r.failure != nil || r.text() != want {
			t.Errorf("%q shows %q (%v), want %q", in, r.text(), r.failure, want)
		}
	}
}

func TestABlockTravelsInThreeForms(t *testing.T) {
	r := cells(t, engine(t, Limits{}), "heavy(flock, above = 450)")
	if r.failure != nil || len(r.bundles) != 1 {
		t.Fatal(r.failure)
	}
	b := r.bundles[0]
	for _, mime := range []string{"text/plain", "text/html", "application/vnd.keelmark.block+json"} {
		if b[mime] == nil {
			t.Errorf("%s is missing", mime)
		}
	}
	data, err := json.Marshal(b)
	if err != nil || !strings.Contains(string(data), "Records show") || !strings.Contains(b["text/plain"].(string), "These weighings are invented.") {
		t.Errorf("%s %v", data, err)
	}
	r = cells(t, engine(t, Limits{}), "heavy(flock).figures[0]")
	if r.failure != nil || r.bundles[0]["image/svg+xml"] == nil {
		t.Errorf("a figure has no SVG (%v)", r.failure)
	}
}

func TestAnalysesAreFunctions(t *testing.T) {
	e := engine(t, Limits{})
	for in, want := range map[string]string{
		"heavy(flock).claims[0].text":                      `result: "Records show 9 weighings above 500 g."`,
		"heavy().claims[0].text":                           `result: "Records show 9 weighings above 500 g."`,
		"heavy(flock = flock, above = 600).claims[0].text": `result: "Records show 2 weighings above 600 g."`,
		"c = heavy(flock, bird = \"R15\", above = 1, since = \"2025-03-15\").claims[0]\n(c.bird, c.value, c.low, c.high, c.level, c.n.records, c.cells[0], c.refused)": `result: ("R15", 2.0, 0.0, 9.0, 0.9, 2, "w.xlsx!2025!E4", False)`,
		"heavy(flock, bird = flock.bird(\"Ærø\"), above = 1).weighings.weight_g":                                                                                       "result: column weight_g of 4: 500, 530, 560, 590",
		"heavy(flock, above = 5000, since = date(\"2025-01-01\")).claims[0].next":                                                                                      `result: "weigh once"`,
		"heavy(flock.only(flock.weights.where(bird = \"R12\")), above = 1).claims[0].n.records":                                                                        "result: 4",
		"r = heavy(flock).of(\"R15\")\n(len(r.claims), [x.weight_g for x in r.tables[0]], len(r.figures))":                                                             "result: (0, [550, 580, 610, 640], 0)",
		"len(heavy(flock, bird = \"R15\").of(flock.bird(\"R15\")).claims)":                                                                                             "result: 1",
		"heavy(flock).of(\"R12\").cautions":              "result: Caution: records\n  - These weighings are invented.",
		"len(heavy(flock).tables[0])":                    "result: 9",
		"heavy(flock, bird = None).name + type(heavy())": `result: "heavyheavy_result"`,
		"dir(heavy(flock))":                              `result: ["cautions", "claims", "figures", "name", "of", "tables", "title", "weighings"]`,
	} {
		if r := cells(t, e, in); r.failure != nil || r.text() != want {
			t.Errorf("%s\n got %s (%v)\nwant %s", in, r.text(), r.failure, want)
		}
	}
}

package cell

import (
	"fmt"
	"strings"
	"testing"

	"keelmark/analysis/catalog"
	"keelmark/plots"
)

// Every example of the manual runs as it stands.
func TestExamplesOfTheManualRun(t *testing.T) {
	e, err := New(Options{Specs: append(catalog.All(), heavy()), Flock: flock(), Figures: plots.For, BirdFigures: plots.ForBird,
		Save: func(name string, _ []byte) (string, error) { return name, nil }})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range e.Manual() {
		if m.Doc == "" || m.Group == "" {
			t.Errorf("%s has no doc or group", m.Name)
		}
		if m.Example == "" {
			if m.Name != "input" && m.Name != "fail" {
				t.Errorf("%s has no example", m.Name)
			}
			continue
		}
		if r := cells(t, e, m.Example); r.failure != nil {
			t.Errorf("%s: the example fails: %v\n%s", m.Name, r.failure, m.Example)
		}
		e.Reset()
	}
}

func TestHelp(t *testing.T) {
	e := engine(t, Limits{})
	for in, want := range map[string]string{
		"help()":                    "Numbers\n  count(x): How many values",
		"help(mean)":                "mean(x)\n    The mean of the known values.\n    Example: mean(flock.weights.weight)",
		"help(\"where\")":           "table.where(test, column = value, ...)",
		"help(flock.weights.group)": "table.group(column, ..., column = summary)",
		"help(heavy)":               "heavy(flock, bird = \"\", above = 500, least = 1, all = False, since = None)\n    Weighings above a weight.",
		"help(flock)":               "a flock. It has: bird, only, birds, weights",
		"help(len)":                 "len is part of the language",
		"help(\"zz\")":              "There is no manual for zz",
		"def f():\n    \"\"\"Doubles.\"\"\"\n    return 2\nhelp(f)": "f: Doubles.",
	} {
		if r := cells(t, e, in); r.failure != nil || !strings.Contains(r.text(), want) {
			t.Errorf("%s shows %q (%v), want %q", in, r.text(), r.failure, want)
		}
	}
}

func TestComplete(t *testing.T) {
	e := engine(t, Limits{})
	cells(t, e, "hens = flock.weights\nweighty = 5")
	for in, want := range map[string]string{
		"wei|":                        "weighty",
		"x = flo|":                    "float flock floor",
		"flock.we|":                   "weights",
		"flock.weights.gr|":           "group groups",
		"hens.wh|":                    "where",
		"hens.weight.mi|":             "missing",
		"hens[\"we|":                  "weight",
		"hens.where(we|":              "weight=",
		"hens.where(sex = \"F\", we|": "weight=",
		"hens.sort(\"wei|":            "weight",
		"heavy(flock, ab|":            "above=",
		"heavy(flock, bird = \"R|":    "R12 R13 R15",
		"flock.bird(\"R1|":            "R12 R13 R15",
		"heavy(flock).wei|":           "", // a call is not run to complete
		"\"flo|":                      "",
		"# flo|":                      "",
		"Nguyệt = flo|":               "float flock floor",
		"retu|":                       "return",
		"today.ad|":                   "add_months",
		"x.y.z|":                      "",
		"|":                           "",
	} {
		source, _, _ := strings.Cut(in, "|")
		at := len([]rune(source))
		list, from := e.Complete(source+strings.TrimPrefix(in, source+"|"), at)
		if got := strings.Join(list, " "); got != want && !(want == "" && source == "") {
			t.Errorf("%s offers %q from %d, want %q", in, got, from, want)
		}
		if from < 0 || from > at {
			t.Errorf("%s: from %d", in, from)
		}
	}
}

func TestInspect(t *testing.T) {
	e := engine(t, Limits{})
	cells(t, e, "x = 640\ndef f(a, b = 2):\n    \"\"\"Adds.\"\"\"\n    return a + b")
	for in, want := range map[string]string{
		"me|an(y)":                    "mean(x)",
		"mean(y|":                     "mean(x)", // within the brackets of a call
		"flock.weights.wh|ere":        "table.where",
		"flock.weights.where(sex = |": "table.where",
		"x|":                          "640",
		"f|":                          "f: Adds.",
		"flock|":                      "The flock that the notebook was started on",
		"nothing|":                    "",
	} {
		source, rest, _ := strings.Cut(in, "|")
		got, ok := e.Inspect(source+rest, len([]rune(source)))
		if ok != (want != "") || !strings.Contains(got, want) {
			t.Errorf("%s: %q %v, want %q", in, got, ok, want)
		}
	}
}

// The rules of a console: what is certainly unfinished waits for more, and an empty last line ends a block.
func TestIsComplete(t *testing.T) {
	for in, want := range map[string]string{
		"1 + 1":                           "complete",
		"":                                "complete",
		"def f():":                        "incomplete    ",
		"def f():\n    return 1":          "incomplete    ",
		"def f():\n    return 1\n":        "complete",
		"def f():\n    return 1\n    ":    "complete",
		"def f():\n    if x:":             "incomplete        ",
		"f(1,":                            "incomplete",
		"x = [1,\n     2,":                "incomplete     ",
		"\"\"\"abc":                       "incomplete",
		"x = \"abc":                       "invalid",
		"1 +":                             "invalid",
		"import os":                       "invalid",
		"if x:\n    y = 1\nelse:":         "incomplete    ",
		"for i in [1]:\n    print(i)\n\n": "complete",
		"x = 5 # def f():":                "complete",
		"x = (1 + \\":                     "incomplete",
	} {
		status, indent := IsComplete(in)
		if got := status + indent; got != want {
			t.Errorf("%q is %q, want %q", in, got, want)
		}
	}
}

func TestContentsNameEveryEntryOnce(t *testing.T) {
	e := engine(t, Limits{})
	text, all := Contents(e.Manual()), Reference(e.Manual())
	for _, m := range e.Manual() {
		if !strings.Contains(all, "\n"+m.Text()+"\n") {
			t.Errorf("%s is not in the reference", m.Name)
		}
		if n := strings.Count(text, fmt.Sprintf("  %s%s: ", m.Name, m.Args)); n != 1 {
			t.Errorf("%s stands %d times in the contents", m.Name, n)
		}
	}
}

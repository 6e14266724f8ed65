package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// house lists every package of the module and what it may import of the module. A package that is not
// listed fails the test: decide where it belongs before it is written.
var house = map[string][]string{
	"ingest/record":    {},
	"ingest/sheet":     {},
	"ingest/parse":     {"ingest/record"},
	"ingest/layout":    {"ingest/record", "ingest/sheet", "ingest/parse"},
	"ingest/settings":  {"ingest/record"},
	"ingest/workbook":  {"ingest/record"},
	"ingest/standards": {"ingest/record", "ingest/parse", "ingest/sheet"},
	"ingest/ask":       {"ingest/record", "ingest/parse", "ingest/settings"},
	"ingest/identity":  {"ingest/record", "ingest/parse"},
	"ingest/evidence":  {"ingest/record", "ingest/sheet", "ingest/parse", "ingest/layout", "ingest/ask"},
	"ingest/reading": {"ingest/record", "ingest/sheet", "ingest/parse", "ingest/layout", "ingest/ask", "ingest/identity",
		"ingest/evidence"},
	"ingest": {"ingest/record", "ingest/sheet", "ingest/parse", "ingest/layout", "ingest/settings", "ingest/workbook",
		"ingest/ask", "ingest/identity", "ingest/evidence", "ingest/reading", "ingest/standards"},
	"ingest/intake": {"ingest", "ingest/record", "ingest/settings"},

	"datasets":               {"ingest/record"},
	"datasets/demo/generate": {"datasets", "ingest/record", "ingest/workbook"},

	"analysis":           {"ingest/record"},
	"analysis/stat":      {},
	"analysis/fit":       {"analysis/stat"},
	"analysis/fit/mixed": {"analysis/stat", "analysis/fit"},
	"analysis/frame":     {"ingest/record", "analysis", "analysis/stat"},
	"analysis/growth":    of(),
	"analysis/standard":  of(),
	"analysis/parasite":  of(),
	"analysis/forecast":  of("growth", "standard", "forecast/dense", "forecast/outlier", "forecast/pooled", "forecast/invent"), // invent: tests only

	"analysis/forecast/dense":     {},
	"analysis/forecast/outlier":   {},
	"analysis/forecast/pooled":    {"analysis", "analysis/standard", "analysis/forecast/dense", "analysis/forecast/outlier"},
	"analysis/forecast/invent":    {"ingest/record"},
	"analysis/forecast/calibrate": {"ingest/record", "analysis", "analysis/standard", "analysis/forecast", "analysis/forecast/invent", "plots"},

	"analysis/condition": of(),
	"analysis/fertility": of(),
	"analysis/season":    of("parasite"),
	"analysis/carriage":  of(),
	"analysis/story":     of("parasite"),
	"analysis/treatment": of("parasite", "carriage", "story"),
	"analysis/slip":      of("growth", "condition", "standard"),
	"analysis/stop":      of(),
	"analysis/planner":   of("parasite", "standard", "stop"),
	"analysis/flocks":    of("standard", "forecast", "parasite", "condition", "fertility"),
	"analysis/decision": of("growth", "standard", "parasite", "forecast", "condition", "fertility", "season",
		"treatment", "slip", "planner", "stop"),
	"analysis/catalog": of("growth", "standard", "parasite", "forecast", "condition", "fertility", "season",
		"treatment", "slip", "planner", "flocks", "decision"),

	"plots": {"ingest/record", "analysis", "analysis/stat", "analysis/fit", "analysis/growth", "analysis/standard",
		"analysis/parasite", "analysis/forecast", "analysis/condition", "analysis/fertility", "analysis/season",
		"analysis/treatment", "analysis/flocks", "analysis/decision"},
	"plots/pdf": {"plots"},

	"notebooks":          {},
	"notebooks/nbformat": {},
	"notebooks/zmtp":     {},
	"notebooks/wire":     {"notebooks/zmtp"},
	"notebooks/render":   {"ingest/record", "ingest/workbook", "analysis", "plots", "plots/pdf", "notebooks/nbformat"},
	"notebooks/cell": {"ingest", "ingest/record", "datasets", "analysis", "analysis/stat", "analysis/frame", "analysis/catalog",
		"plots", "notebooks/render"},
	"notebooks/runner":  {"notebooks/nbformat", "notebooks/cell"},
	"notebooks/kernel":  {"notebooks/zmtp", "notebooks/wire", "notebooks/nbformat", "notebooks/cell"},
	"notebooks/reports": {"notebooks/nbformat"},

	"cmd/keelmark": {"ingest", "ingest/intake", "ingest/record", "ingest/settings", "ingest/workbook", "datasets", "analysis", "analysis/catalog", "analysis/slip", "analysis/decision", "analysis/planner", "analysis/stop", "analysis/flocks",
		"analysis/frame", "plots", "notebooks", "notebooks/nbformat", "notebooks/cell", "notebooks/runner",
		"notebooks/kernel", "notebooks/render", "notebooks/reports"},
}

// of is what an analysis may import: the shared shapes, and the other analyses that it names.
func of(others ...string) []string {
	allowed := []string{"ingest/record", "analysis", "analysis/stat", "analysis/fit", "analysis/fit/mixed"}
	for _, o := range others {
		allowed = append(allowed, "analysis/"+o)
	}
	return allowed
}

// doors names, for each third-party module path, the packages that may import it. A path ends the search at
// its longest match.
var doors = map[string][]string{
	"github.com/xuri/excelize/v2":              {"ingest/sheet", "ingest/workbook"},
	"github.com/pelletier/go-toml/v2":          {"ingest/settings"},
	"golang.org/x/text":                        {"ingest/sheet", "ingest/parse", "notebooks/render", "plots", "plots/pdf"},
	"golang.org/x/net/html":                    {"ingest/sheet", "notebooks/render"}, // charset in sheet, parsing in tests of render
	"golang.org/x/image":                       {"plots", "plots/pdf"},
	"gonum.org/v1/gonum":                       {"analysis/stat", "analysis/fit"},
	"github.com/go-gota/gota":                  {"analysis/frame"},
	"gonum.org/v1/plot":                        {"plots", "plots/pdf"},
	"codeberg.org/go-pdf/fpdf":                 {"plots/pdf", "notebooks/render"},
	"codeberg.org/go-fonts":                    {"plots", "plots/pdf"},
	"go.starlark.net":                          {"notebooks/cell"},
	"github.com/yuin/goldmark":                 {"notebooks/render"},
	"github.com/alecthomas/chroma/v2":          {"notebooks/render"},
	"github.com/arran4/golang-ical":            {"notebooks/render"},
	"github.com/spf13/pflag":                   {"cmd/keelmark"},
	"github.com/jedib0t/go-pretty/v6":          {"cmd/keelmark"},
	"golang.org/x/term":                        {"cmd/keelmark"},
	"github.com/santhosh-tekuri/jsonschema/v6": {"notebooks/nbformat", "notebooks/runner"}, // tests only
}

// worldless packages compute on values: they may not touch files, network, processes, clock or log.
var worldless = []string{"ingest/record", "ingest/parse", "analysis", "plots"}

// programs stand in a worldless room and print what was measured there.
var programs = []string{"analysis/forecast/calibrate"}

var worldly = []string{"os", "os/exec", "net", "net/http", "log", "log/slog", "flag", "io/ioutil", "syscall"}

func TestTheHouseHoldsItsDirections(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := map[string]bool{}
	walkGo(t, root, func(dir, file string, imports []string, source string) {
		allowed, known := house[dir]
		if !known {
			t.Errorf("%s: package %s is outside the house; add it to house in arch_test.go", file, dir)
			return
		}
		seen[dir] = true
		isTest := strings.HasSuffix(file, "_test.go")
		for _, imp := range imports {
			own, inModule := strings.CutPrefix(imp, "keelmark/")
			switch {
			case inModule && own == dir: // an external test of the same package
			case inModule && isTest && fixtureOf(own):
			case inModule && !slices.Contains(allowed, own):
				t.Errorf("%s imports %s; %s may import only %v", file, own, dir, allowed)
			case !inModule && strings.Contains(strings.Split(imp, "/")[0], "."):
				if packages, ok := door(imp); !ok {
					t.Errorf("%s imports %s, which has no door in arch_test.go", file, imp)
				} else if !slices.Contains(packages, dir) {
					t.Errorf("%s imports %s; its doors are %v", file, imp, packages)
				}
			case !isTest && slices.Contains(worldly, imp) && isWorldless(dir):
				t.Errorf("%s imports %s; %s computes on values only", file, imp, dir)
			}
		}
		if !isTest && isWorldless(dir) && strings.Contains(source, "time.Now") {
			t.Errorf("%s calls time.Now; today is a field of analysis.Context", file)
		}
	})
	if len(seen) < 15 {
		t.Errorf("only %d packages found under %s", len(seen), root)
	}
}

// fixtureOf lists what any test may import to have something to work on.
func fixtureOf(pkg string) bool {
	return pkg == "datasets" || pkg == "ingest" || pkg == "ingest/record"
}

func TestEveryPackageSaysWhatItDoes(t *testing.T) {
	root := filepath.Join("..", "..")
	documented := map[string]bool{}
	walkGo(t, root, func(dir, file string, _ []string, source string) {
		if strings.HasSuffix(file, "_test.go") {
			return
		}
		documented[dir] = documented[dir] || strings.Contains(source, "// Package ") || strings.Contains(source, "// Command ")
	})
	for _, dir := range sortedKeys(documented) {
		if !documented[dir] {
			t.Errorf("package %s has no package comment", dir)
		}
	}
}

func door(imp string) (packages []string, ok bool) {
	for p := imp; p != "."; p = path.Dir(p) {
		if packages, ok := doors[p]; ok {
			return packages, true
		}
	}
	return nil, false
}

func isWorldless(dir string) bool {
	return !slices.Contains(programs, dir) && slices.ContainsFunc(worldless, func(w string) bool { return dir == w || strings.HasPrefix(dir, w+"/") })
}

func walkGo(t *testing.T, root string, visit func(dir, file string, imports []string, source string)) {
	t.Helper()
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name := d.Name(); p != root && (strings.HasPrefix(name, ".") || name == "testdata" || name == "dist") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		source, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, source, parser.ImportsOnly|parser.ParseComments)
		if err != nil {
			return err
		}
		var imports []string
		for _, i := range f.Imports {
			name, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			imports = append(imports, name)
		}
		rel, err := filepath.Rel(root, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		visit(path.Dir(rel), rel, imports, string(source))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func sortedKeys(m map[string]bool) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

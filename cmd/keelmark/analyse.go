package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"keelmark/analysis"
	"keelmark/analysis/catalog"
	"keelmark/analysis/stop"
	"keelmark/ingest/record"
)

const analyseHead = `keelmark analyse NAME SOURCE...

Runs one analysis and prints its sentences, each with its range and the number of records behind it, and its
tables. Where the records are too few it says so and names the cheapest next observation.

    keelmark analyse growth my-flock/
    keelmark analyse standard --show 2025-12-13 my-flock/
    keelmark analyse growth --weight-unit g --age-unit d chicks.csv
    keelmark analyse parasite --format json my-flock/

    --format F        text, json (claims and tables) or csv (one table, see --table)
    --table T         with --format csv: which table

`

func analyseVerb() verb {
	var b strings.Builder
	b.WriteString(analyseHead)
	b.WriteString("Analyses (keelmark help NAME tells each one's options, method and source):\n")
	for _, s := range catalog.All() {
		fmt.Fprintf(&b, "    %-10s %s\n", s.Name, s.Title)
	}
	b.WriteString("\n" + sourceHelp)
	help := b.String()
	return verb{"analyse", "run one analysis of the catalogue", help, func(ctx context.Context, w world, args []string) (int, error) {
		return runAnalyse(ctx, w, help, args)
	}}
}

func runAnalyse(ctx context.Context, w world, help string, args []string) (int, error) {
	if len(args) == 0 || args[0] == "-h" || args[0] == "--help" {
		if len(args) == 0 {
			return 0, usage("analyse: name an analysis: %s", strings.Join(analysisNames(), ", "))
		}
		_, err := fmt.Fprint(w.out, help)
		return exitDone, err
	}
	spec, ok := findSpec(args[0])
	if !ok {
		return 0, usage("there is no analysis %q%s; there are: %s", args[0], didYouMean(args[0], analysisNames()), strings.Join(analysisNames(), ", "))
	}
	set := flags("analyse")
	var source sourceFlags
	source.add(set)
	format := set.String("format", "text", "")
	wanted := set.String("table", "", "")
	options := addParams(set, spec)
	sources, err := parse(w, set, specHelp(spec)+"\n"+sourceHelp, args[1:])
	if err != nil {
		return 0, err
	}
	if err := oneOf("format", *format, "text", "json", "csv"); err != nil {
		return 0, err
	}
	given, err := options()
	if err != nil {
		return 0, err
	}
	flocks, today, err := source.load(ctx, w, sources)
	if err != nil {
		return 0, err
	}
	var results []found
	for _, d := range flocks {
		c, err := contextOf(d, today)
		if err != nil {
			return 0, err
		}
		specs, err := specsOf(sources, d, len(flocks))
		if err != nil {
			return 0, err
		}
		if signs := stop.Signs(today, d); len(signs) > 0 {
			results = append(results, found{d, silenced(signs)})
			continue
		}
		own := specs[slices.IndexFunc(specs, func(s analysis.Spec) bool { return s.Name == spec.Name })]
		r, err := own.Run(ctx, c, d, given)
		if err != nil {
			return 0, err
		}
		results = append(results, found{d, r})
	}
	switch *format {
	case "json":
		err = printJSON(w.out, results)
	case "csv":
		for _, f := range results {
			for _, c := range f.result.Claims() {
				if c.Stands == analysis.Stop { // a table has no place for it
					fmt.Fprintf(w.err, "keelmark: %s: %s\n", flockName(f.flock), c.Text)
				}
			}
		}
		err = printCSV(w.out, results, *wanted)
	default:
		printFound(w.out, results)
	}
	return outcome(flocks), err
}

// silenced is what any analysis says of a flock while a stop sign stands: the sign, and nothing else.
type silenced []analysis.Claim

func (s silenced) Claims() []analysis.Claim { return s }

func (s silenced) Tables() []analysis.Table { return nil }

// found is a flock with what an analysis found in it.
type found struct {
	flock  *record.Dataset
	result analysis.Result
}

func findSpec(name string) (analysis.Spec, bool) {
	for _, s := range catalog.All() {
		if s.Name == name {
			return s, true
		}
	}
	return analysis.Spec{}, false
}

func analysisNames() []string {
	var names []string
	for _, s := range catalog.All() {
		names = append(names, s.Name)
	}
	return names
}

func flagName(param string) string { return strings.ReplaceAll(param, "_", "-") }

func defaultText(v any) string {
	switch v := v.(type) {
	case string:
		if v == "" {
			return ""
		}
	case bool:
		return ""
	case record.Day:
		if v == 0 {
			return ""
		}
	}
	return fmt.Sprintf(" (default %v)", v)
}

// addParams makes a flag of each option of an analysis. The returned function gives the options that were set.
func addParams(set *pflag.FlagSet, spec analysis.Spec) func() (map[string]any, error) {
	days := map[string]*string{}
	for _, p := range spec.Params {
		name := flagName(p.Name)
		if set.Lookup(name) != nil {
			continue // a flag about the records has the name already and says the same
		}
		switch v := p.Default.(type) {
		case string:
			set.String(name, v, p.Doc)
		case float64:
			set.Float64(name, v, p.Doc)
		case int:
			set.Int(name, v, p.Doc)
		case bool:
			set.Bool(name, v, p.Doc)
		case record.Day:
			days[p.Name] = set.String(name, "", p.Doc)
		}
	}
	return func() (map[string]any, error) {
		given := map[string]any{}
		for _, p := range spec.Params {
			name := flagName(p.Name)
			if !set.Changed(name) {
				continue
			}
			var err error
			switch p.Default.(type) {
			case string:
				given[p.Name], err = set.GetString(name)
			case float64:
				given[p.Name], err = set.GetFloat64(name)
			case int:
				given[p.Name], err = set.GetInt(name)
			case bool:
				given[p.Name], err = set.GetBool(name)
			case record.Day:
				var day record.Day
				if day, err = record.ParseDay(*days[p.Name]); err != nil {
					err = usage("--%s: %v", name, err)
				}
				given[p.Name] = day
			}
			if err != nil {
				return nil, err
			}
		}
		return given, nil
	}
}

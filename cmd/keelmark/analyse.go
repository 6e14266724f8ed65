package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/pflag"

	"keelmark/analysis"
	"keelmark/analysis/catalog"
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
		r, err := spec.Run(ctx, c, d, given)
		if err != nil {
			return 0, err
		}
		results = append(results, found{d, r})
	}
	switch *format {
	case "json":
		err = printJSON(w.out, results)
	case "csv":
		err = printCSV(w.out, results, *wanted)
	default:
		printFound(w.out, results)
	}
	return outcome(flocks), err
}

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

func printFound(w io.Writer, results []found) {
	for i, f := range results {
		if i > 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintf(w, "%s: %s\n\n", f.flock.Name, extent(f.flock))
		claims := f.result.Claims()
		if len(claims) == 0 {
			fmt.Fprintln(w, "The records hold nothing that this analysis can speak about.")
		}
		for _, c := range claims {
			printClaim(w, c)
		}
		for _, t := range f.result.Tables() {
			if len(t.Rows) > 0 {
				fmt.Fprintf(w, "\n%s\n%s\n", t.Caption, textTable(t))
			}
		}
		if with, ok := f.result.(analysis.Cautioned); ok {
			for _, c := range with.Cautions() {
				fmt.Fprintf(w, "\nCaution, %s: %s\n", c.Topic, c.Text)
			}
		}
	}
}

func printClaim(w io.Writer, c analysis.Claim) {
	printWrapped(w, sign(c.Stands)+" ", c.Text)
	for _, caveat := range c.Caveats {
		printWrapped(w, "    note: ", caveat)
	}
	if c.Refusal != nil {
		printWrapped(w, "    next: ", c.Refusal.Next)
	}
}

// lineWidth is how many letters a line of sentences has.
const lineWidth = 100

// printWrapped prints a text behind its head, further lines indented by four.
func printWrapped(w io.Writer, head, s string) {
	line := head
	for i, word := range strings.Fields(s) {
		if i > 0 && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > lineWidth {
			fmt.Fprintln(w, line)
			line = "    " + word
			continue
		}
		if i > 0 {
			line += " "
		}
		line += word
	}
	fmt.Fprintln(w, line)
}

// sign is the mark of a side with its word, as everywhere in Keelmark.
func sign(s analysis.Stands) string {
	switch s {
	case analysis.For:
		return "▲ speaks for:"
	case analysis.Against:
		return "▼ speaks against:"
	case analysis.Stop:
		return "■ stop:"
	}
	return "○ open:"
}

// textTable lays a table out for a terminal.
func textTable(t analysis.Table) string {
	t = withoutEmptyColumns(t)
	w := table.NewWriter()
	style := table.StyleLight
	style.Format.Header = text.FormatDefault
	w.SetStyle(style)
	head, configs := table.Row{}, []table.ColumnConfig{}
	for i, c := range t.Columns {
		name := c.Head
		if c.Unit != "" {
			name += " [" + c.Unit + "]"
		}
		head = append(head, name)
		config := table.ColumnConfig{Number: i + 1, WidthMax: 44, WidthMaxEnforcer: text.WrapSoft}
		if numeric(t, i) {
			config.Align, config.AlignHeader = text.AlignRight, text.AlignRight
		}
		configs = append(configs, config)
	}
	w.SetColumnConfigs(configs)
	w.AppendHeader(head)
	for _, row := range t.Rows {
		cells := make(table.Row, len(row))
		for i, v := range row {
			cells[i] = cellText(v, t.Columns[i].Decimals)
		}
		w.AppendRow(cells)
	}
	return w.Render()
}

// withoutEmptyColumns leaves out what has nothing to show in any row: a terminal is narrow.
func withoutEmptyColumns(t analysis.Table) analysis.Table {
	out := t
	out.Columns, out.Rows = nil, make([][]any, len(t.Rows))
	for i, c := range t.Columns {
		empty := true
		for _, row := range t.Rows {
			empty = empty && cellText(row[i], c.Decimals) == ""
		}
		if empty {
			continue
		}
		out.Columns = append(out.Columns, c)
		for j, row := range t.Rows {
			out.Rows[j] = append(out.Rows[j], row[i])
		}
	}
	return out
}

func numeric(t analysis.Table, column int) bool {
	for _, row := range t.Rows {
		switch row[column].(type) {
		case float64, int:
			return true
		case string:
			return false
		}
	}
	return false
}

func cellText(v any, decimals int) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', decimals, 64)
	case bool:
		if v {
			return "yes"
		}
		return "no"
	}
	return fmt.Sprint(v)
}

func printJSON(w io.Writer, results []found) error {
	type tableOut struct {
		Name    string           `json:"name"`
		Caption string           `json:"caption"`
		Rows    []map[string]any `json:"rows"`
	}
	type out struct {
		Flock  string           `json:"flock"`
		Claims []analysis.Claim `json:"claims"`
		Tables []tableOut       `json:"tables"`
	}
	var all []out
	for _, f := range results {
		o := out{Flock: f.flock.Name, Claims: f.result.Claims()}
		for _, t := range f.result.Tables() {
			rows := []map[string]any{}
			for _, row := range t.Rows {
				line := map[string]any{}
				for i, v := range row {
					if x, ok := v.(float64); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
						v = nil
					}
					line[t.Columns[i].Name] = v
				}
				rows = append(rows, line)
			}
			o.Tables = append(o.Tables, tableOut{t.Name, t.Caption, rows})
		}
		all = append(all, o)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(all)
}

// printCSV writes one table, the flock in the first column. Text that a spreadsheet program would run is made
// harmless by a leading apostrophe.
func printCSV(w io.Writer, results []found, wanted string) error {
	out := csv.NewWriter(w)
	written := false
	var names []string
	for _, f := range results {
		for i, t := range f.result.Tables() {
			names = append(names, t.Name)
			if t.Name != wanted && (wanted != "" || i > 0) {
				continue
			}
			if !written {
				head := []string{"flock"}
				for _, c := range t.Columns {
					head = append(head, c.Name)
				}
				if err := out.Write(head); err != nil {
					return err
				}
				written = true
			}
			for _, row := range t.Rows {
				line := []string{harmless(f.flock.Name)}
				for _, v := range row {
					if x, ok := v.(float64); ok && !math.IsNaN(x) {
						line = append(line, strconv.FormatFloat(x, 'g', -1, 64))
						continue
					}
					if s, ok := v.(string); ok {
						line = append(line, harmless(s))
						continue
					}
					line = append(line, cellText(v, 0))
				}
				if err := out.Write(line); err != nil {
					return err
				}
			}
		}
	}
	if !written && wanted != "" {
		return usage("--table %s: there is no such table%s; there are: %s", wanted, didYouMean(wanted, names), strings.Join(names, ", "))
	}
	out.Flush()
	return out.Error()
}

func harmless(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

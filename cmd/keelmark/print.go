package main

import (
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

	"keelmark/analysis"
	"keelmark/notebooks/render"
)

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
	printWrapped(w, render.Sign(c.Stands)+" "+render.Word(c.Stands)+": ", c.Text)
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
		// Cautions stand beside what can hurt someone, whatever reads the output.
		Cautions []analysis.Caution `json:"cautions,omitempty"`
	}
	var all []out
	for _, f := range results {
		o := out{Flock: f.flock.Name, Claims: f.result.Claims()}
		if with, ok := f.result.(analysis.Cautioned); ok {
			o.Cautions = with.Cautions()
		}
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
				line := []string{analysis.Harmless(f.flock.Name)}
				for _, v := range row {
					if x, ok := v.(float64); ok && !math.IsNaN(x) {
						line = append(line, strconv.FormatFloat(x, 'g', -1, 64))
						continue
					}
					if s, ok := v.(string); ok {
						line = append(line, analysis.Harmless(s))
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

package render

import (
	"bytes"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"strings"

	"keelmark/analysis"
	"keelmark/notebooks/nbformat"
	"keelmark/plots"
)

// MIME is the type under which a block travels in a notebook.
const MIME = "application/vnd.keelmark.block+json"

// Bundle makes a notebook output of a block: the block itself, HTML and plain text, and for a figure also
// SVG. The ids in the HTML are made of the block's content, so that two different blocks of a notebook never
// share one.
func Bundle(b Block) (nbformat.Bundle, error) {
	data, err := Marshal(b)
	if err != nil {
		return nil, err
	}
	html, err := Fragment(b)
	if err != nil {
		return nil, err
	}
	out := nbformat.Bundle{MIME: json.RawMessage(data), "text/html": html, "text/plain": PlainText(b)}
	if f, ok := b.(Figure); ok {
		var svg bytes.Buffer
		if err := f.Plot.SVG(&svg, plots.Print(), contentID(data)+"-s"); err != nil {
			return nil, err
		}
		out["image/svg+xml"] = svg.String()
	}
	return out, nil
}

func contentID(data []byte) string {
	h := fnv.New64a()
	h.Write(data)
	return fmt.Sprintf("km%x", h.Sum64())
}

// PlainText says a block in plain text, for a terminal or a screen without HTML.
func PlainText(b Block) string {
	var w strings.Builder
	plainText(&w, b)
	return strings.TrimRight(w.String(), "\n")
}

func plainText(w *strings.Builder, b Block) {
	switch b := b.(type) {
	case Heading:
		fmt.Fprintf(w, "%s\n%s\n", b.Text, strings.Repeat("-", len([]rune(b.Text))))
	case Para:
		fmt.Fprintln(w, b.Text)
	case Markdown:
		fmt.Fprintln(w, b.Source)
	case Table:
		plainTable(w, b)
	case Claims:
		plainClaims(w, b)
	case Caution:
		fmt.Fprintf(w, "%s\n", b.Title)
		for _, l := range b.Lines {
			fmt.Fprintf(w, "  - %s\n", l)
		}
		if b.Source != "" {
			fmt.Fprintf(w, "  Source: %s\n", b.Source)
		}
	case Figure:
		fmt.Fprintf(w, "%s\n%s\n", b.Plot.Title, b.Plot.Alt)
		if b.Plot.Caption != "" {
			fmt.Fprintln(w, b.Plot.Caption)
		}
	case Image:
		fmt.Fprintf(w, "[image: %s]\n", b.Alt)
	case Facts:
		if b.Title != "" {
			fmt.Fprintln(w, b.Title)
		}
		for _, p := range b.Pairs {
			fmt.Fprintf(w, "%s: %s\n", p.Name, p.value())
		}
	case Columns:
		for _, c := range b.Columns {
			for _, inner := range c {
				plainText(w, inner)
			}
		}
	case Group:
		for i, inner := range b.Blocks {
			if i > 0 {
				fmt.Fprintln(w)
			}
			plainText(w, inner)
		}
	case Decision:
		fmt.Fprintf(w, "Decision about %s (the keeper's own words): ______\nbecause: ______   date: ______\n", b.About)
	case Ticks:
		fmt.Fprint(w, b.Label, ":")
		for _, t := range b.Items {
			if t.Line {
				fmt.Fprintf(w, "  %s ______", t.Text)
			} else {
				fmt.Fprintf(w, "  [ ] %s", t.Text)
			}
		}
		fmt.Fprintln(w)
	case Code:
		fmt.Fprintln(w, b.Source)
	case Preformatted:
		fmt.Fprintln(w, b.Text)
	}
}

func (f Fact) value() string {
	if strings.TrimSpace(f.Value) == "" {
		return "not recorded"
	}
	return f.Value
}

func plainClaims(w *strings.Builder, c Claims) {
	if c.Title != "" {
		fmt.Fprintln(w, c.Title)
	}
	for _, side := range append([]analysis.Stands{analysis.Stop}, sides()...) {
		for _, claim := range c.on(side) {
			fmt.Fprintf(w, "%s %s: %s\n", Sign(side), Word(side), claim.Text)
			if claim.Refusal != nil && claim.Refusal.Next != "" {
				fmt.Fprintf(w, "    next look: %s\n", claim.Refusal.Next)
			}
		}
	}
}

// plainTable pads columns to the same number of letters, which is as good as plain text gets.
func plainTable(w *strings.Builder, t Table) {
	if t.Caption != "" {
		fmt.Fprintln(w, t.Caption)
	}
	width := make([]int, len(t.Columns))
	grid := [][]string{nil}
	for _, c := range t.Columns {
		grid[0] = append(grid[0], c.head())
	}
	for _, row := range t.Rows {
		var line []string
		for i := range t.Columns {
			s := ""
			if i < len(row) {
				s = row[i].plain()
			}
			line = append(line, s)
		}
		grid = append(grid, line)
	}
	for _, line := range grid {
		for i, s := range line {
			width[i] = max(width[i], len([]rune(s)))
		}
	}
	for _, line := range grid {
		var b strings.Builder
		for i, s := range line {
			pad := strings.Repeat(" ", width[i]-len([]rune(s)))
			if t.Columns[i].Align == Right {
				b.WriteString(pad + s)
			} else {
				b.WriteString(s + pad)
			}
			b.WriteString("  ")
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
	if t.Note != "" {
		fmt.Fprintln(w, t.Note)
	}
}

func (c Cell) plain() string {
	var parts []string
	if c.Stands != "" {
		parts = append(parts, Sign(c.Stands))
	}
	if c.Tick {
		parts = append(parts, "[ ]")
	}
	if c.Text != "" {
		parts = append(parts, c.Text)
	} else if c.Figure != nil {
		parts = append(parts, c.Figure.Alt)
	}
	if c.Line {
		parts = append(parts, "______")
	}
	return strings.Join(parts, " ")
}

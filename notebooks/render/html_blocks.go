package render

import (
	"fmt"
	"html/template"
	"regexp"
	"strings"

	"keelmark/analysis"
	"keelmark/plots"
)

func (h *htmlWriter) figure(f plots.Figure) (template.HTML, error) {
	svg, err := h.svg(f)
	if err != nil {
		return "", err
	}
	table, err := h.table(TableOf(f.DataTable(), string(f.Units())))
	if err != nil {
		return "", err
	}
	return h.execute("figure", map[string]any{"Title": f.Title, "Caption": f.Caption, "SVG": svg, "Table": table})
}

func (h *htmlWriter) svg(f plots.Figure) (template.HTML, error) {
	var b strings.Builder
	if err := f.SVG(&b, h.theme, h.id("fig-"+f.Name)); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}

func (h *htmlWriter) table(t Table) (template.HTML, error) {
	type cell struct {
		RowHead bool
		Class   string
		HTML    template.HTML
	}
	type column struct{ Head, Class string }
	columns := make([]column, len(t.Columns))
	for i, c := range t.Columns {
		columns[i] = column{c.head(), strings.TrimSpace(string(c.Align))}
		if columns[i].Head == "" {
			columns[i].Head = fmt.Sprintf("column %d", i+1)
		}
	}
	var rows [][]cell
	for _, r := range t.Rows {
		row := make([]cell, len(t.Columns))
		for i, c := range t.Columns {
			var in Cell
			if i < len(r) {
				in = r[i]
			}
			content, err := h.cell(in)
			if err != nil {
				return "", err
			}
			class := string(c.Align)
			if c.NoWrap {
				class += " nowrap"
			}
			row[i] = cell{c.RowHead, strings.TrimSpace(class), content}
		}
		rows = append(rows, row)
	}
	label := t.Caption
	if label == "" {
		label = "Table"
	}
	return h.execute("table", map[string]any{"Label": label, "Name": t.Name, "Caption": t.Caption, "Columns": columns, "Rows": rows, "Note": t.Note})
}

// isoDate finds the dates that a narrow column must not break at their hyphens.
var isoDate = regexp.MustCompile(`\b\d{4}-\d{2}(-\d{2})?\b`)

func wholeDates(s string) template.HTML {
	return template.HTML(isoDate.ReplaceAllString(template.HTMLEscapeString(s), `<span class="nowrap">$0</span>`))
}

func (h *htmlWriter) cell(c Cell) (template.HTML, error) {
	data := map[string]any{"Text": wholeDates(c.Text), "Strong": c.Strong, "Tick": c.Tick, "Line": c.Line, "SVG": template.HTML(""),
		"Sign": "", "Stands": string(c.Stands), "Word": Word(c.Stands)}
	if c.Stands != "" {
		data["Sign"] = Sign(c.Stands)
	}
	if c.Figure != nil {
		svg, err := h.svg(*c.Figure)
		if err != nil {
			return "", err
		}
		data["SVG"] = svg
	}
	return h.execute("cell", data)
}

// pooled is a named estimate that a claim leans on, with the place on this page where its cells are listed.
type pooled struct{ ID, Anchor string }

type claimHTML struct {
	Claim
	Anchor, Basis string
	Pool          []pooled
}

type sideHTML struct {
	Stands  string
	Head    template.HTML
	Claims  []claimHTML
	Nothing string
}

func (h *htmlWriter) claims(c Claims) (template.HTML, error) {
	label := c.Title
	data := map[string]any{"Label": label, "Title": template.HTML("")}
	if label == "" {
		data["Label"] = "What the records say"
	} else {
		data["Title"] = h.inner(c.Title)
	}
	level := h.level + 1
	if label != "" {
		level++
	}
	side := func(s analysis.Stands) sideHTML {
		out := sideHTML{Stands: string(s), Nothing: nothing(s), Head: rank(level, template.HTML(
			"<span class=\"sign\">"+Sign(s)+"</span>"+template.HTMLEscapeString(Word(s))))}
		for _, claim := range c.on(s) {
			anchor := h.anchors[claim.ID]
			if h.printed[anchor] { // the same claim a second time
				anchor = h.id("claim-" + claim.ID)
			}
			h.printed[anchor] = true
			p := claimHTML{Claim: claim, Anchor: anchor, Basis: claim.basis()}
			for _, id := range claim.Pool {
				p.Pool = append(p.Pool, pooled{id, h.anchors[id]})
			}
			out.Claims = append(out.Claims, p)
		}
		return out
	}
	if len(c.on(analysis.Stop)) > 0 {
		data["Stop"] = side(analysis.Stop)
	}
	var rest []sideHTML
	if len(c.on(analysis.Stop)) < len(c.Claims) || len(c.Claims) == 0 {
		for _, s := range sides() {
			rest = append(rest, side(s))
		}
	}
	data["Sides"] = rest
	return h.execute("claims", data)
}

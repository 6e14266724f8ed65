package render

import (
	"encoding/json"
	"net/url"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"keelmark/analysis"
	"keelmark/ingest/record"
	"keelmark/plots"
)

// walk visits every element of a page.
func walk(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.ElementNode {
		visit(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		walk(c, visit)
	}
}

func attr(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

func parse(t testing.TB, page string) *html.Node {
	t.Helper()
	n, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func has(n *html.Node, name string) int {
	count := 0
	walk(n, func(e *html.Node) {
		if e.Data == name {
			count++
		}
	})
	return count
}

// checkPage holds what every page must keep: nothing fetched, nothing run, ids unique and targets there, one
// h1, ranks without a skip, tables with scoped heads, pictures with words.
func checkPage(t testing.TB, page string) {
	t.Helper()
	root := parse(t, page)
	ids, targets := map[string]bool{}, []string{}
	rank, h1 := 0, 0
	walk(root, func(n *html.Node) {
		for _, a := range n.Attr {
			switch {
			case a.Key == "id":
				if ids[a.Val] || a.Val == "" {
					t.Errorf("id %q twice or empty", a.Val)
				}
				ids[a.Val] = true
			case a.Key == "src" || a.Key == "href":
				if !strings.HasPrefix(a.Val, "#") && !strings.HasPrefix(a.Val, "data:image/") {
					t.Errorf("<%s %s=%q> leaves the page", n.Data, a.Key, a.Val)
				}
				if strings.HasPrefix(a.Val, "#") {
					target, err := url.PathUnescape(a.Val[1:])
					if err != nil {
						t.Error(err)
					}
					targets = append(targets, target)
				}
			case strings.HasPrefix(a.Key, "on"):
				t.Errorf("<%s %s> would run", n.Data, a.Key)
			case a.Key == "style" && strings.Contains(a.Val, "url("):
				t.Errorf("style %q fetches", a.Val)
			case a.Key == "aria-labelledby":
				targets = append(targets, strings.Fields(a.Val)...)
			}
		}
		switch n.Data {
		case "script", "link", "iframe", "object", "embed", "form":
			t.Errorf("<%s> on the page", n.Data)
		case "h1", "h2", "h3", "h4", "h5", "h6":
			level := int(n.Data[1] - '0')
			if level == 1 {
				h1++
			}
			if level > rank+1 {
				t.Errorf("<%s> after <h%d>", n.Data, rank)
			}
			rank = level
		case "table":
			if has(n, "thead") != 1 {
				t.Error("a table without a head")
			}
		case "th":
			if scope, _ := attr(n, "scope"); scope != "col" && scope != "row" {
				if n.Parent.Parent.Data != "thead" { // tables of Markdown have their heads there
					t.Error("a table head without a scope")
				}
			}
		case "svg":
			if role, _ := attr(n, "role"); role != "img" || has(n, "title") != 1 || has(n, "desc") != 1 {
				t.Error("a picture without role, title or description")
			}
		case "img":
			if alt, ok := attr(n, "alt"); !ok || alt == "" {
				t.Error("an image without words")
			}
		}
	})
	if h1 != 1 {
		t.Errorf("%d first-rank headings", h1)
	}
	for _, id := range targets {
		if !ids[id] {
			t.Errorf("nothing on the page has the id %q", id)
		}
	}
	for _, want := range []string{`<html lang="en">`, "default-src 'none'", "<main>", "@page"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if regexp.MustCompile(`url\(|@import`).MatchString(page) {
		t.Error("the style sheet fetches something")
	}
}

func TestHTML(t *testing.T) {
	page := makeHTML(t, sample(), Letter)
	checkPage(t, page)
	for _, want := range []string{
		"size:Letter", "Before the show: Low Barn flock", "made 2025-11-26", "D4", "Next look: score condition on or after", `class="tick"`, "to be filled in by hand",
		"not recorded", "The numbers of this figure", `scope="row"`, `class="sign"`, "speaks against", "in the keeper’s own words",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(makeHTML(t, sample(), ""), "@page{size:") {
		t.Error("a paper size is forced though none was asked for")
	}
}

func TestMarkdown(t *testing.T) {
	d := Document{Title: "T", Blocks: Blocks{Markdown{"# Žofie\n\n## Žofie\n\n<script>alert(1)</script> <b onclick=x>b</b>\n\n[bad](javascript:alert(1)) [out](https://example.org/x)" +
		" ![far](https://example.org/p.png) https://example.org\n\n| a | b |\n|--:|---|\n| 1 | 2 |\n\n~~~python\nx = \"<y>\"\n~~~\n\n~~old~~ a[^n]\n\n[^n]: note"}, Markdown{"b[^n]\n\n[^n]: other"}}}
	page := makeHTML(t, d, "")
	checkPage(t, page)
	for _, bad := range []string{"<script>", "onclick", "javascript:", "<img"} {
		if strings.Contains(page, bad) {
			t.Errorf("%q is on the page", bad)
		}
	}
	for _, want := range []string{`id="žofie"`, `id="žofie-2"`, "out (https://example.org/x)", "[image: far]", "&lt;y&gt;", "<del>old</del>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	text := all(readPDF(t, makePDF(t, d, A4))[0])
	for _, want := range []string{"Žofie", "(https://example.org/x)", "[image: far]", "x = \"<y>\""} {
		if !strings.Contains(text, want) {
			t.Errorf("the paper lacks %q: %s", want, text)
		}
	}
}

func TestBlocksGoToJSONAndBack(t *testing.T) {
	blocks := append(Blocks{Code{"x = 1", "python"}, Image{Data: []byte{1}, Alt: "a"}, Group{Blocks{Notes{}, PageBreak{}}}}, sample().Blocks...)
	data, err := json.Marshal(blocks)
	if err != nil {
		t.Fatal(err)
	}
	var back Blocks
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(blocks, back) {
		t.Error("blocks changed on their way through JSON")
	}
	for _, bad := range []string{`{"kind":"dial","block":{}}`, `{"kind":"table","block":[]}`, `7`} {
		if _, err := Unmarshal([]byte(bad)); err == nil {
			t.Errorf("%s was read", bad)
		}
	}
	if _, err := Marshal(nil); err == nil {
		t.Error("no block was written as one")
	}
}

func TestTableOf(t *testing.T) {
	in := analysis.Table{Name: "t", Columns: []analysis.Column{
		{Name: "bird", Head: "bird"}, {Name: "w", Head: "weight", Unit: "g"}, {Name: "d", Head: "change", Unit: "%", Decimals: 1}, {Name: "n"}, {Name: "ok", Head: "seen"}},
		Rows: [][]any{{"R1", 1020.58, -3.25, 4, true}, {"R2", nil, -0.04, nil, false}}}
	cells := func(units string) (out []string) {
		for _, row := range TableOf(in, units).Rows {
			for _, c := range row {
				out = append(out, c.Text)
			}
		}
		return out
	}
	if got, want := cells("g"), []string{"R1", "1021", "−3.2", "4", "yes", "R2", "–", "0.0", "–", "no"}; !reflect.DeepEqual(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got := cells("lb-oz")[1]; got != "2 lb 4 oz" {
		t.Error(got)
	}
	out := TableOf(in, "lb-oz")
	if out.Columns[1].head() != "weight" || out.Columns[2].head() != "change (%)" || out.Columns[3].head() != "n" || out.Columns[1].Align != Right || out.Columns[4].Align != "" {
		t.Errorf("columns %+v", out.Columns)
	}
}

// Cells of a column that were read alike are named as a range; others stand alone with what was typed and done.
func TestCellsInWords(t *testing.T) {
	at := func(sheet string, row, col int32) record.Ref {
		return record.Ref{File: "w.xlsx", Sheet: sheet, Row: row, Col: col}
	}
	oz := []string{"lb to g"}
	for _, c := range []struct {
		cells []Evidence
		want  string
	}{
		{nil, ""},
		{[]Evidence{{At: at("A", 4, 4), Text: "612"}}, "w.xlsx, sheet A: D4 “612”"},
		{[]Evidence{{At: at("A", 4, 4)}, {At: at("A", 5, 4)}, {At: at("A", 6, 4)}}, "w.xlsx, sheet A: D4–D6"},
		{[]Evidence{{At: at("A", 4, 4)}, {At: at("A", 4, 5)}, {At: at("A", 4, 6)}}, "w.xlsx, sheet A: D4–F4"},
		{[]Evidence{{At: at("A", 4, 4)}, {At: at("A", 5, 4), Done: oz}, {At: at("A", 6, 4), Done: oz}, {At: at("B", 7, 4)}}, "w.xlsx, sheet A: D4, D5–D6 (lb to g); w.xlsx, sheet B: D7"},
		{[]Evidence{{At: at("A", 4, 4)}, {At: at("A", 5, 4)}, {At: at("A", 5, 5)}}, "w.xlsx, sheet A: D4–D5, E5"},
		{[]Evidence{{At: record.Ref{File: "n.csv", Row: 3}}, {At: record.Ref{File: "n.csv", Row: 4}}, {At: record.Ref{File: "o.csv"}}}, "n.csv: row 3–row 4; o.csv: the whole sheet"},
	} {
		if got := cellsInWords(c.cells); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestEvidence(t *testing.T) {
	a, b := record.Ref{File: "w.xlsx", Row: 2, Col: 2}, record.Ref{File: "w.xlsx", Row: 9, Col: 2}
	d := &record.Dataset{
		Observations: []record.Observation{{At: a, Text: "2 lb", More: &record.Detail{Steps: []string{"lb to g"}, Also: []record.Ref{b}}}},
		Events:       []record.Event{{At: record.Ref{File: "h.xlsx", Row: 3, Col: 1}, Text: "dusted"}},
	}
	look := EvidenceIn(d)
	if e := look(a); e.Text != "2 lb" || e.Done[0] != "lb to g" {
		t.Errorf("%+v", e)
	}
	if e := look(b); e.Text != "2 lb" || !strings.Contains(e.Done[0], "counted once") {
		t.Errorf("%+v", e)
	}
	if e := look(d.Events[0].At); e.Text != "dusted" {
		t.Errorf("%+v", e)
	}
	if e := look(record.Ref{File: "x"}); e.At.File != "x" || e.Text != "" {
		t.Errorf("%+v", e)
	}
}

func TestTally(t *testing.T) {
	if got, want := ClaimsOf("", sampleClaims("R1"), nil).Tally(), "1 speaks for · 1 speaks against · 1 open"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestCautionsOf(t *testing.T) {
	got := CautionsOf([]analysis.Caution{{Topic: "chemicals", Text: "a", Source: "S1"}, {Topic: "withdrawal", Text: "b"}, {Topic: "chemicals", Text: "c", Source: "S2"}, {Topic: "withdrawal", Text: "b"}})
	want := Blocks{Caution{Topic: "chemicals", Title: "Caution: chemicals", Lines: []string{"a", "c"}, Source: "S1; S2"}, Caution{Topic: "withdrawal", Title: "Caution: withdrawal", Lines: []string{"b"}}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
}

// Any name goes through both writers: whole in HTML, with its ring on paper, and never a panic.
func FuzzNames(f *testing.F) {
	for _, s := range []string{"", "Žofie", "🐓 Henny", "日本", "مرحبا", "a\x00b\tc\n\nd", "\xff\xfe", "e\u0301\u0301", names300(), "\u202eRLO", "</title><script>", "{{.}}", "](x)", "*/ } @page{}", "\\"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if len(s) > 2000 {
			return
		}
		label := "ring7 " + s
		g := plots.WeightRow{Label: label, StdLow: 1, StdHigh: 2, Value: 1.5}.Glyph(label, analysis.Grams, 0)
		d := Document{Title: label, Running: s, Made: 20000, Blocks: Blocks{
			Heading{2, label}, Para{label, Lead}, Facts{s, []Fact{{s, s}}},
			Table{Name: s, Caption: s, Columns: []Column{{Head: "ring", RowHead: true}, {Head: s, Unit: s}}, Rows: [][]Cell{{{Text: label}, {Text: s, Figure: &g, Stands: analysis.Against}}}, Note: s},
			ClaimsOf(s, []analysis.Claim{{ID: s, Stands: analysis.For, Text: label, Caveats: []string{s}, Method: s, Source: s, Pool: []string{s}, Refusal: &analysis.Refusal{Needs: s, Next: s},
				RestsOn: []record.Ref{{File: s, Sheet: s, Row: 1, Col: 1}}}}, nil),
			Caution{Topic: s, Title: s, Lines: []string{s}}, Ticks{label, []Tick{{s, true}, {s, false}}}, Decision{label}, Preformatted{Text: s}, Code{s, "python"}, Markdown{s},
		}}
		page := makeHTML(t, d, A4)
		root := parse(t, page)
		if n := has(root, "script") + has(root, "iframe"); n > 0 {
			t.Errorf("%q: %d elements that would run", s, n)
		}
		if n := has(root, "h1"); n != 1 {
			t.Errorf("%q: %d first-rank headings", s, n)
		}
		if !strings.Contains(all(readPDF(t, makePDF(t, d, A4))[0]), "ring7") {
			t.Errorf("%q: the ring is not on paper", s)
		}
		for _, b := range d.Blocks {
			if _, err := Bundle(b); err != nil {
				t.Errorf("%q: %v", s, err)
			}
		}
	})
}

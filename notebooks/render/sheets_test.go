package render

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"keelmark/ingest"
	"keelmark/ingest/record"
)

// sheetsOf reads invented sheets and writes their check page.
func sheetsOf(t *testing.T, files map[string]string) ([]*record.Dataset, string) {
	t.Helper()
	dir := t.TempDir()
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	today, err := record.ParseDay("2025-06-01")
	if err != nil {
		t.Fatal(err)
	}
	flocks, err := ingest.Load(context.Background(), []string{dir}, ingest.Options{Today: today, KeepTexts: true})
	if err != nil {
		t.Fatal(err)
	}
	var page bytes.Buffer
	if err := Sheets(&page, flocks, today); err != nil {
		t.Fatal(err)
	}
	return flocks, page.String()
}

const (
	nastySheet = "Ring,Date,Weight (g),Lice,Notes\n" +
		"<b>R1</b>,2025-03-01,612,0,\"<script>alert(1)</script> & \"\"quoted\"\"\"\n" +
		"R2 & co,2025-03-01,~850,+++,http://example.com/x.png\n" +
		"<b>R1</b>,2025-03-08,640?,#DIV/0!,javascript:alert(1)\n" +
		"R2 & co,2025-03-08,0,?,\n" +
		"<b>R1</b>,2025-03-15,=HYPERLINK(1),1,'></td><td>\n" +
		"R2 & co,not a day,700,1,\n"
	plainSheet = "Title of the book\n\nring,date,weight (g)\nR7,2025-03-01,612\nR8,2025-03-01,700\nR7,2025-03-08,\nR8,2025-03-08,710\nR8,2025-03-08,710\nR7,2025-03-15,640\nR7,2025-03-15,655\nAverage,,674\n"
)

// gridCells are the cells of the grids of a page in order, each as "letter|text".
func gridCells(t *testing.T, page string) (cells []string, classes []string) {
	t.Helper()
	walk(parse(t, page), func(n *html.Node) {
		class, _ := attr(n, "class")
		if n.Data != "td" || class == "" {
			return
		}
		shown := n
		if d := n.FirstChild; d != nil && d.Data == "details" {
			shown = d.FirstChild
		}
		letter, text := "", ""
		for c := shown.FirstChild; c != nil; c = c.NextSibling {
			if c.Type == html.TextNode {
				text += c.Data
			} else if c.Data == "b" {
				letter = c.FirstChild.Data
			}
		}
		cells, classes = append(cells, letter+"|"+text), append(classes, class)
	})
	return cells, classes
}

func TestSheetsShowEveryCellWithItsFate(t *testing.T) {
	flocks, page := sheetsOf(t, map[string]string{"nasty.csv": nastySheet, "plain.csv": plainSheet})
	checkPage(t, page)
	letters := map[record.Fate]string{record.AsRecord: "R", record.AsContext: "c", record.AsQuestion: "?", record.AsReject: "x", record.AsAside: "-"}
	var want []string
	for _, d := range flocks {
		flagged := map[record.Ref]bool{}
		for _, o := range d.Observations {
			flagged[o.At] = flagged[o.At] || o.Flagged
		}
		for i := range d.Ledgers {
			l := &d.Ledgers[i]
			for r, row := range l.Texts {
				for c, text := range row {
					at := record.Ref{File: l.File, Sheet: l.Sheet, Row: int32(r + 1), Col: int32(c + 1)}
					letter := letters[l.At(at.Row, at.Col)]
					if flagged[at] && letter == "R" {
						letter = "R?"
					}
					if text != "" {
						want = append(want, letter+"|"+text)
					}
				}
			}
		}
	}
	got, classes := gridCells(t, page)
	if len(got) != len(want) || len(got) < 50 {
		t.Fatalf("%d cells on the page, the sheets hold %d", len(got), len(want))
	}
	seen := map[string]bool{}
	for i := range got {
		if got[i] != want[i] || got[i][0] == '|' {
			t.Errorf("cell %d is %q, want %q", i, got[i], want[i])
		}
		seen[strings.Split(got[i], "|")[0]] = true
		seen[strings.Fields(classes[i])[0]] = true
	}
	for _, mark := range []string{"R", "R?", "c", "?", "x", "-", "rec", "flag", "con", "ask", "ref", "aside"} {
		if !seen[mark] {
			t.Errorf("no cell bears %q", mark)
		}
	}
	for _, want := range []string{"&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#34;quoted&#34;", "default-src 'none'; style-src 'unsafe-inline'",
		"read as weight 612 g on 2025-03-01", `href="#s`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(page, "&amp;lt;") || strings.Contains(page, "<script") {
		t.Error("a text is escaped twice or not at all")
	}
	if _, again := sheetsOf(t, map[string]string{"nasty.csv": nastySheet, "plain.csv": plainSheet}); normal(again) != normal(page) {
		t.Error("two pages of the same sheets differ")
	}
}

// normal takes the name of the test's folder out of a page.
func normal(page string) string {
	lines := strings.Split(page, "\n")
	var out []string
	for _, l := range lines {
		if !strings.Contains(l, "What was read:") {
			out = append(out, l)
		}
	}
	return strings.Join(out, "\n")
}

func TestLongSheetsAreCutWithAWord(t *testing.T) {
	var b strings.Builder
	b.WriteString("ring,date,weight (g)\n")
	for i := range 2500 {
		weight := "612"
		if i == 2400 {
			weight = "612?"
		}
		fmt.Fprintf(&b, "R%d,2025-03-01,%s\n", i, weight)
	}
	_, page := sheetsOf(t, map[string]string{"long.csv": b.String()})
	checkPage(t, page)
	if !strings.Contains(page, "Rows 2001 to 2501 are not shown") || !strings.Contains(page, "long.csv, C2402") {
		t.Error("what is cut is not told")
	}
	if cells, _ := gridCells(t, page); len(cells) != 6000 {
		t.Errorf("%d cells", len(cells))
	}
	if len(page) > 4<<20 {
		t.Errorf("the page has %d bytes", len(page))
	}
}

func TestACellWithoutAccountIsShownAsOurFault(t *testing.T) {
	d := &record.Dataset{Name: "x", Ledgers: []record.Ledger{{File: "a.csv", Texts: [][]string{{"one", "two"}}, Fates: [][]record.Fate{{record.AsRecord}}}}}
	var page bytes.Buffer
	if err := Sheets(&page, []*record.Dataset{d}, 0); err != nil {
		t.Fatal(err)
	}
	checkPage(t, page.String())
	if !strings.Contains(page.String(), "Without account: 1 cell.") {
		t.Error("a lost cell is hidden")
	}
	if err := Sheets(&page, nil, 0); err == nil {
		t.Error("no flock, yet a page")
	}
}

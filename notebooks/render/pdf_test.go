package render

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"

	"keelmark/analysis"
	"keelmark/plots"
	"keelmark/plots/pdf"
)

func TestSameDocumentSameBytes(t *testing.T) {
	for _, p := range []Paper{A4, Letter} {
		if a, b := makePDF(t, sample(), p), makePDF(t, sample(), p); !bytes.Equal(a, b) {
			t.Errorf("%s: two PDFs of the same document differ", p)
		}
	}
	if a, b := makeHTML(t, sample(), A4), makeHTML(t, sample(), A4); a != b {
		t.Error("two HTML pages of the same document differ")
	}
	if err := sample().PDF(&bytes.Buffer{}, "A5"); err == nil {
		t.Error("paper A5 was accepted")
	}
}

// A4 and Letter carry the same lines on the same pages, all within 180 × 249 mm in the middle of the paper.
func TestPapers(t *testing.T) {
	sizes := map[Paper][2]float64{A4: {595.28, 841.89}, Letter: {612, 792}}
	var first [][]said
	for _, p := range []Paper{A4, Letter} {
		pages := readPDF(t, makePDF(t, sample(), p))
		size := sizes[p]
		left, bottom := (size[0]-textWidth)/2, (size[1]-textHeightMM*perMM)/2
		for n, page := range pages {
			if want := fmt.Sprintf("page %d of %d", n+1, len(pages)); !strings.Contains(all(page), want) {
				t.Errorf("%s: page %d does not say %q", p, n+1, want)
			}
			for _, s := range page {
				if s.x < left-0.1 || s.x > left+textWidth || s.y < bottom-0.1 || s.y > bottom+textHeightMM*perMM {
					t.Errorf("%s, page %d: %q at %.1f, %.1f is in the margin", p, n+1, s.text, s.x, s.y)
				}
			}
		}
		if first == nil {
			first = pages
			continue
		}
		if len(pages) != len(first) {
			t.Fatalf("%d pages on A4, %d on Letter", len(first), len(pages))
		}
		for i := range pages {
			if all(pages[i]) != all(first[i]) {
				t.Errorf("page %d differs between A4 and Letter", i+1)
			}
		}
	}
}

func TestNamesOnPaper(t *testing.T) {
	d := Document{Title: "Names", Made: 20000}
	table := Table{Columns: []Column{{Head: "ring", RowHead: true}, {Head: "name"}}}
	long := names300()
	odd := append([]string{"🐓 Henny", long}, names...)
	for i, n := range odd {
		ring := fmt.Sprintf("K%02d", i)
		table.Rows = append(table.Rows, []Cell{{Text: ring}, {Text: n}})
		d.Blocks = append(d.Blocks, Heading{2, ring + " " + n}, Ticks{ring + " " + n, []Tick{{"weight", true}}}, Figure{growthFigure(ring+" "+n, 3000)})
	}
	d.Blocks = append(Blocks{table}, d.Blocks...)
	var text string
	for _, p := range readPDF(t, makePDF(t, d, A4)) {
		text += all(p) + "\n"
	}
	for i, n := range odd {
		if !strings.Contains(text, fmt.Sprintf("K%02d", i)) {
			t.Errorf("ring K%02d of %q is not on paper", i, n)
		}
		if i >= 2 && !strings.Contains(text, n) {
			t.Errorf("%q is not on paper", n)
		}
	}
	for _, want := range []string{"□ Henny", "K01 Wilhelmine-", "…"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on paper", want)
		}
	}
	if html := makeHTML(t, d, ""); !strings.Contains(html, "🐓 Henny") || !strings.Contains(html, long) {
		t.Error("the HTML does not have the names whole")
	}
}

// The head of a table stands on every page that the table reaches, and no row is lost or doubled.
func TestTableHeadsAreRepeated(t *testing.T) {
	table := Table{Caption: "All", Columns: []Column{{Head: "bird", RowHead: true}, {Head: "weight", Unit: "g", Align: Right}}}
	for i := range 120 {
		table.Rows = append(table.Rows, []Cell{{Text: fmt.Sprintf("R%03d", i)}, {Text: fmt.Sprint(2000 + i)}})
	}
	pages := readPDF(t, makePDF(t, Document{Title: "T", Blocks: Blocks{table}}, A4))
	if len(pages) < 3 {
		t.Fatalf("%d pages", len(pages))
	}
	seen := ""
	for i, p := range pages {
		if n := strings.Count(all(p), "weight"); n != 1 {
			t.Errorf("page %d has %d heads", i+1, n)
		}
		seen += all(p)
	}
	for i := range 120 {
		if n := strings.Count(seen, fmt.Sprintf("R%03d", i)); n != 1 {
			t.Errorf("row R%03d is printed %d times", i, n)
		}
	}
}

// Wherever the page happens to end, a heading is never the last thing on it.
func TestHeadingsStayWithTheirText(t *testing.T) {
	for lines := 25; lines < 45; lines++ {
		d := Document{Title: "T"}
		for range lines {
			d.Blocks = append(d.Blocks, Para{"One line of text.", ""})
		}
		d.Blocks = append(d.Blocks, Heading{2, "Chapter"}, Heading{3, "Section"}, Facts{"", []Fact{{"ring", "R1"}, {"name", "Dot"}}})
		doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt"})
		ty, err := pdf.NewType(doc)
		if err != nil {
			t.Fatal(err)
		}
		boxes, err := newPaper(doc, ty, fpdf.SizeType{Wd: 612, Ht: 792}).document(d)
		if err != nil {
			t.Fatal(err)
		}
		for n, page := range paginate(boxes, bodyHeight) {
			if last := page[len(page)-1]; last.mark != nil {
				t.Fatalf("after %d lines page %d ends with the heading %q", lines, n+1, last.mark.text)
			}
		}
	}
}

// Boxes of any heights and rules are all placed, once, in order, within the page; what must stand with the
// next box does.
func TestPaginate(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		const height = 100.0
		var boxes []box
		for i := range 1 + r.IntN(40) {
			b := box{height: 1 + r.Float64()*30, gap: r.Float64() * 5, keep: r.IntN(4) == 0, newPage: r.IntN(15) == 0, mark: &bookmark{level: i}}
			if r.IntN(12) == 0 {
				b.height = 120 // taller than the page
			}
			boxes = append(boxes, b)
		}
		next := 0
		for _, page := range paginate(squeeze(boxes, height), height) {
			y := 0.0
			for i, p := range page {
				if p.mark.level != next {
					t.Fatalf("box %d where %d was due", p.mark.level, next)
				}
				next++
				if p.y < y-1e-9 {
					t.Fatalf("box %d overlaps the one above", p.mark.level)
				}
				y = p.y + p.height
				if y > height+0.02 && i > 0 {
					t.Fatalf("box %d reaches %.1f of %g", p.mark.level, y, height)
				}
			}
			if last := page[len(page)-1]; last.keep && next < len(boxes) && !boxes[next].newPage {
				chain := keptTogether(boxes[last.mark.level:])
				start := last.mark.level
				for start > 0 && boxes[start-1].keep && !boxes[start].newPage {
					start--
				}
				if need(boxes[start:last.mark.level+chain], true) <= height {
					t.Fatalf("box %d is parted from the next", last.mark.level)
				}
			}
		}
		if next != len(boxes) {
			t.Fatalf("%d of %d boxes placed", next, len(boxes))
		}
	}
}

// Columns that do not fit go on side by side on the next page, under their heads.
func TestClaimsGoOnUnderTheirHeads(t *testing.T) {
	var claims []analysis.Claim
	for i := range 60 {
		c := analysis.Claim{ID: fmt.Sprintf("c/%d", i), Stands: analysis.For, Text: fmt.Sprintf("Sentence number %02d of the records, 2.6 to 3.4 kg, N = 8.", i)}
		if i%6 == 0 {
			c.Stands = analysis.Against
		}
		claims = append(claims, c)
	}
	pages := readPDF(t, makePDF(t, Document{Title: "T", Blocks: Blocks{ClaimsOf("What", claims, nil)}}, A4))
	found, heads := "", 0
	for _, p := range pages {
		found += all(p)
		heads += strings.Count(all(p), "speaks for")
	}
	for i := range 60 {
		if n := strings.Count(found, fmt.Sprintf("number %02d", i)); n != 1 {
			t.Errorf("sentence %d is printed %d times", i, n)
		}
	}
	if heads < 3 {
		t.Errorf("the head of the side stands on %d of %d pages", heads, len(pages))
	}
}

// Every sentence has its number, and every number its footnote with the cells.
func TestFootnotes(t *testing.T) {
	text := ""
	for _, p := range readPDF(t, makePDF(t, sample(), A4)) {
		text += all(p) + " "
	}
	if n := strings.Count(text, "What each sentence rests on"); n != 4 { // three birds and the pooled estimate
		t.Errorf("%d lists of footnotes, want 4", n)
	}
	for _, want := range []string{
		"weights.xlsx, sheet 2025: D4–D12", "health.xlsx, sheet lice: C7, C9", "With the pooled estimate of note 11", "Method: Gompertz curve, least squares",
		"→ next look: score condition on or after", "■ stop: vet or authority first", "▲ speaks for", "▼ speaks against", "○ open",
	} {
		if !strings.Contains(strings.ReplaceAll(text, "  ", " "), want) {
			t.Errorf("%q is not on paper", want)
		}
	}
}

// What goes wrong in a figure is an error that names it, not half a page.
func TestBadFiguresAreErrors(t *testing.T) {
	bad := plots.Figure{Name: "bad", Alt: "a", Width: 10, Height: 10, Panel: plots.Growth{}}
	for name, b := range map[string]Block{
		"figure": Figure{bad}, "cell": Table{Columns: []Column{{Head: "x"}}, Rows: [][]Cell{{{Figure: &bad}}}}, "column": Columns{Columns: []Blocks{{Figure{bad}}}},
		"nothing": nil,
	} {
		d := Document{Title: "T", Blocks: Blocks{b}}
		var out bytes.Buffer
		if err := d.PDF(&out, A4); err == nil || out.Len() > 0 {
			t.Errorf("%s: PDF of %d bytes, error %v", name, out.Len(), err)
		}
		if err := d.HTML(&out, A4); err == nil || out.Len() > 0 {
			t.Errorf("%s: HTML of %d bytes, error %v", name, out.Len(), err)
		}
	}
}

// Odd blocks are laid out, however little sense they make.
func TestOddBlocks(t *testing.T) {
	wide := Table{Note: "n"}
	for i := range 40 {
		wide.Columns = append(wide.Columns, Column{Head: fmt.Sprintf("column number %d", i)})
	}
	wide.Rows = [][]Cell{{{Text: "short row"}}, nil, {{Text: strings.Repeat("long ", 3000), Tick: true, Line: true}}}
	d := Document{Blocks: Blocks{
		Heading{}, Heading{9, ""}, Para{}, Markdown{}, Table{}, wide, Claims{}, Caution{}, Facts{}, Columns{}, Columns{Columns: []Blocks{{}, {}}}, Group{},
		PageBreak{}, PageBreak{}, Notes{}, Decision{}, Ticks{}, Code{}, Preformatted{}, Image{}, Image{Data: []byte("no picture"), Alt: "x"},
		Caution{Title: "t", Lines: []string{strings.Repeat("words and words ", 2000)}, Stop: true},
		ClaimsOf("", []analysis.Claim{{Stands: analysis.Stop, Text: strings.Repeat("stop ", 3000)}, {Stands: "sideways", Text: "counts as open"}}, nil),
		Preformatted{Text: strings.Repeat("x", 5000) + "\n\n\t\x00"}, Decision{names300()}, Ticks{names300(), []Tick{{names300(), true}, {names300(), false}}},
		Facts{names300(), []Fact{{names300(), names300()}}},
	}}
	makePDF(t, d, A4)
	makeHTML(t, d, A4)
	makePDF(t, Document{}, Letter)
}

// A photograph's place and date are not passed on.
func TestImagesAreEncodedAnew(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	img.Set(3, 3, color.RGBA{R: 255, A: 255})
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	secret := []byte("Exif\x00\x00GPS 51.5N")
	file := append([]byte{0xFF, 0xD8, 0xFF, 0xE1, 0, byte(len(secret) + 2)}, secret...) // an APP1 segment after the start marker
	file = append(file, b.Bytes()[2:]...)
	d := Document{Title: "T", Blocks: Blocks{Image{Data: file, Alt: "R12 from the side"}}}
	printed, html := makePDF(t, d, A4), makeHTML(t, d, "")
	clean, _, _, err := Image{Data: file}.clean()
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(clean, []byte("GPS")) || bytes.Contains(printed, []byte("GPS")) {
		t.Error("the picture's metadata is still there")
	}
	if !bytes.Contains(printed, []byte("/Subtype /Image")) || !strings.Contains(html, `alt="R12 from the side"`) {
		t.Error("the picture is not on the page")
	}
}

func BenchmarkPDF(b *testing.B) {
	d := sample()
	for b.Loop() {
		makePDF(b, d, A4)
	}
}

func BenchmarkHTML(b *testing.B) {
	d := sample()
	for b.Loop() {
		makeHTML(b, d, A4)
	}
}

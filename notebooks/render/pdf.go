package render

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"keelmark/plots"
	"keelmark/plots/pdf"
)

// The sizes of type on paper, in points. Rings, weights and sentences are read in a dim shed: body type is
// never below 10, and only notes and units are smaller.
const (
	titleSize   = 17.0
	chapterSize = 14.0
	sectionSize = 12.0
	leadSize    = 11.5
	bodySize    = 10.0
	smallSize   = 8.5
	leading     = 1.28
)

// PDF writes the document for A4 or Letter; the empty Paper is A4. Type is embedded, figures are vectors,
// headings are bookmarks. What the faces cannot set (emoji, Chinese, Arabic) is printed as "□", and a name too
// long for its place is cut with "…"; the HTML has it whole. The same document gives the same bytes.
func (d Document) PDF(w io.Writer, paper Paper) (err error) {
	if err := paper.check(); err != nil {
		return err
	}
	size := fpdf.SizeType{Wd: 210 * perMM, Ht: 297 * perMM}
	if paper == Letter {
		size = fpdf.SizeType{Wd: 612, Ht: 792}
	}
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: size})
	t, err := pdf.NewType(doc)
	if err != nil {
		return fmt.Errorf("PDF of %q: %w", d.Title, err)
	}
	p := newPaper(doc, t, size)
	doc.SetMargins(p.left, p.top, p.left)
	doc.SetAutoPageBreak(false, 0)
	doc.SetCatalogSort(true)
	year, month, day := d.Made.Date()
	made := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	doc.SetCreationDate(made)
	doc.SetModificationDate(made)
	doc.SetLang(d.lang())
	doc.SetTitle(t.Clean(d.Title), true)
	doc.SetCreator("Keelmark", true)
	doc.SetProducer("Keelmark", true)

	boxes, err := p.document(d)
	if err != nil {
		return fmt.Errorf("PDF of %q: %w", d.Title, err)
	}
	pages := paginate(squeeze(boxes, bodyHeight), bodyHeight)
	for i, page := range pages {
		doc.AddPage()
		p.running(d, i+1, len(pages))
		for _, b := range page {
			if b.mark != nil {
				p.bookmark(*b.mark, p.top+headerSpace+b.y)
			}
			if b.draw != nil {
				b.draw(p.top + headerSpace + b.y)
			}
		}
	}
	var out bytes.Buffer
	if err := doc.Output(&out); err != nil {
		return fmt.Errorf("PDF of %q: %w", d.Title, err)
	}
	_, err = w.Write(out.Bytes())
	return err
}

// paperWriter turns blocks into boxes and draws them on the pages of one fpdf document.
type paperWriter struct {
	setter
	doc       *fpdf.Fpdf
	theme     plots.Theme
	left, top float64 // of the common text area on this paper
	depth     int     // of the last bookmark
	numbers   map[string]int
	notes     []note // not yet printed
}

// note is a footnote: the cells that a sentence rests on.
type note struct {
	number int
	text   string
}

func newPaper(doc *fpdf.Fpdf, t *pdf.Type, size fpdf.SizeType) *paperWriter {
	return &paperWriter{
		setter: setter{t}, doc: doc, theme: plots.Print(), numbers: map[string]int{}, depth: -1,
		left: (size.Wd - textWidth) / 2, top: (size.Ht - textHeightMM*perMM) / 2,
	}
}

// document lays out the title, the blocks and the footnotes left over.
func (p *paperWriter) document(d Document) ([]box, error) {
	for _, c := range allClaims(d.Blocks) {
		if _, ok := p.numbers[c.ID]; !ok {
			p.numbers[c.ID] = len(p.numbers) + 1
		}
	}
	f := &flow{p: p, x: p.left, width: textWidth}
	if strings.TrimSpace(d.Title) != "" {
		f.heading(1, d.Title)
	}
	if err := f.blocks(d.Blocks); err != nil {
		return nil, err
	}
	f.footnotes()
	return f.boxes, nil
}

// running prints the head and the foot of a page.
func (p *paperWriter) running(d Document, n, total int) {
	right := p.run(d.Running, pdf.Regular, smallSize, p.theme.Muted)
	right = p.fit(right, textWidth*0.55)
	title := p.run(d.Title, pdf.Regular, smallSize, p.theme.Muted)
	title = p.fit(title, textWidth-p.width(right)-12)
	base := p.top + smallSize
	p.text(p.left, base, title)
	p.text(p.left+textWidth-p.width(right), base, right)
	p.rule(p.left, base+4, textWidth, 0.5, p.theme.Muted)

	bottom := p.top + textHeightMM*perMM - 2
	made := p.run("made "+d.Made.String(), pdf.Regular, smallSize, p.theme.Muted)
	page := p.run(fmt.Sprintf("page %d of %d", n, total), pdf.Regular, smallSize, p.theme.Muted)
	p.text(p.left, bottom, made)
	p.text(p.left+textWidth-p.width(page), bottom, page)
}

// bookmark adds an entry to the outline. fpdf loses its way where ranks skip a step, so they do not.
func (p *paperWriter) bookmark(b bookmark, y float64) {
	p.depth = min(b.level, p.depth+1)
	p.Use(pdf.Regular, bodySize) // bookmarks are written in the encoding of the current face
	p.doc.Bookmark(short(b.text, 80), p.depth, y)
}

// run is a text of one face, passed through the gate.
func (p *paperWriter) run(s string, face pdf.Face, size float64, c color.NRGBA) run {
	return run{text: p.Clean(s), face: face, size: size, color: c}
}

// text prints a run with its baseline at y.
func (p *paperWriter) text(x, y float64, r run) {
	if strings.TrimSpace(r.text) == "" {
		return
	}
	p.Use(r.face, r.size)
	p.doc.SetTextColor(int(r.color.R), int(r.color.G), int(r.color.B))
	p.doc.Text(x, y-r.raise, r.text)
}

// line prints a line of runs with its baseline at y, and returns where it ends.
func (p *paperWriter) line(x, y float64, l line) float64 {
	for _, r := range l.runs {
		p.text(x, y, r)
		x += p.width(r)
	}
	return x
}

// rule draws a horizontal line.
func (p *paperWriter) rule(x, y, width, weight float64, c color.NRGBA) {
	p.stroke(weight, c)
	p.doc.Line(x, y, x+width, y)
}

func (p *paperWriter) stroke(weight float64, c color.NRGBA) {
	p.doc.SetDrawColor(int(c.R), int(c.G), int(c.B))
	p.doc.SetLineWidth(weight)
}

// frame draws a box: square corners, as nothing filled may show behind round ones.
func (p *paperWriter) frame(x, y, width, height, weight float64, c color.NRGBA) {
	p.stroke(weight, c)
	p.doc.Rect(x, y, width, height, "D")
}

// tint fills a rectangle.
func (p *paperWriter) tint(x, y, width, height float64, c color.NRGBA) {
	p.doc.SetFillColor(int(c.R), int(c.G), int(c.B))
	p.doc.Rect(x, y, width, height, "F")
}

package render

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"unicode"

	"keelmark/analysis"
	"keelmark/plots"
)

//go:embed print.css
var printCSS string

//go:embed fragment.css
var fragmentCSS string

//go:embed blocks.html
var blocksHTML string

// HTML writes the document as one page that needs nothing else: no script, no font, no picture from
// anywhere. It reads without colour and by ear, and prints.
func (d Document) HTML(w io.Writer, paper Paper) error {
	if err := paper.check(); err != nil {
		return err
	}
	h, err := newHTML("", d.Blocks)
	if err != nil {
		return err
	}
	body, err := h.blocks(d.Blocks)
	if err != nil {
		return err
	}
	css := printCSS + pageCSS(d, paper)
	contents := h.contents
	if len(contents) < 4 {
		contents = nil
	}
	title := d.Title
	if strings.TrimSpace(title) == "" {
		title = "Report"
	}
	var page bytes.Buffer
	err = h.templates.ExecuteTemplate(&page, "page", map[string]any{
		"Lang": d.lang(), "Title": title, "Running": d.Running, "Made": d.Made.String(),
		"CSS": template.CSS(css), "Contents": contents, "Body": body,
	})
	if err != nil {
		return fmt.Errorf("HTML of %q: %w", d.Title, err)
	}
	_, err = w.Write(page.Bytes())
	return err
}

func (d Document) lang() string {
	if d.Lang == "" {
		return "en"
	}
	return d.Lang
}

// pageCSS sets the paper, where one is asked for, and the printed page's own header and footer.
func pageCSS(d Document, paper Paper) string {
	size := ""
	if paper != "" {
		size = "size:" + string(paper) + ";"
	}
	const face = `font:8pt "Liberation Sans",Arial,Helvetica,sans-serif`
	return fmt.Sprintf("@page{%s@top-left{%s;content:%s}@bottom-right{%s;content:\"page \" counter(page) \" of \" counter(pages)}}\n",
		size, face, cssString(short(d.Title, 90)), face)
}

// cssString quotes any text for a style sheet inside an HTML page.
func cssString(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r < 0x80 && (unicode.IsLetter(r) || unicode.IsDigit(r) || r == ' ') {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, "\\%x ", r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// short cuts a text to n letters.
func short(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRight(string(r[:n-1]), " ") + "…"
}

// Fragment is a block as a piece of HTML that can stand in another page, with the little style it needs.
func Fragment(b Block) (string, error) {
	data, err := Marshal(b)
	if err != nil {
		return "", err
	}
	h, err := newHTML(contentID(data)+"-", Blocks{b})
	if err != nil {
		return "", err
	}
	h.level = 2
	body, err := h.block(b)
	if err != nil {
		return "", err
	}
	return "<div class=\"keelmark\"><style>" + fragmentCSS + "</style>\n" + string(body) + "</div>", nil
}

// htmlWriter writes the blocks of one page. It owns the page's ids.
type htmlWriter struct {
	templates *template.Template
	theme     plots.Theme
	prefix    string            // of every id
	taken     map[string]bool   // ids
	anchors   map[string]string // claim ID -> id, known before the claim is reached
	printed   map[string]bool   // anchors that stand on the page
	level     int               // of the last heading
	contents  []entry
}

type entry struct{ ID, Text string }

func newHTML(prefix string, blocks Blocks) (*htmlWriter, error) {
	t, err := template.New("").Parse(blocksHTML)
	if err != nil {
		return nil, err
	}
	h := &htmlWriter{templates: t, theme: plots.Print(), prefix: prefix, taken: map[string]bool{}, anchors: map[string]string{}, printed: map[string]bool{}, level: 1}
	for _, c := range allClaims(blocks) {
		if _, twice := h.anchors[c.ID]; !twice {
			h.anchors[c.ID] = h.id("claim-" + c.ID)
		}
	}
	return h, nil
}

// allClaims collects the claims of a document in printing order.
func allClaims(blocks Blocks) []Claim {
	var out []Claim
	for _, b := range blocks {
		switch b := b.(type) {
		case Claims:
			for _, side := range append([]analysis.Stands{analysis.Stop}, sides()...) {
				out = append(out, b.on(side)...)
			}
		case Columns:
			for _, c := range b.Columns {
				out = append(out, allClaims(c)...)
			}
		case Group:
			out = append(out, allClaims(b.Blocks)...)
		}
	}
	return out
}

// id makes an id of a text that no other element of the page has.
func (h *htmlWriter) id(text string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(text) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			b.WriteRune(r)
		} else if s := b.String(); s != "" && !strings.HasSuffix(s, "-") {
			b.WriteByte('-')
		}
		if b.Len() > 60 {
			break
		}
	}
	base := h.prefix + strings.Trim(b.String(), "-")
	if base == h.prefix {
		base += "part"
	}
	id := base
	for n := 2; h.taken[id]; n++ {
		id = fmt.Sprintf("%s-%d", base, n)
	}
	h.taken[id] = true
	return id
}

func (h *htmlWriter) blocks(bs Blocks) (template.HTML, error) {
	var out strings.Builder
	for _, b := range bs {
		part, err := h.block(b)
		if err != nil {
			return "", err
		}
		out.WriteString(string(part))
	}
	return template.HTML(out.String()), nil
}

func (h *htmlWriter) block(b Block) (template.HTML, error) {
	switch b := b.(type) {
	case Heading:
		return h.heading(b.Level, b.Text), nil
	case Markdown:
		return h.markdown(b)
	case Table:
		return h.table(b)
	case Claims:
		return h.claims(b)
	case Figure:
		return h.figure(b.Plot)
	case Image:
		return h.image(b)
	case Facts:
		pairs := make([]Fact, len(b.Pairs))
		for i, p := range b.Pairs {
			pairs[i] = Fact{p.Name, p.value()}
		}
		return h.execute("facts", Facts{b.Title, pairs})
	case Columns:
		var columns []template.HTML
		for _, c := range b.Columns {
			part, err := h.blocks(c)
			if err != nil {
				return "", err
			}
			columns = append(columns, part)
		}
		return h.execute("columns", columns)
	case Group:
		return h.blocks(b.Blocks)
	case PageBreak:
		return "<div class=\"break\"></div>\n", nil
	case Notes:
		return "", nil // on screen each sentence opens
	case Decision:
		return h.execute("decision", map[string]any{"Head": h.inner(decisionTitle(b))})
	case Code:
		return h.code(b)
	case Para, Caution, Ticks, Preformatted:
		return h.execute(b.Kind(), b)
	case nil:
		return "", fmt.Errorf("there is no block to write")
	}
	return "", fmt.Errorf("no way to write a block of kind %q as HTML", b.Kind())
}

func decisionTitle(d Decision) string {
	if d.About == "" {
		return "Decision"
	}
	return "Decision: " + d.About
}

func (h *htmlWriter) execute(name string, data any) (template.HTML, error) {
	var b strings.Builder
	if err := h.templates.ExecuteTemplate(&b, name, data); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}

// heading opens a section. Ranks never skip a step downwards, since readers by ear go by them.
func (h *htmlWriter) heading(level int, text string) template.HTML {
	level = min(max(level, 2), h.level+1, 6)
	h.level = level
	id := h.id(text)
	if level == 2 {
		h.contents = append(h.contents, entry{id, text})
	}
	return template.HTML(fmt.Sprintf("<h%d id=\"%s\">%s</h%d>\n", level, template.HTMLEscapeString(id), template.HTMLEscapeString(text), level))
}

// inner is a heading one rank below the section that it stands in, which stays open after it.
func (h *htmlWriter) inner(text string) template.HTML {
	return rank(h.level+1, template.HTML(template.HTMLEscapeString(text)))
}

func rank(level int, content template.HTML) template.HTML {
	level = min(level, 6)
	return template.HTML(fmt.Sprintf("<h%d>%s</h%d>\n", level, content, level))
}

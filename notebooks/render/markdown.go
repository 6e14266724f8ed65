package render

import (
	"bytes"
	"fmt"
	"html/template"
	"strings"

	"github.com/alecthomas/chroma/v2"
	chromahtml "github.com/alecthomas/chroma/v2/formatters/html"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// newMarkdown makes the reader and HTML writer of Markdown. HTML in the text is dropped and dangerous links
// are emptied, as goldmark does unless told otherwise: it is never told otherwise.
func newMarkdown(footnotePrefix string) goldmark.Markdown {
	return goldmark.New(goldmark.WithExtensions(
		extension.Table, extension.Strikethrough, extension.TaskList,
		extension.NewFootnote(extension.WithFootnoteIDPrefix([]byte(footnotePrefix))),
	))
}

// parseMarkdown reads a Markdown text. Tabs and line ends are goldmark's business; NUL is not.
func parseMarkdown(md goldmark.Markdown, source string) (ast.Node, []byte) {
	src := []byte(strings.ReplaceAll(strings.ToValidUTF8(source, "\uFFFD"), "\x00", "\uFFFD"))
	return md.Parser().Parse(text.NewReader(src)), src
}

func (h *htmlWriter) markdown(m Markdown) (template.HTML, error) {
	md := newMarkdown(h.id("note") + "-")
	own := &markdownHTML{h: h}
	md.Renderer().AddOptions(renderer.WithNodeRenderers(util.Prioritized(own, 1)))
	doc, src := parseMarkdown(md, m.Source)
	var b bytes.Buffer
	if err := md.Renderer().Render(&b, src, doc); err != nil {
		return "", fmt.Errorf("markdown: %w", err)
	}
	return template.HTML(b.String()), nil
}

// markdownHTML writes the parts of Markdown that a page of ours has its own way for: headings take their
// rank and id from the page, code is highlighted, and nothing is fetched or linked outside the page: the
// address of a link is printed, as it would be on paper.
type markdownHTML struct{ h *htmlWriter }

// RegisterFuncs implements renderer.NodeRenderer.
func (m *markdownHTML) RegisterFuncs(r renderer.NodeRendererFuncRegisterer) {
	r.Register(ast.KindHeading, m.heading)
	r.Register(ast.KindFencedCodeBlock, m.code)
	r.Register(ast.KindImage, m.image)
	r.Register(ast.KindLink, m.link)
	r.Register(ast.KindAutoLink, m.autoLink)
}

func (m *markdownHTML) heading(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if entering {
		if _, err := w.WriteString(string(m.h.heading(n.(*ast.Heading).Level, words(n, src)))); err != nil {
			return ast.WalkStop, err
		}
	}
	return ast.WalkSkipChildren, nil
}

func (m *markdownHTML) code(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if !entering {
		return ast.WalkContinue, nil
	}
	block := n.(*ast.FencedCodeBlock)
	html, err := m.h.code(Code{string(block.Lines().Value(src)), string(block.Language(src))})
	if err != nil {
		return ast.WalkStop, err
	}
	_, err = w.WriteString(string(html))
	return ast.WalkContinue, err
}

func (m *markdownHTML) image(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if entering {
		fmt.Fprintf(w, "[image: %s]", template.HTMLEscapeString(words(n, src)))
	}
	return ast.WalkSkipChildren, nil
}

func (m *markdownHTML) link(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	address := string(n.(*ast.Link).Destination)
	inside := strings.HasPrefix(address, "#")
	switch {
	case inside && entering:
		fmt.Fprintf(w, "<a href=\"%s\">", template.HTMLEscapeString(address))
	case inside:
		fmt.Fprint(w, "</a>")
	case !entering && shown(address) && words(n, src) != address:
		fmt.Fprintf(w, " (%s)", template.HTMLEscapeString(address))
	}
	return ast.WalkContinue, nil
}

func (m *markdownHTML) autoLink(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if entering {
		fmt.Fprint(w, template.HTMLEscapeString(string(n.(*ast.AutoLink).URL(src))))
	}
	return ast.WalkContinue, nil
}

// shown reports whether an address is worth printing: one that a person could follow.
func shown(address string) bool {
	return strings.HasPrefix(address, "http://") || strings.HasPrefix(address, "https://") || strings.HasPrefix(address, "mailto:")
}

// words is the text of a node without its markup.
func words(n ast.Node, src []byte) string {
	var b strings.Builder
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		switch c := c.(type) {
		case *ast.Text:
			b.Write(util.UnescapePunctuations(util.ResolveEntityNames(util.ResolveNumericReferences(c.Segment.Value(src)))))
			if c.SoftLineBreak() || c.HardLineBreak() {
				b.WriteByte(' ')
			}
		case *ast.String:
			b.Write(c.Value)
		case *ast.AutoLink:
			b.Write(c.URL(src))
		default:
			b.WriteString(words(c, src))
		}
	}
	return b.String()
}

// code writes source with its words marked by class; the style sheet gives them weight rather than hue.
func (h *htmlWriter) code(c Code) (template.HTML, error) {
	source := strings.TrimRight(c.Source, "\n")
	if !isStarlark(c.Language) {
		return h.execute("code", source)
	}
	lexer, err := starlark()
	if err != nil {
		return "", err
	}
	tokens, err := chroma.Coalesce(lexer).Tokenise(nil, source)
	if err != nil {
		return h.execute("code", source)
	}
	var b strings.Builder
	format := chromahtml.New(chromahtml.WithClasses(true), chromahtml.PreventSurroundingPre(true))
	if err := format.Format(&b, plainStyle(), tokens); err != nil {
		return "", fmt.Errorf("code: %w", err)
	}
	return h.execute("code", template.HTML(b.String()))
}

// plainStyle is a style that colours nothing: with classes only its existence counts.
func plainStyle() *chroma.Style { return chroma.MustNewStyle("plain", chroma.StyleEntries{}) }

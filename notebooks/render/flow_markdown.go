package render

import (
	"fmt"
	"strings"

	"github.com/yuin/goldmark/ast"
	east "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/util"

	"keelmark/plots/pdf"
)

// markdown lays out Markdown for paper.
func (f *flow) markdown(m Markdown) {
	doc, src := parseMarkdown(newMarkdown(""), m.Source)
	w := markdownFlow{flow: f, src: src}
	for n := doc.FirstChild(); n != nil; n = n.NextSibling() {
		w.block(n, 0)
	}
}

// markdownFlow carries the text that the nodes point into.
type markdownFlow struct {
	*flow
	src []byte
}

const listIndent = 12.0

func (w markdownFlow) block(n ast.Node, indent float64) {
	switch n := n.(type) {
	case *ast.Heading:
		w.heading(max(n.Level, 2), words(n, w.src))
	case *ast.Paragraph, *ast.TextBlock:
		w.text(w.inline(n, pdf.Regular), bodySize, 5, indent)
	case *ast.List:
		w.list(n, indent)
	case *ast.Blockquote:
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			w.block(c, indent+listIndent)
		}
	case *ast.FencedCodeBlock:
		w.preformatted(string(n.Lines().Value(w.src)), false)
	case *ast.CodeBlock:
		w.preformatted(string(n.Lines().Value(w.src)), false)
	case *ast.ThematicBreak:
		w.add(box{gap: 4, height: 8, draw: func(y float64) { w.p.rule(w.x, y+4, w.width, 0.5, w.p.theme.Muted) }})
	case *east.Table:
		w.markdownTable(n)
	case *east.FootnoteList:
		w.footnoteList(n)
	case *ast.HTMLBlock:
		// dropped, as on screen
	default:
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			w.block(c, indent)
		}
	}
}

func (w markdownFlow) list(l *ast.List, indent float64) {
	number := l.Start
	for item := l.FirstChild(); item != nil; item = item.NextSibling() {
		mark := "–"
		if l.IsOrdered() {
			mark = fmt.Sprintf("%d.", number)
			number++
		}
		first := true
		for c := item.FirstChild(); c != nil; c = c.NextSibling() {
			_, isText := c.(*ast.TextBlock)
			_, isPara := c.(*ast.Paragraph)
			if first && (isText || isPara) {
				w.marked(w.p.run(mark, pdf.Regular, bodySize, w.p.theme.Ink), w.inline(c, pdf.Regular), bodySize, 2.5, indent)
				first = false
				continue
			}
			w.block(c, indent+listIndent)
		}
	}
}

func (w markdownFlow) footnoteList(l *east.FootnoteList) {
	for n := l.FirstChild(); n != nil; n = n.NextSibling() {
		note, ok := n.(*east.Footnote)
		if !ok {
			continue
		}
		var runs []run
		for c := note.FirstChild(); c != nil; c = c.NextSibling() {
			runs = append(runs, w.inline(c, pdf.Regular)...)
		}
		for i := range runs {
			runs[i].size = smallSize
		}
		w.marked(w.p.run(fmt.Sprint(note.Index), pdf.Regular, smallSize, w.p.theme.Muted), runs, smallSize, 2, 0)
	}
}

// markdownTable sets a table of Markdown like any other; markup inside its cells is plain there.
func (w markdownFlow) markdownTable(n *east.Table) {
	var t Table
	for row := n.FirstChild(); row != nil; row = row.NextSibling() {
		var cells []Cell
		i := 0
		for c := row.FirstChild(); c != nil; c = c.NextSibling() {
			text := strings.TrimSpace(words(c, w.src))
			if _, head := row.(*east.TableHeader); head {
				col := Column{Head: text}
				if i < len(n.Alignments) {
					switch n.Alignments[i] {
					case east.AlignRight:
						col.Align = Right
					case east.AlignCenter:
						col.Align = Center
					}
				}
				t.Columns = append(t.Columns, col)
			} else {
				cells = append(cells, Cell{Text: text})
			}
			i++
		}
		if cells != nil {
			t.Rows = append(t.Rows, cells)
		}
	}
	// A table without figures has nothing that could be refused.
	_ = w.table(t)
}

// inline turns the text of a node into runs.
func (w markdownFlow) inline(n ast.Node, face pdf.Face) []run {
	ink := w.p.theme.Ink
	var out []run
	add := func(s string, face pdf.Face) { out = append(out, w.p.run(s, face, bodySize, ink)) }
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		switch c := c.(type) {
		case *ast.Text:
			s := string(util.UnescapePunctuations(util.ResolveEntityNames(util.ResolveNumericReferences(c.Segment.Value(w.src)))))
			if c.SoftLineBreak() || c.HardLineBreak() {
				s += " "
			}
			add(s, face)
		case *ast.String:
			add(string(c.Value), face)
		case *ast.Emphasis:
			inner := pdf.Italic
			if c.Level > 1 || face == pdf.Bold {
				inner = pdf.Bold
			}
			out = append(out, w.inline(c, inner)...)
		case *ast.CodeSpan:
			for _, r := range w.inline(c, pdf.Mono) {
				r.size = bodySize - 1
				out = append(out, r)
			}
		case *ast.Link:
			out = append(out, w.inline(c, face)...)
			if address := string(c.Destination); shown(address) && words(c, w.src) != address {
				add(" ("+address+")", face)
			}
		case *ast.AutoLink:
			add(string(c.URL(w.src)), face)
		case *ast.Image:
			add("[image: "+words(c, w.src)+"]", face)
		case *ast.RawHTML:
			// dropped, as on screen
		case *east.TaskCheckBox:
			if c.IsChecked {
				add("[x] ", face)
			} else {
				add("[  ] ", face)
			}
		case *east.FootnoteLink:
			r := w.p.run(fmt.Sprint(c.Index), pdf.Regular, 6.5, w.p.theme.Muted)
			r.raise = 3
			out = append(out, r)
		case *east.FootnoteBacklink:
			// of no use on paper
		default:
			out = append(out, w.inline(c, face)...)
		}
	}
	return out
}

package render

import (
	"bytes"
	"fmt"

	"codeberg.org/go-pdf/fpdf"

	"keelmark/analysis"
	"keelmark/plots"
	"keelmark/plots/pdf"
)

// flow gathers the boxes of one column of text: the page's, or one of several side by side.
type flow struct {
	p        *paperWriter
	x, width float64
	boxes    []box
	newPage  bool // the next box starts a page
}

func (f *flow) add(b box) {
	b.newPage = b.newPage || f.newPage
	f.newPage = false
	f.boxes = append(f.boxes, b)
}

// inner is a flow of its own at an indent, for the content of frames and columns.
func (f *flow) inner(x, width float64) *flow { return &flow{p: f.p, x: x, width: width} }

func (f *flow) blocks(bs Blocks) error {
	for _, b := range bs {
		if err := f.block(b); err != nil {
			return err
		}
	}
	return nil
}

func (f *flow) block(b Block) error {
	switch b := b.(type) {
	case Heading:
		f.heading(b.Level, b.Text)
	case Para:
		f.para(b)
	case Markdown:
		f.markdown(b)
	case Table:
		return f.table(b)
	case Claims:
		f.claims(b)
	case Caution:
		f.caution(b)
	case Figure:
		return f.figure(b.Plot)
	case Image:
		f.image(b)
	case Facts:
		f.facts(b)
	case Columns:
		return f.columns(b)
	case Group:
		return f.blocks(b.Blocks)
	case PageBreak:
		f.newPage = true
	case Notes:
		f.footnotes()
	case Decision:
		f.decision(b)
	case Ticks:
		f.ticks(b)
	case Code:
		f.preformatted(b.Source, false)
	case Preformatted:
		f.preformatted(b.Text, b.Error)
	case nil:
		return fmt.Errorf("there is no block to write")
	default:
		return fmt.Errorf("no way to write a block of kind %q on paper", b.Kind())
	}
	return nil
}

// heading keeps with what follows. Ranks are those of the document; the title is rank 1.
func (f *flow) heading(level int, text string) {
	size, gap := sectionSize-1, 9.0
	switch {
	case level <= 1 && len(f.boxes) == 0:
		size, gap = titleSize, 0
	case level <= 2:
		size, gap = chapterSize, 16
	case level == 3:
		size, gap = sectionSize, 12
	}
	lines := f.p.cut(f.p.wrap([]run{f.p.run(text, pdf.Bold, size, f.p.theme.Ink)}, f.width), 2, f.width)
	for i, l := range lines {
		b := f.lineBox(l, size, 0)
		b.keep = true
		if i == 0 {
			b.gap = gap
			b.mark = &bookmark{f.p.Clean(text), max(level, 1) - 1}
		}
		if i == len(lines)-1 {
			b.height += 3
			if level == 2 || level == 1 {
				inner := b.draw
				b.draw = func(y float64) {
					inner(y)
					f.p.rule(f.x, y+size*leading+2, f.width, 0.8, f.p.theme.Ink)
				}
				b.height += 3
			}
		}
		f.add(b)
	}
}

// lineBox is a box for one line of text, with the baseline where type of the size wants it.
func (f *flow) lineBox(l line, size, indent float64) box {
	return box{height: size * leading, draw: func(y float64) { f.p.line(f.x+indent, y+size, l) }}
}

// text adds lines as boxes: the first two and the last two stay together.
func (f *flow) text(runs []run, size, gap, indent float64) {
	lines := f.p.wrap(runs, f.width-indent)
	for i, l := range lines {
		b := f.lineBox(l, size, indent)
		if i == 0 {
			b.gap = gap
		}
		b.keep = len(lines) > 1 && (i == 0 || i == len(lines)-2)
		f.add(b)
	}
}

func (f *flow) para(b Para) {
	switch b.Style {
	case Lead:
		f.text([]run{f.p.run(b.Text, pdf.Regular, leadSize, f.p.theme.Ink)}, leadSize, 6, 0)
	case Small:
		f.text([]run{f.p.run(b.Text, pdf.Regular, smallSize, f.p.theme.Muted)}, smallSize, 4, 0)
	default:
		f.text([]run{f.p.run(b.Text, pdf.Regular, bodySize, f.p.theme.Ink)}, bodySize, 5, 0)
	}
}

// figure is one box: title, picture and caption are never split. The picture is laid out for the width that
// there is, not scaled.
func (f *flow) figure(fig plots.Figure) error {
	if err := fig.Validate(); err != nil {
		return err
	}
	ink, muted := f.p.theme.Ink, f.p.theme.Muted
	inner := f.inner(f.x, f.width)
	if fig.Title != "" {
		inner.text([]run{f.p.run(fig.Title, pdf.Bold, bodySize, ink)}, bodySize, 0, 0)
	}
	width := min(fig.Width*perMM, f.width)
	height := min(fig.Height*perMM, bodyHeight*0.85)
	inner.add(box{height: height, gap: 2, draw: func(y float64) { f.p.plot(fig, f.x, y, width, height) }})
	if fig.Caption != "" {
		inner.text([]run{f.p.run(fig.Caption, pdf.Regular, smallSize, muted)}, smallSize, 3, 0)
	}
	f.add(inner.solid(8, 0))
	return nil
}

// plot draws a validated figure as vectors.
func (p *paperWriter) plot(fig plots.Figure, x, y, width, height float64) {
	if err := pdf.Draw(p.doc, p.Type, fig, p.theme, x, y, width, height); err != nil {
		p.doc.SetError(err)
	}
}

// solid makes one box of all boxes of the flow, which then are never split.
func (f *flow) solid(gap, below float64) box {
	placed, height, _ := fill(f.boxes, 1e9, true)
	return box{gap: gap, height: height + below, draw: func(y float64) {
		for _, b := range placed {
			if b.draw != nil {
				b.draw(y + b.y)
			}
		}
	}}
}

func (f *flow) image(i Image) {
	data, format, size, err := i.clean()
	if err != nil {
		f.preformatted(err.Error(), true)
		return
	}
	w, h := i.printed(size)
	width, height := min(w*perMM, f.width), h*perMM
	height = height * width / (w * perMM)
	inner := f.inner(f.x, f.width)
	name := contentID(data)
	options := fpdf.ImageOptions{ImageType: format}
	f.p.doc.RegisterImageOptionsReader(name, options, bytes.NewReader(data))
	inner.add(box{height: height, draw: func(y float64) {
		f.p.doc.ImageOptions(name, f.x, y, width, height, false, options, 0, "")
	}})
	words := i.Caption
	if words == "" {
		words = i.Alt
	}
	inner.text([]run{f.p.run(words, pdf.Regular, smallSize, f.p.theme.Muted)}, smallSize, 3, 0)
	f.add(inner.solid(8, 0))
}

// facts prints names and values in two columns of pairs, down the first and then the second.
func (f *flow) facts(b Facts) {
	if b.Title != "" {
		f.text([]run{f.p.run(b.Title, pdf.Bold, bodySize, f.p.theme.Ink)}, bodySize, 6, 0)
		f.boxes[len(f.boxes)-1].keep = true
	}
	half := f.width/2 - 6
	rows := (len(b.Pairs) + 1) / 2
	for i := range rows {
		left := f.fact(b.Pairs[i], f.x, half)
		right := box{}
		if i+rows < len(b.Pairs) {
			right = f.fact(b.Pairs[i+rows], f.x+f.width/2+6, half)
		}
		gap := 1.5
		if i == 0 {
			gap = 5
		}
		f.add(box{gap: gap, height: max(left.height, right.height), keep: i == 0 && rows > 1, draw: func(y float64) {
			left.draw(y)
			if right.draw != nil {
				right.draw(y)
			}
		}})
	}
}

func (f *flow) fact(fact Fact, x, width float64) box {
	p := f.p
	name := p.fit(p.run(fact.Name, pdf.Regular, bodySize-1, p.theme.Muted), width*0.4)
	indent := width * 0.42
	value := p.run(fact.value(), pdf.Regular, bodySize, p.theme.Ink)
	lines := p.cut(p.wrap([]run{value}, width-indent), 3, width-indent)
	return box{height: float64(len(lines)) * bodySize * leading, draw: func(y float64) {
		p.text(x, y+bodySize, name)
		for i, l := range lines {
			p.line(x+indent, y+bodySize+float64(i)*bodySize*leading, l)
		}
	}}
}

func (f *flow) columns(b Columns) error {
	if len(b.Columns) == 0 {
		return nil
	}
	const gutter = 14.0
	room, x := f.width-gutter*float64(len(b.Columns)-1), f.x
	var columns [][]box
	for i, c := range b.Columns {
		width := room * b.share(i)
		inner := f.inner(x, width)
		if err := inner.blocks(c); err != nil {
			return err
		}
		columns = append(columns, inner.boxes)
		x += width + gutter
	}
	f.add(box{gap: 6, columns: columns})
	return nil
}

// share is the part of the width that a column takes.
func (c Columns) share(i int) float64 {
	total := 0.0
	for _, w := range c.Widths {
		if !(w > 0) {
			total = 0
			break
		}
		total += w
	}
	if len(c.Widths) != len(c.Columns) || !(total > 0) {
		return 1 / float64(len(c.Columns))
	}
	return c.Widths[i] / total
}

// caution is a frame around its lines, never split.
func (f *flow) caution(b Caution) {
	p := f.p
	weight, edge := 0.9, p.theme.Ink
	title := []run{p.run(b.Title, pdf.Bold, bodySize, p.theme.Ink)}
	if b.Stop {
		weight, edge = 2, p.theme.Against
		title = append([]run{p.run(Sign(analysis.Stop)+" ", pdf.Bold, bodySize, p.theme.Against)}, title...)
	}
	inner := f.inner(f.x+8, f.width-16)
	inner.text(title, bodySize, 0, 0)
	for _, l := range b.Lines {
		inner.item("–", l, bodySize, 2)
	}
	if b.Source != "" {
		inner.text([]run{p.run("Source: "+b.Source, pdf.Regular, smallSize, p.theme.Muted)}, smallSize, 2, 0)
	}
	framed := inner.solid(8, 0)
	content := framed.draw
	framed.height += 12
	framed.draw = func(y float64) {
		p.frame(f.x, y, f.width, framed.height, weight, edge)
		content(y + 5)
	}
	if framed.height > bodyHeight { // more than a page: better unframed than cut
		f.boxes = append(f.boxes, inner.boxes...)
		return
	}
	f.add(framed)
}

// item is a line of a list with its mark.
func (f *flow) item(mark, text string, size, gap float64) {
	f.marked(f.p.run(mark, pdf.Regular, size, f.p.theme.Ink), []run{f.p.run(text, pdf.Regular, size, f.p.theme.Ink)}, size, gap, 0)
}

// marked sets runs at an indent with a mark in front of the first line.
func (f *flow) marked(mark run, runs []run, size, gap, indent float64) {
	start := len(f.boxes)
	hang := indent + max(10, f.p.width(mark)+4)
	f.text(runs, size, gap, hang)
	first := &f.boxes[start]
	inner := first.draw
	first.draw = func(y float64) {
		f.p.text(f.x+indent, y+size, mark)
		inner(y)
	}
}

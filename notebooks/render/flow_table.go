package render

import (
	"image/color"

	"keelmark/analysis"
	"keelmark/plots/pdf"
)

const (
	cellGap   = 8.0         // between columns
	pencilRow = 7 * perMM   // a row that is written on is at least this high
	writeOn   = 16 * perMM  // a line to write on is at least this wide
	tickSize  = 3.6 * perMM // an empty box
	maxLines  = 12          // of one cell; what is longer is cut, and whole in the HTML
	nameLines = 3           // of a cell that names the row
)

// tableLayout is a table measured for one width.
type tableLayout struct {
	*flow
	t      Table
	size   float64 // of the type
	widths []float64
}

// table prints a table: caption and head keep with the first row, the head is printed again on every page,
// and a row is never split.
func (f *flow) table(t Table) error {
	if len(t.Columns) == 0 {
		return nil
	}
	for _, row := range t.Rows {
		for _, c := range row {
			if c.Figure != nil {
				if err := c.Figure.Validate(); err != nil {
					return err
				}
			}
		}
	}
	l := f.fitTable(t)
	head := l.head()
	head.keep, head.gap = true, 8
	if t.Caption != "" {
		f.text([]run{f.p.run(t.Caption, pdf.Bold, bodySize, f.p.theme.Ink)}, bodySize, 8, 0)
		f.boxes[len(f.boxes)-1].keep = true
		head.gap = 2
	}
	again := head
	again.gap = 0
	f.add(head)
	for i, row := range t.Rows {
		b := l.row(row)
		b.head = &again
		b.keep = i == 0 && len(t.Rows) > 1 // a head with a single row below it looks like an oversight
		f.add(b)
	}
	if t.Note != "" {
		f.boxes[len(f.boxes)-1].keep = true
		f.text([]run{f.p.run(t.Note, pdf.Regular, smallSize, f.p.theme.Muted)}, smallSize, 3, 0)
	}
	return nil
}

// fitTable chooses the size of the type and the widths of the columns: as wide as their content wants where
// there is room, else each at least as wide as its longest word, the rest shared out by what they want.
func (f *flow) fitTable(t Table) tableLayout {
	l := tableLayout{flow: f, t: t}
	room := f.width - cellGap*float64(len(t.Columns)-1)
	for _, l.size = range []float64{bodySize, 9, 8, 7, 6.5} {
		least, wanted := l.measure()
		if sum(least) > room {
			continue
		}
		l.widths = shareOut(least, wanted, room)
		return l
	}
	least, _ := l.measure() // too many columns for any size: words are broken
	l.widths = make([]float64, len(least))
	for i := range least {
		l.widths[i] = room * least[i] / sum(least)
	}
	return l
}

// measure returns for each column the width below which a word would break, and the width at which no line
// does.
func (l tableLayout) measure() (least, wanted []float64) {
	least, wanted = make([]float64, len(l.t.Columns)), make([]float64, len(l.t.Columns))
	for i, c := range l.t.Columns {
		grow := func(runs []run, extra float64, noWrap bool) {
			whole := extra
			for n, w := range split(runs) {
				width := 0.0
				for _, r := range w.runs {
					width += l.p.width(r)
				}
				if n > 0 {
					whole += l.p.Width(" ", pdf.Bold, l.size)
				}
				whole += width
				least[i] = max(least[i], min(width+extra, l.width/3))
			}
			wanted[i] = max(wanted[i], whole)
			if noWrap {
				least[i] = max(least[i], min(whole, l.width/3))
			}
		}
		grow(l.headRuns(c), 0, false)
		for _, row := range l.t.Rows {
			if i >= len(row) {
				continue
			}
			cell := row[i]
			grow(l.runs(cell, c), cell.furniture(), c.NoWrap)
			least[i] = max(least[i], cell.furniture())
			wanted[i] = max(wanted[i], least[i])
		}
	}
	return least, wanted
}

// furniture is the width of what is not type: box, picture, line.
func (c Cell) furniture() float64 {
	w := 0.0
	if c.Tick {
		w += tickSize + 3
	}
	if c.Figure != nil {
		w = max(w, min(c.Figure.Width, 60)*perMM)
	}
	if c.Line {
		w += writeOn
	}
	return w
}

func sum(xs []float64) float64 {
	s := 0.0
	for _, x := range xs {
		s += x
	}
	return s
}

// shareOut gives each column its least width and what it wants of the room that is left; what nobody wants is
// spread evenly, as far as the eye still goes along a row.
func shareOut(least, wanted []float64, room float64) []float64 {
	widths := append([]float64(nil), least...)
	left := room - sum(least)
	if more := sum(wanted) - sum(least); more > 0 {
		share := min(1, left/more)
		for i := range widths {
			widths[i] += share * (wanted[i] - least[i])
		}
		left -= share * more
	}
	for i := range widths {
		widths[i] += min(left/float64(len(widths)), 24)
	}
	return widths
}

// total is the width of the whole table.
func (l tableLayout) total() float64 { return sum(l.widths) + cellGap*float64(len(l.widths)-1) }

func (l tableLayout) headRuns(c Column) []run {
	runs := []run{l.p.run(c.Head, pdf.Bold, l.size-0.5, l.p.theme.Ink)}
	if c.Unit != "" {
		runs = append(runs, l.p.run(" ("+c.Unit+")", pdf.Regular, l.size-0.5, l.p.theme.Muted))
	}
	return runs
}

func (l tableLayout) runs(c Cell, col Column) []run {
	face := pdf.Regular
	if c.Strong || col.RowHead {
		face = pdf.Bold
	}
	var runs []run
	if c.Stands != "" {
		ink := l.p.theme.Ink
		if c.Stands == analysis.Against || c.Stands == analysis.Stop {
			ink = l.p.theme.Against
		}
		runs = append(runs, l.p.run(Sign(c.Stands)+" ", pdf.Bold, l.size, ink))
	}
	return append(runs, l.p.run(c.Text, face, l.size, l.p.theme.Ink))
}

// head is the row of column heads over a rule.
func (l tableLayout) head() box {
	lines := make([][]line, len(l.t.Columns))
	most := 1
	for i, c := range l.t.Columns {
		lines[i] = l.p.cut(l.p.wrap(l.headRuns(c), l.widths[i]), 4, l.widths[i])
		most = max(most, len(lines[i]))
	}
	step := (l.size - 0.5) * leading
	height := float64(most)*step + 5
	return box{height: height, draw: func(y float64) {
		x := l.x
		for i, c := range l.t.Columns {
			top := y + float64(most-len(lines[i]))*step // heads stand on their rule
			for n, text := range lines[i] {
				l.p.line(x+shift(c.Align, l.widths[i], text.width), top+float64(n)*step+l.size, text)
			}
			x += l.widths[i] + cellGap
		}
		l.p.rule(l.x, y+height-1.5, l.total(), 0.9, l.p.theme.Ink)
	}}
}

func shift(a Align, room, width float64) float64 {
	switch a {
	case Right:
		return room - width
	case Center:
		return (room - width) / 2
	}
	return 0
}

// tall reports whether rows hold more than words.
func (l tableLayout) tall() bool {
	for _, row := range l.t.Rows {
		for _, c := range row {
			if c.Figure != nil || c.Tick || c.Line {
				return true
			}
		}
	}
	return false
}

// row is one row with the hairline below it.
func (l tableLayout) row(cells []Cell) box {
	step := l.size * leading
	lines := make([][]line, len(l.t.Columns))
	height := step
	for i, c := range l.t.Columns {
		if i >= len(cells) {
			continue
		}
		cell := cells[i]
		limit := maxLines
		if c.RowHead {
			limit = nameLines
		}
		if cell.Text != "" || cell.Stands != "" {
			room := l.widths[i]
			if cell.Tick {
				room -= tickSize + 3
			}
			lines[i] = l.p.cut(l.p.wrap(l.runs(cell, c), room), limit, room)
		}
		height = max(height, float64(len(lines[i]))*step)
		if cell.Figure != nil {
			height = max(height, float64(len(lines[i]))*step+cell.Figure.Height*perMM)
		}
		if cell.Tick || cell.Line {
			height = max(height, pencilRow)
		}
	}
	height += 4
	hair := color.NRGBA{R: 0xB0, G: 0xB0, B: 0xB0, A: 0xFF}
	return box{height: height, draw: func(y float64) {
		x := l.x
		for i, c := range l.t.Columns {
			if i < len(cells) {
				l.cell(cells[i], c, lines[i], x, y+1.5, l.widths[i], height-4)
			}
			x += l.widths[i] + cellGap
		}
		l.p.rule(l.x, y+height, l.total(), 0.5, hair)
	}}
}

func (l tableLayout) cell(c Cell, col Column, lines []line, x, y, width, height float64) {
	step := l.size * leading
	base := y + l.size
	if l.tall() && c.Figure == nil { // beside pictures and boxes, words stand in the middle
		base += (height - float64(len(lines))*step) / 2
	}
	if c.Tick {
		l.p.frame(x, y+(height-tickSize)/2, tickSize, tickSize, 0.8, l.p.theme.Ink)
		x, width = x+tickSize+3, width-tickSize-3
	}
	end := x
	for n, text := range lines {
		end = l.p.line(x+shift(col.Align, width, text.width), base+float64(n)*step, text)
	}
	if c.Figure != nil {
		w := min(c.Figure.Width*perMM, width)
		h := c.Figure.Height * perMM
		top := y + float64(len(lines))*step
		if len(lines) == 0 {
			top = y + (max(height, h)-h)/2
		}
		l.p.plot(*c.Figure, x, top, w, h)
	}
	if c.Line {
		if len(lines) > 0 {
			end += 4
		}
		l.p.rule(end, y+height-1.5, x+width-end, 0.7, l.p.theme.Ink)
	}
}

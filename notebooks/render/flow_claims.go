package render

import (
	"strconv"

	"keelmark/analysis"
	"keelmark/plots/pdf"
)

// claims sets what speaks for and what speaks against side by side, what is open below them; stop signs stand
// above, in a frame across the page. Each sentence carries the number of its footnote; what holds sentences back
// follows, each once.
func (f *flow) claims(c Claims) {
	p := f.p
	if c.Title != "" {
		f.heading(3, c.Title)
	}
	gap := 4.0
	if stops := c.on(analysis.Stop); len(stops) > 0 {
		gap = 10
		inner := f.inner(f.x+8, f.width-16)
		inner.sideHead(analysis.Stop)
		for _, claim := range stops {
			inner.claim(claim)
		}
		framed := inner.solid(6, 0)
		content := framed.draw
		framed.height += 12
		framed.draw = func(y float64) {
			p.frame(f.x, y, f.width, framed.height, 2, p.theme.Against)
			content(y + 5)
		}
		if framed.height > bodyHeight {
			f.boxes = append(f.boxes, inner.boxes...)
		} else {
			f.add(framed)
		}
		if len(stops) == len(c.Claims) {
			return
		}
	}
	const gutter = 12.0
	forSide, against := c.on(analysis.For), c.on(analysis.Against)
	left := 0.5 // of the width; a side with nothing to say gives room to the other
	switch {
	case len(forSide) > 0 && len(against) == 0:
		left = 0.68
	case len(forSide) == 0 && len(against) > 0:
		left = 0.32
	}
	width := f.width - gutter
	f.add(box{gap: gap, columns: [][]box{
		f.side(analysis.For, forSide, f.x, width*left),
		f.side(analysis.Against, against, f.x+width*left+gutter, width*(1-left)),
	}})
	if open := c.on(analysis.Open); len(open) > 0 {
		boxes := f.side(analysis.Open, open, f.x, f.width)
		boxes[0].gap = 6
		f.boxes = append(f.boxes, boxes...)
	}
	f.caveats(c)
}

// side is one side's head with its sentences.
func (f *flow) side(side analysis.Stands, claims []Claim, x, width float64) []box {
	p := f.p
	inner := f.inner(x, width)
	inner.sideHead(side)
	head := inner.boxes[0]
	for _, claim := range claims {
		inner.claim(claim)
	}
	if len(claims) == 0 {
		inner.text([]run{p.run(nothing(side), pdf.Italic, smallSize+0.5, p.theme.Muted)}, smallSize+0.5, 3, 0)
	}
	for j := range inner.boxes[1:] {
		inner.boxes[j+1].head = &head
	}
	return inner.boxes
}

// caveats prints what holds the sentences back, each once, with the numbers of the sentences that it is about.
func (f *flow) caveats(c Claims) {
	p := f.p
	var order []string
	about := map[string]string{}
	for _, claim := range c.Claims {
		for _, caveat := range claim.Caveats {
			number := strconv.Itoa(p.numbers[claim.ID])
			if about[caveat] == "" {
				order = append(order, caveat)
				about[caveat] = number
			} else {
				about[caveat] += ", " + number
			}
		}
	}
	// Caveats about the same sentences share a mark, and all run on: there may be many.
	var runs []run
	last := ""
	for _, caveat := range order {
		if about[caveat] != last {
			last = about[caveat]
			runs = append(runs, p.run("To "+last+": ", pdf.Bold, smallSize-1, p.theme.Muted))
		}
		runs = append(runs, p.run(caveat+". ", pdf.Regular, smallSize-1, p.theme.Muted))
	}
	if len(runs) > 0 {
		f.text(runs, smallSize-1, 5, 0)
	}
}

// sideHead is the sign and the word of a side over a rule.
func (f *flow) sideHead(side analysis.Stands) {
	p := f.p
	sign := p.run(Sign(side)+" ", pdf.Bold, bodySize, p.theme.Ink)
	if side == analysis.Against || side == analysis.Stop {
		sign.color = p.theme.Against
	}
	l := p.wrap([]run{sign, p.run(Word(side), pdf.Bold, bodySize, p.theme.Ink)}, f.width)[0]
	b := f.lineBox(l, bodySize, 0)
	inner := b.draw
	b.height += 6
	b.keep = true
	b.draw = func(y float64) {
		if side != analysis.Stop {
			p.rule(f.x, y, f.width, 1, p.theme.Ink)
		}
		inner(y + 3)
	}
	f.add(b)
}

// claim prints the sentence with its footnote number and what it needs.
func (f *flow) claim(c Claim) {
	p := f.p
	number := p.numbers[c.ID]
	p.note(c, number)
	mark := p.run(strconv.Itoa(number), pdf.Regular, 6.5, p.theme.Muted)
	mark.raise = 3
	f.text([]run{p.run(c.Text, pdf.Regular, bodySize, p.theme.Ink), mark}, bodySize, 4, 0)
	if r := c.Refusal; r != nil {
		if r.Needs != "" {
			f.text([]run{p.run("Needs: "+r.Needs, pdf.Regular, smallSize, p.theme.Muted)}, smallSize, 1, 0)
		}
		if r.Next != "" {
			f.text([]run{p.run("→ next look: "+r.Next, pdf.Bold, smallSize+0.5, p.theme.Ink)}, smallSize+0.5, 1, 0)
		}
	}
	if c.Stands == analysis.Stop {
		return // its frame divides it from the rest
	}
	last := &f.boxes[len(f.boxes)-1]
	inner := last.draw
	height := last.height
	last.height += 4
	last.draw = func(y float64) {
		inner(y)
		p.rule(f.x, y+height+2.5, f.width, 0.4, p.theme.Grid)
	}
}

// note remembers the footnote of a claim until it is printed. A claim printed twice has one note.
func (p *paperWriter) note(c Claim, number int) {
	for _, n := range p.notes {
		if n.number == number {
			return
		}
	}
	p.notes = append(p.notes, note{number, c.footnote(func(id string) int { return p.numbers[id] })})
}

// footnotes prints the notes that have gathered: which cells each sentence rests on.
func (f *flow) footnotes() {
	p := f.p
	if len(p.notes) == 0 {
		return
	}
	const size = 7.5
	f.text([]run{p.run("What each sentence rests on", pdf.Bold, smallSize, p.theme.Ink)}, smallSize, 10, 0)
	f.boxes[len(f.boxes)-1].keep = true
	for _, n := range p.notes {
		f.marked(p.run(strconv.Itoa(n.number), pdf.Regular, size, p.theme.Muted),
			[]run{p.run(n.text, pdf.Regular, size, p.theme.Ink)}, size, 1.5, 0)
	}
	p.notes = nil
}

package render

import (
	"image/color"
	"strings"

	"keelmark/plots/pdf"
)

// decision is the blank line: room for a sentence, a reason and a date, 9 mm a line for a pencil.
func (f *flow) decision(b Decision) {
	p := f.p
	const row = 8.5 * perMM
	inner := f.inner(f.x, f.width)
	inner.text([]run{p.run(decisionTitle(b), pdf.Bold, sectionSize-1, p.theme.Ink)}, sectionSize-1, 4, 0)
	if n := len(inner.boxes); n > 2 {
		inner.boxes = inner.boxes[:2]
	}
	write := func(x, base, width float64, label string) {
		r := p.run(label, pdf.Regular, bodySize-1, p.theme.Muted)
		p.text(x, base, r)
		from := x
		if label != "" {
			from += p.width(r) + 4
		}
		p.rule(from, base+1.5, x+width-from, 0.7, p.theme.Ink)
	}
	inner.add(box{height: row, draw: func(y float64) { write(f.x, y+row-3, f.width, "in the keeper’s own words") }})
	inner.add(box{height: row, draw: func(y float64) {
		write(f.x, y+row-3, f.width*0.72, "because")
		write(f.x+f.width*0.75, y+row-3, f.width*0.25, "date")
	}})
	b2 := inner.solid(12, 4)
	content := b2.draw
	b2.draw = func(y float64) {
		p.rule(f.x, y, f.width, 1, p.theme.Ink)
		content(y + 4)
	}
	b2.height += 4
	f.add(b2)
}

// ticks is one row for the pencil, 8 mm high; entries that do not fit go on in the next row.
func (f *flow) ticks(b Ticks) {
	p := f.p
	const row, box0, writing = 8 * perMM, 4 * perMM, 20 * perMM
	type part struct {
		x, y float64
		draw func(x, base float64)
	}
	var parts []part
	label := p.fit(p.run(b.Label, pdf.Bold, bodySize+1, p.theme.Ink), f.width*0.4)
	parts = append(parts, part{0, 0, func(x, base float64) { p.text(x, base, label) }})
	x, y := p.width(label)+14, 0.0
	for _, item := range b.Items {
		r := p.fit(p.run(item.Text, pdf.Regular, bodySize, p.theme.Ink), f.width-writing-8)
		w := p.width(r) + box0 + 4
		if item.Line {
			w = p.width(r) + writing + 4
		}
		if x+w > f.width {
			x, y = min(p.width(label)+14, f.width-w), y+row
		}
		parts = append(parts, part{x, y, func(x, base float64) {
			if item.Line {
				p.text(x, base, r)
				p.rule(x+p.width(r)+4, base+1.5, writing, 0.7, p.theme.Ink)
				return
			}
			p.frame(x, base-box0+2, box0, box0, 0.8, p.theme.Ink)
			p.text(x+box0+4, base, r)
		}})
		x += w + 12
	}
	f.add(box{gap: 3, height: y + row, draw: func(top float64) {
		for _, q := range parts {
			q.draw(f.x+q.x, top+q.y+row-7)
		}
	}})
}

// preformatted prints lines as they are, on a tint; a line too long goes on in the next.
func (f *flow) preformatted(text string, failed bool) {
	p := f.p
	const size = 8.0
	edge := p.theme.Grid
	if failed {
		edge = p.theme.Against
	}
	pale := color.NRGBA{R: 0xF4, G: 0xF7, B: 0xF9, A: 0xFF}
	per := max(8, int((f.width-14)/p.Width("0", pdf.Mono, size)))
	first := true
	for _, raw := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		letters := []rune(p.Clean(strings.ReplaceAll(raw, "\t", "    ")))
		for again := true; again; again = len(letters) > 0 {
			n := min(per, len(letters))
			r := run{text: string(letters[:n]), face: pdf.Mono, size: size, color: p.theme.Ink}
			letters = letters[n:]
			b := box{height: size * 1.35, keep: first, draw: func(y float64) {
				p.tint(f.x, y, f.width, size*1.35+0.3, pale)
				p.tint(f.x, y, 2, size*1.35+0.3, edge)
				p.text(f.x+8, y+size, r)
			}}
			if first {
				b.gap = 6
			}
			first = false
			f.add(b)
		}
	}
}

package render

// The layout of paper, in points unless named mm. All of it, running header and page number included, lies in
// 180 × 249 mm, which A4 and Letter share with margins of 15 mm or more: both print the same lines on the
// same pages, and a punch has room.
const (
	perMM        = 72 / 25.4
	textWidthMM  = 180.0
	textHeightMM = 249.0
	textWidth    = textWidthMM * perMM
	headerSpace  = 22.0 // above the blocks
	footerSpace  = 18.0 // below them
	bodyHeight   = textHeightMM*perMM - headerSpace - footerSpace
)

// box is the smallest part that is never split: a line of a paragraph, a row of a table, a figure. Boxes know
// their own place across the page; where they stand down the page is decided by fill.
type box struct {
	height  float64
	gap     float64         // space above, dropped at the top of a page
	keep    bool            // stays with the next box
	newPage bool            // starts a page
	head    *box            // drawn again at the top of a page that opens with this box: table and column heads
	draw    func(y float64) // y is the box's top on the page
	mark    *bookmark       //
	columns [][]box         // side by side instead of draw; height is not used
}

type bookmark struct {
	text  string
	level int
}

// placed is a box with its place down the page, counted from the top of the blocks.
type placed struct {
	box
	y float64
}

// paginate spreads boxes over pages of a height. Every page but the last is as full as the rules of keeping
// together allow.
func paginate(boxes []box, height float64) [][]placed {
	var pages [][]placed
	for len(boxes) > 0 {
		page, _, rest := fill(boxes, height, true)
		if len(page) > 0 || len(pages) == 0 {
			pages = append(pages, page)
		}
		boxes = rest
	}
	if len(pages) == 0 {
		pages = [][]placed{nil}
	}
	return pages
}

// squeeze takes up to half the air out of a chapter that would otherwise run over its page by a few lines. A
// chapter is what stands between two page breaks.
func squeeze(boxes []box, height float64) []box {
	out := append([]box(nil), boxes...)
	for start := 0; start < len(out); {
		end := start + 1
		for end < len(out) && !out[end].newPage {
			end++
		}
		chapter := out[start:end]
		air, whole := 0.0, 0.0
		for i, b := range chapter {
			if i > 0 {
				air += b.gap
			}
			for _, c := range b.columns {
				b.height = max(b.height, need(c, true))
			}
			whole += b.height
		}
		if over := whole + air - height; over > 0 && over <= air/2 {
			for i := range chapter {
				chapter[i].gap *= 1 - (over+0.1)/air
			}
		}
		start = end
	}
	return out
}

// fill places as many boxes as fit into a height and returns them, the height used, and the rest. At the top
// of a page at least one box is placed, fitting or not, so that every call makes progress.
func fill(boxes []box, height float64, top bool) (out []placed, used float64, rest []box) {
	for i := 0; i < len(boxes); {
		b := boxes[i]
		first := top && len(out) == 0
		if b.newPage && !first {
			return out, used, unbroken(boxes[i:])
		}
		chain := keptTogether(boxes[i:])
		if !first && used+need(boxes[i:i+chain], false) > height && need(boxes[i:i+chain], true) <= height {
			return out, used, boxes[i:]
		}
		if b.columns != nil {
			placedColumns, columnsUsed, left := fillColumns(b, height-used, first)
			if placedColumns == nil && !first {
				return out, used, boxes[i:]
			}
			gap := b.gap
			if first {
				gap = 0
			}
			for _, p := range placedColumns {
				p.y += used + gap
				out = append(out, p)
			}
			used += gap + columnsUsed
			if left != nil {
				return out, used, append([]box{*left}, boxes[i+1:]...)
			}
			i++
			continue
		}
		gap := b.gap
		if first {
			gap = 0
			if b.head != nil {
				out = append(out, placed{*b.head, used})
				used += b.head.height
			}
		}
		if !first && used+gap+b.height > height+0.01 {
			return out, used, boxes[i:]
		}
		used += gap
		out = append(out, placed{b, used})
		used += b.height
		i++
	}
	return out, used, nil
}

// unbroken drops the page break that has just been obeyed.
func unbroken(boxes []box) []box {
	out := append([]box(nil), boxes...)
	out[0].newPage = false
	return out
}

// keptTogether counts the boxes that must stand with the first: those that keep, and the one after them.
func keptTogether(boxes []box) int {
	n := 1
	for n < len(boxes) && boxes[n-1].keep && !boxes[n].newPage {
		n++
	}
	return n
}

// need is the height of boxes in a row; of columns it counts what they need to begin.
func need(boxes []box, top bool) float64 {
	h := 0.0
	for i, b := range boxes {
		if i > 0 || !top {
			h += b.gap
		}
		if i == 0 && top && b.head != nil {
			h += b.head.height
		}
		if b.columns == nil {
			h += b.height
			continue
		}
		begin := 0.0
		for _, c := range b.columns {
			if len(c) > 0 {
				begin = max(begin, need(c[:keptTogether(c)], true))
			}
		}
		h += begin
	}
	return h
}

// fillColumns places columns side by side as far as they fit. It returns nothing placed where they should
// rather begin on the next page, and the columns that are left over.
func fillColumns(b box, height float64, top bool) (out []placed, used float64, left *box) {
	whole := 0.0
	for _, c := range b.columns {
		whole = max(whole, need(c, true))
	}
	gap := b.gap
	if top {
		gap = 0
	}
	if !top && gap+whole > height && whole < bodyHeight/3 {
		return nil, 0, nil // short columns are not worth a split
	}
	rest := box{columns: make([][]box, len(b.columns)), draw: b.draw}
	more := false
	for i, c := range b.columns {
		p, h, r := fill(c, height-gap, true)
		out = append(out, p...)
		used = max(used, h)
		rest.columns[i] = r
		more = more || len(r) > 0
	}
	if more {
		left = &rest
	}
	if out == nil {
		out = []placed{}
	}
	return out, used, left
}

package render

import (
	"image/color"
	"strings"

	"keelmark/plots/pdf"
)

// run is a piece of text of one face, size and colour. Text has passed the gate of pdf.Type.
type run struct {
	text  string
	face  pdf.Face
	size  float64
	color color.NRGBA
	raise float64 // of the baseline: footnote numbers
}

// line is a line of text as it will be printed.
type line struct {
	runs  []run
	width float64
}

// setter breaks text into lines.
type setter struct{ *pdf.Type }

func (s setter) width(r run) float64 { return s.Width(r.text, r.face, r.size) }

// wrap breaks runs at spaces into lines of at most a width. A word wider than a line is broken where it must
// be. There is always at least one line.
func (s setter) wrap(runs []run, width float64) []line {
	var lines []line
	var now line
	end := func() {
		lines = append(lines, now.trimmed(s))
		now = line{}
	}
	for _, word := range split(runs) {
		w := 0.0
		for _, r := range word.runs {
			w += s.width(r)
		}
		space, blank := 0.0, run{}
		if word.space && len(now.runs) > 0 {
			blank = now.runs[len(now.runs)-1] // the space is set as what stands before it
			blank.text, blank.raise = " ", 0
			space = s.width(blank)
		}
		if len(now.runs) > 0 && now.width+space+w > width {
			end()
			space = 0
		}
		if space > 0 {
			now.add(blank, space)
		}
		if w <= width {
			for _, r := range word.runs {
				now.add(r, s.width(r))
			}
			continue
		}
		for _, r := range word.runs { // wider than a line: letter by letter
			for _, letter := range r.text {
				piece := r
				piece.text = string(letter)
				w := s.width(piece)
				if len(now.runs) > 0 && now.width+w > width {
					end()
				}
				now.add(piece, w)
			}
		}
	}
	if len(now.runs) > 0 || len(lines) == 0 {
		end()
	}
	return lines
}

// add appends a run, joining it to the last where only the text differs.
func (l *line) add(r run, width float64) {
	l.width += width
	if n := len(l.runs); n > 0 {
		last := &l.runs[n-1]
		if last.face == r.face && last.size == r.size && last.color == r.color && last.raise == r.raise {
			last.text += r.text
			return
		}
	}
	l.runs = append(l.runs, r)
}

// trimmed drops spaces at the end of a line.
func (l line) trimmed(s setter) line {
	for n := len(l.runs); n > 0; n = len(l.runs) {
		last := &l.runs[n-1]
		cut := strings.TrimRight(last.text, " ")
		if cut == last.text {
			break
		}
		l.width -= s.width(*last)
		last.text = cut
		l.width += s.width(*last)
		if cut != "" {
			break
		}
		l.runs = l.runs[:n-1]
	}
	return l
}

// word is what stands between two spaces: one run, or several where the type changes inside it.
type word struct {
	runs  []run
	space bool // a space stands before it
}

func split(runs []run) []word {
	var out []word
	space := false
	for _, r := range runs {
		for i, part := range strings.Split(r.text, " ") {
			if i > 0 {
				space = true
			}
			if part == "" {
				continue
			}
			piece := r
			piece.text = part
			if space || len(out) == 0 {
				out = append(out, word{space: space})
			}
			last := &out[len(out)-1]
			last.runs = append(last.runs, piece)
			space = false
		}
	}
	return out
}

// cut keeps the first n lines and ends them with "…" where something was cut off.
func (s setter) cut(lines []line, n int, width float64) []line {
	if len(lines) <= n {
		return lines
	}
	lines = lines[:n]
	last := &lines[n-1]
	if len(last.runs) == 0 {
		return lines
	}
	dots := last.runs[len(last.runs)-1]
	dots.text = "…"
	w := s.width(dots)
	for last.width+w > width && len(last.runs) > 0 {
		r := &last.runs[len(last.runs)-1]
		letters := []rune(r.text)
		last.width -= s.width(*r)
		r.text = string(letters[:len(letters)-1])
		last.width += s.width(*r)
		if r.text == "" {
			last.runs = last.runs[:len(last.runs)-1]
		}
	}
	last.add(dots, w)
	return lines
}

// fit cuts a single run to a width.
func (s setter) fit(r run, width float64) run {
	if s.width(r) <= width {
		return r
	}
	letters := []rune(r.text)
	for len(letters) > 0 {
		letters = letters[:len(letters)-1]
		r.text = strings.TrimRight(string(letters), " ") + "…"
		if s.width(r) <= width {
			break
		}
	}
	return r
}

package plots

import (
	"image/color"
	"strings"
	"unicode"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Theme is how figures look. It is a value: change a copy, never a global.
//
// The colours keep their order on a grey printer. Lightness L* (CIE 1976, of the sRGB value): ink 10, bird
// 32, against 54, edge 66, band 86; the ramp 96, 84, 57, 27. Two of them never stand for different things at the same
// lightness, and no meaning rests on hue alone.
type Theme struct {
	Ink     color.NRGBA // type, weighings
	Muted   color.NRGBA // axes, hairlines, second-rank type
	Grid    color.NRGBA // grid lines
	Bird    color.NRGBA // the bird's own line and interval
	Against color.NRGBA // only for "speaks against" and "stop"
	Band    color.NRGBA // prediction band, standard box: always an opaque tint
	Edge    color.NRGBA // outline of a band, and the inner band of a fan
	Paper   color.NRGBA
	Ramp    [4]color.NRGBA // nothing found, few, more, many

	Label vg.Length // size of labels
	Tick  vg.Length // size of tick labels and keys

	fonts text.Handler
}

// Print is the theme of paper, screen and notebook: ink on paper.
func Print() Theme {
	return Theme{
		Ink:     rgb(0x1A1A1A),
		Muted:   rgb(0x6B6B6B),
		Grid:    rgb(0xDDDDDD),
		Bird:    rgb(0x004D80),
		Against: rgb(0xD55E00),
		Band:    rgb(0xBFDDEE),
		Edge:    rgb(0x7FA8C0),
		Paper:   rgb(0xFFFFFF),
		Ramp:    [4]color.NRGBA{rgb(0xF4F4F4), rgb(0xFDC97C), rgb(0xD96A1E), rgb(0x7A1F06)},
		Label:   9,
		Tick:    8,
		fonts:   text.Plain{Fonts: font.NewCache(liberation.Collection())},
	}
}

func rgb(hex uint32) color.NRGBA {
	return color.NRGBA{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: 0xFF}
}

// style is type of one size and colour, set from a point to the right.
func (t Theme) style(size vg.Length, c color.Color) text.Style {
	return text.Style{
		Color:   c,
		Font:    font.Font{Typeface: "Liberation", Variant: "Sans", Size: size},
		XAlign:  draw.XLeft,
		YAlign:  draw.YCenter,
		Handler: t.fonts,
	}
}

func bold(s text.Style) text.Style {
	s.Font.Weight = stdfont.WeightBold
	return s
}

func aligned(s text.Style, x text.XAlignment) text.Style {
	s.XAlign = x
	return s
}

func (t Theme) line(width vg.Length, c color.Color, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: c, Width: width, Dashes: dashes}
}

// fit cuts a label to a width, with "…" where something was cut, after turning what no face can set (line
// breaks, control characters) into spaces.
func fit(s string, style text.Style, width vg.Length) string {
	s = oneLine(s)
	if style.Width(s) <= width {
		return s
	}
	runes := []rune(s)
	lo, hi := 0, len(runes) // the longest beginning that fits
	for lo < hi {
		mid := (lo + hi + 1) / 2
		if style.Width(string(runes[:mid])+"…") <= width {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	return strings.TrimRight(string(runes[:lo]), " ") + "…"
}

func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r):
			return ' '
		case unicode.Is(unicode.Cf, r) && r != '\u200d': // direction marks would turn the rest of the line
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// fill paints a rectangle and, where the edge has a width, its outline.
func fill(c draw.Canvas, r vg.Rectangle, inside color.Color, edge draw.LineStyle) {
	if inside != nil {
		c.SetColor(inside)
		c.Fill(r.Path())
	}
	if edge.Width > 0 {
		c.SetLineStyle(edge)
		c.Stroke(r.Path())
	}
}

func rect(x0, y0, x1, y1 vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: x0, Y: y0}, Max: vg.Point{X: x1, Y: y1}}
}

// keyEntry is one line of a figure's key: a swatch and what it stands for.
type keyEntry struct {
	text   string
	swatch func(draw.Canvas, Theme)
}

const (
	swatchWidth = vg.Length(16)
	keyRow      = vg.Length(12)
	keyGap      = vg.Length(12)
)

// drawKey draws entries from the top left of the canvas, as many in a row as fit, and returns the height
// used. With a nil canvas it only measures.
func (t Theme) drawKey(c *draw.Canvas, width vg.Length, entries []keyEntry) vg.Length {
	style := t.style(t.Tick, t.Ink)
	x, row := vg.Length(0), vg.Length(0)
	for _, e := range entries {
		room := width
		if e.swatch != nil {
			room -= swatchWidth + 4
		}
		label := fit(e.text, style, room)
		w := style.Width(label)
		if e.swatch != nil {
			w += swatchWidth + 4
		}
		if x > 0 && x+w > width {
			x, row = 0, row+keyRow
		}
		if c != nil {
			left, mid := c.Min.X+x, c.Max.Y-row-keyRow/2
			if e.swatch != nil {
				e.swatch(draw.Canvas{Canvas: c.Canvas, Rectangle: rect(left, mid-3.5, left+swatchWidth, mid+3.5)}, t)
				left += swatchWidth + 4
			}
			c.FillText(style, vg.Point{X: left, Y: mid}, label)
		}
		x += w + keyGap
	}
	if len(entries) == 0 {
		return 0
	}
	return row + keyRow
}

// Package pdf draws figures onto the pages of a PDF file as vectors, and owns the type that pages are set in.
//
// Canvas is a vg.Canvas over fpdf. gonum's own PDF canvas is not used: it garbles every name beyond Latin-1
// and fails on bold type. It refuses to decide anything about a page: where a figure stands is the caller's.
package pdf

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/plots"
)

// Canvas is a rectangle of the current page of an fpdf document whose unit is the point. What is drawn
// outside the rectangle is cut off. Close it before anything else is drawn on the page.
//
// Paths are written as PDF operators rather than through fpdf's path functions, since those move the
// document's text cursor.
type Canvas struct {
	doc           *fpdf.Fpdf
	text          *Type
	width, height vg.Length
	stack         []state
}

// state is what Push saves. The matrix takes canvas coordinates to points of the page, counted from its
// bottom left.
type state struct {
	matrix [6]float64 // a b c d e f as in the PDF operator cm
	line   vg.Length
	dashes []vg.Length
	offset vg.Length
	color  color.NRGBA
}

var _ vg.CanvasSizer = (*Canvas)(nil)

// NewCanvas opens a canvas with its top left corner at x, y, counted in points from the page's top left.
func NewCanvas(doc *fpdf.Fpdf, t *Type, x, y, width, height float64) *Canvas {
	_, page := doc.GetPageSize()
	c := &Canvas{doc: doc, text: t, width: vg.Length(width), height: vg.Length(height)}
	c.stack = []state{{matrix: [6]float64{1, 0, 0, 1, x, page - y - height}}}
	vg.Initialize(c)
	c.raw("q %s re W n", numbers(x, page-y-height, width, height))
	return c
}

// Draw draws a figure into a rectangle of the current page, with its top left corner at x, y. The figure is
// laid out for the rectangle, not scaled.
func Draw(doc *fpdf.Fpdf, t *Type, f plots.Figure, theme plots.Theme, x, y, width, height float64) error {
	c := NewCanvas(doc, t, x, y, width, height)
	defer c.Close()
	return f.Draw(draw.NewCanvas(c, c.width, c.height), theme)
}

// Close ends the canvas and lifts its clipping.
func (c *Canvas) Close() { c.raw("Q") }

// Size implements vg.CanvasSizer.
func (c *Canvas) Size() (width, height vg.Length) { return c.width, c.height }

func (c *Canvas) top() *state { return &c.stack[len(c.stack)-1] }

// SetLineWidth implements vg.Canvas.
func (c *Canvas) SetLineWidth(w vg.Length) { c.top().line = w }

// SetLineDash implements vg.Canvas.
func (c *Canvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	c.top().dashes, c.top().offset = pattern, offset
}

// SetColor implements vg.Canvas.
func (c *Canvas) SetColor(clr color.Color) {
	if clr == nil {
		clr = color.Black
	}
	// The RGBA of color.Color is premultiplied; the page wants the colour and the alpha apart.
	c.top().color = color.NRGBAModel.Convert(clr).(color.NRGBA)
}

// Rotate implements vg.Canvas.
func (c *Canvas) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.multiply([6]float64{cos, sin, -sin, cos, 0, 0})
}

// Translate implements vg.Canvas.
func (c *Canvas) Translate(pt vg.Point) {
	c.multiply([6]float64{1, 0, 0, 1, pt.X.Points(), pt.Y.Points()})
}

// Scale implements vg.Canvas.
func (c *Canvas) Scale(x, y float64) { c.multiply([6]float64{x, 0, 0, y, 0, 0}) }

// multiply applies m before what the matrix does already.
func (c *Canvas) multiply(m [6]float64) {
	n := c.top().matrix
	c.top().matrix = [6]float64{
		m[0]*n[0] + m[1]*n[2], m[0]*n[1] + m[1]*n[3],
		m[2]*n[0] + m[3]*n[2], m[2]*n[1] + m[3]*n[3],
		m[4]*n[0] + m[5]*n[2] + n[4], m[4]*n[1] + m[5]*n[3] + n[5],
	}
}

// Push implements vg.Canvas.
func (c *Canvas) Push() { c.stack = append(c.stack, *c.top()) }

// Pop implements vg.Canvas. A Pop too many is ignored.
func (c *Canvas) Pop() {
	if len(c.stack) > 1 {
		c.stack = c.stack[:len(c.stack)-1]
	}
}

// scale is by how much the matrix stretches lengths.
func (s *state) scale() float64 {
	return math.Sqrt(math.Abs(s.matrix[0]*s.matrix[3] - s.matrix[1]*s.matrix[2]))
}

func (s *state) at(p vg.Point) string {
	x, y := p.X.Points(), p.Y.Points()
	m := s.matrix
	return numbers(m[0]*x+m[2]*y+m[4], m[1]*x+m[3]*y+m[5])
}

// Stroke implements vg.Canvas.
func (c *Canvas) Stroke(path vg.Path) {
	s := c.top()
	if s.line <= 0 || len(path) == 0 {
		return
	}
	var dashes []float64
	for _, d := range s.dashes {
		dashes = append(dashes, d.Points()*s.scale())
	}
	c.paint(fmt.Sprintf("%s w [%s] %s d %s RG", numbers(s.line.Points()*s.scale()), numbers(dashes...),
		numbers(s.offset.Points()*s.scale()), rgb(s.color)), path, "S")
}

// Fill implements vg.Canvas.
func (c *Canvas) Fill(path vg.Path) {
	if len(path) > 0 {
		c.paint(rgb(c.top().color)+" rg", path, "f")
	}
}

// paint writes one path between q and Q, so that no colour, width or dash outlives it.
func (c *Canvas) paint(setup string, path vg.Path, operator string) {
	c.raw("q")
	if a := c.top().color.A; a != 0xFF {
		c.doc.SetAlpha(float64(a)/0xFF, "Normal")
		defer c.doc.SetAlpha(1, "Normal")
	}
	c.raw("%s %s%s", setup, c.top().path(path), operator)
	c.raw("Q")
}

// path turns a vg path into operators. Arcs become cubic curves of at most a quarter turn.
func (s *state) path(path vg.Path) string {
	var b strings.Builder
	var here vg.Point
	open := false
	emit := func(op string, pts ...vg.Point) {
		for _, p := range pts {
			b.WriteString(s.at(p) + " ")
		}
		b.WriteString(op + " ")
		here, open = pts[len(pts)-1], true
	}
	for _, comp := range path {
		switch comp.Type {
		case vg.MoveComp:
			emit("m", comp.Pos)
		case vg.LineComp:
			emit("l", comp.Pos)
		case vg.CurveComp:
			switch len(comp.Control) {
			case 1: // a quadratic curve, raised to a cubic one
				q := comp.Control[0]
				emit("c", towards(here, q, 2./3), towards(comp.Pos, q, 2./3), comp.Pos)
			case 2:
				emit("c", comp.Control[0], comp.Control[1], comp.Pos)
			}
		case vg.ArcComp:
			start := onCircle(comp.Pos, comp.Radius, comp.Start)
			if open {
				emit("l", start)
			} else {
				emit("m", start)
			}
			n := max(1, int(math.Ceil(math.Abs(comp.Angle)/(math.Pi/2)-1e-9)))
			step := comp.Angle / float64(n)
			reach := comp.Radius * vg.Length(4./3*math.Tan(step/4))
			for i := range n {
				a0 := comp.Start + float64(i)*step
				a1 := a0 + step
				p0, p1 := onCircle(comp.Pos, comp.Radius, a0), onCircle(comp.Pos, comp.Radius, a1)
				emit("c", tangent(p0, reach, a0), tangent(p1, -reach, a1), p1)
			}
		case vg.CloseComp:
			if open {
				b.WriteString("h ")
			}
		}
	}
	return b.String()
}

func towards(a, b vg.Point, share float64) vg.Point {
	return a.Add(b.Sub(a).Scale(vg.Length(share)))
}

func onCircle(centre vg.Point, r vg.Length, angle float64) vg.Point {
	sin, cos := math.Sincos(angle)
	return vg.Point{X: centre.X + r*vg.Length(cos), Y: centre.Y + r*vg.Length(sin)}
}

func tangent(p vg.Point, length vg.Length, angle float64) vg.Point {
	sin, cos := math.Sincos(angle)
	return vg.Point{X: p.X - length*vg.Length(sin), Y: p.Y + length*vg.Length(cos)}
}

// FillString implements vg.Canvas. Every face is one of the package's own: bold, italic, or mono.
func (c *Canvas) FillString(f font.Face, pt vg.Point, text string) {
	text = c.text.Clean(text)
	if f.Font.Size <= 0 || strings.TrimSpace(text) == "" {
		return
	}
	s := c.top()
	c.text.Use(faceOf(f.Font), f.Font.Size.Points())
	_, page := c.doc.GetPageSize()
	m := s.matrix
	x, y := pt.X.Points(), pt.Y.Points()
	e, g := m[0]*x+m[2]*y+m[4], m[1]*x+m[3]*y+m[5]
	c.doc.SetTextColor(int(s.color.R), int(s.color.G), int(s.color.B))
	defer c.doc.SetTextColor(0, 0, 0)
	c.raw("q")
	if s.color.A != 0xFF {
		c.doc.SetAlpha(float64(s.color.A)/0xFF, "Normal")
		defer c.doc.SetAlpha(1, "Normal")
	}
	c.raw("%s %s cm", numbers6(m[0], m[1], m[2], m[3]), numbers(e, g))
	c.doc.Text(0, page, text)
	c.raw("Q")
}

func faceOf(f font.Font) Face {
	switch {
	case strings.EqualFold(string(f.Variant), "mono"):
		return Mono
	case f.Weight >= stdfont.WeightSemiBold:
		return Bold
	case f.Style != stdfont.StyleNormal:
		return Italic
	}
	return Regular
}

// DrawImage implements vg.Canvas. The image is embedded once, however often it is drawn.
func (c *Canvas) DrawImage(r vg.Rectangle, img image.Image) {
	var b bytes.Buffer
	flat := image.NewNRGBA(image.Rect(0, 0, img.Bounds().Dx(), img.Bounds().Dy())) // 8 bits, which fpdf reads
	for y := range flat.Rect.Dy() {
		for x := range flat.Rect.Dx() {
			flat.Set(x, y, img.At(img.Bounds().Min.X+x, img.Bounds().Min.Y+y))
		}
	}
	if flat.Rect.Empty() {
		return
	}
	if err := png.Encode(&b, flat); err != nil {
		c.doc.SetError(err)
		return
	}
	sum := sha256.Sum256(b.Bytes())
	name := hex.EncodeToString(sum[:])
	options := fpdf.ImageOptions{ImageType: "PNG", AllowNegativePosition: true}
	c.doc.RegisterImageOptionsReader(name, options, &b)

	_, page := c.doc.GetPageSize()
	cursorX, cursorY := c.doc.GetXY()
	c.raw("q %s %s cm", numbers6(c.top().matrix[:4]...), numbers(c.top().matrix[4:]...))
	c.doc.ImageOptions(name, r.Min.X.Points(), page-r.Max.Y.Points(), (r.Max.X - r.Min.X).Points(), (r.Max.Y - r.Min.Y).Points(),
		false, options, 0, "")
	c.raw("Q")
	c.doc.SetXY(cursorX, cursorY)
}

func (c *Canvas) raw(format string, args ...any) {
	c.doc.RawWriteStr(fmt.Sprintf(format, args...) + "\n")
}

func rgb(c color.NRGBA) string {
	return numbers6(float64(c.R)/0xFF, float64(c.G)/0xFF, float64(c.B)/0xFF)
}

func numbers(xs ...float64) string { return join(xs, 2) }

func numbers6(xs ...float64) string { return join(xs, 4) }

// join writes numbers as PDF wants them: no exponent, and nothing that is not a number.
func join(xs []float64, decimals int) string {
	var b strings.Builder
	for i, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			x = 0
		}
		if i > 0 {
			b.WriteByte(' ')
		}
		n := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.*f", decimals, x), "0"), ".")
		if n == "-0" || n == "" {
			n = "0"
		}
		b.WriteString(n)
	}
	return b.String()
}

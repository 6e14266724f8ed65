package pdf

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"regexp"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// page makes a document of one page, 300 by 400 points, with a canvas of 100 by 50 at 20, 30 from its top left.
func page(t testing.TB) (*fpdf.Fpdf, *Type, *Canvas) {
	t.Helper()
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: 300, Ht: 400}})
	doc.SetCompression(false)
	ty, err := NewType(doc)
	if err != nil {
		t.Fatal(err)
	}
	doc.AddPage()
	return doc, ty, NewCanvas(doc, ty, 20, 30, 100, 50)
}

// written closes the canvas and returns the page's operators, and checks that what was saved was restored.
func written(t testing.TB, doc *fpdf.Fpdf, c *Canvas) string {
	t.Helper()
	stream, _ := output(t, doc, c)
	return stream
}

// output is written with the whole file beside it.
func output(t testing.TB, doc *fpdf.Fpdf, c *Canvas) (stream, file string) {
	t.Helper()
	c.Close()
	var b bytes.Buffer
	if err := doc.Output(&b); err != nil {
		t.Fatal(err)
	}
	_, stream, ok := strings.Cut(b.String(), "stream\n")
	if !ok {
		t.Fatal("no page stream")
	}
	stream, _, _ = strings.Cut(stream, "endstream")
	if q, back := count(stream, `q`), count(stream, `Q`); q != back {
		t.Errorf("%d q and %d Q in:\n%s", q, back, stream)
	}
	return stream, b.String()
}

func count(stream, operator string) int {
	n := 0
	for _, f := range strings.Fields(stream) {
		if f == operator {
			n++
		}
	}
	return n
}

func square() vg.Path {
	return vg.Rectangle{Min: vg.Point{X: 10, Y: 10}, Max: vg.Point{X: 20, Y: 20}}.Path()
}

func face(size vg.Length) font.Face {
	return font.Face{Font: font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}}
}

// fpdf's own path functions move the text cursor, and plots then land on later text.
func TestDrawingLeavesTheTextCursorAlone(t *testing.T) {
	doc, ty, c := page(t)
	ty.Use(Regular, 10)
	doc.SetXY(33, 44)
	c.Stroke(square())
	c.Fill(square())
	c.FillString(face(9), vg.Point{X: 5, Y: 5}, "Žofie")
	c.DrawImage(vg.Rectangle{Max: vg.Point{X: 10, Y: 10}}, image.NewGray(image.Rect(0, 0, 2, 2)))
	written(t, doc, c)
	if x, y := doc.GetXY(); x != 33 || y != 44 {
		t.Errorf("the text cursor moved to %g, %g", x, y)
	}
}

// The origin is the bottom left of the canvas: 20 from the left, 400 − 30 − 50 = 320 from the page's bottom.
func TestPlaceAndClipping(t *testing.T) {
	doc, _, c := page(t)
	c.Fill(square())
	s := written(t, doc, c)
	for _, want := range []string{"20 320 100 50 re W n", "30 330 m", "40 340 l", "0 0 0 rg"} {
		if !strings.Contains(s, want) {
			t.Errorf("%q is not in:\n%s", want, s)
		}
	}
}

// vg hands over premultiplied colours; the page must get the colour itself and the alpha beside it.
func TestAlpha(t *testing.T) {
	doc, _, c := page(t)
	c.SetColor(color.NRGBA{R: 0xD5, G: 0x5E, A: 80})
	c.Fill(square())
	c.SetColor(color.RGBA{R: 67, G: 29, A: 80}) // the same, premultiplied
	c.Fill(square())
	c.SetColor(nil)
	c.Fill(square())
	s, file := output(t, doc, c)
	if n := strings.Count(s, "0.8353 0.3686 0 rg"); n != 1 { // 213/255, 94/255
		t.Errorf("the vermilion is printed %d times in:\n%s", n, s)
	}
	if n := strings.Count(s, "0.8392 0.3608 0 rg"); n != 1 { // 67·255/80 = 213.6, 29·255/80 = 92.4
		t.Errorf("the premultiplied vermilion is printed %d times in:\n%s", n, s)
	}
	if !strings.Contains(file, "/ca 0.314") { // 80/255
		t.Error("no alpha of 0.314 in the file")
	}
}

func TestDashesEndWithTheirPath(t *testing.T) {
	doc, _, c := page(t)
	c.SetLineDash([]vg.Length{3, 2}, 1)
	c.SetLineWidth(0.9)
	c.Stroke(square())
	c.SetLineDash(nil, 0)
	c.Stroke(square())
	c.SetLineWidth(0)
	c.Stroke(square()) // not drawn
	s := written(t, doc, c)
	if !strings.Contains(s, "0.9 w [3 2] 1 d") || !strings.Contains(s, "0.9 w [] 0 d") || count(s, "S") != 2 {
		t.Errorf("strokes:\n%s", s)
	}
}

func TestPushAndPop(t *testing.T) {
	doc, _, c := page(t)
	c.SetColor(color.White)
	c.Push()
	c.SetColor(color.NRGBA{R: 0xFF, A: 0xFF})
	c.SetLineDash([]vg.Length{1}, 0)
	c.Translate(vg.Point{X: 5, Y: 7})
	c.Scale(2, 2)
	c.SetLineWidth(1.5)
	c.Stroke(square())
	c.Pop()
	c.Stroke(square())
	c.Pop() // one too many
	c.Stroke(square())
	s := written(t, doc, c)
	// (10, 10) scaled by 2, moved by 5, 7 and by the canvas's 20, 320.
	for _, want := range []string{"3 w [2] 0 d 1 0 0 RG 45 347 m", "1 w [] 0 d 1 1 1 RG 30 330 m"} {
		if !strings.Contains(s, want) {
			t.Errorf("%q is not in:\n%s", want, s)
		}
	}
}

func TestTextTurnsAndScales(t *testing.T) {
	doc, _, c := page(t)
	c.Push()
	c.Rotate(math.Pi / 2)
	c.FillString(face(9), vg.Point{X: 10, Y: -4}, "weight")
	c.Pop()
	c.FillString(font.Face{Font: font.Font{Variant: "Sans", Weight: stdfont.WeightBold, Size: 9}}, vg.Point{X: 1, Y: 2}, "bold")
	c.FillString(font.Face{Font: font.Font{Variant: "Sans", Style: stdfont.StyleItalic, Size: 9}}, vg.Point{X: 1, Y: 2}, "italic")
	c.FillString(face(0), vg.Point{}, "not drawn")
	s := written(t, doc, c)
	// A quarter turn takes (10, −4) to (4, 10).
	if !strings.Contains(s, "0 1 -1 0 24 330 cm") {
		t.Errorf("no quarter turn in:\n%s", s)
	}
	if n := len(regexp.MustCompile(`/F[0-9a-f]+ 9\.00 Tf`).FindAllString(s, -1)); n != 3 {
		t.Errorf("%d texts of 9 pt in:\n%s", n, s)
	}
	if !strings.Contains(s, "1 0 0 1 21 322 cm") {
		t.Errorf("no text at 1, 2 in:\n%s", s)
	}
}

// A circle returns to where it began, in four curves; a quadratic curve is raised to a cubic one; a path
// without a start or with odd control points is no reason to panic.
func TestCurves(t *testing.T) {
	doc, _, c := page(t)
	var circle vg.Path
	circle.Move(vg.Point{X: 60, Y: 25})
	circle.Arc(vg.Point{X: 50, Y: 25}, 10, 0, 2*math.Pi)
	circle.Close()
	c.Fill(circle)
	s := written(t, doc, c)
	if count(s, "c") != 4 || !strings.Contains(s, "80 345 c h f") { // 60+20, 25+320
		t.Errorf("circle:\n%s", s)
	}

	doc, _, c = page(t)
	var q vg.Path
	q.Move(vg.Point{})
	q.QuadTo(vg.Point{X: 30, Y: 30}, vg.Point{X: 60, Y: 0})
	c.Stroke(q)
	s = written(t, doc, c)
	if !strings.Contains(s, "40 340 60 340 80 320 c") { // controls at two thirds
		t.Errorf("quadratic curve:\n%s", s)
	}

	doc, _, c = page(t)
	c.Stroke(vg.Path{{Type: vg.CloseComp}, {Type: vg.ArcComp, Radius: 3, Angle: 1}, {Type: vg.CurveComp}, {Type: 99}})
	c.Fill(nil)
	c.Stroke(vg.Path{{Type: vg.MoveComp, Pos: vg.Point{X: vg.Length(math.NaN())}}})
	if s = written(t, doc, c); strings.Contains(s, "NaN") {
		t.Error(s)
	}
}

func TestImages(t *testing.T) {
	doc, _, c := page(t)
	img := image.NewNRGBA64(image.Rect(3, 3, 5, 5)) // 16 bits, not at the origin
	img.Set(3, 3, color.NRGBA{R: 0xFF, A: 0xFF})
	r := vg.Rectangle{Min: vg.Point{X: 10, Y: 20}, Max: vg.Point{X: 30, Y: 40}}
	c.DrawImage(r, img)
	c.DrawImage(r, img)
	c.DrawImage(r, image.NewGray(image.Rectangle{}))
	s := written(t, doc, c)
	if n := count(s, "Do"); n != 2 {
		t.Errorf("%d images drawn in:\n%s", n, s)
	}
	if !strings.Contains(s, "20.00000 0 0 20.00000 10.00000 20.00000 cm") {
		t.Errorf("not at its place:\n%s", s)
	}
}

package plots

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

var regenerate = flag.Bool("regen", false, "write the golden pictures anew; look at them afterwards")

func toPoints(x float64) vg.Length { return vg.Length(x) }

// lightness is CIE 1976 L* of an sRGB colour.
// Source: IEC 61966-2-1 (sRGB transfer and luminance), CIE 15:2004 eq. 8.3 (L*).
func lightness(c color.NRGBA) float64 {
	y := luminance(c)
	if y <= 216./24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

func luminance(c color.NRGBA) float64 {
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

// contrast is the ratio of WCAG 2.1, 1.4.3.
func contrast(a, b color.NRGBA) float64 {
	x, y := luminance(a)+0.05, luminance(b)+0.05
	return max(x, y) / min(x, y)
}

// A grey printer keeps lightness only: the ramp must fall in steps that an eye tells apart, and every digit
// must be readable on its shade.
func TestRampIsOrderedInGrey(t *testing.T) {
	th := Print()
	want := [4]float64{96, 84, 57, 27} // as the theme states them
	last := 101.0
	for grade, c := range th.Ramp {
		l := lightness(c)
		if math.Abs(l-want[grade]) > 1 {
			t.Errorf("grade %d has L* %.1f, stated %g", grade, l, want[grade])
		}
		if last-l < 4 {
			t.Errorf("grade %d (L* %.1f) is hardly darker than the one before (%.1f)", grade, l, last)
		}
		last = l
		ink := th.inkOn(grade).(color.NRGBA)
		if r := contrast(ink, c); r < 4.5 {
			t.Errorf("type on grade %d has a contrast of %.1f : 1", grade, r)
		}
	}
	for name, c := range map[string]color.NRGBA{"ink": th.Ink, "muted": th.Muted, "bird": th.Bird} {
		if r := contrast(c, th.Paper); r < 4.5 {
			t.Errorf("%s on paper has a contrast of %.1f : 1", name, r)
		}
	}
	// The bird's bar lies on the band, and the estimate's tick on the bar.
	if d := lightness(th.Band) - lightness(th.Bird); d < 40 {
		t.Errorf("bar and band differ by %.0f in lightness", d)
	}
}

// The drawn ramp, not only its definition, is ordered after conversion to grey.
func TestDrawnRampIsOrderedInGrey(t *testing.T) {
	k := Calendar{Measure: " ", Columns: []string{"a", "b", "c", "d"}, Rows: []CalendarRow{{Label: "r"}}}
	for g := range 4 {
		k.Rows[0].Cells = append(k.Rows[0].Cells, CalendarCell{Looked: true, Grade: g, Text: "1"})
	}
	img := drawn(t, Figure{Name: "k", Alt: "a", Width: 100, Height: 30, Panel: k}, 60, 0)
	// Walk along the row of cells, below their digits, and take the shades in order.
	y := img.Bounds().Dy() * 3 / 4
	var shades []uint8
	for x := range img.Bounds().Dx() {
		g := color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y
		if n := len(shades); n == 0 || shades[n-1] != g {
			shades = append(shades, g)
		}
	}
	ramp := Print().Ramp
	next := 0
	for _, s := range shades {
		if next < 4 && s == color.GrayModel.Convert(ramp[next]).(color.Gray).Y {
			next++
		}
	}
	if next != 4 {
		t.Errorf("the four shades do not follow each other: %v", shades)
	}
}

// drawn draws a figure on white with a margin around it.
func drawn(t *testing.T, f Figure, dpi int, margin vg.Length) image.Image {
	t.Helper()
	w, h := f.Size()
	c := vgimg.NewWith(vgimg.UseWH(w+2*margin, h+2*margin), vgimg.UseDPI(dpi))
	inner := draw.Crop(draw.New(c), margin, -margin, margin, -margin)
	if err := f.Draw(inner, Print()); err != nil {
		t.Fatal(err)
	}
	return c.Image()
}

func TestInkStaysInsideTheFigure(t *testing.T) {
	const margin, dpi = 20, 100
	figures := sampleFigures()
	narrow := figures[0]
	narrow.Width, narrow.Height = 60, 45
	odd := figures[3]
	odd.Width = 70
	figures = append(figures, narrow, odd)
	for _, f := range figures {
		img := drawn(t, f, dpi, margin)
		b := img.Bounds()
		edge := margin * dpi / 72
		for y := range b.Dy() {
			for x := range b.Dx() {
				inside := x >= edge-1 && x <= b.Dx()-edge && y >= edge-1 && y <= b.Dy()-edge
				if !inside && color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y < 250 {
					t.Fatalf("%s (%g mm wide): ink at %d, %d of %d × %d, outside its %d px margin", f.Name, f.Width, x, y, b.Dx(), b.Dy(), edge)
				}
			}
		}
	}
}

// The pictures are compared with those looked at when they were made; small differences of rasterising
// between machines are let pass.
func TestPicturesLookAsTheyDid(t *testing.T) {
	for _, f := range sampleFigures() {
		var b bytes.Buffer
		if err := f.PNG(&b, Print(), 60); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join("testdata", f.Name+".png")
		if *regenerate {
			if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		golden, err := os.ReadFile(path)
		if err != nil {
			t.Fatalf("%v; run the test with -regen and look at the picture", err)
		}
		want, err := png.Decode(bytes.NewReader(golden))
		if err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds() != want.Bounds() {
			t.Errorf("%s: %v, was %v", f.Name, got.Bounds(), want.Bounds())
			continue
		}
		if d := difference(got, want); d > 0.002 {
			t.Errorf("%s: %.2f %% of the picture differs visibly", f.Name, d*100)
		}
	}
}

// difference is the share of pixels whose grey differs by more than an eighth of the scale.
func difference(a, b image.Image) float64 {
	n, r := 0, a.Bounds()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			p := int(color.GrayModel.Convert(a.At(x, y)).(color.Gray).Y)
			q := int(color.GrayModel.Convert(b.At(x, y)).(color.Gray).Y)
			if p-q > 32 || q-p > 32 {
				n++
			}
		}
	}
	return float64(n) / float64(r.Dx()*r.Dy())
}

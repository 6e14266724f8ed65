package plots

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// FontStack is the type of figures on screen. The first three have the same widths, so nothing is embedded.
const FontStack = `'Liberation Sans',Arial,Helvetica,sans-serif`

// SVG writes the figure as an SVG element to stand in an HTML page or alone: no prologue, a title and a
// description for screen readers, type as text. The id must be unique in the page; it becomes the prefix of
// the element's ids.
func (f Figure) SVG(w io.Writer, t Theme, id string) error {
	width, height := f.Size()
	if err := f.Validate(); err != nil {
		return err
	}
	canvas := vgsvg.New(width, height)
	if err := f.Draw(draw.New(canvas), t); err != nil {
		return err
	}
	var raw bytes.Buffer
	if _, err := canvas.WriteTo(&raw); err != nil {
		return fmt.Errorf("figure %q: %w", f.Name, err)
	}
	_, body, ok := strings.Cut(raw.String(), "xlink\">\n")
	if !ok {
		return fmt.Errorf("figure %q: the SVG canvas wrote an element of another shape than expected", f.Name)
	}
	// The canvas repeats the font in every element as an inline style, which no page could override.
	body = strings.NewReplacer(
		"font-family:Liberation Sans;font-variant:normal;font-weight:normal;font-style:normal;", "",
		"font-family:Liberation Sans;font-variant:normal;font-weight:bold;font-style:normal;", "font-weight:bold;",
		"\n\tstyle=", " style=",
	).Replace(body)
	_, err := fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" role="img" id="%[1]s" aria-labelledby="%[1]s-t %[1]s-d" `+
		`width="%.2[2]fmm" height="%.2[3]fmm" viewBox="0 0 %.2[4]f %.2[5]f" style="font-family:%[6]s">`+"\n"+
		`<title id="%[1]s-t">%[7]s</title><desc id="%[1]s-d">%[8]s</desc>`+"\n%[9]s",
		escape(id), f.Width, f.Height, width.Points(), height.Points(), FontStack, escape(f.name()), escape(f.Alt), body)
	return err
}

func (f Figure) name() string {
	if f.Title != "" {
		return f.Title
	}
	return f.Name
}

func escape(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil { // a Builder does not fail
		return ""
	}
	return b.String()
}

// PNG writes the figure as a bitmap on white. A name that the face cannot set shows boxes there.
func (f Figure) PNG(w io.Writer, t Theme, dpi int) error {
	if err := f.Validate(); err != nil {
		return err
	}
	if dpi < 10 || dpi > 600 {
		return fmt.Errorf("figure %q: %d dots per inch; use 10 to 600", f.Name, dpi)
	}
	width, height := f.Size()
	if pixels := width.Points() * height.Points() / 72 / 72 * float64(dpi*dpi); pixels > 1e8 {
		return fmt.Errorf("figure %q: %.0f million pixels; use fewer dots per inch", f.Name, pixels/1e6)
	}
	canvas := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi))
	if err := f.Draw(draw.New(canvas), t); err != nil {
		return err
	}
	_, err := vgimg.PngCanvas{Canvas: canvas}.WriteTo(w)
	return err
}

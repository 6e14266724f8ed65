package render

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/jpeg"
	"image/png"
	"math"
)

// Limits on pictures: larger ones are refused before they are unpacked.
const (
	maxPixels    = 40_000_000
	defaultWidth = 80.0 // mm, as printed
)

// clean decodes the picture and encodes it anew, which keeps its pixels and drops all that the file carried
// beside them. The format is "png" or "jpeg" as it was.
func (i Image) clean() (data []byte, format string, size image.Point, err error) {
	config, format, err := image.DecodeConfig(bytes.NewReader(i.Data))
	if err != nil || (format != "png" && format != "jpeg") {
		return nil, "", image.Point{}, fmt.Errorf("picture %q is not a PNG or JPEG that can be read", i.Alt)
	}
	if config.Width < 1 || config.Height < 1 || config.Width > maxPixels/config.Height {
		return nil, "", image.Point{}, fmt.Errorf("picture %q has %d × %d pixels; use at most %d million", i.Alt, config.Width, config.Height, maxPixels/1_000_000)
	}
	img, _, err := image.Decode(bytes.NewReader(i.Data))
	if err != nil {
		return nil, "", image.Point{}, fmt.Errorf("picture %q is damaged: %w", i.Alt, err)
	}
	var b bytes.Buffer
	if format == "jpeg" {
		err = jpeg.Encode(&b, img, &jpeg.Options{Quality: 88})
	} else {
		flat := image.NewNRGBA(image.Rectangle{Max: img.Bounds().Size()}) // 8 bits, not interlaced: what fpdf reads
		for y := range flat.Rect.Dy() {
			for x := range flat.Rect.Dx() {
				flat.Set(x, y, img.At(img.Bounds().Min.X+x, img.Bounds().Min.Y+y))
			}
		}
		err = png.Encode(&b, flat)
	}
	return b.Bytes(), format, img.Bounds().Size(), err
}

// printed is the size in mm at which a picture of so many pixels stands on the page, at most the page's width.
func (i Image) printed(size image.Point) (width, height float64) {
	width = i.Width
	if !(width > 0) || math.IsInf(width, 0) {
		width = defaultWidth
	}
	width = min(width, textWidthMM)
	height = width * float64(size.Y) / float64(size.X)
	if limit := textHeightMM * 0.8; height > limit {
		width, height = width*limit/height, limit
	}
	return width, height
}

func (h *htmlWriter) image(i Image) (template.HTML, error) {
	data, format, size, err := i.clean()
	if err != nil {
		return h.execute("preformatted", Preformatted{Text: err.Error(), Error: true})
	}
	width, height := i.printed(size)
	const cssPixels = 96 / 25.4 // to the mm
	return h.execute("image", map[string]any{
		"Source": template.URL("data:image/" + format + ";base64," + base64.StdEncoding.EncodeToString(data)),
		"Alt":    i.Alt, "Caption": i.Caption,
		"Width": int(width * cssPixels), "Height": int(height * cssPixels),
	})
}

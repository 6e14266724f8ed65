package render

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
)

const (
	photoPixels  = 800  // of the longer side: more is not seen at the size of a page's corner
	photoWidthMM = 50.0 // as printed
)

// Photo makes a picture for a bird's page of a photograph: turned as the camera held it, no larger than the page needs,
// encoded anew, so that place, time and camera are not passed on. It refuses what is neither JPEG nor PNG, what is
// damaged, and more than 40 million pixels.
func Photo(file []byte, of string) (Image, error) {
	raw := Image{Data: file, Alt: "photograph of " + of}
	data, _, _, err := raw.clean()
	if err != nil {
		return Image{}, err
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return Image{}, fmt.Errorf("picture %q: %w", raw.Alt, err)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, shrunk(turned(img, orientation(file)), photoPixels), &jpeg.Options{Quality: 85}); err != nil {
		return Image{}, err
	}
	return Image{Data: b.Bytes(), Alt: raw.Alt, Width: photoWidthMM}, nil
}

// orientation reads how a camera was held, 1 to 8, from a JPEG file; 1, upright, where it does not say.
//
// Source: CIPA DC-008, Exchangeable image file format (Exif) 2.32, 4.6.4, tag 0x0112 (from memory).
func orientation(file []byte) int {
	if len(file) < 4 || file[0] != 0xFF || file[1] != 0xD8 {
		return 1
	}
	for at := 2; at+4 <= len(file) && file[at] == 0xFF; {
		marker, size := file[at+1], int(binary.BigEndian.Uint16(file[at+2:]))
		if marker == 0xDA || size < 2 || at+2+size > len(file) {
			return 1
		}
		if segment := file[at+4 : at+2+size]; marker == 0xE1 && bytes.HasPrefix(segment, []byte("Exif\x00\x00")) {
			return exifOrientation(segment[6:])
		}
		at += 2 + size
	}
	return 1
}

// exifOrientation looks the tag up in the first directory of an Exif block.
func exifOrientation(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if tiff[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(tiff[4:]))
	if at+2 > int64(len(tiff)) {
		return 1
	}
	entries := int64(order.Uint16(tiff[at:]))
	for i := range entries {
		e := at + 2 + 12*i
		if e+12 > int64(len(tiff)) {
			return 1
		}
		if order.Uint16(tiff[e:]) == 0x0112 {
			if v := int(order.Uint16(tiff[e+8:])); v >= 1 && v <= 8 {
				return v
			}
			return 1
		}
	}
	return 1
}

// turned is a picture set upright.
func turned(img image.Image, how int) image.Image {
	if how == 1 {
		return img
	}
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	size := image.Rect(0, 0, w, h)
	if how >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	out := image.NewNRGBA(size)
	for y := range h {
		for x := range w {
			tx, ty := x, y
			switch how {
			case 2:
				tx = w - 1 - x
			case 3:
				tx, ty = w-1-x, h-1-y
			case 4:
				ty = h - 1 - y
			case 5:
				tx, ty = y, x
			case 6:
				tx, ty = h-1-y, x
			case 7:
				tx, ty = h-1-y, w-1-x
			case 8:
				tx, ty = y, w-1-x
			}
			out.Set(tx, ty, img.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	return out
}

// shrunk makes the longer side of a picture at most so many pixels, each the mean of those it stands for.
func shrunk(img image.Image, most int) image.Image {
	b := img.Bounds()
	long := max(b.Dx(), b.Dy())
	if long <= most {
		return img
	}
	w, h := max(1, b.Dx()*most/long), max(1, b.Dy()*most/long)
	out := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			out.SetNRGBA(x, y, mean(img, image.Rect(b.Min.X+x*b.Dx()/w, b.Min.Y+y*b.Dy()/h, b.Min.X+(x+1)*b.Dx()/w, b.Min.Y+(y+1)*b.Dy()/h)))
		}
	}
	return out
}

func mean(img image.Image, of image.Rectangle) color.NRGBA {
	var r, g, b, n uint64
	for y := of.Min.Y; y < of.Max.Y; y++ {
		for x := of.Min.X; x < of.Max.X; x++ {
			pr, pg, pb, pa := img.At(x, y).RGBA()
			white := 0xFFFF - uint64(pa) // what shows through stands on the white of the page
			r, g, b, n = r+uint64(pr)+white, g+uint64(pg)+white, b+uint64(pb)+white, n+1
		}
	}
	if n == 0 {
		return color.NRGBA{255, 255, 255, 255}
	}
	return color.NRGBA{uint8(r / n >> 8), uint8(g / n >> 8), uint8(b / n >> 8), 255}
}

// WithPhotos sets each picture beside the facts of its page: the page whose heading is the picture's key.
func (bs Blocks) WithPhotos(photos map[string]Image) Blocks {
	out := make(Blocks, 0, len(bs))
	page := ""
	for _, b := range bs {
		switch b := b.(type) {
		case Group:
			out = append(out, Group{b.Blocks.WithPhotos(photos)})
			continue
		case Heading:
			page = b.Text
		case Facts:
			if photo, ok := photos[page]; ok {
				out = append(out, Columns{Columns: []Blocks{{b}, {photo}}, Widths: []float64{3.4, 1}})
				page = ""
				continue
			}
		}
		out = append(out, b)
	}
	return out
}

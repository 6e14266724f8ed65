package render

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
)

// held is a JPEG of 1600 by 800 pixels, its left half black, with an Exif block that says how the camera was held and
// where.
func held(t *testing.T, how uint16) []byte {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 1600, 800))
	for y := range 800 {
		for x := range 1600 {
			c := color.NRGBA{255, 255, 255, 255}
			if x < 800 {
				c = color.NRGBA{0, 0, 0, 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	exif := append([]byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01"), 0, 0, 0, 0, 0, 0, 0, 0)
	binary.BigEndian.PutUint16(exif[len(exif)-8:], how)
	exif = append(exif, []byte("GPS 51.5N 0.1W")...)
	head := []byte{0xFF, 0xE1, 0, 0}
	binary.BigEndian.PutUint16(head[2:], uint16(len(exif)+2))
	file := append([]byte{}, b.Bytes()[:2]...)
	return append(append(append(file, head...), exif...), b.Bytes()[2:]...)
}

func TestAPhotographIsTurnedShrunkAndStripped(t *testing.T) {
	// where the black half must lie, by the eight orientations of Exif (CIPA DC-008, 4.6.4)
	for how, black := range map[uint16]image.Point{1: {10, 200}, 2: {790, 200}, 3: {790, 200}, 4: {10, 200}, 5: {200, 10}, 6: {200, 10}, 7: {200, 790}, 8: {200, 790}} {
		photo, err := Photo(held(t, how), "R12")
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(photo.Data, []byte("GPS")) || bytes.Contains(photo.Data, []byte("Exif")) {
			t.Errorf("orientation %d: the place is still in the file", how)
		}
		img, err := jpeg.Decode(bytes.NewReader(photo.Data))
		if err != nil {
			t.Fatal(err)
		}
		if size := img.Bounds().Size(); max(size.X, size.Y) != photoPixels || (how >= 5) != (size.Y > size.X) {
			t.Errorf("orientation %d: %v pixels", how, size)
		}
		if r, _, _, _ := img.At(black.X, black.Y).RGBA(); r > 0x4000 {
			t.Errorf("orientation %d: not black at %v", how, black)
		}
	}
	for _, bad := range [][]byte{nil, []byte("GIF89a"), held(t, 1)[:60]} {
		if _, err := Photo(bad, "R12"); err == nil {
			t.Errorf("%d bytes of rubbish passed for a photograph", len(bad))
		}
	}
}

func TestAPhotographStandsBesideTheFactsOfItsBird(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 4, 4))); err != nil {
		t.Fatal(err)
	}
	photo, err := Photo(b.Bytes(), "R12 Dot")
	if err != nil {
		t.Fatal(err)
	}
	page := Blocks{Heading{Text: "R12 Dot"}, Facts{}, Facts{}, Group{Blocks{Heading{Text: "R13"}, Facts{}}}}
	out := page.WithPhotos(map[string]Image{"R12 Dot": photo})
	if _, ok := out[1].(Columns); !ok || len(out) != len(page) {
		t.Errorf("%T beside the heading", out[1])
	}
	if _, ok := out[2].(Facts); !ok {
		t.Error("the picture stands twice")
	}
	if _, ok := out[3].(Group).Blocks[1].(Facts); !ok {
		t.Error("another bird has the picture")
	}
}

func FuzzOrientation(f *testing.F) {
	f.Add([]byte{0xFF, 0xD8, 0xFF, 0xE1, 0, 8, 'E', 'x', 'i', 'f', 0, 0})
	f.Add([]byte("\xFF\xD8\xFF\xE1\x00\x20Exif\x00\x00II\x2a\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00\x06\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, file []byte) {
		if o := orientation(file); o < 1 || o > 8 {
			t.Errorf("orientation %d", o)
		}
	})
}

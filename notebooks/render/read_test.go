package render

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"
)

// said is one text on a page of a PDF, with its place in points from the page's bottom left and its size.
type said struct {
	x, y, size float64
	text       string
}

var (
	streams  = regexp.MustCompile(`(?s)stream\n(.*?)\nendstream`)
	operator = regexp.MustCompile(`(?s)BT /F\w+ ([\d.]+) Tf ET|BT (-?[\d.]+) (-?[\d.]+) Td \(((?:\\.|[^\\)])*)\) Tj ET|(-?[\d.]+(?: -?[\d.]+){5}) cm`)
)

// readPDF returns the texts of each page, in the order in which they were written. It knows just enough of
// PDF for what this package writes.
func readPDF(t testing.TB, file []byte) [][]said {
	t.Helper()
	var pages [][]said
	for _, m := range streams.FindAllSubmatch(file, -1) {
		r, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue
		}
		content, err := io.ReadAll(r)
		if err != nil || !bytes.Contains(content, []byte(" Tf ET")) {
			continue
		}
		pages = append(pages, texts(content))
	}
	return pages
}

func texts(content []byte) []said {
	var out []said
	size, moveX, moveY := 0.0, 0.0, 0.0
	for _, m := range operator.FindAllSubmatch(content, -1) {
		switch {
		case m[1] != nil:
			size = number(m[1])
			moveX, moveY = 0, 0 // figures set the font before they move
		case m[5] != nil:
			f := strings.Fields(string(m[5]))
			moveX, moveY = number([]byte(f[4])), number([]byte(f[5]))
		default:
			out = append(out, said{number(m[2]) + moveX, number(m[3]) + moveY, size, fromUTF16(m[4])})
			moveX, moveY = 0, 0
		}
	}
	return out
}

func number(b []byte) float64 {
	x, _ := strconv.ParseFloat(string(b), 64)
	return x
}

func fromUTF16(escaped []byte) string {
	var raw []byte
	for i := 0; i < len(escaped); i++ {
		if escaped[i] == '\\' && i+1 < len(escaped) {
			i++
			if escaped[i] == 'r' {
				raw = append(raw, '\r')
				continue
			}
		}
		raw = append(raw, escaped[i])
	}
	var units []uint16
	for i := 0; i+1 < len(raw); i += 2 {
		units = append(units, uint16(raw[i])<<8|uint16(raw[i+1]))
	}
	return string(utf16.Decode(units))
}

// all joins the texts of a page as they follow each other.
func all(page []said) string {
	var parts []string
	for _, s := range page {
		parts = append(parts, s.text)
	}
	return strings.Join(parts, " ")
}

func makePDF(t testing.TB, d Document, p Paper) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := d.PDF(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func makeHTML(t testing.TB, d Document, p Paper) string {
	t.Helper()
	var b strings.Builder
	if err := d.HTML(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

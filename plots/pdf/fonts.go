package pdf

import (
	"strings"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationmonoregular"
	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// Face is one of the faces that a page is set in: Liberation Sans in three cuts and Liberation Mono.
type Face uint8

// The faces.
const (
	Regular Face = iota
	Bold
	Italic
	Mono
)

// The names under which fpdf knows the faces.
const (
	sans = "sans"
	mono = "mono"
)

// names returns fpdf's family and style of a face.
func (f Face) names() (family, style string) {
	switch f {
	case Bold:
		return sans, "B"
	case Italic:
		return sans, "I"
	case Mono:
		return mono, ""
	}
	return sans, ""
}

func (f Face) bytes() []byte {
	switch f {
	case Bold:
		return liberationsansbold.TTF
	case Italic:
		return liberationsansitalic.TTF
	case Mono:
		return liberationmonoregular.TTF
	}
	return liberationsansregular.TTF
}

// StandIn is printed for every letter that the faces cannot set: emoji, Chinese, Arabic and whatever else
// lies outside their Latin, Greek, Cyrillic and signs.
const StandIn = '□'

// Type sets text in one fpdf document: it embeds the faces that are used, measures, and is the one gate that
// every string passes on its way to a page.
//
// The gate is needed: fpdf indexes its glyph table by the letter's number and panics above U+FFFF, and a
// letter that a face lacks prints as nothing.
type Type struct {
	doc     *fpdf.Fpdf
	loaded  [Mono + 1]bool
	covers  [Mono + 1]*sfnt.Font
	buffer  sfnt.Buffer
	set     map[rune]bool
	widths  [Mono + 1]map[rune]int
	current Face
}

// NewType makes the type for a document. The document's unit must be the point.
func NewType(doc *fpdf.Fpdf) (*Type, error) {
	t := &Type{doc: doc, set: map[rune]bool{}}
	for f := range t.covers {
		font, err := sfnt.Parse(Face(f).bytes())
		if err != nil {
			return nil, err
		}
		t.covers[f] = font
		t.widths[f] = map[rune]int{}
	}
	return t, nil
}

// Use selects a face and a size in points for the document's next text.
func (t *Type) Use(f Face, size float64) {
	family, style := f.names()
	if !t.loaded[f] {
		t.doc.AddUTF8FontFromBytes(family, style, f.bytes())
		t.loaded[f] = true
	}
	t.doc.SetFont(family, style, size)
	t.current = f
}

// Width returns the width in points of a cleaned text.
func (t *Type) Width(s string, f Face, size float64) float64 {
	units := 0
	for _, r := range s {
		w, ok := t.widths[f][r]
		if !ok {
			w = t.advance(r, f)
			t.widths[f][r] = w
		}
		units += w
	}
	return float64(units) * size / 1000
}

// advance is the width of a letter in thousandths of the size, as fpdf rounds it.
func (t *Type) advance(r rune, f Face) int {
	font := t.covers[f]
	units := font.UnitsPerEm()
	i, err := font.GlyphIndex(&t.buffer, r)
	if err != nil {
		return 500
	}
	w, err := font.GlyphAdvance(&t.buffer, i, fixed.Int26_6(units), 0)
	if err != nil {
		return 500
	}
	return (int(w)*1000 + int(units)/2) / int(units)
}

// Clean passes a text through the gate: letters are composed (NFC), line breaks and tabs become spaces, what
// only steers the direction or the joining of letters is dropped, and what the faces lack becomes a StandIn,
// one for a joined sequence such as a family emoji.
func (t *Type) Clean(s string) string {
	if plain(s) {
		return s
	}
	var b strings.Builder
	joined := false // the last rune was a joiner: the next belongs to the same picture
	for _, r := range norm.NFC.String(strings.ToValidUTF8(s, "\uFFFD")) {
		switch {
		case r == '\u200d':
			joined = true
			continue
		case unicode.IsSpace(r) && r != '\u00a0':
			b.WriteByte(' ')
		case r == '\u2011': // a hyphen that does not break; the faces have the other
			b.WriteByte('-')
		case silent(r):
			continue
		case t.has(r):
			b.WriteRune(r)
		case !joined:
			b.WriteRune(StandIn)
		}
		joined = false
	}
	return b.String()
}

// plain reports whether a text is printable ASCII, which always passes.
func plain(s string) bool {
	for i := range len(s) {
		if s[i] < ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}

// silent reports letters that have no shape of their own: direction marks, soft hyphens, variation selectors,
// skin tones.
func silent(r rune) bool {
	return unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Variation_Selector, r) || (r >= 0x1F3FB && r <= 0x1F3FF)
}

// has reports whether every face can set the letter, so that a text means the same in each.
func (t *Type) has(r rune) bool {
	if r < ' ' || r > 0xFFFF {
		return false
	}
	ok, known := t.set[r]
	if !known {
		ok = true
		for _, font := range t.covers {
			if i, err := font.GlyphIndex(&t.buffer, r); err != nil || i == 0 {
				ok = false
			}
		}
		t.set[r] = ok
	}
	return ok
}

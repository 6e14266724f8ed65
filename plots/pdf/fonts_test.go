package pdf

import (
	"io"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
)

// The signs that reports are written with must be in every face, or they would print as stand-ins.
func TestSignsAreInEveryFace(t *testing.T) {
	_, ty, c := page(t)
	c.Close()
	const signs = "▲▼■□●○♀♂→½¼¾≤≥±°−–—…·×“”‘’₂²µ"
	if got := ty.Clean(signs); got != signs {
		t.Errorf("%q prints as %q", signs, got)
	}
	for _, name := range []string{"Žofie", "Łatka", "Ærø", "Señora Pía", "Großmutter Käthe", "Ōkubo", "Nguyệt", "Δήμητρα", "Жанна", "Şükrü", "Þóra"} {
		if got := ty.Clean(name); got != name {
			t.Errorf("%q prints as %q", name, got)
		}
	}
}

func TestClean(t *testing.T) {
	_, ty, c := page(t)
	c.Close()
	for in, want := range map[string]string{
		"":                            "",
		"R12":                         "R12",
		"Nguye\u0302\u0323t":          "Nguyệt",         // decomposed letters are composed
		"🐓 Henny":                     "□ Henny",        // above U+FFFF, where fpdf would panic
		"👩‍🌾 at work":                 "□ at work",      // a joined sequence is one picture
		"❤️x":                         "□x",             // a variation selector has no shape
		"日本":                          "□□",             // not in the faces
		"مرحبا":                       "□□□□□",          // nor would its letters join
		"a\tb\nc":                     "a b c",          //
		"a\u00adb\u200bc\u202ed":      "abcd",           // soft hyphen, zero width, direction
		"nul\x00":                     "nul□",           //
		"bad\xff":                     "bad" + "\uFFFD", // in the faces
		"12\u00a0g":                   "12\u00a0g",      // a space that does not break
		"\uFFFF":                      "□",              //
		strings.Repeat("\u0301", 300): strings.Repeat("\u0301", 300),
	} {
		got := ty.Clean(in)
		if in == "bad\xff" && got == "bad□" {
			continue // either is a visible stand-in
		}
		if in != "" && strings.Trim(in, "\u0301") == "" {
			continue // only that it ends
		}
		if got != want {
			t.Errorf("%q prints as %q, want %q", in, got, want)
		}
	}
}

// Widths are those that fpdf prints with, in each face.
func TestWidthsAgreeWithThePage(t *testing.T) {
	doc, ty, c := page(t)
	c.Close()
	for f := Regular; f <= Mono; f++ {
		ty.Use(f, 10)
		for _, s := range []string{"R12 Žofie", "−22 % · 90 of 100 cases", "▲ speaks for", "Nguyệt Δήμητρα Жанна", "WAVE fi ½ “x”"} {
			got, want := ty.Width(s, f, 10), doc.GetStringWidth(s)
			if got-want > 0.02*want || want-got > 0.02*want {
				t.Errorf("face %d, %q: %.3f pt, fpdf prints %.3f", f, s, got, want)
			}
		}
	}
}

// Whatever passed the gate can be printed.
func FuzzClean(f *testing.F) {
	for _, s := range []string{"", "Žofie", "🐓", "\xf0\x9f", "\uFFFF\uFFFE", "a\x00b", "e\u0301", "\u202e", "日本語", "()\\", strings.Repeat("x", 300)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: 300, Ht: 400}})
		ty, err := NewType(doc)
		if err != nil {
			t.Fatal(err)
		}
		clean := ty.Clean(s)
		if again := ty.Clean(clean); again != clean {
			t.Errorf("%q prints as %q, cleaned again as %q", s, clean, again)
		}
		if strings.TrimSpace(s) != "" && len(strings.Fields(s)) > 0 && plain(s) && clean != s {
			t.Errorf("%q prints as %q", s, clean)
		}
		doc.AddPage()
		ty.Use(Bold, 10)
		doc.Text(10, 10, clean)
		doc.Bookmark(clean, 0, 0)
		doc.SetTitle(clean, true)
		ty.Width(clean, Bold, 10)
		if err := doc.Output(io.Discard); err != nil {
			t.Fatal(err)
		}
	})
}

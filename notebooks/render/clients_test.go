//go:build clients

package render

import (
	"bytes"
	"fmt"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// These tests look at the pages with the programs that readers use. They fail where a program is missing:
// run them with `go test -tags clients ./notebooks/render/`.

func client(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is not installed; these tests need poppler-utils, qpdf and chromium", name)
	}
	cmd := exec.Command(path, args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s %s: %v\n%s%s", name, strings.Join(args, " "), err, out.String(), errs.String())
	}
	return out.String() + errs.String()
}

func save(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestPDFWithClients(t *testing.T) {
	for _, p := range []Paper{A4, Letter} {
		file := save(t, "sample.pdf", makePDF(t, sample(), p))
		client(t, "qpdf", "--check", file)

		text := client(t, "pdftotext", "-layout", file, "-")
		for i, n := range names {
			for _, want := range []string{n, fmt.Sprintf("R%02d", i+1)} {
				if !strings.Contains(text, want) {
					t.Errorf("%s: pdftotext does not find %q", p, want)
				}
			}
		}
		for _, want := range []string{"▲", "▼", "■", "○", "page 1 of", "−22 %"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: pdftotext does not find %q", p, want)
			}
		}

		fonts := strings.Split(strings.TrimSpace(client(t, "pdffonts", file)), "\n")[2:]
		if len(fonts) < 3 {
			t.Errorf("%s: fonts %q", p, fonts)
		}
		for _, f := range fonts {
			if !regexp.MustCompile(`yes +(yes|no) +yes +\d+ +\d+$`).MatchString(strings.TrimSpace(f)) { // embedded, with a map to Unicode
				t.Errorf("%s: font %q", p, f)
			}
		}
		if images := strings.Split(strings.TrimSpace(client(t, "pdfimages", "-list", file)), "\n"); len(images) > 2 {
			t.Errorf("%s: figures became bitmaps: %q", p, images)
		}
		info := client(t, "pdfinfo", file)
		size := map[Paper]string{A4: "595.28 x 841.89", Letter: "612 x 792"}[p]
		if !strings.Contains(info, size) || !strings.Contains(info, "Title:           Before the show: Low Barn flock") {
			t.Errorf("%s: %s", p, info)
		}
	}
}

// A printer sees grey: no ink may lie in the margins, on any page of either paper.
func TestNoInkInTheMargins(t *testing.T) {
	const dpi = 60
	for _, p := range []Paper{A4, Letter} {
		file := save(t, "sample.pdf", makePDF(t, sample(), p))
		client(t, "pdftoppm", "-r", fmt.Sprint(dpi), "-gray", "-png", file, strings.TrimSuffix(file, ".pdf"))
		pages, err := filepath.Glob(strings.TrimSuffix(file, ".pdf") + "-*.png")
		if err != nil || len(pages) < 5 {
			t.Fatalf("%d pages, %v", len(pages), err)
		}
		for _, path := range pages {
			f, err := os.Open(path)
			if err != nil {
				t.Fatal(err)
			}
			img, err := png.Decode(f)
			f.Close()
			if err != nil {
				t.Fatal(err)
			}
			b := img.Bounds()
			mm := func(x float64) int { return int(x * dpi / 25.4) }
			side, end := (b.Dx()-mm(textWidthMM))/2-1, (b.Dy()-mm(textHeightMM))/2-1
			ink := 0
			for y := range b.Dy() {
				for x := range b.Dx() {
					dark := color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y < 200
					margin := x < side || x >= b.Dx()-side || y < end || y >= b.Dy()-end
					if dark && margin {
						t.Fatalf("%s %s: ink at %d, %d of %d × %d", p, filepath.Base(path), x, y, b.Dx(), b.Dy())
					}
					if dark {
						ink++
					}
				}
			}
			if ink == 0 {
				t.Errorf("%s %s is blank", p, filepath.Base(path))
			}
		}
	}
}

// Chromium opens the page without a word on its console and prints it.
func TestHTMLWithChromium(t *testing.T) {
	file := save(t, "sample.html", []byte(makeHTML(t, sample(), A4)))
	profile := t.TempDir()
	base := []string{"--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir=" + profile, "--enable-logging=stderr", "--v=0"}
	out := client(t, "chromium", append(base, "--dump-dom", "file://"+file)...)
	if !strings.Contains(out, "Before the show: Low Barn flock") {
		t.Error("the page did not load")
	}
	for _, line := range strings.Split(out, "\n") {
		if strings.Contains(line, "CONSOLE") || strings.Contains(line, "Refused to") {
			t.Error(line)
		}
	}
	printed := filepath.Join(profile, "printed.pdf")
	client(t, "chromium", append(base, "--print-to-pdf="+printed, "--no-pdf-header-footer", "file://"+file)...)
	text := client(t, "pdftotext", "-layout", printed, "-")
	for _, want := range []string{"page 1 of", "Žofie", "Nguyệt", "weights.xlsx, sheet 2025, D4"} { // what opens on screen is open on paper
		if !strings.Contains(text, want) {
			t.Errorf("the printed page lacks %q", want)
		}
	}
}

package main

import (
	"archive/zip"
	"bytes"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// TestFilesAreWhatTheGeneratorWrites: the committed demo is this program's, file for file and byte for byte.
func TestFilesAreWhatTheGeneratorWrites(t *testing.T) {
	files, err := demo()
	if err != nil {
		t.Fatal(err)
	}
	written := make(map[string]bool)
	for _, f := range files {
		written[f.path] = true
		have, err := os.ReadFile(filepath.Join("..", filepath.FromSlash(f.path)))
		if err != nil {
			t.Error(err)
			continue
		}
		if !bytes.Equal(have, f.data) && !(strings.HasSuffix(f.path, ".xlsx") && unpacked(t, have) == unpacked(t, f.data)) {
			t.Errorf("%s differs from what the generator writes; run go generate ./datasets", f.path)
		}
	}
	err = fs.WalkDir(os.DirFS(".."), "files", func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() && !written[path] {
			t.Errorf("%s is not written by the generator", path)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// unpacked is what a workbook holds: another version of Go may compress the same content otherwise.
func unpacked(t *testing.T, data []byte) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		out.WriteString(f.Name + f.Modified.UTC().String() + string(b))
	}
	return out.String()
}

func TestRunWritesTheSameTwice(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	for _, dir := range []string{a, b, b} { // over its own output as well
		if err := run(dir); err != nil {
			t.Fatal(err)
		}
	}
	err := fs.WalkDir(os.DirFS(a), ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		one, _ := os.ReadFile(filepath.Join(a, path))
		two, err := os.ReadFile(filepath.Join(b, path))
		if !bytes.Equal(one, two) {
			t.Errorf("%s differs between two runs", path)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	if err := run(filepath.Join(a, "missing")); err == nil {
		t.Error("a folder that is not there was accepted")
	}
}

func TestShowDay(t *testing.T) {
	if show != on("2025-12-13") {
		t.Errorf("the show is on %s", show)
	}
}

func TestPoundsAndOunces(t *testing.T) {
	// 1 lb = 453.59237 g, 1 oz = 28.349523125 g.
	for _, test := range []struct {
		grams float64
		want  string
	}{
		{1020.58, "2 lb 4 oz"},  // 2 * 453.592 + 4 * 28.3495 = 1020.58
		{453.59, "1 lb 0 oz"},   //
		{141.75, "5 oz"},        // 5 * 28.3495
		{155.92, "5½ oz"},       // 5.5 * 28.3495
		{467.77, "1 lb ½ oz"},   // 453.59 + 14.17
		{899.2, "1 lb 15½ oz"},  // 31.72 oz, nearer to 31½ than to 32
		{901.0, "2 lb 0 oz"},    // 31.78 oz, nearer to 32
		{4082.33, "9 lb 0 oz"},  // the published Sussex cock
		{14.2, "½ oz"},          //
		{3401.94, "7 lb 8 oz"},  // the published Sussex cockerel, 7.5 lb
		{297.67, "10½ oz"},      // 10.5 * 28.3495
		{1332.43, "2 lb 15 oz"}, // 2 * 453.592 + 15 * 28.3495
	} {
		if got := lbOz(test.grams); got != test.want {
			t.Errorf("%v g is %q, want %q", test.grams, got, test.want)
		}
	}
}

// TestPulletsGrowLikePublishedOnes: Upp 1928, Poultry Science 7, table 1: pullets of heavy breeds at five
// stations weighed 880 to 1039 g at 12 weeks at four of them.
func TestPulletsGrowLikePublishedOnes(t *testing.T) {
	g := growthOf("Sussex", record.Large, record.Female)
	b := &bird{adult: g.adult, chick: g.chick, rate: g.rate}
	if w := b.weight(84); w < 880 || w > 1200 {
		t.Errorf("a large Sussex pullet of 12 weeks weighs %.0f g", w)
	}
	if w := b.weight(0); math.Abs(w-g.chick) > 1e-9 {
		t.Errorf("on the day of hatch it weighs %v g, not the %v g of its chick weight", w, g.chick)
	}
	if w := b.weight(3000); math.Abs(w-g.adult) > 1 {
		t.Errorf("grown up it weighs %v g, not %v", w, g.adult)
	}
}

func TestMoultIsDeepestInItsMiddle(t *testing.T) {
	b := &bird{adult: 3000, chick: 40, rate: 0.1, moults: []moult{{from: 1000, days: 60, loss: 0.1}}}
	for _, test := range []struct {
		day  day
		want float64 // 3000 (1 - 0.1 sin²(pi t))
	}{{1000, 3000}, {1015, 2850}, {1030, 2700}, {1045, 2850}, {1060, 3000}} {
		if w := b.weight(test.day); math.Abs(w-test.want) > 0.01 {
			t.Errorf("day %d: %v g, want %v", test.day, w, test.want)
		}
	}
}

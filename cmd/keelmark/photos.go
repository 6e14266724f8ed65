package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"keelmark/ingest/record"
	"keelmark/notebooks/render"
)

// photoBytes is the largest file that is read as a photograph.
const photoBytes = 40 << 20

// photosOf finds the photographs of a flock's birds in its folders: RING.jpg or NAME.png, whatever the case. A file that
// fits two birds is left alone. What cannot be read is told, and the rest goes on.
func photosOf(w world, folders []string, d *record.Dataset) map[string]render.Image {
	out := map[string]render.Image{}
	for _, dir := range folders {
		entries, err := os.ReadDir(dir)
		if err != nil {
			continue // reading the sheets has told of it
		}
		for _, e := range entries {
			ext := strings.ToLower(filepath.Ext(e.Name()))
			if !e.Type().IsRegular() || !slices.Contains([]string{".jpg", ".jpeg", ".png"}, ext) {
				continue
			}
			b, ok := birdOfPhoto(d, strings.TrimSuffix(e.Name(), filepath.Ext(e.Name())))
			if !ok {
				continue
			}
			photo, err := readPhoto(filepath.Join(dir, e.Name()), b.Label())
			if err != nil {
				fmt.Fprintf(w.err, "keelmark: %s: %v; it is left out\n", e.Name(), err)
				continue
			}
			out[b.Label()] = photo
		}
	}
	return out
}

// birdOfPhoto finds the one bird whose ring, else whose name, is that of a file.
func birdOfPhoto(d *record.Dataset, stem string) (record.Bird, bool) {
	for _, of := range []func(record.Bird) string{
		func(b record.Bird) string { return b.ID }, func(b record.Bird) string { return b.Ring }, func(b record.Bird) string { return b.Name },
	} {
		var found []record.Bird
		for _, b := range d.Birds {
			if text := of(b); text != "" && slug(text) == slug(stem) {
				found = append(found, b)
			}
		}
		if len(found) > 0 {
			return found[0], len(found) == 1
		}
	}
	return record.Bird{}, false
}

func readPhoto(path, of string) (render.Image, error) {
	info, err := os.Stat(path)
	if err != nil {
		return render.Image{}, err
	}
	if info.Size() > photoBytes {
		return render.Image{}, fmt.Errorf("the photograph has more than %d MB; save it smaller", photoBytes>>20)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return render.Image{}, err
	}
	return render.Photo(data, of)
}

// foldersOf are the folders that may hold the photographs of a flock: its own, or that of its files. Of several sources
// only those that bear the flock's name are its own.
func foldersOf(sources []string, d *record.Dataset, flocks int) []string {
	var out []string
	for _, s := range sources {
		dir := s
		if info, err := os.Stat(s); err == nil && !info.IsDir() {
			dir = filepath.Dir(s)
		}
		if (flocks == 1 || filepath.Base(dir) == d.Name) && !slices.Contains(out, dir) {
			out = append(out, dir)
		}
	}
	return out
}

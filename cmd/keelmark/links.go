package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// linksOut refuses a flock folder in which a file is a link to one outside it. Cells read what lies in the folder, and a
// notebook may come from a stranger, links and all. A link to a folder is no sheet and is left alone.
func linksOut(dir string) error {
	home, err := resolved(dir)
	if err != nil {
		return nil // reading the folder tells of it
	}
	entries, err := os.ReadDir(home)
	if err != nil {
		return nil // it is a single file, chosen by the person who runs the cells
	}
	for _, e := range entries {
		if e.Type()&os.ModeSymlink == 0 {
			continue
		}
		path := filepath.Join(dir, e.Name())
		to, err := resolved(path)
		if err != nil {
			continue // it leads nowhere
		}
		if info, err := os.Stat(to); err != nil || info.IsDir() {
			continue
		}
		if rel, err := filepath.Rel(home, to); err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			return fmt.Errorf("%s is a link to a file outside the flock's folder, and cells read only what lies in it; copy the file there in place of the link", path)
		}
	}
	return nil
}

// resolved is the whole path of a file, with every link followed.
func resolved(path string) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(path)
}

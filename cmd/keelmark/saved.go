package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// savedFolder is where the cells of a notebook save, beside it.
const savedFolder = "saved"

// Bounds on what the cells of one run may save together.
const (
	mostSaved      = 500       // files
	mostSavedBytes = 512 << 20 // written
)

// saved is the one folder that cells can write into. It is made when the first file is saved.
type saved struct {
	dir     string
	files   map[string]bool
	written int
}

func newSaved(dir string) *saved { return &saved{dir: dir, files: map[string]bool{}} }

// save writes a file whole or not at all. The name is that of a plain file; the folder is held open, so that no
// name leads out of it, and neither it nor the file may be a link to another place.
func (s *saved) save(name string, content []byte) (path string, err error) {
	path = filepath.Join(s.dir, name)
	if !filepath.IsLocal(name) || filepath.Base(name) != name {
		return "", fmt.Errorf("%s does not lie in the folder %s", name, s.dir)
	}
	s.files[name] = true
	if s.written += len(content); len(s.files) > mostSaved || s.written > mostSavedBytes {
		return "", fmt.Errorf("the cells of one run save at most %d files and %d MB; start again, and save less often", mostSaved, mostSavedBytes>>20)
	}
	root, err := openFolder(s.dir)
	if err != nil {
		return "", err
	}
	defer root.Close()
	if info, err := root.Lstat(name); err == nil && !info.Mode().IsRegular() {
		return "", fmt.Errorf("%s is no plain file but a folder or a link, and stays as it is; use another name", path)
	}
	part := "." + name + ".part"
	if err := root.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("cannot write %s: %w", path, err)
	}
	f, err := root.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return "", fmt.Errorf("cannot write %s: %w", path, err)
	}
	_, err = f.Write(content)
	if err = errors.Join(err, f.Close()); err == nil {
		err = root.Rename(part, name)
	}
	if err != nil {
		_ = root.Remove(part)
		return "", fmt.Errorf("cannot write %s: %w", path, err)
	}
	return path, nil
}

// openFolder opens a folder, which it makes where there is none. A link is refused.
func openFolder(dir string) (*os.Root, error) {
	parent, err := os.OpenRoot(filepath.Dir(dir))
	if err != nil {
		return nil, fmt.Errorf("cannot make the folder %s: %w", dir, err)
	}
	defer parent.Close()
	name := filepath.Base(dir)
	if err := parent.Mkdir(name, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("cannot make the folder %s: %w", dir, err)
	}
	info, err := parent.Lstat(name)
	switch {
	case err != nil:
		return nil, fmt.Errorf("cannot make the folder %s: %w", dir, err)
	case !info.IsDir():
		return nil, fmt.Errorf("%s is no folder but a file or a link, and nothing is written there; rename it", dir)
	}
	return parent.OpenRoot(name)
}

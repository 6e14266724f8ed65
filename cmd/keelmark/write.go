package main

import (
	"fmt"
	"os"
	"path/filepath"
)

// writeFile writes a file whole or not at all: into a temporary file beside it, then by renaming.
func writeFile(path string, content []byte) (err error) {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder %s: %w", dir, err)
	}
	f, err := os.CreateTemp(dir, ".keelmark-*")
	if err != nil {
		return fmt.Errorf("cannot write in %s: %w", dir, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(content); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Chmod(0o644); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

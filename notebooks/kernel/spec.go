package kernel

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
)

// Spec is a kernelspec: what tells front ends that there is a kernel and how it is started.
type Spec struct {
	Argv          []string          `json:"argv"`
	DisplayName   string            `json:"display_name"`
	Language      string            `json:"language"`
	InterruptMode string            `json:"interrupt_mode"`
	Env           map[string]string `json:"env,omitempty"`
	Metadata      map[string]any    `json:"metadata"`
}

// collectLater is the environment that keeps a starting kernel from collecting garbage before its ports are
// open: a front end that finds them closed tries again only a tenth of a second later. Kernel.Start ends it.
func collectLater() map[string]string { return map[string]string{"GOGC": "off"} }

// NewSpec makes the spec of a program at an absolute path, with further arguments for serve.
func NewSpec(program, displayName string, more ...string) Spec {
	return Spec{Argv: append([]string{program, "kernel", "serve", "{connection_file}"}, more...), DisplayName: displayName, Language: "starlark",
		InterruptMode: "message", Env: collectLater(), Metadata: map[string]any{"debugger": false}}
}

var specName = regexp.MustCompile(`^[A-Za-z0-9._-]+$`)

// SpecDir is the folder of the spec of a kernel within a data folder of the front ends.
func SpecDir(data, name string) (string, error) {
	if !specName.MatchString(name) {
		return "", fmt.Errorf("%q cannot be the name of a kernel; use letters, digits, - and _", name)
	}
	return filepath.Join(data, "kernels", name), nil
}

// UserData is the data folder of one person's front ends. Env looks an environment variable up.
//
// Source: the public documentation of the notebook ecosystem's directories, "Data files".
func UserData(env func(string) string) (string, error) {
	if dir := env("JUPYTER_DATA_DIR"); dir != "" {
		return dir, nil
	}
	switch runtime.GOOS {
	case "windows":
		if dir := env("APPDATA"); dir != "" {
			return filepath.Join(dir, "jupyter"), nil
		}
	case "darwin":
		if home := env("HOME"); home != "" {
			return filepath.Join(home, "Library", "Jupyter"), nil
		}
	default:
		if dir := env("XDG_DATA_HOME"); dir != "" {
			return filepath.Join(dir, "jupyter"), nil
		}
		if home := env("HOME"); home != "" {
			return filepath.Join(home, ".local", "share", "jupyter"), nil
		}
	}
	return "", errors.New("no home folder is known, so the folder of the front ends' data is not either; name one with --prefix")
}

// Install writes a spec into a folder, as a whole or not at all, and returns the path of its file.
func (s Spec) Install(dir string) (string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(s); err != nil {
		return "", err
	}
	path := filepath.Join(dir, "kernel.json")
	temporary := path + ".new"
	if err := os.WriteFile(temporary, b.Bytes(), 0o644); err != nil {
		return "", err
	}
	if err := os.Rename(temporary, path); err != nil {
		_ = os.Remove(temporary)
		return "", err
	}
	return path, nil
}

// ReadSpec reads the spec in a folder.
func ReadSpec(dir string) (Spec, error) {
	var s Spec
	path := filepath.Join(dir, "kernel.json")
	data, err := os.ReadFile(path)
	if err != nil {
		return s, err
	}
	if err := json.Unmarshal(data, &s); err != nil {
		return s, fmt.Errorf("%s cannot be read: %w", path, err)
	}
	return s, nil
}

// Uninstall removes the spec in a folder, and the folder where it holds nothing else. It refuses a spec that
// does not start this program's serve.
func Uninstall(dir string) error {
	s, err := ReadSpec(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("nothing is installed in %s", dir)
	case err != nil:
		return err
	case len(s.Argv) < 4 || s.Argv[1] != "kernel" || s.Argv[2] != "serve":
		return fmt.Errorf("%s belongs to another kernel and was left alone", dir)
	}
	if err := os.Remove(filepath.Join(dir, "kernel.json")); err != nil {
		return err
	}
	_ = os.Remove(dir) // stays where something else lies in it
	return nil
}

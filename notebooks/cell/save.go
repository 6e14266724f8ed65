package cell

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode"

	"go.starlark.net/starlark"

	"keelmark/notebooks/render"
	"keelmark/plots"
)

// largestFile bounds what one save writes, in bytes.
const largestFile = 32 << 20

// saveFunctions keep what a cell made. The engine makes the bytes and checks the name; whoever runs it says
// where they go, and lets them go nowhere else.
func saveFunctions() []binding {
	return []binding{{Entry{"General", "save", "(x, name)", "Writes a table (.csv or .xlsx), a figure (.svg or .png) or a text (.txt) into the folder saved beside the notebook, " +
		"and answers with where it lies. A file of that name there is replaced. A cell can write nowhere else.", "save(flock.weights.head(3), \"weights.csv\")"}, save}}
}

func save(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var v starlark.Value
	var name string
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x", &v, "name", &name); err != nil {
		return nil, err
	}
	e := running(t).engine
	if e.options.Save == nil {
		return nil, errors.New("save: this run has no folder to write into; run the notebook with keelmark run, or in a notebook program")
	}
	ending, err := fileName(name)
	if err != nil {
		return nil, err
	}
	content, err := e.content(v, ending)
	if err != nil {
		return nil, err
	}
	if len(content) > largestFile {
		return nil, fmt.Errorf("save: %s would have %d MB, more than the %d that one file may have; save fewer rows", name, len(content)>>20, largestFile>>20)
	}
	path, err := e.options.Save(name, content)
	if err != nil {
		return nil, fmt.Errorf("save: %w", err)
	}
	return starlark.String(path), nil
}

// longestName is the longest name of a file, in bytes.
const longestName = 100

// fileName checks that a name is one of a plain file, on every system, and returns its ending.
func fileName(name string) (ending string, err error) {
	stem, ending, _ := cutLast(name)
	switch {
	case strings.ContainsAny(name, `/\:`):
		return "", fmt.Errorf("save: %q names a folder; write a plain name such as \"weights.csv\"", shorten(name, 60))
	case stem == "" || len(name) > longestName || strings.HasPrefix(name, ".") || strings.HasPrefix(name, " ") || reserved(stem) ||
		strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) || strings.ContainsRune(`<>"|?*`, r) }):
		return "", fmt.Errorf("save: %q is no name for a file on every machine; write a short one such as \"weights.csv\"", shorten(name, 60))
	}
	return strings.ToLower(ending), nil
}

func cutLast(name string) (stem, ending string, ok bool) {
	at := strings.LastIndexByte(name, '.')
	if at < 0 {
		return name, "", false
	}
	return name[:at], name[at:], true
}

// reserved reports whether a name is that of a device on Windows.
func reserved(stem string) bool {
	first, _, _ := strings.Cut(strings.ToUpper(strings.TrimRight(stem, " ")), ".")
	switch first {
	case "CON", "PRN", "AUX", "NUL":
		return true
	}
	return len(first) == 4 && (strings.HasPrefix(first, "COM") || strings.HasPrefix(first, "LPT")) && first[3] >= '0' && first[3] <= '9'
}

// content is a value in the format of a file's ending.
func (e *Engine) content(v starlark.Value, ending string) ([]byte, error) {
	var b bytes.Buffer
	var err error
	switch v := v.(type) {
	case *table:
		switch ending {
		case ".csv":
			return v.CSV()
		case ".xlsx":
			name := "no flock"
			if e.options.Flock != nil {
				name = e.options.Flock.Name
			}
			err = render.Document{Title: "Table of a notebook", Running: name, Made: e.options.Context.Today,
				Blocks: render.Blocks{render.TableOf(v.Table("table", "Table"), e.units())}}.XLSX(&b)
			return b.Bytes(), err
		}
		return nil, errors.New("save: a table is saved as .csv or .xlsx")
	case figure:
		return drawn(v, ending, 150)
	case picture:
		return drawn(v.figure, ending, v.dpi)
	case starlark.String:
		if ending != ".txt" {
			return nil, errors.New("save: a text is saved as .txt")
		}
		return []byte(v), nil
	case *result:
		return nil, errors.New("save: an analysis is several things; save one of its .tables or .figures, such as save(growth(flock).figures[0], \"growth.svg\")")
	}
	return nil, fmt.Errorf("save takes a table, a figure or a text, not a %s", v.Type())
}

func drawn(f figure, ending string, dpi int) ([]byte, error) {
	var b bytes.Buffer
	switch ending {
	case ".svg":
		err := f.SVG(&b, plots.Print(), "saved")
		return b.Bytes(), err
	case ".png":
		err := f.PNG(&b, plots.Print(), dpi)
		return b.Bytes(), err
	}
	return nil, errors.New("save: a figure is saved as .svg or .png")
}

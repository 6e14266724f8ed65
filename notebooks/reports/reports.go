// Package reports holds the printed reports. A report is a notebook that is shipped in the binary: its cells are
// what computes and orders the pages, and whoever doubts a number opens the notebook and changes a cell.
//
// It runs and lays out nothing itself (packages runner and render do).
package reports

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"

	"keelmark/notebooks/nbformat"
)

//go:embed *.ipynb
var files embed.FS

// Names lists the reports.
func Names() []string {
	entries, err := fs.Glob(files, "*.ipynb")
	if err != nil {
		panic(err) // only a malformed pattern can fail
	}
	for i, name := range entries {
		entries[i] = strings.TrimSuffix(name, ".ipynb")
	}
	return entries
}

// Get returns a report by its name, not yet run. An unknown name is an error that lists what there is.
func Get(name string) (*nbformat.Notebook, error) {
	data, err := files.ReadFile(name + ".ipynb")
	if err != nil {
		return nil, fmt.Errorf("there is no report %q; there are: %s", name, strings.Join(Names(), ", "))
	}
	return nbformat.Parse(name+".ipynb", data)
}

package reports

import (
	"embed"
	"fmt"

	"keelmark/notebooks/nbformat"
)

//go:embed compared/*.ipynb
var comparedFiles embed.FS

// Compared returns a report over flocks, not yet run: "flocks" for the educator, "keeper" for one keeper. Its cells read the name
// compared, and no flock.
func Compared(name string) (*nbformat.Notebook, error) {
	data, err := comparedFiles.ReadFile("compared/" + name + ".ipynb")
	if err != nil {
		return nil, fmt.Errorf("there is no report %q over flocks; there are: flocks, keeper", name)
	}
	return nbformat.Parse(name+".ipynb", data)
}

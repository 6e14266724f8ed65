// Package nbformat reads, writes and checks notebook files (.ipynb) of format 4, and writes format 4.5.
//
// What it writes is byte for byte what the format's reference implementation writes: keys sorted, indented by
// one space, text as lists of lines, a final newline. Fields that it does not know survive. Reading repairs
// what front ends are known to leave out (cell ids, empty outputs) and refuses, with the place and the cure,
// what cannot be a notebook.
//
// It runs nothing, opens no file, and invents nothing at random: the same notebook gives the same bytes.
//
// Source: the public notebook format description and its JSON schema, version 4.5.
package nbformat

import "slices"

// The cell types.
const (
	Code     = "code"
	Markdown = "markdown"
	Raw      = "raw"
)

// The output types.
const (
	Stream  = "stream"
	Display = "display_data"
	Result  = "execute_result"
	Error   = "error"
)

// minor is the minor version that is written; a higher one that was read is kept.
const minor = 5

// Notebook is a notebook in memory. Text is whole here; it is split into lines when written.
type Notebook struct {
	Minor    int // of the format, at least 5
	Metadata map[string]any
	Cells    []*Cell

	extra map[string]any // fields that a later version may define
}

// Cell is one cell.
type Cell struct {
	ID          string
	Type        string // Code, Markdown, Raw, or one of a later version
	Source      string
	Metadata    map[string]any
	Attachments map[string]Bundle // nil where there are none
	Count       *int              // execution count of a code cell; nil where it has not run
	Outputs     []Output          // of a code cell

	extra map[string]any
}

// Output is one output of a code cell. Which fields apply depends on its Type.
type Output struct {
	Type string

	Name, Text string // Stream: "stdout" or "stderr"

	Data     Bundle         // Display and Result
	Metadata map[string]any // Display and Result
	Count    *int           // Result

	ErrName, ErrValue string   // Error
	Traceback         []string // Error

	extra map[string]any
}

// Bundle is one thing in several forms, keyed by MIME type. The value of a JSON type may be anything that
// encoding/json can write; that of any other type is a string.
type Bundle map[string]any

// New returns an empty notebook.
func New() *Notebook {
	return &Notebook{Minor: minor, Metadata: map[string]any{}}
}

// Add appends a cell and returns it. Its ID is given when the notebook is written, or by Notebook.Repair.
func (nb *Notebook) Add(cellType, source string) *Cell {
	c := &Cell{Type: cellType, Source: source, Metadata: map[string]any{}}
	nb.Cells = append(nb.Cells, c)
	return c
}

// Tagged reports whether a cell carries a tag.
func (c *Cell) Tagged(tag string) bool { return slices.Contains(c.Tags(), tag) }

// Tags returns the tags of a cell.
func (c *Cell) Tags() []string {
	switch list := c.Metadata["tags"].(type) {
	case []string:
		return list
	case []any:
		var tags []string
		for _, t := range list {
			if s, ok := t.(string); ok {
				tags = append(tags, s)
			}
		}
		return tags
	}
	return nil
}

// Append adds an output. Text that follows text on the same stream joins it, as the format wants.
func (c *Cell) Append(o Output) {
	if n := len(c.Outputs); n > 0 && o.Type == Stream {
		last := &c.Outputs[n-1]
		if last.Type == Stream && last.Name == o.Name {
			last.Text += o.Text
			return
		}
	}
	c.Outputs = append(c.Outputs, o)
}

// Clone returns a copy that shares nothing which running a notebook changes: cells, outputs and the maps of
// metadata are copied, the values inside metadata and bundles are not.
func (nb *Notebook) Clone() *Notebook {
	out := *nb
	out.Metadata = clone(nb.Metadata)
	out.Cells = make([]*Cell, len(nb.Cells))
	for i, c := range nb.Cells {
		copied := *c
		copied.Metadata = clone(c.Metadata)
		copied.Outputs = slices.Clone(c.Outputs)
		out.Cells[i] = &copied
	}
	return &out
}

func clone(m map[string]any) map[string]any {
	out := make(map[string]any, len(m))
	for k, v := range m {
		out[k] = v
	}
	return out
}

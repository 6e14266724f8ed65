// Package runner runs a notebook from its first cell to its last, without a server, a socket or a person.
//
// It drives the same cell engine as the notebook kernel, so that a notebook gives the same outputs either way.
// The same notebook, flock and parameters give the same bytes: no times are written. It reads and writes no
// file: notebooks come and go in memory.
package runner

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/notebooks/cell"
	"keelmark/notebooks/nbformat"
)

// The tags that steer a run, by the usual conventions of notebook runners.
const (
	ParametersTag = "parameters"          // this cell sets the defaults that -p replaces
	InjectedTag   = "injected-parameters" // this cell was put in by a run
	RaisesTag     = "raises-exception"    // this cell is meant to fail; the run goes on
)

// Set is one parameter as typed: -p name=value.
type Set struct{ Name, Value string }

// ParseSet reads "name=value".
func ParseSet(s string) (Set, error) {
	name, value, ok := strings.Cut(s, "=")
	if name = strings.TrimSpace(name); !ok || name == "" {
		return Set{}, fmt.Errorf("-p %s: write name=value", s)
	}
	return Set{name, value}, nil
}

// Run runs a copy of the notebook and returns it with its outputs. The copy is returned also when a cell
// fails: it then holds the outputs so far and the error in its place, and the cells after it are empty. The
// error is a *cell.Failure when a cell failed.
//
// Parameters go into a cell of their own after the one tagged "parameters"; one that the notebook does not
// have is an error, and nothing is run.
func Run(ctx context.Context, nb *nbformat.Notebook, engine *cell.Engine, parameters []Set) (*nbformat.Notebook, error) {
	out := nb.Clone()
	if err := inject(out, parameters); err != nil {
		return nil, err
	}
	out.Repair()
	out.Metadata["language_info"] = cell.Language()
	if out.Metadata["kernelspec"] == nil {
		out.Metadata["kernelspec"] = map[string]any{"name": "keelmark", "display_name": "Keelmark", "language": "starlark"}
	}
	for _, c := range out.Cells {
		if c.Type == nbformat.Code {
			c.Count, c.Outputs = nil, nil
			delete(c.Metadata, "execution") // times that another runner may have left
		}
	}
	count := 0
	for _, c := range out.Cells {
		if c.Type != nbformat.Code || strings.TrimSpace(c.Source) == "" {
			continue
		}
		count++
		n := count
		c.Count = &n
		shown := &collector{cell: c, count: n}
		failure := engine.Run(ctx, fmt.Sprintf("cell %d", n), c.Source, shown)
		shown.flush()
		if failure != nil && !c.Tagged(RaisesTag) {
			return out, failure
		}
	}
	return out, nil
}

// inject puts a cell with the parameters after the one with their defaults. A cell that an earlier run put in
// is taken out.
func inject(nb *nbformat.Notebook, parameters []Set) error {
	nb.Cells = slices.DeleteFunc(nb.Cells, func(c *nbformat.Cell) bool { return c.Tagged(InjectedTag) })
	if len(parameters) == 0 {
		return nil
	}
	at := slices.IndexFunc(nb.Cells, func(c *nbformat.Cell) bool { return c.Type == nbformat.Code && c.Tagged(ParametersTag) })
	var known []cell.Parameter
	if at >= 0 {
		var err error
		if known, err = cell.Parameters(nb.Cells[at].Source); err != nil {
			return fmt.Errorf("the cell of parameters cannot be read: %w", err)
		}
	}
	lines := []string{"# Parameters of this run"}
	for _, p := range parameters {
		line, err := cell.Assign(known, p.Name, p.Value)
		if err != nil {
			return err
		}
		lines = append(lines, line)
	}
	injected := &nbformat.Cell{Type: nbformat.Code, Source: strings.Join(lines, "\n"), Metadata: map[string]any{"tags": []any{InjectedTag}}}
	if nb.Cells[at].Tagged("hide-input") {
		injected.Metadata["tags"] = []any{"hide-input", InjectedTag}
	}
	nb.Cells = slices.Insert(nb.Cells, at+1, injected)
	return nil
}

// collector puts what a cell shows among its outputs. Printed text is gathered first: a cell may print a
// hundred thousand times.
type collector struct {
	cell   *nbformat.Cell
	count  int
	clear  bool // before the next output
	stream string
	text   strings.Builder
}

func (c *collector) add(o nbformat.Output) {
	c.flush()
	c.cleared()
	c.cell.Append(o)
}

func (c *collector) cleared() {
	if c.clear {
		c.cell.Outputs, c.clear = nil, false
	}
}

// flush puts the text gathered so far among the outputs.
func (c *collector) flush() {
	if c.text.Len() > 0 {
		c.cell.Append(nbformat.Output{Type: nbformat.Stream, Name: c.stream, Text: c.text.String()})
		c.text.Reset()
	}
}

// Stream implements cell.Sink.
func (c *collector) Stream(name, text string) {
	if name != c.stream || c.clear {
		c.flush()
		c.cleared()
		c.stream = name
	}
	c.text.WriteString(text)
}

// Display implements cell.Sink.
func (c *collector) Display(b cell.Bundle) {
	c.add(nbformat.Output{Type: nbformat.Display, Data: nbformat.Bundle(b)})
}

// Result implements cell.Sink.
func (c *collector) Result(b cell.Bundle) {
	c.add(nbformat.Output{Type: nbformat.Result, Data: nbformat.Bundle(b), Count: &c.count})
}

// Error implements cell.Sink.
func (c *collector) Error(f *cell.Failure) {
	c.add(nbformat.Output{Type: nbformat.Error, ErrName: string(f.Kind), ErrValue: f.Error(), Traceback: f.Traceback()})
}

// Clear implements cell.Sink.
func (c *collector) Clear(wait bool) {
	c.flush()
	c.clear = wait
	if !wait {
		c.cell.Outputs = nil
	}
}

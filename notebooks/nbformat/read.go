package nbformat

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// Parse reads a notebook. Name is used in messages only.
//
// Notebooks of format 4.0 to 4.4 become 4.5; a later minor version is kept with the fields that it adds.
// Missing or unusable cell ids are made from the cell's place and text, so that reading twice gives the same.
func Parse(name string, data []byte) (*Notebook, error) {
	nb, err := parse(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return nb, nil
}

func parse(data []byte) (*Notebook, error) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(data) {
		return nil, errors.New("not a notebook: the text is not UTF-8; save it again from the program that wrote it")
	}
	var root map[string]any
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	if err := d.Decode(&root); err != nil {
		return nil, notJSON(err, data)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, fmt.Errorf("line %d: text after the end of the notebook; two files may have been joined, remove what follows",
			line(data, d.InputOffset()))
	}
	return notebook(root)
}

func notJSON(err error, data []byte) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case len(bytes.TrimSpace(data)) == 0:
		return errors.New("the file is empty; a notebook is JSON text that begins with {")
	case errors.As(err, &syntax):
		return fmt.Errorf("line %d: not a notebook: %v; open it where it was written and save it again",
			line(data, syntax.Offset), syntax)
	case errors.As(err, &kind):
		return fmt.Errorf("not a notebook: it holds a JSON %s where { is wanted", kind.Value)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("line %d: the notebook ends too early; the file was cut off, take it again from its source",
			line(data, int64(len(data))))
	}
	return fmt.Errorf("not a notebook: %w", err)
}

// line counts lines from 1 up to an offset.
func line(data []byte, offset int64) int {
	return 1 + bytes.Count(data[:min(offset, int64(len(data)))], []byte("\n"))
}

func notebook(root map[string]any) (*Notebook, error) {
	major, ok := integer(root["nbformat"])
	switch {
	case !ok:
		return nil, errors.New(`not a notebook: it has no "nbformat" number`)
	case major < 4:
		return nil, fmt.Errorf("notebook format %d is too old; open it in a notebook program and save it, which makes it format 4", major)
	case major > 4:
		return nil, fmt.Errorf("notebook format %d is newer than this program knows (4); save it as format 4", major)
	}
	nb := &Notebook{}
	if nb.Minor, ok = integer(root["nbformat_minor"]); !ok {
		return nil, errors.New(`it has no "nbformat_minor" number; add "nbformat_minor": 5`)
	}
	nb.Minor = max(nb.Minor, minor)
	var err error
	if nb.Metadata, err = object(root["metadata"], "metadata"); err != nil {
		return nil, err
	}
	for _, transient := range []string{"orig_nbformat", "orig_nbformat_minor", "signature"} {
		delete(nb.Metadata, transient)
	}
	cells, ok := root["cells"].([]any)
	if !ok {
		return nil, errors.New(`it has no "cells" list`)
	}
	for i, raw := range cells {
		c, err := cell(raw)
		if err != nil {
			return nil, fmt.Errorf("cell %d: %w", i+1, err)
		}
		nb.Cells = append(nb.Cells, c)
	}
	nb.extra = rest(root, "nbformat", "nbformat_minor", "metadata", "cells")
	nb.Repair()
	return nb, nil
}

func cell(raw any) (*Cell, error) {
	m, ok := raw.(map[string]any)
	if !ok {
		return nil, fmt.Errorf("it is %s, not a cell", describe(raw))
	}
	c := &Cell{}
	if c.Type, ok = m["cell_type"].(string); !ok {
		return nil, errors.New(`it has no "cell_type"; write code, markdown or raw`)
	}
	c.ID, _ = m["id"].(string)
	var err error
	if c.Metadata, err = object(m["metadata"], "metadata"); err != nil {
		return nil, err
	}
	delete(c.Metadata, "trusted")
	if c.Type != Code && c.Type != Markdown && c.Type != Raw {
		c.extra = rest(m, "cell_type", "id", "metadata")
		return c, nil
	}
	if c.Source, err = text(m["source"], "source"); err != nil {
		return nil, err
	}
	if err := c.attach(m["attachments"]); err != nil {
		return nil, err
	}
	if c.Type != Code {
		c.extra = rest(m, "cell_type", "id", "metadata", "source", "attachments")
		return c, nil
	}
	if c.Count, err = count(m["execution_count"]); err != nil {
		return nil, err
	}
	outputs, ok := m["outputs"].([]any)
	if !ok && m["outputs"] != nil {
		return nil, fmt.Errorf(`"outputs" is %s, not a list`, describe(m["outputs"]))
	}
	for i, raw := range outputs {
		o, err := output(raw)
		if err != nil {
			return nil, fmt.Errorf("output %d: %w", i+1, err)
		}
		c.Outputs = append(c.Outputs, o)
	}
	c.extra = rest(m, "cell_type", "id", "metadata", "source", "attachments", "execution_count", "outputs")
	return c, nil
}

func (c *Cell) attach(raw any) error {
	if raw == nil {
		return nil
	}
	files, err := object(raw, "attachments")
	if err != nil {
		return err
	}
	c.Attachments = map[string]Bundle{}
	for name, v := range files {
		b, err := bundle(v, "attachment "+name)
		if err != nil {
			return err
		}
		c.Attachments[name] = b
	}
	return nil
}

func output(raw any) (o Output, err error) {
	m, ok := raw.(map[string]any)
	if !ok {
		return o, fmt.Errorf("it is %s, not an output", describe(raw))
	}
	if o.Type, ok = m["output_type"].(string); !ok {
		return o, errors.New(`it has no "output_type"`)
	}
	switch o.Type {
	case Stream:
		if o.Name, ok = m["name"].(string); !ok {
			o.Name = "stdout"
		}
		o.Text, err = text(m["text"], "text")
		o.extra = rest(m, "output_type", "name", "text")
	case Display, Result:
		if o.Data, err = bundle(m["data"], "data"); err != nil {
			return o, err
		}
		if o.Metadata, err = object(m["metadata"], "metadata"); err != nil {
			return o, err
		}
		known := []string{"output_type", "data", "metadata", "transient"}
		if o.Type == Result {
			o.Count, err = count(m["execution_count"])
			known = append(known, "execution_count")
		}
		o.extra = rest(m, known...)
	case Error:
		o.ErrName, _ = m["ename"].(string)
		o.ErrValue, _ = m["evalue"].(string)
		o.Traceback, err = lines(m["traceback"], "traceback")
		o.extra = rest(m, "output_type", "ename", "evalue", "traceback")
	default:
		o.extra = rest(m, "output_type")
	}
	return o, err
}

func bundle(raw any, field string) (Bundle, error) {
	m, err := object(raw, field)
	if err != nil {
		return nil, err
	}
	b := Bundle{}
	for mime, v := range m {
		if isJSON(mime) {
			b[mime] = v
			continue
		}
		s, err := text(v, mime)
		if err != nil {
			return nil, err
		}
		b[mime] = s
	}
	return b, nil
}

// isJSON reports whether a MIME type holds JSON, which is kept as it is.
func isJSON(mime string) bool {
	return mime == "application/json" || strings.HasPrefix(mime, "application/") && strings.HasSuffix(mime, "+json")
}

// rest returns the fields that are not known, nil where there are none.
func rest(m map[string]any, known ...string) map[string]any {
	left := clone(m)
	for _, k := range known {
		delete(left, k)
	}
	if len(left) == 0 {
		return nil
	}
	return left
}

func object(raw any, field string) (map[string]any, error) {
	switch v := raw.(type) {
	case nil:
		return map[string]any{}, nil
	case map[string]any:
		return v, nil
	}
	return nil, fmt.Errorf("%q is %s; write { } there", field, describe(raw))
}

func text(raw any, field string) (string, error) {
	if s, ok := raw.(string); ok {
		return s, nil
	}
	list, err := lines(raw, field)
	return strings.Join(list, ""), err
}

func lines(raw any, field string) ([]string, error) {
	if raw == nil {
		return nil, nil
	}
	list, ok := raw.([]any)
	if !ok {
		return nil, fmt.Errorf("%q is %s; write a text or a list of texts", field, describe(raw))
	}
	out := make([]string, len(list))
	for i, v := range list {
		if out[i], ok = v.(string); !ok {
			return nil, fmt.Errorf("%q holds %s as item %d; write a text", field, describe(v), i+1)
		}
	}
	return out, nil
}

func count(raw any) (*int, error) {
	if raw == nil {
		return nil, nil
	}
	n, ok := integer(raw)
	if !ok || n < 0 {
		return nil, fmt.Errorf(`"execution_count" is %s; write null or a whole number`, describe(raw))
	}
	return &n, nil
}

func integer(raw any) (int, bool) {
	n, ok := raw.(json.Number)
	if !ok {
		return 0, false
	}
	i, err := n.Int64()
	return int(i), err == nil
}

func describe(v any) string {
	switch v := v.(type) {
	case nil:
		return "null"
	case bool:
		return fmt.Sprint(v)
	case json.Number:
		return "the number " + v.String()
	case string:
		return "a text"
	case []any:
		return "a list"
	}
	return "an object"
}

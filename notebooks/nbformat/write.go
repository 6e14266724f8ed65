package nbformat

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Bytes writes the notebook. It gives ids to cells that have none, and fails where a value cannot be written.
func (nb *Notebook) Bytes() ([]byte, error) {
	nb.Repair()
	if err := nb.Validate(); err != nil {
		return nil, err
	}
	root := clone(nb.extra)
	root["nbformat"] = 4
	root["nbformat_minor"] = nb.Minor
	root["metadata"] = orEmpty(nb.Metadata)
	cells := make([]any, len(nb.Cells))
	for i, c := range nb.Cells {
		cells[i] = c.tree()
	}
	root["cells"] = cells
	var e encoder
	if err := e.value(root, 0); err != nil {
		return nil, err
	}
	e.WriteByte('\n')
	return e.Bytes(), nil
}

func (c *Cell) tree() map[string]any {
	m := clone(c.extra)
	m["cell_type"] = c.Type
	m["id"] = c.ID
	m["metadata"] = orEmpty(c.Metadata)
	switch c.Type {
	case Code:
		outputs := make([]any, len(c.Outputs))
		for i, o := range c.Outputs {
			outputs[i] = o.tree()
		}
		m["outputs"] = outputs
		m["execution_count"] = number(c.Count)
	case Markdown, Raw:
	default:
		return m
	}
	m["source"] = SplitLines(c.Source)
	if c.Attachments != nil {
		files := map[string]any{}
		for name, b := range c.Attachments {
			files[name] = b.tree()
		}
		m["attachments"] = files
	}
	return m
}

func (o Output) tree() map[string]any {
	m := clone(o.extra)
	m["output_type"] = o.Type
	switch o.Type {
	case Stream:
		m["name"] = o.Name
		m["text"] = SplitLines(o.Text)
	case Display, Result:
		m["data"] = o.Data.tree()
		m["metadata"] = orEmpty(o.Metadata)
		if o.Type == Result {
			m["execution_count"] = number(o.Count)
		}
	case Error:
		m["ename"] = o.ErrName
		m["evalue"] = o.ErrValue
		m["traceback"] = o.Traceback
	}
	return m
}

// tree splits into lines what the format splits: text, SVG and JavaScript; not base64, not JSON.
func (b Bundle) tree() map[string]any {
	m := map[string]any{}
	for mime, v := range b {
		s, isText := v.(string)
		if isText && (strings.HasPrefix(mime, "text/") || mime == "image/svg+xml" || mime == "application/javascript") {
			m[mime] = SplitLines(s)
		} else {
			m[mime] = v
		}
	}
	return m
}

// SplitLines cuts a text after each line end, keeping the ends. It knows the same line ends as the reference
// implementation, which are more than \n: \r, \r\n, \v, \f, \x1c to \x1e, U+0085, U+2028 and U+2029.
func SplitLines(s string) []string {
	out := []string{}
	start := 0
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		i += size
		switch r {
		case '\r':
			if strings.HasPrefix(s[i:], "\n") {
				i++
			}
		case '\n', '\v', '\f', 0x1c, 0x1d, 0x1e, 0x85, 0x2028, 0x2029:
		default:
			continue
		}
		out = append(out, s[start:i])
		start = i
	}
	if start < len(s) {
		out = append(out, s[start:])
	}
	return out
}

func orEmpty(m map[string]any) map[string]any {
	if m == nil {
		return map[string]any{}
	}
	return m
}

func number(n *int) any {
	if n == nil {
		return nil
	}
	return *n
}

// wellFormedID reports whether an id is of 1 to 64 letters, digits, - and _.
func wellFormedID(id string) bool {
	return id != "" && len(id) <= 64 && !strings.ContainsFunc(id, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '_' && r != '-'
	})
}

// Repair gives an ID to each cell whose ID is missing, malformed or taken by an earlier cell. The ID is made
// from the cell's place, type and text, so that the same notebook always gets the same.
func (nb *Notebook) Repair() {
	nb.Minor = max(nb.Minor, minor)
	taken := map[string]bool{}
	kept := make([]bool, len(nb.Cells))
	for i, c := range nb.Cells {
		if wellFormedID(c.ID) && !taken[c.ID] {
			taken[c.ID], kept[i] = true, true
		}
	}
	for i, c := range nb.Cells {
		for try := 0; !kept[i]; try++ {
			sum := sha256.Sum256([]byte(strconv.Itoa(i) + "\x00" + strconv.Itoa(try) + "\x00" + c.Type + "\x00" + c.Source))
			id := hex.EncodeToString(sum[:4])
			if !taken[id] {
				c.ID, taken[id], kept[i] = id, true, true
			}
		}
	}
}

// Validate reports what the format forbids and a schema cannot repair: an unknown cell or output type in a
// notebook of version 4.5, a text type whose value is no text, tags with commas or twice the same.
// It joins all that it finds, each with its cell.
func (nb *Notebook) Validate() error {
	var errs []error
	for i, c := range nb.Cells {
		place := fmt.Sprintf("cell %d", i+1)
		if c.Type != Code && c.Type != Markdown && c.Type != Raw && nb.Minor <= minor {
			errs = append(errs, fmt.Errorf("%s: type %q is none of code, markdown, raw", place, c.Type))
		}
		if c.Type != Code && len(c.Outputs) > 0 {
			errs = append(errs, fmt.Errorf("%s: a %s cell has outputs; only code cells may", place, c.Type))
		}
		seen := map[string]bool{}
		for _, t := range c.Tags() {
			if t == "" || strings.Contains(t, ",") || seen[t] {
				errs = append(errs, fmt.Errorf("%s: tag %q is empty, holds a comma or stands twice", place, t))
			}
			seen[t] = true
		}
		for j, o := range c.Outputs {
			if err := o.check(nb.Minor); err != nil {
				errs = append(errs, fmt.Errorf("%s, output %d: %w", place, j+1, err))
			}
		}
	}
	return errors.Join(errs...)
}

func (o Output) check(version int) error {
	switch o.Type {
	case Stream, Error:
		return nil
	case Display, Result:
		for mime, v := range o.Data {
			if _, ok := v.(string); !ok && !isJSON(mime) {
				return fmt.Errorf("%s holds a %T; only JSON types may hold other than text", mime, v)
			}
		}
		return nil
	}
	if version > minor {
		return nil
	}
	return fmt.Errorf("type %q is none of stream, display_data, execute_result, error", o.Type)
}

package settings

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Merge adds to a flock.toml what another one says beside it, and keeps its lines and comments as they stand: a table that
// it lacks is added at its end, a key that a table lacks below the table's heading. Where both say different things the
// first is kept, and told as a conflict: "[flock] breed". The error is Faults, of the file that cannot be read; files are
// their base names, for messages.
func Merge(file string, data []byte, otherFile string, other []byte) (merged []byte, conflicts []string, err error) {
	mine, err := parse(file, data)
	if err != nil {
		return nil, nil, err
	}
	theirs, err := parse(otherFile, other)
	if err != nil {
		return nil, nil, err
	}
	m := &merging{text: strings.TrimPrefix(string(data), "\ufeff")}
	if err := m.tables(nil, mine.root, theirs.root); err != nil {
		return nil, nil, err
	}
	return []byte(m.text), m.conflicts, nil
}

type merging struct {
	text      string
	conflicts []string
}

// tables merges what stands below a path of tables.
func (m *merging) tables(path []string, mine, theirs map[string]any) error {
	keys := make([]string, 0, len(theirs))
	for k := range theirs {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		here, there := mine[k], theirs[k]
		below := append(slices.Clone(path), k)
		sub, isTable := there.(map[string]any)
		old, wasTable := here.(map[string]any)
		switch {
		case here == nil && isTable:
			if err := m.add(below, sub); err != nil {
				return err
			}
		case here == nil:
			if err := m.put(path, k, there); err != nil {
				return err
			}
		case isTable && wasTable:
			if err := m.tables(below, old, sub); err != nil {
				return err
			}
		case !reflect.DeepEqual(here, there):
			m.conflicts = append(m.conflicts, fmt.Sprintf("%s: %s or %s", name(below), value(here), value(there)))
		}
	}
	return nil
}

func name(path []string) string {
	return "[" + strings.Join(path[:len(path)-1], ".") + "] " + path[len(path)-1]
}

func value(v any) string {
	if s, ok := v.(string); ok {
		return fmt.Sprintf("%q", s)
	}
	return fmt.Sprint(v)
}

// nested puts a value under a path of tables.
func nested(path []string, v any) map[string]any {
	for i := len(path) - 1; i >= 0; i-- {
		v = map[string]any{path[i]: v}
	}
	return v.(map[string]any)
}

// add appends a table at the end.
func (m *merging) add(path []string, table map[string]any) error {
	block, err := toml.Marshal(nested(path, table))
	if err != nil {
		return err
	}
	if m.text != "" && !strings.HasSuffix(m.text, "\n") {
		m.text += "\n"
	}
	if m.text != "" {
		m.text += "\n"
	}
	// The tables above it are there already, and may be named once only.
	for i := range path[:len(path)-1] {
		block = bytes.TrimPrefix(block, []byte(heading(path[:i+1])+"\n"))
	}
	m.text += string(block)
	return nil
}

// put writes a key below the heading of its table, or, where the table is written in another way, tells of it.
func (m *merging) put(path []string, key string, v any) error {
	line, err := toml.Marshal(map[string]any{key: v})
	if err != nil {
		return err
	}
	lines := strings.SplitAfter(m.text, "\n")
	for i, l := range lines {
		plain, _, _ := strings.Cut(l, "#")
		if len(path) > 0 && strings.ReplaceAll(strings.TrimSpace(plain), " ", "") == heading(path) {
			if !strings.HasSuffix(l, "\n") {
				lines[i] += "\n"
			}
			m.text = strings.Join(slices.Insert(lines, i+1, string(line)), "")
			return nil
		}
	}
	m.conflicts = append(m.conflicts, fmt.Sprintf("%s = %s has no place here", name(append(slices.Clone(path), key)), value(v)))
	return nil
}

// heading is the line that begins a table.
func heading(path []string) string {
	block, err := toml.Marshal(nested(path, map[string]any{}))
	if err != nil {
		return ""
	}
	all := strings.Split(strings.TrimSpace(string(block)), "\n")
	return all[len(all)-1]
}

package cell

import (
	"fmt"
	"strings"

	"go.starlark.net/starlark"
)

func help(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var about starlark.Value
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "x??", &about); err != nil {
		return nil, err
	}
	r := running(t)
	if about == nil {
		r.print("stdout", Contents(r.engine.manual))
		return starlark.None, nil
	}
	r.print("stdout", r.engine.describe(about)+"\n")
	return starlark.None, nil
}

// describe is the manual of a value, or of the name that a text holds.
func (e *Engine) describe(v starlark.Value) string {
	var names []string
	switch v := v.(type) {
	case starlark.String:
		names = []string{string(v)}
	case *starlark.Builtin:
		names = []string{v.Name()}
	case *starlark.Function:
		if doc := v.Doc(); doc != "" {
			return v.Name() + ": " + strings.TrimSpace(doc)
		}
		return v.Name() + " is a function of this notebook; a text as the first line of its body would be its help."
	default:
		names = []string{v.Type()}
		if h, ok := v.(starlark.HasAttrs); ok {
			return fmt.Sprintf("%s: a %s. It has: %s.", shorten(v.String(), 200), v.Type(), strings.Join(h.AttrNames(), ", "))
		}
	}
	var found []string
	for _, entry := range e.manual {
		_, last, isMethod := strings.Cut(entry.Name, ".")
		if entry.Name == names[0] || isMethod && last == names[0] {
			found = append(found, entry.Text())
		}
	}
	if len(found) == 0 {
		if _, ok := starlark.Universe[names[0]]; ok {
			return names[0] + " is part of the language, as in Python."
		}
		return fmt.Sprintf("There is no manual for %s; help() lists what there is.", names[0])
	}
	return strings.Join(found, "\n\n")
}

// Text is the entry as a manual prints it.
func (m Entry) Text() string {
	text := m.Name + m.Args + "\n    " + strings.ReplaceAll(m.Doc, "\n", "\n    ")
	if m.Example != "" {
		text += "\n    Example: " + strings.ReplaceAll(m.Example, "\n", "\n             ")
	}
	return text
}

// Contents lists the names of a manual by group, one line each.
func Contents(manual []Entry) string {
	var b strings.Builder
	for _, g := range Groups(manual) {
		fmt.Fprintf(&b, "%s\n", g)
		for _, m := range manual {
			if m.Group == g {
				first, _, _ := strings.Cut(m.Doc, "\n")
				fmt.Fprintf(&b, "  %s: %s\n", m.Name+m.Args, first)
			}
		}
	}
	b.WriteString("help(name) says more of one of them. The language itself is Starlark, which reads as Python does.\n")
	return b.String()
}

// Groups lists the groups of a manual in their order.
func Groups(manual []Entry) []string {
	var groups []string
	seen := map[string]bool{}
	for _, m := range manual {
		if !seen[m.Group] {
			seen[m.Group] = true
			groups = append(groups, m.Group)
		}
	}
	return groups
}

// Reference is the whole manual: how the language differs from Python, and every entry.
func Reference(manual []Entry) string {
	var b strings.Builder
	b.WriteString(`Cells are written in Starlark, which reads as Python does. A name means what it was last set to, whichever cell
set it; a function sees the newest value. The last line of a cell shows its value, unless it ends in a semicolon.
A cell can read the flock that the notebook was started on, and nothing else.

What differs from Python: no import, class, try, with, yield, del, **, is and f"..."; comparisons are not chained;
write pow(x, y), x == None, and "{} g".format(fixed(x, 1)). A missing value is None; sum, mean and the like leave it
out. A column is not compared as a whole: write table.where(sex = "F", weight = (500, None)), or
table.where(lambda r: r.sex == "F" and r.weight >= 500).
`)
	for _, g := range Groups(manual) {
		fmt.Fprintf(&b, "\n%s\n%s\n", g, strings.Repeat("-", len(g)))
		for _, m := range manual {
			if m.Group == g {
				fmt.Fprintf(&b, "\n%s\n", m.Text())
			}
		}
	}
	return b.String()
}

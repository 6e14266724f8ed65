package render

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"

	"keelmark/notebooks/nbformat"
)

// The tags of a cell that steer how a notebook is laid out.
const (
	HideInput  = "hide-input"  // its source is not shown
	HideOutput = "hide-output" // its outputs are not shown
	HideCell   = "hide-cell"   // neither
)

// FromNotebook lays out an executed notebook: Markdown as text, the source of code cells unless they or the
// whole notebook hide it, and of each output the richest form that this package can show without taking in
// foreign HTML. A first-rank heading that opens the notebook becomes the document's title.
//
// The notebook's metadata may carry {"keelmark": {"title": ..., "running": ..., "lang": ..., "hide_input":
// true}}; what the caller sets in the returned Document wins. An output that cannot be read is shown as an
// error in its place, never dropped.
func FromNotebook(nb *nbformat.Notebook) Document {
	var meta struct {
		Title, Running, Lang string
		HideInput            bool `json:"hide_input"`
	}
	if own, ok := nb.Metadata["keelmark"]; ok {
		if data, err := json.Marshal(own); err == nil {
			// Metadata of another shape is not ours: it is left alone.
			if json.Unmarshal(data, &meta) != nil {
				meta.Title, meta.Running, meta.Lang, meta.HideInput = "", "", "", false
			}
		}
	}
	d := Document{Title: meta.Title, Running: meta.Running, Lang: meta.Lang}
	for _, c := range nb.Cells {
		if c.Tagged(HideCell) {
			continue
		}
		switch c.Type {
		case nbformat.Markdown:
			source := c.Source
			if d.Title == "" && len(d.Blocks) == 0 {
				d.Title, source = cutTitle(source)
			}
			if strings.TrimSpace(source) != "" {
				d.Blocks = append(d.Blocks, Markdown{source})
			}
		case nbformat.Code:
			if !meta.HideInput && !c.Tagged(HideInput) && !hidden(c) && strings.TrimSpace(c.Source) != "" {
				d.Blocks = append(d.Blocks, Code{c.Source, "python"}) // Starlark reads as Python does
			}
			if !c.Tagged(HideOutput) {
				for _, o := range c.Outputs {
					d.Blocks = append(d.Blocks, output(o)...)
				}
			}
		}
	}
	return d
}

// hidden honours the metadata by which notebook front ends fold a cell's source away.
func hidden(c *nbformat.Cell) bool {
	jupyter, _ := c.Metadata["jupyter"].(map[string]any)
	yes, _ := jupyter["source_hidden"].(bool)
	return yes
}

// cutTitle takes a first-rank heading off the top of a Markdown text.
func cutTitle(source string) (title, rest string) {
	line, rest, _ := strings.Cut(strings.TrimLeft(source, "\n \t"), "\n")
	text, ok := strings.CutPrefix(line, "# ")
	if !ok {
		return "", source
	}
	return strings.TrimSpace(strings.TrimRight(text, "# ")), rest
}

func output(o nbformat.Output) Blocks {
	switch o.Type {
	case nbformat.Stream:
		return Blocks{Preformatted{Text: strings.TrimRight(o.Text, "\n"), Error: o.Name == "stderr"}}
	case nbformat.Error:
		text := o.ErrName + ": " + o.ErrValue
		if len(o.Traceback) > 0 {
			text = strings.Join(o.Traceback, "\n")
		}
		return Blocks{Preformatted{Text: withoutEscapes(text), Error: true}}
	}
	return bundled(o.Data)
}

// bundled chooses among the forms of an output.
func bundled(data nbformat.Bundle) Blocks {
	if own, ok := data[MIME]; ok {
		raw, err := json.Marshal(own)
		if err == nil {
			var b Block
			if b, err = Unmarshal(raw); err == nil {
				return Blocks{b}
			}
		}
		return Blocks{Preformatted{Text: fmt.Sprintf("This output cannot be read (%v); run the notebook again.", err), Error: true}}
	}
	text, _ := data["text/plain"].(string)
	for _, kind := range []string{"image/png", "image/jpeg"} {
		encoded, ok := data[kind].(string)
		if !ok {
			continue
		}
		file, err := base64.StdEncoding.DecodeString(strings.Join(strings.Fields(encoded), ""))
		if err != nil {
			return Blocks{Preformatted{Text: "This picture cannot be read; run the notebook again.", Error: true}}
		}
		if text == "" {
			text = "picture made by the cell above"
		}
		return Blocks{Image{Data: file, Alt: text}}
	}
	if md, ok := data["text/markdown"].(string); ok {
		return Blocks{Markdown{md}}
	}
	if text != "" {
		return Blocks{Preformatted{Text: text}}
	}
	return nil
}

var escapes = regexp.MustCompile("\x1b\\[[0-9;]*[A-Za-z]")

// withoutEscapes drops the colours that terminals understand.
func withoutEscapes(s string) string { return escapes.ReplaceAllString(s, "") }

package render

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/png"
	"reflect"
	"strings"
	"testing"

	"keelmark/notebooks/nbformat"
)

// A notebook that carries blocks as outputs, written to its file and read again, is the same document.
func TestBlocksTravelInNotebooks(t *testing.T) {
	nb := nbformat.New()
	nb.Metadata["keelmark"] = map[string]any{"running": "w.xlsx", "hide_input": true}
	nb.Add(nbformat.Markdown, "# Before the show\n\nWords.")
	cell := nb.Add(nbformat.Code, "report()")
	want := Blocks{Markdown{"\nWords."}}
	for _, b := range sample().Blocks {
		bundle, err := Bundle(b)
		if err != nil {
			t.Fatal(err)
		}
		if html, _ := bundle["text/html"].(string); !strings.HasPrefix(html, `<div class="keelmark">`) {
			t.Errorf("%s: HTML %q", b.Kind(), html)
		}
		if text, _ := bundle["text/plain"].(string); text == "" && b.Kind() != "page-break" && b.Kind() != "notes" {
			t.Errorf("%s says nothing in plain text", b.Kind())
		}
		if _, svg := bundle["image/svg+xml"]; svg != (b.Kind() == "figure") {
			t.Errorf("%s: SVG %v", b.Kind(), svg)
		}
		cell.Append(nbformat.Output{Type: nbformat.Display, Data: bundle, Metadata: map[string]any{}})
		want = append(want, b)
	}
	file, err := nb.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	back, err := nbformat.Parse("report.ipynb", file)
	if err != nil {
		t.Fatal(err)
	}
	d := FromNotebook(back)
	if d.Title != "Before the show" || d.Running != "w.xlsx" {
		t.Errorf("title %q, running %q", d.Title, d.Running)
	}
	if len(d.Blocks) != len(want) {
		t.Fatalf("%d blocks, want %d", len(d.Blocks), len(want))
	}
	for i := range want {
		if !reflect.DeepEqual(d.Blocks[i], want[i]) {
			t.Errorf("block %d (%s) changed", i, want[i].Kind())
		}
	}
	checkPage(t, makeHTML(t, d, ""))
}

func TestFromNotebook(t *testing.T) {
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 2, 2))); err != nil {
		t.Fatal(err)
	}
	nb := nbformat.New()
	nb.Add(nbformat.Markdown, "Some words first.\n\n# Later title")
	shown := nb.Add(nbformat.Code, "x = 1\nx")
	for _, o := range []nbformat.Output{
		{Type: nbformat.Stream, Name: "stdout", Text: "hello\n"},
		{Type: nbformat.Result, Data: nbformat.Bundle{"text/plain": "1", "text/html": "<script>alert(1)</script>"}},
		{Type: nbformat.Error, ErrName: "Error", ErrValue: "rign", Traceback: []string{"\x1b[31mred\x1b[0m", "rign"}},
		{Type: nbformat.Display, Data: nbformat.Bundle{"image/png": base64.StdEncoding.EncodeToString(picture.Bytes()) + "\n", "text/plain": "dot"}},
		{Type: nbformat.Display, Data: nbformat.Bundle{"image/png": "%%%"}},
		{Type: nbformat.Display, Data: nbformat.Bundle{MIME: map[string]any{"kind": "dial"}, "text/plain": "x"}},
		{Type: nbformat.Display, Data: nbformat.Bundle{"text/markdown": "*m*"}},
		{Type: nbformat.Display, Data: nbformat.Bundle{"application/x": "y"}},
	} {
		shown.Append(o)
	}
	for _, tag := range []string{HideInput, HideOutput, HideCell} {
		c := nb.Add(nbformat.Code, "secret_"+tag)
		c.Metadata["tags"] = []any{tag}
		c.Append(nbformat.Output{Type: nbformat.Result, Data: nbformat.Bundle{"text/plain": "result of " + tag}})
	}
	folded := nb.Add(nbformat.Code, "folded")
	folded.Metadata["jupyter"] = map[string]any{"source_hidden": true}
	d := FromNotebook(nb)
	if d.Title != "" {
		t.Errorf("title %q", d.Title)
	}
	want := Blocks{
		Markdown{"Some words first.\n\n# Later title"},
		Code{"x = 1\nx", "python"},
		Preformatted{Text: "hello"},
		Preformatted{Text: "1"},
		Preformatted{Text: "red\nrign", Error: true},
		Image{Data: picture.Bytes(), Alt: "dot"},
		Preformatted{Text: "This picture cannot be read; run the notebook again.", Error: true},
		Preformatted{Text: "This output cannot be read (no block of kind \"dial\" is known); run the notebook again.", Error: true},
		Markdown{"*m*"},
		Preformatted{Text: "result of " + HideInput},
		Code{"secret_" + HideOutput, "python"},
	}
	if !reflect.DeepEqual(d.Blocks, want) {
		for i, b := range d.Blocks {
			t.Logf("%d %#v", i, b)
		}
		t.Error("blocks differ")
	}
	checkPage(t, makeHTML(t, d, ""))
	makePDF(t, d, A4)
}

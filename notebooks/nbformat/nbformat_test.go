package nbformat

import (
	"bytes"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// The bytes in testdata were written by Python's nbformat 5.5.0; see testdata/README.md.
func TestSameBytesAsReference(t *testing.T) {
	want := read(t, "testdata/reference.ipynb")
	nb, err := Parse("reference.ipynb", want)
	if err != nil {
		t.Fatal(err)
	}
	same(t, write(t, nb), want)
	validate(t, want)
}

// A float in metadata takes Python's form (repr), whatever the form read.
// Expected forms: Python 3.11, json.dumps.
func TestNumbersAsPythonWritesThem(t *testing.T) {
	for in, want := range map[string]string{
		"1e5": "100000.0", "1E+2": "100.0", "-0": "0", "-0.0": "-0.0", "1e16": "1e+16", "9999999999999998.0": "9999999999999998.0",
		"0.0001": "0.0001", "0.00001": "1e-05", "123456789012345678901": "123456789012345678901", "1.10": "1.1", "1e999": "1e999",
	} {
		if got := numberText(json.Number(in)); got != want {
			t.Errorf("%s: got %s, want %s", in, got, want)
		}
	}
}

func TestOlderMinorsAreUpgraded(t *testing.T) {
	nb, err := Parse("old.ipynb", read(t, "testdata/old.ipynb"))
	if err != nil {
		t.Fatal(err)
	}
	first := write(t, nb)
	validate(t, first)
	again, _ := Parse("old.ipynb", read(t, "testdata/old.ipynb"))
	same(t, write(t, again), first) // ids are made, not drawn
	for i, c := range nb.Cells {
		if !wellFormedID(c.ID) {
			t.Errorf("cell %d: id %q", i, c.ID)
		}
		c.ID = []string{"ID0", "ID1"}[i]
	}
	same(t, write(t, nb), read(t, "testdata/old_upgraded.ipynb"))
}

func TestRepairKeepsGoodIDs(t *testing.T) {
	nb := New()
	for range 6 {
		nb.Add(Code, "x")
	}
	nb.Cells[0].ID = "same"
	nb.Cells[1].ID = "same"
	nb.Cells[2].ID = "with blank"
	nb.Cells[3].ID = strings.Repeat("x", 65)
	nb.Cells[5].ID = "ok-1_A"
	nb.Repair()
	if nb.Cells[0].ID != "same" || nb.Cells[5].ID != "ok-1_A" {
		t.Error("a good id was changed")
	}
	var ids []string
	for _, c := range nb.Cells {
		if !wellFormedID(c.ID) || slices.Contains(ids, c.ID) {
			t.Errorf("id %q is malformed or taken", c.ID)
		}
		ids = append(ids, c.ID)
	}
	nb.Repair()
	for i, c := range nb.Cells {
		if c.ID != ids[i] {
			t.Errorf("a second repair changed %q to %q", ids[i], c.ID)
		}
	}
}

func TestUnknownFieldsSurvive(t *testing.T) {
	in := `{
 "cells": [
  {
   "cell_type": "sketch",
   "drawing": [
    1,
    2
   ],
   "id": "a",
   "metadata": {}
  },
  {
   "cell_type": "code",
   "execution_count": null,
   "id": "b",
   "later": true,
   "metadata": {},
   "outputs": [
    {
     "output_type": "smell",
     "what": "hay"
    },
    {
     "name": "stdout",
     "output_type": "stream",
     "text": [],
     "when": 1.5
    }
   ],
   "source": []
  }
 ],
 "metadata": {},
 "nbformat": 4,
 "nbformat_minor": 6,
 "more": {
  "x": 1
 }
}
`
	in = strings.Replace(in, ` "metadata": {},
 "nbformat": 4,
 "nbformat_minor": 6,
 "more": {
  "x": 1
 }
}`, ` "metadata": {},
 "more": {
  "x": 1
 },
 "nbformat": 4,
 "nbformat_minor": 6
}`, 1)
	nb, err := Parse("later.ipynb", []byte(in))
	if err != nil {
		t.Fatal(err)
	}
	same(t, write(t, nb), []byte(in))
}

func TestStreamsJoin(t *testing.T) {
	c := New().Add(Code, "")
	for _, o := range []Output{{Type: Stream, Name: "stdout", Text: "a"}, {Type: Stream, Name: "stdout", Text: "b\n"},
		{Type: Stream, Name: "stderr", Text: "c"}, {Type: Stream, Name: "stdout", Text: "d"}} {
		c.Append(o)
	}
	var got []string
	for _, o := range c.Outputs {
		got = append(got, o.Name+":"+o.Text)
	}
	if want := []string{"stdout:ab\n", "stderr:c", "stdout:d"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestMessagesNamePlaceAndCure(t *testing.T) {
	for in, want := range map[string]string{
		``:                                  "the file is empty",
		`[1]`:                               "JSON array where { is wanted",
		"{\n \"a\": 1,,":                    "line 2: not a notebook",
		"{\n \"cells\": [\n":                "line 3: the notebook ends too early",
		`{}`:                                `no "nbformat" number`,
		`{"nbformat":3,"nbformat_minor":0}`: "format 3 is too old; open it",
		`{"nbformat":5,"nbformat_minor":0}`: "newer than this program",
		`{"nbformat":4}`:                    `add "nbformat_minor": 5`,
		`{"nbformat":4,"nbformat_minor":5}`: `no "cells" list`,
		"\xff":                              "not UTF-8",
		`{"nbformat":4,"nbformat_minor":5,"cells":[]} x`:                                                  "after the end",
		cells(`{"cell_type":"raw"},7`):                                                                    "cell 2: it is the number 7, not a cell",
		cells(`{"source":""}`):                                                                            `cell 1: it has no "cell_type"`,
		cells(`{"cell_type":"raw","source":{}}`):                                                          `cell 1: "source" is an object; write a text or a list of texts`,
		cells(`{"cell_type":"raw","source":["a",1]}`):                                                     `"source" holds the number 1 as item 2`,
		cells(`{"cell_type":"raw","metadata":[]}`):                                                        `"metadata" is a list`,
		cells(`{"cell_type":"code","outputs":{}}`):                                                        `"outputs" is an object, not a list`,
		cells(`{"cell_type":"code","execution_count":-1}`):                                                `"execution_count" is the number -1`,
		cells(`{"cell_type":"code","outputs":[{}]}`):                                                      `cell 1: output 1: it has no "output_type"`,
		cells(`{"cell_type":"code","outputs":[{"output_type":"stream","text":3}]}`):                       `"text" is the number 3`,
		cells(`{"cell_type":"code","outputs":[{"output_type":"error","traceback":[null]}]}`):              `"traceback" holds null as item 1`,
		cells(`{"cell_type":"code","outputs":[{"output_type":"display_data","data":{"text/plain":{}}}]}`): `"text/plain" is an object`,
	} {
		_, err := Parse("n.ipynb", []byte(in))
		if err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "n.ipynb: ") {
			t.Errorf("%s\n got: %v\nwant: %s", in, err, want)
		}
	}
}

func TestWriteRefusesWhatTheFormatForbids(t *testing.T) {
	for want, spoil := range map[string]func(*Cell){
		`cell 1: type "heading"`:               func(c *Cell) { c.Type = "heading" },
		"cell 1: a raw cell has outputs":       func(c *Cell) { c.Type = Raw; c.Append(Output{Type: Error}) },
		`cell 1: tag "a,b"`:                    func(c *Cell) { c.Metadata["tags"] = []any{"a,b"} },
		`cell 1: tag "a" is`:                   func(c *Cell) { c.Metadata["tags"] = []string{"a", "a"} },
		`cell 1, output 1: text/plain holds a`: func(c *Cell) { c.Append(Output{Type: Display, Data: Bundle{"text/plain": 5}}) },
		`cell 1, output 1: type "smell"`:       func(c *Cell) { c.Append(Output{Type: "smell"}) },
		"nested more than 200 levels deep": func(c *Cell) {
			var deep any
			for range 300 {
				deep = []any{deep}
			}
			c.Metadata["x"] = deep
		},
		"cannot be written in a notebook; leave": func(c *Cell) { c.Metadata["x"] = nan() },
	} {
		nb := New()
		spoil(nb.Add(Code, "x"))
		if _, err := nb.Bytes(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}

// What is built in memory is valid against the public schema, Go values in JSON types included.
func TestBuiltNotebookIsValid(t *testing.T) {
	nb := New()
	nb.Add(Markdown, "# Hello\nworld")
	c := nb.Add(Code, "1")
	one := 1
	c.Count = &one
	c.Append(Output{Type: Result, Count: &one, Data: Bundle{"text/plain": "1",
		"application/vnd.keelmark.block+json": struct {
			Kind string  `json:"kind"`
			N    float64 `json:"n"`
		}{"para", 2}}})
	c.Append(Output{Type: Error, ErrName: "E", ErrValue: "v"})
	data := write(t, nb)
	validate(t, data)
	back, err := Parse("x", data)
	if err != nil {
		t.Fatal(err)
	}
	same(t, write(t, back), data)
}

func FuzzParse(f *testing.F) {
	for _, name := range []string{"testdata/reference.ipynb", "testdata/old.ipynb"} {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(cells(`{"cell_type":"code","outputs":[{"output_type":"stream","text":["a\u2028b"]}]}`)))
	f.Fuzz(func(t *testing.T, data []byte) {
		nb, err := Parse("fuzz", data)
		if err != nil {
			return
		}
		first, err := nb.Bytes()
		if err != nil {
			return // read, but not writable as 4.5: said so
		}
		back, err := Parse("fuzz", first)
		if err != nil {
			t.Fatalf("wrote what cannot be read: %v", err)
		}
		second, err := back.Bytes()
		if err != nil || !bytes.Equal(first, second) {
			t.Fatalf("a second writing differs (%v)\n%s\n%s", err, first, second)
		}
	})
}

func cells(list string) string {
	return `{"nbformat":4,"nbformat_minor":5,"metadata":{},"cells":[` + list + `]}`
}

func nan() float64 { zero := 0.0; return zero / zero }

func read(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func write(t *testing.T, nb *Notebook) []byte {
	t.Helper()
	data, err := nb.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func same(t *testing.T, got, want []byte) {
	t.Helper()
	if bytes.Equal(got, want) {
		return
	}
	g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			t.Fatalf("line %d\n got: %s\nwant: %s", i+1, g[i], w[i])
		}
	}
	t.Fatalf("got %d lines, want %d", len(g), len(w))
}

// validate checks against the public schema of format 4.5.
func validate(t *testing.T, data []byte) {
	t.Helper()
	schema, err := jsonschema.NewCompiler().Compile("testdata/nbformat.v4.5.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(v); err != nil {
		t.Error(err)
	}
}

// Package render lays documents out for screen and paper.
//
// A Document is a list of blocks: headings, paragraphs, tables, claims, cautions, figures, and the blank
// lines that the keeper writes on. Two writers go over it: HTML for the screen (self-contained, readable
// without colour, script or network) and PDF for paper (A4 or Letter). A report is a notebook, so blocks also
// travel as JSON inside notebook outputs, beside HTML and text for whoever opens the notebook elsewhere.
//
// Same document, same bytes. It refuses to decide: nothing here computes, ranks or colours a bird, and the
// line for the decision stays blank.
package render

import (
	"encoding/json"
	"fmt"

	"keelmark/ingest/record"
)

// Document is what is printed.
type Document struct {
	Title   string     // the one first-rank heading
	Running string     // stands on every page beside the title: flock, file, rows read
	Lang    string     // of its words, "en" where empty
	Made    record.Day // date of the report, also in the PDF's own dates
	Blocks  Blocks
}

// Paper is a paper size. The empty Paper leaves it to the printer in HTML and is A4 in PDF.
type Paper string

// The papers. Both carry the same layout, of 180 by 249 mm.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

func (p Paper) check() error {
	switch p {
	case "", A4, Letter:
		return nil
	}
	return fmt.Errorf("paper %q is not known; use %s or %s", string(p), A4, Letter)
}

// Block is one part of a document. The blocks are the types of this package that have a Kind.
type Block interface {
	// Kind is the block's name in JSON.
	Kind() string
}

// Blocks is a list of blocks that goes to JSON and back: each block is an object with its "kind".
type Blocks []Block

// MarshalJSON implements json.Marshaler.
func (bs Blocks) MarshalJSON() ([]byte, error) {
	list := make([]json.RawMessage, 0, len(bs))
	for _, b := range bs {
		data, err := Marshal(b)
		if err != nil {
			return nil, err
		}
		list = append(list, data)
	}
	return json.Marshal(list)
}

// UnmarshalJSON implements json.Unmarshaler.
func (bs *Blocks) UnmarshalJSON(data []byte) error {
	var list []json.RawMessage
	if err := json.Unmarshal(data, &list); err != nil {
		return err
	}
	*bs = nil
	for _, item := range list {
		b, err := Unmarshal(item)
		if err != nil {
			return err
		}
		*bs = append(*bs, b)
	}
	return nil
}

// envelope is how a block is written.
type envelope struct {
	Kind  string          `json:"kind"`
	Block json.RawMessage `json:"block"`
}

// Marshal writes a block as JSON: {"kind": ..., "block": {...}}.
func Marshal(b Block) ([]byte, error) {
	if b == nil {
		return nil, fmt.Errorf("there is no block to write")
	}
	data, err := json.Marshal(b)
	if err != nil {
		return nil, fmt.Errorf("block %s: %w", b.Kind(), err)
	}
	return json.Marshal(envelope{b.Kind(), data})
}

// Unmarshal reads what Marshal wrote.
func Unmarshal(data []byte) (Block, error) {
	var e envelope
	if err := json.Unmarshal(data, &e); err != nil {
		return nil, fmt.Errorf("not a block: %w", err)
	}
	switch e.Kind {
	case Heading{}.Kind():
		return read[Heading](e)
	case Para{}.Kind():
		return read[Para](e)
	case Markdown{}.Kind():
		return read[Markdown](e)
	case Table{}.Kind():
		return read[Table](e)
	case Claims{}.Kind():
		return read[Claims](e)
	case Caution{}.Kind():
		return read[Caution](e)
	case Figure{}.Kind():
		return read[Figure](e)
	case Image{}.Kind():
		return read[Image](e)
	case Facts{}.Kind():
		return read[Facts](e)
	case Columns{}.Kind():
		return read[Columns](e)
	case PageBreak{}.Kind():
		return PageBreak{}, nil
	case Notes{}.Kind():
		return Notes{}, nil
	case Decision{}.Kind():
		return read[Decision](e)
	case Ticks{}.Kind():
		return read[Ticks](e)
	case Code{}.Kind():
		return read[Code](e)
	case Preformatted{}.Kind():
		return read[Preformatted](e)
	case Group{}.Kind():
		return read[Group](e)
	}
	return nil, fmt.Errorf("no block of kind %q is known", e.Kind)
}

func read[B Block](e envelope) (Block, error) {
	var b B
	if err := json.Unmarshal(e.Block, &b); err != nil {
		return nil, fmt.Errorf("block %s: %w", e.Kind, err)
	}
	return b, nil
}

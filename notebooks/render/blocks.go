package render

import (
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/plots"
)

// Heading opens a section. Level 2 is a chapter, 3 a section, 4 a part; level 1 is the document's own title
// and is treated as 2. A heading stays with what follows it.
type Heading struct {
	Level int    `json:"level"`
	Text  string `json:"text"`
}

// Para is running text without markup.
type Para struct {
	Text  string `json:"text"`
	Style Style  `json:"style,omitempty"`
}

// Style is the weight of a paragraph.
type Style string

// The styles. The empty Style is body text.
const (
	Lead  Style = "lead"  // the answer, first on the page
	Small Style = "small" // method, source
)

// Markdown is text with markup (CommonMark with tables, task lists, strike-through and footnotes). HTML in it
// is dropped.
type Markdown struct {
	Source string `json:"source"`
}

// Table is a table of words and figures. Make one of an analysis.Table with TableOf.
type Table struct {
	Name    string   `json:"name,omitempty"`
	Caption string   `json:"caption,omitempty"`
	Columns []Column `json:"columns"`
	Rows    [][]Cell `json:"rows"` // each with one Cell a column
	Note    string   `json:"note,omitempty"`
}

// Column describes one column of a Table.
type Column struct {
	Head    string `json:"head"`
	Unit    string `json:"unit,omitempty"`
	Align   Align  `json:"align,omitempty"`
	RowHead bool   `json:"row_head,omitempty"` // names the row: the bird
	NoWrap  bool   `json:"no_wrap,omitempty"`  // ring numbers, ranges
}

// Align is how the cells of a column stand.
type Align string

// The alignments. The empty Align is to the left.
const (
	Right  Align = "right" // numbers
	Center Align = "center"
)

// Cell is one cell of a Table. What is set is shown, in this order.
type Cell struct {
	Stands analysis.Stands `json:"stands,omitempty"` // its sign, always beside Text
	Text   string          `json:"text,omitempty"`
	Strong bool            `json:"strong,omitempty"`
	Figure *plots.Figure   `json:"figure,omitempty"` // a small one: plots.Glyph
	Tick   bool            `json:"tick,omitempty"`   // an empty box to tick, before Text
	Line   bool            `json:"line,omitempty"`   // an empty line to write on
}

// Caution is a box that says what can hurt someone, or what would change the picture.
type Caution struct {
	Topic  string   `json:"topic"` // "chemicals", "withdrawal", "trimming", "records", ...
	Title  string   `json:"title"`
	Lines  []string `json:"lines"`
	Stop   bool     `json:"stop,omitempty"` // a vet or the authority comes first
	Source string   `json:"source,omitempty"`
}

// CautionsOf makes the boxes of an analysis's cautions, one a topic, in the order in which topics come up.
// What is said twice is printed once.
func CautionsOf(cautions []analysis.Caution) Blocks {
	var boxes []Caution
	said := map[analysis.Caution]bool{}
	for _, c := range cautions {
		if said[c] {
			continue
		}
		said[c] = true
		i := slices.IndexFunc(boxes, func(b Caution) bool { return b.Topic == c.Topic })
		if i < 0 {
			boxes, i = append(boxes, Caution{Topic: c.Topic, Title: "Caution: " + c.Topic}), len(boxes)
		}
		b := &boxes[i]
		b.Lines = append(b.Lines, c.Text)
		if c.Source != "" && !strings.Contains(b.Source, c.Source) {
			b.Source = strings.TrimPrefix(b.Source+"; "+c.Source, "; ")
		}
	}
	var out Blocks
	for _, b := range boxes {
		out = append(out, b)
	}
	return out
}

// Figure is a figure with its title, its caption and, on screen, its numbers.
type Figure struct {
	Plot plots.Figure `json:"plot"`
}

// Image is a photograph or a foreign bitmap, PNG or JPEG. Both writers encode it anew, so that nothing which
// the file carried beside its pixels (place, date, camera) is passed on.
type Image struct {
	Data    []byte  `json:"data"` // the file
	Alt     string  `json:"alt"`
	Caption string  `json:"caption,omitempty"`
	Width   float64 `json:"width_mm,omitempty"` // as printed; 0 for 80 mm
}

// Facts is the identity header of a bird or a report: short names and values.
type Facts struct {
	Title string `json:"title,omitempty"`
	Pairs []Fact `json:"pairs"`
}

// Fact is one line of Facts.
type Fact struct {
	Name  string `json:"name"`
	Value string `json:"value"` // "" prints as "not recorded"
}

// Columns sets blocks side by side; on a narrow screen one above the other. Widths are the columns' shares of
// the width on paper, equal where there are none; a screen shares out as it can.
type Columns struct {
	Columns []Blocks  `json:"columns"`
	Widths  []float64 `json:"widths,omitempty"`
}

// Group keeps several blocks together as one output of a notebook cell. It adds nothing of its own.
type Group struct {
	Blocks Blocks `json:"blocks"`
}

// PageBreak starts a new page on paper.
type PageBreak struct{}

// Notes is where the PDF prints the footnotes of the claims so far: the cells that each sentence rests on.
// What is left over is printed at the end. On screen each sentence opens instead.
type Notes struct{}

// Decision is the blank line for the keeper's own words, with reason and date.
type Decision struct {
	About string `json:"about"` // the bird, or the question
}

// Ticks is a row for the pencil: boxes to tick and lines to write on.
type Ticks struct {
	Label string `json:"label"` // the bird
	Items []Tick `json:"items"`
}

// Tick is one entry of a Ticks row.
type Tick struct {
	Text string `json:"text"`
	Line bool   `json:"line,omitempty"` // a line to write on instead of a box
}

// Code is the source of a notebook cell.
type Code struct {
	Source   string `json:"source"`
	Language string `json:"language,omitempty"` // "starlark" or "python": its words are told apart
}

// Preformatted is text whose line breaks and columns count.
type Preformatted struct {
	Text  string `json:"text"`
	Error bool   `json:"error,omitempty"` // the message of a cell that failed
}

// Kind implements Block.
func (Heading) Kind() string { return "heading" }

// Kind implements Block.
func (Para) Kind() string { return "para" }

// Kind implements Block.
func (Markdown) Kind() string { return "markdown" }

// Kind implements Block.
func (Table) Kind() string { return "table" }

// Kind implements Block.
func (Claims) Kind() string { return "claims" }

// Kind implements Block.
func (Caution) Kind() string { return "caution" }

// Kind implements Block.
func (Figure) Kind() string { return "figure" }

// Kind implements Block.
func (Image) Kind() string { return "image" }

// Kind implements Block.
func (Facts) Kind() string { return "facts" }

// Kind implements Block.
func (Columns) Kind() string { return "columns" }

// Kind implements Block.
func (Group) Kind() string { return "group" }

// Kind implements Block.
func (PageBreak) Kind() string { return "page-break" }

// Kind implements Block.
func (Notes) Kind() string { return "notes" }

// Kind implements Block.
func (Decision) Kind() string { return "decision" }

// Kind implements Block.
func (Ticks) Kind() string { return "ticks" }

// Kind implements Block.
func (Code) Kind() string { return "code" }

// Kind implements Block.
func (Preformatted) Kind() string { return "preformatted" }

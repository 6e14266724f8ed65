package render

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Claims sets sentences side by side: what speaks for, what speaks against, what is open. What calls for a
// vet or the authority stands first, across the page.
type Claims struct {
	Title  string  `json:"title,omitempty"`
	Claims []Claim `json:"claims"`
}

// Claim is one sentence with all that it rests on, as a page shows it.
type Claim struct {
	ID      string            `json:"id"`
	Topic   string            `json:"topic"`
	Stands  analysis.Stands   `json:"stands"`
	Text    string            `json:"text"`
	Caveats []string          `json:"caveats,omitempty"`
	Refusal *analysis.Refusal `json:"refusal,omitempty"`
	N       analysis.Counts   `json:"n"`
	Cells   []Evidence        `json:"cells,omitempty"` // in order of place
	Pool    []string          `json:"pool,omitempty"`  // IDs of the pooled claims it leans on
	Method  string            `json:"method,omitempty"`
	Source  string            `json:"source,omitempty"`
}

// Evidence is one cell: where it is, what was typed, what was done to it.
type Evidence struct {
	At   record.Ref `json:"at"`
	Text string     `json:"text,omitempty"`
	Done []string   `json:"done,omitempty"`
}

// Look finds the evidence of a cell. Where a cell is not known, it returns the place alone.
type Look func(record.Ref) Evidence

// EvidenceIn makes a Look over the records of a flock.
func EvidenceIn(d *record.Dataset) Look {
	known := make(map[record.Ref]Evidence, len(d.Observations)+len(d.Events))
	for _, o := range d.Observations {
		known[o.At] = Evidence{o.At, o.Text, o.Detail().Steps}
		for _, at := range o.Detail().Also {
			known[at] = Evidence{at, o.Text, []string{"the same weighing as in " + o.At.String() + ", counted once"}}
		}
	}
	for _, e := range d.Events {
		if _, taken := known[e.At]; !taken {
			known[e.At] = Evidence{At: e.At, Text: e.Text}
		}
	}
	return func(at record.Ref) Evidence {
		if e, ok := known[at]; ok {
			return e
		}
		return Evidence{At: at}
	}
}

// ClaimsOf makes the block of an analysis's claims. A nil look shows places without what was typed there.
func ClaimsOf(title string, claims []analysis.Claim, look Look) Claims {
	if look == nil {
		look = func(at record.Ref) Evidence { return Evidence{At: at} }
	}
	out := Claims{Title: title}
	for _, c := range claims {
		p := Claim{ID: c.ID, Topic: c.Topic, Stands: c.Stands, Text: c.Text, Caveats: c.Caveats, Refusal: c.Refusal,
			N: c.N, Pool: c.Pool, Method: c.Method, Source: c.Source}
		for _, at := range c.RestsOn {
			p.Cells = append(p.Cells, look(at))
		}
		slices.SortStableFunc(p.Cells, func(a, b Evidence) int { return a.At.Compare(b.At) })
		out.Claims = append(out.Claims, p)
	}
	return out
}

// Sign is the mark of a side. Word is always printed beside it: no meaning rests on shape or colour alone.
func Sign(s analysis.Stands) string {
	switch s {
	case analysis.For:
		return "▲"
	case analysis.Against:
		return "▼"
	case analysis.Stop:
		return "■"
	}
	return "○"
}

// Word is what a side is called.
func Word(s analysis.Stands) string {
	switch s {
	case analysis.For:
		return "speaks for"
	case analysis.Against:
		return "speaks against"
	case analysis.Stop:
		return "stop: vet or authority first"
	}
	return "open"
}

// sides returns the three sides that stand beside each other, in printing order.
func sides() []analysis.Stands {
	return []analysis.Stands{analysis.For, analysis.Against, analysis.Open}
}

// on returns the claims of one side, in their order. A side that is not known counts as open.
func (c Claims) on(side analysis.Stands) []Claim {
	var out []Claim
	for _, claim := range c.Claims {
		s := claim.Stands
		if s != analysis.For && s != analysis.Against && s != analysis.Stop {
			s = analysis.Open
		}
		if s == side {
			out = append(out, claim)
		}
	}
	return out
}

// nothing is what a side without claims says.
func nothing(side analysis.Stands) string {
	if side == analysis.Open {
		return "Nothing was left open by what was asked of the records."
	}
	return "Nothing found in the records."
}

// Tally counts the claims of each side in words: "3 speak for · 1 speaks against · 2 open".
func (c Claims) Tally() string {
	count := func(n int, one, many string) string {
		if n == 1 {
			return "1 " + one
		}
		return fmt.Sprintf("%d %s", n, many)
	}
	parts := []string{
		count(len(c.on(analysis.For)), "speaks for", "speak for"),
		count(len(c.on(analysis.Against)), "speaks against", "speak against"),
		count(len(c.on(analysis.Open)), "open", "open"),
	}
	if n := len(c.on(analysis.Stop)); n > 0 {
		parts = append([]string{count(n, "stop sign", "stop signs")}, parts...)
	}
	return strings.Join(parts, " · ")
}

// basis says in words how much a claim rests on: "9 weighings" is the claim's business; here it is cells.
func (c Claim) basis() string {
	var parts []string
	add := func(n int, one, many string) {
		switch {
		case n == 1:
			parts = append(parts, "1 "+one)
		case n > 1:
			parts = append(parts, fmt.Sprintf("%d %s", n, many))
		}
	}
	add(c.N.Records, "record", "records")
	add(c.N.Birds, "bird", "birds")
	add(c.N.Dates, "date", "dates")
	add(c.N.Years, "year", "years")
	if len(parts) == 0 {
		return ""
	}
	return "N: " + strings.Join(parts, ", ")
}

// footnote is all that a claim rests on, in as few words as paper allows: neighbouring cells of one column or
// row that were read alike are named as a range.
func (c Claim) footnote(noteOf func(claimID string) int) string {
	var parts []string
	if n := c.basis(); n != "" {
		parts = append(parts, n)
	}
	if cells := cellsInWords(c.Cells); cells != "" {
		parts = append(parts, cells)
	}
	for _, id := range c.Pool {
		if n := noteOf(id); n > 0 {
			parts = append(parts, fmt.Sprintf("With the pooled estimate of note %d", n))
		} else {
			parts = append(parts, "With the pooled estimate "+id)
		}
	}
	if c.Method != "" {
		parts = append(parts, "Method: "+c.Method)
	}
	if c.Source != "" {
		parts = append(parts, "Source: "+c.Source)
	}
	if len(parts) == 0 {
		return "No cell: this rests on what is missing."
	}
	return strings.Join(parts, ". ") + "."
}

// cellsInWords lists cells by file and sheet: "weights.xlsx, sheet 2026: D14 “612”, D15–D22 (lb to g)".
func cellsInWords(cells []Evidence) string {
	var b strings.Builder
	for i := 0; i < len(cells); {
		first := cells[i].At
		if i > 0 {
			b.WriteString("; ")
		}
		b.WriteString(record.Ref{File: first.File, Sheet: first.Sheet}.String())
		sep := ": "
		if n := sameSheet(cells[i:]); runs(cells[i:i+n]) > fewCells {
			b.WriteString(sep + byColumn(cells[i:i+n]))
			i += n
			continue
		}
		for i < len(cells) && cells[i].At.File == first.File && cells[i].At.Sheet == first.Sheet {
			j := i + 1
			for j < len(cells) && follows(cells[j-1], cells[j], cells[i]) {
				j++
			}
			b.WriteString(sep + span(cells[i:j]))
			sep, i = ", ", j
		}
	}
	return b.String()
}

// fewCells is how many runs of cells of a sheet a footnote quotes; of more it gives the places alone, and the page on
// screen quotes them all.
const fewCells = 6

// sameSheet counts the cells at the front that lie on one sheet.
func sameSheet(cells []Evidence) int {
	n := 1
	for n < len(cells) && cells[n].At.File == cells[0].At.File && cells[n].At.Sheet == cells[0].At.Sheet {
		n++
	}
	return n
}

// runs counts the runs of cells that follow each other.
func runs(cells []Evidence) int {
	n := 0
	for i := 0; i < len(cells); n++ {
		j := i + 1
		for j < len(cells) && follows(cells[j-1], cells[j], cells[i]) {
			j++
		}
		i = j
	}
	return n
}

// byColumn names the places of many cells of one sheet, column by column: "D15, 29, 40–44; F7".
func byColumn(cells []Evidence) string {
	cells = slices.Clone(cells)
	slices.SortStableFunc(cells, func(a, b Evidence) int {
		return cmp.Or(cmp.Compare(a.At.Col, b.At.Col), cmp.Compare(a.At.Row, b.At.Row))
	})
	var b strings.Builder
	for i := 0; i < len(cells); {
		at := cells[i].At
		j := i + 1
		for j < len(cells) && cells[j].At.Col == at.Col && cells[j].At.Row == cells[j-1].At.Row+1 {
			j++
		}
		switch {
		case i == 0:
			b.WriteString(record.ColumnName(int(at.Col)))
		case cells[i-1].At.Col != at.Col:
			b.WriteString("; " + record.ColumnName(int(at.Col)))
		default:
			b.WriteString(", ")
		}
		fmt.Fprint(&b, at.Row)
		if j > i+1 {
			fmt.Fprintf(&b, "–%d", cells[j-1].At.Row)
		}
		i = j
	}
	return b.String()
}

// follows reports whether b is the next cell after a in the direction that the run from start has, read alike.
func follows(a, b, start Evidence) bool {
	if a.At.File != b.At.File || a.At.Sheet != b.At.Sheet || !slices.Equal(a.Done, b.Done) || a.At.Row <= 0 {
		return false
	}
	down := b.At.Col == a.At.Col && b.At.Row == a.At.Row+1
	along := b.At.Row == a.At.Row && b.At.Col == a.At.Col+1
	if a.At == start.At {
		return down || along
	}
	if start.At.Col == a.At.Col && start.At.Row != a.At.Row {
		return down
	}
	return along
}

func span(cells []Evidence) string {
	name := func(r record.Ref) string {
		if c := r.Cell(); c != "" {
			return c
		}
		if r.Row > 0 {
			return fmt.Sprintf("row %d", r.Row)
		}
		return "the whole sheet"
	}
	first, last := cells[0], cells[len(cells)-1]
	s := name(first.At)
	switch {
	case len(cells) > 1:
		s += "–" + name(last.At)
	case first.Text != "":
		s += " “" + first.Text + "”"
	}
	if len(first.Done) > 0 {
		s += " (" + strings.Join(first.Done, "; ") + ")"
	}
	return s
}

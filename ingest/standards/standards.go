// Package standards reads a keeper's own table of standard weights, a csv or any other spreadsheet, into the rows that
// published standards have.
//
// It takes two shapes. Wide: breed and size, then a column for each of cock, hen, cockerel and pullet. Long: breed, size
// and class, then low and high, or weight. Figures may carry their unit ("8 lb 8 oz", "1.2-1.4 kg", "1.7 kg max"), or have it
// from a unit column or from the heading ("cock (g)").
//
// It refuses the whole table where one row cannot be read, and names every such row with its cure: a weight that is left
// out silently would be taken from a published standard instead. It guesses no unit and no size.
package standards

import (
	"fmt"
	"strconv"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// Fault is one thing wrong in a table.
type Fault struct {
	Place   string // "my-standard.csv, row 4, column hen"
	Message string // what is wrong and the cure
}

// Faults is the error of a table: all that is wrong in it, by row.
type Faults []Fault

func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, one := range f {
		lines[i] = one.Place + ": " + one.Message
	}
	return strings.Join(lines, "\n")
}

const (
	// mostRows of a table: a book of standards lists some hundreds of breeds.
	mostRows = 5000
	// mostFaults are told, then how many more there are.
	mostFaults = 20
)

// Read reads the first sheet that holds cells. The error is Faults; the rows are then not to be used.
func Read(book *sheet.Book) ([]record.PublishedWeight, error) {
	r := reader{file: book.File}
	for _, g := range book.Grids {
		if len(g.Rows) == 0 {
			continue
		}
		r.sheet = g.Sheet
		r.read(g)
		break
	}
	if len(r.rows) == 0 && len(r.faults) == 0 {
		r.faults = Faults{{r.file, "holds no weights; write a line of headings (" + shapes + ") and a line for each breed below it"}}
	}
	if n := len(r.faults) - mostFaults; n > 0 {
		r.faults = append(r.faults[:mostFaults], Fault{r.file, fmt.Sprintf("and %d more of the kind", n)})
	}
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	return r.rows, nil
}

const shapes = "breed, size, unit, cock, hen, cockerel, pullet; or breed, size, class, low, high, unit"

type reader struct {
	file, sheet string
	columns     map[field]column
	rows        []record.PublishedWeight
	given       map[string]int32 // row that gave a breed's class, by what tells them apart
	faults      Faults
}

func (r *reader) place(row int32, heading string) string {
	p := r.file
	if r.sheet != "" {
		p += ", sheet " + r.sheet
	}
	if row > 0 {
		p += ", row " + strconv.Itoa(int(row))
	}
	if heading != "" {
		p += ", column " + heading
	}
	return p
}

func (r *reader) fault(row int32, heading, format string, args ...any) {
	r.faults = append(r.faults, Fault{r.place(row, heading), fmt.Sprintf(format, args...)})
}

// read reads the headings, which are the first row that holds text, and the rows below.
func (r *reader) read(g sheet.Grid) {
	r.given = map[string]int32{}
	for i, row := range g.Rows {
		if !filled(row) {
			continue
		}
		if r.columns == nil {
			if r.headings(row); len(r.faults) > 0 {
				return
			}
			continue
		}
		if i > mostRows {
			r.fault(row.N, "", "a table of weights has at most %d rows; is this another file?", mostRows)
			return
		}
		r.line(row)
	}
}

func filled(row sheet.Row) bool {
	for _, c := range row.Cells {
		if parse.Clean(c.Raw) != "" {
			return true
		}
	}
	return false
}

// line reads one row of weights.
func (r *reader) line(row sheet.Row) {
	before := len(r.faults)
	w := record.PublishedWeight{
		Breed: r.text(row, breed), Variety: r.text(row, variety), SizeText: r.text(row, size), Country: r.text(row, country),
		Standard: r.text(row, standard), Edition: r.text(row, edition), Note: r.text(row, note),
		Weights: map[record.Class]record.WeightRange{}, SourceKind: record.OwnTable, Source: r.place(row.N, ""),
	}
	if source := r.text(row, source); source != "" {
		w.Source += " (" + source + ")"
	}
	if w.Breed == "" {
		r.fault(row.N, "breed", "is empty; write the breed, as in your records")
	}
	switch text := parse.Fold(w.SizeText); {
	case text == "":
		r.fault(row.N, r.heading(size, "size"), "is empty; write large or bantam")
	case parse.Size(text) == "":
		r.fault(row.N, r.heading(size, "size"), "%q is no size; write large or bantam", w.SizeText)
	default:
		w.Size = parse.Size(text)
	}
	if r.columns[class].at > 0 {
		r.long(row, &w)
	} else {
		r.wide(row, &w)
	}
	if len(r.faults) > before {
		return
	}
	if len(w.Weights) == 0 {
		r.fault(row.N, "", "%s has no weight for any class; write one, or delete the row", w.Breed)
		return
	}
	r.add(w, row.N)
}

// add adds a row, to those of the same breed where they stand apart only by class.
func (r *reader) add(w record.PublishedWeight, n int32) {
	key := strings.Join([]string{parse.Fold(w.Breed), parse.Fold(w.Variety), string(w.Size), parse.Fold(w.Country), parse.Fold(w.Standard), parse.Fold(w.Edition)}, "\x00")
	at, seen := r.given[key]
	if !seen {
		r.rows = append(r.rows, w)
		r.given[key] = int32(len(r.rows) - 1)
	}
	for _, c := range record.Classes() {
		weight, ok := w.Weights[c]
		if !ok {
			continue
		}
		if first, twice := r.given[key+"\x00"+string(c)]; twice {
			r.fault(n, "", "%s %s %s stands in row %d as well; keep one of them, or tell them apart by variety, standard or edition", w.Breed, w.Size, c, first)
			continue
		}
		r.given[key+"\x00"+string(c)] = n
		if seen {
			r.rows[at].Weights[c] = weight
		}
	}
}

// text is the cell of a column, "" where there is no such column or nothing in it.
func (r *reader) text(row sheet.Row, f field) string {
	c, ok := r.columns[f]
	if !ok || c.at > len(row.Cells) {
		return ""
	}
	return parse.Clean(row.Cells[c.at-1].Raw)
}

func (r *reader) heading(f field, otherwise string) string {
	if c, ok := r.columns[f]; ok {
		return c.heading
	}
	return otherwise
}

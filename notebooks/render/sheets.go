package render

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

//go:embed sheets.css
var sheetsCSS string

//go:embed sheets.html
var sheetsHTML string

// What a page of sheets shows of one sheet. Beyond it the page would be too heavy to open; what is asked or
// refused there is still listed.
const (
	sheetRows    = 2000
	sheetColumns = 200
	placesListed = 12
	shortText    = 16 // letters that stay on one line with their mark
)

// sheetsPage is what sheets.html shows.
type sheetsPage struct {
	Title, Running, Made, Lost string
	CSS                        template.CSS
	Key                        []keyEntry
	Files                      []fileEntry
	Questions, Flagged         []issue
	Rejects                    []issue
	Grids                      []*grid
}

type fileEntry struct {
	record.File
	Became string
}

type keyEntry struct {
	mark
	Word  string
	Cells int
}

// mark is how the fate of a cell looks: a letter, and a class for its colour and frame.
type mark struct{ Letter, Class string }

type issue struct {
	ID       string
	Text     string
	Cells    []place
	More     int
	Readings []string
}

type place struct{ ID, Name string }

type grid struct {
	ID, Name, Tally, Cut string
	Columns              []string
	Rows                 []gridRow
	Wide                 int
}

type gridRow struct {
	N     int
	Cells []gridCell
	Gap   string // in place of a row: what is left out here
}

type gridCell struct {
	mark
	ID, Text, Title string
	Said            []sentence
}

type sentence struct{ Text, Link string }

// Sheets writes the check page of flocks: every sheet as a grid, each cell with its text, a letter for its fate
// and what was read of it; above them the questions and refused cells with links to their places. The ledgers
// must hold their texts. The page needs nothing else, runs nothing, and reads without colour.
func Sheets(w io.Writer, flocks []*record.Dataset, made record.Day) error {
	t, err := template.New("").Parse(sheetsHTML)
	if err != nil {
		return err
	}
	if len(flocks) == 0 {
		return fmt.Errorf("there is no flock to show")
	}
	p := &sheetsPage{Title: "What was read: " + namesOf(flocks), Made: made.String(), CSS: template.CSS(printCSS + sheetsCSS)}
	var tally [record.AsAside + 1]int
	flagged, lost := 0, 0
	for _, group := range bySource(flocks) {
		s := newSheetWriter(p, group)
		s.lists()
		for i := range s.ledgers {
			p.Grids = append(p.Grids, s.grid(s.ledgers[i]))
		}
		for fate, n := range s.tally {
			tally[fate] += n
		}
		flagged, lost = flagged+s.marked, lost+s.lost
	}
	cells := 0
	for _, n := range tally {
		cells += n
	}
	p.Running = fmt.Sprintf("%s, %s", counted(len(p.Grids), "sheet"), counted(cells, "cell"))
	if lost > 0 {
		p.Lost = fmt.Sprintf("Without account: %s. That is a fault of this program; such cells are framed twice and carry the letter !", counted(lost, "cell"))
	}
	p.Key = []keyEntry{
		{markOf(record.AsRecord), "read as a record", tally[record.AsRecord] - flagged},
		{flaggedMark(), "read, but please look", flagged},
		{markOf(record.AsContext), "read as context: date, bird, heading, unit or note of a record", tally[record.AsContext]},
		{markOf(record.AsQuestion), "asked, or waits for an answer", tally[record.AsQuestion]},
		{markOf(record.AsReject), "refused, with the reason", tally[record.AsReject]},
		{markOf(record.AsAside), "set aside: title, total, legend, derived", tally[record.AsAside]},
	}
	return t.ExecuteTemplate(w, "sheets", p)
}

// markOf is the mark of a fate. A cell that holds text must have one of the others than Blank.
func markOf(f record.Fate) mark {
	return [record.AsAside + 1]mark{
		record.Blank: {"!", "lost"}, record.AsRecord: {"R", "rec"}, record.AsContext: {"c", "con"}, record.AsQuestion: {"?", "ask"},
		record.AsReject: {"x", "ref"}, record.AsAside: {"-", "aside"},
	}[f]
}

// flaggedMark is the mark of a record that waits for confirmation.
func flaggedMark() mark { return mark{"R?", "flag"} }

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func namesOf(flocks []*record.Dataset) string {
	var names []string
	for _, d := range flocks {
		names = append(names, d.Name)
	}
	if len(names) > 3 {
		names = append(names[:2], fmt.Sprintf("%d more flocks", len(names)-2))
	}
	return strings.Join(names, ", ")
}

// bySource parts flocks by the files they were read from: the flocks of one source share their files.
func bySource(flocks []*record.Dataset) [][]*record.Dataset {
	var out [][]*record.Dataset
	for i, d := range flocks {
		if i > 0 && slices.EqualFunc(d.Files, flocks[i-1].Files, func(a, b record.File) bool { return a.Name == b.Name && a.Hash == b.Hash }) && len(d.Ledgers) == 0 {
			out[len(out)-1] = append(out[len(out)-1], d)
			continue
		}
		out = append(out, []*record.Dataset{d})
	}
	return out
}

// sheetWriter fills the page with one source.
type sheetWriter struct {
	page    *sheetsPage
	flocks  []*record.Dataset
	ledgers []*record.Ledger
	ids     map[sheetKey]string // of sheets
	said    map[record.Ref][]sentence
	asides  map[sheetKey][]record.Aside
	waits   map[record.Ref]sentence // by row: the question that holds it
	flagged map[record.Ref]bool
	linked  map[record.Ref]bool // cells that a list names
	tally   [record.AsAside + 1]int
	marked  int
	lost    int
}

type sheetKey struct{ file, sheet string }

func keyOf(r record.Ref) sheetKey { return sheetKey{r.File, r.Sheet} }

func newSheetWriter(p *sheetsPage, flocks []*record.Dataset) *sheetWriter {
	s := &sheetWriter{page: p, flocks: flocks, ids: map[sheetKey]string{}, said: map[record.Ref][]sentence{}, asides: map[sheetKey][]record.Aside{},
		waits: map[record.Ref]sentence{}, flagged: map[record.Ref]bool{}, linked: map[record.Ref]bool{}}
	for _, d := range flocks {
		for i := range d.Ledgers {
			l := &d.Ledgers[i]
			s.ledgers = append(s.ledgers, l)
			s.ids[sheetKey{l.File, l.Sheet}] = fmt.Sprintf("s%d", len(p.Grids)+len(s.ledgers))
		}
	}
	return s
}

// cellID is the anchor of a cell, "" where the page does not show it.
func (s *sheetWriter) cellID(r record.Ref) string {
	id, ok := s.ids[keyOf(r)]
	if !ok || r.Row < 1 || r.Col < 1 || r.Row > sheetRows || r.Col > sheetColumns || !s.holds(r) {
		return ""
	}
	return id + "-" + r.Cell()
}

// holds reports whether a cell holds a text. A question may be about a cell that is empty.
func (s *sheetWriter) holds(r record.Ref) bool {
	for _, l := range s.ledgers {
		if l.File == r.File && l.Sheet == r.Sheet {
			return textAt(l, int(r.Row), int(r.Col)) != "" || l.At(r.Row, r.Col) != record.Blank
		}
	}
	return false
}

func textAt(l *record.Ledger, row, col int) string {
	if row > len(l.Texts) || col > len(l.Texts[row-1]) {
		return ""
	}
	return l.Texts[row-1][col-1]
}

// say gathers a sentence that stands at a cell, and so need not name its place.
func (s *sheetWriter) say(at record.Ref, text, link string) {
	s.said[at] = append(s.said[at], sentence{strings.TrimPrefix(text, at.String()+": "), link})
}

// places names the cells of an issue beside the first, which its sentence names, as links.
func (s *sheetWriter) places(all ...record.Ref) (out []place, more int) {
	for i, r := range all {
		if i == placesListed {
			return out, len(all) - i
		}
		name := r.Cell()
		if name == "" {
			name = r.String()
		}
		id := s.cellID(r)
		s.linked[r] = s.linked[r] || id != ""
		out = append(out, place{id, name})
	}
	return out, 0
}

// lists fills what stands above the grids, and gathers what is to be said at each cell.
func (s *sheetWriter) lists() {
	p := s.page
	for _, f := range s.flocks[0].Files {
		became := map[record.Outcome]string{record.Imported: "read", record.Nothing: "holds no records", record.Refused: "refused"}[f.Outcome]
		p.Files = append(p.Files, fileEntry{f, became})
	}
	for _, d := range s.flocks {
		birds := make(map[string]string, len(d.Birds))
		for _, b := range d.Birds {
			birds[b.ID] = b.Label()
		}
		for _, q := range d.Questions {
			one := issue{ID: fmt.Sprintf("q%d", len(p.Questions)+1), Text: q.Message}
			all := append([]record.Ref{q.At}, q.More...)
			one.Cells, one.More = s.places(all...)
			for _, r := range q.Readings {
				one.Readings = append(one.Readings, r.Label)
			}
			for i, at := range all {
				text := q.Message
				if i > 0 {
					text = "asked together with " + q.At.String()
				}
				s.say(at, text, one.ID)
				row := at
				row.Col = 0
				if _, ok := s.waits[row]; !ok {
					s.waits[row] = sentence{"waits for the answer about this row", one.ID}
				}
			}
			p.Questions = append(p.Questions, one)
		}
		for _, r := range d.Rejects {
			s.say(r.At, r.Message, "")
			one := issue{Text: r.Message}
			one.Cells, one.More = s.places(r.At)
			p.Rejects = append(p.Rejects, one)
		}
		for i := range d.Observations {
			o := &d.Observations[i]
			s.record(o.At, observed(o, birds[o.Bird]), o.Text, o.Flagged)
			for _, at := range o.Detail().Also {
				s.say(at, "the same as "+o.At.String()+", counted once", "")
			}
		}
		for i := range d.Events {
			e := &d.Events[i]
			s.record(e.At, happened(e, birds[e.Bird]), e.Text, e.Flagged)
		}
		for _, a := range d.Asides {
			k := sheetKey{a.File, a.Sheet}
			s.asides[k] = append(s.asides[k], a)
		}
	}
}

func (s *sheetWriter) record(at record.Ref, words, text string, flagged bool) {
	s.say(at, "read as "+words, "")
	if !flagged {
		return
	}
	one := issue{Text: fmt.Sprintf("%s: “%s” read as %s", at, text, words)}
	one.Cells, one.More = s.places(at)
	s.page.Flagged = append(s.page.Flagged, one)
	s.flagged[at] = true
}

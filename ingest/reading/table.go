package reading

import (
	"context"

	"keelmark/ingest/evidence"
	"keelmark/ingest/identity"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// lines reads one table.
type lines struct {
	*work
	page   *evidence.Page
	ledger *record.Ledger
	t      *layout.Table
	v      *layout.View
	in     parse.DateIn
	table  int32
	room   room   // for its looks
	only   *Flock // where no column splits flocks

	date, weekday, session, age, ring, name, bird, colour, unit, pen, scorer, flockCol *layout.Column

	cameFrom      *layout.Column
	pairs         map[int]*pairedWith // by field
	notes         []*layout.Column
	facts         []*layout.Column // in the order of factFields
	columnPools   []*evidence.Pool // by field
	valueColumns  []*layout.Column
	besideColumns []*layout.Column // keys, and what stands beside values
	column        birdColumn       // what a column of birds holds
	lone          bool             // most lines have a name beside their ring
	tells         bool             // a column or a card tells what birds are
	coarse        bool             // dates name no day as a rule
	weekly        bool             // the column of dates says when a week began

	fillDate, fillBird bool            // written once and left empty below
	pens               map[int]int     // line -> the line above that its pen is filled down from
	same               map[[2]int]int  // line and field of a ditto mark -> the line that it repeats
	unsaid             map[[2]int]bool // ditto marks under weights, scores and counts that the keeper has not confirmed
	sheetPen           string          // where each pen has a sheet of its own
	over               when            // day or age that a title or the sheet's name gives the whole table

	years   map[record.Ref]yearFound // of dates that are written without
	months  map[int]record.Date      // by field, where a run of months stands over the values
	suspect map[int]record.Question  // by line, where a date breaks the order of the sheet
	weighed []string                 // names of birds that a diary weighs

	fixedName named         // the bird that the whole table is about
	fixedAt   [2]record.Ref // of its ring and name
	fixedFrom string        // where that was not written as a fact
	loneAsked bool          // a diary without birds has been asked about, once for all its lines
	loneDoubt bool          // and not answered yet

	shared map[detailKey]*record.Detail // readings of each distinct text
	dates  map[dateKey]dated
	last   struct {
		key   dateKey
		dated dated
		ok    bool
	}
	ages   map[parse.Cell]aged
	bands  map[parse.Cell]banded
	rings  map[string]banded               // of plain texts
	byRing *parse.Memo[*identity.Sighting] // by the text of the ring, where it alone tells the bird; else nil
	known  map[factKey]identity.Facts
	breeds map[string]string // spellings that the keeper has put right
	given  map[given]bool
	came   map[acquiredKey]bool
	// The treatment and the showing entered last: further columns of their line add to them.
	dosed, showing entered
}

// birdColumn is what a column of birds holds.
type birdColumn uint8

const (
	unknownColumn birdColumn = iota
	ringColumn
	nameColumn
)

type dateKey struct {
	cell    parse.Cell
	weekday string
}

type aged struct {
	age record.Age
	p   *parse.Problem
}

type banded struct {
	band parse.Band
	p    *parse.Problem
}

type factKey [9]string

type given struct {
	who *identity.Sighting
	key factKey
}

func (w *work) newLines(p *evidence.Page, t *layout.Table, ledger *record.Ledger) *lines {
	l := &lines{work: w, page: p, ledger: ledger, t: t, v: t.View, in: w.DateIn(p, t), table: w.table,
		dates: map[dateKey]dated{}, ages: map[parse.Cell]aged{}, known: map[factKey]identity.Facts{}, bands: map[parse.Cell]banded{}, rings: map[string]banded{}, given: map[given]bool{}, shared: map[detailKey]*record.Detail{}}
	for i := range t.Columns {
		c := &t.Columns[i]
		for len(l.columnPools) <= c.Field {
			l.columnPools = append(l.columnPools, nil)
		}
		l.columnPools[c.Field] = w.Pool(p, t, c)
		switch c.Fate {
		case layout.Value:
			l.valueColumns = append(l.valueColumns, c)
		case layout.Key, layout.Beside:
			l.besideColumns = append(l.besideColumns, c)
		}
	}
	l.date, l.weekday, l.age = t.Column(parse.FieldDate), t.Column(parse.FieldWeekday), t.Column(parse.FieldAge)
	l.session = t.Column(parse.FieldSession)
	l.weekly = l.startsWeeks()
	if _, l.sheetPen = parse.Scope(t.Title); l.sheetPen == "" {
		_, l.sheetPen = parse.Scope(p.Grid.Sheet)
	}
	if l.sheetPen == "" && len(p.Layout.Tables) == 1 {
		for _, title := range p.Layout.Titles {
			if _, pen := parse.Scope(title); pen != "" && l.sheetPen == "" {
				l.sheetPen = pen
			}
		}
	}
	l.ring, l.name, l.bird, l.colour = t.Column(parse.FieldRing), t.Column(parse.FieldName), t.Column(parse.FieldBird), t.Column(parse.FieldRingColour)
	l.unit, l.pen, l.scorer = t.Column(parse.FieldUnit), t.Column(parse.FieldPen), t.Column(parse.FieldScorer)
	l.flockCol = t.Column(parse.FieldFlock)
	for i := range t.Columns {
		if c := &t.Columns[i]; c.Means.Field == parse.FieldNote || c.Means.Field == parse.FieldShow && t.Column(parse.FieldResult) == nil {
			l.notes = append(l.notes, c)
		}
	}
	for _, f := range factFields() {
		l.facts = append(l.facts, t.Column(f))
		l.tells = l.tells || t.Column(f) != nil || t.Fact(f) != nil
	}
	l.fillDate = l.mostlyBlank(l.date)
	l.fillBird = l.mostlyBlank(l.ring, l.name, l.bird)
	l.dittos()
	names := l.name
	if names == nil {
		names = l.bird
	}
	if l.ring != nil && names != nil {
		named := 0
		for _, n := range t.Lines {
			if !l.v.Blank(n, names.Field) {
				named++
			}
		}
		l.lone = named*2 > len(t.Lines)
	}
	if l.ring != nil && l.name == nil && l.bird == nil && l.colour == nil && l.flockCol == nil {
		l.byRing = parse.NewMemo[*identity.Sighting]()
	}
	l.cameFrom = t.Column(parse.FieldCameFrom)
	l.spellBreeds()
	l.paired()
	l.declared()
	l.penRuns()
	l.fixBird()
	l.readYears()
	l.over = l.titled()
	l.monthRun()
	l.coarse = l.withoutDays()
	l.outOfOrder()
	l.beyondTitle()
	return l
}

// startsWeeks reports whether the table's dates are the days on which weeks begin: the heading of their column,
// or the corner above the birds where they stand over the values, says so.
func (l *lines) startsWeeks() bool {
	if l.date != nil {
		return parse.WeekHeading(l.date.Text)
	}
	over, corner := false, false
	for i := range l.t.Columns {
		c := &l.t.Columns[i]
		over = over || c.When != nil && c.When.Means.Field == parse.FieldDate
		corner = corner || c.When == nil && parse.WeekHeading(c.Text)
	}
	return over && corner
}

// mostlyBlank reports whether columns are written once and left empty below, so that their values go on: the
// first line is filled and at least three in ten are not.
func (l *lines) mostlyBlank(cols ...*layout.Column) bool {
	empty, have := 0, false
	for i, n := range l.t.Lines {
		blank := true
		for _, c := range cols {
			if c != nil {
				have = true
				blank = blank && l.v.Blank(n, c.Field)
			}
		}
		if blank && i == 0 {
			return false
		}
		if blank {
			empty++
		}
	}
	return have && empty*10 >= 3*len(l.t.Lines) && empty > 0
}

// read reads all lines.
func (l *lines) read(ctx context.Context) error {
	l.context()
	if l.t.Shape == layout.Cards && len(l.t.Lines) == 0 {
		l.card()
		return nil
	}
	if l.t.Shape == layout.Diary {
		return l.diary(ctx)
	}
	if l.flockCol == nil {
		l.Flock("").grow(l.room)
	}
	group := 0
	var groups []layout.Fixed
	var last struct{ date, bird int }
	last.date, last.bird = -1, -1
	for i, n := range l.t.Lines {
		if i&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		for group < len(l.t.Groups) && l.t.Groups[group].Line < n {
			groups = append(groups[:0:0], l.t.Groups[group].Fixed)
			group++
		}
		l.line(n, groups, &last.date, &last.bird)
	}
	l.columnAsides()
	return nil
}

// count is about how many cells of values the table has: of a long one, as its first lines have.
func count(t *layout.Table) int {
	const sample = 2000
	lines, n := t.Lines[:min(len(t.Lines), sample)], 0
	for i := range t.Columns {
		if c := &t.Columns[i]; c.Fate == layout.Value {
			for _, line := range lines {
				if !t.View.Blank(line, c.Field) {
					n++
				}
			}
		}
	}
	if len(t.Lines) > sample {
		n = n * (len(t.Lines) + sample/100) / sample
	}
	return n
}

// context marks the cells that stand for the whole table.
func (l *lines) context() {
	for i := range l.t.Columns {
		c := &l.t.Columns[i]
		for _, r := range c.Head {
			l.mark(r, record.AsContext)
		}
		for _, over := range []*layout.Fixed{c.When, c.Who} {
			if over != nil {
				l.mark(over.At, record.AsContext)
			}
		}
	}
	for h := l.t.Head[0]; h <= l.t.Head[1]; h++ {
		for f := l.t.Fields[0]; f <= l.t.Fields[1]; f++ {
			if !l.v.Blank(h, f) {
				l.mark(l.v.Ref(h, f), record.AsContext)
			}
		}
	}
	for _, f := range l.t.Fixed {
		l.mark(f.At, record.AsContext)
		for _, r := range []record.Ref{{Row: f.At.Row, Col: f.At.Col - 1}, {Row: f.At.Row - 1, Col: f.At.Col}} {
			if r.Row > 0 && r.Col > 0 && l.ledger.At(r.Row, r.Col) == record.Blank && l.filledAt(r) {
				l.ledger.Mark(r.Row, r.Col, record.AsContext)
				break
			}
		}
	}
	for _, g := range l.t.Groups {
		l.mark(g.Fixed.At, record.AsContext)
	}
}

func (l *lines) filledAt(r record.Ref) bool {
	if l.v.Turned() {
		return !l.v.Blank(int(r.Col)-1, int(r.Row)-1)
	}
	return !l.v.Blank(int(r.Row)-1, int(r.Col)-1)
}

// mark sets the fate of a cell. A cell of a diary makes several statements: one question leaves it open.
func (l *lines) mark(r record.Ref, f record.Fate) {
	if l.t.Shape == layout.Diary && l.ledger.At(r.Row, r.Col) == record.AsQuestion {
		return
	}
	l.ledger.Mark(r.Row, r.Col, f)
}

func (l *lines) poolOf(c *layout.Column) *evidence.Pool { return l.columnPools[c.Field] }

package evidence

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"keelmark/ingest/ask"
	"keelmark/ingest/layout"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// Pool is the columns of one sheet that are read in the same way: those with the same heading, or all that
// stand under dates.
type Pool struct {
	Means   parse.Meaning
	Heading string     // as typed
	At      record.Ref // of the heading
	Key     string     // of the question that settles its unit

	Weight  parse.WeightIn  // how its weights are read
	Score   parse.ScoreIn   // how its scores are read
	Finding parse.FindingIn // how its findings are read
	AgeUnit string          // "d", "w", or "" unknown

	cells  []parse.Cell        // distinct texts, up to a limit
	groups *bool               // whether its bare numbers are of two kinds; nil until that is asked
	plain  *parse.Memo[bool]   // texts of cells of text files
	seen   map[parse.Cell]bool // all other cells
}

type poolKey struct {
	sheet   string
	field   parse.Field
	heading string
	wide    bool
	also    string // parasite, unit and scale: what the heading says beside its field
}

type kinKey struct {
	field   parse.Field
	heading string
}

// Pools returns the pools in reading order.
func (w *File) Pools() []*Pool {
	var out []*Pool
	seen := map[*Pool]bool{}
	for _, p := range w.Pages {
		for _, t := range p.Layout.Tables {
			for i := range t.Columns {
				if k := w.Pool(p, t, &t.Columns[i]); k != nil && !seen[k] {
					seen[k] = true
					out = append(out, k)
				}
			}
		}
	}
	return out
}

// Pool returns the pool of a column, nil for columns whose cells need none.
func (w *File) Pool(p *Page, t *layout.Table, c *layout.Column) *Pool {
	if c.Fate == layout.Other || c.Fate == layout.Derived {
		return nil
	}
	if c.Fate != layout.Value && c.Means.Field != parse.FieldAge {
		return nil
	}
	key := poolKey{sheet: p.Grid.Sheet, field: c.Means.Field, heading: parse.Fold(c.Text), wide: c.When != nil,
		also: c.Means.Unit + "/" + c.Means.Parasite + "/" + c.Means.Scale.Name + "/" + c.Site}
	if key.wide {
		key.heading = parse.Fold(c.Heading())
	}
	k := w.pools[key]
	if k == nil {
		k = &Pool{Means: c.Means, Heading: c.Heading(), plain: parse.NewMemo[bool](), seen: map[parse.Cell]bool{}}
		if len(c.Head) > 0 {
			k.At = c.Head[len(c.Head)-1]
		} else if len(t.Lines) > 0 {
			k.At = t.View.Ref(t.Lines[0], c.Field)
		}
		w.pools[key] = k
		kin := kinKey{key.field, key.heading}
		w.kin[kin] = append(w.kin[kin], k)
		k.Weight.Unit = c.Means.Unit
		if k.Weight.Unit == "" && c.Means.Field == parse.FieldWeight {
			if f := t.Fact(parse.FieldUnit); f != nil {
				k.Weight.Unit = parse.UnitIn(f.Cell.Text)
			}
			if k.Weight.Unit == "" && t.Column(parse.FieldUnit) == nil {
				k.Weight.Unit = unitIn(append([]string{t.Title, p.Grid.Sheet}, p.Layout.Titles...)...)
			}
		}
	}
	return k
}

// collect puts the cells of a table's columns into their pools. The pools of a long table are filled side by side.
func (w *File) collect(p *Page, t *layout.Table) {
	var pools []*Pool
	fields := map[*Pool][]int{}
	for i := range t.Columns {
		c := &t.Columns[i]
		if k := w.Pool(p, t, c); k != nil {
			if fields[k] == nil {
				pools = append(pools, k)
			}
			fields[k] = append(fields[k], c.Field)
		}
	}
	var all sync.WaitGroup
	for _, k := range pools {
		if len(t.Lines) < manyLines {
			k.collect(t, fields[k])
			continue
		}
		all.Go(func() { k.collect(t, fields[k]) })
	}
	all.Wait()
}

// manyLines is from how many lines on work on a table is worth being shared out.
const manyLines = 5_000

func (k *Pool) collect(t *layout.Table, fields []int) {
	for _, f := range fields {
		for _, l := range t.Lines {
			if len(k.cells) >= evidenceLimit {
				break
			}
			if t.View.Blank(l, f) {
				continue
			}
			cell := t.View.Stored(l, f)
			cell.Format = ""
			if cell == parse.T(cell.Text) {
				if seen, _ := k.plain.Get(cell.Text); !seen {
					k.plain.Put(cell.Text, true)
					k.cells = append(k.cells, cell)
				}
			} else if !k.seen[cell] {
				k.seen[cell] = true
				k.cells = append(k.cells, cell)
			}
		}
	}
}

// decide fixes how the cells of a pool are read.
func (w *File) decide(k *Pool) {
	sys := parse.From1900
	for _, p := range w.Pages {
		if p.Grid.Date1904 && p.Grid.Sheet == k.At.Sheet {
			sys = parse.From1904
		}
	}
	switch k.Means.Field {
	case parse.FieldWeight, parse.FieldPoundPart, parse.FieldOuncePart:
		w.weightUnit(k, sys)
	case parse.FieldAge:
		k.AgeUnit = first(k.Means.Unit, w.set.Units.Age)
		k.Key = ask.ColumnKey("age_unit_unknown", w.Name, k.Heading)
		if k.AgeUnit == "" {
			k.AgeUnit, _ = w.answer(k.Key)
		}
	case parse.FieldParasite:
		k.Finding = parse.FindingIn{Parasite: first(k.Means.Parasite, parse.Parasite(k.Heading)), Scale: w.scale(k), YesNo: k.Means.YesNo || parse.YesNoColumn(k.cells), Cross: parse.CrossMeaning(k.cells), Sys: sys}
		if k.Finding.Parasite == "" {
			k.Finding.Parasite = k.Means.Parasite
		}
		w.dash(k)
	default:
		k.Score = parse.ScoreIn{Scale: w.scale(k), Sys: sys}
	}
}

func first(texts ...string) string {
	for _, t := range texts {
		if t != "" {
			return t
		}
	}
	return ""
}

// weightUnit decides the unit of bare numbers: stated in heading, units column or title, written by other
// cells of the column, set in flock.toml, or the only one in which all numbers are possible weights.
func (w *File) weightUnit(k *Pool, sys parse.System) {
	k.Weight.Mark, k.Weight.Order, k.Weight.Sys, k.Weight.Point = w.mark, w.orders.file, sys, k.Means.Point
	k.Key = ask.ColumnKey("unit_unknown", w.Name, k.Heading)
	if k.Weight.Unit == "" {
		e := parse.ColumnUnit(k.cells)
		if e.Unit == "" {
			// another sheet of the same heading may write its unit; bare numbers there prove nothing here
			if kin := parse.ColumnUnit(w.kinCells(k)); kin.Stated && slices.Contains(e.Fits, kin.Unit) {
				e = kin
			}
		}
		answer, answered := w.answer(k.Key)
		if !answered && !e.Stated {
			answer = w.formerAnswer(k, "unit_unknown")
		}
		switch {
		case e.Stated:
			k.Weight.Unit = e.Unit
		case answer != "":
			k.Weight.Unit = answer
			if of := map[string]parse.Point{parse.Pounds: parse.PointDecimal, parse.PoundOz: parse.PointOunces}[answer]; of != parse.PointUnknown && k.Weight.Point == parse.PointUnknown {
				k.Weight.Point = of // both were offered, so the answer tells 2.4 lb from 2 lb 4 oz
			}
		case w.set.Units.Weight != "":
			k.Weight.Unit = w.set.Units.Weight
		case e.Unit != "":
			k.Weight.Unit = e.Unit
		}
		if e.Unit != "" && k.Weight.Unit == e.Unit && e.Reason != "" && !(e.Stated && len(e.Fits) == 0) { // where every cell writes it, nothing was decided
			w.Notes = append(w.Notes, fmt.Sprintf("%s: %q is read in %s: %s", place(k.At), k.Heading, e.Unit, e.Reason))
		}
	}
	if w.mark == "" {
		switch parse.GroupMark(k.Weight.Unit, k.cells) {
		case ".":
			k.Weight.Mark = ","
			w.Notes = append(w.Notes, fmt.Sprintf("%s: the points under %q part thousands, as no bird weighs so little in %s", place(k.At), k.Heading, k.Weight.Unit))
		case ",":
			k.Weight.Mark = "."
		}
	}
	if k.Weight.Unit == parse.Pounds || k.Weight.Unit == parse.PoundOz {
		if k.Weight.Point == parse.PointUnknown {
			e := parse.ColumnPounds(k.Weight.Unit, k.cells)
			if e.Point == parse.PointUnknown {
				e = parse.ColumnPounds(k.Weight.Unit, w.kinCells(k))
			}
			k.Weight.Point = e.Point
			if e.Point != parse.PointUnknown && e.Reason != "" {
				w.Notes = append(w.Notes, fmt.Sprintf("%s: %s", place(k.At), e.Reason))
			}
		}
	}
	// A cell may write pounds in a column of another unit, and then asks alike.
	if a, ok := w.answer(ask.ColumnKey("pounds_ambiguous", w.Name, k.Heading)); ok && k.Weight.Point == parse.PointUnknown {
		switch a {
		case parse.Pounds:
			k.Weight.Point = parse.PointDecimal
		case parse.PoundOz:
			k.Weight.Point = parse.PointOunces
		}
	}
}

// formerAnswer is the answer to a question about the column of a pool that was given under another heading, which the keeper
// has changed since; "" where there is none.
func (w *File) formerAnswer(k *Pool, class string) string {
	has := func(heading string) bool {
		for _, p := range w.Pages {
			for _, t := range p.Layout.Tables {
				if slices.ContainsFunc(t.Columns, func(c layout.Column) bool { return c.Heading() == heading }) {
					return true
				}
			}
		}
		return strings.HasSuffix(heading, " "+below) || strings.HasSuffix(heading, " "+above)
	}
	holds := func(text string) bool {
		return slices.ContainsFunc(k.cells, func(c parse.Cell) bool { return strings.TrimSpace(c.Text) == strings.TrimSpace(text) })
	}
	answer, was, ok := w.replies.Renamed(class, k.At, has, holds)
	if !ok {
		return ""
	}
	w.Notes = append(w.Notes, fmt.Sprintf("%s: your answer %q about the column %q is used for %q, which stands in its place", place(k.At), answer, was, k.Heading))
	return answer
}

// kinCells are the cells of all columns of the file with the same heading.
func (w *File) kinCells(k *Pool) []parse.Cell {
	var out []parse.Cell
	for _, o := range w.kin[kinKey{k.Means.Field, parse.Fold(k.Heading)}] {
		out = append(out, o.cells...)
	}
	return out
}

// scale is the scale of a column of scores: as its heading states, or as flock.toml declares under the
// heading or the field.
func (w *File) scale(k *Pool) record.Scale {
	declared, ok := w.set.Scales[k.Heading]
	if !ok {
		declared, ok = w.set.Scales[string(k.Means.Field)]
	}
	stated := k.Means.Scale
	if stated.Name == "" && ok {
		return declared
	}
	if ok && stated.Min == declared.Min && stated.Max == declared.Max {
		return declared
	}
	if stated.Name == "" {
		if a, found := w.answer(ask.ColumnKey("scale_unknown", w.Name, k.Heading)); found {
			if s, ok := parse.ScaleIn(a); ok {
				return s
			}
		}
	}
	return stated
}

// dash decides what "-" means among findings: what a legend says, else the lowest sign of a column that is
// written in +, ++ and +++ and leaves cells empty where nobody looked.
func (w *File) dash(k *Pool) {
	for _, p := range w.Pages {
		if p.Grid.Sheet != k.At.Sheet {
			continue
		}
		if k.Finding.Dash = parse.DashMeaning(p.Layout.Legend); k.Finding.Dash != parse.DashUnknown {
			return
		}
	}
	for _, p := range w.Pages {
		if d := parse.DashMeaning(p.Layout.Legend); d != parse.DashUnknown {
			k.Finding.Dash = d
			return
		}
	}
	key := ask.ColumnKey(string(parse.DashAmbiguous), w.Name, k.Heading)
	if a, ok := w.answer(key); ok {
		switch a {
		case "none":
			k.Finding.Dash = parse.DashNone
		case "not looked":
			k.Finding.Dash = parse.DashNotLooked
		}
	}
}

// HeadAges is the pool of the ages that stand over a sheet's values.
func (w *File) HeadAges(p *Page, c *layout.Column) *Pool {
	key := poolKey{sheet: p.Grid.Sheet, field: parse.FieldAge, heading: "over the columns", also: c.When.Means.Unit}
	k := w.pools[key]
	if k == nil {
		k = &Pool{Means: c.When.Means, Heading: "over the columns", At: c.When.At}
		w.decide(k)
		w.pools[key] = k
	}
	return k
}

// Diary is the pool of the weights that a diary tells.
func (w *File) Diary(at record.Ref, weights []parse.Cell) *Pool {
	k := &Pool{Means: parse.Meaning{Field: parse.FieldWeight}, Heading: "the diary", At: at, cells: weights}
	w.decide(k)
	return k
}

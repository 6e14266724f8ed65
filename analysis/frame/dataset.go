package frame

import (
	"math"
	"slices"

	"keelmark/ingest/record"
)

// Observations is the table of the observations of a flock, in the order of the dataset, of all traits or of
// those named. Weights are in grams, ages in days, dates as far as they are known ("2025-03"). The column cell
// is the place of each record.
func Observations(d *record.Dataset, traits ...record.Trait) *Frame {
	var obs []record.Observation
	for _, o := range d.Observations {
		if len(traits) == 0 || slices.Contains(traits, o.Trait) {
			obs = append(obs, o)
		}
	}
	return table(obs, d, func(b *builder, i int, o record.Observation) {
		more := o.Detail()
		b.bird(i, o.Bird, more.Pen)
		b.when(i, o.On)
		b.number("age_days", "d", i, days(o.Age))
		b.text("trait", i, string(o.Trait))
		b.text("parasite", i, o.Parasite)
		value, low, high := o.Value, math.NaN(), math.NaN()
		switch o.Form {
		case record.Range:
			value, low, high = math.NaN(), o.Lo, o.Hi
		case record.MoreThan, record.AtLeast:
			value, low = math.NaN(), o.Lo
		case record.LessThan:
			value, high = math.NaN(), o.Hi
		}
		b.number("value", "", i, value)
		b.number("low", "", i, low)
		b.number("high", "", i, high)
		spec, _ := o.Trait.Lookup()
		b.text("unit", i, spec.Unit)
		b.text("form", i, string(o.Form))
		b.text("scale", i, o.Scale)
		b.text("scope", i, string(more.Scope))
		b.detail(i, more)
		b.text("typed", i, o.Text)
		b.flag("flagged", i, o.Flagged)
		b.text("cell", i, o.At.Key())
	}, func(o record.Observation) []record.Ref { return cells(o.At, o.Detail().Also) })
}

// Weights is the table of the weighings of a flock, in grams, in the order of the dataset.
func Weights(d *record.Dataset) *Frame {
	var obs []record.Observation
	for _, o := range d.Observations {
		if o.Trait == record.Weight {
			obs = append(obs, o)
		}
	}
	return table(obs, d, func(b *builder, i int, o record.Observation) {
		more := o.Detail()
		b.bird(i, o.Bird, more.Pen)
		b.when(i, o.On)
		b.number("age_days", "d", i, days(o.Age))
		b.number("weight", "g", i, o.Value)
		b.detail(i, more)
		b.text("typed", i, o.Text)
		b.flag("flagged", i, o.Flagged)
		b.text("cell", i, o.At.Key())
	}, func(o record.Observation) []record.Ref { return cells(o.At, o.Detail().Also) })
}

// Events is the table of what happened: hatchings, moves, treatments, shows, deaths and the rest.
func Events(d *record.Dataset) *Frame {
	return table(d.Events, d, func(b *builder, i int, e record.Event) {
		b.text("kind", i, string(e.Kind))
		b.bird(i, e.Bird, e.Pen)
		b.when(i, e.On)
		b.text("scope", i, string(e.Scope))
		t := e.Treatment
		if t == nil {
			t = &record.Treatment{}
		}
		b.text("product", i, t.Product)
		b.text("dose", i, t.Dose)
		b.text("against", i, t.Against)
		b.text("withdrawal", i, t.Withdrawal)
		b.text("by", i, t.By)
		s := e.Setting
		if s == nil {
			s = &record.EggSetting{Set: -1, Clear: -1, DeadEarly: -1, DeadInShell: -1, HatchedNo: -1, StoredDays: -1}
		}
		b.text("setting", i, s.Label)
		b.text("male", i, s.Male)
		b.text("hen", i, s.Hen)
		b.number("eggs_set", "eggs", i, written(s.Set))
		b.number("clear", "eggs", i, written(s.Clear))
		b.number("dead_early", "eggs", i, written(s.DeadEarly))
		b.number("dead_in_shell", "eggs", i, written(s.DeadInShell))
		b.number("hatched", "chicks", i, written(s.HatchedNo))
		b.number("stored_days", "d", i, written(s.StoredDays))
		c := e.Check
		if c == nil {
			c = &record.CheckResult{Found: -1}
		}
		b.text("parasite", i, c.Parasite)
		looked := math.NaN()
		if c.Birds > 0 {
			looked = float64(c.Birds)
		}
		b.number("birds_checked", "birds", i, looked)
		b.number("birds_found", "birds", i, written(c.Found))
		b.text("result", i, e.Result)
		b.text("note", i, e.Note)
		b.text("typed", i, e.Text)
		b.flag("flagged", i, e.Flagged)
		b.text("cell", i, e.At.Key())
	}, func(e record.Event) []record.Ref { return cells(e.At, nil) })
}

// Birds is the table of the birds.
func Birds(d *record.Dataset) *Frame {
	return table(d.Birds, d, func(b *builder, i int, bird record.Bird) {
		b.text("bird", i, bird.ID)
		b.text("ring", i, bird.Ring)
		b.text("name", i, bird.Name)
		b.text("label", i, bird.Label())
		b.text("sex", i, string(bird.Sex))
		b.text("breed", i, bird.Breed)
		b.text("variety", i, bird.Variety)
		b.text("size", i, string(bird.Size))
		b.text("line", i, bird.Line)
		b.text("pen", i, bird.Pen)
		b.text("ring_colour", i, bird.Colour)
		b.text("hatched", i, bird.Hatched.String())
	}, func(bird record.Bird) []record.Ref { return bird.At })
}

// Questions is the table of what only the keeper can answer.
func Questions(d *record.Dataset) *Frame {
	return table(d.Questions, d, func(b *builder, i int, q record.Question) {
		b.text("problem", i, q.Class)
		b.text("cell", i, q.At.Key())
		b.text("typed", i, q.Raw)
		b.text("message", i, q.Message)
		b.number("cells", "", i, float64(1+len(q.More)))
	}, func(q record.Question) []record.Ref { return cells(q.At, q.More) })
}

// Rejects is the table of the cells that could not become a record.
func Rejects(d *record.Dataset) *Frame {
	return table(d.Rejects, d, func(b *builder, i int, r record.Reject) {
		b.text("problem", i, r.Class)
		b.text("cell", i, r.At.Key())
		b.text("typed", i, r.Raw)
		b.text("message", i, r.Message)
	}, func(r record.Reject) []record.Ref { return cells(r.At, nil) })
}

func cells(at record.Ref, also []record.Ref) []record.Ref {
	return append([]record.Ref{at}, also...)
}

func days(a record.Age) float64 {
	if n, known := a.Days(); known {
		return float64(n)
	}
	return math.NaN()
}

// written turns the negative number of a count that was not written into a missing one.
func written(n int) float64 {
	if n < 0 {
		return math.NaN()
	}
	return float64(n)
}

// builder fills columns row by row; a column stands where it is first named.
type builder struct {
	rows    int
	columns []Column
	index   map[string]int
	birds   map[string]record.Bird
}

// table makes the frame of a list of records. An empty list gives the same columns without rows.
func table[T any](list []T, d *record.Dataset, fill func(*builder, int, T), refs func(T) []record.Ref) *Frame {
	b := &builder{rows: max(len(list), 1), index: map[string]int{}, birds: map[string]record.Bird{}}
	for _, bird := range d.Birds {
		b.birds[bird.ID] = bird
	}
	for i, item := range list {
		fill(b, i, item)
	}
	if len(list) == 0 {
		var none T
		fill(b, 0, none)
	}
	f, err := New(b.columns, func(row int) []record.Ref { return refs(list[row]) })
	if err != nil {
		panic(err) // the columns are named in this file and filled to one length
	}
	return f.Slice(0, len(list))
}

func (b *builder) column(c Column) *Column {
	at, ok := b.index[c.Name]
	if !ok {
		at = len(b.columns)
		b.index[c.Name] = at
		switch c.Kind {
		case Text:
			c.Text, c.Missing = make([]string, b.rows), make([]bool, b.rows)
		case Number:
			c.Number = make([]float64, b.rows)
		case Bool:
			c.Bool = make([]bool, b.rows)
		}
		b.columns = append(b.columns, c)
	}
	return &b.columns[at]
}

func (b *builder) text(name string, row int, v string) {
	c := b.column(Column{Name: name, Kind: Text})
	c.Text[row], c.Missing[row] = v, v == ""
}

func (b *builder) number(name, unit string, row int, v float64) {
	b.column(Column{Name: name, Kind: Number, Unit: unit}).Number[row] = v
}

func (b *builder) flag(name string, row int, v bool) {
	b.column(Column{Name: name, Kind: Bool}).Bool[row] = v
}

// bird writes who a record is about, with what is known of the bird beside it.
func (b *builder) bird(row int, id, pen string) {
	bird := b.birds[id]
	if pen == "" {
		pen = bird.Pen
	}
	b.text("bird", row, id)
	b.text("name", row, bird.Name)
	b.text("sex", row, string(bird.Sex))
	b.text("breed", row, bird.Breed)
	b.text("size", row, string(bird.Size))
	b.text("line", row, bird.Line)
	b.text("pen", row, pen)
}

// when writes a date so that it sorts: as far as it is known where it is a day, a month or a year, else as the
// first day of its week or season. Its precision stands beside it.
func (b *builder) when(row int, on record.Date) {
	date := on.String()
	if on.Precision == record.ToWeek || on.Precision == record.ToSeason {
		date = on.First.String()
	}
	b.text("date", row, date)
	b.text("date_precision", row, on.Precision.String())
}

func (b *builder) detail(row int, d record.Detail) {
	b.text("session", row, d.Session)
	b.text("scorer", row, d.Scorer)
	b.text("note", row, d.Note)
}

// published is a published weight of one class.
type published struct {
	record.PublishedWeight
	class record.Class
}

// Standards is the table of published weights, one row a class that a weight is published for. A bound that is
// not published is missing.
func Standards(list []record.PublishedWeight) *Frame {
	var rows []published
	for _, p := range list {
		for _, class := range record.Classes() {
			if p.Weights[class].Published() {
				rows = append(rows, published{p, class})
			}
		}
	}
	return table(rows, &record.Dataset{}, func(b *builder, i int, p published) {
		w := p.Weights[p.class]
		b.text("breed", i, p.Breed)
		b.text("variety", i, p.Variety)
		b.text("size", i, string(p.Size))
		b.text("age_class", i, string(p.class)) // class is a word of the cell language
		b.number("low", "g", i, bound(w.Low))
		b.number("high", "g", i, bound(w.High))
		b.text("printed", i, w.Printed)
		b.text("unit", i, p.Unit)
		b.text("country", i, p.Country)
		b.text("standard", i, p.Standard)
		b.text("edition", i, p.Edition)
		b.text("source_kind", i, p.SourceKind)
		b.text("source", i, p.Source)
		b.text("note", i, p.Note)
	}, func(published) []record.Ref { return nil })
}

func bound(grams float64) float64 {
	if grams == 0 {
		return math.NaN()
	}
	return grams
}

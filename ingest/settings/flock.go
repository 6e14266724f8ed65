package settings

import (
	"regexp"
	"strings"
	"time"

	"keelmark/ingest/record"
)

// Read reads flock.toml. file is its base name, for messages. fields are the meanings that a column may be
// given; where nil, any is taken. The error is Faults.
func Read(file string, data []byte, fields []string) (record.Settings, error) {
	d, err := parse(file, data)
	if err != nil {
		return record.Settings{}, err
	}
	var s record.Settings
	top := d.top()
	readFlock(top.section("flock", "[flock]"), &s.Flock)
	readShow(top.section("show", "[show]"), &s.Show)

	dates := top.section("dates", "[dates]")
	dates.choice("order", &s.Dates.Order, "dmy", "mdy", "ymd")
	dates.done(homes())

	units := top.section("units", "[units]")
	units.choice("weight", &s.Units.Weight, "g", "kg", "lb", "oz", "lb-oz")
	units.choice("age", &s.Units.Age, "d", "w")
	units.done(homes())

	columns := top.section("columns", "[columns]")
	for _, heading := range columns.names() {
		field := ""
		if fields == nil {
			columns.text(heading, &field)
		} else {
			columns.choice(heading, &field, fields...)
		}
		if field != "" {
			set(&s.Columns, heading, field)
		}
	}
	scales := top.section("scales", "[scales]")
	for _, name := range scales.names() {
		set(&s.Scales, name, readScale(scales.section(name, "[scales."+name+"]"), name))
	}
	birds := top.section("birds", "[birds]")
	for _, id := range birds.names() {
		set(&s.Birds, id, readBird(birds.section(id, "[birds."+id+"]")))
	}
	plan := top.section("plan", "[plan]")
	for _, step := range plan.names() {
		set(&s.Plan, step, readStep(plan.section(step, "[plan] "+step)))
	}
	top.done(homes())
	if err := d.err(); err != nil {
		return record.Settings{}, err
	}
	return s, nil
}

func set[V any](m *map[string]V, key string, v V) {
	if *m == nil {
		*m = make(map[string]V)
	}
	(*m)[key] = v
}

// homes says where a key belongs that stands in the wrong section.
func homes() map[string]string {
	return map[string]string{
		"code": "[flock]", "country": "[flock]", "hemisphere": "[flock]", "breed": "[flock]", "size": "[flock]",
		"standard": "[flock]", "standard_table": "[flock]", "units": "[flock]",
		"date": "[show]", "class_rule": "[show]", "season_start": "[show]", "paper": "[show]",
		"order": "[dates]", "weight": "[units]", "age": "[units]",
		"direction": "[scales.NAME]", "words": "[scales.NAME]",
		"ring": "[birds.ID]", "aliases": "[birds.ID]", "hatched": "[birds.ID]", "sex": "[birds.ID]", "line": "[birds.ID]",
	}
}

func readFlock(t *table, f *record.FlockSettings) {
	t.text("name", &f.Name)
	t.text("code", &f.Code)
	t.text("country", &f.Country)
	if f.Country = strings.ToUpper(f.Country); f.Country != "" && !isCountry(f.Country) {
		t.d.fault(join(t.path, "country"), `country is the two-letter code of ISO 3166, such as "GB", "US" or "DE", not %q`, f.Country)
	}
	t.choice("hemisphere", &f.Hemisphere, "north", "south")
	t.text("breed", &f.Breed)
	t.choice("size", (*string)(&f.Size), string(record.Large), string(record.Bantam))
	t.text("standard", &f.Standard)
	t.text("standard_table", &f.StandardTable)
	t.choice("units", &f.Units, "g", "lb-oz")
	t.done(homes())
}

func isCountry(s string) bool {
	return len(s) == 2 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'A' && s[1] <= 'Z'
}

func readShow(t *table, s *record.ShowSettings) {
	t.text("name", &s.Name)
	t.date("date", &s.Date)
	if s.Date.Known() && !s.Date.Exact() {
		t.d.fault(join(t.path, "date"), "the date of the show needs its day; write date = 2025-11-29")
	}
	t.choice("class_rule", &s.ClassRule, "birthday", "calendar-year", "season-start")
	t.text("season_start", &s.SeasonStart)
	if s.SeasonStart != "" && !isMonthDay(s.SeasonStart) {
		t.d.fault(join(t.path, "season_start"), `season_start is month and day, not %q; write "12-01" for 1 December`, s.SeasonStart)
	}
	t.choice("paper", &s.Paper, "A4", "Letter")
	t.done(homes())
}

// isMonthDay accepts "12-01". 29 February is no start of a season: three years in four lack it.
func isMonthDay(s string) bool {
	_, err := time.Parse("2006-01-02", "2001-"+s)
	return err == nil && regexp.MustCompile(`^\d\d-\d\d$`).MatchString(s)
}

func readScale(t *table, name string) record.Scale {
	s := record.Scale{Name: name}
	low, high := t.number("min", &s.Min), t.number("max", &s.Max)
	switch {
	case low != high:
		t.d.fault(t.path, "the scale %s needs both min and max", name)
	case low && s.Min >= s.Max:
		t.d.fault(join(t.path, "max"), "max must be above min in the scale %s", name)
	}
	t.choice("direction", &s.Direction, "high-good", "high-bad", "middle-best")
	words := t.section("words", "words of the scale "+name)
	for _, word := range words.names() {
		var v float64
		if !words.number(word, &v) {
			continue
		}
		if low && high && (v < s.Min || v > s.Max) {
			t.d.fault(join(words.path, word), "the word %q stands for %v, outside the scale %s of %v to %v", word, v, name, s.Min, s.Max)
		}
		set(&s.Words, word, v)
	}
	t.text("source", &s.Source)
	t.done(homes())
	return s
}

func readBird(t *table) record.BirdSettings {
	var b record.BirdSettings
	t.text("ring", &b.Ring)
	t.text("name", &b.Name)
	b.Aliases = t.texts("aliases")
	t.date("hatched", &b.Hatched)
	t.choice("sex", (*string)(&b.Sex), string(record.Male), string(record.Female))
	t.text("breed", &b.Breed)
	t.choice("size", (*string)(&b.Size), string(record.Large), string(record.Bantam))
	t.text("line", &b.Line)
	t.done(homes())
	return b
}

func readStep(t *table) map[string]int {
	step := make(map[string]int)
	var from, to int
	hasFrom, hasTo := t.days("from", &from), t.days("to", &to)
	if hasFrom {
		step["from"] = from
	}
	if hasTo {
		step["to"] = to
	}
	if hasFrom && hasTo && from < to {
		t.d.fault(join(t.path, "from"), "from counts days before the show and comes first, so it must not be below to; write {from = %d, to = %d}", to, from)
	}
	t.done(nil)
	return step
}

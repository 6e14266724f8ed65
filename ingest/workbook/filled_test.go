package workbook_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/ingest/workbook"
)

// season is a blank workbook, what a keeper fills into it, and what must be read from that. All birds and
// records are invented.
type season struct {
	name     string
	settings record.Settings
	flock    string // the same settings as flock.toml
	birds    []record.Bird
	lines    []filledLine
	want     []string
}

type filledLine struct {
	sheet string
	cells map[string]any // by heading
}

func on(t *testing.T, s string) record.Day {
	t.Helper()
	d, err := record.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func line(sheet string, pairs ...any) filledLine {
	l := filledLine{sheet, map[string]any{}}
	for i := 0; i < len(pairs); i += 2 {
		l.cells[pairs[i].(string)] = pairs[i+1]
	}
	return l
}

// seasons are the settings that keepers of different countries have.
func seasons(t *testing.T) []season {
	march, april, may := on(t, "2026-03-04"), on(t, "2026-04-03"), on(t, "2026-05-06") // all may be taken for another day
	register := []filledLine{
		line("Birds", "Ring", "R12", "Ring colour", "red", "Leg", "left", "Name", "Bess", "Sex", "female", "Breed", "Sussex", "Variety", "light",
			"Size", "bantam", "Strain", "own", "Hatch date", on(t, "2025-03-14"), "Pen", "pen 3", "Came from", "bred here"),
		line("Birds", "Ring", "007", "Sex", "male", "Hatch date", 2024, "Pen", "pen 3", "Came from", "given by a friend"),
		line("Birds", "Ring", "Tansy", "Sex", "female"),
	}
	checks := func(nothing, some any, none, light string) []filledLine {
		return []filledLine{
			line("Checks", "Date", march, "Ring", "R12", "Lice", nothing, "Northern fowl mite", 12, "Scaly leg", "heavy", "Scorer", "AB", "Remarks", "at the vent"),
			line("Checks", "Date", march, "Ring", "pen 3", "Red mite", "moderate", "Scorer", "AB", "Remarks", "under the perches"),
			line("Checks", "Date", april, "Ring", "all", "Lice", some, "Scorer", "CD"),
			line("Treatments", "Date", march, "Ring", "R12", "Product", "product as labelled", "Against", "lice", "Dose", "as labelled", "Given by", "AB"),
			line("Treatments", "Date", april, "Ring", "pen 3", "Product", "sulphur dust", "Against", "red mite", "Dose", "as labelled", "Withdrawal", "eggs 7 days", "Given by", "vet", "Remarks", "house too"),
			line("Treatments", "Date", may, "Ring", "all", "Product", "flubendazole", "Against", "worms", "Dose", "as labelled", "Withdrawal", "0 days"),
			line("Eggs", "Date", march, "Setting", "1", "Male", "007", "Hens", "R12", "Eggs set", 12, "Days stored", 5, "Clear", 2, "Dead early", 1, "Dead in shell", 0, "Chicks hatched", 9),
			line("Eggs", "Date", april, "Setting", "2", "Male", "007", "Hens", "pen 3", "Eggs set", 24, "Remarks", "under a broody"),
			line("Moves and losses", "Date", april, "Ring", "R12", "Moved to", "pen 4"),
			line("Moves and losses", "Date", april, "Ring", "R12", "Show", "Spring show", "Result", "2nd of 7"),
			line("Moves and losses", "Date", may, "Ring", "007", "Gone", "killed by a predator", "Reason", "at dusk"),
			line("Moves and losses", "Date", may, "Ring", "Tansy", "Gone", "given away"),
		}
	}
	const cameFrom = "007  acquired , from given by a friend" // no day is written
	birds := []string{
		"bird R12 red Bess F Sussex light bantam own 2025-03-14 3", "bird 007 M 2024 3", "bird Tansy F",
	}
	happened := func(nothing, some string) []string {
		return []string{
			"red R12 2026-03-04 parasite lice " + nothing + " by AB, at the vent",
			"red R12 2026-03-04 parasite northern fowl mite count 12 by AB, at the vent",
			"red R12 2026-03-04 parasite scaly leg mite ordinal 3 on words by AB, at the vent",
			"pen 3 2026-03-04 parasite red mite ordinal 2 on words by AB, under the perches",
			"flock 2026-04-03 parasite lice " + some + " by CD",
			"red R12 2026-03-04 treated product as labelled, lice, as labelled, , AB",
			"pen 3 2026-04-03 treated sulphur dust, red mite, as labelled, eggs 7 days, vet, house too",
			"flock 2026-05-06 treated flubendazole, worms, as labelled, 0 days, ",
			"flock 2026-03-04 set 1 007 x R12: 12 set, 2 clear, 1 early, 0 in shell, 9 hatched, 5 days",
			"pen 3 2026-04-03 set 2 007 x pen 3: 24 set, -1 clear, -1 early, -1 in shell, -1 hatched, -1 days, under a broody",
			"red R12 2026-04-03 shown 2nd of 7, Spring show",
			"007 2026-05-06 died at dusk",
			"Tansy 2026-05-06 departed given away",
		}
	}
	weights := func(columns []string, a, b []any) []filledLine {
		var out []filledLine
		for i, values := range [][]any{a, b} {
			l := line("Weights", "Date", []record.Day{march, april}[i], "Ring", []string{"R12", "007"}[i])
			for j, c := range columns {
				if values[j] != nil {
					l.cells[c] = values[j]
				}
			}
			out = append(out, l)
		}
		return out
	}
	pounds := season{
		name: "lb-oz mdy",
		settings: record.Settings{
			Flock: record.FlockSettings{Name: "Low Barn & Sons", Country: "US", Breed: "Sussex"},
			Dates: record.DateSettings{Order: "mdy"}, Units: record.UnitSettings{Weight: "lb-oz"},
			Scales: map[string]record.Scale{
				"keel": {Name: "keel", Min: 0, Max: 3, Direction: "middle-best", Words: map[string]float64{"thin": 0, "fair": 1, "good": 2, "fat": 3}, Source: "our own, since 2024"},
				"lice": {Name: "lice", Min: 0, Max: 3, Direction: "high-bad"},
			},
		},
		flock: "[flock]\nname = \"Low Barn & Sons\"\ncountry = \"US\"\nbreed = \"Sussex\"\n[dates]\norder = \"mdy\"\n[units]\nweight = \"lb-oz\"\n" +
			"[scales.keel]\nmin = 0\nmax = 3\ndirection = \"middle-best\"\nwords = { thin = 0, fair = 1, good = 2, fat = 3 }\nsource = \"our own, since 2024\"\n" +
			"[scales.lice]\nmin = 0\nmax = 3\ndirection = \"high-bad\"\n",
		birds: []record.Bird{
			{ID: "red R12", Ring: "R12", Colour: "red", Name: "Bess", Sex: record.Female, Breed: "Sussex", Variety: "light", Size: record.Bantam, Line: "own", Hatched: record.On(on(t, "2025-03-14")), Pen: "3"},
			{ID: "007", Ring: "007", Sex: record.Male, Hatched: record.InYear(2024), Pen: "3"},
			{ID: "Tansy", Name: "Tansy", Sex: record.Female},
		},
		// 2 lb 4 oz = 36 oz; 0 lb 14.5 oz; an ounce is 28.349523125 g
		lines: append(weights([]string{"lb", "oz", "keel"}, []any{2, 4, 2}, []any{0, 14.5, nil}), checks(0, 2, "0", "2")...),
		want:  slices.Concat(birds, []string{"red R12 2026-03-04 weight 1020.58", "red R12 2026-03-04 condition 2 on keel", "007 2026-04-03 weight 411.07"}, happened("ordinal 0 on lice", "ordinal 2 on lice")),
	}
	for i := range pounds.lines {
		if v, ok := pounds.lines[i].cells["Lice"]; ok {
			delete(pounds.lines[i].cells, "Lice")
			pounds.lines[i].cells["lice"] = v
		}
	}
	return []season{
		{
			name:     "g dmy",
			settings: record.Settings{Flock: record.FlockSettings{Name: "Low Barn"}, Dates: record.DateSettings{Order: "dmy"}},
			flock:    "[flock]\nname = \"Low Barn\"\n[dates]\norder = \"dmy\"\n",
			lines:    slices.Concat(register, weights([]string{"Weight (g)", "Condition (1-5)", "Remarks"}, []any{612, 3, "before feeding"}, []any{1850, nil, nil}), checks("none", "light", "none", "light")),
			want: slices.Concat(birds, []string{cameFrom, "red R12 2026-03-04 weight 612, before feeding", "red R12 2026-03-04 condition 3 on 1-5, before feeding", "007 2026-04-03 weight 1850"},
				happened("ordinal 0 on words", "ordinal 1 on words")),
		},
		pounds,
		{
			name: "kg ymd, nothing else set",
			settings: record.Settings{Dates: record.DateSettings{Order: "ymd"}, Units: record.UnitSettings{Weight: "kg"},
				Scales: map[string]record.Scale{"condition": {Name: "condition", Min: 0, Max: 3, Direction: "high-good"}, "feather": {Name: "feather", Min: 0, Max: 2, Direction: "high-bad"}}},
			flock: "[units]\nweight = \"kg\"\n[scales.condition]\nmin = 0\nmax = 3\ndirection = \"high-good\"\n[scales.feather]\nmin = 0\nmax = 2\ndirection = \"high-bad\"\n",
			lines: slices.Concat(register, weights([]string{"Weight (kg)", "Condition (0-3)", "Feathers (0-2)"}, []any{0.612, 3, 0}, []any{1.85, 2.5, nil}), checks("none", 3, "none", "3")),
			want: slices.Concat(birds, []string{cameFrom, "red R12 2026-03-04 weight 612", "red R12 2026-03-04 condition 3 on condition", "red R12 2026-03-04 feather 0 on feather",
				"007 2026-04-03 weight 1850", "007 2026-04-03 condition 2.5 on condition"}, happened("ordinal 0 on words", "count 3")),
		},
	}
}

// fill writes the lines into a blank workbook, each below the last of its sheet, as a person would: into cells
// that keep their format.
func (s season) fill(t *testing.T) []byte {
	t.Helper()
	var blank bytes.Buffer
	if err := workbook.Blank(&blank, s.settings, s.birds); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&blank)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	used := map[string]int{}
	for _, l := range s.lines {
		head, err := f.Rows(l.sheet)
		if err != nil || !head.Next() {
			t.Fatalf("sheet %s has no headings: %v", l.sheet, err)
		}
		headings, err := head.Columns()
		head.Close()
		if err != nil {
			t.Fatal(err)
		}
		used[l.sheet]++
		written := 0
		for i, h := range headings {
			v, ok := l.cells[h]
			if !ok {
				continue
			}
			written++
			at, _ := excelize.CoordinatesToCellName(i+1, used[l.sheet]+1)
			if d, ok := v.(record.Day); ok {
				if v = float64(d) + 25569; h == "Hatch date" { // typing a date into a cell of no format gives it one
					if id, err := f.NewStyle(&excelize.Style{NumFmt: 14}); err != nil || f.SetCellStyle(l.sheet, at, at, id) != nil {
						t.Fatal(err)
					}
				}
			}
			if err := f.SetCellValue(l.sheet, at, v); err != nil {
				t.Fatal(err)
			}
		}
		if written != len(l.cells) {
			t.Fatalf("sheet %s has the headings %q; not all of %v are there", l.sheet, headings, l.cells)
		}
	}
	out, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// load reads a workbook with its flock.toml beside it.
func (s season) load(t *testing.T, path string) *record.Dataset {
	t.Helper()
	beside := strings.TrimSuffix(path, filepath.Ext(path)) + ".flock.toml"
	if err := os.WriteFile(beside, []byte(s.flock), 0o600); err != nil {
		t.Fatal(err)
	}
	sets, err := ingest.Load(context.Background(), []string{path}, ingest.Options{Today: on(t, "2026-06-01")})
	if err != nil {
		t.Fatal(err)
	}
	if len(sets) != 1 {
		t.Fatalf("%d flocks were read, want 1", len(sets))
	}
	return sets[0]
}

// check compares what was read with what was filled in.
func (s season) check(t *testing.T, d *record.Dataset) {
	t.Helper()
	for _, q := range d.Questions {
		t.Errorf("question %s: %s", q.Class, q.Message)
	}
	for _, r := range d.Rejects {
		t.Errorf("reject %s: %s", r.Class, r.Message)
	}
	got, want := told(d), slices.Clone(s.want)
	slices.Sort(want)
	for _, g := range got {
		if !slices.Contains(want, g) {
			t.Errorf("read, but not filled in: %s", g)
		}
	}
	for _, w := range want {
		if !slices.Contains(got, w) {
			t.Errorf("filled in, but not read: %s", w)
		}
	}
	if len(got) != len(want) && !t.Failed() {
		t.Errorf("%d records were read, %d filled in", len(got), len(want))
	}
	for _, a := range d.Asides {
		if a.Sheet == "Guide" || a.Sheet == "Scales" {
			continue
		}
		column := fmt.Sprintf("%s!%s", a.Sheet, record.ColumnName(int(a.Cols[0])))
		// Columns that the reader has no field for: they are kept for the keeper, and set aside by name.
		if !slices.Contains([]string{"Birds!C", "Birds!L", "Moves and losses!C"}, column) || a.Why != "other column" {
			t.Errorf("%s, rows %v, is set aside as %q", column, a.Rows, a.Why)
		}
	}
}

// told puts each bird and record into one line, sorted; moves, which not every reader tells, apart.
func told(d *record.Dataset) []string {
	var out []string
	words := func(parts ...string) string {
		return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), " ")
	}
	noted := func(s, note string) string {
		if note != "" {
			s += ", " + note
		}
		return s
	}
	who := func(bird, pen string, scope record.Scope) string {
		switch scope {
		case record.WholePen:
			return "pen " + pen
		case record.WholeFlock:
			return "flock"
		}
		return bird
	}
	for _, b := range d.Birds {
		out = append(out, words("bird", b.Ring, b.Colour, b.Name, string(b.Sex), b.Breed, b.Variety, string(b.Size), b.Line, b.Hatched.String(), b.Pen))
	}
	for _, o := range d.Observations {
		more := o.Detail()
		value := fmt.Sprintf("%.2f", o.Value)
		if strings.Contains(value, ".") {
			value = strings.TrimSuffix(strings.TrimRight(value, "0"), ".")
		}
		s := words(who(o.Bird, more.Pen, more.Scope), o.On.String(), string(o.Trait), o.Parasite, string(o.Form), value)
		if o.Scale != "" {
			s += " on " + o.Scale
		}
		if more.Scorer != "" {
			s += " by " + more.Scorer
		}
		if o.Flagged {
			s += " FLAGGED"
		}
		out = append(out, noted(s, more.Note))
	}
	for _, e := range d.Events {
		s := who(e.Bird, e.Pen, e.Scope) + " " + e.On.String() + " " + string(e.Kind) + " "
		switch {
		case e.Kind == record.Moved:
			continue
		case e.Treatment != nil:
			s += strings.Join([]string{e.Treatment.Product, e.Treatment.Against, e.Treatment.Dose, e.Treatment.Withdrawal, e.Treatment.By}, ", ")
		case e.Setting != nil:
			g := e.Setting
			s += fmt.Sprintf("%s %s x %s: %d set, %d clear, %d early, %d in shell, %d hatched, %d days", g.Label, g.Male, g.Hen, g.Set, g.Clear, g.DeadEarly, g.DeadInShell, g.HatchedNo, g.StoredDays)
		default:
			s += e.Result
		}
		if e.Flagged {
			s += " FLAGGED"
		}
		out = append(out, noted(s, e.Note))
	}
	slices.Sort(out)
	return out
}

func TestAFilledBlankReadsBackWithoutAQuestion(t *testing.T) {
	for _, s := range seasons(t) {
		t.Run(s.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "season.xlsx")
			if err := os.WriteFile(path, s.fill(t), 0o600); err != nil {
				t.Fatal(err)
			}
			s.check(t, s.load(t, path))
		})
	}
}

// A keeper fills in one line of one sheet first, whichever it is.
func TestOneFilledLineIsEnough(t *testing.T) {
	for _, s := range seasons(t)[:2] {
		all := s.lines
		for i, l := range all {
			if l.sheet == "Birds" || l.cells["Moved to"] != nil {
				continue
			}
			one := s
			if one.lines = []filledLine{l}; len(s.birds) == 0 {
				one.lines = append(slices.Clone(all[:3]), l) // the birds come first
			}
			t.Run(fmt.Sprintf("%s/%s %d", s.name, l.sheet, i), func(t *testing.T) {
				path := filepath.Join(t.TempDir(), "season.xlsx")
				if err := os.WriteFile(path, one.fill(t), 0o600); err != nil {
					t.Fatal(err)
				}
				d := one.load(t, path)
				for _, q := range d.Questions {
					t.Errorf("question %s: %s", q.Class, q.Message)
				}
				for _, r := range d.Rejects {
					t.Errorf("reject %s: %s", r.Class, r.Message)
				}
				for _, got := range told(d) {
					if !slices.Contains(s.want, got) && !strings.HasPrefix(got, "bird ") {
						t.Errorf("read as %s, which was not filled in", got)
					}
				}
				if len(d.Observations)+len(d.Events) == 0 {
					t.Error("nothing was read")
				}
			})
		}
	}
}

func TestABlankHoldsNoRecords(t *testing.T) {
	for _, s := range seasons(t) {
		s.lines, s.birds = nil, nil
		path := filepath.Join(t.TempDir(), "season.xlsx")
		if err := os.WriteFile(path, s.fill(t), 0o600); err != nil {
			t.Fatal(err)
		}
		d := s.load(t, path)
		if n := len(d.Birds) + len(d.Observations) + len(d.Events) + len(d.Questions) + len(d.Rejects); n > 0 {
			t.Errorf("%s: the blank reads as %q, %v, %v", s.name, told(d), d.Questions, d.Rejects)
		}
		guided := 0
		for _, l := range d.Ledgers {
			tally := l.Tally()
			if n := tally[record.AsRecord] + tally[record.AsQuestion] + tally[record.AsReject]; n > 0 {
				t.Errorf("%s, sheet %s: %d cells are read as data", s.name, l.Sheet, n)
			}
			if l.Sheet == "Guide" || l.Sheet == "Scales" {
				if guided += tally[record.AsAside]; tally[record.AsContext] > 0 {
					t.Errorf("%s, sheet %s: %d cells are read as context", s.name, l.Sheet, tally[record.AsContext])
				}
			}
		}
		if guided < 25 {
			t.Errorf("%s: only %d cells of guide and legend were found", s.name, guided)
		}
	}
}

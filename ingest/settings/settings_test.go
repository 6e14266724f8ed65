package settings

import (
	"bytes"
	"errors"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"keelmark/ingest/record"
)

func day(t *testing.T, y int, m time.Month, d int) record.Day {
	t.Helper()
	out, ok := record.DayOf(y, m, d)
	if !ok {
		t.Fatalf("no such day %d-%d-%d", y, m, d)
	}
	return out
}

// uncommented is the template with every setting switched on.
func uncommented() []byte {
	return regexp.MustCompile(`(?m)^#([\w\["])`).ReplaceAll(Template(), []byte("$1"))
}

func TestTemplateReadsAsNothing(t *testing.T) {
	s, err := Read("flock.toml", Template(), nil)
	if err != nil || !reflect.DeepEqual(s, record.Settings{}) {
		t.Fatalf("got %+v, %v; want empty settings", s, err)
	}
}

func TestEverySetting(t *testing.T) {
	s, err := Read("flock.toml", uncommented(), []string{"weight", "name"})
	if err != nil {
		t.Fatal(err)
	}
	want := record.Settings{
		Flock:   record.FlockSettings{Name: "Low Barn", Code: "F1", Country: "GB", Hemisphere: "north", Breed: "Sussex", Size: record.Bantam, Units: "g", StandardTable: "my-standard.csv"},
		Show:    record.ShowSettings{Name: "Autumn show", Date: record.On(day(t, 2026, 11, 21)), ClassRule: "season-start", SeasonStart: "12-01", Paper: "A4"},
		Dates:   record.DateSettings{Order: "dmy"},
		Units:   record.UnitSettings{Weight: "g", Age: "w"},
		Columns: map[string]string{"Wt 2": "weight", "Nickname": "name"},
		Scales: map[string]record.Scale{"keel": {Name: "keel", Min: 0, Max: 3, Direction: "middle-best",
			Words: map[string]float64{"thin": 0, "fair": 1, "good": 2, "fat": 3}, Source: "our own, since 2024"}},
		Birds: map[string]record.BirdSettings{"GB24 17": {Ring: "GB24 17", Name: "Tansy", Aliases: []string{"17", "Old Tansy"},
			Hatched: record.On(day(t, 2024, 3, 14)), Sex: record.Female, Breed: "Sussex", Size: record.Bantam, Line: "own"}},
		Plan: map[string]map[string]int{"weigh": {"from": 42, "to": 7}},
	}
	if !reflect.DeepEqual(s, want) {
		t.Errorf("got  %+v\nwant %+v", s, want)
	}
}

// Every field of record.Settings can be set: one that is added there and forgotten here fails this test.
func TestTemplateReachesEveryField(t *testing.T) {
	text := strings.Replace(string(uncommented()), `standard = ""`, `standard = "x"`, 1)
	s, err := Read("flock.toml", []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	var walk func(path string, v reflect.Value)
	walk = func(path string, v reflect.Value) {
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() {
					walk(path+"."+f.Name, v.Field(i))
				}
			}
		case reflect.Map:
			if v.Len() == 0 {
				t.Errorf("%s is not set by the template", path)
			}
			if v.Type().Elem().Kind() == reflect.Struct {
				for it := v.MapRange(); it.Next(); {
					walk(path+"."+it.Key().String(), it.Value())
				}
			}
		default:
			if v.IsZero() && path != ".Scales.keel.Min" {
				t.Errorf("%s is not set by the template", path)
			}
		}
	}
	walk("", reflect.ValueOf(s))
}

func TestDates(t *testing.T) {
	for text, want := range map[string]record.Date{
		`2024-03-14`:          record.On(day(t, 2024, 3, 14)),
		`"2024-03-14"`:        record.On(day(t, 2024, 3, 14)),
		`2024-03-14T08:00:00`: record.On(day(t, 2024, 3, 14)),
		`"2024-03"`:           record.InMonth(2024, 3),
		`2024`:                record.InYear(2024),
		`"2024"`:              record.InYear(2024),
		`""`:                  {},
	} {
		s, err := Read("flock.toml", []byte("[birds.a]\nhatched = "+text), nil)
		if got := s.Birds["a"].Hatched; err != nil || got != want {
			t.Errorf("%s: got %v, %v; want %v", text, got, err, want)
		}
	}
}

func TestFaults(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"[flock]\nhemisfere = \"north\"", `flock.toml, line 2: "hemisfere" is not known in [flock]; did you mean "hemisphere"?`},
		{"\n\n[flok]\nname = \"x\"", `flock.toml, line 3: "flok" is not known in the file; did you mean "flock"?`},
		{"[flock]\nhemisphere = \"west\"", `flock.toml, line 2: hemisphere cannot be "west"; write "north" or "south"`},
		{"[flock]\nname = 5", `flock.toml, line 2: name is a text; write it in quotes: name = "5"`},
		{"[flock]\nclass_rule = \"birthday\"", `line 2: "class_rule" is not known in [flock]; it belongs below [show]`},
		{"[flock]\ncountry = \"England\"", `line 2: country is the two-letter code`},
		{"[show]\nclass_rule = \"birthdays\"", `line 2: class_rule cannot be "birthdays"; did you mean "birthday"?; write "birthday", "calendar-year" or "season-start"`},
		{"[show]\ndate = \"31/4/2025\"", `line 2: date is a date, not "31/4/2025"; write year, month and day: date = 2025-03-01`},
		{"[show]\ndate = \"2025-04\"", `line 2: the date of the show needs its day`},
		{"[show]\ndate = 2025-04-31", `line 2: `},
		{"[show]\nseason_start = \"02-29\"", `line 2: season_start is month and day`},
		{"[columns]\n\"Wt 2\" = \"wieght\"", `line 2: Wt 2 cannot be "wieght"; did you mean "weight"?`},
		{"[scales.keel]\nmin = 1", `line 1: the scale keel needs both min and max`},
		{"[scales.keel]\nmin = 3\nmax = 1", `line 3: max must be above min`},
		{"[scales.keel]\nmin = 0\nmax = 3\nwords = {good = 2, super = 9}", `line 4: the word "super" stands for 9, outside the scale keel of 0 to 3`},
		{"[scales.keel]\nmin = \"0\"\nmax = 3", `line 2: min is a number, not 0; write it without quotes: min = 3`},
		{"[birds.R12]\naliases = \"Tansy\"", `line 2: aliases is a list of texts`},
		{"[birds.R12]\nsex = \"hen\"", `line 2: sex cannot be "hen"; write "M" or "F"`},
		{"[plan]\nweigh = {from = 7, to = 42}", `line 2: from counts days before the show`},
		{"[plan]\nweigh = 7", `line 2: weigh is a table`},
		{"[flock]\nname = \"a\"\nname = \"b\"", `line 3: `},
		{"[flock]\nname = Low Barn", `line 2: `},
		{"flock = 3", `line 1: flock is a table`},
		{"\xff\xfe[\x00", `flock.toml: is written in UTF-16; save it as UTF-8`},
	} {
		_, err := Read("flock.toml", []byte(c.text), []string{"weight", "name"})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.text, err, c.want)
		}
	}
}

func TestAllFaultsAtOnce(t *testing.T) {
	_, err := Read("flock.toml", []byte("[units]\nage = \"y\"\n[flock]\nhemisphere = \"up\"\nwings = 2\n"), nil)
	var faults Faults
	if !errors.As(err, &faults) || len(faults) != 3 {
		t.Fatalf("got %v; want three faults", err)
	}
	for i, line := range []int{2, 4, 5} {
		if faults[i].Line != line {
			t.Errorf("fault %d is of line %d, want %d", i, faults[i].Line, line)
		}
	}
}

func TestByteOrderMarkAndCRLF(t *testing.T) {
	s, err := Read("flock.toml", []byte("\xef\xbb\xbf[flock]\r\nname = \"Ærø\"\r\nhemisphere = \"North\"\r\n"), nil)
	if err != nil || s.Flock.Name != "Ærø" || s.Flock.Hemisphere != "north" {
		t.Errorf("got %+v, %v", s.Flock, err)
	}
}

func TestAnswersRoundTrip(t *testing.T) {
	a := &Answers{}
	given := []Answer{
		{Key: "unit/weights.xlsx!2024!D", Value: "lb-oz", Cell: "weights.xlsx!2024!D4", Raw: "2.4"},
		{Key: "date/weights.xlsx!2024!A9", Value: "2024-06-04", Cell: "weights.xlsx!2024!A9", Raw: "4/6/24", Row: "4/6/24 | R1"},
		{Key: "odd \"key\"\n", Value: "'''", Cell: "a.csv!B2", Raw: "Two\nLines \u202e \"=cmd\" \x01"},
	}
	for _, one := range given {
		a.Set(one)
	}
	text, err := a.Encode()
	if err != nil {
		t.Fatal(err)
	}
	b, err := ReadAnswers("answers.toml", text)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	for _, want := range given {
		got, ok := b.Get(want.Key)
		if got.Line == 0 {
			t.Errorf("no line: %+v", got)
		}
		if got.Line = 0; !ok || got != want {
			t.Errorf("got %+v, want %+v", got, want)
		}
	}
	again, err := b.Encode()
	if err != nil || !bytes.Equal(text, again) {
		t.Errorf("not the same bytes again:\n%s\n%s", text, again)
	}
	if v, ok := b.Answer(given[0].Key); !ok || v != "lb-oz" {
		t.Errorf("Answer gives %q, %v", v, ok)
	}
	b.Delete(given[0].Key)
	if _, ok := b.Answer(given[0].Key); ok {
		t.Error("the answer is still there after Delete")
	}
}

func TestAnswerThatNoLongerFits(t *testing.T) {
	a := Answer{Raw: "2.4 "}
	if !a.Fits(" 2.4") || a.Fits("2.5") || a.Fits("") {
		t.Error("an answer fits its own text, whatever stands around it, and no other")
	}
}

func TestAnswersAbsent(t *testing.T) {
	var none *Answers
	if _, ok := none.Answer("x"); ok || len(none.All()) != 0 {
		t.Error("nil holds an answer")
	}
	a, err := ReadAnswers("answers.toml", nil)
	if err != nil || len(a.All()) != 0 {
		t.Errorf("an empty file gives %v, %v", a, err)
	}
}

func TestAnswerFaults(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"[[answer]]\nkey = \"a\"\n[[answer]]\nkey = \"a\"", `answers.toml, line 4: the question "a" is answered twice`},
		{"[[answer]]\nkey = \"a\"\n\n[[answer]]\nanswer = \"b\"", `answers.toml, line 4: this answer names no question`},
		{"[[answer]]\nkey = 3", `answers.toml, line 2: key is a text`},
		{"[[answer]]\nkeys = \"a\"", `answers.toml, line 2: "keys" is not known in an answer; did you mean "key"?`},
		{"answer = 3", `answers.toml, line 1: each answer begins with a line [[answer]]`},
		{"[[answers]]\nkey = \"a\"", `answers.toml, line 1: "answers" is not known in the file; did you mean "answer"?`},
	} {
		_, err := ReadAnswers("answers.toml", []byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.text, err, c.want)
		}
	}
}

// Expected distances counted by hand; the swap of neighbours is one step.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"abc", "", 3}, {"kitten", "sitting", 3}, {"wieght", "weight", 1}, {"Ærø", "Aero", 3}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("distance(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(Template())
	f.Add(uncommented())
	f.Add([]byte("[flock]\nhemisfere = \"north\""))
	f.Add([]byte("a.b.c = {d.e = [1, {f = 2}]}\n[[answer]]\nkey = \"\"\n[[a.b]]"))
	f.Add([]byte("[scales.x]\nwords = {a = nan}\nmin = inf\nmax = -1e999"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := Read("flock.toml", data, []string{"weight"}); err != nil && !strings.HasPrefix(err.Error(), "flock.toml") {
			t.Errorf("an error without its place: %v", err)
		}
		a, err := ReadAnswers("answers.toml", data)
		if err != nil {
			return
		}
		text, err := a.Encode()
		if err != nil {
			t.Fatal(err)
		}
		b, err := ReadAnswers("answers.toml", text)
		if err != nil || !reflect.DeepEqual(a.All(), b.All()) {
			t.Errorf("answers change when written: %v\n%+v\n%+v", err, a.All(), b.All())
		}
	})
}

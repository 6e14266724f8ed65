package intake

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// All sheets of these tests are invented.
const doubtful = "date,ring,weight (g)\n4/1/2025,R1,612\n14/1/2025,R2,850?\n24/1/2025,R3,700\n24/1/2025,R4,850?\n30/1/2025,R1,640\n"

// answer answers a question about a cell as the talk does.
func answer(t *testing.T, dir, cell, value string) {
	t.Helper()
	o := options().Load
	o.KeepTexts = true
	flocks, err := ingest.Load(context.Background(), []string{dir}, o)
	if err != nil {
		t.Fatal(err)
	}
	data, err := readAny(filepath.Join(dir, "answers.toml"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := settings.ReadAnswers("answers.toml", data)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range flocks {
		for _, q := range d.Questions {
			if q.At.Cell() == cell {
				a.Set(settings.Answer{Key: q.Key, Value: value, Cell: q.At.Key(), Raw: q.Raw, Row: ingest.RowText(flocks[0].Ledgers[0].Texts[q.At.Row-1])})
			}
		}
	}
	if data, err = a.Encode(); err != nil {
		t.Fatal(err)
	}
	put(t, dir, "answers.toml", string(data))
}

// read is the weights by cell, the cells asked about, and what is told of the files.
func read(t *testing.T, dir string) (weights map[string]float64, asked, notes string) {
	t.Helper()
	flocks, err := ingest.Load(context.Background(), []string{dir}, options().Load)
	if err != nil {
		t.Fatal(err)
	}
	weights = map[string]float64{}
	for _, d := range flocks {
		for _, o := range d.Observations {
			if o.Trait == record.Weight && !o.Flagged {
				weights[o.At.Cell()] = o.Value
			}
		}
		for _, q := range d.Questions {
			asked += q.At.Cell() + " "
		}
		for _, f := range d.Files {
			notes += strings.Join(f.Notes, "\n") + "\n"
		}
	}
	return weights, strings.TrimSpace(asked), notes
}

func TestAnswersMoveWithTheirRows(t *testing.T) {
	for _, c := range []struct {
		name, sheet  string
		yes          string // cell whose weight is then 810
		asked, noted string
		edited       bool // a change of the row that only an import can follow
	}{
		{name: "a row taken out above", sheet: strings.Replace(doubtful, "4/1/2025,R1,612\n", "", 1), yes: "C2", asked: "C4", noted: "followed its row"},
		{name: "a row put in above", sheet: strings.Replace(doubtful, "4/1/2025,R1,612\n", "4/1/2025,R1,612\n10/1/2025,R9,555\n", 1), yes: "C4", asked: "C6"},
		{name: "a column put in", sheet: strings.NewReplacer("ring,", "ring,pen,", "R1,", "R1,A,", "R2,", "R2,A,", "R3,", "R3,B,", "R4,", "R4,B,").Replace(doubtful), yes: "D3", asked: "D5"},
		{name: "the answered row taken out", sheet: strings.Replace(doubtful, "14/1/2025,R2,850?\n", "", 1), asked: "C4", noted: "not used"},
		{name: "the answered row taken out, a like one in its place", sheet: strings.Replace(doubtful, "14/1/2025,R2,850?\n24/1/2025,R3,700\n", "", 1), asked: "C3", noted: "not used"},
		{name: "the answered cell corrected", sheet: strings.Replace(doubtful, "R2,850?", "R2,860?", 1), asked: "C3 C5", noted: "C3"},
		{name: "the date of the answered row corrected", sheet: strings.Replace(doubtful, "14/1/2025", "15/1/2025", 1), yes: "C3", asked: "C5", edited: true},
		{name: "the sheet sorted anew", sheet: "date,ring,weight (g)\n24/1/2025,R4,850?\n4/1/2025,R1,612\n30/1/2025,R1,640\n14/1/2025,R2,850?\n24/1/2025,R3,700\n", yes: "C5", asked: "C2"},
	} {
		for _, imported := range []bool{true, false} {
			if !imported && c.edited {
				continue
			}
			dir := t.TempDir()
			put(t, dir, "w.csv", doubtful)
			answer(t, dir, "C3", "810 g")
			before, err := os.ReadFile(filepath.Join(dir, "answers.toml"))
			if err != nil {
				t.Fatal(err)
			}
			if imported {
				bring(t, dir, options(), put(t, t.TempDir(), "w.csv", c.sheet))
			} else {
				put(t, dir, "w.csv", c.sheet)
			}
			weights, asked, notes := read(t, dir)
			if c.yes != "" && weights[c.yes] != 810 {
				t.Errorf("%s, imported %v: read %v\n%s", c.name, imported, weights, notes)
			}
			n := 0
			for _, w := range weights {
				if w == 810 {
					n++
				}
			}
			if want := len(c.yes) / 2; n != want {
				t.Errorf("%s, imported %v: the answer stands %d times, want %d", c.name, imported, n, want)
			}
			if asked != c.asked {
				t.Errorf("%s, imported %v: asked %q, want %q", c.name, imported, asked, c.asked)
			}
			if (!imported || c.yes == "") && !strings.Contains(notes, c.noted) {
				t.Errorf("%s, imported %v: told %q", c.name, imported, notes)
			}
			if imported { // the older answers are kept
				found := false
				for _, content := range tree(t, dir) {
					found = found || content == string(before)
				}
				if !found {
					t.Errorf("%s: the older answers are lost", c.name)
				}
			}
		}
	}
}

func TestWhatLiesBesideAFileIsTakenAlong(t *testing.T) {
	given, dir := t.TempDir(), t.TempDir()
	put(t, dir, "flock.toml", "# ours\n[flock]\nname = \"Low Barn\"\n")
	path := put(t, given, "w.csv", doubtful)
	put(t, given, "w.flock.toml", "[flock]\nname = \"Another\"\ncountry = \"GB\"\n[birds.R1]\nname = \"Bess\"\n")
	put(t, given, "w.answers.toml", "[[answer]]\nkey = \"approximate_value w.csv!C3\"\nanswer = \"810 g\"\ncell = \"w.csv!C3\"\nraw = \"850?\"\n")
	originals := tree(t, given)
	p := bring(t, dir, options(), path)
	told := strings.Join(p.Carried, "\n")
	for _, part := range []string{`[flock] name: "Low Barn" or "Another"`, "change it there", "w.flock.toml is taken along", "1 answer taken along"} {
		if !strings.Contains(told, part) {
			t.Errorf("lacks %q: %s", part, told)
		}
	}
	got := tree(t, dir)
	if !strings.HasPrefix(got["flock.toml"], "# ours\n[flock]\n") || !strings.Contains(got["flock.toml"], "GB") || !strings.Contains(got["answers.toml"], "810 g") || !mapsEqual(tree(t, given), originals) {
		t.Errorf("%q", got)
	}
	if again := prepare(t, dir, options(), path); !again.Nothing() {
		t.Errorf("again: %+v", again.Items)
	}
	put(t, given, "w.answers.toml", "[[answer]]\nkey = \"approximate_value w.csv!C3\"\nanswer = \"820 g\"\ncell = \"w.csv!C3\"\nraw = \"850?\"\n")
	if again := prepare(t, dir, options(), path); !again.Nothing() || !strings.Contains(strings.Join(again.Carried, "\n"), `answers "820 g"`) {
		t.Errorf("a conflict: %q", again.Carried)
	}
	put(t, given, "w.flock.toml", "[flock\n")
	if again := prepare(t, dir, options(), path); !strings.Contains(strings.Join(again.Carried, "\n"), "is not taken along") {
		t.Errorf("a torn file: %q", again.Carried)
	}
}

func TestTwoImportsAtOnce(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "w.csv", winter)
	one := prepare(t, dir, options(), put(t, t.TempDir(), "a.csv", edited))
	two := prepare(t, dir, options(), put(t, t.TempDir(), "b.csv", pens))
	var inside, resumed error
	tried := false
	one.step = func() {
		if !tried {
			tried = true
			inside = two.Commit(context.Background(), today())
			_, resumed = Resume(dir)
		}
	}
	if err := one.Commit(context.Background(), today()); err != nil {
		t.Fatal(err)
	}
	for _, err := range []error{inside, resumed} {
		if err == nil || !strings.Contains(err.Error(), "another import") || !strings.Contains(err.Error(), "delete the file") {
			t.Errorf("while one runs: %v", err)
		}
	}
	if err := two.Commit(context.Background(), today()); err == nil || !strings.Contains(err.Error(), "import again") {
		t.Errorf("a plan for another folder: %v", err)
	}
	bring(t, dir, options(), two.Items[0].Source)
	got := tree(t, dir)
	if got["w.csv"] != winter || got["a.csv"] != edited || got["b.csv"] != pens || strings.Count(got[LogFile], "\n") != 2 || len(got) != 4 {
		t.Errorf("%q", got)
	}
}

func TestTheLockOfAnEndedProcessIsTakenOver(t *testing.T) {
	dir := t.TempDir()
	host, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	put(t, dir, lockFile, "2147480000 "+host+"\n") // above the highest number that a process gets
	if _, err := Resume(dir); err != nil {
		t.Error(err)
	}
	put(t, dir, lockFile, "1 another machine\n")
	if _, err := Resume(dir); err == nil || !strings.Contains(err.Error(), "another machine") {
		t.Errorf("of another machine: %v", err)
	}
	if err := os.Remove(filepath.Join(dir, lockFile)); err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	if got := tree(t, dir); len(got) != 0 {
		t.Errorf("left: %q", got)
	}
}

// A folder with a table of the keeper's own standard weights takes its first sheet and the next.
func TestAnOwnTableOfWeightsStaysInForce(t *testing.T) {
	for _, name := range []string{"my-standard.csv", "tables/weights.csv"} {
		dir, from := t.TempDir(), t.TempDir()
		put(t, dir, "flock.toml", "[flock]\nstandard_table = \""+name+"\"\n")
		put(t, dir, name, "breed,size,unit,cock,hen\nWrenlow Blue,bantam,g,1100,950\n")
		for _, sheet := range []string{"a", "b"} {
			p := bring(t, dir, options(), put(t, from, sheet+".csv", "ring,date,weight g\n"+sheet+"1,2025-05-01,520\n"))
			if len(p.After) != 1 || len(p.After[0].Standards) != 1 {
				t.Fatalf("%s, %s: %+v", name, sheet, p.After)
			}
		}
		if data, err := os.ReadFile(filepath.Join(dir, name)); err != nil || !strings.Contains(string(data), "1100,950\n") {
			t.Errorf("%s: %q %v", name, data, err)
		}
	}
}

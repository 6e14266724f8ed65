package ingest

import (
	"context"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// Each wrong spelling of a breed is asked about once, whatever the number of its cells, and the answer is kept. Invented.
func TestMisspeltBreeds(t *testing.T) {
	const text = "Ring,Breed,Date,Weight g\nR1,Wyandote,13/4/2025,850\nR2,Wyandote,13/4/2025,870\nR3,Wyandotte bantam,13/4/2025,610\nR4,Susex,13/4/2025,2850\nR5,Wyandote,13/4/2025,880\nR6,Brown Nothing,13/4/2025,900\n"
	read := func(a *settings.Answers, flock string, names ...string) (*record.Dataset, []record.Question) {
		files := map[string]string{"a.csv": text}
		if flock != "" {
			files["flock.toml"] = flock
		}
		sets, err := Load(context.Background(), []string{write(t, files)}, Options{Today: today(), Breeds: names, Answers: a})
		if err != nil {
			t.Fatal(err)
		}
		var asked []record.Question
		for _, q := range sets[0].Questions {
			if q.Class == "breed_spelling" {
				asked = append(asked, q)
			}
		}
		checkFates(t, sets)
		return sets[0], asked
	}
	_, asked := read(nil, "", "Wyandotte", "Sussex", "Leghorn")
	if len(asked) != 2 || asked[0].Raw != "Wyandote" || len(asked[0].More) != 2 || asked[0].Readings[0].Value != "Wyandotte" || asked[1].Raw != "Susex" {
		t.Fatalf("asked %+v", asked)
	}
	a := &settings.Answers{}
	a.Set(settings.Answer{Key: asked[0].Key, Value: "Wyandotte"})
	a.Set(settings.Answer{Key: asked[1].Key, Value: "Susex"})
	d, asked := read(a, "", "Wyandotte", "Sussex", "Leghorn")
	var breeds []string
	for _, b := range d.Birds {
		breeds = append(breeds, b.Breed)
	}
	if want := "Wyandotte,Wyandotte,Wyandotte bantam,Susex,Wyandotte,Brown Nothing"; len(asked) > 0 || strings.Join(breeds, ",") != want {
		t.Errorf("after the answers: %v, asked %v", breeds, asked)
	}
	// An answer holds without the list that raised its question, and flock.toml knows breeds too.
	if d, asked = read(a, ""); len(asked) > 0 || d.Birds[0].Breed != "Wyandotte" {
		t.Errorf("without names: %v, asked %v", d.Birds[0], asked)
	}
	if _, asked = read(nil, "[flock]\nbreed = \"Sussex\"\n[birds.R3]\nbreed = \"Wyandotte\"\n"); len(asked) != 2 {
		t.Errorf("names of flock.toml: asked %v", asked)
	}
	if _, asked = read(nil, ""); len(asked) > 0 {
		t.Errorf("nothing is known, and yet asked %v", asked)
	}
}

// The reason of a file of which nothing was read names each sheet, what was found there and what its first line should say.
func TestWhyNothingWasRead(t *testing.T) {
	dir := write(t, map[string]string{
		"shop.xlsx": string(drawnXLSX(t, false, tab{name: "Feed", rows: "Item|Price|Shop\nStraw|#4|Mill\nGrit|#3|Mill"}, tab{name: "Log", rows: "Date|Ring|Weight g"})),
		"note.txt":  "hello there\nthis is a letter\n",
	})
	var told []string
	for _, f := range load(t, dir)[0].Files {
		if f.Outcome != record.Nothing {
			t.Errorf("%s: %s", f.Name, f.Outcome)
		}
		told = append(told, f.Reason)
	}
	all := strings.Join(told, "\n")
	for _, part := range []string{`shop.xlsx, sheet Feed: found 3 rows beginning "Item", "Price", "Shop"`, `shop.xlsx, sheet Log: the headings "Date", "Ring", "Weight g" stand here, but no rows below them`,
		"the first line should say what the columns hold, such as date, ring, sex, weight (g)", `note.txt: found 2 rows beginning "hello there"`} {
		if !strings.Contains(all, part) {
			t.Errorf("lacks %q:\n%s", part, all)
		}
	}
	if slices.Contains(told, "") {
		t.Error("a file without a reason")
	}
}

package settings

import (
	"slices"
	"testing"
)

// Invented settings.
func TestMergeKeepsWhatStandsAndAddsTheRest(t *testing.T) {
	const mine = "# my birds\n[flock]\nname = \"Low Barn\" # the old one\n\n[birds.R1]\nname = \"Bess\"\n"
	const other = "[flock]\nname = \"High Barn\"\ncountry = \"GB\"\n[units]\nweight = \"g\"\n[columns]\n\"Heft\" = \"weight\"\n[birds.R1]\nsex = \"F\"\n[birds.\"R 2\"]\nname = \"Dot\"\n"
	got, conflicts, err := Merge("flock.toml", []byte(mine), "w.flock.toml", []byte(other))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Read("flock.toml", got, []string{"weight"})
	if err != nil {
		t.Fatalf("%v\n%s", err, got)
	}
	if s.Flock.Name != "Low Barn" || s.Flock.Country != "GB" || s.Units.Weight != "g" || len(s.Birds) != 2 || string(got[:10]) != mine[:10] {
		t.Errorf("%+v\n%s", s, got)
	}
	if !slices.Equal(conflicts, []string{`[flock] name: "Low Barn" or "High Barn"`}) {
		t.Errorf("conflicts %q", conflicts)
	}
	again, conflicts, err := Merge("flock.toml", got, "w.flock.toml", []byte(other))
	if err != nil || string(again) != string(got) || len(conflicts) != 1 {
		t.Errorf("merged twice: %v %q\n%s", err, conflicts, again)
	}
	if _, _, err := Merge("flock.toml", nil, "w.flock.toml", []byte("[flock\n")); err == nil {
		t.Error("a torn file is merged")
	}
	if got, _, err := Merge("flock.toml", nil, "w.flock.toml", []byte(other)); err != nil {
		t.Error(err)
	} else if _, err := Read("flock.toml", got, []string{"weight"}); err != nil {
		t.Errorf("%v\n%s", err, got)
	}
}

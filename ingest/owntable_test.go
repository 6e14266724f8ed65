package ingest

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

const (
	ownRecords  = "ring,sex,breed,size,hatched,date,weight g\nA1,F,Wrenlow Blue,bantam,2025-02-01,2025-05-01,520\nA1,F,Wrenlow Blue,bantam,2025-02-01,2025-05-15,610\n"
	ownWeights  = "breed,size,unit,cock,hen,cockerel,pullet\nWrenlow Blue,bantam,g,1100,950,1000,850\n"
	ownSettings = "[flock]\nstandard_table = \"my-standard.csv\"\n"
)

// folder writes files and returns their folder. The birds and the breed are invented.
func folder(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestAnOwnTableIsReadAndIsNoSheetOfRecords(t *testing.T) {
	for name, c := range map[string]struct {
		files map[string]string
		flag  string
		grams float64
		told  bool // lies among the records
	}{
		"flock.toml":    {map[string]string{"a.csv": ownRecords, "my-standard.csv": ownWeights, "flock.toml": ownSettings}, "", 850, true},
		"in a folder":   {map[string]string{"a.csv": ownRecords, "tables/w.csv": ownWeights, "flock.toml": "[flock]\nstandard_table = \"tables/w.csv\"\n"}, "", 850, false},
		"the flag wins": {map[string]string{"a.csv": ownRecords, "my-standard.csv": ownWeights, "other.csv": strings.ReplaceAll(ownWeights, "850", "900"), "flock.toml": "[flock]\n"}, "other.csv", 900, true},
		"none":          {map[string]string{"a.csv": ownRecords}, "", 0, false},
	} {
		dir := folder(t, c.files)
		o := Options{Breeds: []string{"Wyandotte"}}
		if c.flag != "" {
			o.StandardTable = filepath.Join(dir, c.flag)
			os.Remove(filepath.Join(dir, "my-standard.csv"))
		}
		sets, err := Load(context.Background(), []string{dir}, o)
		if err != nil || len(sets) != 1 {
			t.Errorf("%s: %v", name, err)
			continue
		}
		d := sets[0]
		if len(d.Observations) != 2 || len(d.Birds) != 1 || len(d.Questions)+len(d.Rejects) != 0 {
			t.Errorf("%s: %d records, %d birds, %+v %+v", name, len(d.Observations), len(d.Birds), d.Questions, d.Rejects)
		}
		told := false
		for _, f := range d.Files {
			told = told || f.Outcome == record.Nothing && strings.Contains(f.Reason, "your own table of standard weights")
		}
		if told != c.told {
			t.Errorf("%s: %+v", name, d.Files)
		}
		if c.grams == 0 != (len(d.Standards) == 0) || c.grams > 0 && d.Standards[0].Weights[record.Pullet].Low != c.grams {
			t.Errorf("%s: %+v", name, d.Standards)
		}
	}
}

func TestAnOwnTableThatCannotBeReadStopsWithACure(t *testing.T) {
	for name, c := range map[string]struct {
		files map[string]string
		want  string
	}{
		"missing":      {map[string]string{"a.csv": ownRecords, "flock.toml": ownSettings}, "there is no such file, which standard_table in flock.toml names"},
		"outside":      {map[string]string{"a.csv": ownRecords, "flock.toml": "[flock]\nstandard_table = \"../w.csv\"\n"}, "outside its own folder; copy the file there"},
		"absolute":     {map[string]string{"a.csv": ownRecords, "flock.toml": "[flock]\nstandard_table = \"/w.csv\"\n"}, "outside its own folder"},
		"a folder":     {map[string]string{"a.csv": ownRecords, "my-standard.csv/x": "", "flock.toml": ownSettings}, "is a folder"},
		"bad rows":     {map[string]string{"a.csv": ownRecords, "my-standard.csv": ownWeights + "Wren,tiny,g,900,,,\n", "flock.toml": ownSettings}, `my-standard.csv, row 3, column size: "tiny" is no size; write large or bantam`},
		"records":      {map[string]string{"a.csv": ownRecords, "my-standard.csv": ownRecords, "flock.toml": ownSettings}, "column ring: this heading is not known"},
		"empty":        {map[string]string{"a.csv": ownRecords, "my-standard.csv": "", "flock.toml": ownSettings}, "my-standard.csv"},
		"nothing else": {map[string]string{"my-standard.csv": ownWeights, "flock.toml": ownSettings}, "beside your own table of standard weights"},
	} {
		_, err := Load(context.Background(), []string{folder(t, c.files)}, Options{})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", name, err, c.want)
		}
		if name == "nothing else" && !errors.Is(err, ErrNoSheets) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

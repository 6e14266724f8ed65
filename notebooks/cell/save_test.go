package cell

import (
	"errors"
	"strings"
	"testing"
)

func TestSave(t *testing.T) {
	kept := map[string]string{}
	e := engine(t, Limits{})
	e.options.Save = func(name string, content []byte) (string, error) {
		if name == "full.txt" {
			return "", errors.New("the disk is full")
		}
		kept[name] = string(content)
		return "saved/" + name, nil
	}
	for source, want := range map[string]string{
		"save(\"Nine birds.\", \"note.txt\")":                            "saved/note.txt",
		"save(flock.weights.head(2).select(\"bird\"), \"Nguyệt 1.CSV\")": "saved/Nguyệt 1.CSV",
		"save(flock.weights, \"w.xlsx\")":                                "saved/w.xlsx",
	} {
		if r := cells(t, e, source); r.failure != nil || r.text() != "result: \""+want+"\"" {
			t.Errorf("%s: %s %v", source, r.text(), r.failure)
		}
	}
	if kept["note.txt"] != "Nine birds." || !strings.HasPrefix(kept["Nguyệt 1.CSV"], "bird\n") || !strings.HasPrefix(kept["w.xlsx"], "PK") {
		t.Errorf("%.40q", kept)
	}
	kept = map[string]string{}
	for source, want := range map[string]string{
		"save(\"x\", \"../x.txt\")":                "names a folder",
		"save(\"x\", \"/etc/x.txt\")":              "names a folder",
		"save(\"x\", \"a\\\\b.txt\")":              "names a folder",
		"save(\"x\", \"C:x.txt\")":                 "names a folder",
		"save(\"x\", \".x.txt\")":                  "is no name for a file",
		"save(\"x\", \"\")":                        "is no name for a file",
		"save(\"x\", \"..\")":                      "is no name for a file",
		"save(\"x\", \"a\\nb.txt\")":               "is no name for a file",
		"save(\"x\", \"con.txt\")":                 "is no name for a file",
		"save(\"x\", \"LPT1.a.txt\")":              "is no name for a file",
		"save(\"x\", \"a\" * 200 + \".txt\")":      "is no name for a file",
		"save(\"x\", \"x\")":                       "a text is saved as .txt",
		"save(\"x\", \"x.ipynb\")":                 "a text is saved as .txt",
		"save(\"x\", \"flock.toml\")":              "a text is saved as .txt",
		"save(flock.weights, \"x.txt\")":           "a table is saved as .csv or .xlsx",
		"save(heavy(flock), \"x.csv\")":            "save one of its .tables or .figures",
		"save(5, \"x.txt\")":                       "a text, not a whole number",
		"save(\"abc\" * 20000000, \"x.txt\")":      "more than the 32 that one file may have",
		"save(\"x\", \"full.txt\")":                "the disk is full",
		"save(x = \"x\", name = \"x.txt\", a = 1)": "save has no option a",
	} {
		if r := cells(t, e, source); r.failure == nil || !strings.Contains(r.failure.Message, want) {
			t.Errorf("%s: %v, want %q", source, r.failure, want)
		}
	}
	if len(kept) > 0 {
		t.Errorf("written: %.100q", kept)
	}
	e.options.Save = nil
	if r := cells(t, e, "save(\"x\", \"x.txt\")"); r.failure == nil || !strings.Contains(r.failure.Message, "no folder to write into") {
		t.Errorf("%v", r.failure)
	}
}
